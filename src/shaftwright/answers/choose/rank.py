"""Ranking: hard limits first, then a transparent score whose weights are rule data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.choose.candidates import Candidates, Rejection
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array, Bools
from shaftwright.inference.band import (
    chance_between,
    chance_match,
    fewer_draws,
    match_limits,
    moments,
    stiffness_lb,
    tunable_draws,
)
from shaftwright.inference.demand import Demand
from shaftwright.parameters import setting
from shaftwright.physics.arrow import Arrow, foc_pct
from shaftwright.physics.normal import range_mean
from shaftwright.physics.spine import bending_stiffness_n_m2
from shaftwright.records.builds import Builds, stacked
from shaftwright.records.rig import Rig
from shaftwright.result import Result, kept
from shaftwright.rules.evaluate import interpolate
from shaftwright.rules.load import RuleBook
from shaftwright.rules.sections import MassFloor, PurposeRule, purposes
from shaftwright.units import GRAIN_KG, INCH_M

#: builds whose demand is worked out together
_AT_ONCE: Final = 24_000
#: more builds than this are not all held: never more than these, the best of them by score
_WHOLE: Final = 500_000
_HELD: Final = 300_000
#: and only those with at least this share of the best one's chance
_BEHIND: Final = 0.6
#: of so many builds, shafts whose chance to be tuned is told
_TOLD: Final = 60
#: so many builds have their chance counted on the joint draws after shots
_DRAWN: Final = 200
#: a chance that no other is held against
_LEAST: Final = 1e-12
WORTHS: Final = ("match", "mass", "foc", "robustness", "price", "in_hand")


@dataclass(frozen=True)
class Ranking:
    """All builds within the limits, scored."""

    builds: Builds
    #: middle of the draw weight at the own draw
    own_lb: float
    #: middle and spread of what is wanted, and the chance of a match (n,)
    mean_lb: Array
    sd_lb: Array
    chance: Array
    #: each part of the score, 0 to 1, in the order of `WORTHS` (n, 6)
    worths: Array
    #: shaft index -> chance that some allowed cut, point or insert of it matches
    tunable: dict[int, float] = field(default_factory=dict)
    #: what each limit turned away
    rejected: tuple[Rejection, ...] = ()

    @cached_property
    def weights(self) -> Array:
        """Weights of the worths, adding up to 1."""
        weights: Array = np.array([purposes().utility[name].weight for name in WORTHS])
        weights /= weights.sum()
        return weights

    @cached_property
    def score(self) -> Array:
        """Weighted sum of the worths (n,)."""
        score: Array = self.worths @ self.weights
        return score

    @cached_property
    def gr_per_lb(self) -> Array:
        """Grains per pound (n,)."""
        per_lb: Array = self.builds.total_gr / self.own_lb
        return per_lb

    @cached_property
    def foc(self) -> Array:
        """Balance (n,) [%]."""
        return np.atleast_1d(foc_pct(arrows_of(self.builds)))

    @property
    def mismatch_lb(self) -> Array:
        """Stiffness supplied less what is wanted (n,) [lb]; + stiff, - weak."""
        difference: Array = stiffness_lb(self.builds) - self.mean_lb
        return difference

    def best_first(self, among: Bools | None = None) -> NDArray[np.intp]:
        """Indices by falling score; equal scores keep the stock's order."""
        order = np.argsort(-self.score, kind="stable")
        return order if among is None else order[among[order]]

    def of_weight(self, purpose: PurposeRule) -> Bools:
        """Builds inside the purpose's weights; where there are none, all of them."""
        shown = np.round(self.gr_per_lb, 1)  # as it is printed
        inside: Bools = shown >= purpose.gr_per_lb.low
        inside &= shown <= purpose.most(self.builds.wood)
        return inside if inside.any() else np.ones(len(inside), dtype=bool)

    def best_of_shafts(self, among: Bools | None = None) -> list[int]:
        """Index of each shaft's best build, best shaft first; shafts alike to the maker's eye once."""
        seen: set[tuple[float, ...]] = set()
        best = []
        b = self.builds
        some = np.arange(len(b)) if among is None else np.flatnonzero(among)
        tops = some[_tops(b.shaft[some], self.score[some])]
        for i in tops[np.lexsort((tops, -self.score[tops]))]:
            key = (b.spine_mils[i], b.gr_per_in[i], b.radius_in[i], b.spine_sd_pct[i])
            if key not in seen:
                seen.add(key)
                best.append(int(i))
        return best


