"""The test kit: neighbouring spines of one line, one insert and a few points, the cheapest likely enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from shaftwright.answers.arrows.pieces import in_hand
from shaftwright.answers.scenario import Scenario, what_to_look_for
from shaftwright.answers.shop.chance import Side, covered, sides_of
from shaftwright.answers.shop.fronts import fronts_of, too_heavy
from shaftwright.answers.shop.lines import ListLine, listed, row_line
from shaftwright.answers.shop.musts import Must, limited
from shaftwright.answers.shop.shelf import Found, Shelf, cheapest, shelves
from shaftwright.errors import NoAnswer
from shaftwright.parameters import setting
from shaftwright.result import Result, kept
from shaftwright.units import in_100

#: more than any arrow weighs [gr/lb]
_ANY_WEIGHT = 1e6
#: of so many draws one finds that kit; its chance is counted on all
_FEWER = 8
_ROLES = {"point": "to tune with", "nock": "must come off the serving with a tap",
          "insert": "carries the point", "outsert": "carries it", "adapter": "carries it"}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class KitShaft(ListLine):
    """One spine of a kit and the arrow it is first shot as."""

    spine_mils: float = field(metadata=kept(digits=1))
    #: spine as wooden shafts are sold, pounds
    wood_spine_lb: float | None
    full_length_in: float
    #: of the first shot
    length_in: float
    #: whether it must be cut to that length before it is shot, and what it is half an inch longer
    cut_first: bool
    longer_is: Literal["may be far too weak", "is too heavy"] | None
    point: str
    insert: str | None
    #: up front, and the bare arrow, at the first shot
    front_gr: float = field(metadata=kept(digits=1))
    bare_gr: float = field(metadata=kept(digits=1))
    #: that it can be tuned with the kit's points
    chance: float = field(metadata=kept(digits=4))
    #: that it is far too weak at the first shot
    chance_far_too_weak: float = field(metadata=kept(digits=4))


@dataclass(frozen=True, kw_only=True)
class KitPart(ListLine):
    """A point, an insert or a nock of a kit."""

    mass_gr: float


@dataclass(frozen=True)
class Kit(Result):
    """A test kit of one line of shafts."""

    line: str
    material: str
    #: in the order they are shot: fair ones, stiffest first where one may be too weak, else likeliest
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
    #: where only the purpose's usual weights keep it from a much better chance: that, with both chances
    heavier: str = field(default="", metadata=kept(json=False))

    @property
    def enough(self) -> bool:
        """Whether it has the chance that was asked for; luck of the draws stays unsaid."""
        return self.chance >= self.asked - 2 * setting("shopping.choosing_margin")

    @property
    def pieces(self) -> int:
        """Test shafts in all."""
        return sum(shaft.quantity for shaft in self.shafts)


class NoneFair(NoAnswer):
    """No kit has a fair chance: why, where the usual weights alone forbid one, and what to look for."""

    def __init__(self, why: str, only_by_weight: bool, look: str) -> None:
        super().__init__(f"{why}; {look}")
        self.why, self.only_by_weight, self.look = why, only_by_weight, look


def kit_for(
    scenario: Scenario, chance: float | None = None, any_line: bool = False, musts: Sequence[Must] = (),
    budget: float | None = None, other: Scenario | None = None, own: str | None = None,
) -> Kit:  # fmt: skip
    """The cheapest kit that keeps the chance; with another bow, one that serves both.

    `own`: of the shafts in hand of this one's line, with the points in hand.
    """
    # kept beside the scenario's other answers, for several of them ask
    memo: dict[object, tuple[Kit, Scenario | None]] = scenario.__dict__.setdefault("_kits", {})
    key = (chance, any_line, tuple(musts), budget, id(other), own)
    if key not in memo:
        asked = setting("shopping.kit_chance") if chance is None else chance
        owned = in_hand(scenario.shop, scenario.entries)
        assert owned.stock is not None
        shop = limited(owned.stock, musts)

        def shelves_for(sides: tuple[Side, ...]) -> list[Shelf]:
            return shelves(fronts_of(sides, shop, owned.pieces, any_line, musts, own))

        some = shelves_for(sides_of(scenario, other))
        # the one that next names, where the budget pays for it
        found = free = _cheapest(some, asked, None)
        if free is not None and budget is not None and free.cost > round(100 * budget):
            found = _cheapest(some, asked, budget)
        kit = None if found is None else _told(found, asked)
        heavier = None
        if (kit is None or not kit.enough) and other is None and own is None:
            # told, not bought: of the line alone that could do most, on few of the draws
            (side,) = sides_of(_of_any_weight(scenario))
            few = replace(side, choosing=side.choosing.some(slice(None, None, _FEWER)))
            likely = sorted(shelves_for((few,)), key=lambda s: -s.total)[:1]
            heavier = _cheapest(likely, asked, budget)
        if kit is None:
            binding = _binding(scenario, musts, any_line)
            if free is not None and not binding:
                price = _told(free, asked).price
                binding = f"no test kit is to be had for {budget:.2f}; without a budget one costs {price:.2f}"
            if binding:
                raise NoAnswer(binding)
            look = what_to_look_for(scenario)
            raise NoneFair(_none_fair(scenario, heavier), heavier is not None, look)
        dearer = kit if free is None or free is found else _told(free, asked)
        # with the other bow itself: while it is held nothing else can have its id
        memo[key] = _with_notes(scenario, kit, dearer, heavier), other
    return memo[key][0]


def _of_any_weight(scenario: Scenario) -> Scenario:
    """The same, were no arrow too heavy for its purpose."""
    found, rule = copy(scenario), scenario.purpose_rule
    span = rule.gr_per_lb.model_copy(update={"high": _ANY_WEIGHT})
    found.__dict__["purpose_rule"] = rule.model_copy(update={"gr_per_lb": span})
    return found


def _within_weights(scenario: Scenario) -> str:
    shafts = scenario.shop.of_kind("shaft")
    return f"within the usual {scenario.purpose_rule.weights({str(i.material) for i in shafts})}"


def _if_heavier(found: Found, chance: float) -> str:
    """The heaviest shaft of a kit of any weight, what it weighs, and the kit's chance."""
    fronts = found.shelf.fronts
    rows = np.array([int(found.shelf.row[place, found.first]) for place in found.at])
    total = replace(fronts.builds.take(rows), length_in=fronts.first_in[rows]).total_gr
    heavy = found.shelf.options[found.at[int(np.argmax(total))]].row.item
    weight = f"{total.max() / fronts.sides[0].scenario.own_lb:.1f} gr/lb"
    return f"with heavier ones, as {heavy} at {weight}, it would have {in_100(chance)}"


