"""The same thing sold in several pack sizes: the cheapest packs that hold the wanted number."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field

from shaftwright.answers.result import Result, kept
from shaftwright.answers.shop.settings import usual_price
from shaftwright.records.stock import ShaftFacts, StockItem, shaft_facts


@dataclass(frozen=True)
class Offer:
    """One way to buy a thing."""

    item: StockItem
    pack: int
    #: of one pack; a usual one where the row states none
    price: float


def offers_of(items: Sequence[StockItem]) -> tuple[Offer, ...]:
    """The rows as offers; those without a price only where no other has one."""
    priced = [Offer(i, i.pack, i.price) for i in items if i.price is not None]
    if priced:
        return tuple(priced)
    return tuple(Offer(i, i.pack, usual_price(i.kind)) for i in items)


def cheapest_packs(offers: Sequence[Offer], number: int) -> tuple[float, dict[str, int]]:
    """The cheapest whole packs that hold at least so many pieces: price, and item name -> packs.

    Exact, by dynamic programming over the number still wanted; of equal prices the fewer packs.

    Examples
    --------
    >>> one = StockItem.model_validate({"item": "A", "kind": "nock", "mass_gr": 9, "price": 1.0})
    >>> dozen = one.model_copy(update={"item": "A-12", "price": 8.0, "pack": 12})
    >>> cheapest_packs(offers_of([one, dozen]), 14)
    (10.0, {'A': 2, 'A-12': 1})
    """
    if number <= 0:
        return 0.0, {}
    table = _cover(tuple((o.pack, round(o.price * 10_000)) for o in offers), number)
    packs: dict[str, int] = {}
    left = number
    while left > 0:
        choice = table[left][2]
        name = offers[choice].item.item
        packs[name] = packs.get(name, 0) + 1
        left = max(left - offers[choice].pack, 0)
    price = sum(o.price * packs.get(o.item.item, 0) for o in offers)
    return price, dict(sorted(packs.items()))


@functools.lru_cache(maxsize=4096)
def _cover(offers: tuple[tuple[int, int], ...], number: int) -> list[tuple[int, int, int]]:
    """For every number up to the wanted one: price in hundredths of a cent, packs, offer taken."""
    best: list[tuple[int, int, int]] = [(0, 0, -1)]
    for wanted in range(1, number + 1):
        best.append(
            min(
                (best[max(wanted - pack, 0)][0] + price, best[max(wanted - pack, 0)][1] + 1, i)
                for i, (pack, price) in enumerate(offers)
            )
        )
    return best


NOT_HERE = "not in this shop"


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
    #: a usual price where none is stated, for weighing lists
    reckoned: float = field(default=0.0, metadata=kept(json=False))

    @property
    def buy(self) -> int:
        """Pieces to buy."""
        return max(self.quantity - self.in_hand, 0)


def listed(item: StockItem, quantity: int, why: str) -> ListLine:
    """A row of the stock as a line."""
    packs = cheapest_packs(offers_of([item]), quantity - item.in_hand)[1].get(item.item, 0)
    price = 0.0 if not packs else (None if item.price is None else round(packs * item.price, 2))
    reckoned = packs * (usual_price(item.kind) if item.price is None else item.price)
    return ListLine(item.item, item.kind, quantity, packs, item.pack, item.price, price, item.in_hand, why,
                    reckoned)  # fmt: skip


def elsewhere(name: str, kind: str, quantity: int, why: str) -> ListLine:
    """Something that this shop does not keep."""
    return ListLine(name, kind, quantity, 0, 1, None, None, 0, f"{why}; {NOT_HERE}")


@dataclass(frozen=True)
class ShaftClass:
    """Shafts that are one and the same, however they are sold."""

    #: of equal material, spine, mass per inch, diameters, length and grade
    items: tuple[StockItem, ...]
    facts: ShaftFacts

    @property
    def first(self) -> StockItem:
        """The row that names the shaft: the one sold in the smallest packs."""
        return min(self.items, key=lambda i: i.pack)

    @property
    def full_length_in(self) -> float:
        """Length as sold [in]."""
        return self.items[0].full_length_in or 0.0


def shaft_classes(items: Sequence[StockItem]) -> tuple[ShaftClass, ...]:
    """Shafts merged where a row is the same shaft sold otherwise, in the order of their first rows."""
    found: dict[tuple[object, ...], list[StockItem]] = {}
    facts_of: dict[tuple[object, ...], ShaftFacts] = {}
    for item in items:
        if item.kind != "shaft":
            continue
        facts = shaft_facts(item)
        key = (item.material, facts, item.full_length_in, item.rear_taper_in)
        found.setdefault(key, []).append(item)
        facts_of[key] = facts
    return tuple(ShaftClass(tuple(rows), facts_of[key]) for key, rows in found.items())