def arrows_of(builds: Builds) -> Arrow:
    """The builds as the mechanics sees them: front at the tip, tail at the nock."""
    return Arrow(
        builds.length_in * INCH_M,
        bending_stiffness_n_m2(builds.spine_mils),
        builds.gr_per_in * GRAIN_KG / INCH_M,
        builds.front_gr * GRAIN_KG,
        builds.tail_gr * GRAIN_KG,
    )


def mass_floors(rig: Rig) -> list[MassFloor]:
    """The mass floors that apply to a rig, the bow maker's own among them."""
    found = purposes().floors(rig.bow.kind)
    maker = rig.bow.maker_minimum_gr_per_lb
    if maker is not None:
        found.append(
            MassFloor(name="bow-maker", gr_per_lb=maker, limit=True, applies={},
                      why="the bow maker's own minimum", basis="published", source=("bow-maker",))
        )  # fmt: skip
    return found


def hard_floor_gr_per_lb(rig: Rig) -> float:
    """Lightest bare arrow allowed: the larger of 5 gr/lb and the bow maker's minimum."""
    return max(f.gr_per_lb for f in mass_floors(rig) if f.limit)


def heavy_enough(asked: Scenario, builds: Builds) -> Bools:
    """Which bare arrows are heavy enough for the bow (n,)."""
    heavy: Bools = builds.bare_gr / asked.own_lb >= hard_floor_gr_per_lb(asked.rig) - 1e-9
    return heavy


