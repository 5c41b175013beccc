"""The chance of a kit: draws to choose it on, others to state it on, and where a shaft of it can be tuned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array, Bools
from shaftwright.inference.band import match_limits, own_sd_lb
from shaftwright.inference.belief import Belief, drivers_of, latin_hypercube, prior_belief
from shaftwright.inference.own_error import DRIVERS
from shaftwright.parameters import setting
from shaftwright.physics.normal import quantile
from shaftwright.records.builds import Builds
from shaftwright.rules.sections import evidence_rules

Bits = NDArray[np.uint64]
Ints = NDArray[np.int64]
Singles = NDArray[np.float32]
_SEED, _FRESH_SEED, _BOW_SEED = 20_260_202, 20_260_203, 20_260_303
FRESH = 16_384


@dataclass(frozen=True)
class Side:
    """One bow or purpose that a kit must serve, with its two sets of draws."""

    scenario: Scenario
    choosing: Belief
    fresh: Belief


def sides_of(scenario: Scenario, other: Scenario | None = None) -> tuple[Side, ...]:
    """What a kit is counted on; of two bows the draws of one place belong together."""
    both = [scenario] if other is None else [scenario, other]
    beliefs = [asked.belief for asked in both]
    learned = [belief.learned for belief in beliefs]
    if other is not None and scenario.rig.bow == other.rig.bow:
        # one bow: what was learned for one purpose holds for the other
        beliefs = [beliefs[1] if learned == [False, True] else beliefs[0]] * 2
    elif learned == [False, True]:
        beliefs[0] = _other_bow(beliefs[1], scenario)
    elif other is not None and not learned[1]:
        beliefs[1] = _other_bow(beliefs[0], other)
    if any(learned):
        # a belief's draws in two halves, every second one to each
        sets = [(b.some(slice(0, None, 2)), b.some(slice(1, None, 2))) for b in beliefs]
    else:
        names = drivers_of(scenario.book)
        table = latin_hypercube(len(names), FRESH, _FRESH_SEED)
        fresh = [Belief(dict(zip(names, table, strict=True)))] * len(both)
        if beliefs[-1] is not beliefs[0]:
            fresh[1] = _other_bow(fresh[0], both[1])
        sets = list(zip(beliefs, fresh, strict=True))
    return tuple(Side(asked, *two) for asked, two in zip(both, sets, strict=True))


def _other_bow(belief: Belief, other: Scenario) -> Belief:
    """A belief with what is particular to one bow drawn anew."""
    anew = evidence_rules().anew
    prior = prior_belief(other.book).scores
    scores, random = dict(belief.scores), np.random.default_rng(_BOW_SEED)
    for code in (*anew.any_change, *anew.limbs, *DRIVERS):
        if code in scores:
            fresh = np.resize(prior[code], belief.size) if belief.learned else scores[code]
            scores[code] = random.permutation(fresh)
    return Belief(scores, belief.learned)


def tunable(
    sides: Sequence[Side], builds: Builds, spans: tuple[Array, Array], spine: Ints, fresh: bool = False,
) -> Bits:  # fmt: skip
    """For every row the packed draws in which some length of its span suits every side.

    What is wanted rises in a straight line with length, so that the two ends of the span tell. `spine` is the
    place of the row's shaft in its line: a shaft's own error is one in all its rows, which lie side by side.
    """
    beliefs = [side.fresh if fresh else side.choosing for side in sides]
    draws = beliefs[0].size
    packed = np.zeros((len(builds), -(-draws // 64)), dtype=np.uint64)
    rows = np.flatnonzero(spans[0] <= spans[1] + 1e-9)
    if not len(rows):
        return packed
    some = builds.take(rows)
    low, high = match_limits(some, setting("matching.tolerance_pct") / 100)
    ends = [
        [_end(side.scenario, replace(some, length_in=span[rows]), belief) for span in spans]
        for side, belief in zip(sides, beliefs, strict=True)
    ]
    edges = np.flatnonzero((np.diff(spine[rows]) != 0) | (np.diff(some.shaft) != 0)) + 1
    for at in np.split(np.arange(len(rows)), edges):
        own = _own_scores(int(spine[rows[at[0]]]), draws, fresh)
        wanted = [[_wanted(end, at, own) for end in of_side] for of_side in ends]
        packed[rows[at]] = _pack(_some_length(wanted, low[at[0]], high[at[0]]))
    return packed


def _own_scores(spine: int, draws: int, fresh: bool) -> Array:
    strata = quantile((np.arange(draws) + 0.5) / draws)
    return np.random.default_rng((_SEED, int(fresh), spine)).permutation(strata)


class _End(NamedTuple):
    """What is wanted at one end of each row's lengths, as `Demand.shared` has it, and what is its own."""

    common: Array
    amounts: Singles
    coefficients: Singles
    sd: Array


def _end(asked: Scenario, builds: Builds, belief: Belief) -> _End:
    demand = asked.demand(builds)
    common, amounts, coefficients = demand.shared(belief)
    return _End(
        common,
        amounts.astype(np.float32),
        coefficients.astype(np.float32),
        own_sd_lb(demand, belief),
    )


def _wanted(end: _End, rows: Ints, own: Array) -> Singles:
    want: Singles = end.amounts[rows] @ end.coefficients
    want += end.common.astype(np.float32)
    want += end.sd[rows, None].astype(np.float32) * own.astype(np.float32)
    return want


def _some_length(wanted: list[list[Singles]], low: float, high: float) -> Bools:
    """Where the spans of lengths that suit each side meet."""
    if len(wanted) == 1:
        short, long = wanted[0]
        return np.asarray((np.minimum(short, long) <= high) & (np.maximum(short, long) >= low))
    start = np.zeros(wanted[0][0].shape, dtype=np.float32)
    stop = np.ones_like(start)
    for short, long in wanted:
        # in a few of a hundred draws what is wanted falls with length
        rise = long - short
        rise[np.abs(rise) < 1e-3] = 1e-3
        one, two = (np.float32(low) - short) / rise, (np.float32(high) - short) / rise
        start = np.maximum(start, np.minimum(one, two))
        stop = np.minimum(stop, np.maximum(one, two))
    return np.asarray(start <= stop)


def _pack(hit: Bools) -> Bits:
    packed = np.packbits(hit, axis=1)
    pad = -packed.shape[1] % 8
    return np.ascontiguousarray(np.pad(packed, ((0, 0), (0, pad)))).view(np.uint64)


def popcount(bits: Bits) -> Ints:
    """Number of bits set in each row."""
    if hasattr(np, "bitwise_count"):
        return np.asarray(np.bitwise_count(bits).sum(axis=-1, dtype=np.int64))
    return np.asarray(np.unpackbits(bits.view(np.uint8), axis=-1).sum(axis=-1, dtype=np.int64))


def covered(bits: Bits) -> int:
    """In how many draws one of the rows can be tuned."""
    return int(popcount(np.bitwise_or.reduce(bits, axis=0))) if len(bits) else 0
