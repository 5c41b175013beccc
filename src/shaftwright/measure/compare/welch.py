"""The textbook tests: Welch's interval, paired shots, Holm's guard, readings that stand apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.measure.values import number

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Difference:
    """A difference with its interval; `low`, `high` and `p_value` are None where none exists."""

    mid: float
    low: float | None
    high: float | None
    p_value: float | None
    t: float | None
    df: float | None

    def document(self) -> dict[str, float | None]:
        """The three figures of a range, ready for JSON."""
        return {"mid": self.mid, "low": self.low, "high": self.high}


def t_difference(mid: float, standard_error: float, df: float, level: float = 0.95) -> Difference:
    """Student's interval and two-sided chance for an estimate with its standard error.

    Parameters
    ----------
    mid : float
        The estimate [any unit].
    standard_error : float
        Its standard error [same unit].
    df : float
        Degrees of freedom.
    level : float
        Coverage of the interval.

    Returns
    -------
    Difference
        Without interval when `df` or the standard error is not positive.
    """
    if not (df > 0 and standard_error > 0 and math.isfinite(standard_error)):
        return Difference(mid, None, None, None, None, None)
    from scipy.special import stdtr, stdtrit

    half = float(stdtrit(df, (1 + level) / 2)) * standard_error
    t = mid / standard_error
    return Difference(mid, mid - half, mid + half, float(2 * stdtr(df, -abs(t))), t, df)


def welch(
    n: Sequence[int], mean: Sequence[float], sd: Sequence[float], level: float = 0.95
) -> Difference:
    """Difference of two means, first minus second, their spreads unequal: Welch's test [1]_.

    Parameters
    ----------
    n : sequence of int, shape (2,)
        Shots.
    mean, sd : sequence of float, shape (2,)
        Means and standard deviations [any unit].
    level : float
        Coverage of the interval.

    Returns
    -------
    Difference
        Without interval when a group has one shot only or nothing scatters.

    Notes
    -----
    A fixed-sample figure: it holds when the number of shots was settled beforehand, and it takes
    every shot as independent, which shots of one stringing are not.

    Examples
    --------
    >>> d = welch((249, 79), (20.14458, 30.48101), (6.41470, 6.10771))
    >>> round(d.t, 4), round(d.df, 3)
    (-12.9463, 136.875)

    References
    ----------
    .. [1] Welch, Biometrika 34 (1947) 28; NIST/SEMATECH e-Handbook 1.3.5.3.
    """
    mid = float(mean[0] - mean[1])
    if min(n) < 2:
        return Difference(mid, None, None, None, None, None)
    parts = [sd[i] ** 2 / n[i] for i in (0, 1)]
    variance = parts[0] + parts[1]
    if variance <= 0:
        return Difference(mid, None, None, None, None, None)
    # Shares before squaring: tiny spreads squared twice would underflow to 0/0.
    shares = [part / variance for part in parts]
    df = 1 / sum(share**2 / (count - 1) for share, count in zip(shares, n, strict=True))
    return t_difference(mid, math.sqrt(variance), df, level)


def paired(differences: Array, level: float = 0.95) -> Difference:
    """Mean of paired differences with Student's interval.

    Parameters
    ----------
    differences : array, shape (pairs,)
        One difference a pair [any unit].
    level : float
        Coverage of the interval.

    Returns
    -------
    Difference
        Without interval for one pair only.
    """
    n = len(differences)
    mid = float(np.mean(differences))
    if n < 2:
        return Difference(mid, None, None, None, None, None)
    return t_difference(mid, float(np.std(differences, ddof=1)) / math.sqrt(n), n - 1, level)


def holm(p: Sequence[float]) -> list[float]:
    """Chances corrected for asking several questions at once: Holm's step-down [1]_.

    Parameters
    ----------
    p : sequence of float
        One chance a question.

    Returns
    -------
    list of float
        Corrected chances in the same order, at most 1.

    Notes
    -----
    Holm and not Tukey: Tukey's range wants one common spread, independent shots and a sample size
    fixed beforehand; strings scatter differently, shots of one stringing go together, and archers
    peek. Holm holds for any dependence and for always-valid chances too.

    Examples
    --------
    >>> [round(x, 3) for x in holm([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]

    References
    ----------
    .. [1] Holm, Scand. J. Statistics 6 (1979) 65.
    """
    order = np.argsort(p, kind="stable")
    m = len(p)
    stepped = np.asarray(p, dtype=float)[order] * (m - np.arange(m))
    corrected = np.empty(m)
    corrected[order] = np.minimum(np.maximum.accumulate(stepped), 1.0)
    return [float(x) for x in corrected]


def modified_z(values: Array) -> Array:
    """How far each reading stands from the median, in robust standard deviations [1]_.

    Parameters
    ----------
    values : array, shape (n,)
        Readings [any unit].

    Returns
    -------
    array, shape (n,)
        0.6745 (x - median) / MAD; zeros when over half the readings are alike.

    References
    ----------
    .. [1] Iglewicz and Hoaglin (1993), in NIST/SEMATECH e-Handbook 1.3.5.17.
    """
    away = np.asarray(values, dtype=float) - np.median(values)
    mad = float(np.median(np.abs(away)))
    return np.zeros_like(away) if mad == 0 else 0.6745 * away / mad


def stands_apart(values: Array) -> NDArray[np.bool_]:
    """Which readings are worth a second look; they are pointed out, never dropped.

    Parameters
    ----------
    values : array, shape (n,)
        Readings of one group [any unit].

    Returns
    -------
    array of bool, shape (n,)
        True where the modified z-score is beyond the table's `outlier_z`.
    """
    result: NDArray[np.bool_] = np.abs(modified_z(values)) > number("outlier_z")
    return result
