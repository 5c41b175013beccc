"""The bow as a store of energy: draw curve, virtual mass, speed, what string and stroke do to them.

All speeds follow from one balance, E = (m + K) v^2 / 2: E the energy that reaches arrow and
moving parts, m the arrow, K the bow's virtual mass, which includes a third of the string's.
What is usual for a kind of bow is in `typical`; readings are fitted in `fit`.

References
----------
1. Klopsteg, P. E. (1943), Physics of bows and arrows, Am. J. Phys. 11 (virtual mass).
2. Hickman, C. N., in Archery: The Technical Side (1947) (a third of the string's mass).
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.resources import usual
from shaftwright.units import INCH_M

#: Draw length is told to the grip throat and so much beyond it (tables/rig_usual.csv).
GRIP_ALLOWANCE_M: Final = usual("grip_allowance_in") * INCH_M


class Range(NamedTuple):
    """A value and its 95 % range; arrays of one shape."""

    low: Array
    mid: Array
    high: Array


def power_stroke_m(draw_length_m: ArrayLike, brace_height_m: ArrayLike) -> Array:
    """Distance over which the string pushes the arrow.

    Parameters
    ----------
    draw_length_m, brace_height_m : array_like
        Draw length to the grip throat plus 1 3/4 in, and brace height [m].

    Returns
    -------
    ndarray
        Power stroke [m].

    Examples
    --------
    >>> round(float(power_stroke_m(28 * 0.0254, 7.5 * 0.0254)) / 0.0254, 6)
    18.75
    """
    stroke = np.asarray(draw_length_m, float) - GRIP_ALLOWANCE_M - np.asarray(brace_height_m, float)
    return np.asarray(stroke)


def arrow_speed(energy_j: ArrayLike, arrow_kg: ArrayLike, virtual_kg: ArrayLike) -> Array:
    """Speed of the arrow as it leaves the string.

    Parameters
    ----------
    energy_j : array_like
        Energy that reaches the arrow and the moving parts [J].
    arrow_kg, virtual_kg : array_like
        Mass of the arrow and virtual mass of the bow with its string [kg].

    Returns
    -------
    ndarray
        Speed [m/s].

    References
    ----------
    1. Klopsteg (1943), Am. J. Phys. 11: E = (m + K) v^2 / 2.
    """
    moved = np.asarray(arrow_kg, float) + np.asarray(virtual_kg, float)
    return np.asarray(np.sqrt(2 * np.asarray(energy_j, float) / moved))


def virtual_mass_kg(energy_j: ArrayLike, arrow_kg: ArrayLike, speed_m_s: ArrayLike) -> Array:
    """Virtual mass that one measured speed asks for, the energy being known.

    Parameters
    ----------
    energy_j : array_like
        Energy that reaches the arrow and the moving parts [J].
    arrow_kg : array_like
        Mass of the arrow [kg].
    speed_m_s : array_like
        Its measured speed [m/s].

    Returns
    -------
    ndarray
        Virtual mass; negative when the arrow carries more than the energy given [kg].
    """
    return np.asarray(2 * np.asarray(energy_j) / np.asarray(speed_m_s) ** 2 - np.asarray(arrow_kg))


def string_virtual_mass_kg(
    string_kg: ArrayLike, silencers_kg: ArrayLike = 0.0, silencer_position: ArrayLike = 0.0
) -> Array:
    """What the string and anything tied to it add to the virtual mass.

    Parameters
    ----------
    string_kg : array_like
        Mass of the string [kg].
    silencers_kg : array_like
        Mass of the pair of silencers [kg].
    silencer_position : array_like
        Where they sit: fraction of the half string from the limb tip, 1 at the nock [-].

    Returns
    -------
    ndarray
        A third of the string, and the silencers by the square of their position [kg].

    Notes
    -----
    A point of the string moves about in proportion to its distance from the limb tip, and
    kinetic energy goes with the square: the integral of x^2 is Hickman's third.

    References
    ----------
    1. Hickman, in Archery: The Technical Side (1947).
    """
    at = np.asarray(silencer_position, float)
    return np.asarray(np.asarray(string_kg, float) / 3 + np.asarray(silencers_kg, float) * at**2)


def speed_at_stroke(speed_m_s: ArrayLike, stroke_m: ArrayLike, new_stroke_m: ArrayLike) -> Array:
    """Speed of the same arrow at another draw, the brace height kept.

    Parameters
    ----------
    speed_m_s : array_like
        Speed at the first stroke [m/s].
    stroke_m, new_stroke_m : array_like
        Power strokes before and after [m].

    Returns
    -------
    ndarray
        Speed after [m/s].

    Notes
    -----
    Force and stroke both grow with the draw, so energy goes about as the stroke squared and
    speed as the stroke. Good for an inch or so; a stacking bow gains more.

    References
    ----------
    1. Hickman via Klopsteg, Archery: The Technical Side: 21 to 20.5 in, 150 to 146.5 fps.
    """
    return np.asarray(
        np.asarray(speed_m_s, float) * np.asarray(new_stroke_m) / np.asarray(stroke_m)
    )


def speed_at_brace(speed_m_s: ArrayLike, stroke_m: ArrayLike, new_stroke_m: ArrayLike) -> Array:
    """Speed of the same arrow at another brace height, draw length and draw weight kept.

    Parameters
    ----------
    speed_m_s : array_like
        Speed at the first brace height [m/s].
    stroke_m, new_stroke_m : array_like
        Power strokes before and after [m].

    Returns
    -------
    ndarray
        Speed after [m/s].

    Notes
    -----
    At the same force at full draw and the same shape of curve energy goes with the stroke, speed
    with its root. Recurves may gain or lose a little more as the string lifts off the limbs.
    """
    ratio = np.asarray(new_stroke_m, float) / np.asarray(stroke_m, float)
    return np.asarray(np.asarray(speed_m_s, float) * np.sqrt(ratio))


def curve_energy_j(
    draw_m: ArrayLike,
    force_n: ArrayLike,
    brace_height_m: float,
    end_m: float,
    force_sd_n: float = 0.0,
    scale_sd: float = 0.0,
) -> tuple[float, float]:
    """Energy stored under a measured draw-force curve, from brace to a draw length.

    Parameters
    ----------
    draw_m : array_like, shape (n,)
        Draw lengths at which the scale was read, two or more past brace, rising [m].
    force_n : array_like, shape (n,)
        Its readings [N].
    brace_height_m : float
        Brace height: at brace the force is nought, a reading there need not be given [m].
    end_m : float
        Draw length to which the bow is drawn, within the readings [m].
    force_sd_n : float
        Doubt of a single reading [N].
    scale_sd : float
        Relative doubt of the scale itself, common to all readings [-].

    Returns
    -------
    tuple of float
        Energy, and its doubt: of the quadrature, the single readings and the scale [J].

    Notes
    -----
    Between readings the curve is a monotone cubic, which makes no bumps of its own. The quadrature's
    share of the doubt is a third of the distance to straight lines, or of what leaving out every other
    reading changes, whichever is more: half the points of a second-order rule err four times as much,
    and the monotone cubic is no worse.

    Examples
    --------
    >>> energy, sd = curve_energy_j([0.4, 0.5, 0.6], [60.0, 110.0, 160.0], 0.19, 0.6)
    >>> round(energy, 1), round(sd, 1)
    (26.6, 0.1)
    """
    from scipy.interpolate import PchipInterpolator

    draw, force = np.asarray(draw_m, float), np.asarray(force_n, float)
    brace = brace_height_m + GRIP_ALLOWANCE_M
    if draw[0] > brace + 1e-9:
        draw, force = np.insert(draw, 0, brace), np.insert(force, 0, 0.0)
    cubic, known = PchipInterpolator(draw, force), draw < end_m - 1e-12
    energy = float(cubic.integrate(draw[0], end_m))
    x, y = np.append(draw[known], end_m), np.append(force[known], cubic(end_m))
    width = np.zeros_like(x)
    width[1:] += np.diff(x) / 2
    width[:-1] += np.diff(x) / 2
    missed = abs(energy - float(np.sum(width * y)))
    if x.size >= 5:
        keep = np.unique(np.append(np.arange(0, x.size, 2), x.size - 1))
        halved = float(PchipInterpolator(x[keep], y[keep]).integrate(x[0], end_m))
        missed = max(missed, abs(energy - halved))
    readings = force_sd_n * float(np.sqrt(np.sum(width[1:] ** 2)))
    return energy, float(np.hypot(np.hypot(missed / 3, readings), scale_sd * energy))
