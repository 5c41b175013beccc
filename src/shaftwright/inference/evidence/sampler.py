"""Draws that agree with the shots: the prior's draws, led to the posterior step by step.

A sequential Monte Carlo sampler: evidence is let in by degrees, draws that disagree give way to
those that agree, and between degrees every draw moves about by steps that leave the tempered
posterior unchanged. One fixed seed; numpy only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array, Bools
from shaftwright.inference.belief import Belief
from shaftwright.inference.demand import Column
from shaftwright.inference.evidence.terms import (
    Q_FINE,
    Q_REACH,
    Z_REACH,
    Z_STEP,
    BuildTerms,
    scatter_states,
    slopes,
)
from shaftwright.inference.own_error import SCORES, SIZE, sizes
from shaftwright.physics import normal

Ints = NDArray[np.int_]
SEED = 20_260_102
_U_REACH, _U_STEP = 6.0, 0.01
_FEWEST = 0.3
#: moves go on until a draw remembers this share of where it was, or for so many
_MEMORY, _LAST_MEMORY = 0.45, 0.05
_MOVES, _LAST_MOVES = 3, 14
_LONG, _SHORT, _EASY = 0.95, 0.5, 0.6
_INFLATE = 1.1
_BLOCK = 256
_FEW = 8
#: chance below which the false way to read a build is left out, and the slopes tried for it [in/lb]
_NEVER = 1e-3
_SLOPES = np.geomspace(0.3, 2.5, 6)
_COARSE = 2.0


@dataclass(frozen=True)
class Model:
    """What the sampler works on; filled build by build.

    Attributes
    ----------
    fixed : array (K,)
        Mismatch of each build with every coefficient at its most likely value [lb].
    terms : list of BuildTerms
        What was seen of each build.
    pounds : dict
        Of every uncertain coefficient the change of each build's mismatch for one unit (K,) [lb]; a
        coefficient is its score's name, whether it falls as the score rises, and the standard
        deviations of its split normal.
    """

    fixed: Array
    terms: list[BuildTerms] = field(default_factory=list)
    pounds: dict[tuple[str, bool, float, float], Array] = field(default_factory=dict)

    def take(self, build: int, column: Column, row: int, score: str) -> None:
        """A coefficient of what is wanted of one build, which stands in a row of its demand."""
        x = float(np.ravel(column.x)[row if np.ndim(column.x) else 0])
        self.fixed[build] -= x * column.value
        if column.doubtful:
            self.add(score, build, -x, column.flip, column.below, column.above)

    def add(
        self, score: str, build: int, pounds: float, flip: bool = False,
        below: float = 1.0, above: float = 1.0,
    ) -> None:  # fmt: skip
        """Pounds of one build's mismatch for one unit of a coefficient; a plain score has units of one."""
        key = (score, flip, below, above)
        self.pounds.setdefault(key, np.zeros(len(self.fixed)))[build] += pounds

    @property
    def scores(self) -> list[str]:
        """Names of the standard scores by row, the slope's last."""
        own = [SIZE] if any(score in SCORES for score, *_ in self.pounds) else []
        return [*dict.fromkeys(score for score, *_ in self.pounds), *own, "slope"]

    def start(self, belief: Belief, fresh: Array) -> Array:
        """Prior draws of every score (rows, N); those that are not drivers take fresh rows in turn."""
        spare = iter(fresh)
        return np.stack(
            [belief.scores[n] if n in belief.scores else next(spare) for n in self.scores]
        )


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
    """

    scores: Array
    mismatch: Array
    slope: Array
    state: Ints


class _Tables:
    """Tables of many builds in one row, read at many places in one go."""

    def __init__(self, rows: Sequence[Array], reach: float, step: float) -> None:
        self.flat = np.stack(rows).ravel()
        self.after = self.flat[1:]
        self.reach, self.per, self.last = reach, 1.0 / step, float(rows[0].shape[-1] - 1.000001)
        self.first = np.arange(len(rows), dtype=np.intp) * rows[0].size

    def read(self, x: Array, first: Ints) -> Array:
        """In straight lines at x; `first` says where each one's table begins."""
        share = np.clip((x + self.reach) * self.per, 0.0, self.last)
        lower = share.astype(np.intp)
        share -= lower
        lower += first
        result = self.flat.take(lower)
        return result + (self.after.take(lower) - result) * share


