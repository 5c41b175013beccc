"""One build for two questions: windows, their overlap, and the builds that likeliest match both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.candidates import enumerate_builds
from shaftwright.answers.rank import arrows_of, hard_floor_gr_per_lb
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.musts import within
from shaftwright.answers.shop.packs import shaft_classes
from shaftwright.answers.shop_final import FinalBuild, wanted, with_wrap, wrap_of
from shaftwright.answers.shop_list import list_lines
from shaftwright.answers.shop_wishes import Wishes
from shaftwright.inference.band import match_limits, moments, stiffness_lb
from shaftwright.inference.belief import OWN_SEED, latin_hypercube
from shaftwright.physics.arrow import foc_pct
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]
_MOST = 4000
_MOST_PRICED = 120


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
class Shared:
    """The builds nearest to both, with their chances.

    Attributes
    ----------
    builds : Builds
        n builds, each shaft with each front once, likeliest first.
    both : array (n,)
        Chance that a build matches both.
    each : array (2, n)
        Chance that it matches each.
    gr_per_lb, foc : array (n,)
        Of the bow with the lower mass, and balance [%].
    items : tuple of StockItem
        What the builds' indices point to.
    wrap : StockItem or None
        Reckoned with.
    """

    builds: Builds
    both: Array
    each: Array
    gr_per_lb: Array
    foc: Array
    items: tuple[StockItem, ...]
    wrap: StockItem | None

    def at(self, index: int) -> SharedBuild:
        """One of them."""
        chances = (float(self.each[0, index]), float(self.each[1, index]))
        return SharedBuild(self.builds.take(np.array([index])), float(self.both[index]), chances)

    @property
    def best(self) -> SharedBuild | None:
        """The likeliest, if there is any."""
        return self.at(0) if len(self.builds) else None


def window(asked: Scenario, at: Builds) -> tuple[float, float]:
    """Stiffest and weakest spine within tolerance of the middle, at a build [mils]."""
    wanted_lb = float(moments(asked.demand(at), at, asked.belief)[0][0])
    tolerance = setting("tolerance_pct") / 100
    return (
        mils_from_pounds(wanted_lb * (1 + tolerance)),
        mils_from_pounds(wanted_lb * (1 - tolerance)),
    )


def overlap_chance(first: Scenario, second: Scenario, at: Builds) -> float:
    """Chance that some spine suits both at one length and front: what they share cancels.

    Parameters
    ----------
    first, second : Scenario
        On draws that belong together.
    at : Builds
        Of length 1.

    Returns
    -------
    float
        Between 0 and 1.
    """
    tolerance = setting("tolerance_pct") / 100
    one = first.demand(at).draws(first.belief)[0]
    two = second.demand(at).draws(second.belief)[0]
    return float(np.mean(np.abs(one - two) <= tolerance * (one + two)))


def shared_builds(
    both: tuple[Scenario, Scenario], longer: Scenario, shelf: Stock, wishes: Wishes
) -> Shared:
    """The builds that likeliest match both, heavy and stiff enough for both, within the limits.

    Parameters
    ----------
    both : tuple of Scenario
        On draws that belong together.
    longer : Scenario
        The one of them that needs the longer shaft.
    shelf : Stock
        What the limits leave.
    wishes : Wishes
        Limits and wraps.

    Returns
    -------
    Shared
        May be empty.
    """
    wrap = wrap_of(shelf) if wishes.wraps else None
    candidates = with_wrap(enumerate_builds(longer.rig, shelf, longer.purpose_rule), wrap)
    builds = candidates.builds
    keep = np.ones(len(builds), dtype=bool)
    wish = np.ones(len(builds), dtype=bool)
    off, per_lb = np.zeros(len(builds)), np.full(len(builds), np.inf)
    foc = np.asarray(foc_pct(arrows_of(builds))) if len(builds) else np.zeros(0)
    for asked in both if len(builds) else ():
        demand = asked.demand(builds)
        mean = demand.mean
        keep &= builds.bare_gr >= hard_floor_gr_per_lb(asked.rig) * demand.own_lb - 1e-9
        keep &= stiffness_lb(builds) >= setting("shoot_gate") * mean
        span, own = asked.purpose_rule.gr_per_lb, builds.total_gr / demand.own_lb
        wish &= (own >= span.low) & (own <= span.high)
        per_lb = np.minimum(per_lb, own)
        off = np.maximum(off, np.abs(stiffness_lb(builds) / mean - 1))
    keep &= within(wishes.musts, per_lb, foc)
    # the mass both purposes wish for, where any build has it
    index = np.flatnonzero(keep & wish if (keep & wish).any() else keep)
    index = index[np.argsort(off[index], kind="stable")[:_MOST]]
    some = builds.take(index)
    inside = [_inside(asked, some) for asked in both] if len(some) else []
    chance = (inside[0] & inside[1]).mean(axis=1) if len(some) else np.zeros(0)
    order = _once_each_front(some, chance)
    each = (
        np.array([side[order].mean(axis=1) for side in inside]) if len(some) else np.zeros((2, 0))
    )
    return Shared(some.take(order), chance[order], each, per_lb[index][order], foc[index][order],
                  candidates.items, wrap)  # fmt: skip


def _inside(asked: Scenario, builds: Builds) -> NDArray[np.bool_]:
    """For every build and draw whether it matches, the shaft's own doubt among the rest."""
    low, high = match_limits(builds, setting("tolerance_pct") / 100)
    draws = asked.demand(builds).draws(asked.belief)
    sd = stiffness_lb(builds) * builds.spine_sd_pct / 100
    draws += sd[:, None] * latin_hypercube(1, asked.belief.size, OWN_SEED)[0]
    inside: NDArray[np.bool_] = (draws >= low[:, None]) & (draws <= high[:, None])
    return inside


def _once_each_front(builds: Builds, chance: Array) -> NDArray[np.intp]:
    """Likeliest first; of one shaft with one front only the likeliest length."""
    order = np.argsort(-chance, kind="stable")
    keys = np.stack([builds.shaft, builds.head, builds.insert, builds.collar], axis=1)[order]
    first = np.unique(keys, axis=0, return_index=True)[1] if len(order) else order
    return order[np.sort(first)]


def shared_lists(
    shared: Shared, both: tuple[Scenario, Scenario], longer: Scenario, shelf: Stock, wishes: Wishes
) -> list[tuple[FinalBuild, SharedBuild]]:
    """The shared builds with their lists, likeliest first.

    Parameters
    ----------
    shared : Shared
        At least one build.
    both : tuple of Scenario
        Both.
    longer : Scenario
        The one of them that needs the longer shaft.
    shelf : Stock
        What the limits leave.
    wishes : Wishes
        Arrows, breakage, wraps.

    Returns
    -------
    list
        Merit is the chance of matching both.
    """
    hunts = next((q for q in both if q.purpose_rule.broadheads), both[0])
    classes = shaft_classes(shelf.items)
    of_item = {i.item: c for c in classes for i in c.items}
    lists = []
    for i in range(min(len(shared.builds), _MOST_PRICED)):
        one = shared.at(i)
        kind = of_item[one.build.name(int(one.build.shaft[0]))]
        want = wanted(shelf, shared.items, one.build, kind, shared.wrap)
        lines = list_lines(longer.rig, shelf, hunts.purpose, want, wishes.arrows, wishes.breakage,
                           hunts.purpose_rule.broadheads, wishes.wraps)  # fmt: skip
        final = FinalBuild(one.build, want, one.chance_both, one.chance_both,
                           float(shared.gr_per_lb[i]), float(shared.foc[i]), lines)  # fmt: skip
        lists.append((final, one))
    return lists
