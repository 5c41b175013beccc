"""One build looked at closely: masses, balance, frequencies, speed, match."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shaftwright.answers.arrow_parts import bending_arrow, point_ahead_in
from shaftwright.answers.candidates import Candidates, enumerate_builds
from shaftwright.answers.listing import ListedBuild, list_builds
from shaftwright.answers.parts_named import parts_amiss
from shaftwright.answers.rank import WORTHS, Ranking, arrows_of, hard_floor_gr_per_lb
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import chance_match, moments, stiffness_lb, tunable_draws
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.physics import arrow as beam
from shaftwright.physics.arrow_bending import critical_thrust_n, frequencies_hz
from shaftwright.physics.flight_bare import trim_angle_rad
from shaftwright.physics.spine import bending_stiffness_n_m2
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.stock import Stock
from shaftwright.resources import look_up
from shaftwright.rules.purposes import setting
from shaftwright.units import (
    GRAIN_FPS2_PER_FOOT_POUND,
    GRAIN_FPS_PER_SLUG_FPS,
    INCH_M,
)


@dataclass(frozen=True)
class Mechanics:
    """The arrow as a beam.

    Attributes
    ----------
    balance_in, foc_pct : float
        Balance point from the nock throat [in], front of centre to the end of the shaft [%].
    frequencies_hz : tuple of float
        First three free-free bending frequencies [Hz].
    critical_thrust_n : float
        Thrust at which a steady push would buckle the shaft [N]; compares builds, is no safety limit.
    moment_of_inertia_kg_m2, bending_stiffness_n_m2 : float
        About the balance point [kg m2]; EI of the bare shaft [N m2].
    """

    balance_in: float
    foc_pct: float
    frequencies_hz: tuple[float, ...]
    critical_thrust_n: float
    moment_of_inertia_kg_m2: float
    bending_stiffness_n_m2: float

    def as_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {**self.__dict__, "frequencies_hz": list(self.frequencies_hz)}


@dataclass(frozen=True)
class ThrustAgainst:
    """The buckling thrust of a build as a share of other builds'.

    Attributes
    ----------
    reference_pct : float
        Of the reference arrow of `tables/flight_usual.csv` [%].
    same_shaft_median_pct : float or None
        Of the median of all builds of this shaft within the limits, with a stock [%].
    """

    reference_pct: float
    same_shaft_median_pct: float | None


@dataclass(frozen=True)
class BareTrim:
    """The angle at which the bare shaft settles against its path, and with more up front.

    Attributes
    ----------
    foc_pct, angle_deg : float
        Of the bare shaft as it is [%, deg].
    more_front_gr, more_foc_pct, more_angle_deg : float
        Mass added at the front, and what comes of it [gr, %, deg].
    """

    foc_pct: float
    angle_deg: float
    more_front_gr: float
    more_foc_pct: float
    more_angle_deg: float


@dataclass(frozen=True)
class OneBuild:
    """One build with its mechanics and what it does on this rig.

    Attributes
    ----------
    builds : Builds
        Of length 1.
    listed : ListedBuild
        Masses, speed, match.
    mechanics : Mechanics
        The arrow as a beam.
    momentum_slug_fps, energy_ftlb : float
        As it leaves the string.
    speed_from : str
        usual, or chronograph.
    point_ahead_in, foc_whole_pct : float or None
        Usual length of a named point ahead of the shaft [in], and front of centre of the
        physical whole with it [%].
    thrust : ThrustAgainst
        Buckling thrust against other builds.
    trim : BareTrim or None
        None where the balance point is not ahead of the middle.
    cautions, amiss, warnings : tuple of str
        Dangers of this build; what of its parts is missing or does not fit; what does not fit in
        the readings.
    """

    builds: Builds
    listed: ListedBuild
    mechanics: Mechanics
    momentum_slug_fps: float
    energy_ftlb: float
    speed_from: str
    point_ahead_in: float | None
    foc_whole_pct: float | None
    thrust: ThrustAgainst
    trim: BareTrim | None
    cautions: tuple[str, ...]
    amiss: tuple[str, ...]
    warnings: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `build`."""
        return {
            "format": 1,
            **self.listed.as_dict(1),
            "mechanics": self.mechanics.as_dict(),
            "momentum_slug_fps": self.momentum_slug_fps,
            "energy_ftlb": self.energy_ftlb,
            "speed_from": self.speed_from,
            "point_ahead_in": self.point_ahead_in,
            "foc_whole_pct": self.foc_whole_pct,
            "thrust_against": dict(self.thrust.__dict__),
            "bare_trim": None if self.trim is None else dict(self.trim.__dict__),
            "cautions": [*self.listed.cautions, *self.cautions, *self.amiss],
            "warnings": list(self.warnings),
        }


