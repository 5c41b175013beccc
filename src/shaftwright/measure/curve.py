"""A smooth curve through readings at a few settings, and the brace heights as good as the best."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shaftwright.arrays import Array, Bools
from shaftwright.measure.use import log_normal
from shaftwright.resources import measuring
from shaftwright.result import Result
from shaftwright.units import Interval, inches, series

_DRAWS = 2000
SEED = 1
_MOST_STEPS = 400
_GRID = 65


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

    def near_best(self, sign: float, within: float) -> Bools:
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
    steps = 0
    if high > low:
        steps = min(max(round((high - low) / measuring("brace_step_in")), 1), _MOST_STEPS)
    grid = np.linspace(low, high, steps + 1)
    at = np.vander((grid - (low + high) / 2) / half, degree + 1, increasing=True)
    return Curve(grid, centre + drawn @ at.T, degree)


@dataclass(frozen=True)
class Part:
    """One thing read over brace height, in steps that an archer just notices, more being better.

    Parameters
    ----------
    good, what : str
        What a good range of it is called, and what it is: `quiet`, `sound`.
    brace_in, mean, variance : array, shape (n,)
        Brace heights, one a stringing [in], mean readings [steps], and how far the usual scatter of
        shots and stringings lets each stray [steps^2].
    """

    good: str
    what: str
    brace_in: Array
    mean: Array
    variance: Array


@dataclass(frozen=True)
class Optimum(Result):
    """Where to brace.

    Parameters
    ----------
    low_in, high_in : float
        Lowest and highest of the heights to brace at, in eighths [in].
    why : str
        A clause: what is good there, or why any height will do.
    kind : str
        `inside` the heights tried, at the `end` of them, or `any` of them.
    go_on : str or None
        With `end`: `lower` or `higher`.
    sure : str
        How sure, in words; empty with `any`.
    luck : float
        Share of sweeps of nothing but the usual scatter that would look as convincing.
    best_in : float
        Middle of the best [in].
    """

    low_in: float
    high_in: float
    why: str
    kind: Literal["inside", "end", "any"]
    go_on: Literal["lower", "higher"] | None
    sure: str
    luck: float
    best_in: float


def optimum(parts: Sequence[Part]) -> Optimum | None:
    """The heights tried whose loss against the best is less than an archer notices.

    Parameters
    ----------
    parts : sequence of Part
        What was read.

    Returns
    -------
    Optimum or None
        None where nothing was read at three heights.

    Notes
    -----
    Each part has a parabola by least squares; their sum is the worth of a height. Bare scatter bends it
    too. Its two coefficients b, in their own doubt C, make the statistic
    F = (b' C^-1 b / 2) / ((r + v) / (k + v)), with r the parts' squared departures from their parabolas
    on k degrees of freedom and v the weight of the usual scatter: a sweep more even than usual counts for
    more. With nothing but the usual scatter b' C^-1 b is chi-squared on 2 and r on k degrees of freedom,
    and F exceeds f with the chance exp(-f v / (k + v)) (1 + 2 f / (k + v))^(-k/2). Which way b points is
    then independent of its size, so this chance times the share of directions that put the best inside
    the range (or at its ends) is how often luck alone looks as convincing.
    """
    parts, low, high = _common([p for p in parts if len(np.unique(p.brace_in)) > 2])
    if not parts:
        return None
    tried = np.unique(np.concatenate([p.brace_in for p in parts]))
    tried = tried[(tried >= low) & (tried <= high)]
    centre, half = (low + high) / 2, (high - low) / 2

    def powers(brace_in: Array) -> Array:
        return np.vander((brace_in - centre) / half, 3, increasing=True)

    fits, spread, rest, free = [], np.zeros((3, 3)), 0.0, 0
    for part in parts:
        design = powers(part.brace_in)
        doubt = np.linalg.inv(design.T @ (design / part.variance[:, None]))
        fits.append(doubt @ design.T @ (part.mean / part.variance))
        spread += doubt
        rest += float(((part.mean - design @ fits[-1]) ** 2 / part.variance).sum())
        free += len(part.mean) - 3
    worth = np.sum(fits, axis=0)
    inside = worth[2] < 0 and abs(worth[1]) <= -2 * worth[2]
    luck = _luck(worth[1:], spread[1:, 1:], rest, free, bool(inside))
    grid = np.linspace(low, high, _GRID)
    best = float(grid[np.argmax(powers(grid) @ worth)])
    near = powers(tried) @ worth >= (powers(grid) @ worth).max() - 1
    moved = [bool(np.ptp(powers(tried) @ fit) >= 1) for fit in fits]
    if near.all() or luck > measuring("luck_pct") / 100:
        why = _flat(parts) if near.all() else _scattered(best, parts)
        return Optimum(_eighth(low), _eighth(high), why, "any", None, "", luck, best)
    go_on: Literal["lower", "higher"] | None = None
    if not inside:
        go_on = "lower" if best == low else "higher"
    good = _run(tried, near, go_on)
    ends = (good[0], good[-1]) if len(good) else (best, best)
    return Optimum(
        _eighth(ends[0]), _eighth(ends[1]), _good(parts, moved), "end" if go_on else "inside", go_on,
        _sure(luck), luck, best,
    )  # fmt: skip


def _run(tried: Array, near: Bools, go_on: str | None) -> Array:
    """The heights near the best; where the best is at one end, only those next to it."""
    if go_on is None:
        return tried[near]
    if go_on == "higher":
        return _run(tried[::-1], near[::-1], "lower")[::-1]
    return tried[: int(np.argmin(np.append(near, False)))]


def _common(parts: list[Part]) -> tuple[list[Part], float, float]:
    """The parts that can be added up, and the range of heights that all of them reach."""
    if not parts:
        return [], 0.0, 0.0
    low = max(float(p.brace_in.min()) for p in parts)
    high = min(float(p.brace_in.max()) for p in parts)
    heights = {float(b) for p in parts for b in p.brace_in if low <= b <= high}
    if len(parts) > 1 and len(heights) < 3:
        return _common([max(parts, key=lambda p: len(np.unique(p.brace_in)))])
    return parts, low, high


def _luck(worth: Array, spread: Array, rest: float, free: int, inside: bool) -> float:
    """How often the usual scatter alone looks as convincing, in this shape."""
    root = np.linalg.cholesky(spread)
    size = np.linalg.solve(root, worth)
    weight = measuring("usual_scatter_heights")
    per = free + weight
    f = float(size @ size) / 2 / ((rest + weight) / per)
    one, other = (np.linalg.solve(root, np.array(ray)) for ray in ((2.0, -1.0), (-2.0, -1.0)))
    cosine = float(one @ other) / math.sqrt(float(one @ one) * float(other @ other))
    share = math.acos(cosine) / (2 * math.pi)
    tail = math.exp(-f * weight / per) * (1 + 2 * f / per) ** (-free / 2)
    return float(tail * (share if inside else 1 - share))


def _eighth(value_in: float) -> float:
    return round(value_in * 8) / 8


def _sure(luck: float) -> str:
    if luck <= measuring("sure_pct") / 100:
        return "sure"
    return "fairly sure" if luck <= measuring("fairly_sure_pct") / 100 else "likely, not sure yet"


def _good(parts: Sequence[Part], moved: Sequence[bool]) -> str:
    """What is good there, and what hardly changes."""
    some = [p.good for p, m in zip(parts, moved, strict=True) if m] or [p.good for p in parts]
    still = [p.what for p, m in zip(parts, moved, strict=True) if not m and any(moved)]
    rest = f", {series(still)} hardly change{'s' * (len(still) == 1)}" if still else ""
    return series(some) + (" together" if len(some) > 1 else " there") + rest


def _flat(parts: Sequence[Part]) -> str:
    what = series([p.what for p in parts])
    return f"{what} change{'s' * (len(parts) == 1)} by less than is noticed"


def _scattered(best: float, parts: Sequence[Part]) -> str:
    what = series([p.what for p in parts])
    return (
        f"{what} differ{'s' * (len(parts) == 1)} no more than shots scatter; best near "
        f"{inches(_eighth(best))}, which may be luck: two more shots at each height would tell"
    )
