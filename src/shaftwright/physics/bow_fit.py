"""Virtual mass and energy from measured speeds: one with the energy known, or several masses.

The readings speak for themselves: nothing typical is mixed in. Where they cannot tell, the range
is wide, and where they contradict energy or each other, a warning says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shaftwright.arrays import Array
from shaftwright.physics.bow import Range, virtual_mass_kg
from shaftwright.resources import constant
from shaftwright.units import FOOT_POUND_J, FPS_M_S, GRAIN_KG, Z95

Indices = NDArray[np.intp]

_SAME_MASS_KG = 0.5 * GRAIN_KG  # arrows nearer than the scale reads are one mass


def scale_sd() -> float:
    """Relative standard deviation of a chronograph's scale [-]."""
    return constant("chronograph", "accuracy_pct") / 100 / Z95


@dataclass(frozen=True, eq=False)
class SpeedFit:
    """Energy and virtual mass that readings of several arrow masses ask for.

    Attributes
    ----------
    energy_j, virtual_kg : Range
        Best values and 95 % ranges; a range without an upper end is infinite [J, kg].
    misfits : tuple of str
        What in the readings contradicts energy or itself.
    warnings : tuple of str
        The misfits, and what they leave open of the virtual mass.
    """

    energy_j: Range
    virtual_kg: Range
    misfits: tuple[str, ...]
    warnings: tuple[str, ...]
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


def fit_speeds(
    arrow_kg: ArrayLike, speed_m_s: ArrayLike, stored_j: float | None = None
) -> SpeedFit:
    """Energy and virtual mass from speeds of several arrow masses.

    Parameters
    ----------
    arrow_kg, speed_m_s : array_like, shape (n,)
        Mass [kg] and speed [m/s] of every reading; repeats as they come.
    stored_j : float, optional
        Energy under the draw curve, only to hold the readings against [J].

    Returns
    -------
    SpeedFit
        Least squares of 1/v^2 = m/(2E) + K/(2E), which is a line in m.

    Raises
    ------
    ValueError
        Readings of fewer than two different masses, or none above nought.

    Notes
    -----
    K is the ratio of intercept and slope: its range is Fieller's, exact for such a ratio, and has
    no end when the masses lie too close for the slope to be told from nought. The chronograph's
    scale error moves E but not K.

    References
    ----------
    1. Fieller, E. C. (1954), J. R. Stat. Soc. B 16, 175 (range of a ratio).
    """
    arrow, speed = np.broadcast_arrays(
        np.atleast_1d(np.asarray(arrow_kg, float)), np.atleast_1d(np.asarray(speed_m_s, float))
    )
    if arrow.ndim != 1 or not (np.all(arrow > 0) and np.all(speed > 0)):
        raise ValueError("masses and speeds must be lists of numbers above nought")
    groups = grouped(arrow, _SAME_MASS_KG)
    if len(groups) < 2:
        raise ValueError("a virtual mass from speeds alone needs two different arrow masses")
    shot_sd, dof = pooled_spread(groups, speed, constant("chronograph", "shot_sd_fps") * FPS_M_S)
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
    misfits = _misfits(arrow, speed, groups, shot_sd, stored_j)
    warnings = (*misfits, *_open(virtual))
    return SpeedFit(energy, virtual, misfits, warnings, coefficients, covariance, quantile)


