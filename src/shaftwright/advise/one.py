"""One build looked at closely: masses, balance, frequencies, speed, match."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from shaftwright.advise.candidates import Candidates, enumerate_builds
from shaftwright.advise.choose import Question
from shaftwright.advise.listing import ListedBuild, list_builds
from shaftwright.advise.rank import WORTHS, Ranking, arrows_of, hard_floor_gr_per_lb
from shaftwright.match.band import chance_match, moments, stiffness_lb, tunable_draws
from shaftwright.mechanics import arrow as beam
from shaftwright.mechanics.arrow_bending import critical_thrust_n, frequencies_hz
from shaftwright.mechanics.spine import bending_stiffness_n_m2
from shaftwright.quantities import (
    GRAIN_FPS2_PER_FOOT_POUND,
    GRAIN_FPS_PER_SLUG_FPS,
    INCH_M,
    POUND_FORCE_N,
)
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.rulebook.purposes import setting


@dataclass(frozen=True)
class Mechanics:
    """The arrow as a beam.

    Attributes
    ----------
    balance_in, foc_pct : float
        Balance point from the nock throat [in], front of centre [%].
    frequencies_hz : tuple of float
        First three free-free bending frequencies [Hz].
    critical_thrust_n : float
        Thrust at which a steady push would buckle the shaft [N]; compares builds, is no safety limit.
    moment_of_inertia_kg_m2, bending_stiffness_n_m2 : float
        About the balance point [kg m2]; EI [N m2].
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
class OneBuild:
    """One build with its mechanics and what it does on this rig."""

    listed: ListedBuild
    mechanics: Mechanics
    momentum_slug_fps: float
    energy_ftlb: float
    thrust_at_start_n: float
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `build`."""
        return {
            "format": 1,
            **self.listed.as_dict(1),
            "mechanics": self.mechanics.as_dict(),
            "momentum_slug_fps": self.momentum_slug_fps,
            "energy_ftlb": self.energy_ftlb,
            "cautions": [*self.listed.cautions, *self.cautions],
        }


def mechanics_of(builds: Builds) -> Mechanics:
    """The mechanics of a single build, with front at the tip and tail at the nock.

    Parameters
    ----------
    builds : Builds
        Of length 1.

    Returns
    -------
    Mechanics
        Free of any bow.
    """
    arrow = arrows_of(builds)

    def one(values: Any) -> float:
        return float(np.ravel(values)[0])

    return Mechanics(
        one(beam.balance_point_m(arrow)) / INCH_M,
        one(beam.foc_pct(arrow)),
        tuple(float(f) for f in np.ravel(frequencies_hz(arrow, 3))),
        one(critical_thrust_n(arrow)),
        one(beam.moment_of_inertia_kg_m2(arrow)),
        one(bending_stiffness_n_m2(builds.spine_mils)),
    )


def one_build(asked: Question, builds: Builds, stock: Stock | None = None) -> OneBuild:
    """One build on one rig.

    Parameters
    ----------
    asked : Question
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
    tunable = {}
    candidates = Candidates(builds, stock.items if stock else ())
    if shaft >= 0 and stock is not None:
        only = tuple(i for i in stock.items if i.kind != "shaft" or i.item == builds.names[shaft])
        around = enumerate_builds(asked.rig, Stock(only, stock.name), asked.purpose_rule)
        if len(around.builds):
            wanted = asked.demand(around.builds)
            heavy = around.builds.bare_gr / wanted.own_lb >= hard_floor_gr_per_lb(asked.rig)
            _, hit = tunable_draws(wanted, around.builds, heavy, asked.belief, tolerance)
            tunable = {shaft: float(hit.mean())} if len(hit) else {shaft: 0.0}
    none = np.zeros(1)
    ranking = Ranking(
        builds, demand, mean, sd, chance, np.atleast_1d(mechanics_of(builds).foc_pct),
        builds.total_gr / demand.own_lb, np.zeros((1, len(WORTHS))), np.zeros(len(WORTHS)), none, tunable,
    )  # fmt: skip
    listed = list_builds(
        asked.rig, asked.purpose_rule, candidates, ranking, asked.book, asked.speeds(), [0]
    )[0]
    speed = listed.speed_fps.mid
    return OneBuild(
        listed, mechanics_of(builds), listed.total_gr * speed / GRAIN_FPS_PER_SLUG_FPS,
        listed.total_gr * speed**2 / GRAIN_FPS2_PER_FOOT_POUND,
        demand.own_lb * POUND_FORCE_N, tuple(_dangers(asked, builds, float(mean[0]))),
    )  # fmt: skip


def _dangers(asked: Question, builds: Builds, mean_lb: float) -> list[str]:
    from shaftwright.advise.candidates import shortest_safe_length_in

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
            f"too light: bare {builds.bare_gr[0] / own:.1f} gr/lb, it must be at least {floor:g}"
        )
    share = float(stiffness_lb(builds)[0]) / mean_lb
    gate = setting("shoot_gate")
    if share < gate:
        found.append(
            f"far too weak, do not shoot it: {share:.0%} of the stiffness wanted, "
            f"it must be at least {gate:.0%}"
        )
    return found
