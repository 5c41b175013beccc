"""One build looked at closely: masses, balance, frequencies, speed, match."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from shaftwright.answers.choose.candidates import enumerate_builds
from shaftwright.answers.choose.listing import ListedBuild, list_builds
from shaftwright.answers.choose.rank import arrows_of, hard_floor_gr_per_lb, unranked
from shaftwright.answers.parts import bending_arrow, parts_amiss, point_ahead_in
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.inference.band import moments, stiffness_lb, tunable_draws
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.physics import arrow as beam
from shaftwright.physics.bare_flight import trim_angle_rad
from shaftwright.physics.bending import critical_thrust_n, frequencies_hz
from shaftwright.physics.spine import bending_stiffness_n_m2
from shaftwright.records.builds import Builds, bare_of, builds_by_numbers
from shaftwright.records.stock import Stock, tube_spine_words
from shaftwright.resources import constant
from shaftwright.result import Result, kept
from shaftwright.units import (
    GRAIN_FPS2_PER_FOOT_POUND,
    GRAIN_FPS_PER_SLUG_FPS,
    INCH_M,
    inches,
)


@dataclass(frozen=True)
class Mechanics(Result):
    """The arrow as a beam."""

    #: from the nock throat; front of centre to the end of the shaft
    balance_in: float
    foc_pct: float
    #: first three, free at both ends
    frequencies_hz: tuple[float, ...]
    #: at which a steady push would buckle the shaft; compares builds, is no safety limit
    critical_thrust_n: float
    #: about the balance point
    moment_of_inertia_kg_m2: float
    #: EI of the bare shaft
    bending_stiffness_n_m2: float


@dataclass(frozen=True)
class ThrustAgainst(Result):
    """The buckling thrust as a share of the reference arrow's, and of the shaft's median build's."""

    reference_pct: float
    #: with a stock
    same_shaft_median_pct: float | None


@dataclass(frozen=True)
class BareTrim(Result):
    """The angle at which the bare shaft settles against its path, and with more up front."""

    foc_pct: float
    angle_deg: float
    more_front_gr: float
    more_foc_pct: float
    more_angle_deg: float


@dataclass(frozen=True)
class OneBuild(Answer):
    """One build with its mechanics and what it does on this rig."""

    builds: Builds = field(metadata=kept(json=False))
    listed: ListedBuild = field(metadata=kept(json=False))
    mechanics: Mechanics
    #: as it leaves the string
    momentum_slug_fps: float
    energy_ftlb: float
    #: usual, or chronograph
    speed_from: str
    #: usual length of a named point ahead of the shaft, and front of centre of the whole with it
    point_ahead_in: float | None
    foc_whole_pct: float | None
    thrust: ThrustAgainst = field(metadata=kept(json="thrust_against"))
    #: None where the balance point is not ahead of the middle
    trim: BareTrim | None = field(metadata=kept(json="bare_trim"))
    #: why it must not be drawn
    dangers: tuple[str, ...]
    #: where a tube's spine is from and how well it is known
    spine_from: str | None = field(default=None, kw_only=True)
    #: what of its parts is missing or does not fit
    amiss: tuple[str, ...] = field(metadata=kept(json=False))

    def to_dict(self) -> dict[str, Any]:
        """With the keys of one entry of `builds`."""
        cautions = [*self.listed.cautions, *self.dangers, *self.amiss]
        more = {"cautions": cautions, "warnings": list(self.question.warnings)}
        return {**self.listed.to_dict(), **super().to_dict(), **more}


def _one(values: Any) -> float:
    return float(np.ravel(values)[0])


def mechanics_of(builds: Builds, stock: Stock | None = None) -> Mechanics:
    """The mechanics of a single build; without a stock all its parts are points at the ends."""
    arrow, bending = arrows_of(builds), bending_arrow(builds, stock)
    return Mechanics(
        _one(beam.balance_point_m(arrow)) / INCH_M,
        _one(beam.foc_pct(arrow)),
        tuple(float(f) for f in np.ravel(frequencies_hz(bending, 3))),
        _one(critical_thrust_n(bending)),
        _one(beam.moment_of_inertia_kg_m2(arrow)),
        _one(bending_stiffness_n_m2(builds.spine_mils)),
    )


