"""The textbook tests: Welch's interval, paired shots, Holm's guard, readings that stand apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shaftwright.measure.values import Array
from shaftwright.resources import measuring
from shaftwright.result import Result, kept


@dataclass(frozen=True)
class Difference(Result):
    """A difference with its 95 % interval; all but `mid` are None where there is none."""

    mid: float
    low: float | None = None
    high: float | None = None
    p_value: float | None = field(default=None, metadata=kept(json=False))
    t: float | None = field(default=None, metadata=kept(json=False))
    df: float | None = field(default=None, metadata=kept(json=False))


def t_difference(mid: float, variances: Sequence[float], dfs: Sequence[float]) -> Difference:
    """Student's interval and two-sided chance for an estimate with its variance [1]_.

    Parameters
    ----------
    mid : float
        The estimate [any unit].
    variances : sequence of float
        The independent parts of its variance [that unit squared].
    dfs : sequence of float
        Degrees of freedom of each.

    Returns
    -------
    Difference
        Without interval when a part has no degree of freedom or nothing scatters.

    References
    ----------
    .. [1] Welch, Biometrika 34 (1947) 28; NIST/SEMATECH e-Handbook 1.3.5.3.
    """
    variance = sum(variances)
    if min(dfs) < 1 or not 0 < variance < math.inf:
        return Difference(mid)
    from scipy.special import stdtr, stdtrit

    # Shares before squaring: tiny spreads squared twice would underflow to 0/0.
    df = 1 / sum((v / variance) ** 2 / free for v, free in zip(variances, dfs, strict=True))
    sd = math.sqrt(variance)
    half, t = float(stdtrit(df, 0.975)) * sd, mid / sd
    return Difference(mid, mid - half, mid + half, float(2 * stdtr(df, -abs(t))), t, df)


def welch(n: Sequence[int], mean: Sequence[float], sd: Sequence[float]) -> Difference:
    """Difference of two means, first minus second, their spreads unequal: Welch's test.

    Parameters
    ----------
    n : sequence of int, shape (2,)
        Shots.
    mean, sd : sequence of float, shape (2,)
        Means and standard deviations [any unit].

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
    """
    parts = [s**2 / count for s, count in zip(sd, n, strict=True)]
    return t_difference(float(mean[0] - mean[1]), parts, [count - 1 for count in n])


def mean_of(values: Array) -> Difference:
    """Mean of readings, or of the differences of pairs, with Student's interval.

    Parameters
    ----------
    values : array, shape (n,)
        Readings [any unit].

    Returns
    -------
    Difference
        Without interval for one only.
    """
    n = len(values)
    variance = float(np.var(values, ddof=1)) / n if n > 1 else 0.0
    return t_difference(float(np.mean(values)), [variance], [n - 1])


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


def stands_apart(values: Array) -> NDArray[np.bool_]:
    """Which readings are worth a second look; they are pointed out, never dropped [1]_.

    Parameters
    ----------
    values : array, shape (n,)
        Readings of one group [any unit].

    Returns
    -------
    array of bool, shape (n,)
        True where 0.6745 (x - median) / MAD is beyond the table's `outlier_z`; nowhere when over
        half the readings are alike.

    References
    ----------
    .. [1] Iglewicz and Hoaglin (1993), in NIST/SEMATECH e-Handbook 1.3.5.17.
    """
    away = np.abs(values - np.median(values))
    mad = float(np.median(away))
    return np.asarray((mad > 0) & (0.6745 * away > measuring("outlier_z") * mad))
