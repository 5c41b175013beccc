"""Speed of a rig's arrows: typical of its kind, or as a draw curve and a chronograph measured it.

What is known better takes the place of what is typical: a stated virtual mass, energy a pound or
hysteresis (the rig's `launch`), the energy under a measured draw curve, and above all readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import InputError
from shaftwright.inference.demand import Demand
from shaftwright.inference.rig_facts import (
    SpeedReading,
    brace_height_in,
    silencers,
    stated_weight_lb,
    string_mass_gr,
)
from shaftwright.physics.bow import GRIP_ALLOWANCE_M, curve_energy_j, power_stroke_m
from shaftwright.physics.bow_speed import (
    SpeedModel,
    typical,
    typical_energy_j,
    typical_speed_fps,
    typical_virtual_kg,
)
from shaftwright.records.notebook import Chrono
from shaftwright.records.rig import Rig
from shaftwright.resources import constant, interval
from shaftwright.units import FOOT_POUND_J, FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N, Z95, Interval

if TYPE_CHECKING:
    from shaftwright.inference.chrono import Brought


def speed_reading(rig: Rig, own_lb: float, readings: Sequence[Chrono]) -> SpeedReading | None:
    """What the readings say against the usual bow of the same kind, weight, draw and gr/lb.

    Parameters
    ----------
    rig : Rig
        For draw, brace height and limbs.
    own_lb : float
        Draw weight at the own draw [lb].
    readings : sequence of Chrono
        Readings of one setup.

    Returns
    -------
    SpeedReading or None
        None without usable readings.

    Notes
    -----
    The reference class keeps its typical energy even where this bow's own draw curve was
    measured: what the bow stores above the class is part of what the excess is there to tell.
    """
    # what only a chronograph needs is loaded where one spoke: most commands start without
    from shaftwright.inference.chrono import bring

    brought = bring(rig, own_lb, readings)
    if brought is None:
        return None
    reference = typical_speed_fps(
        brought.mass_gr / own_lb, rig.archer.draw_length_in, brace_height_in(rig), own_lb,
        "recurve" if rig.bow.kind == "unknown" else rig.bow.kind,
    )  # fmt: skip
    # the reference is shot as this bow is
    excess = brought.speed_fps - reference.mid * float(np.sqrt(1 - _loose(rig).mean))
    count, mean = len(excess), float(np.mean(brought.speed_fps))
    spread, freedom = brought.spread()
    shots = student_t95(freedom) * spread / np.sqrt(count)
    doubt = float(np.hypot(Z95 * brought.scale_sd * mean, shots))
    one = "one reading" if count == 1 else f"{count} readings"
    told = f"{one} of the chronograph, mean {mean:.1f} fps"
    warnings = (*brought.warnings, *_against_the_bow(rig, own_lb, brought, doubt))
    return SpeedReading(float(np.mean(excess)), doubt, told, warnings)


def student_t95(freedom: float) -> float:
    """Two-sided 95 % quantile of Student's t.

    Parameters
    ----------
    freedom : float
        Degrees of freedom, 3 or more; infinite for the normal [-].

    Returns
    -------
    float
        Within 1 % of the exact value, by the expansion about the normal.

    References
    ----------
    1. Abramowitz, M. and Stegun, I. A. (1964), Handbook of Mathematical Functions, 26.7.5.
    """
    z, n = Z95, freedom
    first, second = (z**3 + z) / (4 * n), (5 * z**5 + 16 * z**3 + 3 * z) / (96 * n**2)
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / (384 * n**3)
    return float(z + first + second + third)


def _against_the_bow(rig: Rig, own_lb: float, brought: Brought, doubt_fps: float) -> list[str]:
    """What the readings contradict: the energy the bow stores, or what is usual for it."""
    kinetic = brought.mass_gr * GRAIN_KG * (brought.speed_fps * FPS_M_S) ** 2 / 2
    stored = stored_energy_j(rig, own_lb)
    if stored is not None:
        limit, whose = stored[0] + Z95 * stored[1], "the bow stores by what was measured"
    else:
        quality = typical(rig.bow.kind, rig.bow.limbs).quality
        limit = quality.high * own_lb * POUND_FORCE_N * stroke_m(rig)
        whose = "even a good bow of this kind stores"
    if float(kinetic.max()) > limit:
        return [
            f"an arrow of {brought.mass_gr[kinetic.argmax()]:.0f} gr at "
            f"{brought.speed_fps[kinetic.argmax()]:.0f} fps carries {kinetic.max() / FOOT_POUND_J:.1f} "
            f"ft-lb, more than the {limit / FOOT_POUND_J:.1f} ft-lb {whose}: check speed, the arrow's "
            "weight and the draw weight"
        ]
    mass, mean = float(np.mean(brought.mass_gr)), float(np.mean(brought.speed_fps))
    _, mid, high = speeds_fps(before_readings(rig, own_lb, 0.0), np.array([mass]))

    sds = constant("chronograph", "far_from_usual_sds")
    width = float(np.hypot((high[0] - mid[0]) / Z95, doubt_fps / Z95)) * sds
    if abs(mean - mid[0]) > width:
        side = "faster" if mean > mid[0] else "slower"
        return [
            f"{mean:.0f} fps is far {side} than the {mid[0]:.0f} fps usual for such a bow with "
            f"{mass:.0f} gr: check the arrow's weight, the draw weight and the chronograph"
        ]
    return []


def stored_energy_j(
    rig: Rig, own_lb: float, own_sd_lb: float = 0.0
) -> tuple[float, float] | None:  # fmt: skip
    """Energy stored at full draw where it was measured.

    Parameters
    ----------
    rig : Rig
        Its `launch.energy_per_lb`, else its draw curve.
    own_lb, own_sd_lb : float
        Draw weight at the own draw and its doubt [lb].

    Returns
    -------
    tuple of float or None
        Energy and standard deviation [J]; None where neither was measured.

    Raises
    ------
    InputError
        A draw curve with a pull before the string has left brace.
    """
    if rig.launch is not None and rig.launch.energy_per_lb is not None:
        energy = rig.launch.energy_per_lb * own_lb * FOOT_POUND_J
        return energy, energy * own_sd_lb / own_lb
    points = rig.bow.draw_weight.curve
    if points is None:
        return None
    brace = _brace_of_curve_in(rig)
    start = brace + GRIP_ALLOWANCE_M / INCH_M
    past = [point for point in points if point[0] > start + 1e-9]
    own_draw = rig.archer.draw_length_in
    if own_draw > points[-1][0]:
        past.append((own_draw, stated_weight_lb(rig)))
    if len(past) < 2 or any(lb > 0 for draw, lb in points if draw <= start - 0.25):
        problem = f"needs two points beyond brace ({start:.2f} in of draw), and no pull before it"
        raise InputError.of(rig.name, problem, None, "bow.draw_weight.curve")
    draws, pulls = np.array(past).T
    return curve_energy_j(
        draws * INCH_M, pulls * POUND_FORCE_N, brace * INCH_M, own_draw * INCH_M,
        force_sd_n=own_sd_lb * POUND_FORCE_N, scale_sd=own_sd_lb / own_lb,
    )  # fmt: skip


def _brace_of_curve_in(rig: Rig) -> float:
    """Brace height as stated; where unknown, from a point of the curve without a pull [in]."""
    slack = [draw for draw, lb in rig.bow.draw_weight.curve or () if lb == 0]
    if slack and not isinstance(rig.bow.brace_height_in, float):
        return float(slack[-1] - GRIP_ALLOWANCE_M / INCH_M)
    return brace_height_in(rig)


def stroke_m(rig: Rig) -> float:
    """Power stroke of a rig [m]."""
    return float(power_stroke_m(rig.archer.draw_length_in * INCH_M, brace_height_in(rig) * INCH_M))


def _virtual_kg(rig: Rig, own_lb: float) -> tuple[float, float]:
    """Virtual mass as stated, else usual, and its doubt [kg]."""
    if rig.launch is not None and rig.launch.virtual_mass_gr is not None:
        return rig.launch.virtual_mass_gr * GRAIN_KG, 0.0
    pair_gr, place = silencers(rig)
    return typical_virtual_kg(
        rig.bow.kind, rig.bow.limbs, own_lb * POUND_FORCE_N,
        string_mass_gr(rig) * GRAIN_KG, pair_gr * GRAIN_KG, place,
    )  # fmt: skip


def _loose(rig: Rig) -> Interval:
    """Share of the energy that the loose takes; nothing of it with a mechanical release."""
    if rig.archer.release == "mechanical":
        return Interval(0.0, 0.0, 0.0)
    return interval("rig_usual", "finger_loss", "any")


def less_the_loose(rig: Rig, model: SpeedModel) -> SpeedModel:
    """The speed model of a bow shot as its archer shoots: by fingers, less what they take.

    Parameters
    ----------
    rig : Rig
        For the release.
    model : SpeedModel
        Of the bow by itself.

    Returns
    -------
    SpeedModel
        With the loose's doubt in the energy's.
    """
    loose = _loose(rig)
    kept = 1 - loose.mean
    sd = float(np.hypot(model.energy_sd_j * kept, model.energy_j * loose.sd))
    return replace(model, energy_j=model.energy_j * kept, energy_sd_j=sd)


def before_readings(rig: Rig, own_lb: float, own_sd_lb: float) -> SpeedModel:
    """Speed model from kind, draw curve and what the rig states, no reading used.

    Parameters
    ----------
    rig : Rig
        The bow.
    own_lb, own_sd_lb : float
        Draw weight at the own draw and its doubt [lb].

    Returns
    -------
    SpeedModel
        Less what a release by fingers loses.
    """
    virtual = _virtual_kg(rig, own_lb)
    loss = typical(rig.bow.kind, rig.bow.limbs).hysteresis
    lost, lost_sd = loss.mean, loss.sd
    if rig.launch is not None and rig.launch.hysteresis is not None:
        lost, lost_sd = rig.launch.hysteresis, 0.0
    stored = stored_energy_j(rig, own_lb, own_sd_lb)
    if stored is None:
        energy, energy_sd = typical_energy_j(
            rig.bow.kind, rig.bow.limbs, own_lb * POUND_FORCE_N, stroke_m(rig), own_sd_lb * POUND_FORCE_N
        )  # fmt: skip
        relative = (energy_sd / energy) ** 2
        relative += (lost_sd / (1 - lost)) ** 2 - (loss.sd / (1 - loss.mean)) ** 2
        energy *= (1 - lost) / (1 - loss.mean)
    else:
        energy = stored[0] * (1 - lost)
        relative = (stored[1] / stored[0]) ** 2 + (lost_sd / (1 - lost)) ** 2
    model = SpeedModel(energy, energy * float(np.sqrt(max(relative, 0.0))), *virtual)
    return less_the_loose(rig, model)


def weight_sd_lb(demand: Demand) -> float:
    """Standard deviation of the draw weight at the own draw [lb]."""
    codes = {f.rule.code for f in demand.weight_rules.firings}
    own = [c for c in demand.columns if c.code in codes]
    return float(np.sqrt(sum((float(c.x) * (c.below + c.above) / 2) ** 2 for c in own)))


def speed_model(rig: Rig, demand: Demand, readings: Sequence[Chrono] = ()) -> SpeedModel:
    """Speed of any arrow from this rig, with its range.

    Parameters
    ----------
    rig : Rig
        Kind, string, and whatever it states of curve or `launch`.
    demand : Demand
        For the draw weight at the own draw and its doubt.
    readings : sequence of Chrono
        Readings of the bow as it stands; they replace the typical energy.

    Returns
    -------
    SpeedModel
        Ready for arrays of arrow masses.

    Notes
    -----
    Where the energy was measured too, readings and energy are weighed together, and the virtual
    mass with them: the better known of the three teaches the others.
    """
    own_sd = weight_sd_lb(demand)
    before = before_readings(rig, demand.own_lb, own_sd)
    if not readings:
        return before
    from shaftwright.inference.chrono import bring

    brought = bring(rig, demand.own_lb, readings)
    if brought is None:
        return before
    read = brought.model(before.virtual_kg, before.virtual_sd_kg)
    if stored_energy_j(rig, demand.own_lb) is None:
        return read
    return _weighed_together(read, before)


def _weighed_together(read: SpeedModel, before: SpeedModel) -> SpeedModel:
    """Readings and a measured energy as one: the readings' energy and virtual mass, pulled to it.

    The readings alone give energy and virtual mass as a correlated pair; the measured energy is
    one more reading of the first of the two.
    """
    variance = read.energy_sd_j**2
    gain = variance / (variance + before.energy_sd_j**2)
    shift = before.energy_j - read.energy_j
    lean = read.correlation * read.virtual_sd_kg / read.energy_sd_j
    virtual = read.virtual_kg + lean * gain * shift
    if virtual <= 0:  # the readings contradict the energy: they win, and a warning says so
        return read
    energy_sd = read.energy_sd_j * float(np.sqrt(1 - gain))
    virtual_variance = read.virtual_sd_kg**2 * (1 - read.correlation**2 * gain)
    shared = read.correlation * read.energy_sd_j * read.virtual_sd_kg * (1 - gain)
    virtual_sd = float(np.sqrt(max(virtual_variance, 0.0)))
    product = energy_sd * virtual_sd
    return SpeedModel(
        read.energy_j + gain * shift, energy_sd, virtual, virtual_sd,
        shared / product if product > 0 else 0.0, read.reference_kg, read.growth,
    )  # fmt: skip


def speeds_fps(model: SpeedModel, total_gr: Array) -> tuple[Array, Array, Array]:
    """Low, middle and high speed of arrows.

    Parameters
    ----------
    model : SpeedModel
        Of one rig.
    total_gr : array (n,)
        Masses of whole arrows [gr].

    Returns
    -------
    tuple of array (n,)
        95 % range and middle [fps].
    """
    low, mid, high = (np.asarray(v) / FPS_M_S for v in model.speed(np.asarray(total_gr) * GRAIN_KG))
    return low, mid, high
