"""Which weighed or measured shafts of a batch belong together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shaftwright.answers.shop.settings import shopping_rules
from shaftwright.parameters import setting
from shaftwright.records.notebook import AnyEntry, Weigh
from shaftwright.result import Result


@dataclass(frozen=True)
class Weighed(Result):
    """One shaft or arrow of the batch as it was weighed and measured."""

    name: str
    mass_gr: float | None
    spine_mils: float | None


@dataclass(frozen=True)
class Matched(Result):
    """The tightest set of a batch."""

    #: the set, and what is left for practice
    inside: tuple[Weighed, ...]
    outside: tuple[Weighed, ...]
    mass_range_gr: float | None
    spine_range_mils: float | None
    #: whether both are within what a well matched dozen keeps
    tight: bool


def pieces_of(entries: Sequence[AnyEntry], shaft_names: Sequence[str] = ()) -> tuple[Weighed, ...]:
    """The shafts and arrows of a notebook's `weigh` entries, later entries over earlier ones.

    `NAME 3` is one too where NAME is a shaft of the stock; `NAME` alone is the sort.
    """
    known: dict[str, Weighed] = {}
    names = {n.lower() for n in shaft_names}
    for entry in entries:
        if isinstance(entry, Weigh) and _numbered(entry.item, names):
            before = known.get(entry.item, Weighed(entry.item, None, None))
            mass = before.mass_gr if entry.mass_gr is None else entry.mass_gr
            spine = before.spine_mils if entry.spine_mils is None else entry.spine_mils
            known[entry.item] = Weighed(entry.item, mass, spine)
    return tuple(known.values())


def _numbered(item: str, shaft_names: set[str]) -> bool:
    low = item.lower().strip()
    if low in shaft_names:
        return False
    if any(low.startswith((f"{name} ", f"{name}#")) for name in shaft_names):
        return True
    return low.split(" ")[0].rstrip("0123456789#") in shopping_rules().numbered


def tightest_set(pieces: Sequence[Weighed], number: int) -> Matched | None:
    """The `number` pieces that differ least in mass and spine, each over what a well matched dozen keeps.

    Only what all pieces of the larger group have been measured for is compared.

    Examples
    --------
    >>> batch = [Weighed(f"shaft {i}", m, None) for i, m in enumerate([300.0, 310.0, 309.0, 308.5])]
    >>> [p.name for p in tightest_set(batch, 3).inside]
    ['shaft 3', 'shaft 2', 'shaft 1']
    """
    weighed = [p for p in pieces if p.mass_gr is not None]
    measured = [p for p in pieces if p.spine_mils is not None]
    both = [p for p in weighed if p.spine_mils is not None]
    group = max((both, weighed, measured), key=len)
    if not group:
        return None
    names = {"mass_gr": "dozen_mass_range_gr", "spine_mils": "dozen_spine_range_mils"}
    most = {name: setting(f"shopping.{limit}") for name, limit in names.items()}
    known = [name for name in most if all(getattr(p, name) is not None for p in group)]

    def spans(some: Sequence[Weighed]) -> dict[str, float]:
        values = {name: [getattr(p, name) for p in some] for name in known}
        return {name: max(x) - min(x) for name, x in values.items()}

    def width(some: Sequence[Weighed]) -> float:
        return sum(x / most[name] for name, x in spans(some).items())

    inside = min(_windows(group, min(number, len(group))), key=width)
    inside = sorted(inside, key=lambda p: (p.mass_gr or 0.0, p.spine_mils or 0.0))
    found = spans(inside)
    tight = all(x <= most[name] + 1e-9 for name, x in found.items())
    left = tuple(p for p in pieces if p not in inside)
    return Matched(tuple(inside), left, found.get("mass_gr"), found.get("spine_mils"), tight)


def _windows(group: Sequence[Weighed], number: int) -> Iterator[list[Weighed]]:
    """Neighbours in spine between any two masses: no other set has less of both ranges."""
    order = sorted(group, key=lambda p: (p.mass_gr or 0.0, p.spine_mils or 0.0))
    for i in range(len(order) - number + 1):
        for j in range(i + number, len(order) + 1):
            between = sorted(order[i:j], key=lambda p: p.spine_mils or 0.0)
            for k in range(len(between) - number + 1):
                yield between[k : k + number]
