"""Which build the dozen is made of: among the best on merit the one whose list costs least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.candidates import Candidates, enumerate_builds
from shaftwright.answers.rank import WORTHS, Ranking, rank
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.musts import Must, within
from shaftwright.answers.shop.packs import ShaftClass, shaft_classes
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_list import ListLine, WantedBuild, list_lines, total
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.builds import Builds
from shaftwright.records.fit import cheapest
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.fits import fit_limits

Array = NDArray[np.float64]
MERITS = ("match", "mass", "foc", "robustness")
MOST_PRICED = 120


@dataclass(frozen=True)
class FinalBuild:
    """One build with its list.

    Attributes
    ----------
    build : Builds
        Of length 1.
    want : WantedBuild
        Its parts.
    merit, chance_match, gr_per_lb, foc_pct : float
        Match, mass, balance and robustness between 0 and 1; chance of a match; grains per pound; balance [%].
    lines : tuple of ListLine
        The list.
    """

    build: Builds
    want: WantedBuild
    merit: float
    chance_match: float
    gr_per_lb: float
    foc_pct: float
    lines: tuple[ListLine, ...]

    @property
    def price(self) -> float:
        """Stated prices added up."""
        return total(self.lines)

    @property
    def reckoned(self) -> float:
        """The same with usual prices where none is stated, for weighing lists against one another."""
        return sum(line.reckoned for line in self.lines)


@dataclass(frozen=True)
class FinalChoice:
    """All builds worth pricing, best merit first.

    Attributes
    ----------
    options : tuple of FinalBuild
        Priced.
    best_merit : float
        Highest merit.
    ranking : Ranking
        What they were taken from; `rejected` tells why when there is none.
    """

    options: tuple[FinalBuild, ...]
    best_merit: float
    ranking: Ranking

    def pick(self, budget: float | None = None) -> FinalBuild | None:
        """The cheapest list among builds as good as the best; under a budget the best it pays for.

        Parameters
        ----------
        budget : float, optional
            Most the list may cost.

        Returns
        -------
        FinalBuild or None
            None when the budget pays for none.
        """
        affordable = [o for o in self.options if budget is None or o.reckoned <= budget + 1e-9]
        if not affordable:
            return None
        top = max(o.merit for o in affordable)
        good = [o for o in affordable if o.merit >= top - shop_setting("as_good_within")]
        return min(good, key=lambda o: (round(o.reckoned, 6), -o.merit))


def final_choice(
    asked: Scenario, stock: Stock, arrows: int, breakage_pct: float, musts: Sequence[Must] = (),
    wraps: bool = False, most: int = MOST_PRICED,
) -> FinalChoice:  # fmt: skip
    """Rank the builds of a stock on merit and price the lists of the best.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, belief.
    stock : Stock
        What could be bought and is owned.
    arrows : int
        Arrows wanted.
    breakage_pct : float
        Share broken or lost [%].
    musts : sequence of Must
        Limits.
    wraps : bool
        Whether a wrap goes on.
    most : int
        How many builds to price, best merit first.

    Returns
    -------
    FinalChoice
        Neither price nor ownership has a part in the merit: owning more can only lower the price.
    """
    wrap = wrap_of(stock) if wraps else None
    candidates = with_wrap(enumerate_builds(asked.rig, stock, asked.purpose_rule), wrap)
    ranking = rank(asked.rig, candidates, asked.purpose_rule, asked.belief, asked.book, asked.speed,
                   tunable=False)  # fmt: skip
    merit = merit_parts(ranking).sum(axis=1)
    merit = np.where(within(musts, ranking.gr_per_lb, ranking.foc), merit, -1.0)
    classes = shaft_classes(stock.items)
    of_item = {i.item: k for k, c in enumerate(classes) for i in c.items}
    options: list[FinalBuild] = []
    seen: set[tuple[int, ...]] = set()
    for i in np.argsort(-merit, kind="stable"):
        if merit[i] < 0 or len(options) >= most:
            break
        b = ranking.builds
        key = (of_item[b.name(int(b.shaft[i]))], int(b.head[i]), int(b.insert[i]), int(b.collar[i]))
        if key in seen:
            continue
        seen.add(key)
        one = b.take(np.array([i]))
        want = wanted(stock, candidates.items, one, classes[key[0]], wrap)
        lines = list_lines(asked.rig, stock, asked.purpose, want, arrows, breakage_pct,
                           asked.purpose_rule.broadheads, wraps)  # fmt: skip
        options.append(FinalBuild(one, want, float(merit[i]), float(ranking.chance[i]),
                                  float(ranking.gr_per_lb[i]), float(ranking.foc[i]), lines))  # fmt: skip
    return FinalChoice(tuple(options), max((o.merit for o in options), default=0.0), ranking)


def merit_parts(ranking: Ranking) -> Array:
    """What each of `MERITS` adds to the merit of every build.

    Parameters
    ----------
    ranking : Ranking
        n builds.

    Returns
    -------
    array (n, 4)
        Adding up to between 0 and 1.
    """
    columns = [WORTHS.index(name) for name in MERITS]
    weights = ranking.weights[columns] / ranking.weights[columns].sum()
    parts: Array = ranking.worths[:, columns] * weights
    return parts


def wanted(
    stock: Stock, items: Sequence[StockItem], build: Builds, shaft: ShaftClass, wrap: StockItem | None
) -> WantedBuild:  # fmt: skip
    """The parts of one build as rows of the stock.

    Parameters
    ----------
    stock : Stock
        For nock and fletching, the cheapest that fit.
    items : sequence of StockItem
        What the build's indices point to.
    build : Builds
        Of length 1.
    shaft : ShaftClass
        Its shaft.
    wrap : StockItem or None
        A wrap, if one goes on.

    Returns
    -------
    WantedBuild
        Parts by row.
    """

    def item(index: int) -> StockItem | None:
        return items[index] if index >= 0 else None

    head = item(int(build.head[0]))
    assert head is not None
    limits = fit_limits()
    nock = cheapest(stock, "nock", shaft.first, shaft.facts, limits)
    fletching = cheapest(stock, "fletching", shaft.first, shaft.facts, limits)
    return WantedBuild(
        shaft, head, item(int(build.insert[0])), item(int(build.collar[0])), nock, fletching, wrap
    )


def wrap_of(stock: Stock) -> StockItem | None:
    """The wrap to reckon with: one in hand, else the lightest; None without any in the stock."""
    wraps = stock.of_kind("wrap")
    return min(wraps, key=lambda w: (w.in_hand == 0, w.mass_gr or 0.0), default=None)


def with_wrap(candidates: Candidates, wrap: StockItem | None) -> Candidates:
    """The candidates with a wrap's mass at the tail; as they are without one."""
    if wrap is None:
        return candidates
    b, mass = candidates.builds, wrap.mass_gr or 0.0
    builds = replace(b, tail_gr=b.tail_gr + mass, fletching_gr=b.fletching_gr + mass)
    return replace(candidates, builds=builds)


def shortest_in(asked: Scenario) -> float:
    """Shortest safe length of the question [in]."""
    return shortest_safe_length_in(asked.rig, asked.purpose_rule)
