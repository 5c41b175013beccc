"""The same thing sold in several pack sizes: the cheapest packs that hold the wanted number."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

from shaftwright.answers.shop.settings import usual_price
from shaftwright.records.stock import ShaftFacts, StockItem, shaft_facts


@dataclass(frozen=True)
class Offer:
    """One way to buy a thing.

    Attributes
    ----------
    item : StockItem
        The row.
    pack : int
        Pieces in one pack.
    price : float
        Price of one pack; a usual one where the row states none.
    """

    item: StockItem
    pack: int
    price: float


def offers_of(items: Sequence[StockItem]) -> tuple[Offer, ...]:
    """The rows as offers, rows with a price first.

    Parameters
    ----------
    items : sequence of StockItem
        Rows that are the same thing.

    Returns
    -------
    tuple of Offer
        Rows without a price are left out when another row has one.
    """
    priced = [Offer(i, i.pack, i.price) for i in items if i.price is not None]
    if priced:
        return tuple(priced)
    return tuple(Offer(i, i.pack, usual_price(i.kind)) for i in items)


def cheapest_packs(offers: Sequence[Offer], number: int) -> tuple[float, dict[str, int]]:
    """The cheapest whole packs that hold at least so many pieces.

    Parameters
    ----------
    offers : sequence of Offer
        Ways to buy; at least one.
    number : int
        Pieces wanted.

    Returns
    -------
    tuple
        Price, and item name -> packs. Of equal prices the one with fewer packs.

    Notes
    -----
    Exact, by dynamic programming over the number still wanted.

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


@dataclass(frozen=True)
class ShaftClass:
    """Shafts that are one and the same, however they are sold.

    Attributes
    ----------
    items : tuple of StockItem
        The rows: equal material, spine, mass per inch, diameters, length and grade.
    facts : ShaftFacts
        What they come to.
    """

    items: tuple[StockItem, ...]
    facts: ShaftFacts

    @property
    def first(self) -> StockItem:
        """The row that names the shaft: the one sold in the smallest packs."""
        return min(self.items, key=lambda i: i.pack)

    @property
    def in_hand(self) -> int:
        """Pieces the archer owns, of any row."""
        return sum(i.in_hand for i in self.items)

    @property
    def full_length_in(self) -> float:
        """Length as sold [in]."""
        return self.items[0].full_length_in or 0.0

    def price_of(self, number: int) -> tuple[float, dict[str, int]]:
        """Cheapest packs that, with what is in hand, make so many."""
        return cheapest_packs(offers_of(self.items), number - self.in_hand)


def shaft_classes(items: Sequence[StockItem]) -> tuple[ShaftClass, ...]:
    """Shafts merged where a row is the same shaft sold otherwise.

    Parameters
    ----------
    items : sequence of StockItem
        Rows; other kinds are passed over.

    Returns
    -------
    tuple of ShaftClass
        In the order of their first rows.
    """
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
