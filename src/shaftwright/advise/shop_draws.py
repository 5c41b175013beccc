"""The draws of a test kit: some to choose it on, others to state its chance on.

The kit that covers most of some draws is partly the kit that those draws happen to favour. So it is
chosen on one set, and what it promises is counted on another that had no part in the choosing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.advise.choose import Question
from shaftwright.advise.shop_solve import Bits
from shaftwright.match.band import match_limits, stiffness_lb
from shaftwright.match.belief import Belief, drivers_of, latin_hypercube, prior_belief
from shaftwright.mechanics.normal import quantile
from shaftwright.records.builds import Builds
from shaftwright.rulebook.purposes import setting

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
SEED = 20_260_202
_FRESH_SEED = 20_260_203
_FRESH = 4096


def two_sets(asked: Question) -> tuple[Belief, Belief]:
    """Draws to choose on, and draws to state the chance on.

    Parameters
    ----------
    asked : Question
        Before any shot the second set is drawn anew, and larger; after shots the draws that agree
        with them are shared out, every second one to each.

    Returns
    -------
    tuple of Belief
        Without a draw in common.
    """
    belief = asked.belief
    prior = prior_belief(asked.book)
    as_shipped = belief.scores.keys() == prior.scores.keys() and all(
        np.array_equal(belief.scores[name], prior.scores[name]) for name in prior.scores
    )
    if as_shipped:
        names = drivers_of(asked.book)
        table = latin_hypercube(len(names), _FRESH, _FRESH_SEED)
        return belief, Belief({name: table[i] for i, name in enumerate(names)})
    return shared_out(belief)


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
    asked: Question, builds: Builds, shortest_in: Array, shaft: NDArray[np.int64], belief: Belief,
    fresh: bool = False,
) -> Bits:  # fmt: skip
    """For every row the packed draws in which some allowed length is within tolerance.

    Parameters
    ----------
    asked : Question
        Rig and rules.
    builds : Builds
        n rows at full length, rows of one shaft side by side.
    shortest_in : array (n,)
        Shortest allowed length of each [in]; longer than the shaft where none is.
    shaft : int array (n,)
        Shaft class of each.
    belief : Belief
        D draws.
    fresh : bool
        Whether for the set on which chances are stated.

    Returns
    -------
    uint64 array (n, w)
        One bit a draw.
    """
    packed = np.zeros((len(shaft), -(-belief.size // 64)), dtype=np.uint64)
    rows = np.flatnonzero(shortest_in <= builds.length_in + 1e-9)
    if not len(rows):
        return packed
    full = builds.take(rows)
    short = replace(full, length_in=shortest_in[rows])
    low, high = match_limits(full, setting("tolerance_pct") / 100)
    sd = stiffness_lb(full) * full.spine_sd_pct / 100
    ends: list[tuple[Array, Singles, Singles]] = []
    for side in (short, full):
        common, amounts, coefficients = asked.demand(side).shared(belief)
        ends.append((common, amounts.astype(np.float32), coefficients.astype(np.float32)))
    of_row = shaft[rows]
    for at in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(of_row)) + 1):
        doubt = sd[at[0]] * own_scores(int(of_row[at[0]]), belief.size, fresh)
        below = np.zeros((len(at), belief.size), dtype=bool)
        above = np.zeros_like(below)
        for shared, taken, table in ends:
            want: Singles = taken[at] @ table.reshape(-1, belief.size)
            want += (shared + doubt).astype(np.float32)
            below |= want <= high[at[0]]
            above |= want >= low[at[0]]
        packed[rows[at]] = _pack(below & above)
    return packed


def _pack(hit: NDArray[np.bool_]) -> Bits:
    """Rows of booleans as 64-bit words."""
    packed = np.packbits(hit, axis=1)
    pad = -packed.shape[1] % 8
    return np.ascontiguousarray(np.pad(packed, ((0, 0), (0, pad)))).view(np.uint64)