def _none_fair(scenario: Scenario, heavier: Found | None) -> str:
    """That no kit has a fair chance; which one would have of heavier arrows."""
    if heavier is not None:
        told = f"no test kit {_within_weights(scenario)} has a fair chance"
        return f"{told}; {_if_heavier(heavier, _stated(heavier)[0])}"
    if scenario.stock is None:
        return "no shaft that most shops keep, with any usual point, has a fair chance"
    return "no shaft of it, at any safe length and with any of its points, has a fair chance"


def _with_notes(scenario: Scenario, kit: Kit, dearer: Kit, heavier: Found | None) -> Kit:
    """A kit with why its chance is no better: money, the purpose's usual weights, or what the shop has."""
    if kit.enough:
        return kit
    reaches = f"one line of this shop reaches {in_100(kit.chance)}, not {in_100(kit.asked)}"
    free = "other spines or points would free it"
    if dearer.chance > kit.chance:
        free = f"more money would make it {in_100(dearer.chance)}"
    told, chance = "", 0.0 if heavier is None else _stated(heavier)[0]
    if heavier and chance >= kit.chance + setting("shopping.weight_costs_chance"):
        told = f"{_within_weights(scenario)} the kit has {in_100(kit.chance)}; {_if_heavier(heavier, chance)}"
    notes = (told or f"{reaches}: {free}", *kit.notes)
    return replace(kit, notes=notes, heavier=told)


def _cheapest(some: Sequence[Shelf], asked: float, budget: float | None) -> Found | None:
    """The cheapest kit that keeps the chance; where none does, one nearly as likely as any can be."""
    if not some:
        return None
    draws = some[0].fronts.sides[0].choosing.size
    wanted = math.ceil((asked + setting("shopping.choosing_margin")) * draws - 1e-6)
    found = cheapest(some, wanted, budget)
    best = max((shelf.most(budget) for shelf in some), default=0) if found is None else 0
    if found is None and best >= setting("matching.worth_testing_chance") * draws:
        # the last tenths of a point cost the most
        near = 0 if best >= asked * draws else round(setting("shopping.near_reachable") * draws)
        found = cheapest(some, best - near, budget)
    return found


