"""Chronograph readings sorted, and brought to the bow as it stands.

A reading is worth something for the bow at hand only after what differed is taken out: the way
the arrow had flown before the sensors, another draw, brace height or draw weight. Each of these
carries a doubt of its own. Readings that contradict each other or the bow are told, never
averaged away in silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array, Bools
from shaftwright.inference.evidence.periods import one_scale
from shaftwright.inference.rig_facts import brace_height_in, usual
from shaftwright.physics.bow import power_stroke_m, speed_at_brace, speed_at_stroke
from shaftwright.physics.bow_fit import grouped, pooled_spread, scale_sd
from shaftwright.physics.bow_speed import SpeedModel
from shaftwright.records.notebook import AnyEntry, Change, Chrono
from shaftwright.records.rig import Rig
from shaftwright.resources import constant
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, YARD_M, Z95


def chrono_now(entries: Sequence[AnyEntry]) -> list[Chrono]:
    """The chronograph readings that speak for the bow as it stands.

    Parameters
    ----------
    entries : sequence
        A notebook's entries in order.

    Returns
    -------
    list of Chrono
        Those since the last change, with an arrow mass, of the string shot last.
    """
    readings = [r for r in _since_change(entries) if r.arrow_mass_gr is not None]
    return [r for r in readings if string_of(r) == string_of(readings[-1])]


def left_out(entries: Sequence[AnyEntry]) -> tuple[str, ...]:
    """Why readings of a notebook are not used, a sentence for each reason.

    Parameters
    ----------
    entries : sequence
        A notebook's entries in order.

    Returns
    -------
    tuple of str
        Empty when every reading is used.
    """
    recent = _since_change(entries)
    weighed = [r for r in recent if r.arrow_mass_gr is not None]
    used = chrono_now(entries)
    counts = (
        (sum(isinstance(e, Chrono) for e in entries) - len(recent), "from before the last change"),
        (len(recent) - len(weighed), "without an arrow's weight"),
        (len(weighed) - len(used), "of another string than the one shot last"),
    )
    return tuple(
        f"{_readings(n)} {why} {'is' if n == 1 else 'are'} left out" for n, why in counts if n
    )


def string_of(reading: Chrono) -> str | None:
    """The label of the string a reading was shot with, if one was written."""
    if reading.string is None and reading.rig_state is not None:
        return reading.rig_state.string
    return reading.string


def _since_change(entries: Sequence[AnyEntry]) -> list[Chrono]:

    changes = [i for i, entry in enumerate(entries) if isinstance(entry, Change)]
    start = changes[-1] + 1 if changes else 0
    return [e for e in entries[start:] if isinstance(e, Chrono)]


def _readings(count: int) -> str:
    return "one chronograph reading" if count == 1 else f"{count} chronograph readings"


@dataclass(frozen=True, eq=False)
class Brought:
    """Readings as they would stand at the string of the bow as it is.

    Attributes
    ----------
    mass_gr, speed_fps : array (n,)
        Arrow masses [gr] and speeds [fps].
    carried_fps : float
        95 % half width that the corrections add, common to all [fps].
    warnings : tuple of str
        What was left out or does not fit.
    """

    mass_gr: Array
    speed_fps: Array
    carried_fps: float
    warnings: tuple[str, ...]

    @property
    def scale_sd(self) -> float:
        """Relative doubt that all readings share: of the chronograph's scale, and of bringing them."""
        return float(np.hypot(scale_sd(), self.carried_fps / Z95 / np.mean(self.speed_fps)))

    def spread(self) -> tuple[float, float]:
        """Spread of single readings of one mass, and the degrees of freedom behind it.

        Returns
        -------
        tuple of float
            Standard deviation [fps]; degrees of freedom, infinite where it is the table's.
        """
        groups, usual_sd = mass_groups(self.mass_gr), constant("chronograph", "shot_sd_fps")
        return pooled_spread(groups, self.speed_fps, usual_sd)

    def model(self, virtual_kg: float, virtual_sd_kg: float) -> SpeedModel:
        """The bow's speeds as these readings tell them, at a virtual mass and its doubt [kg]."""
        return SpeedModel.from_readings(
            self.mass_gr * GRAIN_KG, self.speed_fps * FPS_M_S, virtual_kg, virtual_sd_kg,
            shot_sd_m_s=self.spread()[0] * FPS_M_S, scale_sd=self.scale_sd,
        )  # fmt: skip


def mass_groups(mass_gr: Array) -> list[NDArray[np.intp]]:
    """Indices of the readings of each arrow mass, lightest first; under half a grain is one."""
    return grouped(mass_gr, 0.5)


def bring(rig: Rig, own_lb: float, readings: Sequence[Chrono]) -> Brought | None:
    """Bring readings to the string of the bow as it stands.

    Parameters
    ----------
    rig : Rig
        The bow as it stands.
    own_lb : float
        Its draw weight at the own draw [lb].
    readings : sequence of Chrono
        Readings with arrow masses.

    Returns
    -------
    Brought or None
        None when no reading is left.

    Notes
    -----
    Another draw: speed as the stroke. Another brace height: as the root of the stroke. Another
    draw weight of the same limbs: as the root of the weight. The way to the sensors: exponential
    loss by the drag of a fletched shaft of the reference diameter.
    """
    usable = [r for r in readings if r.arrow_mass_gr is not None]
    own = [r for r in usable if _same_limbs(rig, r)]
    warnings = []
    if len(own) < len(usable):
        warnings.append(f"{_readings(len(usable) - len(own))} left out: of other limbs")
    if not own:
        return None
    mass = np.array([r.arrow_mass_gr for r in own], dtype=float)
    read = np.array([r.speed_fps for r in own])
    at_string, flown = _before_flight(mass, read, [r.distance_yd or 0.0 for r in own])
    speed = at_string * np.array([_to_own_state(rig, own_lb, r) for r in own])
    carried = np.hypot(flown, constant("chronograph", "carry_doubt") * (speed - at_string))
    stray, told = _strays(mass, speed)
    mass, speed, carried = mass[~stray], speed[~stray], carried[~stray]
    sd = constant("chronograph", "shot_sd_fps")
    warnings += [*told, *heavier_faster(mass, speed, sd)]
    return Brought(mass, speed, float(np.mean(carried)), tuple(warnings))


