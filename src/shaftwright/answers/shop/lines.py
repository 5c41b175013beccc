"""Lines of shafts that a shop keeps, in the cheapest packs; without a shop, the shafts usually sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.parameters import setting
from shaftwright.records.stock import ShaftFacts, Stock, StockItem, beginning, line_of, shaft_facts
from shaftwright.result import Result
from shaftwright.rules.sections import usual_price

NOT_HERE = "not in this shop"


def pack_price(item: StockItem) -> float:
    """Of one pack; a usual price where the row states none, to choose by and never shown."""
    return usual_price(item.kind) if item.price is None else item.price


def cheapest_packs(rows: Sequence[StockItem], number: int) -> tuple[float, dict[str, int]]:
    """The cheapest whole packs that hold at least so many pieces: price, and item name -> packs.

    Exact, by dynamic programming over the number still wanted; of equal prices the fewer packs. Rows without
    a price count only where no other has one.

    Examples
    --------
    >>> one = StockItem.model_validate({"item": "A", "kind": "nock", "mass_gr": 9, "price": 1.0})
    >>> dozen = one.model_copy(update={"item": "A-12", "price": 8.0, "pack": 12})
    >>> cheapest_packs([one, dozen], 14)
    (10.0, {'A': 2, 'A-12': 1})
    """
    if number <= 0:
        return 0.0, {}
    offers = [i for i in rows if i.price is not None] or rows
    table = _cover(tuple((i.pack, round(pack_price(i) * 10_000)) for i in offers), number)
    packs: dict[str, int] = {}
    left = number
    while left > 0:
        offer = offers[table[left][2]]
        packs[offer.item] = packs.get(offer.item, 0) + 1
        left = max(left - offer.pack, 0)
    return sum(pack_price(i) * packs.get(i.item, 0) for i in offers), dict(sorted(packs.items()))


@lru_cache(maxsize=4096)
def _cover(offers: tuple[tuple[int, int], ...], number: int) -> list[tuple[int, int, int]]:
    """For every number up to the wanted one: price in hundredths of a cent, packs, offer taken."""
    best: list[tuple[int, int, int]] = [(0, 0, -1)]
    for wanted in range(1, number + 1):
        before = [best[max(wanted - pack, 0)] for pack, _ in offers]
        best.append(min((b[0] + offers[i][1], b[1] + 1, i) for i, b in enumerate(before)))
    return best


def part_price(part: StockItem, number: int) -> float:
    """What so many of a part cost beyond those in hand."""
    return cheapest_packs([part], number - part.in_hand)[0]


@dataclass(frozen=True)
class ListLine(Result):
    """One line to buy or to have."""

    #: row of the stock, or what to ask for elsewhere
    item: str
    kind: str
    #: needed with spares, before what is in hand
    quantity: int
    packs: int
    pack: int
    #: of one pack; None where the stock states none
    unit_price: float | None
    price: float | None
    #: for the dozen, what was bought as the kit too
    in_hand: int
    why: str

    @property
    def buy(self) -> int:
        """Pieces to buy."""
        return max(self.quantity - self.in_hand, 0)

    @property
    def bought(self) -> int:
        """Pieces that come with its packs."""
        return self.packs * self.pack

    @property
    def reckoned(self) -> float:
        """Its price, or a usual one where none is stated, to weigh lists by."""
        return self.packs * (usual_price(self.kind) if self.unit_price is None else self.unit_price)


def row_line(item: StockItem, quantity: int, packs: int, in_hand: int, why: str) -> ListLine:
    """A row of the stock with so many packs of it."""
    price = None if item.price is None else round(packs * item.price, 2)
    return ListLine(item.item, item.kind, quantity, packs, item.pack, item.price, price if packs else 0.0,
                    in_hand, why)  # fmt: skip


def listed(
    item: StockItem | None, quantity: int, why: str, name: str = "", kind: str = ""
) -> ListLine:
    """A row of the stock as a line; None is something of that name that this shop does not keep."""
    if item is None:
        return ListLine(name, kind, quantity, 0, 1, None, None, 0, f"{why}; {NOT_HERE}")
    packs = cheapest_packs([item], quantity - item.in_hand)[1].get(item.item, 0)
    return row_line(item, quantity, packs, item.in_hand, why)


#: shafts nearer in length than this are as long as one another [in]
SAME_IN = 1 / 16


@dataclass(frozen=True)
class Option:
    """A shaft as it could be shot first: bought full, or one in hand that was cut."""

    #: rows that are this shaft, however they are sold
    rows: tuple[StockItem, ...]
    facts: ShaftFacts
    length_in: float
    in_hand: int
    #: of its spine in the line, stiffest 0
    place: int = 0
    #: whether more can be bought; else those in hand must do
    sold: bool = True

    def number(self, wanted: int) -> int:
        """How many of so many there can be."""
        return wanted if self.sold else min(wanted, self.in_hand)

    def packs(self, wanted: int) -> tuple[float, dict[str, int]]:
        """What so many cost, and what to buy for them."""
        return cheapest_packs(self.rows, self.number(wanted) - self.in_hand)

    @property
    def first(self) -> StockItem:
        """The row that names the shaft: the one sold in the smallest packs."""
        return min(self.rows, key=lambda i: i.pack)

    @property
    def row(self) -> StockItem:
        """The row that names it: one in hand, else the one sold in the smallest packs."""
        return next((i for i in self.rows if i.in_hand and self.in_hand), self.first)


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
    for option in _options(stock, pieces):
        if option.length_in >= shortest_in - 1e-9:
            found.setdefault(_key(option, any_line), []).append(option)
    lines = []
    for options in found.values():
        if own is not None:
            named = any(own == i.item for o in options for i in o.rows)
            options = [replace(o, sold=False) for o in options if o.in_hand and named]
        if not options:
            continue
        spines = sorted({o.facts.spine_mils for o in options})
        placed = [replace(o, place=spines.index(o.facts.spine_mils)) for o in options]
        placed.sort(key=lambda o: (o.place, o.length_in))
        first = placed[0].first
        material = first.material or "carbon"
        name = first.line or beginning(first.item).strip(" -_.,/") or first.material or first.item
        lines.append(Line(f"any {material}" if any_line else name, material, tuple(placed)))
    return lines


def _options(stock: Stock, pieces: Sequence[Piece]) -> list[Option]:
    """Bought at full length, with those in hand that are whole; and the longest in hand that were cut."""
    alike: dict[tuple[object, ...], list[StockItem]] = {}
    for item in stock.of_kind("shaft"):
        key = (item.material, shaft_facts(item), item.full_length_in, item.rear_taper_in)
        alike.setdefault(key, []).append(item)
    options = []
    for rows in alike.values():
        full, names = rows[0].full_length_in or 0.0, {i.item for i in rows}
        lengths = [p.length_in for p in pieces if p.shaft in names]
        cut = [x for x in lengths if x < full - SAME_IN]
        whole = Option(tuple(rows), shaft_facts(rows[0]), full, len(lengths) - len(cut))
        options.append(whole)
        if cut:
            alike_cut = sum(x >= max(cut) - SAME_IN for x in cut)
            options.append(replace(whole, length_in=max(cut), in_hand=alike_cut))
    return options


def _key(option: Option, any_line: bool) -> tuple[object, ...]:
    """What shafts of one line share: the line's name or the item's up to its first digit, and the parts."""
    first, facts = option.first, option.facts
    across = facts.outside_in if first.material == "wood" else facts.inside_in
    told = first.line is not None and first.material != "wood" and not any_line
    return "" if any_line else line_of(first), first.material, None if told else across


def heads_alike(heads: Sequence[StockItem]) -> list[StockItem]:
    """Of points alike in fit and within the same mass the cheapest; what is in hand is free."""
    each = round(setting("shopping.points_of_each"))
    taken: list[StockItem] = []
    for head in sorted(heads, key=lambda h: (part_price(h, each), h.mass_gr or 0.0, h.item)):
        inside = head.inside_diameter_in
        if not any(_same(t, head) and t.inside_diameter_in == inside for t in taken):
            taken.append(head)
    return sorted(taken, key=lambda h: (h.mass_gr or 0.0, h.item))


def twin_head(head: StockItem, others: Sequence[StockItem]) -> StockItem | None:
    """The cheapest head of another kind with the same mass and the same way of fixing."""
    same = [o for o in others if _same(o, head)]
    return min(same, key=lambda o: (o.in_hand == 0, pack_price(o)), default=None)


def _same(one: StockItem, other: StockItem) -> bool:
    """Whether two heads weigh the same and go on the same way."""
    apart = abs((one.mass_gr or 0.0) - (other.mass_gr or 0.0))
    fixing = [(h.material, h.outside_diameter_in) for h in (one, other)]
    return fixing[0] == fixing[1] and apart <= setting("shopping.same_mass_gr") + 1e-9
