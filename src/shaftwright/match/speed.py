"""Speed of a rig's arrows: typical of its kind, or as a chronograph measured it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shaftwright.match.demand import Demand
from shaftwright.match.rig_facts import SpeedReading, brace_height_in, usual
from shaftwright.mechanics.bow import Z95, power_stroke_m
from shaftwright.mechanics.bow_fit import chronograph, scale_sd
from shaftwright.mechanics.bow_speed import SpeedModel
from shaftwright.mechanics.bow_typical import typical_speed_fps, typical_speed_model, virtual_growth
from shaftwright.quantities import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N
from shaftwright.records.notebook import AnyEntry, Change, Chrono
from shaftwright.records.rig import Rig

Array = NDArray[np.float64]


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
    changes = [i for i, entry in enumerate(entries) if isinstance(entry, Change)]
    start = changes[-1] + 1 if changes else 0
    readings = [e for e in entries[start:] if isinstance(e, Chrono) and e.arrow_mass_gr is not None]
    return [r for r in readings if r.string == readings[-1].string]


def speed_reading(rig: Rig, own_lb: float, readings: Sequence[Chrono]) -> SpeedReading | None:
    """What the readings say against a laminated recurve of the same weight, draw and gr/lb.

    Parameters
    ----------
    rig : Rig
        For draw and brace height.
    own_lb : float
        Draw weight at the own draw [lb].
    readings : sequence of Chrono
        Readings of one setup, with arrow masses.

    Returns
    -------
    SpeedReading or None
        None without readings.
    """
    if not readings:
        return None
    excess, speeds = [], []
    for reading in readings:
        assert reading.arrow_mass_gr is not None
        draw = reading.draw_in or rig.archer.draw_length_in
        brace = reading.brace_in or brace_height_in(rig)
        typical = typical_speed_fps(reading.arrow_mass_gr / own_lb, draw, brace, own_lb)
        excess.append(reading.speed_fps - float(typical.mid))
        speeds.append(reading.speed_fps)
    count = len(speeds)
    spread = chronograph("shot_sd_fps")
    if count > chronograph("fewest_repeats"):
        spread = max(float(np.std(excess, ddof=1)), spread)
    doubt = Z95 * float(np.hypot(scale_sd() * float(np.mean(speeds)), spread / np.sqrt(count)))
    one = "one reading" if count == 1 else f"{count} readings"
    told = f"{one} of the chronograph, mean {np.mean(speeds):.1f} fps"
    return SpeedReading(float(np.mean(excess)), doubt, told)


def speed_model(rig: Rig, demand: Demand, readings: Sequence[Chrono] = ()) -> SpeedModel:
    """Speed of any arrow from this rig, with its range.

    Parameters
    ----------
    rig : Rig
        The rig.
    demand : Demand
        For the draw weight at the own draw and its doubt.
    readings : sequence of Chrono
        Readings of the bow as it stands; they replace the typical energy.

    Returns
    -------
    SpeedModel
        Ready for arrays of arrow masses.
    """
    kind, limbs = rig.bow.kind, rig.bow.limbs
    stroke = float(
        power_stroke_m(rig.archer.draw_length_in * INCH_M, brace_height_in(rig) * INCH_M)
    )
    weight_codes = {f.rule.code for f in demand.weight_rules.firings}
    variance = 0.0
    for column in demand.columns:
        if column.code in weight_codes:
            variance += (float(column.x) * (column.below + column.above) / 2) ** 2
    mass = rig.string.mass_gr
    position = rig.string.silencer_position
    model = typical_speed_model(
        kind, limbs, demand.own_lb * POUND_FORCE_N, stroke,
        draw_force_sd_n=float(np.sqrt(variance)) * POUND_FORCE_N,
        string_kg=None if mass is None else mass * GRAIN_KG,
        silencers_kg=(rig.string.silencers_gr or 0.0) * GRAIN_KG,
        silencer_position=usual("silencer_position") if position is None else position,
    )  # fmt: skip
    if not readings:
        return model
    masses = [r.arrow_mass_gr for r in readings if r.arrow_mass_gr is not None]
    return SpeedModel.from_readings(
        np.array(masses) * GRAIN_KG,
        np.array([r.speed_fps for r in readings if r.arrow_mass_gr is not None]) * FPS_M_S,
        model.virtual_kg, model.virtual_sd_kg,
        shot_sd_m_s=chronograph("shot_sd_fps") * FPS_M_S, scale_sd=scale_sd(),
        growth=virtual_growth(),
    )  # fmt: skip


def speeds_fps(model: SpeedModel, total_gr: Array) -> tuple[Array, Array, Array]:
    """Low, middle and high speed of arrows.

    Parameters
    ----------
    model : SpeedModel
        Of one rig.
    total_gr : array (n,)
        Arrow masses [gr].

    Returns
    -------
    tuple of array (n,)
        95 % range and middle [fps].
    """
    low, mid, high = (np.asarray(v) / FPS_M_S for v in model.speed(np.asarray(total_gr) * GRAIN_KG))
    return low, mid, high
