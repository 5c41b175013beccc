"""What the archer asks of a list, and the test kit that comes nearest to it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shaftwright.answers.shop.musts import Must
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_chosen import ChosenKit, choose_kit
from shaftwright.answers.shop_final import shortest_in
from shaftwright.answers.shop_kit import KitQuestion
from shaftwright.answers.shop_solve import popcount
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import stiffness_lb
from shaftwright.rules.purposes import setting
from shaftwright.units import percent

#: a kit question from limits, and whether arrows lighter than the purpose asks are left out
Make = Callable[[Sequence[Must], bool], KitQuestion]
_FEW_NAMES = 4


@dataclass(frozen=True)
class Wishes:
    """What the archer asks of a list.

    Attributes
    ----------
    arrows : int
        Arrows wanted; 0 for the test kit alone.
    chance : float or None
        Chance that the kit holds a shaft that can be tuned; None takes the usual one, or as near to
        it as the stock goes.
    breakage_pct : float or None
        Share broken or lost [%].
    budget : float or None
        Most that kit and list together may cost.
    musts : tuple of Must
        Limits.
    each : int or None
        Test shafts of each kind.
    wraps : bool
        Whether wraps go on.
    """

    arrows: int = 12
    chance: float | None = None
    breakage_pct: float | None = None
    budget: float | None = None
    musts: tuple[Must, ...] = ()
    each: int | None = None
    wraps: bool = False

    @property
    def breakage(self) -> float:
        """Share broken or lost, the usual one unless another was asked for [%]."""
        return shop_setting("breakage_pct") if self.breakage_pct is None else self.breakage_pct


def kit_for(make: Make, wishes: Wishes, notes: list[str]) -> tuple[KitQuestion, ChosenKit]:
    """The kit for the asked chance; without one asked for, as near to the usual as the stock goes.

    Parameters
    ----------
    make : callable
        Sets the question up from limits.
    wishes : Wishes
        Chance, limits, budget.
    notes : list of str
        Told here when the usual chance is out of reach.

    Returns
    -------
    tuple of KitQuestion, ChosenKit
        The question and its kit.

    Raises
    ------
    NoAnswer
        The asked chance or the budget cannot be met; the message says what would free it.
    """
    question = make(wishes.musts, True)
    notes.extend(question.cautions)
    chance = shop_setting("kit_chance") if wishes.chance is None else wishes.chance
    reachable = question.reachable
    if reachable < chance - 1e-9:
        binding = _what_binds(make, question, wishes, chance)
        if wishes.chance is not None or reachable < shop_setting("hopeless_kit_chance"):
            raise NoAnswer(
                f"no test kit reaches a chance of {chance:.0%}; the stock within your limits reaches "
                f"{percent(reachable)}. {binding}"
            )
        notes.append(f"the stock reaches a chance of {percent(reachable)}, not the usual {chance:.0%}. "
                     f"{binding}")  # fmt: skip
        # the last tenths of a point cost the most: of all kits as good as the best, the cheapest
        near = reachable - shop_setting("near_reachable") - shop_setting("choosing_margin")
        kit = replace(choose_kit(question, max(near, 0.0)), asked_chance=chance)
    else:
        kit = choose_kit(question, chance)
    if wishes.budget is not None and wishes.arrows == 0 and kit.reckoned > wishes.budget + 1e-9:
        told = (
            f"the budget of {wishes.budget:.2f} binds: the cheapest test kit is {kit.reckoned:.2f}"
        )
        for point in reversed(kit.curve):
            if point.price <= wishes.budget + 1e-9:
                told += (
                    f"; --chance {int(100 * point.chance) / 100:g} would fit, for {point.price:.2f}"
                )
                break
        raise NoAnswer(told)
    return question, kit


def _what_binds(make: Make, question: KitQuestion, wishes: Wishes, chance: float) -> str:
    """Which limit keeps the chance down, found by lifting each alone."""
    reachable = question.reachable
    told = _left_out(question)
    for must in wishes.musts:
        most = make(tuple(m for m in wishes.musts if m != must), True).reachable
        if most > reachable + 1e-9:
            enough = "enough" if most >= chance else f"{percent(most)}"
            told.append(f"{must} binds: without it the chance is {enough}")
    most = make(wishes.musts, False).reachable
    if most > reachable + shop_setting("worth_bringing_chance"):
        rule = question.asked.purpose_rule
        told.append(
            f"the mass asked for {rule.label} binds ({rule.gr_per_lb.low:g} gr/lb): with lighter arrows "
            f"the bow still allows the chance is {percent(most)}; heavier points or shafts would free it"
        )
    if not len(question.classes):
        told.append(
            f"no shaft is as long as the shortest safe length of {shortest_in(question.asked):g} in: "
            "longer shafts would free it" if question.too_short
            else "the limits leave no shaft of the stock"
        )  # fmt: skip
    if not told:
        told.append("the shafts and points of the stock bind: add other spines or points to the stock, "
                    "or ask a lower --chance")  # fmt: skip
    return "; ".join(told)


def _left_out(question: KitQuestion) -> list[str]:
    """Shafts that some cut would suit but that are too weak uncut to be a first test, and what frees them."""
    fronts = question.fronts
    useful = fronts.packed.any(axis=1)
    weak = useful & (stiffness_lb(fronts.builds) < setting("shoot_gate") * fronts.mean_lb)
    out = sorted(set(fronts.shaft[weak].tolist()) - set(fronts.shaft[fronts.first].tolist()))
    union = np.bitwise_or.reduce(fronts.packed, axis=0) if out else None
    most = 0.0 if union is None else question.chance(int(popcount(union)))
    if most <= question.reachable + shop_setting("worth_bringing_chance"):
        return []
    names = [question.classes[s].first.item for s in out]
    more = f" and {len(names) - _FEW_NAMES} more" if len(names) > _FEW_NAMES else ""
    return [
        f"left out of the tests, for uncut they would be far too weak to be shot: "
        f"{', '.join(names[:_FEW_NAMES])}{more} (some cut of the whole stock suits with {percent(most)}); "
        "a stiffer group in the stock would free it, or cut first to the length that choose names"
    ]


def kit_shaft_names(question: KitQuestion, kit: ChosenKit) -> set[str]:
    """Names of all rows that are a shaft of the kit, however it is sold."""
    return {i.item for s in kit.kit.shafts for i in question.classes[s].items}


def not_in_kit(shaft: str) -> str:
    """The note when the list names a shaft that the kit does not hold."""
    return (
        f"the test kit does not hold the shaft of the list, {shaft}: its proof shafts are its test; "
        "once a shaft of the kit is tuned, name it with --must shaft=NAME"
    )
