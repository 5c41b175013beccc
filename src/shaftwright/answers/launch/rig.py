"""A rig and a build told as the launch model sees them, with draws of what nobody measures.

Everything here is in the bow's own frame, as for a right-handed archer.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.inference.demand import Demand
from shaftwright.inference.rig_facts import brace_height_in, side_position, string_mass_gr
from shaftwright.inference.speed import stroke_m, weight_sd_lb
from shaftwright.physics import normal
from shaftwright.physics.bow_speed import SpeedModel
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow, LaunchSettings
from shaftwright.physics.launch.settings import draw_settings, even_places, middle_settings
from shaftwright.physics.spine import bending_stiffness_n_m2
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Rig
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N

#: one seed for all draws, whatever the names or the hand
SEED: Final = 20
#: energy used over force times stroke, kept inside what a draw curve can be
_FULLNESS: Final = (0.2, 0.9)
#: least share of its middle that a drawn virtual mass keeps
_LEAST_VIRTUAL: Final = 0.25


@dataclass(frozen=True, eq=False)
class LaunchRig:
    """A bow for the launch model: at its middle, and drawn.

    Attributes
    ----------
    middle_bow, middle_settings
        One value a field.
    bow, settings
        Draws, of shape (draws,).
    given : tuple of str
        Settings that the rig states, held at what it says.
    warnings : tuple of str
        What the model does not know of this rig, or simplifies.
    """

    middle_bow: LaunchBow
    middle_settings: LaunchSettings
    bow: LaunchBow
    settings: LaunchSettings
    given: tuple[str, ...]
    warnings: tuple[str, ...]


def launch_arrow(builds: Builds) -> LaunchArrow:
    """Builds as the launch sees them: all front mass at the tip."""
    return LaunchArrow(
        length_m=builds.length_in * INCH_M,
        stiffness_n_m2=bending_stiffness_n_m2(builds.spine_mils),
        mass_per_length_kg_m=builds.gr_per_in * GRAIN_KG / INCH_M,
        front_kg=builds.front_gr * GRAIN_KG,
        tail_kg=(builds.tail_gr - builds.fletching_gr) * GRAIN_KG,
        radius_m=builds.radius_in * INCH_M,
        fletching_kg=builds.fletching_gr * GRAIN_KG,
    )


def launch_rig(
    rig: Rig, demand: Demand, speed: SpeedModel, draws: int, *, seed: int = SEED
) -> LaunchRig:
    """A rig for the launch model, with draws of all that is uncertain about it.

    Parameters
    ----------
    rig : Rig
        Its optional `launch` block replaces settings of the tables.
    demand : Demand
        For the draw weight at the own draw and its doubt.
    speed : SpeedModel
        Energy and virtual mass with their doubt.
    draws : int
        How many.
    seed : int
        The same seed gives the same draws.

    Returns
    -------
    LaunchRig

    Raises
    ------
    NoAnswer
        Nobody knows how far the shaft lies outside the string's plane.

    Notes
    -----
    A measured draw curve enters by its force at full draw and the energy under it, its shape as a
    power of the remaining stroke.
    """
    place, case = side_position(rig)
    if rig.bow.window.cut == "none" or case in ("window_unknown_longbow", "window_unknown_selfbow"):
        raise NoAnswer(
            "the launch model must know how far the plate stands outside the string's line; measure "
            "it and write window: {cut: short_of_centre, by: ...}"
        )
    given = _given(rig)
    force = demand.own_lb * POUND_FORCE_N
    stroke = stroke_m(rig)

    def bow(
        force_n: float | Array, energy_j: float | Array, virtual_kg: float | Array
    ) -> LaunchBow:
        low, high = (share * force_n * stroke for share in _FULLNESS)
        return LaunchBow(
            draw_force_n=force_n,
            power_stroke_m=stroke,
            stored_energy_j=np.clip(energy_j, low, high),
            virtual_mass_kg=virtual_kg,
            brace_height_m=brace_height_in(rig) * INCH_M,
            string_mass_kg=string_mass_gr(rig) * GRAIN_KG,
            plate_offset_m=place * INCH_M,
        )

    forces, energies, virtuals = _drawn(demand, speed, draws, seed)
    return LaunchRig(
        bow(force, speed.energy_j, speed.virtual_kg),
        middle_settings(force, **given),
        bow(forces, energies, virtuals),
        draw_settings(draws, forces, seed=seed, **given),
        tuple(given),
        tuple(_warnings(rig, case)),
    )


def _given(rig: Rig) -> dict[str, float]:
    stated = {} if rig.launch is None else rig.launch.model_dump(exclude_none=True)
    names = [f.name for f in fields(LaunchSettings)]
    found = {name: float(stated[name]) for name in names if name in stated}
    if rig.archer.release == "mechanical":
        found.setdefault("side_fraction", 0.0)
    return found


def _drawn(demand: Demand, speed: SpeedModel, draws: int, seed: int) -> tuple[Array, Array, Array]:
    """Force at full draw, energy used and virtual mass; without readings energy goes with force."""
    scores = normal.quantile(even_places(draws, 3, seed + 1))
    force_sd = weight_sd_lb(demand) / demand.own_lb
    factor = np.maximum(1 + force_sd * scores[:, 2], 0.5)
    energy_sd = speed.energy_sd_j / speed.energy_j
    read = speed.reference_kg is not None
    own_sd = energy_sd if read else np.sqrt(max(energy_sd**2 - force_sd**2, 0.0))
    energy = speed.energy_j * np.exp(own_sd * scores[:, 0]) * (1.0 if read else factor)
    tied = speed.correlation * scores[:, 0]
    tied = tied + np.sqrt(max(1 - speed.correlation**2, 0.0)) * scores[:, 1]
    virtual = speed.virtual_kg + speed.virtual_sd_kg * tied
    force = demand.own_lb * POUND_FORCE_N * factor
    return force, energy, np.maximum(virtual, _LEAST_VIRTUAL * speed.virtual_kg)


def _warnings(rig: Rig, case: str) -> list[str]:
    found = []
    if case != "stated":
        found.append(
            "where the shaft sits sideways is not measured: the ranges are wider than shown"
        )
    if not isinstance(rig.bow.brace_height_in, float):
        found.append("the brace height is not known: the usual one of this kind of bow is taken")
    if rig.bow.rest == "plunger":
        found.append("the plunger counts as a plate whose stiffness is not known")
    if rig.archer.hand == "unknown":
        found.append("the hand is not stated: sides are told for a right-handed archer")
    return found