class _Likelihood:
    """Log-likelihood of N draws at once, from tables."""

    def __init__(self, model: Model) -> None:
        self.fixed = model.fixed[:, None]
        u = np.arange(-_U_REACH, _U_REACH + _U_STEP / 2, _U_STEP)
        moved = {key: x for key, x in model.pounds.items() if np.any(x)}
        self.matrix = np.array([*moved.values()]).reshape(-1, len(model.fixed)).T.copy()
        names = model.scores
        self.rows = np.array([*(names.index(score) for score, *_ in moved), -1])
        #: arrows' own errors grow and shrink together with a score of their size
        self.sized = np.array([score in SCORES for score, *_ in moved])
        self.size_row = names.index(SIZE) if self.sized.any() else None
        values = [normal.split_deviation(-u if flip else u, *sds) for _, flip, *sds in moved]
        self.values = _Tables([*values, slopes(u)], _U_REACH, _U_STEP)
        terms = model.terms
        true = [np.log1p(-t.false_stiff) + t.words for t in terms]
        # a shaft that reads stiff falsely shows the words and shots of its mirror image
        apart = [
            np.log(np.maximum(t.false_stiff, 1e-12)) + t.marks + t.words[::-1] - honest
            for t, honest in zip(terms, true, strict=True)
        ]
        self.true, self.apart = (_Tables(t, Z_REACH, Z_STEP) for t in (true, apart))
        self.shots = _Tables([t.shots for t in terms], Q_REACH, Q_FINE)
        self.width = terms[0].shots.shape[1]
        self.weakest_safe = np.array([_weakest_safe(t) for t in terms])

    def mismatch(self, scores: Array) -> tuple[Array, Array]:
        """Mismatch of every build and slope, for draws (rows, N)."""
        values = self.values.read(scores[self.rows], self.values.first[:, None])
        if self.size_row is not None:
            values[:-1][self.sized] *= sizes(scores[self.size_row])
        return _times(self.matrix, values[:-1]) + self.fixed, values[-1]

    def of(self, mismatch: Array, slope: Array, state: Ints) -> Array:
        """Log-likelihood of everything seen (N,)."""
        table, first = state * self.width, self.shots.first
        shots = self.shots.read(mismatch * slope, first[:, None] + table)
        total: Array = shots.sum(axis=0)
        spoken: Array = self.true.read(mismatch, self.true.first[:, None]).sum(axis=0)
        # so weak that it could read stiff: the other way to read it counts too, as the mirror image
        at = np.flatnonzero(mismatch < self.weakest_safe[:, None])
        row, n = np.divmod(at, len(total))
        weak = mismatch.take(at)
        apart = self.apart.read(weak, self.apart.first[row]) - shots.take(at)
        apart += self.shots.read(-weak * slope.take(n), first[row] + table.take(n))
        # log(e^a + e^b) - a
        total += np.bincount(n, np.logaddexp(0.0, apart), len(total))
        return total + spoken


