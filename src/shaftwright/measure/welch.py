"""Tests of a difference: Welch, pairs, Holm, readings that stand apart; how many readings settle one."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from shaftwright.arrays import Array, Bools
from shaftwright.measure.anytime import Cells, Evidence
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


def stands_apart(values: Array) -> Bools:
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


_Z_80 = 0.8416212  # normal deviate passed with chance 0.80


@dataclass(frozen=True)
class Plan(Result):
    """What would settle a difference.

    Parameters
    ----------
    shots_each : int or None
        Further shots of each group; 0 when nothing more is needed, None when no plan within the
        table's limits settles it.
    restringings_each : int
        How often each group must be strung again for them; 0 if the present stringings do.
    settles : float
        The difference that would be called with chance 0.80 [unit of the readings].
    order : str
        The order to shoot in, e.g. "A B B A".
    next_settles : float
        The difference called with chance 0.80 after the next A-B-B-A block alone.
    """

    shots_each: int | None
    restringings_each: int
    settles: float = field(metadata=kept(json="settles_*"))
    order: str
    next_settles: float = field(metadata=kept(json="next_settles_*"))


def alternating(a: str, b: str, times: int) -> str:
    """An A-B-B-A order: drift of archer and air falls on both alike.

    Parameters
    ----------
    a, b : str
        The two groups.
    times : int
        Blocks of each.

    Returns
    -------
    str
        The blocks in order.

    Examples
    --------
    >>> alternating("A", "B", 2), alternating("A", "B", 3)
    ('A B B A', 'A B B A A B')
    """
    return " ".join((a, b, b, a)[i % 4] for i in range(2 * max(times, 1)))


def _even_scores(n: int) -> Array:
    """Values of mean 0 and mean square 1, spread as n normal ones would be."""
    if n < 2:
        return np.zeros(n)
    from scipy.special import ndtri

    scores = ndtri((np.arange(n) + 0.5) / n)
    return np.asarray(scores / math.sqrt(float((scores**2).sum()) / (n - 1)), dtype=float)


def _imagined(cells: Cells, now: Evidence, shots: int, strings: int, per: int) -> Cells:
    """The readings as they would stand, no difference shown, the spreads as they look now."""
    counts, means, squares = [], [], []
    scores = _even_scores(strings)
    for g, (n, mean) in enumerate(zip(cells.n, cells.mean, strict=True)):
        count, noise = n.astype(float), now.noise[g]
        if shots:
            # The further shots go to the newest stringing of the group: no restringing for them.
            count[np.flatnonzero(n)[-1]] += shots
        # Means of present stringings stay; their centre is moved so that no difference shows.
        present = np.where(n > 0, mean - float(n @ mean / n.sum()), 0.0)
        new = scores * math.hypot(now.restringing, noise / math.sqrt(per))
        own = np.repeat(np.arange(2) == g, strings)
        counts.append(np.r_[count, per * own])
        means.append(np.r_[present, np.tile(new, 2) * own])
        squares.append(cells.squares[g] + (shots + strings * (per - 1)) * noise**2)
    return Cells(np.array(counts), np.array(means), np.array(squares))


def settle(
    cells: Cells,
    now: Evidence,
    weighed: Callable[[Cells], Evidence],
    worth: float,
    names: tuple[str, str],
    alpha: float = 0.05,
) -> Plan:
    """The fewest further shots after which a difference worth having would be called.

    Parameters
    ----------
    cells : Cells
        The readings so far.
    now : Evidence
        What they say.
    weighed : callable
        What other readings would say: `weigh` with the doubts beforehand.
    worth : float
        The difference to settle [unit of the readings].
    names : tuple of str
        Names of the two groups, for the order.
    alpha : float
        Chance of a false alarm.

    Returns
    -------
    Plan
        Shots in the present stringings if these can settle it, else an A-B-B-A plan.

    Notes
    -----
    The plan imagines readings whose spreads are those seen so far and asks that a true difference
    of `worth` be called with chance 0.80; `calibrate/measure.py` counts how often it is.
    """
    per = int(measuring("shots_per_stringing"))
    then = weighed(_imagined(cells, now, 0, 2, per))
    next_settles = then.centre - then.edge(-1.0, alpha) + _Z_80 * then.sd

    def enough(shots: int, strings: int) -> bool:
        then = weighed(_imagined(cells, now, shots, strings, per))
        # How far from the true difference a reading falls with chance 0.80 at most, on one side.
        room = worth - _Z_80 * then.sd
        return room > 0 and then.log_e(then.centre - room) >= -math.log(alpha)

    def fewest(most: int, settles: Callable[[int], bool]) -> int | None:
        return 1 + bisect_left(range(1, most), True, key=settles) if settles(most) else None

    shots = fewest(int(measuring("most_shots")), lambda n: enough(n, 0))
    if shots is not None:
        return Plan(shots, 0, worth, alternating(*names, 2), next_settles)
    most = int(measuring("most_restringings"))
    times = fewest(most, lambda n: enough(0, n))
    if times is None:
        return Plan(None, most, worth, alternating(*names, 2), next_settles)
    return Plan(times * per, times, worth, alternating(*names, times), next_settles)
