"""What a rig file adds to a comparison: the virtual mass of that bow, and how its arrows drop."""

from __future__ import annotations

import math

import numpy as np

from shaftwright.errors import NoAnswer
from shaftwright.inference.demand import Demand
from shaftwright.inference.rig_facts import usual
from shaftwright.inference.speed import speed_model
from shaftwright.measure.use import Drop
from shaftwright.physics.air import Air
from shaftwright.physics.flight import Shot, drag_of, flight_table
from shaftwright.records.rig import Rig
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, YARD_M, Z95, Interval


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
    >>> from shaftwright.measure.use import vacuum_drop_in
    >>> 1 < drop_through_air(435)(171, 20) / vacuum_drop_in(171, 20) < 1.1
    True
    """
    drag = drag_of(2 * usual("shaft_radius_in", "reference") * INCH_M, "not_stated", "field")

    def drop_in(speed_fps: float, distance_yd: float) -> float:
        shot = Shot(speed_fps * FPS_M_S, mass_gr * GRAIN_KG, drag, Air.at())
        flown = flight_table(shot, np.array([distance_yd * YARD_M]))
        drop = float(np.ravel(flown.drop_m)[0]) / INCH_M
        if math.isnan(drop):
            raise NoAnswer(f"an arrow of {speed_fps:.0f} fps does not reach {distance_yd:g} yd")
        return drop

    return drop_in
