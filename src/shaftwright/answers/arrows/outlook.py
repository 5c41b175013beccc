"""What an arrow not yet shot would do: joint draws of its mismatch, and where its bare shafts should land."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.arrows.shot import Arrow, Sized, within_in
from shaftwright.answers.choose.rank import hard_floor_gr_per_lb
from shaftwright.answers.plan.result import Buy, Expect
from shaftwright.arrays import Array
from shaftwright.inference.band import own_sd_lb, stiffness_lb
from shaftwright.inference.belief import latin_hypercube
from shaftwright.inference.demand import Demand, demand_of
from shaftwright.inference.evidence.learn import BareBuild
from shaftwright.inference.evidence.look import hand_sign
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds, bare_of, stacked
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.rig import Rig
from shaftwright.units import REFERENCE_YD

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario

_SEED = 20_260_103
_ROUNDING_GR_PER_LB = 0.05


@dataclass(frozen=True)
class Idea:
    """An arrow that could be shot next, from this bow or with one thing on it changed."""

    spec: BuildSpec
    rig: Rig
    #: the arrow it is made from, when it is the same shaft
    base: Arrow | None = None
    piece: Piece | None = None
    buy: tuple[Buy, ...] = ()
    kind: str = "shoot"
    #: how much is changed, in the unit of its kind
    amount: float = 0.0


@dataclass(frozen=True)
class Outlook(Sized):
    """An idea with what it should do."""

    idea: Idea
    #: fletched, of size 1
    build: Builds
    z_lb: Array = field(repr=False)
    #: stiffward at 20 yd [in]
    offset_in: Array = field(repr=False)
    #: where it most likely lies, stiffward at 20 yd [in]
    middle_in: float
    chance_inside: float
    far_too_weak: float
    gr_per_lb: float
    long_enough: bool
    heavy_enough: bool
    #: what the purpose asks, from and to
    wanted_gr_per_lb: tuple[float, float]

    @property
    def in_range(self) -> bool:
        """Whether its grains per pound are what the purpose asks."""
        return self.weighs(())

    def weighs(self, shot: Sequence[float]) -> bool:
        """Whether its grains per pound are what the purpose asks, or between that and what was shot."""
        return _weighs(self.gr_per_lb, self.wanted_gr_per_lb, shot)

    @property
    def safe(self) -> bool:
        """Whether it may be drawn at all."""
        return (
            self.long_enough and self.heavy_enough
            and self.far_too_weak <= setting("matching.far_too_weak_chance")
        )  # fmt: skip

    @property
    def spec(self) -> BuildSpec:  # type: ignore[override]
        """The arrow as it is noted."""
        return self.idea.spec

    def likely_over(self, within_in: float) -> float:
        """Chance that it lies to the stiff side, too far."""
        return float(np.mean(self.offset_in > within_in))


def outlooks(
    scenario: Scenario, ideas: Sequence[Idea], shot: Sequence[float] | None = None
) -> list[Outlook]:
    """What every idea should do, all on the same draws; `shot`: of those only that `weigh` so."""
    known, belief = scenario.known, scenario.belief
    random = np.random.default_rng(_SEED)
    other = random.permutation(latin_hypercube(1, belief.size)[0])
    within, gate = within_in(known), setting("matching.shoot_gate")
    purpose = scenario.purpose_rule
    asked = {wood: (purpose.span(wood).low, purpose.span(wood).high) for wood in (False, True)}
    shortest = shortest_safe_length_in(scenario.rig, scenario.purpose_rule)
    floor = hard_floor_gr_per_lb(scenario.rig)
    by_rig: dict[int, list[int]] = {}
    for i, idea in enumerate(ideas):
        by_rig.setdefault(id(idea.rig), []).append(i)
    now: dict[Arrow, Array] = {}
    found: dict[int, Outlook] = {}
    for members in by_rig.values():
        demand, builds = _wanted(scenario, [ideas[i] for i in members])
        own_lb = demand.own_lb
        per_lb = [float(build.total_gr[0]) / own_lb for build in builds]
        wanted = [asked[bool(build.wood[0])] for build in builds]
        if shot is not None:
            rows = [k for k, x in enumerate(per_lb) if _weighs(x, wanted[k], shot)]
            if not rows:
                continue
            demand = demand.take(np.array(rows))
            members, builds = [members[k] for k in rows], [builds[k] for k in rows]
            per_lb, wanted = [per_lb[k] for k in rows], [wanted[k] for k in rows]
        supply, want = stiffness_lb(demand.builds), demand.draws(belief)
        z = supply[:, None] + own_sd_lb(demand, belief)[:, None] * other - want
        for k, i in enumerate(members):
            base = ideas[i].base
            if base is not None:
                if base not in now:
                    now[base] = _shot(scenario, base.known).draws(belief)[0]
                z[k] = base.known.mismatch_lb - (want[k] - now[base])
                supply[k] = stiffness_lb(base.known.build)[0]
        offset = z * known.slope
        middle, inside = offset.mean(axis=1), (np.abs(offset) <= within).mean(axis=1)
        # stiffness below the gate's share of what is wanted
        weak = (z < (supply * (1 - 1 / gate))[:, None]).mean(axis=1)
        for k, (i, build) in enumerate(zip(members, builds, strict=True)):
            found[i] = Outlook(
                ideas[i], build, z[k], offset[k], float(middle[k]), float(inside[k]), float(weak[k]),
                per_lb[k], bool(build.length_in[0] >= shortest - 1e-9),
                bool(build.bare_gr[0] / own_lb >= floor - 1e-9), wanted[k],
            )  # fmt: skip
    return [found[i] for i in sorted(found)]


def _wanted(scenario: Scenario, ideas: Sequence[Idea]) -> tuple[Demand, list[Builds]]:
    """What is wanted of ideas of one rig as they are shot bare, and how they are built."""
    rig = ideas[0].rig
    kinds = [(i.spec, i.base is None or i.base.known.taped) for i in ideas]

    def make() -> tuple[Demand, list[Builds]]:
        builds = [resolve_build(spec, scenario.shelf) for spec, _ in kinds]
        bare = [bare_of(b, taped) for b, (_, taped) in zip(builds, kinds, strict=True)]
        return demand_of(rig, stacked(bare), scenario.book, scenario.speed), builds

    return scenario.keep(("wanted", rig, *kinds), make)


def _shot(scenario: Scenario, shot: BareBuild) -> Demand:
    """What is wanted of an arrow as it was shot."""
    return scenario.keep(
        ("shot", shot.rig, shot.spec, shot.taped),
        lambda: demand_of(shot.rig, shot.build, scenario.book, scenario.speed),
    )


def _weighs(gr_per_lb: float, asked: tuple[float, float], shot: Sequence[float]) -> bool:
    low, high = min((asked[0], *shot)), max((asked[1], *shot))
    return max(low - gr_per_lb, gr_per_lb - high) <= _ROUNDING_GR_PER_LB


def expect_sideways(
    scenario: Scenario, mismatch: Array, distance_yd: float, bare: int, fletched: int
) -> Expect:
    """Where the next bare centre should lie in the archer's view, scatter and fliers counted."""
    centre = centres(scenario, mismatch, bare, fletched)
    turn = math.radians(scenario.rig.bow.cant_deg or 0.0)
    hand = hand_sign(scenario.rig.archer.hand) or -1
    right = hand * centre * math.cos(turn) * distance_yd / REFERENCE_YD
    chance = setting("diagnosis.expect_chance")
    # straight between neighbours, as np.quantile does it, which loads more than a start has time for
    ends = [(1 - chance) / 2, (1 + chance) / 2]
    low, high = np.interp(ends, np.linspace(0, 1, len(right)), np.sort(right))
    return Expect("sideways", float(low), float(high), chance)


def centres(scenario: Scenario, mismatch: Array, bare: int, fletched: int) -> Array:
    """Draws of the next bare centre, stiffward at 20 yd [in], scatter and fliers counted."""
    known = scenario.known
    random = np.random.default_rng(_SEED)
    size, nu = len(mismatch), setting("evidence.scatter_tails")
    shots = random.standard_t(nu, (bare, size)) * math.sqrt((nu - 2) / nu) * known.bare_sd
    lost = random.random(size) < setting("evidence.lost_group_chance")
    shift = np.where(lost, setting("evidence.lost_group_sd_in"), known.shift_sd)
    centre = mismatch * known.slope + shots.mean(axis=0) + shift * random.standard_normal(size)
    drawn: Array = centre + known.fletched_sd / math.sqrt(fletched) * random.standard_normal(size)
    return drawn