def rank(asked: Scenario, candidates: Candidates, tunable: bool = True) -> Ranking:
    """Score every candidate within the limits."""
    tolerance, belief = setting("matching.tolerance_pct") / 100, asked.belief
    chances: dict[int, float] = {}
    fewer, many, best = fewer_draws(belief), candidates.count > _WHOLE, _LEAST
    kept, figures, bar = list[Builds](), list[Array](), _BEHIND
    #: of those turned away the grains per pound, and the share of the stiffness wanted [%]
    light, weak = list[Array](), list[Array]()

    def tune(demand: Demand, heavy: Bools) -> None:
        shafts, hit = tunable_draws(demand, demand.builds, heavy, fewer, tolerance, len(chances))
        chances.update(zip(shafts.tolist(), hit.mean(axis=1).tolist(), strict=True))

    def scored() -> Ranking:
        names = tuple(item.item for item in candidates.items)
        builds = replace(stacked(kept or [candidates.builds]), names=names)
        mean, sd, _, chance, robust = np.hstack([*figures, np.zeros((5, 0))])
        worths = _worths(asked, candidates, builds, robust)
        worths[:, 0] = chance / chance.max(initial=_LEAST)
        rejected = (*candidates.rejected, *_turned(asked.rig, light, weak))
        return Ranking(builds, asked.own_lb, mean, sd, chance, worths, chances, rejected)

    for part in candidates.pieces(_AT_ONCE):
        demand, heavy = asked.demand(part), heavy_enough(asked, part)
        off = np.stack(moments(demand, part, belief))
        if tunable and not many:
            tune(demand, heavy)
        share = stiffness_lb(part) / off[0]
        safe = share >= setting("matching.shoot_gate")
        light.append(part.bare_gr[~heavy] / asked.own_lb)
        weak.append(100 * share[heavy & ~safe])
        here = np.flatnonzero(heavy & safe)
        part, off = part.take(here), off[:, here]
        (mean, sd, skew), (low, high) = off, match_limits(part, tolerance)
        chance = chance_between(mean, sd, skew, low, high)
        best = max(best, chance.max(initial=_LEAST))
        if many:
            few = _first_of(part, chance, chance >= bar * best)
            part, off, chance = part.take(few), off[:, few], chance[few]
        robust = _robustness(asked, part, off, chance)
        kept.append(part)
        figures.append(np.vstack([off, chance, robust]))
        if many and sum(map(len, kept)) > _HELD:
            so_far = scored()
            least = float(np.partition(so_far.score, -_HELD // 2)[-_HELD // 2])
            few = _first_of(so_far.builds, so_far.score, so_far.score >= least)
            kept, figures = [so_far.builds.take(few)], [np.hstack(figures)[:, few]]
            # whoever has less of the chance than this cannot score as much, whatever else it has
            bar = max(bar, 1 - (1 - least) / float(so_far.weights[0]))
    ranking = scored()
    builds, chance, worths = ranking.builds, ranking.chance, ranking.worths
    if tunable and many:
        for part in candidates.of_shafts(builds.shaft[ranking.best_of_shafts()[:_TOLD]]):
            tune(asked.demand(part), heavy_enough(asked, part))
    if not belief.learned or not len(builds):
        return ranking
    # after shots the first of them by joint draws; for the many behind them the moments do
    near = ranking.score >= np.sort(ranking.score)[-_DRAWN:][0]
    first, chance, worths = _first_of(builds, ranking.score, near), chance.copy(), worths.copy()
    some = builds.take(first)
    chance[first] = chance_match(asked.demand(some), some, belief, tolerance)
    worths[:, 0] = chance / chance.max(initial=_LEAST)
    return replace(ranking, chance=chance, worths=worths)


def unranked(asked: Scenario, builds: Builds, tunable: dict[int, float] | None = None) -> Ranking:
    """Builds looked at by themselves: their figures, and no score."""
    demand = asked.demand(builds)
    mean, sd, _ = moments(demand, builds, asked.belief)
    chance = chance_match(demand, builds, asked.belief, setting("matching.tolerance_pct") / 100)
    worths = np.zeros((len(builds), len(WORTHS)))
    return Ranking(builds, asked.own_lb, mean, sd, chance, worths, tunable or {})


def _first_of(builds: Builds, score: Array, near: Bools) -> NDArray[np.intp]:
    """These, and the best of every shaft."""
    near = near.copy()
    near[_tops(builds.shaft, score)] = True
    return np.flatnonzero(near)


def _tops(shaft: NDArray[np.int32], score: Array) -> NDArray[np.intp]:
    """Where every shaft's best build is; of equals the first."""
    order = np.argsort(shaft, kind="stable")  # quick, for most stand so already
    starts = np.flatnonzero(np.diff(shaft[order], prepend=-2))
    best = np.maximum.reduceat(score[order], starts) if len(starts) else score
    hits = np.flatnonzero(score[order] == np.repeat(best, np.diff(starts, append=len(order))))
    tops: NDArray[np.intp] = order[hits[np.searchsorted(hits, starts)]]
    return tops


def _turned(rig: Rig, light: list[Array], weak: list[Array]) -> Iterator[Rejection]:
    """Each limit that turned builds away."""
    per_lb, share = (np.concatenate([*found, np.zeros(0)]) for found in (light, weak))
    if per_lb.size:
        found = f"bare arrow {per_lb.min():.1f} to {per_lb.max():.1f} gr/lb"
        floor = hard_floor_gr_per_lb(rig)
        yield Rejection("arrow-mass-floor", per_lb.size, found, f"{floor:g} gr/lb")
    if share.size:
        found = f"{share.min():.0f} to {share.max():.0f} % of the stiffness wanted"
        gate = setting("matching.shoot_gate")
        yield Rejection("far-too-weak", share.size, found, f"{100 * gate:.0f} %")


def front_slope_lb_per_gr(builds: Builds, own_lb: float, book: RuleBook) -> Array:
    """What one grain more at the front adds to the effective bow weight, on the mean."""
    rule = book.find("front-mass")
    span = None if rule is None else rule.range_for(None)
    size = 1.0 if span is None else range_mean(span.value, span.low, span.high)
    x, y = book.tables["front_mass", "front_gr", "shift_pct"]
    step, front = setting("matching.front_varies_gr"), builds.front_gr
    more, less = (np.asarray(interpolate(x, y, front + way * step / 2)) for way in (1, -1))
    slope: Array = size * (more - less) / step * own_lb / 100
    return slope


def _robustness(asked: Scenario, builds: Builds, off: Array, chance: Array) -> Array:
    """Share of its chance a build keeps when draw or front mass are off by a usual amount."""
    low, high = match_limits(builds, setting("matching.tolerance_pct") / 100)
    mean, sd, skew = off
    rules = asked.book.find("draw-beyond-marked"), asked.book.find("longer-draw")
    per_inch = sum(rule.value or 0.0 for rule in rules if rule is not None)
    by_draw = setting("matching.draw_varies_in") * per_inch * asked.own_lb / 100
    slope = front_slope_lb_per_gr(builds, asked.own_lb, asked.book)
    by_front = setting("matching.front_varies_gr") * slope
    kept = np.zeros(len(builds))
    for shift in (by_draw, -by_draw, by_front, -by_front):
        kept += chance_between(mean + shift, sd, skew, low, high)
    kept /= 4 * np.maximum(chance, 1e-6)
    return np.clip(kept, 0.0, 1.0, out=kept)


def _worths(asked: Scenario, candidates: Candidates, builds: Builds, robust: Array) -> Array:
    """Every part of the score between 0 and 1 (n, 6) but the first, which is the match's."""
    utility, purpose = purposes().utility, asked.purpose_rule
    spans = [purpose.foc_pct[item.material or "carbon"] for item in candidates.items]
    low, high = (
        np.array([getattr(s, end) for s in spans])[builds.shaft] for end in ("low", "high")
    )
    least, most = purpose.gr_per_lb.low, purpose.most(builds.wood)
    missing = np.isnan(builds.price)
    known = builds.price[~missing]
    price = np.full(len(builds), 0.5)
    if len(known) and np.ptp(known) > 0:
        price = np.where(missing, 0.5, 1 - (builds.price - known.min()) / np.ptp(known))
    foc = np.asarray(foc_pct(arrows_of(builds)))
    mass = _inside(builds.total_gr / asked.own_lb, least, most, utility["mass"].fades_over)
    balance = _inside(foc, low, high, utility["foc"].fades_over)
    return np.stack([np.zeros(len(builds)), mass, balance, robust, price, builds.owned], axis=1)


def _inside(value: Array, low: Array | float, high: Array | float, fades_over: float) -> Array:
    """1 inside a range, falling in a straight line to 0 outside it."""
    outside = np.maximum(np.maximum(low - value, value - high), 0.0)
    return np.asarray(np.clip(1 - outside / fades_over, 0.0, 1.0))


class Decided(NamedTuple):
    """One worth and by how much of the score it sets the first apart from the second."""

    worth: str
    difference: float


@dataclass(frozen=True)
class FirstPlace(Result):
    """How firm the first place is; shafts are compared by their best builds."""

    #: indices of the winner and of the runner-up
    first: int = field(metadata=kept(json=False))
    second: int = field(metadata=kept(json=False))
    #: the runner-up
    shaft: str
    margin: float
    #: whether the margin is too small to mean anything
    tie: bool
    #: largest first
    decided_by: tuple[Decided, ...]
    #: whether the winning shaft stays first when any weight changes by a fifth
    stable: bool
    #: the weights whose change brings another shaft first
    flips: tuple[str, ...]


def first_place(ranking: Ranking, among: Bools | None = None) -> FirstPlace | None:
    """Winner, runner-up, what decided, whether a small change of weights flips it; None of one shaft."""
    first, *others = ranking.best_of_shafts(among)
    if not others:
        return None
    second = others[0]
    margin = float(ranking.score[first] - ranking.score[second])
    weighted = (ranking.worths[first] - ranking.worths[second]) * ranking.weights
    order = np.argsort(-np.abs(weighted), kind="stable")
    decided = tuple(
        Decided(WORTHS[i], float(weighted[i])) for i in order if abs(weighted[i]) > 1e-9
    )
    wobble = setting("matching.weight_wobble_pct") / 100
    flips = []
    twins = _twins(ranking, first)
    # no part of the score exceeds 1, so that only builds this close behind can come first
    reach = wobble * float(ranking.weights.max()) + 1e-9
    close = ranking.score >= ranking.score[first] - reach
    near = np.flatnonzero(close if among is None else close & among)
    shafts, worths = ranking.builds.shaft[near], ranking.worths[near]
    for i, name in enumerate(WORTHS):
        for factor in (1 - wobble, 1 + wobble):
            weights = ranking.weights.copy()
            weights[i] *= factor
            winner = int(np.argmax(worths @ (weights / weights.sum())))
            if shafts[winner] not in twins and name not in flips:
                flips.append(name)
    shaft = ranking.builds.name(int(ranking.builds.shaft[second]))
    tie = margin < setting("matching.tie_margin")
    return FirstPlace(first, second, shaft, margin, tie, decided, not flips, tuple(flips))


def _twins(ranking: Ranking, index: int) -> set[int]:
    """Shaft indices that are the same shaft as the one of a build, sold otherwise."""
    b = ranking.builds
    looks = np.stack([b.spine_mils, b.gr_per_in, b.radius_in])
    return set(b.shaft[(looks == looks[:, [index]]).all(axis=0)].tolist())