def _binding(scenario: Scenario, musts: Sequence[Must], any_line: bool) -> str:
    """Which limits leave no kit, found by lifting each alone."""
    told = []
    for must in musts:
        rest = tuple(m for m in musts if m != must)
        try:
            kit = kit_for(scenario, None, any_line, rest)
        except NoAnswer:
            continue
        told.append(f"--must {must} leaves no test kit; without it {kit.shafts[0].item} would do")
    return "; ".join(told)


def _told(found: Found, asked: float) -> Kit:
    shelf, fronts = found.shelf, found.shelf.fronts
    chance, alone = _stated(found)
    shafts = [_shaft(found, place, own) for place, own in zip(found.at, alone, strict=True)]
    risky = any(s.chance_far_too_weak > setting("shopping.may_be_too_weak_chance") for s in shafts)
    # one without a fair chance of its own waits for the others
    fair = setting("plan.fair_piece_chance")
    shafts.sort(key=lambda s: (s.chance < fair, s.spine_mils if risky else -s.chance, s.spine_mils))
    parts = [
        KitPart(**vars(listed(item, n, _ROLES.get(item.kind, ""))), mass_gr=item.mass_gr or 0.0)
        for item, n in found.parts()
    ]
    lines: list[ListLine] = [*shafts, *parts]
    buys = [line for line in lines if line.buy]
    stated = [line.price for line in buys if line.price]
    return Kit(
        shelf.line.name, shelf.line.material, tuple(shafts), tuple(parts), shafts[0].point, shafts[0].insert,
        round(math.fsum(stated), 2) if stated or not buys else None, chance, asked, _companions(found),
        tuple((line.item, line.buy) for line in buys),
        tuple(line.item for line in buys if line.price is None),
        fronts.notes,
    )  # fmt: skip


def _shaft(found: Found, place: int, alone: float) -> KitShaft:
    shelf, fronts = found.shelf, found.shelf.fronts
    option, row = shelf.options[place], int(shelf.row[place, found.first])
    build = fronts.builds.take(np.array([row]))
    length = float(fronts.first_in[row])
    number = found.quantity(place)
    packs = option.packs(number)[1]
    item = next((i for i in option.rows if i.item in packs), option.row)
    cut_first = length < option.length_in - 1e-6
    longer = replace(build, length_in=np.array([length + setting("shopping.safe_cut_step_in")]))
    heavy = bool(too_heavy(fronts.sides, longer)[0])
    why = f"tunes by itself in {100 * alone:.0f} of 100"
    line = row_line(item, number, packs.get(item.item, 0), min(option.in_hand, number), why)
    return KitShaft(
        **vars(line), spine_mils=option.facts.spine_mils, wood_spine_lb=item.wood_spine_lb,
        full_length_in=option.length_in, length_in=length, cut_first=cut_first,
        longer_is=("is too heavy" if heavy else "may be far too weak") if cut_first else None,
        point=shelf.points[found.first].item, insert=shelf.insert.item if shelf.insert else None,
        front_gr=float(build.front_gr[0]),
        bare_gr=float(build.bare_gr[0] + (length - build.length_in[0]) * build.gr_per_in[0]),
        chance=alone, chance_far_too_weak=float(fronts.weak[row]),
    )  # fmt: skip


def _stated(found: Found) -> tuple[float, list[float]]:
    """The kit's chance and each shaft's own, counted on draws that had no part in the choosing."""
    fronts = found.shelf.fronts
    cells = [found.shelf.cells_of(place, found.first, found.points) for place in found.at]
    bits, size = fronts.covers(cells, fresh=True), fronts.sides[0].fresh.size
    return covered(np.concatenate(bits)) / size, [covered(part) / size for part in bits]


def _companions(found: Found) -> str:
    number = round(setting("plan.fair_fletched"))
    option = found.shelf.options[found.likeliest]
    if option.in_hand - found.quantity(found.likeliest) >= number:
        return f"{number} of your other {option.row.item}, fletched"
    return f"{number} fletched arrows that you shoot well now, your own or borrowed"