def virtual_mass_range(
    energy_j: float,
    energy_sd_j: float,
    arrow_kg: ArrayLike,
    speed_m_s: ArrayLike,
    *,
    shots: ArrayLike = 1,
    shot_sd_m_s: float | None = None,
) -> tuple[Range, tuple[str, ...]]:
    """Virtual mass of each measured speed, the energy being known.

    Parameters
    ----------
    energy_j, energy_sd_j : float
        Energy that reaches arrow and moving parts, and its doubt [J].
    arrow_kg, speed_m_s : array_like
        Mass [kg] and mean speed [m/s].
    shots : array_like
        Readings behind each mean [-].
    shot_sd_m_s : float, optional
        Spread of single readings, the table's when absent [m/s].

    Returns
    -------
    tuple of Range and tuple of str
        Virtual mass with its 95 % range [kg], and warnings.
    """
    arrow, speed = np.asarray(arrow_kg, float), np.asarray(speed_m_s, float)
    sd = constant("chronograph", "shot_sd_fps") * FPS_M_S if shot_sd_m_s is None else shot_sd_m_s
    mid = virtual_mass_kg(energy_j, arrow, speed)
    moved = mid + arrow
    of_speed = np.hypot(sd / np.sqrt(np.asarray(shots, float)) / speed, scale_sd())
    width = Z95 * moved * np.hypot(energy_sd_j / energy_j, 2 * of_speed)
    return Range(mid - width, mid, mid + width), _above_stored(arrow, speed, energy_j)


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


def _ratio(coefficients: Array, covariance: Array, quantile: float) -> Range:
    """Fieller's range of intercept over slope."""
    (a, b), q = coefficients, quantile**2
    square = b**2 - q * covariance[1, 1]
    half = a * b - q * covariance[0, 1]
    rest = a**2 - q * covariance[0, 0]
    mid = a / b if b > 0 else np.inf
    if square <= 0 or b <= 0:
        return Range(np.asarray(-np.inf), np.asarray(mid), np.asarray(np.inf))
    root = np.sqrt(max(half**2 - square * rest, 0.0))
    return Range(
        np.asarray((half - root) / square), np.asarray(mid), np.asarray((half + root) / square)
    )


def _energy(slope: float, sd: float, quantile: float) -> Range:
    low_slope, high_slope = slope - quantile * sd, slope + quantile * sd
    scale = np.exp(2 * Z95 * scale_sd())
    low = 1 / (2 * high_slope) / scale if high_slope > 0 else np.inf
    mid = 1 / (2 * slope) if slope > 0 else np.inf
    high = 1 / (2 * low_slope) * scale if low_slope > 0 else np.inf
    return Range(np.asarray(low), np.asarray(mid), np.asarray(high))


def _above_stored(arrow: Array, speed: Array, stored_j: float) -> tuple[str, ...]:
    kinetic = arrow * speed**2 / 2
    if not np.any(kinetic > stored_j):
        return ()
    worst = float(np.max(kinetic))
    return (
        f"an arrow carries {worst / FOOT_POUND_J:.1f} ft-lb, more than the "
        f"{stored_j / FOOT_POUND_J:.1f} ft-lb the bow has to give: check speeds, masses and draw curve",
    )


def _misfits(
    arrow: Array, speed: Array, groups: list[Indices], shot_sd: float, stored_j: float | None
) -> tuple[str, ...]:
    found = list(_above_stored(arrow, speed, stored_j)) if stored_j is not None else []
    for light, heavy in pairwise(groups):
        gain = float(speed[heavy].mean() - speed[light].mean())
        if gain > 0:
            doubt = shot_sd * np.sqrt(1 / light.size + 1 / heavy.size)
            plainly = "plainly " if gain > Z95 * doubt else ""
            found.append(
                f"{arrow[heavy].mean() / GRAIN_KG:.0f} gr was {plainly}faster than "
                f"{arrow[light].mean() / GRAIN_KG:.0f} gr by {gain / FPS_M_S:.1f} fps: "
                "a heavier arrow cannot be, from the same draw"
            )
    return tuple(found)


def _open(virtual: Range) -> tuple[str, ...]:
    """What the readings leave open of the virtual mass."""
    if not np.isfinite(virtual.high):
        return ("the arrow masses lie too close together to tell the virtual mass",)
    if virtual.mid < 0:
        return ("the readings ask for a virtual mass below nought: draw or speeds varied",)
    return ()