def bare_trim(builds: Builds) -> BareTrim | None:
    """How a bare shaft trims, and what more up front does to that; None where it cannot."""
    step = constant("flight_usual", "trim_front_step", "bare_shaft")
    bare = bare_of(builds, taped=False)
    heavier = replace(bare, head_gr=bare.head_gr + step)

    def at(of: Builds) -> tuple[float, float]:
        foc = _one(beam.foc_pct(arrows_of(of)))
        if foc <= 0:
            return foc, float("nan")
        angle = trim_angle_rad(of.length_in * INCH_M, 2 * of.radius_in * INCH_M, foc)
        return foc, float(np.degrees(_one(angle)))

    now, then = at(bare), at(heavier)
    return None if np.isnan(now[1]) else BareTrim(*now, step, *then)


def _thrust_against(thrust_n: float, around: Builds | None) -> ThrustAgainst:
    usual = {
        name: constant("flight_usual", f"reference_{name}", "thrust")
        for name in ("spine", "length", "front", "gr_per_in")
    }
    reference = builds_by_numbers(
        usual["spine"], usual["length"], usual["front"], gr_per_in=usual["gr_per_in"],
    )  # fmt: skip
    median = None
    if around is not None and len(around):
        median = 100 * thrust_n / float(np.median(critical_thrust_n(arrows_of(around))))
    return ThrustAgainst(100 * thrust_n / _one(critical_thrust_n(arrows_of(reference))), median)


def listed_alone(
    asked: Scenario, builds: Builds, stock: Stock | None
) -> tuple[ListedBuild, Builds | None]:
    """One build as `choose` lists it, and all that its shaft could be; no chance without a stock."""
    shaft = int(builds.shaft[0])
    tunable: dict[int, float] = {}
    around: Builds | None = None
    if shaft >= 0 and stock is not None:
        only = tuple(i for i in stock.items if i.kind != "shaft" or i.item == builds.names[shaft])
        around = enumerate_builds(asked.rig, Stock(only, stock.name), asked.purpose_rule).builds
        if len(around):
            wanted = asked.demand(around)
            heavy = around.bare_gr / wanted.own_lb >= hard_floor_gr_per_lb(asked.rig)
            tolerance = setting("matching.tolerance_pct") / 100
            _, hit = tunable_draws(wanted, around, heavy, asked.belief, tolerance)
            tunable = {shaft: float(hit.mean()) if len(hit) else 0.0}
    items = stock.items if stock else ()
    return list_builds(asked, items, unranked(asked, builds, tunable))[0], around


def one_build(asked: Scenario, builds: Builds, stock: Stock | None = None) -> OneBuild:
    """One build on one rig; without a stock no chance of tuning is worked out."""
    listed, around = listed_alone(asked, builds, stock)
    mechanics = mechanics_of(builds, stock)
    speed, ahead = listed.speed_fps.mid, point_ahead_in(builds)
    whole = None if ahead is None else _one(beam.foc_whole_pct(arrows_of(builds), ahead * INCH_M))
    return OneBuild(
        asked, builds, listed, mechanics, listed.total_gr * speed / GRAIN_FPS_PER_SLUG_FPS,
        listed.total_gr * speed**2 / GRAIN_FPS2_PER_FOOT_POUND,
        "chronograph" if asked.speed else "usual", ahead, whole,
        _thrust_against(mechanics.critical_thrust_n, around), bare_trim(builds),
        dangers(asked, builds), parts_amiss(builds, stock),
        spine_from=_spine_from(builds, stock),
    )  # fmt: skip


def _spine_from(builds: Builds, stock: Stock | None) -> str | None:
    name, items = builds.name(int(builds.shaft[0])), stock.items if stock else ()
    return next((tube_spine_words(i) for i in items if i.kind == "shaft" and i.item == name), None)


def dangers(asked: Scenario, builds: Builds) -> tuple[str, ...]:
    """What makes a build dangerous on this bow: too short, too light, far too weak."""
    found, demand = [], asked.demand(builds)
    length, shortest = builds.length_in[0], shortest_safe_length_in(asked.rig, asked.purpose_rule)
    if length < shortest - 1e-9:
        least = f"it must be at least {inches(shortest)}"
        found.append(f"too short for this draw: {inches(float(length))}, {least}")
    per_lb, floor = builds.bare_gr[0] / demand.own_lb, hard_floor_gr_per_lb(asked.rig)
    if per_lb < floor:
        found.append(f"too light: bare {per_lb:.1f} gr/lb, it must be at least {floor:g}")
    mean_lb = float(moments(demand, builds, asked.belief)[0][0])
    if float(stiffness_lb(builds)[0]) / mean_lb < setting("matching.shoot_gate"):
        found.append("far too weak for this bow, not to be shot")
    return tuple(found)
