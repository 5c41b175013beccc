"""Virtual mass and energy from measured speeds of several masses.

The readings speak for themselves: nothing typical is mixed in. Where they cannot tell, the range is wide.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shaftwright.arrays import Array
from shaftwright.physics.bow import Range
from shaftwright.resources import constant
from shaftwright.units import Z95, Interval

Indices = NDArray[np.intp]


def scale_sd() -> float:
    """Relative standard deviation of a chronograph's scale [-]."""
    return constant("chronograph", "accuracy_pct") / 100 / Z95


@dataclass(frozen=True, eq=False)
class SpeedFit:
    """Energy and virtual mass that readings of several arrow masses ask for.

    Attributes
    ----------
    energy_j, virtual_kg : Interval
        Best values and 95 % ranges; a range without an upper end is infinite [J, kg].
    """

    energy_j: Interval
    virtual_kg: Interval
    _coefficients: Array
    _covariance: Array
    _quantile: float

    @property
    def heavier_is_faster(self) -> bool:
        """Whether speed rises with mass by more than the readings' doubt, which no bow does."""
        sd = float(np.sqrt(self._covariance[1, 1]))
        return float(self._coefficients[1]) + self._quantile * sd < 0

    def virtual_half_width_kg(self, virtual_kg: float) -> float:
        """How well such readings would tell a virtual mass, whatever they happen to say of it.

        Parameters
        ----------
        virtual_kg : float
            A virtual mass to take for true [kg].

        Returns
        -------
        float
            95 % half width, first order [kg].

        Notes
        -----
        Only masses, level of the speeds and their spread count, not the slope that was read: a
        range picked because its slope came out steep would hold less often than it says.
        """
        slope_var = float(self._covariance[1, 1])
        centre = -float(self._covariance[0, 1]) / slope_var
        level = float(self._coefficients @ (1.0, centre))
        level_var = float(self._covariance[0, 0]) - centre**2 * slope_var
        moved = centre + virtual_kg
        relative = max(level_var, 0.0) + slope_var * moved**2
        return self._quantile * moved * float(np.sqrt(relative)) / level

    def speed(self, arrow_kg: ArrayLike) -> Range:
        """Speed of other masses, from the readings alone.

        Parameters
        ----------
        arrow_kg : array_like
            Masses of whole arrows [kg].

        Returns
        -------
        Range
            Low, mid and high, 95 %, widening away from the masses shot [m/s].
        """
        arrow = np.asarray(arrow_kg, float)
        basis = np.stack([np.ones_like(arrow), arrow], axis=-1)
        inverse = basis @ self._coefficients
        sd = np.sqrt(np.einsum("...i,ij,...j->...", basis, self._covariance, basis))
        with np.errstate(invalid="ignore", divide="ignore"):
            mid = np.where(inverse > 0, 1 / np.sqrt(inverse), np.nan)
            width = np.hypot(self._quantile * sd / (2 * inverse), Z95 * scale_sd())
        return Range(mid * np.exp(-width), mid, mid * np.exp(width))


def fit_speeds(arrow: Array, speed: Array, shot_sd: float, dof: float) -> SpeedFit:
    """Energy and virtual mass from speeds of several arrow masses.

    Parameters
    ----------
    arrow, speed : array, shape (n,)
        Mass [kg] and speed [m/s] of every reading, of two masses at least; repeats as they come.
    shot_sd : float
        Spread of single readings [m/s].
    dof : float
        Degrees of freedom of that spread, see `pooled_spread` [-].

    Returns
    -------
    SpeedFit
        Least squares of 1/v^2 = m/(2E) + K/(2E), which is a line in m.

    Notes
    -----
    K is the ratio of intercept and slope: its range is Fieller's, exact for such a ratio, and has
    no end when the masses lie too close for the slope to be told from nought. The chronograph's
    scale error moves E but not K.

    References
    ----------
    1. Fieller, E. C. (1954), J. R. Stat. Soc. B 16, 175 (range of a ratio).
    """
    quantile = _quantile(dof)
    weight = (speed**3 / (2 * shot_sd)) ** 2
    centre = np.average(arrow, weights=weight)
    # about the mean mass the two unknowns are uncorrelated, which keeps the sums well behaved
    x, y = arrow - centre, 1 / speed**2
    slope_var = 1 / np.sum(weight * x**2)
    level_var = 1 / np.sum(weight)
    slope = float(np.sum(weight * x * y) * slope_var)
    level = float(np.sum(weight * y) * level_var)
    shift = np.array([[1.0, -centre], [0.0, 1.0]])
    covariance = shift @ np.diag([level_var, slope_var]) @ shift.T
    coefficients = shift @ np.array([level, slope])

    virtual = _ratio(coefficients, covariance, quantile)
    energy = _energy(slope, float(np.sqrt(slope_var)), quantile)
    return SpeedFit(energy, virtual, coefficients, covariance, quantile)


def grouped(mass: Array, apart: float) -> list[Indices]:
    """Indices of the readings of each arrow mass, lightest first; masses no further apart are one."""
    order = np.argsort(mass, kind="stable")
    cuts = np.flatnonzero(np.diff(mass[order]) > apart) + 1
    return np.split(order, cuts)


def pooled_spread(groups: list[Indices], speed: Array, assumed: float) -> tuple[float, float]:
    """Spread of one reading: pooled over repeats when there are enough, else as assumed.

    Parameters
    ----------
    groups : list of int array
        Indices of the readings of each mass.
    speed : array (n,)
        Readings [any unit].
    assumed : float
        The table's spread [same unit].

    Returns
    -------
    tuple of float
        Standard deviation [same unit]; degrees of freedom, infinite where it is the assumed one.
    """
    squares = sum(float(np.sum((speed[g] - speed[g].mean()) ** 2)) for g in groups)
    dof = sum(g.size - 1 for g in groups)
    if dof >= constant("chronograph", "fewest_repeats") and squares > 0:
        return float(np.sqrt(squares / dof)), float(dof)
    return assumed, float("inf")


def _quantile(dof: float) -> float:
    if np.isinf(dof):
        return Z95
    from scipy.special import stdtrit

    return float(stdtrit(dof, 0.975))


def _ratio(coefficients: Array, covariance: Array, quantile: float) -> Interval:
    """Fieller's range of intercept over slope."""
    (a, b), q = coefficients, quantile**2
    square = b**2 - q * covariance[1, 1]
    half = a * b - q * covariance[0, 1]
    rest = a**2 - q * covariance[0, 0]
    mid = a / b if b > 0 else np.inf
    if square <= 0 or b <= 0:
        return Interval(mid, -np.inf, np.inf)
    root = np.sqrt(max(half**2 - square * rest, 0.0))
    return Interval(float(mid), float((half - root) / square), float((half + root) / square))


def _energy(slope: float, sd: float, quantile: float) -> Interval:
    low_slope, high_slope = slope - quantile * sd, slope + quantile * sd
    scale = np.exp(2 * Z95 * scale_sd())
    low = 1 / (2 * high_slope) / scale if high_slope > 0 else np.inf
    mid = 1 / (2 * slope) if slope > 0 else np.inf
    high = 1 / (2 * low_slope) * scale if low_slope > 0 else np.inf
    return Interval(mid, float(low), float(high))
