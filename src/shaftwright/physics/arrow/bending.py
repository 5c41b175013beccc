"""The arrow as a free beam with masses at its ends: frequencies, mode shapes, buckling thrust.

A parallel shaft is solved exactly by its transcendental equation. Anything stepped or tapered is
solved by the Ritz basis of `arrow_ritz`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.physics.arrow import ritz as arrow_ritz
from shaftwright.physics.arrow.arrow import Arrow, Floats


@dataclass(frozen=True)
class Modes:
    """Bending modes of builds, sampled along the shaft.

    Attributes
    ----------
    frequencies_hz : ndarray, shape (..., n)
        Natural frequencies [Hz].
    fractions : ndarray, shape (p,)
        Where the shapes are sampled, as fractions of the shaft length from the nock [-].
    shapes : ndarray, shape (..., n, p)
        Sideways displacement, positive at the nock, largest 1 [-].
    """

    frequencies_hz: Floats
    fractions: Floats
    shapes: Floats


def free_free_roots(tail_ratio: ArrayLike, front_ratio: ArrayLike, n: int = 3) -> Floats:
    """Roots beta L of a free uniform bar with a mass at each end.

    Parameters
    ----------
    tail_ratio, front_ratio : array_like
        End masses over the shaft's mass; infinite is a pinned end [-].
    n : int
        How many roots.

    Returns
    -------
    ndarray, shape (..., n)
        beta L, so that the angular frequency is (beta L)^2 sqrt(EI / (mu L^4)) [-].

    Notes
    -----
    With a, b the ratios and z = beta L the equation, divided by cosh z so that nothing overflows,
    is cos z - sech z + (a + b) z (cos z tanh z - sin z) - 2 a b z^2 sin z tanh z = 0. Its n-th
    root lies between n pi (both ends pinned) and that of the bar without end masses.
    Ratios enter as a / (1 + a), which also lets them be infinite.

    Examples
    --------
    >>> free_free_roots(0.0, 0.0).round(5)
    array([ 4.73004,  7.8532 , 10.99561])

    References
    ----------
    1. Blevins, R. D., Formulas for Natural Frequency and Mode Shape, table 8-1 (free-free beam).
    """
    a, b = (
        np.where(np.isinf(r), 1.0, r / (1 + np.where(np.isinf(r), 0.0, r)))[..., None]
        for r in (np.asarray(tail_ratio, float), np.asarray(front_ratio, float))
    )
    one = (1 - a) * (1 - b)
    both = a * (1 - b) + b * (1 - a)
    order = np.arange(1, n + 1)
    lower = np.broadcast_to(order * pi, np.broadcast_shapes(a.shape, b.shape, (n,))).copy()
    upper = lower + pi / 2 + 0.02
    sign = np.where(order % 2 == 0, 1.0, -1.0)  # of the equation at the pinned end of the bracket
    z = lower + pi / 4
    for _ in range(60):
        s, c, th, sech = np.sin(z), np.cos(z), np.tanh(z), 1 / np.cosh(z)
        free, one_end, two_ends = c - sech, c * th - s, -2 * s * th
        value = one * free + both * z * one_end + a * b * z**2 * two_ends
        slope = (
            one * (-s + sech * th)
            + both * (one_end + z * (-s * th + c * sech**2 - c))
            + a * b * (2 * z * two_ends - 2 * z**2 * (c * th + s * sech**2))
        )
        below = value * sign > 0
        lower, upper = np.where(below, z, lower), np.where(below, upper, z)
        step = z - value / slope
        new = np.where((step > lower) & (step < upper), step, (lower + upper) / 2)
        if np.all(np.abs(new - z) <= 4e-15 * z):
            return new
        z = new
    return z


def frequencies_hz(arrow: Arrow, n: int = 3) -> Floats:
    """Natural bending frequencies of the free arrow.

    Parameters
    ----------
    arrow : Arrow
        One build or many.
    n : int
        How many, from the lowest; up to 6 for stepped shafts.

    Returns
    -------
    ndarray, shape (..., n)
        Frequencies [Hz].

    Raises
    ------
    ValueError
        More modes of a stepped shaft than its basis resolves.

    Notes
    -----
    Euler-Bernoulli beam without shear or damping, end masses as points. Good for shafts, whose
    slenderness passes 80; a long broadhead's own inertia lowers the higher modes a little.
    """
    if arrow.uniform:
        length, mu = arrow.array("length_m"), arrow.array("mass_per_length_kg_m")
        shaft = mu * length
        roots = free_free_roots(arrow.array("tail_kg") / shaft, arrow.array("front_kg") / shaft, n)
        speed = np.sqrt(arrow.array("stiffness_n_m2") / mu) / length**2
        return np.asarray(roots**2 * speed[..., None] / (2 * pi))
    parts = [arrow_ritz.modes(part, n)[0] for part in arrow_ritz.batches(arrow)]
    return np.concatenate(parts).reshape(*arrow.shape, n)


def mode_shapes(arrow: Arrow, n: int = 3, points: int = 101) -> Modes:
    """Natural modes of the free arrow, sampled evenly from nock to the end of the shaft.

    Parameters
    ----------
    arrow : Arrow
        One build or many.
    n : int
        How many modes, up to 6.
    points : int
        Samples along the shaft.

    Returns
    -------
    Modes
        Frequencies and shapes.
    """
    at = np.linspace(0.0, 1.0, points)
    parts = [arrow_ritz.modes(part, n, at) for part in arrow_ritz.batches(arrow)]
    shapes = np.concatenate([part[1] for part in parts])
    # the exact root where there is one; the shapes differ from the exact ones by less than 1e-5
    return Modes(frequencies_hz(arrow, n), at, shapes.reshape(*arrow.shape, n, points))


def critical_thrust_n(arrow: Arrow) -> Floats:
    """Steady thrust at the nock under which the shaft would buckle while it accelerates.

    A comparison number between builds and nothing more: the push lasts milliseconds, the shaft
    is let bend, and good arrows exceed it. It is never a safety limit.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        Critical thrust [N].

    Notes
    -----
    Ends pinned sideways; each section carries the thrust times the share of the mass ahead of
    it. For a parallel shaft c = F L^2 / EI runs from 18.569 (no front mass) to pi^2 (all of the
    mass in front: Euler's column).

    References
    ----------
    1. Timoshenko, S. P. and Gere, J. M., Theory of Elastic Stability, chapter 2 (columns under
       distributed axial load), recalled.
    """
    if not arrow.uniform:
        parts = [arrow_ritz.thrust(part) for part in arrow_ritz.batches(arrow)]
        return np.concatenate(parts).reshape(arrow.shape)
    length = arrow.array("length_m")
    shaft, front = arrow.array("mass_per_length_kg_m") * length, arrow.array("front_kg")
    ahead = shaft + front
    # the nock end carries the thrust less what pushes the tail mass itself
    carried = ahead / (ahead + arrow.array("tail_kg"))
    coefficient = np.polynomial.chebyshev.chebval(2 * shaft / ahead - 1, _thrust_series())
    return np.asarray(coefficient * arrow.array("stiffness_n_m2") / length**2 / carried)


@cache
def _thrust_series() -> Floats:
    """Chebyshev series of c against the shaft's share of the mass ahead of the nock."""
    share = (np.cos(pi * (np.arange(24) + 0.5) / 24) + 1) / 2
    k = np.arange(1, 41)
    i, j = np.meshgrid(k, k, indexing="ij")
    odd = (i + j) % 2 == 1
    # integrals over 0..1 of cos(i pi x) cos(j pi x) and of x times that
    minus, plus = np.where(odd, i - j, 1), np.where(odd, i + j, 1)
    ramp = np.where(odd, -(1 / minus**2 + 1 / plus**2) / pi**2, 0.0) + np.eye(k.size) / 4
    g = (np.eye(k.size) / 2 - share[:, None, None] * ramp) * (i * j * pi**2)
    scale = np.sqrt(2) / (k * pi) ** 2
    largest = np.linalg.eigvalsh(g * scale[:, None] * scale)[:, -1]
    return np.asarray(np.polynomial.chebyshev.chebfit(2 * share - 1, 1 / largest, 20))
