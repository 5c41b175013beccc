"""The test kit: neighbouring spines of one line, one insert and a few points, the cheapest likely enough."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from shaftwright.answers.arrows.pieces import in_hand
from shaftwright.answers.scenario import Scenario, what_to_look_for
from shaftwright.answers.shop.chance import covered, sides_of
from shaftwright.answers.shop.fronts import Fronts, fronts_of, too_heavy
from shaftwright.answers.shop.lines import ListLine, listed, row_line, usual_stock
from shaftwright.answers.shop.musts import Must, limited
from shaftwright.answers.shop.shelf import Found, cheapest, shelves
from shaftwright.errors import NoAnswer
from shaftwright.parameters import setting
from shaftwright.result import Result, kept
from shaftwright.units import in_100

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
    memo: dict[object, tuple[Kit, Scenario | None]] = scenario.__dict__.setdefault("_kits", {})
    key = (chance, any_line, tuple(musts), budget, id(other), own)
    if key not in memo:
        asked = setting("shopping.kit_chance") if chance is None else chance
        owned = in_hand(scenario.stock or usual_stock(), scenario.entries)
        assert owned.stock is not None
        shop = limited(owned.stock, musts)
        fronts = fronts_of(sides_of(scenario, other), shop, owned.pieces, any_line, musts, own)
        found = _cheapest(fronts, asked, budget)
        if found is None:
            free = None if budget is None else _cheapest(fronts, asked, None)
            nothing = f"{what_to_look_for(scenario)}; nothing in this shop can be right"
            if free is not None:
                price = _told(free, asked, None).price
                nothing = f"no test kit is to be had for {budget:.2f}; without a budget one costs {price:.2f}"
            raise NoAnswer(_binding(scenario, musts, any_line) or nothing)
        # with the other bow itself: while it is held nothing else can have its id
        memo[key] = _told(found, asked, budget), other
    return memo[key][0]


def _cheapest(fronts: Fronts, asked: float, budget: float | None) -> Found | None:
    """The cheapest kit that keeps the chance; where none does, one nearly as likely as any can be."""
    some, draws = shelves(fronts), fronts.sides[0].choosing.size
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


def _told(found: Found, asked: float, budget: float | None) -> Kit:
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
        (*_notes(chance, asked, budget), *fronts.notes),
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
    return f"{number} fletched arrows that you shoot well now"


def _notes(chance: float, asked: float, budget: float | None) -> list[str]:
    if chance >= asked - 2 * setting("shopping.choosing_margin"):  # luck of the draws stays unsaid
        return []
    free = "other spines or points" if budget is None else "more money"
    return [
        f"one line of this shop reaches {in_100(chance)}, not {in_100(asked)}: {free} would free it"
    ]
