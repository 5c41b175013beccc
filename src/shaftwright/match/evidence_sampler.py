"""Draws that agree with the shots: the prior's draws, led to the posterior step by step.

A sequential Monte Carlo sampler: evidence is let in by degrees, draws that disagree give way to
those that agree, and between degrees every draw moves about by steps that leave the tempered
posterior unchanged. One fixed seed; numpy only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shaftwright.match.evidence_terms import (
    Q_FINE,
    Q_REACH,
    Z_REACH,
    Z_STEP,
    BuildTerms,
    scatter_states,
)
from shaftwright.mechanics import normal

Array = NDArray[np.float64]
Ints = NDArray[np.int_]
SEED = 20_260_102
_U_REACH, _U_STEP = 6.0, 0.01
_FEWEST = 0.5
_MOVES, _LAST_MOVES = 3, 9
_STRIDE = 0.8
_INFLATE = 1.1
_BLOCK = 256


@dataclass(frozen=True)
class Coefficient:
    """One uncertain coefficient, and the pounds of mismatch that one unit of it makes.

    Attributes
    ----------
    row : int
        Row of the scores that drives it.
    flip : bool
        Whether a higher score means a lower coefficient.
    below, above : float
        Standard deviations of its split normal.
    pounds : array (K,)
        Change of each build's mismatch [lb].
    """

    row: int
    flip: bool
    below: float
    above: float
    pounds: Array


@dataclass(frozen=True)
class Model:
    """Everything the sampler needs.

    Attributes
    ----------
    rows : int
        Number of standard scores, the slope's last.
    fixed : array (K,)
        Mismatch of each build with every coefficient at its most likely value [lb].
    coefficients : sequence of Coefficient
        The uncertain ones.
    terms : sequence of BuildTerms
        What was seen of each build.
    slope : tuple of float
        Most likely slope and the standard deviations of its split normal [in/lb].
    """

    rows: int
    fixed: Array
    coefficients: Sequence[Coefficient]
    terms: Sequence[BuildTerms]
    slope: tuple[float, float, float]


@dataclass(frozen=True)
class Sample:
    """Equally likely joint draws.

    Attributes
    ----------
    scores : array (rows, N)
        Standard scores.
    mismatch : array (K, N)
        Of every build [lb].
    slope : array (N,)
        [in/lb] at 20 yd.
    state : int array (N,)
        Scatter state.
    reads_false : array (K, N)
        Chance that a build's shots read stiff because it is far too weak.
    """

    scores: Array
    mismatch: Array
    slope: Array
    state: Ints
    reads_false: Array


class _Likelihood:
    """Log-likelihood of N draws at once, from tables."""

    def __init__(self, model: Model) -> None:
        self.model = model
        u = np.arange(-_U_REACH, _U_REACH + _U_STEP / 2, _U_STEP)
        parts = [(c.below, c.above, c.flip) for c in model.coefficients]
        self.kinds = list(dict.fromkeys(parts))
        tables = [normal.split_deviation(-u if flip else u, b, a) for b, a, flip in self.kinds]
        value, below, above = model.slope
        self.slope_table = np.maximum(value + normal.split_deviation(u, below, above), 0.1)
        self.tables = tables
        pairs = dict.fromkeys(
            (c.row, k)
            for c, k in zip(model.coefficients, map(self.kinds.index, parts), strict=True)
        )
        self.pairs = list(pairs)
        self.matrix = np.zeros((len(model.fixed), len(self.pairs)))
        for c, part in zip(model.coefficients, parts, strict=True):
            self.matrix[:, self.pairs.index((c.row, self.kinds.index(part)))] += c.pounds
        self.shots = [np.ascontiguousarray(t.shots) for t in model.terms]
        self.has_shots = [bool(t.shots.any()) for t in model.terms]
        self.has_words = [bool(t.words.any()) for t in model.terms]
        with np.errstate(divide="ignore"):
            self.log_false = [
                np.log(np.maximum(t.false_stiff, 1e-12)) + t.marks for t in model.terms
            ]
            self.log_true = [np.log1p(-t.false_stiff) for t in model.terms]
        grid = np.arange(-Z_REACH, Z_REACH + Z_STEP / 2, Z_STEP)
        self.weakest_safe = [grid[np.argmax(t.false_stiff < 1e-6)] for t in model.terms]

    def mismatch(self, scores: Array) -> tuple[Array, Array]:
        """Mismatch of every build and slope, for draws (rows, N)."""
        lower, share = _place(scores, _U_REACH, _U_STEP, len(self.slope_table))
        values = np.empty((len(self.pairs), scores.shape[1]))
        for i, (row, kind) in enumerate(self.pairs):
            values[i] = _read(self.tables[kind], lower[row], share[row])
        slope = _read(self.slope_table, lower[-1], share[-1])
        return _times(self.matrix, values) + self.model.fixed[:, None], slope

    def base(self, mismatch: Array) -> tuple[Array, Array]:
        """Log-likelihood of words alone, taken at their word and as false stiff, (K, N) each."""
        true, false = np.empty_like(mismatch), np.empty_like(mismatch)
        size = len(self.log_true[0])
        for k, z in enumerate(mismatch):
            lower, share = _place(z, Z_REACH, Z_STEP, size)
            true[k] = _read(self.log_true[k], lower, share)
            false[k] = _read(self.log_false[k], lower, share)
            if self.has_words[k]:
                words = self.model.terms[k].words
                true[k] += _read(words, lower, share)
                false[k] += _read(words, size - 2 - lower, 1 - share)
        return true, false

    def two_ways(
        self, base: tuple[Array, Array], mismatch: Array, slope: Array, state: Ints
    ) -> tuple[Array, Array]:
        """`base` with the shots, (K, N) each."""
        true, false = base[0].copy(), base[1].copy()
        for k, z in enumerate(mismatch):
            if not self.has_shots[k]:
                continue
            table = self.shots[k]
            width = table.shape[1]
            lower, share = _place(z * slope, Q_REACH, Q_FINE, width)
            flat, start = table.ravel(), state * width
            true[k] += _read(flat, start + lower, share)
            if self.may_be_false(k, z):
                false[k] += _read(flat, start + width - 2 - lower, 1 - share)
        return true, false

    def may_be_false(self, k: int, z: Array) -> bool:
        """Whether any draw is so weak that it could read stiff."""
        return bool(z.min() < self.weakest_safe[k])

    def of(self, base: tuple[Array, Array], mismatch: Array, slope: Array, state: Ints) -> Array:
        """Log-likelihood (N,)."""
        true, false = self.two_ways(base, mismatch, slope, state)
        # log(e^a + e^b) by hand: the false way is nearly always far below
        high = np.maximum(true, false)
        total: Array = (high + np.log1p(np.exp(-np.abs(true - false)))).sum(axis=0)
        return total


def _times(matrix: Array, columns: Array) -> Array:
    """Matrix product in blocks too small for numpy's threads, which wait for each other when busy."""
    result = np.empty((len(matrix), columns.shape[1]))
    for start in range(0, columns.shape[1], _BLOCK):
        block = slice(start, start + _BLOCK)
        np.matmul(matrix, columns[:, block], out=result[:, block])
    return result


