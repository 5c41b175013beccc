"""A thing sold in several pack sizes: the cheapest packs that hold enough; lines of a list, priced so."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

from shaftwright.answers.shop.settings import usual_price
from shaftwright.records.stock import StockItem
from shaftwright.result import Result

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


@functools.lru_cache(maxsize=4096)
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
    in_hand: int
    why: str

    @property
    def buy(self) -> int:
        """Pieces to buy."""
        return max(self.quantity - self.in_hand, 0)

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