def _one(values: Any) -> float:
    return float(np.ravel(values)[0])


def mechanics_of(builds: Builds, stock: Stock | None = None) -> Mechanics:
    """The mechanics of a single build.

    Parameters
    ----------
    builds : Builds
        Of length 1.
    stock : Stock, optional
        For the kinds of its named parts; without it all masses are points at the ends.

    Returns
    -------
    Mechanics
        Free of any bow.
    """
    arrow, bending = arrows_of(builds), bending_arrow(builds, stock)
    return Mechanics(
        _one(beam.balance_point_m(arrow)) / INCH_M,
        _one(beam.foc_pct(arrow)),
        tuple(float(f) for f in np.ravel(frequencies_hz(bending, 3))),
        _one(critical_thrust_n(bending)),
        _one(beam.moment_of_inertia_kg_m2(arrow)),
        _one(bending_stiffness_n_m2(builds.spine_mils)),
    )


def usual_value(name: str, case: str, column: str = "value") -> float:
    """One value of `tables/flight_usual.csv`.

    Parameters
    ----------
    name, case : str
        Row.
    column : str
        `value`, `low` or `high`.

    Returns
    -------
    float
        In the row's unit.
    """
    return look_up("flight_usual", "name", name, case, column)


def bare_trim(builds: Builds) -> BareTrim | None:
    """How a bare shaft trims, and what more mass up front does to that.

    Parameters
    ----------
    builds : Builds
        Of length 1.

    Returns
    -------
    BareTrim or None
        None where the balance point is not ahead of the middle.
    """
    step = usual_value("trim_front_step", "bare_shaft")
    bare = replace(builds, tail_gr=builds.tail_gr - builds.fletching_gr)
    heavier = replace(bare, head_gr=bare.head_gr + step)

    def at(of: Builds) -> tuple[float, float]:
        foc = _one(beam.foc_pct(arrows_of(of)))
        if foc <= 0:
            return foc, float("nan")
        angle = trim_angle_rad(of.length_in * INCH_M, 2 * of.radius_in * INCH_M, foc)
        return foc, float(np.degrees(_one(angle)))

    now, then = at(bare), at(heavier)
    return None if np.isnan(now[1]) else BareTrim(*now, step, *then)


def _thrust_against(
    thrust_n: float, around: Builds | None
) -> ThrustAgainst:  # fmt: skip
    reference = builds_by_numbers(
        usual_value("reference_spine", "thrust"), usual_value("reference_length", "thrust"),
        usual_value("reference_front", "thrust"),
        gr_per_in=usual_value("reference_gr_per_in", "thrust"),
    )  # fmt: skip
    median = None
    if around is not None and len(around):
        median = 100 * thrust_n / float(np.median(critical_thrust_n(arrows_of(around))))
    return ThrustAgainst(100 * thrust_n / _one(critical_thrust_n(arrows_of(reference))), median)


