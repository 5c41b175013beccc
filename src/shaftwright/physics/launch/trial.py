"""Random plausible rigs, to hold the launch against the trade."""

from __future__ import annotations

import numpy as np

from shaftwright.physics.bow.bow import power_stroke_m
from shaftwright.physics.launch.changes import Rig
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow
from shaftwright.physics.launch.settings import draw_settings, even_places, spread
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N


def random_rigs(rigs: int, draws: int, *, seed: int = 20, **given: float) -> Rig:
    """Plausible rigs with draws of their settings.

    Parameters
    ----------
    rigs, draws : int
        How many rigs, and draws of the settings for each.
    seed : int
        The same seed gives the same rigs.
    **given : float
        Settings held at one value, by field name of `LaunchSettings`.

    Returns
    -------
    tuple of LaunchArrow, LaunchBow, LaunchSettings
        Fields of shape (rigs, 1) or (rigs, draws). The arrow's stiffness is a placeholder.

    Notes
    -----
    Evenly spread over the ranges of the tables `launch_trial` and `launch_settings`. The shaft
    is never shorter than the draw length and 1/2 in.
    """
    rows = table("launch_trial")
    places = even_places(rigs, len(rows) + 4, seed)
    value = {
        row["quantity"]: (float(row["low"]) + places[:, i] * (float(row["high"]) - float(row["low"])))
        for i, row in enumerate(rows)
    }  # fmt: skip
    of_table = dict(
        zip(
            ("draw_fullness", "hysteresis", "virtual_mass_kg", "string_mass_kg"),
            places[:, len(rows) :].T,
            strict=True,
        )
    )
    rig_settings = {name: spread(name, place)[:, None] for name, place in of_table.items()}
    column = {name: values[:, None] for name, values in value.items()}
    length = np.maximum(column["shaft_length"], column["draw_length"] + 0.5)
    arrow = LaunchArrow(
        length_m=length * INCH_M,
        stiffness_n_m2=1.0,
        mass_per_length_kg_m=column["shaft_mass"] * GRAIN_KG / INCH_M,
        front_kg=column["front_mass"] * GRAIN_KG,
        tail_kg=column["nock_mass"] * GRAIN_KG,
        fletching_kg=column["fletching_mass"] * GRAIN_KG,
        radius_m=column["shaft_radius"] * INCH_M,
    )
    force = column["draw_weight"] * POUND_FORCE_N
    stroke = power_stroke_m(column["draw_length"] * INCH_M, column["brace_height"] * INCH_M)
    bow = LaunchBow(
        draw_force_n=force,
        power_stroke_m=stroke,
        stored_energy_j=rig_settings["draw_fullness"] * force * stroke,
        virtual_mass_kg=rig_settings["virtual_mass_kg"],
        brace_height_m=column["brace_height"] * INCH_M,
        string_mass_kg=rig_settings["string_mass_kg"],
        plate_offset_m=column["plate_offset"] * INCH_M,
        hysteresis=rig_settings["hysteresis"],
    )
    # Draws differ from rig to rig too: one even filling of rigs x draws, dealt out.
    settings = draw_settings(
        rigs * draws, np.broadcast_to(force, (rigs, draws)).reshape(-1), seed=seed + 1
    )
    dealt = {name: np.reshape(v, (rigs, draws)) for name, v in vars(settings).items()}
    return arrow, bow, settings.changed(**dealt).changed(**given)
