"""What is usual for a kind of bow when only its weight is known: energy, virtual mass, speed.

Values and ranges are rows of `tables/energy_per_lb.csv` and `tables/virtual_mass.csv`; nothing
about the trade is written here.
"""

from __future__ import annotations

from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.physics.bow.bow import Range, power_stroke_m, string_virtual_mass_kg
from shaftwright.physics.bow.speed import SpeedModel
from shaftwright.resources import interval, table
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N, Interval

UNKNOWN: Final = "unknown"


class Typical(NamedTuple):
    """What is usual for one kind of bow and limb class.

    Attributes
    ----------
    quality : Interval
        Stored energy over draw force times power stroke [-].
    hysteresis : Interval
        Share of it lost inside the limbs [-].
    limbs_kg_per_n : Interval
        Virtual mass of the limbs per draw force [kg/N].
    """

    quality: Interval
    hysteresis: Interval
    limbs_kg_per_n: Interval


@cache
def typical(kind: str, limbs: str) -> Typical:
    """Usual values for a kind of bow and a limb class.

    Parameters
    ----------
    kind : str
        selfbow, longbow, hybrid, recurve, or unknown.
    limbs : str
        standard, high_performance, deep_curve, or unknown.

    Returns
    -------
    Typical
        The table's row; for an unknown, or a class that the kind does not come in, the span of
        all rows that may be meant, its middle the mean of theirs.

    Raises
    ------
    ValueError
        A kind that is not in the table.
    """
    energy = table("energy_per_lb")
    mass = [row for row in table("virtual_mass") if row["part"] == "limbs"]
    keys = [(row["kind"], row["limbs"]) for row in energy]
    of_kind = [key for key in keys if kind in (key[0], UNKNOWN)]
    if not of_kind:
        kinds = dict.fromkeys(key[0] for key in keys)
        raise ValueError(f"no kind of bow {kind!r}; the table has {' '.join(kinds)}")
    meant = [key for key in of_kind if key[1] == limbs] or of_kind
    rows = [row for row in energy if (row["kind"], row["limbs"]) in meant]
    masses = [row for row in mass if (row["kind"], row["limbs"]) in meant]
    per_n = GRAIN_KG / POUND_FORCE_N
    return Typical(_span(rows, "quality_"), _span(rows, "hysteresis_"), _span(masses, "", per_n))


def _span(rows: list[dict[str, str]], prefix: str, factor: float = 1.0) -> Interval:
    low, mid, high = ([float(row[prefix + end]) for row in rows] for end in ("low", "mid", "high"))
    return Interval(sum(mid) / len(mid) * factor, min(low) * factor, max(high) * factor)


@cache
def usual_string_kg() -> Interval:
    """Mass of the reference class's string: polyester, not weighed."""
    return interval("rig_usual", "string_mass_gr", "polyester").scaled(GRAIN_KG)


def typical_virtual_kg(
    kind: str,
    limbs: str,
    draw_force_n: float,
    string_kg: float | None = None,
    silencers_kg: float = 0.0,
    silencer_position: float = 0.25,
) -> tuple[float, float]:
    """Usual virtual mass of limbs and string, and its doubt.

    Parameters
    ----------
    kind, limbs : str
        See `typical`.
    draw_force_n : float
        Draw force at the archer's own draw; the limbs' virtual mass grows with it [N].
    string_kg : float, optional
        Mass of the string, that of a usual polyester one when absent [kg].
    silencers_kg, silencer_position : float
        Mass of the pair [kg], and fraction of the half string from the limb tip [-].

    Returns
    -------
    tuple of float
        Mean and standard deviation [kg].
    """
    per_n = typical(kind, limbs).limbs_kg_per_n
    string = usual_string_kg() if string_kg is None else Interval(string_kg, string_kg, string_kg)
    added = float(string_virtual_mass_kg(string.mean, silencers_kg, silencer_position))
    mean = per_n.mean * draw_force_n + added
    return mean, float(np.hypot(per_n.sd * draw_force_n, string.sd / 3))


def typical_energy_j(
    kind: str, limbs: str, draw_force_n: float, stroke_m: float, draw_force_sd_n: float = 0.0
) -> tuple[float, float]:
    """Usual energy that reaches arrow and moving parts, and its doubt.

    Parameters
    ----------
    kind, limbs : str
        See `typical`.
    draw_force_n : float
        Draw force at the archer's own draw [N].
    stroke_m : float
        Power stroke [m].
    draw_force_sd_n : float
        Doubt of the draw force [N].

    Returns
    -------
    tuple of float
        Mean and standard deviation: stored energy q F d less the limbs' hysteresis [J].
    """
    quality, hysteresis = typical(kind, limbs)[:2]
    kept = 1 - hysteresis.mean
    energy = quality.mean * kept * draw_force_n * stroke_m
    relative = (
        (quality.sd / quality.mean) ** 2
        + (hysteresis.sd / kept) ** 2
        + (draw_force_sd_n / draw_force_n) ** 2
    )
    return energy, energy * float(np.sqrt(relative))


def typical_speed_model(
    kind: str,
    limbs: str,
    draw_force_n: float,
    stroke_m: float,
    *,
    string_kg: float | None = None,
    silencers_kg: float = 0.0,
    silencer_position: float = 0.25,
) -> SpeedModel:
    """Speed model of a bow of which only kind, weight and stroke are known.

    Parameters
    ----------
    kind, limbs : str
        See `typical`; each may be unknown.
    draw_force_n, stroke_m : float
        Draw force at the archer's own draw [N] and power stroke [m].
    string_kg : float, optional
        Mass of the string, usual when absent [kg].
    silencers_kg, silencer_position : float
        Mass of the pair [kg], and fraction of the half string from the limb tip [-].

    Returns
    -------
    SpeedModel
        With the range from bow to bow of that kind.
    """
    energy = typical_energy_j(kind, limbs, draw_force_n, stroke_m)
    virtual = typical_virtual_kg(
        kind, limbs, draw_force_n, string_kg, silencers_kg, silencer_position
    )
    return SpeedModel(*energy, *virtual)


def typical_speed_fps(
    gr_per_lb: ArrayLike,
    draw_length_in: float,
    brace_height_in: float,
    draw_weight_lb: float,
    kind: str = "recurve",
    limbs: str = "standard",
) -> Range:
    """Usual speed of the reference class: a laminated recurve with a polyester string, not let go by fingers.

    Parameters
    ----------
    gr_per_lb : array_like
        Arrow mass over draw weight [gr/lb].
    draw_length_in, brace_height_in : float
        Draw length (to the grip throat plus 1 3/4 in) and brace height [in].
    draw_weight_lb : float
        Draw weight at that draw length [lb].
    kind, limbs : str
        Another class, to compare with.

    Returns
    -------
    Range
        Low, mid and high speed, 95 % from bow to bow [fps].

    Examples
    --------
    >>> [round(float(v)) for v in typical_speed_fps(10, 28, 7.5, 45)]
    [167, 176, 185]
    """
    stroke = float(power_stroke_m(draw_length_in * INCH_M, brace_height_in * INCH_M))
    model = typical_speed_model(kind, limbs, draw_weight_lb * POUND_FORCE_N, stroke)
    speed = model.speed(np.asarray(gr_per_lb, float) * draw_weight_lb * GRAIN_KG)
    return Range(*(np.asarray(v / FPS_M_S) for v in speed))
