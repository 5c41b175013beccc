"""Normal and split-normal distributions on numpy alone, for the paths that must start fast.

The normal distribution function is tabulated from `math.erf` and read in straight lines; the
error stays under 2e-7, far below what any rule knows.
"""

from __future__ import annotations

import functools
import math
from typing import Final

import numpy as np

from shaftwright.arrays import Array

#: what the ranges in rules/ are read with; where speeds are measured, units.Z95
Z95: Final = 1.96
_STEP, _REACH = 0.002, 8.0


@functools.cache
def _grid() -> tuple[Array, Array, Array]:
    z = np.arange(-_REACH, _REACH + _STEP / 2, _STEP)
    phi = np.array([0.5 * math.erfc(-v / math.sqrt(2)) for v in z.tolist()])
    return z, phi, np.diff(phi, append=1.0)


def cdf(z: float | Array) -> Array:
    """Normal distribution function.

    Parameters
    ----------
    z : float or array
        Standard scores.

    Returns
    -------
    array
        Probabilities.
    """
    # the grid is even, so the place in it need not be looked for
    at = np.asarray((np.clip(z, -_REACH, _REACH) + _REACH) / _STEP)
    cell = at.astype(np.int32)
    _, phi, rise = _grid()
    return np.asarray(phi.take(cell, mode="clip") + (at - cell) * rise.take(cell, mode="clip"))


def pdf(z: float | Array) -> Array:
    """Normal density.

    Parameters
    ----------
    z : float or array
        Standard scores.

    Returns
    -------
    array
        Densities.
    """
    return np.asarray(np.exp(-0.5 * np.square(z)) / math.sqrt(2 * math.pi))


def quantile(p: float | Array) -> Array:
    """Inverse of the normal distribution function.

    Parameters
    ----------
    p : float or array
        Probabilities between 0 and 1.

    Returns
    -------
    array
        Standard scores, cut at 8.
    """
    z, phi, _ = _grid()
    return np.asarray(np.interp(p, phi, z))


def split_sds(value: float, low: float, high: float) -> tuple[float, float]:
    """Standard deviations below and above the most likely value of a split normal.

    Parameters
    ----------
    value, low, high : float
        Most likely value and the ends of its 95 % range.

    Returns
    -------
    tuple of float
        (value - low) / 1.96 and (high - value) / 1.96.
    """
    return (value - low) / Z95, (high - value) / Z95


def range_mean(value: float, low: float, high: float) -> float:
    """Mean of a split normal by its most likely value and 95 % range.

    Parameters
    ----------
    value, low, high : float
        In any unit.

    Returns
    -------
    float
        In the same.
    """
    return value + split_mean(*split_sds(value, low, high))


def split_mean(below: float, above: float) -> float:
    """Mean of a split normal, from its most likely value.

    Parameters
    ----------
    below, above : float
        Standard deviations on the two sides.

    Returns
    -------
    float
        sqrt(2 / pi) (above - below).
    """
    return math.sqrt(2 / math.pi) * (above - below)


def split_deviation(u: Array, below: float, above: float) -> Array:
    """Standard normal scores turned into deviations of a split normal from its most likely value.

    Parameters
    ----------
    u : array
        Standard normal scores.
    below, above : float
        Standard deviations on the two sides.

    Returns
    -------
    array
        Deviations, rising with u.

    Notes
    -----
    The two halves join without a step in the density, so the share below the most likely value
    is below / (below + above).
    """
    total = below + above
    if total == 0:
        return np.zeros_like(u)
    if below == above:
        return u * below
    p = cdf(u)
    left = p * total < below
    result = np.empty_like(u)
    if below > 0:
        result[left] = below * quantile(p[left] * total / (2 * below))
    right = ~left
    if above > 0:
        result[right] = above * quantile((p[right] * total - below + above) / (2 * above))
    else:
        result[right] = 0.0
    return result
