"""The third question: what exactly goes on the list, test shafts first, then the dozen."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.musts import Must, limited
from shaftwright.answers.shop_chosen import ChosenKit
from shaftwright.answers.shop_cut import CutPlan, Matched, cut_plan, pieces_of, tightest_set
from shaftwright.answers.shop_final import (
    MOST_PRICED,
    FinalBuild,
    FinalChoice,
    final_choice,
    shortest_in,
)
from shaftwright.answers.shop_kit import KitQuestion, kit_question
from shaftwright.answers.shop_list import list_lines
from shaftwright.answers.shop_own import OwnShaft, use_what_i_own
from shaftwright.answers.shop_why import freed_by, unlike_choose
from shaftwright.answers.shop_wishes import Wishes, kit_for, kit_shaft_names, not_in_kit
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.stock import Stock
from shaftwright.rules.cautions import Caution, cautions_for

_TRIED_WITH_FEWER = 20

__all__ = ["ShopAnswer", "Wishes", "shop"]


@dataclass(frozen=True)
class ShopAnswer:
    """Everything the list says.

    Attributes
    ----------
    asked : Scenario
        Rig, purpose, belief.
    wishes : Wishes
        What was asked.
    kit : ChosenKit
        The test kit.
    final : FinalBuild or None
        The build of the dozen with its list; None for a kit alone.
    cheaper_than_best : float
        How much merit was given for the price, or for the budget.
    unlike_choose : str
        Why the list names another shaft than `choose` puts first; empty when it does not.
    freed_by : tuple of str
        What would free a list that is not advised; empty when it may be bought after the tests.
    cut : CutPlan or None
        Cuts for the final build.
    matched : Matched or None
        The tightest set of the weighed or measured shafts.
    own : tuple of OwnShaft
        What is in hand.
    leftovers : tuple of (str, int)
        What the kit leaves over of parts on the list, not counted in the total.
    cautions : tuple of Caution
        Gravest first.
    notes : tuple of str
        What is missing from the stock, and what was bent to give an answer.
    """

    asked: Scenario
    wishes: Wishes
    kit: ChosenKit
    final: FinalBuild | None
    cheaper_than_best: float
    unlike_choose: str
    freed_by: tuple[str, ...]
    cut: CutPlan | None
    matched: Matched | None
    own: tuple[OwnShaft, ...]
    leftovers: tuple[tuple[str, int], ...]
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]

    @property
    def list_price(self) -> float:
        """Price of the final list alone."""
        return self.final.price if self.final else 0.0

    @property
    def total_price(self) -> float:
        """Kit and list together, stated prices only."""
        kit = math.fsum(line.price or 0.0 for line in self.kit.lines)
        return kit + self.list_price

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Lines to buy that have no price in the stock."""
        kit = [line.item.item for line in self.kit.lines if line.price is None]
        listed = [
            line.item for line in (self.final.lines if self.final else ()) if line.price is None
        ]
        return tuple(dict.fromkeys([*kit, *listed]))