def _weakest_safe(terms: BuildTerms) -> float:
    """From which mismatch on the false way to read a build never matters, whatever slope and scatter."""
    last = len(terms.words) - 1
    place = np.arange(0, last + 1, round(_COARSE / Z_STEP))
    place = place[terms.false_stiff[place] > _NEVER]
    if not len(place):
        return -np.inf
    z = place * Z_STEP - Z_REACH
    centre = terms.shots.shape[1] // 2
    q = np.round(np.multiply.outer(z, _SLOPES) / Q_FINE).astype(np.intp).clip(-centre, centre)
    more = (terms.shots[:, centre - q] - terms.shots[:, centre + q]).max(axis=(0, 2))
    more += terms.words[last - place] - terms.words[place] + terms.marks
    more += np.log(terms.false_stiff[place]) - np.log1p(-terms.false_stiff[place])
    matters = np.flatnonzero(more > np.log(_NEVER))
    return float(z[matters[-1]]) + _COARSE if len(matters) else -np.inf


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
    # with many builds half of the draws find the way; all are there for the last moves
    count = start.shape[1] // (2 if len(model.terms) > _FEW else 1)
    scores = start[:, :count].copy()
    state = random.permutation(_shares(np.exp(states.log_weight), count))
    z, slope = likelihood.mismatch(scores)
    logs = likelihood.of(z, slope, state)
    heat, stage = 0.0, 0
    while heat < 1.0:
        stage += 1
        step = _next_step(logs, 1.0 - heat)
        heat = min(heat + step, 1.0)
        weight = np.exp(step * (logs - logs.max()))
        weight /= weight.sum()
        mean = scores @ weight
        apart = scores - mean[:, None]
        covariance = _INFLATE * _spread(apart, weight) + 1e-9 * np.eye(len(scores))
        last = heat >= 1.0
        count = start.shape[1] if last else count
        kept = _shares(weight, count)
        scores, z = scores[:, kept], z[:, kept]
        state, slope, logs = state[kept], slope[kept], logs[kept]
        root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
        inverse = np.asarray(np.linalg.inv(root), dtype=np.float64)
        shorter = easy = 1.0
        old_apart = scores - mean[:, None]
        old_fit = _fit(scores, old_apart, inverse)
        memory, moves = 1.0, 0
        while memory > (_LAST_MEMORY if last else _MEMORY) and moves < (
            _LAST_MOVES if last else _MOVES
        ):
            # where long steps often fail, every second one is short
            stride = shorter * (_SHORT if easy < _EASY and moves % 2 else _LONG)
            moves += 1
            # steps about the draws' own normal approximation, corrected by acceptance
            normals = random.standard_normal(scores.shape)
            new_apart = np.sqrt(1 - stride**2) * old_apart + stride * _times(root, normals)
            new = new_apart + mean[:, None]
            new_z, new_slope = likelihood.mismatch(new)
            new_logs = likelihood.of(new_z, new_slope, state)
            new_fit = _fit(new, new_apart, inverse)
            gain = heat * (new_logs - logs) + new_fit - old_fit
            taken = np.log(random.random(count)) < gain
            for old, changed in (
                (scores, new), (old_apart, new_apart), (z, new_z), (slope, new_slope),
                (logs, new_logs), (old_fit, new_fit),
            ):  # fmt: skip
                np.copyto(old, changed, where=taken)
            share = float(taken.mean())
            easy = min(easy, share)
            memory *= 1 - share * (1 - np.sqrt(1 - stride**2))
            if share < 0.25:
                shorter = max(shorter / 1.7, 0.15)
            if not last and (moves > 1 or stage % 2):
                continue
            # a step to a neighbouring size of scatter or shift
            new_state, allowed = _neighbours(state, states.shape, random)
            new_logs = likelihood.of(z, slope, new_state)
            gain = (
                heat * (new_logs - logs) + states.log_weight[new_state] - states.log_weight[state]
            )
            taken = allowed & (np.log(random.random(count)) < gain)
            state[taken], logs[taken] = new_state[taken], new_logs[taken]
    order = random.permutation(count)
    return Sample(scores[:, order], z[:, order], slope[order], state[order])


def _fit(scores: Array, apart: Array, inverse: Array) -> Array:
    """Log of the prior over the normal approximation that steps are made about (N,)."""
    fit: Array = 0.5 * (
        np.square(_times(inverse, apart)).sum(axis=0) - np.square(scores).sum(axis=0)
    )
    return fit


def _shares(weight: Array, count: int) -> Ints:
    """Systematic resampling: each index about weight x count times."""
    edges = np.cumsum(weight / weight.sum())
    edges[-1] = 1.0
    return np.searchsorted(edges, (np.arange(count) + 0.5) / count)


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
) -> tuple[Ints, Bools]:
    sigma, shift = np.divmod(state, shape[1])
    which = random.random(len(state)) < 0.6
    way = np.where(random.random(len(state)) < 0.5, -1, 1)
    new_sigma, new_shift = sigma + way * which, shift + way * ~which
    allowed = (new_sigma >= 0) & (new_sigma < shape[0]) & (new_shift >= 0) & (new_shift < shape[1])
    moved = np.where(allowed, new_sigma * shape[1] + new_shift, state)
    return moved, allowed