def _spread(apart: Array, weight: Array) -> Array:
    """Weighted covariance of draws, in the same small blocks."""
    total = np.zeros((len(apart), len(apart)))
    for start in range(0, apart.shape[1], _BLOCK):
        block = apart[:, start : start + _BLOCK]
        total += (block * weight[start : start + _BLOCK]) @ block.T
    return total


def _place(x: Array, reach: float, step: float, size: int) -> tuple[Ints, Array]:
    position = np.clip((x + reach) / step, 0.0, size - 1.000001)
    lower = position.astype(np.int64)
    return lower, position - lower


def _read(table: Array, lower: Ints, share: Array) -> Array:
    low = table.take(lower)
    result: Array = low + share * (table.take(lower + 1) - low)
    return result


def sample(model: Model, start: Array) -> Sample:
    """Draws of the posterior.

    Parameters
    ----------
    model : Model
        Coefficients and tables.
    start : array (rows, N)
        Draws of the prior: independent standard normal scores.

    Returns
    -------
    Sample
        N equally likely draws in no order.
    """
    random = np.random.default_rng(SEED)
    likelihood = _Likelihood(model)
    states = scatter_states()
    count = start.shape[1]
    scores = start.copy()
    state = random.permutation(_shares(np.exp(states.log_weight), count))
    z, slope = likelihood.mismatch(scores)
    base = likelihood.base(z)
    logs = likelihood.of(base, z, slope, state)
    heat = 0.0
    while heat < 1.0:
        step = _next_step(logs, 1.0 - heat)
        heat = min(heat + step, 1.0)
        weight = np.exp(step * (logs - logs.max()))
        weight /= weight.sum()
        mean = scores @ weight
        apart = scores - mean[:, None]
        covariance = _INFLATE * _spread(apart, weight) + 1e-9 * np.eye(len(scores))
        kept = _shares(weight, count)
        scores, state, z, slope, logs = (
            scores[:, kept], state[kept], z[:, kept], slope[kept], logs[kept]
        )  # fmt: skip
        base = (base[0][:, kept], base[1][:, kept])
        root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
        inverse = np.asarray(np.linalg.inv(root), dtype=np.float64)
        stride = _STRIDE
        for _ in range(_LAST_MOVES if heat >= 1.0 else _MOVES):
            # steps about the draws' own normal approximation, corrected by acceptance
            normals = random.standard_normal(scores.shape)
            old_apart = scores - mean[:, None]
            new_apart = np.sqrt(1 - stride**2) * old_apart + stride * _times(root, normals)
            new = new_apart + mean[:, None]
            new_z, new_slope = likelihood.mismatch(new)
            new_base = likelihood.base(new_z)
            new_logs = likelihood.of(new_base, new_z, new_slope, state)
            gain = heat * (new_logs - logs)
            gain += 0.5 * (np.square(scores).sum(axis=0) - np.square(new).sum(axis=0))
            gain += 0.5 * (
                np.square(_times(inverse, new_apart)).sum(axis=0)
                - np.square(_times(inverse, old_apart)).sum(axis=0)
            )
            taken = np.log(random.random(count)) < gain
            scores[:, taken], z[:, taken] = new[:, taken], new_z[:, taken]
            slope[taken], logs[taken] = new_slope[taken], new_logs[taken]
            for part, new_part in zip(base, new_base, strict=True):
                part[:, taken] = new_part[:, taken]
            if taken.mean() < 0.25:
                stride = max(stride / 1.7, 0.1)
            # a step to a neighbouring size of scatter or shift
            new_state, allowed = _neighbours(state, states.shape, random)
            new_logs = likelihood.of(base, z, slope, new_state)
            gain = (
                heat * (new_logs - logs) + states.log_weight[new_state] - states.log_weight[state]
            )
            taken = allowed & (np.log(random.random(count)) < gain)
            state[taken], logs[taken] = new_state[taken], new_logs[taken]
    order = random.permutation(count)
    scores, state, z, slope = scores[:, order], state[order], z[:, order], slope[order]
    honest, turned = likelihood.two_ways(likelihood.base(z), z, slope, state)
    false = 1 / (1 + np.exp(np.clip(honest - turned, -500, 500)))
    return Sample(scores, z, slope, state, false)