def shop(
    asked: Scenario, stock: Stock, wishes: Wishes | None = None, entries: Sequence[AnyEntry] = ()
) -> ShopAnswer:  # fmt: skip
    """The test kit, then the final list, for a rig and a stock.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, rules and belief, after the shots if there were any.
    stock : Stock
        What could be bought and is owned.
    wishes : Wishes, optional
        Arrows, chance, limits.
    entries : sequence
        The notebook, for weighed and measured shafts.

    Returns
    -------
    ShopAnswer
        The answer.

    Raises
    ------
    NoAnswer
        A limit cannot be kept; the message says which, and what would free it.
    """
    wishes = wishes or Wishes()
    shelf = limited(stock, wishes.musts)
    notes: list[str] = []

    def make(musts: Sequence[Must], purpose_mass: bool) -> KitQuestion:
        return kit_question(asked, limited(stock, musts), wishes.each, purpose_mass)

    question, kit = kit_for(make, wishes, notes)
    final, given, unlike = None, 0.0, ""
    freed: tuple[str, ...] = ()
    if wishes.arrows > 0:
        final, choice = _final(asked, stock, shelf, wishes, kit, notes)
        given = choice.best_merit - final.merit
        left = None if wishes.budget is None else wishes.budget - kit.reckoned
        unlike = unlike_choose(asked, stock, wishes.musts, wishes.wraps, choice, final, left)
        freed = freed_by(
            asked, stock, wishes.musts, wishes.wraps, choice, final, wishes.budget, kit.reckoned
        )
        name = final.want.shaft.first.item
        if name not in kit_shaft_names(question, kit):
            notes.append(not_in_kit(name))
    names = [i.item for i in stock.of_kind("shaft")]
    pieces = pieces_of(entries, names)
    materials = {question.classes[s].first.material or "carbon" for s in kit.kit.shafts}
    if final is not None:
        materials.add(final.want.shaft.first.material or "carbon")
    cut = None
    if final is not None:
        cut = cut_plan(asked, final.build, final.want.shaft.full_length_in, shortest_in(asked))
    return ShopAnswer(
        asked=asked, wishes=wishes, kit=kit, final=final, cheaper_than_best=given,
        unlike_choose=unlike, freed_by=freed, cut=cut,
        matched=tightest_set(pieces, wishes.arrows or Wishes.arrows), own=use_what_i_own(question),
        leftovers=_leftovers(kit, final),
        cautions=tuple(cautions_for(asked.rig, asked.purpose, materials)), notes=tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _final(
    asked: Scenario, stock: Stock, shelf: Stock, wishes: Wishes, kit: ChosenKit, notes: list[str]
) -> tuple[FinalBuild, FinalChoice]:
    choice = final_choice(asked, shelf, wishes.arrows, wishes.breakage, wishes.musts, wishes.wraps)
    if not choice.options:
        raise NoAnswer(
            f"nothing in this stock can be built within the limits: {_none_why(asked, stock, wishes, choice)}"
        )
    left = None if wishes.budget is None else wishes.budget - kit.reckoned
    final = choice.pick(left)
    if final is None:
        # the best are too dear: look further down, and say so if what is found there is poor
        choice = final_choice(
            asked,
            shelf,
            wishes.arrows,
            wishes.breakage,
            wishes.musts,
            wishes.wraps,
            5 * MOST_PRICED,
        )
        final = choice.pick(left)
    if final is None:
        raise NoAnswer(_over_budget(asked, shelf, wishes, kit, choice))
    free = choice.pick()
    if wishes.budget is not None and free is not None and final.merit < free.merit - 1e-9:
        notes.append(
            f"the budget of {wishes.budget:.2f} binds: {free.want.shaft.first.item} would suit better "
            f"for {kit.reckoned + free.reckoned:.2f} in all"
        )
    return final, choice


def _none_why(asked: Scenario, stock: Stock, wishes: Wishes, choice: FinalChoice) -> str:
    told = [f"{r.rule}: {r.found}, at least {r.at_least}" for r in choice.ranking.rejected]
    for must in wishes.musts:
        rest = tuple(m for m in wishes.musts if m != must)
        freed = final_choice(asked, limited(stock, rest), 1, 0.0, rest)
        if freed.options:
            told.append(
                f"{must} binds: without it {freed.options[0].want.shaft.first.item} would do"
            )
    return "; ".join(told) or "no shaft of this stock was asked for"


def _over_budget(
    asked: Scenario, shelf: Stock, wishes: Wishes, kit: ChosenKit, choice: FinalChoice
) -> str:
    """Which limit binds when the money does not reach, and what would free it."""
    assert wishes.budget is not None
    least = min(choice.options, key=lambda o: o.reckoned)
    whole = kit.reckoned + least.reckoned
    told = [
        f"the budget of {wishes.budget:.2f} binds: the cheapest test kit is {kit.reckoned:.2f} and the "
        f"cheapest list {least.reckoned:.2f}, together {whole:.2f}",
        f"a budget of {math.ceil(whole * 100 - 1e-6) / 100:.2f} would do",
    ]
    cheap = sorted(choice.options, key=lambda o: o.reckoned)[:_TRIED_WITH_FEWER]
    for arrows in range(wishes.arrows - 1, 0, -1):
        lists = (
            list_lines(asked.rig, shelf, asked.purpose, o.want, arrows, wishes.breakage,
                       asked.purpose_rule.broadheads, wishes.wraps)
            for o in cheap
        )  # fmt: skip
        cheapest = min(sum(line.reckoned for line in lines) for lines in lists)
        if kit.reckoned + cheapest <= wishes.budget + 1e-9:
            told.append(f"--arrows {arrows} would fit")
            break
    if kit.reckoned <= wishes.budget:
        told.append(
            "--arrows 0, the test kit alone, fits: buy that first, the dozen can wait for the shots"
        )
    return "; ".join(told)


def _leftovers(kit: ChosenKit, final: FinalBuild | None) -> tuple[tuple[str, int], ...]:
    if final is None:
        return ()
    listed = {line.item for line in final.lines if line.packs > 0}
    return tuple(
        (line.item.item, line.packs * line.item.pack)
        for line in kit.lines
        if line.packs and line.item.item in listed and line.kind != "shaft"
    )
