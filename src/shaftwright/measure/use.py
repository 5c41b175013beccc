"""What a difference of speed means at the butt of this bow, and kinds of values that measuring shares."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.inference.demand import Demand
from shaftwright.inference.speed import speed_model
from shaftwright.physics.air import Air
from shaftwright.physics.flight import Shot, aimed, drag_of
from shaftwright.records.rig import Rig
from shaftwright.resources import measuring, usual
from shaftwright.result import Result
from shaftwright.units import (
    FPS_M_S,
    GRAIN_KG,
    GRAVITY_M_S2,
    INCH_M,
    YARD_M,
    Z95,
    Interval,
    convert,
    distance_told,
)

Rows = list[dict[Any, Any]]


@dataclass(frozen=True)
class Between(Result):
    """A range without a middle."""

    low: float
    high: float


def log_normal(doubt: Interval, z: Array) -> Array:
    """Values so many standard deviations of the logarithm from the median.

    Parameters
    ----------
    doubt : Interval
        Median and 95 % range of a positive quantity [any unit].
    z : array, shape (n,)
        Standard scores.

    Returns
    -------
    array, shape (n,)
        In the unit of the doubt.
    """
    return np.asarray(doubt.mid * np.exp(z * doubt.log_sd), dtype=float)


Drop = Callable[[float, float], float]


@dataclass(frozen=True)
class InUse(Result):
    """What a difference of speed is worth: inches at the butt, arrows, and draw."""

    drop_difference_in: float
    distance_yd: float
    energy_pct: float
    same_arrows: bool
    half_inch_of_draw_fps: float
    text: str


def vacuum_drop_in(speed_fps: float, distance_yd: float) -> float:
    """Fall below the line of departure, without air.

    Parameters
    ----------
    speed_fps : float
        Speed [fps].
    distance_yd : float
        Distance [yd].

    Returns
    -------
    float
        Drop [in].

    Notes
    -----
    Air adds a few hundredths of it at hunting distances; the difference of two drops it hardly
    touches.

    Examples
    --------
    >>> round(vacuum_drop_in(171, 20), 1)
    23.8
    """
    time = distance_yd * YARD_M / (speed_fps * FPS_M_S)
    return 0.5 * GRAVITY_M_S2 * time**2 / INCH_M


def drop_through_air(mass_gr: float) -> Drop:
    """Drop of a fletched arrow of the reference diameter, air included.

    Parameters
    ----------
    mass_gr : float
        Mass of the arrow [gr].

    Returns
    -------
    callable
        Drop [in] from speed [fps] and distance [yd]; NoAnswer where it does not arrive.

    Examples
    --------
    >>> 1 < drop_through_air(435)(171, 20) / vacuum_drop_in(171, 20) < 1.1
    True
    """
    drag = drag_of(2 * usual("shaft_radius_in", "reference") * INCH_M, "not_stated", "field")

    def drop_in(speed_fps: float, distance_yd: float) -> float:
        shot = Shot(speed_fps * FPS_M_S, mass_gr * GRAIN_KG, drag, Air.at())
        drop = float(aimed(shot, distance_yd * YARD_M)[0]) / INCH_M
        if math.isnan(drop):
            raise NoAnswer(f"an arrow of {speed_fps:.0f} fps does not reach {distance_yd:g} yd")
        return drop

    return drop_in


def virtual_mass_gr(rig: Rig, demand: Demand) -> Interval:
    """Virtual mass of a bow before any reading, as a log-normal of the same mean and spread.

    Parameters
    ----------
    rig : Rig
        The rig: its kind, draw weight and string, or what its `launch` states.
    demand : Demand
        For the draw weight at the own draw.

    Returns
    -------
    Interval
        Median and 95 % range [gr].
    """
    model = speed_model(rig, demand)
    mean, sd = model.virtual_kg / GRAIN_KG, model.virtual_sd_kg / GRAIN_KG
    # a stated virtual mass has no doubt of its own; half a percent keeps the logarithms apart
    log_sd = max(math.sqrt(math.log1p((sd / mean) ** 2)), 0.005)
    median = mean * math.exp(-(log_sd**2) / 2)
    return Interval(median, median * math.exp(-Z95 * log_sd), median * math.exp(Z95 * log_sd))


def correct_speed(
    speed_fps: ArrayLike, mass_gr: ArrayLike, to_mass_gr: float, virtual_mass_gr: float
) -> Array:
    """Speed the same bow would give another arrow mass: v = sqrt(2 E / (m + K)).

    Parameters
    ----------
    speed_fps : float or array
        Measured speeds [fps].
    mass_gr : float or array
        Masses they were shot with [gr].
    to_mass_gr : float
        The common mass [gr].
    virtual_mass_gr : float
        Virtual mass K [gr].

    Returns
    -------
    float or array
        Speeds at the common mass [fps].

    Examples
    --------
    >>> round(float(correct_speed(170, 500, 300, 238)), 1)
    199.1
    """
    ratio = (np.asarray(mass_gr, dtype=float) + virtual_mass_gr) / (to_mass_gr + virtual_mass_gr)
    return np.asarray(np.asarray(speed_fps, dtype=float) * np.sqrt(ratio), dtype=float)


def in_use(
    difference_fps: float,
    speed_fps: float,
    distance_yd: float = 20.0,
    drop_in: Drop = vacuum_drop_in,
    units: str = "imperial",
) -> InUse:
    """What a difference of speed is worth: inches at the butt, arrows, and draw.

    Parameters
    ----------
    difference_fps : float
        Difference of the two speeds [fps]; its sign does not matter.
    speed_fps : float
        Their middle [fps].
    distance_yd : float
        Distance to the butt [yd].
    drop_in : callable
        Drop [in] from speed [fps] and distance [yd].
    units : str
        `imperial` or `metric`, for the line of text.

    Returns
    -------
    InUse
        With a line of text.

    Examples
    --------
    >>> in_use(2, 171).text
    '2 fps: 0.6 in at 20 yd, no new arrows; half an inch of draw is worth 4 fps'
    >>> in_use(2, 171, units="metric").text
    '2 fps: 1.4 cm at 18 m, no new arrows; 13 mm of draw is worth 4 fps'
    """
    size = min(abs(difference_fps), 0.9 * speed_fps)
    inches = drop_in(speed_fps - size / 2, distance_yd) - drop_in(speed_fps + size / 2, distance_yd)
    energy_pct = 200 * size / speed_fps
    same = energy_pct <= measuring("same_arrows_energy_pct")
    draw = measuring("stroke_fps_pct_per_in") / 100 * measuring("half_draw_in") * speed_fps
    arrows = "no new arrows" if same else "shoot the bare shafts again"
    lower, longer = f"{inches:.1f} in at {distance_yd:g} yd", "half an inch"
    if units == "metric":
        lower = f"{convert(inches, 'in', 'cm'):.1f} cm at {distance_told(distance_yd, units)}"
        longer = f"{convert(measuring('half_draw_in'), 'in', 'mm'):.0f} mm"
    text = f"{size:.2g} fps: {lower}, {arrows}; {longer} of draw is worth {draw:.0f} fps"
    return InUse(inches, distance_yd, energy_pct, same, draw, text)
