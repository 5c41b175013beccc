"""The draws of a test kit: some to choose it on, others to state its chance on.

The kit that covers most of some draws is partly the kit that those draws happen to favour. So it is
chosen on one set, and what it promises is counted on another that had no part in the choosing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_solve import Bits
from shaftwright.inference.band import match_limits, stiffness_lb
from shaftwright.inference.belief import Belief, drivers_of, latin_hypercube, prior_belief
from shaftwright.physics.normal import quantile
from shaftwright.records.builds import Builds
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
SEED = 20_260_202
_FRESH_SEED = 20_260_203
FRESH = 16_384


def two_sets(asked: Scenario) -> tuple[Belief, Belief]:
    """Draws to choose on, and draws to state the chance on.

    Parameters
    ----------
    asked : Scenario
        Before any shot the second set is drawn anew, and larger; after shots the draws that agree
        with them are shared out, every second one to each.

    Returns
    -------
    tuple of Belief
        Without a draw in common.
    """
    if is_prior(asked):
        names = drivers_of(asked.book)
        table = latin_hypercube(len(names), FRESH, _FRESH_SEED)
        return asked.belief, Belief({name: table[i] for i, name in enumerate(names)})
    return shared_out(asked.belief)


def is_prior(asked: Scenario) -> bool:
    """Whether nothing has changed the draws since they were drawn from the rules alone."""
    scores, prior = asked.belief.scores, prior_belief(asked.book).scores
    return scores.keys() == prior.keys() and all(
        np.array_equal(scores[name], prior[name]) for name in prior
    )


def shared_out(belief: Belief) -> tuple[Belief, Belief]:
    """A belief's draws in two halves, every second one to each.

    Parameters
    ----------
    belief : Belief
        At least two draws.

    Returns
    -------
    tuple of Belief
        Of the same size, or the first one larger by a draw.
    """
    first = Belief({k: v[::2] for k, v in belief.scores.items()}, belief.learned)
    second = Belief({k: v[1::2] for k, v in belief.scores.items()}, belief.learned)
    return first, second


def wider(belief: Belief) -> Belief:
    """The same draws with every doubt larger by the share of rules/shopping.yaml.

    Parameters
    ----------
    belief : Belief
        What is believed.

    Returns
    -------
    Belief
        Its scores farther from their middle.
    """
    factor = 1 + shop_setting("doubt_too_narrow_pct") / 100
    scores = {}
    for name, score in belief.scores.items():
        middle = float(score.mean()) if belief.learned else 0.0
        scores[name] = middle + factor * (score - middle)
    return Belief(scores, belief.learned)


def own_scores(shaft: int, draws: int, fresh: bool) -> Array:
    """One shaft's own doubt, apart from everything else, with a fixed seed.

    Parameters
    ----------
    shaft : int
        Which shaft class.
    draws : int
        How many.
    fresh : bool
        Whether for the set on which chances are stated.

    Returns
    -------
    array (draws,)
        Standard scores, stratified.
    """
    strata = quantile((np.arange(draws) + 0.5) / draws)
    return np.random.default_rng((SEED, int(fresh), shaft)).permutation(strata)


def tunable(
    sides: Sequence[tuple[Scenario, Belief]], builds: Builds, shortest_in: Array,
    shaft: NDArray[np.int64], fresh: bool = False,
) -> Bits:  # fmt: skip
    """For every row the packed draws in which some allowed length is within tolerance of every rig.

    Parameters
    ----------
    sides : sequence of (Scenario, Belief)
        One rig or several, each with its draws; draws of the same place belong together.
    builds : Builds
        n rows at full length, rows of one shaft side by side.
    shortest_in : array (n,)
        Shortest allowed length of each [in]; longer than the shaft where none is.
    shaft : int array (n,)
        Shaft class of each.
    fresh : bool
        Whether for the set on which chances are stated.

    Returns
    -------
    uint64 array (n, w)
        One bit a draw.
    """
    draws = sides[0][1].size
    packed = np.zeros((len(shaft), -(-draws // 64)), dtype=np.uint64)
    rows = np.flatnonzero(shortest_in <= builds.length_in + 1e-9)
    if not len(rows):
        return packed
    full = builds.take(rows)
    short = replace(full, length_in=shortest_in[rows])
    low, high = match_limits(full, setting("tolerance_pct") / 100)
    sd = stiffness_lb(full) * full.spine_sd_pct / 100
    ends = [[_end(asked, end, belief) for end in (short, full)] for asked, belief in sides]
    within = _some_length if len(sides) == 1 else _some_common_length
    of_row = shaft[rows]
    for at in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(of_row)) + 1):
        doubt = sd[at[0]] * own_scores(int(of_row[at[0]]), draws, fresh)
        wanted = [[_wanted(end, at, doubt) for end in of_rig] for of_rig in ends]
        packed[rows[at]] = _pack(within(wanted, low[at[0]], high[at[0]]))
    return packed


def _end(asked: Scenario, builds: Builds, belief: Belief) -> tuple[Array, Singles, Singles]:
    common, amounts, coefficients = asked.demand(builds).shared(belief)
    return common, amounts.astype(np.float32), coefficients.astype(np.float32)


def _wanted(
    end: tuple[Array, Singles, Singles], rows: NDArray[np.intp], doubt: Array
) -> Singles:  # fmt: skip
    shared, taken, table = end
    want: Singles = taken[rows] @ table.reshape(-1, len(shared))
    want += (shared + doubt).astype(np.float32)
    return want


def _some_length(wanted: list[list[Singles]], low: float, high: float) -> NDArray[np.bool_]:
    """One rig: some length matches when the ends lie on either side of the tolerance, or one within."""
    below = np.zeros(wanted[0][0].shape, dtype=bool)
    above = np.zeros_like(below)
    for want in wanted[0]:
        below |= want <= high
        above |= want >= low
    return below & above


def _some_common_length(wanted: list[list[Singles]], low: float, high: float) -> NDArray[np.bool_]:
    """Several rigs: the lengths that match each are an interval, and the intervals must meet."""
    start = np.zeros(wanted[0][0].shape, dtype=np.float32)
    stop = np.ones_like(start)
    for short, long in wanted:
        # what is wanted rises in a straight line from the shortest length to full
        rise = np.maximum(long - short, np.float32(1e-3))
        start = np.maximum(start, (np.float32(low) - short) / rise)
        stop = np.minimum(stop, (np.float32(high) - short) / rise)
    met: NDArray[np.bool_] = start <= stop
    return met


def _pack(hit: NDArray[np.bool_]) -> Bits:
    """Rows of booleans as 64-bit words."""
    packed = np.packbits(hit, axis=1)
    pad = -packed.shape[1] % 8
    return np.ascontiguousarray(np.pad(packed, ((0, 0), (0, pad)))).view(np.uint64)
