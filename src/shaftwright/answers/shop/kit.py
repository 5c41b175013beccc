"""The test kit: neighbouring spines of one line, one insert and a few points, the cheapest likely enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from shaftwright.answers.plan.pieces import in_hand
from shaftwright.answers.result import Result, kept
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.draws import popcount, sides_of, tunable
from shaftwright.answers.shop.fronts import fronts_of
from shaftwright.answers.shop.lines import part_packs, usual_stock
from shaftwright.answers.shop.musts import Must, limited
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop.shelf import Found, cheapest, shelves
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import spine_band
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.stock import StockItem
from shaftwright.rules.plan import plan_setting
from shaftwright.rules.purposes import setting
from shaftwright.units import in_100, inches


@dataclass(frozen=True)
class KitShaft(Result):
    """One spine of a kit and the arrow it is first shot as."""

    item: str
    spine_mils: float = field(metadata=kept(digits=1))
    wood_spine_lb: float | None
    quantity: int
    in_hand: int
    #: pieces to buy, in so many packs of so many
    buy: int
    packs: int
    pack: int
    full_length_in: float
    #: of the first shot; wood near its final length
    length_in: float
    #: whether it must be cut to that length before it is shot, for longer it may be far too weak
    cut_first: bool
    point: str
    insert: str | None
    #: up front, and the bare arrow, at the first shot
    front_gr: float = field(metadata=kept(digits=1))
    bare_gr: float = field(metadata=kept(digits=1))
    #: that it can be tuned with the kit's points
    chance: float = field(metadata=kept(digits=4))
    #: that it is far too weak at the first shot
    chance_far_too_weak: float = field(metadata=kept(digits=4))
    #: of a pack and of what is bought; None where the shop states none
    unit_price: float | None
    price: float | None


@dataclass(frozen=True)
class KitPart(Result):
    """A point, an insert or a nock of a kit."""

    item: str
    kind: str
    mass_gr: float
    quantity: int
    in_hand: int
    buy: int
    packs: int
    pack: int
    unit_price: float | None
    price: float | None


@dataclass(frozen=True)
class Kit(Result):
    """A test kit of one line of shafts."""

    line: str
    material: str
    #: in the order they are shot: stiffest first where one may be too weak, else likeliest first
    shafts: tuple[KitShaft, ...]
    parts: tuple[KitPart, ...]
    first_point: str
    insert: str | None
    #: stated prices added up; None where nothing has one
    price: float | None
    #: that one of its shafts can be tuned, on draws that had no part in the choosing
    chance: float = field(metadata=kept(digits=4))
    asked: float
    #: fletched arrows to compare with
    companions: str
    #: (item, pieces) beyond what is in hand
    to_buy: tuple[tuple[str, int], ...]
    unpriced: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def pieces(self) -> int:
        """Test shafts in all."""
        return sum(shaft.quantity for shaft in self.shafts)


def kit_for(
    scenario: Scenario, chance: float | None = None, any_line: bool = False, musts: Sequence[Must] = (),
    budget: float | None = None, other: Scenario | None = None, own: str | None = None,
) -> Kit:  # fmt: skip
    """The cheapest kit that keeps the chance; with another bow, one that serves both.

    `own`: of the shafts in hand of this one's line, with the points in hand.
    """
    # kept beside the scenario's other answers, for several of them ask
    memo: dict[object, Kit] = scenario.__dict__.setdefault("_kits", {})
    key = (chance, any_line, tuple(musts), budget, id(other), own)
    if key not in memo:
        memo[key] = _kit_for(scenario, chance, any_line, tuple(musts), budget, other, own)
    return memo[key]


def _kit_for(
    scenario: Scenario, chance: float | None, any_line: bool, musts: tuple[Must, ...],
    budget: float | None, other: Scenario | None, own: str | None,
) -> Kit:  # fmt: skip
    asked = shop_setting("kit_chance") if chance is None else chance
    owned = in_hand(scenario.stock or usual_stock(), scenario.entries)
    assert owned.stock is not None
    sides = sides_of(scenario, other)
    fronts = fronts_of(sides, limited(owned.stock, musts), owned.pieces, any_line, musts, own)
    draws = sides[0].choosing.size
    wanted = math.ceil((asked + shop_setting("choosing_margin")) * draws - 1e-6)
    fair = setting("worth_testing_chance") * draws
    for in_range in (True, False):
        some = shelves(fronts, in_range)
        found = cheapest(some, wanted, budget)
        if found is None:
            best = max((shelf.most(budget) for shelf in some), default=0)
            if best < fair:
                continue
            # the last tenths of a point cost the most
            near = 0 if best >= asked * draws else round(shop_setting("near_reachable") * draws)
            found = cheapest(some, best - near, budget)
        if found is not None:
            return _told(found, asked, in_range)
    raise NoAnswer(what_to_look_for(scenario, budget))


def _told(found: Found, asked: float, in_range: bool) -> Kit:
    shelf, fronts = found.shelf, found.shelf.fronts
    chance, alone = _stated(found)
    lines = []
    twin = found.likeliest
    for option, place, own in zip(found.options, found.at, alone, strict=True):
        row = shelf.row[place, found.first]
        build = fronts.builds.take(np.array([row]))
        length = float(fronts.first_in[row])
        number = found.quantity(place)
        held, packs = min(option.in_hand, number), option.packs(number)
        item = option.row if not packs else next(i for i in option.kind.items if i.item in packs)
        head = fronts.part(int(build.head[0]))
        carrier = fronts.part(int(build.insert[0]))
        assert head is not None
        lines.append(KitShaft(
            item.item, option.kind.facts.spine_mils, item.wood_spine_lb, number, held, number - held,
            packs.get(item.item, 0), item.pack, option.length_in, length, fronts.cut_for_safety(row), head.item,
            carrier.item if carrier else None,
            float(build.front_gr[0]),
            float(build.bare_gr[0] + (length - build.length_in[0]) * build.gr_per_in[0]), own,
            float(fronts.weak[row]), item.price, _price(packs.get(item.item, 0), item),
        ))  # fmt: skip
    risky = any(s.chance_far_too_weak > shop_setting("may_be_too_weak_chance") for s in lines)
    lines.sort(key=lambda s: (s.spine_mils if risky else -s.chance, s.spine_mils))
    parts = [_part(item, number) for item, number in found.parts()]
    prices = [line.price for line in (*lines, *parts)]
    buys = [line for line in (*lines, *parts) if line.buy]
    stated = [p for p in prices if p]
    return Kit(
        shelf.line.name, shelf.line.material, tuple(lines), tuple(parts), lines[0].point, lines[0].insert,
        round(math.fsum(stated), 2) if stated or not buys else None, chance, asked,
        _companions(found, twin), tuple((line.item, line.buy) for line in buys),
        tuple(line.item for line in buys if line.price is None),
        (*_notes(found, chance, asked, in_range), *fronts.notes),
    )  # fmt: skip


def _price(packs: int, item: StockItem) -> float | None:
    if not packs:
        return 0.0
    return None if item.price is None else round(packs * item.price, 2)


def _part(item: StockItem, number: int) -> KitPart:
    packs, held = part_packs(item, number), min(item.in_hand, number)
    return KitPart(item.item, item.kind, item.mass_gr or 0.0, number, held, number - held, packs, item.pack,
                   item.price, _price(packs, item))  # fmt: skip


def _stated(found: Found) -> tuple[float, list[float]]:
    """The kit's chance and each shaft's own, counted on draws that had no part in the choosing."""
    cells = [found.shelf.cells_of(place, found.first, found.points) for place in found.at]
    fronts = found.shelf.fronts
    rows = np.concatenate([rows for rows, _, _ in cells])
    spans = (np.concatenate([c[1] for c in cells]), np.concatenate([c[2] for c in cells]))
    places = np.array([fronts.options[i].place for i in fronts.option[rows]])
    sides = [(side.scenario, side.fresh) for side in fronts.sides]
    bits = tunable(sides, fronts.builds.take(rows), spans, places, fresh=True)
    edges = np.cumsum([len(c[0]) for c in cells])[:-1]
    each = [np.bitwise_or.reduce(part, axis=0) for part in np.split(bits, edges)]
    size = sides[0][1].size
    whole = int(popcount(np.bitwise_or.reduce(each, axis=0)))
    return whole / size, [int(popcount(one)) / size for one in each]


def _companions(found: Found, twin: int) -> str:
    number = round(plan_setting("fair_fletched"))
    option = found.shelf.options[twin]
    if option.in_hand - found.quantity(twin) >= number:
        return f"{number} of your other {option.row.item}, fletched"
    return f"{number} fletched arrows that you shoot well now"


def _notes(found: Found, chance: float, asked: float, in_range: bool) -> list[str]:
    notes = []
    asked_of = found.shelf.fronts.sides[0].scenario.purpose_rule
    if chance < asked - shop_setting("near_reachable"):
        notes.append(f"one line of this shop reaches {in_100(chance)}, not {in_100(asked)}: other spines "
                     "or points would free it")  # fmt: skip
    if not in_range:
        notes.append(
            f"no arrow of these shafts comes into the range of {asked_of.label} "
            f"({asked_of.gr_per_lb.low:g} to {asked_of.gr_per_lb.high:g} gr/lb); the bow's floor is kept"
        )
    return notes


def what_to_look_for(scenario: Scenario, budget: float | None = None) -> str:
    """What would suit where nothing in the shop can: spines, length, what goes up front."""
    build = scenario.reference_build()
    band = spine_band(scenario.demand(build), build, scenario.belief, setting("band_chance"))
    low, high = (5 * round(x / 5) for x in (band.low, band.high))
    least = inches(band.length_in)
    told = (
        f"look for spines {low} to {high} (wood {pounds_from_mils(high):.0f} to {pounds_from_mils(low):.0f} lb), "
        f"at least {least} long, with about {band.front_gr:.0f} gr up front; nothing in this shop can be right"
    )
    return told if budget is None else f"{told} for {budget:.2f}"
