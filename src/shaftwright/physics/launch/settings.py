"""The launch's unmeasured settings: middles, ranges, draws; and random plausible rigs for trials."""

from __future__ import annotations

from dataclasses import fields
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.physics.bow import power_stroke_m
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow, LaunchSettings, Rig
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N

_REFERENCE: Final = "reference_draw_force_n"
#: settings of a computed bow, drawn apart: the others' draws are the same under every law
_OF_LIMBS: Final = ("limb_inertia_kg_m2", "string_stretch_n", "half_string_share")
#: how the string's sideways stiffness comes about: settings held for each law
LAWS: Final = {
    "even": {"computed": 0.0, "string_rise": 1.0},
    "late": {"computed": 0.0, "string_rise": 2.0},
    "computed": {"computed": 1.0},
}


@cache
def setting_ranges() -> dict[str, tuple[float, float, float]]:
    """Low, middle and high of every row of the table of launch settings, in its own unit.

    Returns
    -------
    dict
        Name to (low, middle, high).

    Examples
    --------
    >>> setting_ranges()["side_fraction"]
    (0.03, 0.065, 0.1)
    """
    return {
        row["setting"]: (float(row["low"]), float(row["middle"]), float(row["high"]))
        for row in table("launch_settings")
    }


def _settings(values: dict[str, ArrayLike], draw_force_n: ArrayLike) -> LaunchSettings:
    scale = np.asarray(draw_force_n, float) / setting_ranges()[_REFERENCE][1]
    of_force = {r["setting"] for r in table("launch_settings") if r["scales_with"] == "draw_force"}
    scaled = {k: np.asarray(v) * scale if k in of_force else v for k, v in values.items()}
    return LaunchSettings(**scaled)


def middle_settings(draw_force_n: ArrayLike, **given: ArrayLike) -> LaunchSettings:
    """The most likely settings of a bow.

    Parameters
    ----------
    draw_force_n : array_like
        Force at the archer's own draw, with which the string's stiffness grows [N].
    **given : array_like
        Settings known better, taken as they are (not scaled), by field name of `LaunchSettings`.

    Returns
    -------
    LaunchSettings
        One value a field, or of the force's shape.
    """
    ranges = setting_ranges()
    names = [f.name for f in fields(LaunchSettings)]
    return _settings({k: ranges[k][1] for k in names}, draw_force_n).changed(**given)


def spread(name: str, place: ArrayLike) -> Array:
    """A setting at a place of its range: 0 low, 1/2 middle, 1 high, straight between.

    Parameters
    ----------
    name : str
        A row of the table.
    place : array_like
        Place in the range, 0 to 1.

    Returns
    -------
    ndarray
        Values in the table's unit.
    """
    values: Array = np.interp(np.asarray(place, float), (0.0, 0.5, 1.0), setting_ranges()[name])
    return values


def even_places(count: int, columns: int, seed: int) -> Array:
    """Random places in the unit cube with every column evenly filled (Latin hypercube).

    Parameters
    ----------
    count, columns : int
        Rows and columns.
    seed : int
        Seed of the generator.

    Returns
    -------
    ndarray, shape (count, columns)
        Places, 0 to 1.

    References
    ----------
    .. [1] M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239.
    """
    random = np.random.default_rng(seed)
    rows = np.argsort(random.random((count, columns)), axis=0)
    return (rows + random.random((count, columns))) / count


def draw_settings(
    count: int, draw_force_n: ArrayLike, *, seed: int = 20, **given: ArrayLike
) -> LaunchSettings:
    """Settings drawn from their ranges, independently of each other.

    Parameters
    ----------
    count : int
        Draws.
    draw_force_n : array_like
        A number, or an array whose last axis has `count` entries [N].
    seed : int
        The same seed gives the same places in the ranges.
    **given : array_like
        Settings known better, held at what is given (not scaled).

    Returns
    -------
    LaunchSettings
        Fields of shape (count,), or of the force's.
    """
    names = [f.name for f in fields(LaunchSettings) if f.name not in (*_OF_LIMBS, "computed")]
    values: dict[str, ArrayLike] = {"computed": spread("computed", np.full(count, 0.5))}
    for some, own_seed in ((names, seed), (_OF_LIMBS, seed + 1000)):
        places = even_places(count, len(some), own_seed)
        values |= {k: spread(k, places[:, i]) for i, k in enumerate(some)}
    return _settings(values, draw_force_n).changed(**given)


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
    of_table = ("draw_fullness", "hysteresis", "virtual_mass_kg", "string_mass_kg")
    rest = zip(of_table, places[:, len(rows) :].T, strict=True)
    rig_settings = {name: spread(name, place)[:, None] for name, place in rest}
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