def _shares(weight: Array, count: int) -> Ints:
    """Systematic resampling: each index about weight x count times."""
    edges = np.cumsum(weight / weight.sum())
    edges[-1] = 1.0
    index: Ints = np.searchsorted(edges, (np.arange(count) + 0.5) / count)
    return index


def _next_step(logs: Array, left: float) -> float:
    """How much more evidence keeps half of the draws alive."""

    def alive(step: float) -> float:
        weight = np.exp(step * (logs - logs.max()))
        return float(weight.sum() ** 2 / np.square(weight).sum() / len(logs))

    if alive(left) >= _FEWEST:
        return left
    low, high = 0.0, left
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if alive(middle) >= _FEWEST else (low, middle)
    return max(low, 1e-4 * left, 1e-6)


def _neighbours(
    state: Ints, shape: tuple[int, int], random: np.random.Generator
) -> tuple[Ints, NDArray[np.bool_]]:
    sigma, shift = np.divmod(state, shape[1])
    which = random.random(len(state)) < 0.6
    way = np.where(random.random(len(state)) < 0.5, -1, 1)
    new_sigma, new_shift = sigma + way * which, shift + way * ~which
    allowed = (new_sigma >= 0) & (new_sigma < shape[0]) & (new_shift >= 0) & (new_shift < shape[1])
    moved = np.where(allowed, new_sigma * shape[1] + new_shift, state)
    return moved, allowed
