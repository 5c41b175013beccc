"""The list for a dozen arrows like one that is named: shaft, length, insert, head and tail alike."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shaftwright.answers.arrows.makeable import rows_like
from shaftwright.answers.arrows.pieces import InHand, Piece, in_hand
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.lines import (
    SAME_IN,
    ListLine,
    cheapest_packs,
    listed,
    pack_price,
    row_line,
    twin_head,
)
from shaftwright.parameters import setting
from shaftwright.records.notebook import AnyEntry, BuildSpec, Weigh
from shaftwright.records.stock import Stock, StockItem
from shaftwright.result import Result
from shaftwright.rules.fits import cheapest, part_fits
from shaftwright.rules.sections import Sundry, due, shopping_rules
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.shop.kit import Kit


_TAIL = {"nock": "must grip the serving and come off with a tap",
         "fletching": "sets for one arrow each, all from one wing"}  # fmt: skip


def dozen_for(
    scenario: Scenario, spec: BuildSpec, arrows: int = 12, breakage_pct: float | None = None,
    wraps: bool = False, made: int = 0, kit: Kit | None = None,
) -> tuple[ListLine, ...]:  # fmt: skip
    """Every line for so many arrows like a proven one, shafts first; what is on those made is taken.

    With a kit, its shafts and parts are in hand by then.
    """
    if arrows <= 0:
        return ()
    owned = in_hand(scenario.stock or Stock(), scenario.entries)
    if kit is not None:
        owned = _with_kit(owned, kit)
    assert owned.stock is not None
    stock = _beside(owned.stock, spec, made) if made else owned.stock
    breakage = setting("shopping.breakage_pct") if breakage_pct is None else breakage_pct
    number = number_with_spares(arrows, breakage)
    small = number_with_spares(number, setting("shopping.small_part_spare_pct"))
    rows = rows_like(stock, spec)
    shaft = rows[0] if rows else None
    why = f"{arrows} arrows and {number - arrows} spare, of one batch"
    lines = _shafts(rows, owned.pieces, spec, number, why, made)
    lines += _heads(stock, spec, shaft, arrows, number, scenario.purpose_rule.broadheads)
    both, why = (arrows, small), "one for each arrow, some to spoil where the pack holds them"
    named = ((spec.insert, "insert"), (spec.collar, "collar"))
    lines += [_spared(stock.by_name.get(n), both, why, n, kind) for n, kind in named if n]
    tube = shaft is not None and shaft.material != "wood"
    if tube and not spec.insert and not spec.by_numbers:
        why = "a tube needs one for the point"
        lines.append(listed(None, arrows, why, "inserts for this shaft", "insert"))
    for kind, why in _TAIL.items():
        name = getattr(spec, kind) or f"{kind} that fits the shaft"
        lines.append(_spared(_at_tail(stock, spec, kind, shaft), both, why, name, kind))
    if wraps or spec.wrap:
        wrap = stock.by_name.get(spec.wrap) if spec.wrap else wrap_of(stock)
        why = "its weight is part of the arrow"
        lines += [] if wrap is None else [_spared(wrap, both, why)]
    lines.append(_string(scenario, stock))
    material = shaft.material if shaft is not None else "carbon"
    lines += [
        _sundry(stock, s) for s in shopping_rules().sundries
        if due(s.when, scenario.rig, scenario.purpose, {material or "None"})
    ]  # fmt: skip
    return tuple(lines)


def _with_kit(owned: InHand, kit: Kit) -> InHand:
    """What is in hand once a kit is bought, its shafts as long as they are shot first."""
    assert owned.stock is not None
    new = [Piece(s.item, 0, s.length_in, False) for s in kit.shafts for _ in range(s.bought)]
    stock = _counted(owned.stock, _bought((*kit.shafts, *kit.parts)))
    return replace(owned, stock=stock, pieces=(*owned.pieces, *new))


def _bought(lines: Iterable[ListLine]) -> Counter[str]:
    """How many pieces of each item come with the packs of some lines."""
    found = Counter[str]()
    for line in lines:
        found[line.item] += line.bought
    return found


def _counted(stock: Stock, more: Mapping[str, int]) -> Stock:
    """The stock with so many more in hand of each item, or fewer, as far as there are."""
    items = (
        i.model_copy(update={"in_hand": max(i.in_hand + more.get(i.item, 0), 0)})
        for i in stock.items
    )
    return replace(stock, items=tuple(items))


def _spared(item: StockItem | None, number: tuple[int, int], why: str, name: str = "",
            kind: str = "") -> ListLine:  # fmt: skip
    """A part for so many arrows, and of the spares as many as those packs hold: none is bought for them."""
    arrows, spare = number
    line = listed(item, arrows, why, name, kind)
    return replace(line, quantity=max(arrows, min(spare, line.in_hand + line.bought)))


def _beside(stock: Stock, spec: BuildSpec, made: int) -> Stock:
    """The stock without the parts of so many arrows that are made."""
    shaft = next(iter(rows_like(stock, spec)), None)
    tail = (_at_tail(stock, spec, kind, shaft) for kind in _TAIL)
    parts = {item.item for item in tail if item is not None}
    parts |= {str(x) for x in (spec.point, spec.broadhead, spec.insert, spec.collar, spec.wrap)}
    return _counted(stock, dict.fromkeys(parts, -made))


def number_with_spares(arrows: int, spare_pct: float) -> int:
    """So many, and a share more that is broken, lost or spoiled.

    Examples
    --------
    >>> number_with_spares(12, 15)
    14
    """
    return arrows + math.ceil(arrows * spare_pct / 100 - 1e-9)


def _shafts(
    rows: Sequence[StockItem], pieces: Sequence[Piece], spec: BuildSpec, number: int, why: str,
    made: int = 0,
) -> list[ListLine]:  # fmt: skip
    """In the cheapest packs; those in hand count where they are long enough."""
    if not rows:
        why = "shoot one of them bare before you buy the rest"
        return [listed(None, number, why, _like(spec), "shaft")]
    names, least = {row.item for row in rows}, (spec.length_in or 0.0) - SAME_IN
    held = max(sum(p.shaft in names and p.length_in >= least for p in pieces) - made, 0)
    bought = cheapest_packs(rows, number - held)[1]
    if not bought:
        row = next((r for r in rows if r.in_hand), rows[0])
        return [row_line(row, number, 0, held, why)]
    lines, left = [], number
    for row in sorted(rows, key=lambda r: -r.pack):
        count = bought.get(row.item, 0)
        if count:
            quantity = min(left, held + count * row.pack)
            lines.append(row_line(row, quantity, count, held, why))
            left, held = left - quantity, 0
    return lines


def _like(spec: BuildSpec) -> str:
    told = spec.shaft or f"shafts of spine {spec.spine_mils or 0:g}"
    if spec.gr_per_in is not None:
        told += f", {spec.gr_per_in:g} gr/in"
    return f"{told}, at least {inches(spec.length_in)}" if spec.length_in else told


def _heads(
    stock: Stock, spec: BuildSpec, shaft: StockItem | None, arrows: int, number: int, hunts: bool
) -> list[ListLine]:
    """Field points for all; to hunt with, broadheads of the same mass and some given to practice."""
    why = "one for each arrow, more where the pack holds them"
    head = stock.by_name.get(spec.point or spec.broadhead or "")
    if head is None:
        mass = f"{spec.front_gr:g} gr up front" if spec.front_gr else "the proven one's weight"
        name = spec.point or spec.broadhead or f"points, {mass}"
        return [listed(None, arrows, why, name, "point")]
    mass = f"{head.mass_gr or 0.0:g} gr"

    def twin(kind: str) -> StockItem | None:
        if head.kind == kind:
            return head
        fits = [p for p in stock.of_kind(kind) if shaft is None or part_fits(p, shaft)]
        return twin_head(head, fits)

    point = twin("point")
    told = why if point else f"as heavy as the broadheads: {why}"
    lines = [_spared(point, (arrows, number), told, f"field points, {mass}", "point")]
    if hunts or head.kind == "broadhead":
        carried = min(round(setting("shopping.broadheads")), arrows)
        practice = round(setting("shopping.practice_broadheads"))
        told = f"{carried} to hunt with and {practice} given to practice"
        blade, name = twin("broadhead"), f"broadheads, {mass}"
        lines.append(listed(blade, carried + practice, told, name, "broadhead"))
    return lines


def _at_tail(stock: Stock, spec: BuildSpec, kind: str, shaft: StockItem | None) -> StockItem | None:
    """The nock or fletching that is named, else the cheapest that fits."""
    item = stock.by_name.get(getattr(spec, kind) or "")
    return cheapest(stock, kind, shaft) if item is None and shaft is not None else item


def wrap_of(stock: Stock) -> StockItem | None:
    """The wrap to count with: one in hand, else the lightest; None without any in the stock."""
    wraps = stock.of_kind("wrap")
    return min(wraps, key=lambda w: (w.in_hand == 0, w.mass_gr or 0.0), default=None)


def _string(scenario: Scenario, stock: Stock) -> ListLine:
    """One spare string of the material on the bow, nearest to its mass."""
    string = scenario.rig.string
    words, told = tuple[str, ...](), "string like the one on the bow"
    if string.material != "unknown":
        words = shopping_rules().strings[string.material]
        told = f"{string.material.replace('_', '-')} string"
    why = f"a spare {told}, shot in and twisted to the same brace height"
    mass = string.mass_gr or 0.0
    nearest = min(
        (s for s in stock.of_kind("string") if _named(s, words)), default=None,
        key=lambda s: (abs((s.mass_gr or 0.0) - mass) if mass else 0.0, s.price or 0.0),
    )  # fmt: skip
    return listed(nearest, 1, why, told, "string")


def _sundry(stock: Stock, sundry: Sundry) -> ListLine:
    for word in sundry.words:
        found = [i for i in stock.of_kind("sundry") if _named(i, (word,))]
        if found:
            item = min(found, key=lambda i: (i.in_hand < sundry.quantity, pack_price(i)))
            return listed(item, sundry.quantity, f"{sundry.name}: {sundry.why}")
    return listed(None, sundry.quantity, sundry.why, sundry.name, "sundry")


def _named(item: StockItem, words: Sequence[str]) -> bool:
    told = f"{item.item} {item.note}".lower()
    return any(word in told for word in words)


def after_buying(stock: Stock, *lists: Sequence[ListLine]) -> Stock:
    """The stock once lists were bought and used up: what is left over is in hand; tools stay.

    What one list uses the next uses again: the dozen takes in the kit.
    """
    left, used = _bought(line for lines in lists for line in lines), Counter[str]()
    for lines in lists:
        here = Counter[str]()
        for line in lines:
            here[line.item] += 0 if line.kind in ("sundry", "string") else line.quantity
        used |= here
    left.subtract(used)
    return _counted(stock, left)


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
            mils = entry.measured_mils
            spine = before.spine_mils if mils is None else mils
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
