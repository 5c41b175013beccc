"""One arrow for two rigs or two purposes: where their windows overlap, or the cheapest pair."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.musts import Must, limited
from shaftwright.answers.shop.packs import shaft_classes
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_chosen import ChosenKit, KitLine
from shaftwright.answers.shop_cut import CutPlan, Matched, cut_plan, pieces_of, tightest_set
from shaftwright.answers.shop_final import FinalBuild, final_choice, shortest_in
from shaftwright.answers.shop_joint import joint_question, needs_longer, paired
from shaftwright.answers.shop_kit import KitQuestion, kit_question
from shaftwright.answers.shop_list import ListLine, joined, total
from shaftwright.answers.shop_shared import (
    SharedBuild,
    overlap_chance,
    shared_builds,
    shared_lists,
    window,
)
from shaftwright.answers.shop_wishes import Wishes, kit_for, not_in_kit
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.stock import Stock
from shaftwright.rules.cautions import Caution, cautions_for
from shaftwright.rules.purposes import setting

Option = tuple[tuple[FinalBuild, ...], tuple[ListLine, ...]]
_MOST_PAIRS = 60
_FEW = 40


@dataclass(frozen=True)
class TwoAnswer:
    """One arrow for two, or a pair.

    Attributes
    ----------
    asked : tuple of Scenario
        Both.
    wishes : Wishes
        What was asked.
    window : tuple of float or None
        Spines, stiffest and weakest, that lie in both windows at the shared build's length and front,
        middles taken [mils]; None when the windows do not meet.
    windows : tuple of tuple of float
        Stiffest and weakest of each [mils].
    window_at : tuple of float
        Length [in] and front [gr] the windows are stated at.
    chance_overlap : float
        Chance that some spine suits both at that build.
    one : SharedBuild or None
        The best shared build.
    shared : bool
        Whether one arrow for both is the advice.
    finals : tuple of FinalBuild
        The shared build, or the cheapest pair; empty for kits alone.
    kits : tuple of ChosenKit
        One kit when one arrow is the advice, else one for each; the second counts the parts of the first.
    lines : tuple of ListLine
        The one list, or both lists as one.
    cuts : tuple of CutPlan
        For each rig; empty without a list.
    matched : Matched or None
        The tightest set of the weighed or measured shafts.
    freed_by : str
        What would free a list that the budget has pushed to builds that suit less; empty otherwise.
    cautions : tuple of Caution
        Of both.
    notes : tuple of str
        What is missing from the stock, and what was bent to give an answer.
    """

    asked: tuple[Scenario, Scenario]
    wishes: Wishes
    window: tuple[float, float] | None
    windows: tuple[tuple[float, float], tuple[float, float]]
    window_at: tuple[float, float]
    chance_overlap: float
    one: SharedBuild | None
    shared: bool
    finals: tuple[FinalBuild, ...]
    kits: tuple[ChosenKit, ...]
    lines: tuple[ListLine, ...]
    cuts: tuple[CutPlan, ...]
    matched: Matched | None
    freed_by: str
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...]

    @property
    def longer(self) -> Scenario:
        """The one of both that needs the longer shaft: what its kit's shafts should read comes first."""
        return needs_longer(self.asked)

    @property
    def same_shaft(self) -> bool:
        """Whether a pair shares one shaft, cut or pointed in two ways."""
        return len(self.finals) == 2 and self.finals[0].want.shaft == self.finals[1].want.shaft

    @property
    def poor(self) -> bool:
        """Whether some arrow of the list is too unlikely to match to be advised."""
        return any(f.chance_match < setting("worth_testing_chance") for f in self.finals)

    @property
    def list_price(self) -> float:
        """Of the one list, or of both."""
        return total(self.lines)

    @property
    def total_price(self) -> float:
        """Kits and lists together, stated prices only."""
        return math.fsum([self.list_price, *(kit.price for kit in self.kits)])

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Lines to buy that have no price in the stock."""
        kits = [line.item.item for kit in self.kits for line in kit.lines if line.price is None]
        return tuple(dict.fromkeys([*kits, *(x.item for x in self.lines if x.price is None)]))


def shop_two(
    first: Scenario, second: Scenario, stock: Stock, wishes: Wishes | None = None,
    entries: Sequence[AnyEntry] = (),
) -> TwoAnswer:  # fmt: skip
    """One arrow that suits two questions, or the cheapest pair, each with its test kit.

    Parameters
    ----------
    first, second : Scenario
        Two rigs, or one rig with two purposes.
    stock : Stock
        What could be bought and is owned.
    wishes : Wishes, optional
        As for one rig; of a pair each gets as many arrows, and the budget is for everything.
    entries : sequence
        The notebooks, for weighed and measured shafts.

    Returns
    -------
    TwoAnswer
        The answer.

    Raises
    ------
    NoAnswer
        The stock holds nothing for one of them, or a limit cannot be kept.
    """
    wishes = wishes or Wishes()
    both = first, second = paired(first, second)
    shelf = limited(stock, wishes.musts)
    longer = needs_longer(both)
    shared = shared_builds(both, longer, shelf, wishes)
    one = shared.best
    at = (
        one.build if one is not None
        else longer.reference_build(front_gr=max(q.purpose_rule.usual_front_gr for q in both))
    )  # fmt: skip
    windows = (window(first, at), window(second, at))
    low, high = max(w[0] for w in windows), min(w[1] for w in windows)
    overlap = overlap_chance(first, second, at)
    notes: list[str] = []
    finals: tuple[FinalBuild, ...] = ()
    is_one = one is not None and low <= high and overlap >= shop_setting("one_arrow_chance")
    kits = (_joint_kit if is_one else _two_kits)(both, stock, wishes, notes)
    freed = ""
    if wishes.arrows > 0:
        if is_one:
            lists = shared_lists(shared, both, longer, shelf, wishes)
            options: list[Option] = [((final,), final.lines) for final, _ in lists]
            finals, lines, freed = _picked(options, kits, wishes)
            one = next(build for final, build in lists if final is finals[0])
        else:
            finals, lines, freed = _picked(_pairs(both, shelf, wishes), kits, wishes)
    else:
        lines = ()
    notes += _untested(kits, finals, shelf)
    pieces = pieces_of(entries, [i.item for i in stock.of_kind("shaft")])
    materials = {shelf.by_name[t.shaft].material or "carbon" for k in kits for t in k.shafts}
    materials |= {f.want.shaft.first.material or "carbon" for f in finals}
    cautions = {c.code: c for q in both for c in cautions_for(q.rig, q.purpose, materials)}
    return TwoAnswer(
        asked=both, wishes=wishes, window=(low, high) if low <= high else None, windows=windows,
        window_at=(float(at.length_in[0]), float(at.front_gr[0])), chance_overlap=overlap, one=one,
        shared=is_one, finals=finals, kits=kits, lines=lines, cuts=_cuts(both, finals),
        matched=tightest_set(pieces, wishes.arrows or Wishes.arrows), freed_by=freed,
        cautions=tuple(cautions.values()), notes=tuple(dict.fromkeys(notes)),
    )  # fmt: skip


def _label(asked: Scenario) -> str:
    return f"{asked.rig.name}, {asked.purpose_rule.label}"


def _joint_kit(
    both: tuple[Scenario, Scenario], stock: Stock, wishes: Wishes, notes: list[str]
) -> tuple[ChosenKit, ...]:
    """One kit of shafts that can be tuned for both; none where the proof shafts must do."""

    def make(musts: Sequence[Must], purpose_mass: bool) -> KitQuestion:
        return joint_question(*both, limited(stock, musts), wishes.each, purpose_mass)

    try:
        return (kit_for(make, wishes, notes)[1],)
    except NoAnswer as none:
        if wishes.chance is not None or wishes.arrows == 0:
            raise
        notes.append(f"{none}; the proof shafts are the test of this arrow")
        return ()


def _two_kits(
    both: tuple[Scenario, Scenario], stock: Stock, wishes: Wishes, notes: list[str]
) -> tuple[ChosenKit, ...]:
    """A kit for each; what the first brings of points, inserts and nocks serves the second too."""
    kits: list[ChosenKit] = []
    for asked in both:
        seen = _with(stock, kits[0].lines) if kits else stock

        def make(
            musts: Sequence[Must], purpose_mass: bool, asked: Scenario = asked, seen: Stock = seen
        ) -> KitQuestion:
            return kit_question(asked, limited(seen, musts), wishes.each, purpose_mass)

        own: list[str] = []
        try:
            kits.append(kit_for(make, replace(wishes, budget=None), own)[1])
        except NoAnswer as none:
            raise NoAnswer(f"{_label(asked)}: {none}") from None
        notes += [f"{_label(asked)}: {note}" for note in own]
    whole = math.fsum(kit.reckoned for kit in kits)
    if wishes.budget is not None and wishes.arrows == 0 and whole > wishes.budget + 1e-9:
        raise NoAnswer(
            f"the budget of {wishes.budget:.2f} binds: the two test kits are {whole:.2f}"
        )
    return tuple(kits)


def _with(stock: Stock, lines: Sequence[KitLine]) -> Stock:
    """The stock after a kit: its parts are in hand, and its own shafts no more."""
    change: dict[str, int] = {}
    for line in lines:
        name = line.item.item
        if line.kind == "shaft":
            change[name] = -min(line.quantity, line.item.in_hand)
        else:
            change[name] = line.packs * line.item.pack
    items = [
        i.model_copy(update={"in_hand": i.in_hand + change.get(i.item, 0)}) for i in stock.items
    ]
    return Stock(tuple(items), stock.name)


def _pairs(
    both: tuple[Scenario, Scenario], shelf: Stock, wishes: Wishes
) -> list[Option]:  # fmt: skip
    """Pairs of builds worth pricing together: each as good as the best, and under a budget cheap ones."""
    options: list[list[FinalBuild]] = []
    for asked in both:
        choice = final_choice(
            asked, shelf, wishes.arrows, wishes.breakage, wishes.musts, wishes.wraps
        )
        if not choice.options:
            raise NoAnswer(f"{_label(asked)}: nothing in this stock can be built within the limits")
        least = choice.best_merit - shop_setting("as_good_within")
        few = 0 if wishes.budget is None else _FEW
        cheap = sorted(choice.options, key=lambda o: o.reckoned)[:few]
        some = [o for o in choice.options if o.merit >= least or any(o is c for c in cheap)]
        options.append(some)

    def order(pair: tuple[FinalBuild, FinalBuild]) -> tuple[float, bool, float]:
        other = pair[0].want.shaft != pair[1].want.shaft
        merit = -pair[0].merit - pair[1].merit
        return (round(pair[0].reckoned + pair[1].reckoned, 2), other, merit)

    pairs = sorted(((a, b) for a in options[0] for b in options[1]), key=order)
    top = max(a.merit + b.merit for a, b in pairs) - 2 * shop_setting("as_good_within")
    good = [p for p in pairs if p[0].merit + p[1].merit >= top][:_MOST_PAIRS]
    if wishes.budget is not None:
        good += pairs[:_MOST_PAIRS]
    return [
        (pair, joined(pair[0].want, pair[1].want, shelf, wishes.arrows, wishes.breakage,
                      (pair[0].lines, pair[1].lines)))
        for pair in good
    ]  # fmt: skip


def _picked(
    options: list[Option], kits: tuple[ChosenKit, ...], wishes: Wishes
) -> tuple[tuple[FinalBuild, ...], tuple[ListLine, ...], str]:
    """The cheapest list among those as good as the best that the budget pays for, and what frees it."""

    def price(option: Option) -> float:
        return math.fsum(line.reckoned for line in option[1])

    def merit(option: Option) -> float:
        return math.fsum(f.merit for f in option[0]) / len(option[0])

    def cheapest(some: list[Option]) -> Option:
        top = max(map(merit, some))
        good = [o for o in some if merit(o) >= top - shop_setting("as_good_within")]
        return min(good, key=lambda o: (round(price(o), 6), -merit(o)))

    free = cheapest(options)
    if wishes.budget is None:
        return *free, ""
    tests = math.fsum(kit.reckoned for kit in kits)
    left = wishes.budget - tests
    affordable = [o for o in options if price(o) <= left + 1e-9]
    if not affordable:
        least = tests + min(map(price, options))
        told = (
            f"the budget of {wishes.budget:.2f} binds: test shafts for {tests:.2f} and the cheapest list "
            f"found come to {least:.2f}; a budget of {math.ceil(least * 100 - 1e-6) / 100:.2f} would do, "
            "or fewer --arrows"
        )
        if tests <= wishes.budget:
            told += "; --arrows 0, the test shafts alone, fits"
        raise NoAnswer(told)
    taken = cheapest(affordable)
    freed = ""
    if merit(taken) < merit(free) - 1e-9:
        names = " and ".join(f.want.shaft.first.item for f in free[0])
        whole = math.ceil((tests + price(free)) * 100 - 1e-6) / 100
        freed = f"--budget {whole:.2f} pays for {names}, which would suit better"
    return *taken, freed


def _untested(kits: Sequence[ChosenKit], finals: Sequence[FinalBuild], shelf: Stock) -> list[str]:
    """Notes on shafts of the list that no kit holds."""
    told = []
    kinds = shaft_classes(shelf.items)
    for kit, final in zip(kits, finals, strict=False):
        tested = {t.shaft for t in kit.shafts}
        held = [c for c in kinds if tested & {i.item for i in c.items}]
        if final.want.shaft.first.item not in {i.item for c in held for i in c.items}:
            told.append(not_in_kit(final.want.shaft.first.item))
    return told


def _cuts(both: tuple[Scenario, Scenario], finals: tuple[FinalBuild, ...]) -> tuple[CutPlan, ...]:
    """One cut plan for each rig; a shared arrow is never cut under the longer of the safe lengths."""
    if not finals:
        return ()
    least = [shortest_in(q) for q in both]
    if len(finals) == 1:
        finals, least = finals * 2, [max(least)] * 2
    return tuple(
        cut_plan(q, f.build, f.want.shaft.full_length_in, shortest)
        for q, f, shortest in zip(both, finals, least, strict=True)
    )
