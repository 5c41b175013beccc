"""Lines of shafts that a shop keeps, with what is in hand; without a shop, the shafts usually sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.shop.packs import ShaftClass, cheapest_packs, offers_of, shaft_classes
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.records.stock import Stock, StockItem, beginning
from shaftwright.resources import table

_SAME_IN = 1 / 16


@dataclass(frozen=True)
class Option:
    """A shaft as it could be shot first: bought full, or one in hand that was cut."""

    kind: ShaftClass
    length_in: float
    in_hand: int
    #: of its spine in the line, stiffest 0
    place: int = 0
    #: whether more can be bought; else those in hand must do
    sold: bool = True

    def number(self, wanted: int) -> int:
        """How many of so many there can be."""
        return wanted if self.sold else min(wanted, self.in_hand)

    def packs(self, wanted: int) -> dict[str, int]:
        """What to buy for so many."""
        return cheapest_packs(offers_of(self.kind.items), self.number(wanted) - self.in_hand)[1]

    def price(self, wanted: int) -> float:
        """What so many cost; usual prices stand in where none is stated."""
        return cheapest_packs(offers_of(self.kind.items), self.number(wanted) - self.in_hand)[0]

    @property
    def row(self) -> StockItem:
        """The row that names it: one in hand, else the one sold in the smallest packs."""
        owned = (i for i in self.kind.items if i.in_hand and self.in_hand)
        return next(owned, self.kind.first)


@dataclass(frozen=True)
class Line:
    """Shafts of one make, stiffest first."""

    name: str
    material: str
    options: tuple[Option, ...]


def lines_of(
    stock: Stock, pieces: Sequence[Piece], shortest_in: float, any_line: bool = False,
    own: str | None = None,
) -> list[Line]:  # fmt: skip
    """The lines of a shop, each with its shafts long enough for the bow.

    `own`: only the line of this shaft, and of it only what is in hand.
    """
    found: dict[tuple[object, ...], list[Option]] = {}
    for kind in shaft_classes(stock.items):
        for option in _options(kind, pieces):
            if option.length_in >= shortest_in - 1e-9:
                found.setdefault(_key(kind, any_line), []).append(option)
    lines = []
    for options in found.values():
        if own is not None:
            if not any(own in (i.item for i in o.kind.items) for o in options):
                continue
            options = [replace(o, sold=False) for o in options if o.in_hand]
        if not options:
            continue
        spines = sorted({o.kind.facts.spine_mils for o in options})
        placed = [replace(o, place=spines.index(o.kind.facts.spine_mils)) for o in options]
        placed.sort(key=lambda o: (o.place, o.length_in))
        first = placed[0].kind.first
        material = first.material or "carbon"
        name = f"any {material}" if any_line else _name(first)
        lines.append(Line(name, material, tuple(placed)))
    return lines


def _options(kind: ShaftClass, pieces: Sequence[Piece]) -> list[Option]:
    """Bought at full length, with those in hand that are whole; and the longest in hand that were cut."""
    full = kind.full_length_in
    rows = {i.item for i in kind.items}
    lengths = [p.length_in for p in pieces if p.shaft in rows]
    whole = sum(x >= full - _SAME_IN for x in lengths)
    cut = [x for x in lengths if x < full - _SAME_IN]
    options = [Option(kind, full, whole)]
    if cut:
        longest = max(cut)
        options.append(Option(kind, longest, sum(x >= longest - _SAME_IN for x in cut)))
    return options


def _key(kind: ShaftClass, any_line: bool) -> tuple[object, ...]:
    """What shafts of one line share: the line's name or the item's up to its first digit, and the parts."""
    first, facts = kind.first, kind.facts
    across = facts.outside_in if first.material == "wood" else facts.inside_in
    if any_line:
        return (first.material, across)
    if first.line is not None:
        return (first.line, first.material, across if first.material == "wood" else None)
    return (beginning(first.item), first.material, across)


def _name(first: StockItem) -> str:
    return first.line or beginning(first.item).strip(" -_.,/") or first.material or first.item


def heads_alike(heads: Sequence[StockItem]) -> list[StockItem]:
    """Of points alike in fit and within the same mass the cheapest; what is in hand is free."""
    margin = shop_setting("same_mass_gr")
    taken: list[StockItem] = []
    for head in sorted(heads, key=lambda h: (_need(h), h.mass_gr or 0.0, h.item)):
        like = (
            t.material == head.material and t.outside_diameter_in == head.outside_diameter_in
            and t.inside_diameter_in == head.inside_diameter_in
            and abs((t.mass_gr or 0.0) - (head.mass_gr or 0.0)) <= margin + 1e-9
            for t in taken
        )  # fmt: skip
        if not any(like):
            taken.append(head)
    return sorted(taken, key=lambda h: (h.mass_gr or 0.0, h.item))


def _need(part: StockItem) -> float:
    return part_price(part, round(shop_setting("points_of_each")))


def part_price(part: StockItem, number: int) -> float:
    """What so many of a part cost; a usual price stands in where none is stated."""
    return cheapest_packs(offers_of([part]), number - part.in_hand)[0]


def twin_head(head: StockItem, others: Sequence[StockItem]) -> StockItem | None:
    """The cheapest head of another kind with the same mass and the same way of fixing."""
    margin = shop_setting("same_mass_gr")
    same = [
        o for o in others
        if o.material == head.material and o.outside_diameter_in == head.outside_diameter_in
        and abs((o.mass_gr or 0) - (head.mass_gr or 0)) <= margin + 1e-9
    ]  # fmt: skip
    return min(same, key=lambda o: (o.in_hand == 0, offers_of([o])[0].price), default=None)


@cache
def usual_stock() -> Stock:
    """What most shops keep, for an archer who names none; prices unknown."""
    items: list[dict[str, object]] = []
    for row in table("usual_shafts"):
        if row["kept_by"] == "most":
            items.append({
                "item": f"any {row['spine_mils']} {row['material']}", "kind": "shaft", "line": "any carbon",
                "material": row["material"], "spine_mils": row["spine_mils"],
                "gr_per_in": row["gr_per_in"], "outside_diameter_in": row["outside_diameter_in"],
                "full_length_in": row["full_length_in"],
            })  # fmt: skip
    for row in table("usual_parts"):
        if row["kind"] in ("point", "broadhead", "insert"):
            glued = row["name"].startswith("glue-on")
            items.append({"item": f"any {row['name']}", "kind": row["kind"], "mass_gr": row["mass_gr"],
                          "material": "wood" if glued else None})  # fmt: skip
    numbers = ("spine_mils", "gr_per_in", "outside_diameter_in", "full_length_in", "mass_gr")
    read = [
        StockItem.model_validate({k: float(str(v)) if k in numbers else v for k, v in i.items()})
        for i in items
    ]
    return Stock(tuple(read), "what most shops keep")
