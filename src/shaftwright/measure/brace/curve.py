"""A smooth curve through readings at a few settings, with a band that counts restringing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.measure.values import Array, log_normal
from shaftwright.resources import measuring
from shaftwright.units import Interval

_DRAWS = 2000
SEED = 1
_MOST_STEPS = 400


@dataclass(frozen=True)
class Curve:
    """A quantity over a setting: draws of the smooth curve on a grid.

    Parameters
    ----------
    grid : array, shape (points,)
        Settings.
    draws : array, shape (draws, points)
        Equally likely curves.
    degree : int
        0, 1 or 2: what the number of settings allows.
    """

    grid: Array
    draws: Array
    degree: int

    def band(self) -> tuple[Array, Array, Array]:
        """Low, middle and high of the curve at each point of the grid, 95 %."""
        low, mid, high = np.percentile(self.draws, [2.5, 50, 97.5], axis=0)
        return low, mid, high

    def best(self, sign: float) -> tuple[float, float, float]:
        """Where sign x curve is largest: the ends and the middle of 4 chances in 5."""
        where = self.grid[np.argmax(sign * self.draws, axis=1)]
        low, mid, high = np.percentile(where, [10, 50, 90])
        return float(low), float(mid), float(high)

    def near_best(self, sign: float, within: float) -> NDArray[np.bool_]:
        """Points as likely as not within so much of the best one."""
        behind = (sign * self.draws).max(axis=1, keepdims=True) - sign * self.draws
        return np.asarray((behind <= within).mean(axis=0) >= 0.5)

    def matters(self, size: float) -> float:
        """Chance that the curve varies by more than so much over the grid."""
        return float((np.ptp(self.draws, axis=1) > size).mean())


def fit_curve(setting: Array, mean: Array, variance: Array, restringing: Interval) -> Curve:
    """Fit the smoothest curve the settings allow: a line through two, a parabola through more.

    Parameters
    ----------
    setting : array, shape (n,)
        Settings, one a stringing.
    mean : array, shape (n,)
        Mean reading of each.
    variance : array, shape (n,)
        Variance of each mean from shot to shot.
    restringing : Interval
        Doubt of the spread between stringings, which every change of the setting brings.

    Returns
    -------
    Curve
        2000 equally likely curves on the tested range, drawn with one fixed seed; its grid goes by
        the table's step of brace heights.

    Notes
    -----
    Coefficients are flat beforehand; the spread between stringings is weighed on a grid by how well
    each value explains the readings' departure from the curve. Nothing is said outside the tested
    range: a parabola knows nothing there.
    """
    low, high = float(setting.min()), float(setting.max())
    degree = min(2, len(np.unique(setting)) - 1)
    half = max((high - low) / 2, 1e-9)
    x = (setting - (low + high) / 2) / half
    design = np.vander(x, degree + 1, increasing=True)
    z = np.linspace(-4, 6, 41)
    v = log_normal(restringing, z)[:, None] ** 2 + variance
    centre = float(np.average(mean))
    y = mean - centre
    info = np.einsum("ni,tn,nj->tij", design, 1 / v, design)
    right = np.einsum("ni,tn->ti", design, y / v)
    coefficient = np.linalg.solve(info, right[..., None])[..., 0]
    rest = ((y - coefficient @ design.T) ** 2 / v).sum(axis=1)
    log_w = -0.5 * (np.log(v).sum(axis=1) + np.linalg.slogdet(info)[1] + rest + z**2)
    weight = np.exp(log_w - log_w.max())
    rng = np.random.default_rng(SEED)
    which = rng.choice(len(z), size=_DRAWS, p=weight / weight.sum())
    root = np.linalg.cholesky(np.linalg.inv(info))
    noise = rng.standard_normal((_DRAWS, degree + 1))
    drawn = coefficient[which] + np.einsum("dij,dj->di", root[which], noise)
    steps = (
        min(max(round((high - low) / measuring("brace_step_in")), 1), _MOST_STEPS)
        if high > low
        else 0
    )
    grid = np.linspace(low, high, steps + 1)
    at = np.vander((grid - (low + high) / 2) / half, degree + 1, increasing=True)
    return Curve(grid, centre + drawn @ at.T, degree)
