"""One arrow for two rigs or two purposes: where their windows overlap, or the cheapest pair."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.advise.candidates import enumerate_builds, shortest_safe_length_in
from shaftwright.advise.choose import Question
from shaftwright.advise.rank import arrows_of, hard_floor_gr_per_lb
from shaftwright.advise.shop_final import FinalBuild, final_choice, wanted
from shaftwright.advise.shop_limits import Must, limited
from shaftwright.advise.shop_list import ListLine, joined, list_lines, total
from shaftwright.advise.shop_packs import shaft_classes
from shaftwright.advise.shop_rules import shop_setting
from shaftwright.match.band import match_limits, moments, stiffness_lb
from shaftwright.match.belief import Belief
from shaftwright.mechanics.arrow import foc_pct
from shaftwright.mechanics.spine import mils_from_pounds
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.rulebook.cautions import Caution, cautions_for
from shaftwright.rulebook.purposes import setting

Array = NDArray[np.float64]
_SEED = 20_260_303
_MOST = 4000
_MOST_PAIRS = 60
_BOW_OWN = "bow-own"


@dataclass(frozen=True)
class SharedBuild:
    """One build for both questions.

    Attributes
    ----------
    build : Builds
        Of length 1.
    chance_both, chances : float, tuple of float
        That it matches both, and each.
    """

    build: Builds
    chance_both: float
    chances: tuple[float, float]


@dataclass(frozen=True)
class TwoAnswer:
    """One arrow for two, or a pair.

    Attributes
    ----------
    asked : tuple of Question
        Both.
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
    one_final : FinalBuild or None
        Its list, when one arrow is the advice.
    pair : tuple of FinalBuild or None
        The cheapest pair, when it is not.
    same_shaft : bool
        Whether the pair shares one shaft, cut or pointed in two ways.
    lines : tuple of ListLine
        The one list, or both lists as one.
    cautions : tuple of Caution
        Of both.
    """

    asked: tuple[Question, Question]
    window: tuple[float, float] | None
    windows: tuple[tuple[float, float], tuple[float, float]]
    window_at: tuple[float, float]
    chance_overlap: float
    one: SharedBuild | None
    one_final: FinalBuild | None
    pair: tuple[FinalBuild, FinalBuild] | None
    same_shaft: bool
    lines: tuple[ListLine, ...]
    cautions: tuple[Caution, ...]

    @property
    def total_price(self) -> float:
        """Of the one list, or of both."""
        return total(self.lines)


def apart(first: Question, second: Question) -> Question:
    """The second question with the second bow's own doubt drawn anew, unless it is the same bow.

    Parameters
    ----------
    first, second : Question
        Two rigs, or one rig with two purposes.

    Returns
    -------
    Question
        Shares the archer and the rules' doubt with the first, not the bow's own.
    """
    if first.rig.bow == second.rig.bow:
        return second
    rule = second.book.find(_BOW_OWN)
    if rule is None or rule.code not in second.belief.scores:
        return second
    scores = dict(second.belief.scores)
    scores[rule.code] = np.random.default_rng(_SEED).permutation(scores[rule.code])
    return replace(second, belief=Belief(scores, second.belief.learned))


def shop_two(
    first: Question, second: Question, stock: Stock, arrows: int = 12,
    breakage_pct: float | None = None, musts: Sequence[Must] = (),
) -> TwoAnswer:  # fmt: skip
    """One arrow that suits two questions, or the cheapest pair.

    Parameters
    ----------
    first, second : Question
        Two rigs, or one rig with two purposes.
    stock : Stock
        What could be bought and is owned.
    arrows : int
        Arrows wanted; of a pair each gets as many.
    breakage_pct : float, optional
        Share broken or lost [%]; rules/shopping.yaml by default.
    musts : sequence of Must
        Limits.

    Returns
    -------
    TwoAnswer
        The answer; both `one` and `pair` are None when the stock holds nothing for one of them.
    """
    second = apart(first, second)
    shelf = limited(stock, musts)
    breakage = shop_setting("breakage_pct") if breakage_pct is None else breakage_pct
    longer = max((first, second), key=lambda q: shortest_safe_length_in(q.rig, q.purpose_rule))
    candidates = enumerate_builds(longer.rig, shelf, longer.purpose_rule)
    one = _best_shared(first, second, candidates.builds)
    at = (
        one.build if one is not None
        else longer.reference_build(front_gr=max(q.purpose_rule.usual_front_gr for q in (first, second)))
    )  # fmt: skip
    windows = (_window(first, at), _window(second, at))
    low, high = max(w[0] for w in windows), min(w[1] for w in windows)
    overlap = _overlap_chance(first, second, at)
    final = pair = None
    same = False
    if one is not None and low <= high and overlap >= shop_setting("one_arrow_chance"):
        classes = shaft_classes(shelf.items)
        name = one.build.name(int(one.build.shaft[0]))
        kind = next(c for c in classes if any(i.item == name for i in c.items))
        want = wanted(shelf, candidates.items, one.build, kind, None)
        hunts = first.purpose_rule.broadheads or second.purpose_rule.broadheads
        purpose = first.purpose if first.purpose_rule.broadheads else second.purpose
        lines = list_lines(longer.rig, shelf, purpose, want, arrows, breakage, hunts)
        per_lb = float(one.build.total_gr[0]) / first.demand(one.build).own_lb
        foc = float(np.ravel(foc_pct(arrows_of(one.build)))[0])
        final = FinalBuild(one.build, want, one.chance_both, one.chance_both, per_lb, foc, lines)
    else:
        pair, same = _pair(first, second, shelf, arrows, breakage)
    bought: tuple[ListLine, ...] = final.lines if final else ()
    if pair is not None:
        bought = _joined(pair, shelf, arrows, breakage)
    cautions = {
        c.code: c
        for q in (first, second)
        for c in cautions_for(q.rig, q.purpose, {"carbon", "aluminium", "wood", "fibreglass"})
    }
    return TwoAnswer(
        asked=(first, second), window=(low, high) if low <= high else None, windows=windows,
        window_at=(float(at.length_in[0]), float(at.front_gr[0])), chance_overlap=overlap, one=one,
        one_final=final, pair=pair, same_shaft=same, lines=bought, cautions=tuple(cautions.values()),
    )  # fmt: skip


def _window(asked: Question, at: Builds) -> tuple[float, float]:
    """Stiffest and weakest spine within tolerance of the middle, at a build [mils]."""
    wanted_lb = float(moments(asked.demand(at), at, asked.belief)[0][0])
    tolerance = setting("tolerance_pct") / 100
    return (
        mils_from_pounds(wanted_lb * (1 + tolerance)),
        mils_from_pounds(wanted_lb * (1 - tolerance)),
    )


def _overlap_chance(first: Question, second: Question, at: Builds) -> float:
    """Chance that some spine suits both at one length and front: what they share cancels."""
    tolerance = setting("tolerance_pct") / 100
    one = first.demand(at).draws(first.belief)[0]
    two = second.demand(at).draws(second.belief)[0]
    return float(np.mean(np.abs(one - two) <= tolerance * (one + two)))


def _best_shared(first: Question, second: Question, builds: Builds) -> SharedBuild | None:
    """The build that most likely matches both, heavy and stiff enough for both."""
    if not len(builds):
        return None
    keep = np.ones(len(builds), dtype=bool)
    wish = np.ones(len(builds), dtype=bool)
    off: Array = np.zeros(len(builds))
    for asked in (first, second):
        demand = asked.demand(builds)
        mean = demand.mean
        keep &= builds.bare_gr >= hard_floor_gr_per_lb(asked.rig) * demand.own_lb - 1e-9
        keep &= stiffness_lb(builds) >= setting("shoot_gate") * mean
        span = asked.purpose_rule.gr_per_lb
        per_lb = builds.total_gr / demand.own_lb
        wish &= (per_lb >= span.low) & (per_lb <= span.high)
        off = np.maximum(off, np.abs(stiffness_lb(builds) / mean - 1))
    # the mass both purposes wish for, where any build has it
    index = np.flatnonzero(keep & wish if (keep & wish).any() else keep)
    if not len(index):
        return None
    index = index[np.argsort(off[index], kind="stable")[:_MOST]]
    some = builds.take(index)
    inside: list[NDArray[np.bool_]] = []
    low, high = match_limits(some, setting("tolerance_pct") / 100)
    for asked in (first, second):
        draws = asked.demand(some).draws(asked.belief)
        inside.append((draws >= low[:, None]) & (draws <= high[:, None]))
    both = (inside[0] & inside[1]).mean(axis=1)
    good = np.flatnonzero(both >= both.max() - shop_setting("as_good_within"))
    price = np.where(np.isnan(some.price[good]), np.inf, some.price[good])
    k = int(good[np.lexsort((-both[good], price))[0]])
    chances = (float(inside[0][k].mean()), float(inside[1][k].mean()))
    return SharedBuild(some.take(np.array([k])), float(both[k]), chances)


def _pair(
    first: Question, second: Question, shelf: Stock, arrows: int, breakage: float
) -> tuple[tuple[FinalBuild, FinalBuild] | None, bool]:
    """The cheapest two builds that are each as good as the best; one shaft for both breaks ties."""
    margin = shop_setting("as_good_within")
    options = []
    for asked in (first, second):
        choice = final_choice(asked, shelf, arrows, breakage)
        options.append([o for o in choice.options if o.merit >= choice.best_merit - margin])
    if not options[0] or not options[1]:
        return None, False

    def sum_of(pair: tuple[FinalBuild, FinalBuild]) -> tuple[float, bool, float]:
        same = pair[0].want.shaft == pair[1].want.shaft
        return (
            round(pair[0].reckoned + pair[1].reckoned, 2),
            not same,
            -pair[0].merit - pair[1].merit,
        )

    def whole(pair: tuple[FinalBuild, FinalBuild]) -> tuple[float, bool, float]:
        lines = _joined(pair, shelf, arrows, breakage)
        return (round(sum(line.reckoned for line in lines), 2), *sum_of(pair)[1:])

    pairs = sorted(((a, b) for a in options[0] for b in options[1]), key=sum_of)
    best = min(pairs[:_MOST_PAIRS], key=whole)
    return best, best[0].want.shaft == best[1].want.shaft


def _joined(
    pair: tuple[FinalBuild, FinalBuild], shelf: Stock, arrows: int, breakage: float
) -> tuple[ListLine, ...]:
    lists = (pair[0].lines, pair[1].lines)
    return joined(pair[0].want, pair[1].want, shelf, arrows, breakage, lists)
