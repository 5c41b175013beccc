"""The final list: the dozen of one build, with spares, proof shafts and the small things, and why."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shaftwright.answers.shop.packs import ShaftClass, cheapest_packs, offers_of
from shaftwright.answers.shop.settings import Sundry, shop_setting, shopping_rules, usual_price
from shaftwright.answers.shop_kit import twin_head
from shaftwright.records.fit import fit
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.fits import fit_limits

NOT_IN_STOCK = "not in this stock: buy it elsewhere"


@dataclass(frozen=True)
class ListLine:
    """One line of the list.

    Attributes
    ----------
    item, kind : str
        Row of the stock, or what to ask for elsewhere.
    quantity : int
        Needed with spares, before what is in hand.
    packs : int
        To buy.
    pack : int
        Pieces in one pack.
    unit_price, price : float or None
        Of one pack, and of all packs; None when the stock states no price.
    in_hand : int
        Owned.
    why : str
        Why the line is there.
    reckoned : float
        Price used when builds are weighed against one another: a usual one where none is stated.
    """

    item: str
    kind: str
    quantity: int
    packs: int
    pack: int
    unit_price: float | None
    price: float | None
    in_hand: int
    why: str
    reckoned: float = 0.0


@dataclass(frozen=True)
class WantedBuild:
    """What one arrow of the dozen is made of; None where there is none."""

    shaft: ShaftClass
    head: StockItem
    insert: StockItem | None
    collar: StockItem | None
    nock: StockItem | None
    fletching: StockItem | None
    wrap: StockItem | None = None


def number_with_spares(arrows: int, breakage_pct: float) -> int:
    """Arrows wanted, and as many more as are broken or lost.

    Examples
    --------
    >>> number_with_spares(12, 15)
    14
    """
    return arrows + math.ceil(arrows * breakage_pct / 100 - 1e-9)


def list_lines(
    rig: Rig, stock: Stock, purpose: str, want: WantedBuild, arrows: int, breakage_pct: float,
    broadheads: bool, wraps: bool = False,
) -> tuple[ListLine, ...]:  # fmt: skip
    """Every line of the final list for one build.

    Parameters
    ----------
    rig : Rig
        For the string.
    stock : Stock
        What could be bought and what is owned.
    purpose : str
        For the small things that depend on it.
    want : WantedBuild
        The arrow.
    arrows : int
        Arrows wanted.
    breakage_pct : float
        Share broken or lost [%].
    broadheads : bool
        Whether the purpose hunts.
    wraps : bool
        Whether the build was reckoned with a wrap.

    Returns
    -------
    tuple of ListLine
        Shafts first.
    """
    if arrows <= 0:
        return ()
    number = number_with_spares(arrows, breakage_pct)
    small = number + math.ceil(number * shop_setting("small_part_spare_pct") / 100 - 1e-9)
    lines = _shaft_lines(want.shaft, arrows, number)
    lines += _head_lines(stock, want, arrows, number, broadheads)
    for part, told in (
        (want.insert, "carries the point"),
        (want.collar, "part of the mass up front"),
    ):
        if part is not None:
            lines.append(
                _line(part, small, f"one for each arrow, {small - number} to spoil; {told}")
            )
    if want.insert is None and want.shaft.first.material != "wood":
        lines.append(
            _elsewhere(
                "inserts for this shaft",
                "insert",
                small,
                "a tube needs something to carry the point",
            )
        )
    lines.append(_tail_line(want.nock, "nock", small, "must grip the serving and come off with a tap: "
                            "a loose nock is a dry fire, a tight one throws high and low"))  # fmt: skip
    lines.append(_tail_line(want.fletching, "fletching", small, "sets for one arrow each, all from one "
                            "wing: left and right feathers must not be mixed"))  # fmt: skip
    lines += _wrap_lines(stock, want, small, wraps)
    lines += _string_lines(rig, stock)
    lines += [
        _sundry_line(stock, s)
        for s in shopping_rules().sundries
        if due(s, rig, purpose, want.shaft)
    ]
    return tuple(lines)


def total(lines: Sequence[ListLine]) -> float:
    """Sum of the stated prices."""
    return math.fsum(line.price or 0.0 for line in lines)


def _line(item: StockItem, quantity: int, why: str, in_hand: int | None = None) -> ListLine:
    owned = item.in_hand if in_hand is None else in_hand
    packs = cheapest_packs(offers_of([item]), quantity - owned)[1].get(item.item, 0)
    unit = item.price
    reckoned = packs * (usual_price(item.kind) if unit is None else unit)
    price = 0.0 if not packs else (None if unit is None else packs * unit)
    return ListLine(
        item.item, item.kind, quantity, packs, item.pack, unit, price, owned, why, reckoned
    )


def _elsewhere(name: str, kind: str, quantity: int, why: str) -> ListLine:
    return ListLine(name, kind, quantity, 0, 1, None, None, 0, f"{why}; {NOT_IN_STOCK}", 0.0)


def _shaft_lines(shaft: ShaftClass, arrows: int, number: int) -> list[ListLine]:
    """Proof shafts first, in the smallest packs; then the rest of the dozen in the cheapest packs."""
    offers = offers_of(shaft.items)
    small = min(offers, key=lambda o: (o.pack, o.price))
    proof = min(round(shop_setting("proof_shafts")), number)
    owned = shaft.in_hand
    packs = max(math.ceil((proof - owned) / small.pack), 0)
    first = next((i for i in shaft.items if i.in_hand), small.item) if not packs else small.item
    why = (f"proof shafts: cut, fletch and shoot these {proof} at the final length, the broadhead too if "
           "you hunt, before the dozen is bought or cut")  # fmt: skip
    lines = [
        ListLine(first.item, "shaft", proof, packs, first.pack, first.price,
                 0.0 if not packs else (None if first.price is None else packs * small.price), owned, why,
                 packs * small.price)
    ]  # fmt: skip
    got = owned + packs * small.pack
    rest = number - got
    told = f"{arrows} arrows and {number - arrows} spare, the proof shafts among them; ask for one batch"
    if rest <= 0:
        return lines if number == proof else [
            lines[0],
            ListLine(first.item, "shaft", number - proof, 0, first.pack, first.price, 0.0, got - proof, told)
        ]  # fmt: skip
    bought = cheapest_packs(offers, rest)[1]
    left = number - proof
    spare = got - proof
    for offer in sorted(offers, key=lambda o: -o.pack):
        count = bought.get(offer.item.item, 0)
        if not count:
            continue
        held = spare if left else 0
        quantity = min(left, held + count * offer.pack)
        priced = offer.item.price is not None
        lines.append(ListLine(offer.item.item, "shaft", quantity, count, offer.pack, offer.item.price,
                              count * offer.price if priced else None, held, told,
                              count * offer.price))  # fmt: skip
        left, spare = left - quantity, 0
    return lines


def _head_lines(
    stock: Stock, want: WantedBuild, arrows: int, number: int, broadheads: bool
) -> list[ListLine]:
    """Field points for all arrows; for hunting broadheads of the same mass, one of them for practice."""
    head = want.head
    mass = f"{head.mass_gr:g} gr"
    if head.kind != "broadhead":
        why = f"field points of {mass}, one for each arrow and each spare"
        lines = [_line(head, number, why)]
        if broadheads:
            twin = twin_head(head, stock.of_kind("broadhead"))
            lines += _broadhead_lines(twin, head, arrows)
        return lines
    points = [
        p
        for p in stock.of_kind("point")
        if fit(p, want.shaft.first, want.shaft.facts, fit_limits()).fits
    ]
    point = twin_head(head, points)
    why = f"field points of {mass}, as heavy as the broadhead: practice with these"
    lines = (
        [_line(point, number, why)]
        if point
        else [_elsewhere(f"field points, {mass}", "point", number, why)]
    )
    return lines + _broadhead_lines(head, head, arrows)


def _broadhead_lines(head: StockItem | None, like: StockItem, arrows: int) -> list[ListLine]:
    carried = min(round(shop_setting("broadheads")), arrows)
    practice = round(shop_setting("practice_broadheads"))
    word = "one" if practice == 1 else str(practice)
    why = (f"{carried} to hunt with and {word} given to practice, the same mass as the field points; "
           "the last proof is shot with the head that hunts")  # fmt: skip
    if head is None:
        return [
            _elsewhere(f"broadheads, {like.mass_gr:g} gr", "broadhead", carried + practice, why)
        ]
    return [_line(head, carried + practice, why)]


def _tail_line(item: StockItem | None, kind: str, number: int, why: str) -> ListLine:
    if item is None:
        return _elsewhere(f"{kind} that fits the shaft", kind, number, why)
    return _line(item, number, f"{number} with spares; {why}")


def _wrap_lines(stock: Stock, want: WantedBuild, number: int, wraps: bool) -> list[ListLine]:
    if wraps and want.wrap is not None:
        return [_line(want.wrap, number, "asked for; its mass at the tail is part of the build")]
    found = [
        w
        for w in stock.of_kind("wrap")
        if fit(w, want.shaft.first, want.shaft.facts, fit_limits()).fits
    ]
    if not found:
        return []
    item = min(found, key=lambda w: (w.in_hand == 0, offers_of([w])[0].price))
    why = (f"left out: the build was reckoned without; a wrap adds {item.mass_gr:g} gr at the tail "
           "(--wraps reckons with it)")  # fmt: skip
    return [ListLine(item.item, "wrap", 0, 0, item.pack, item.price, 0.0, item.in_hand, why)]


def _string_lines(rig: Rig, stock: Stock) -> list[ListLine]:
    """One spare string of the material on the bow, nearest to its mass."""
    material = rig.string.material
    words: tuple[str, ...] = () if material == "unknown" else shopping_rules().strings[material]
    strings = stock.of_kind("string")
    fitting = [s for s in strings if _named(s, words)]
    told = material.replace("_", "-")
    why = f"a spare {told} string like the one on the bow, shot in and twisted to the same brace height"
    if not fitting:
        return [_elsewhere(f"string, {told}", "string", 1, why)]
    mass = rig.string.mass_gr or 0.0
    item = min(
        fitting, key=lambda s: (abs((s.mass_gr or 0.0) - mass) if mass else 0.0, s.price or 0.0)
    )
    return [_line(item, 1, why)]


def _sundry_line(stock: Stock, sundry: Sundry) -> ListLine:
    for word in sundry.words:
        found = [i for i in stock.of_kind("sundry") if _named(i, (word,))]
        if found:
            item = min(found, key=lambda i: (i.in_hand < sundry.quantity, offers_of([i])[0].price))
            when = "with the test kit" if sundry.with_kit else "with the dozen"
            return _line(item, sundry.quantity, f"{sundry.name}, {when}: {sundry.why}")
    return _elsewhere(sundry.name, "sundry", sundry.quantity, sundry.why)


def _named(item: StockItem, words: Sequence[str]) -> bool:
    told = f"{item.item} {item.note}".lower()
    return any(word in told for word in words)


def due(sundry: Sundry, rig: Rig, purpose: str, shaft: ShaftClass) -> bool:
    """Whether a small thing is due for this rig, purpose and shaft.

    Parameters
    ----------
    sundry : Sundry
        A line of rules/shopping.yaml.
    rig : Rig
        The rig.
    purpose : str
        Key of rules/purposes.yaml.
    shaft : ShaftClass
        The shaft of the list.

    Returns
    -------
    bool
        True when every one of its conditions holds.
    """
    for name, allowed in sundry.when.items():
        if name == "purpose":
            value: object = purpose
        elif name == "shaft.material":
            value = shaft.first.material
        else:
            value = rig
            for part in name.split("."):
                value = getattr(value, part, None)
        if str(value) not in allowed:
            return False
    return True


def joined(first: WantedBuild, second: WantedBuild, stock: Stock, arrows: int, breakage_pct: float,
           lists: tuple[Sequence[ListLine], Sequence[ListLine]]) -> tuple[ListLine, ...]:  # fmt: skip
    """Two lists as one: what is in hand counts once, small things are bought once, packs are shared.

    Parameters
    ----------
    first, second : WantedBuild
        The two arrows.
    stock : Stock
        What could be bought and is owned.
    arrows : int
        Arrows of each.
    breakage_pct : float
        Share broken or lost [%].
    lists : tuple
        Their lists.

    Returns
    -------
    tuple of ListLine
        Shafts first.
    """
    number = number_with_spares(arrows, breakage_pct)
    if first.shaft == second.shaft:
        lines = _shaft_lines(first.shaft, 2 * arrows, 2 * number)
    else:
        lines = [line for part in lists for line in part if line.kind == "shaft"]
    seen: dict[str, ListLine] = {}
    for line in (line for part in lists for line in part if line.kind != "shaft"):
        before = seen.get(line.item)
        if before is None:
            seen[line.item] = line
        elif line.kind not in ("sundry", "string", "wrap"):
            item, quantity = stock.by_name.get(line.item), before.quantity + line.quantity
            seen[line.item] = (
                replace(before, quantity=quantity) if item is None
                else _line(item, quantity, f"for both arrows: {before.why}")
            )  # fmt: skip
    return (*lines, *seen.values())
