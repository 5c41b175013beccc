"""Which weighed or measured shafts of a batch belong together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.result import Result
from shaftwright.answers.shop.settings import shop_setting, shopping_rules
from shaftwright.records.notebook import AnyEntry, Weigh

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Weighed(Result):
    """One shaft or arrow of the batch as it was weighed and measured."""

    name: str
    mass_gr: float | None
    spine_mils: float | None


@dataclass(frozen=True)
class Matched(Result):
    """The tightest set of a batch."""

    #: the set, and what is left for practice; heaviest last
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
        if not isinstance(entry, Weigh) or not _numbered(entry.item, names):
            continue
        piece = known.get(entry.item, Weighed(entry.item, None, None))
        mass = piece.mass_gr if entry.mass_gr is None else entry.mass_gr
        spine = piece.spine_mils if entry.spine_mils is None else entry.spine_mils
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
    """The `number` pieces that differ least in mass and spine.

    Only what all pieces of the larger group have been measured for is compared.
    Exact: the sum of the two ranges, each over what a well matched dozen keeps, is least. For every
    lightest and heaviest piece a window slides over the spines of those between.

    Examples
    --------
    >>> batch = [Weighed(f"shaft {i}", m, None) for i, m in enumerate([300.0, 310.0, 309.0, 308.5])]
    >>> [p.name for p in tightest_set(batch, 3).inside]
    ['shaft 3', 'shaft 2', 'shaft 1']
    """
    both = [p for p in pieces if p.mass_gr is not None and p.spine_mils is not None]
    weighed = [p for p in pieces if p.mass_gr is not None]
    measured = [p for p in pieces if p.spine_mils is not None]
    group = max((both, weighed, measured), key=len)
    if not group:
        return None
    number = max(min(number, len(group)), 1)
    use_mass = len(group) == len(weighed) or group is both
    use_spine = len(group) == len(measured) or group is both
    unit_gr, unit_mils = shop_setting("dozen_mass_range_gr"), shop_setting("dozen_spine_range_mils")
    mass = (
        np.array([p.mass_gr if use_mass and p.mass_gr is not None else 0.0 for p in group])
        / unit_gr
    )
    spine = np.array(
        [p.spine_mils if use_spine and p.spine_mils is not None else 0.0 for p in group]
    )
    chosen = _tightest(mass, spine / unit_mils, number)
    inside = [group[i] for i in chosen]
    names = {p.name for p in inside}
    outside = [p for p in pieces if p.name not in names]
    inside.sort(key=lambda p: (p.mass_gr or 0.0, p.spine_mils or 0.0))
    masses = [p.mass_gr for p in inside if p.mass_gr is not None] if use_mass else []
    spines = [p.spine_mils for p in inside if p.spine_mils is not None] if use_spine else []
    mass_range = max(masses) - min(masses) if masses else None
    spine_range = max(spines) - min(spines) if spines else None
    tight = (mass_range or 0.0) <= unit_gr + 1e-9 and (spine_range or 0.0) <= unit_mils + 1e-9
    return Matched(tuple(inside), tuple(outside), mass_range, spine_range, tight)


def _tightest(mass: Array, spine: Array, number: int) -> list[int]:
    """Indices of the set with the least sum of ranges."""
    order = np.lexsort((spine, mass))
    best, chosen = math.inf, list(range(number))
    for i in range(len(order) - number + 1):
        for j in range(i + number - 1, len(order)):
            across = mass[order[j]] - mass[order[i]]
            if across >= best - 1e-12:
                break
            inside = order[i : j + 1]
            ranked = inside[np.argsort(spine[inside], kind="stable")]
            windows = spine[ranked[number - 1 :]] - spine[ranked[: len(ranked) - number + 1]]
            k = int(np.argmin(windows))
            members = ranked[k : k + number]
            size = float(np.ptp(mass[members]) + windows[k])
            if size < best - 1e-12:
                best, chosen = size, members.tolist()
    return chosen