def one_build(asked: Scenario, builds: Builds, stock: Stock | None = None) -> OneBuild:
    """One build on one rig.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    builds : Builds
        Of length 1.
    stock : Stock, optional
        Where its names come from; without it no chance of tuning is worked out.

    Returns
    -------
    OneBuild
        Figures, reasons, cautions.
    """
    tolerance = setting("tolerance_pct") / 100
    demand = asked.demand(builds)
    mean, sd, _ = moments(demand, builds, asked.belief)
    chance = chance_match(demand, builds, asked.belief, tolerance)
    shaft = int(builds.shaft[0])
    tunable: dict[int, float] = {}
    around: Builds | None = None
    candidates = Candidates(builds, stock.items if stock else ())
    if shaft >= 0 and stock is not None:
        only = tuple(i for i in stock.items if i.kind != "shaft" or i.item == builds.names[shaft])
        around = enumerate_builds(asked.rig, Stock(only, stock.name), asked.purpose_rule).builds
        if len(around):
            wanted = asked.demand(around)
            heavy = around.bare_gr / wanted.own_lb >= hard_floor_gr_per_lb(asked.rig)
            _, hit = tunable_draws(wanted, around, heavy, asked.belief, tolerance)
            tunable = {shaft: float(hit.mean())} if len(hit) else {shaft: 0.0}
    mechanics, none = mechanics_of(builds, stock), np.zeros(1)
    ranking = Ranking(
        builds, demand.own_lb, mean, sd, chance, np.atleast_1d(mechanics.foc_pct),
        builds.total_gr / demand.own_lb, np.zeros((1, len(WORTHS))), np.zeros(len(WORTHS)), none, tunable,
    )  # fmt: skip
    listed = list_builds(
        asked.rig, asked.purpose_rule, candidates, ranking, asked.book, asked.speeds(), [0]
    )[0]
    speed, ahead = listed.speed_fps.mid, point_ahead_in(builds)
    whole = None if ahead is None else _one(beam.foc_whole_pct(arrows_of(builds), ahead * INCH_M))
    return OneBuild(
        builds, listed, mechanics, listed.total_gr * speed / GRAIN_FPS_PER_SLUG_FPS,
        listed.total_gr * speed**2 / GRAIN_FPS2_PER_FOOT_POUND,
        "chronograph" if asked.speed else "usual", ahead, whole,
        _thrust_against(mechanics.critical_thrust_n, around), bare_trim(builds),
        dangers(asked, builds, float(mean[0])), parts_amiss(builds, stock), asked.warnings,
    )  # fmt: skip


def not_to_be_drawn(asked: Scenario, builds: Builds) -> tuple[str, ...]:
    """`dangers` of one build, for faces that show something else of it.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    builds : Builds
        Of length 1.

    Returns
    -------
    tuple of str
        What was found and the least it had to be; empty for an arrow that may be drawn.
    """
    mean, _, _ = moments(asked.demand(builds), builds, asked.belief)
    return dangers(asked, builds, float(mean[0]))


def dangers(asked: Scenario, builds: Builds, mean_lb: float) -> tuple[str, ...]:
    """What makes a build dangerous on this bow: too short, too light, far too weak.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    builds : Builds
        Of length 1.
    mean_lb : float
        Mean effective bow weight of the build [lb].

    Returns
    -------
    tuple of str
        What was found and the least it had to be.
    """
    found = []
    shortest = shortest_safe_length_in(asked.rig, asked.purpose_rule)
    if builds.length_in[0] < shortest - 1e-9:
        found.append(
            f"too short for this draw: {builds.length_in[0]:g} in, it must be at least {shortest:g} in"
        )
    own = asked.demand(builds).own_lb
    floor = hard_floor_gr_per_lb(asked.rig)
    if builds.bare_gr[0] / own < floor:
        found.append(
            f"too light: bare {builds.bare_gr[0] / own:.2f} gr/lb, it must be at least {floor:g}"
        )
    share = float(stiffness_lb(builds)[0]) / mean_lb
    gate = setting("shoot_gate")
    if share < gate:
        found.append(
            f"far too weak, do not shoot it: {share:.0%} of the stiffness wanted, "
            f"it must be at least {gate:.0%}"
        )
    return tuple(found)