def _same_limbs(rig: Rig, reading: Chrono) -> bool:
    state = reading.rig_state
    if state is None or state.limbs_id is None or rig.bow.limbs_id is None:
        return True
    return state.limbs_id == rig.bow.limbs_id


def _draw_and_brace_in(rig: Rig, reading: Chrono) -> tuple[float, float]:
    """Draw and brace height a reading was shot with [in]."""
    state = reading.rig_state
    brace = reading.brace_in or (state.brace_height_in if state else None) or brace_height_in(rig)
    return reading.draw_in or rig.archer.draw_length_in, brace


def _before_flight(mass_gr: Array, speed_fps: Array, yards: list[float]) -> tuple[Array, Array]:
    """Speed at the string, and the 95 % half width of what the drag took [fps]."""
    from shaftwright.physics.air import Air
    from shaftwright.physics.flight import drag_of

    distance = np.array(yards) * YARD_M
    if not np.any(distance > 0):
        return speed_fps, np.zeros_like(speed_fps)
    air, diameter = Air.at(), 2 * usual("shaft_radius_in", "reference") * INCH_M
    back = []
    for level in ("low", "mid", "high"):
        area = drag_of(diameter, "not_stated", "field", level).area_m2(speed_fps * FPS_M_S, air)
        loss = np.asarray(air.density_kg_m3) * area / (2 * mass_gr * GRAIN_KG)
        back.append(speed_fps * np.exp(loss * distance))
    low, mid, high = back
    return np.asarray(mid), np.asarray((high - low) / 2)


def _to_own_state(rig: Rig, own_lb: float, reading: Chrono) -> float:
    """Factor from the speed as shot to the bow as it stands."""
    own_draw, own_brace = rig.archer.draw_length_in, brace_height_in(rig)
    draw, brace = _draw_and_brace_in(rig, reading)
    state = reading.rig_state
    stated, here = (state.draw_weight if state else None), rig.bow.draw_weight
    weight = own_lb
    if stated is not None and stated.lb is not None:
        if stated.at == "own_draw":
            weight = stated.lb
        elif here.lb is not None and one_scale(stated, here):
            weight = own_lb * stated.lb / here.lb

    def stroke(draw_in: float, brace_in: float) -> Array:
        return power_stroke_m(draw_in * INCH_M, brace_in * INCH_M)

    factor = np.sqrt(own_lb / weight)
    factor = speed_at_stroke(factor, stroke(draw, brace), stroke(own_draw, brace))
    factor = speed_at_brace(factor, stroke(own_draw, brace), stroke(own_draw, own_brace))
    return float(factor)


def _strays(mass_gr: Array, speed_fps: Array) -> tuple[Bools, list[str]]:
    """Which readings stand far from at least three others of their mass, and words for each."""
    stray, told = np.zeros(mass_gr.size, dtype=bool), []
    for group in mass_groups(mass_gr):
        middle = median(speed_fps[group].tolist())
        away = np.abs(speed_fps[group] - middle)
        # the spread is by the median too, so that a stray does not hide behind itself
        spread = max(constant("chronograph", "shot_sd_fps"), 1.4826 * median(away.tolist()))
        for i in (
            group[away > constant("chronograph", "stray_sds") * spread] if group.size > 3 else ()
        ):
            stray[i] = True
            told.append(
                f"a chronograph reading of {speed_fps[i]:.0f} fps is left out: it stands far from "
                f"the others of {mass_gr[i]:.0f} gr ({middle:.0f} fps)"
            )
    return stray, told


def heavier_faster(
    mass_gr: Array, speed_fps: Array, shot_sd_fps: float, any_gain: bool = False
) -> list[str]:
    """Words for each heavier arrow that was faster than the next lighter one.

    Parameters
    ----------
    mass_gr, speed_fps : array (n,)
        Masses [gr] and speeds [fps] of the readings.
    shot_sd_fps : float
        Spread of single readings [fps].
    any_gain : bool
        Whether any gain is told, and what is past chance as plain; else only what is past chance.

    Returns
    -------
    list of str
        A sentence for each.
    """
    found = []
    for light, heavy in pairwise(mass_groups(mass_gr)):
        gain = float(speed_fps[heavy].mean() - speed_fps[light].mean())
        plain = bool(gain > Z95 * shot_sd_fps * np.sqrt(1 / light.size + 1 / heavy.size))
        if plain or (any_gain and gain > 0):
            found.append(
                f"{mass_gr[heavy].mean():.0f} gr was {'plainly ' * (plain and any_gain)}faster than "
                f"{mass_gr[light].mean():.0f} gr by {gain:.1f} fps: a heavier arrow cannot be, from the "
                "same draw"
            )
    return found
