"""The next cheapest measurement: how many shots, how many restringings, in which order."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shaftwright.measure.compare.anytime import Array, Cells, Evidence, weigh
from shaftwright.measure.values import Spread, number

_Z_80 = 0.8416212  # normal deviate passed with chance 0.80


@dataclass(frozen=True)
class Plan:
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
    settles: float
    order: str
    next_settles: float


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
    sums = []
    for n, mean, squares, noise in (
        (cells.n_a, cells.mean_a, cells.squares_a, now.noise_a),
        (cells.n_b, cells.mean_b, cells.squares_b, now.noise_b),
    ):
        held = n > 0
        count = n.astype(float).copy()
        if shots and held.any():
            # The further shots go to the newest stringing of the group: no restringing for them.
            count[np.flatnonzero(held)[-1]] += shots
        middle = float(n @ mean / n.sum())
        more = shots + strings * (per - 1)
        # Means of present stringings stay; their centre is moved so that no difference shows.
        sums.append((count, np.where(held, mean - middle, 0.0), squares + more * noise**2, noise))
    (n_a, mean_a, squares_a, noise_a), (n_b, mean_b, squares_b, noise_b) = sums
    scores, gap, zero = _even_scores(strings), np.full(strings, float(per)), np.zeros(strings)
    new_a = scores * math.hypot(now.restringing, noise_a / math.sqrt(per))
    new_b = scores * math.hypot(now.restringing, noise_b / math.sqrt(per))
    return Cells(
        np.concatenate([n_a, gap, zero]),
        np.concatenate([n_b, zero, gap]),
        np.concatenate([mean_a, new_a, zero]),
        np.concatenate([mean_b, zero, new_b]),
        squares_a,
        squares_b,
    )


def settle(
    cells: Cells,
    now: Evidence,
    noise: Spread,
    restringing: Spread,
    worth: float,
    names: tuple[str, str],
    alpha: float = 0.05,
    systematic: float = 0.0,
) -> Plan:
    """The fewest further shots after which a difference worth having would be called.

    Parameters
    ----------
    cells : Cells
        The readings so far.
    now : Evidence
        What they say.
    noise, restringing : Spread
        Doubts before the readings, as given to `weigh`.
    worth : float
        The difference to settle [unit of the readings].
    names : tuple of str
        Names of the two groups, for the order.
    alpha : float
        Chance of a false alarm.
    systematic : float
        As given to `weigh`.

    Returns
    -------
    Plan
        Shots in the present stringings if these can settle it, else an A-B-B-A plan.

    Notes
    -----
    The plan imagines readings whose spreads are those seen so far and asks that a true difference
    of `worth` be called with chance 0.80; `calibrate/measure.py` counts how often it is.
    """

    def ahead(shots: int, strings: int, per: int) -> Evidence:
        cells_then = _imagined(cells, now, shots, strings, per)
        return weigh(cells_then, noise, restringing, now.scale, systematic)

    def enough(shots: int, strings: int, per: int) -> bool:
        then = ahead(shots, strings, per)
        # How far from the true difference a reading falls with chance 0.80 at most, on one side.
        room = worth - _Z_80 * then.sd
        return room > 0 and then.log_e(then.centre - room) >= -math.log(alpha)

    per = int(number("shots_per_stringing"))
    then = ahead(0, 2, per)
    next_settles = then.centre - then.edge(-1.0, alpha) + _Z_80 * then.sd
    most = int(number("most_shots"))
    if enough(most, 0, 1):
        low, high = 0, most
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if enough(middle, 0, 1) else (middle, high)
        return Plan(high, 0, worth, alternating(*names, 2), next_settles)
    low, high = 0, int(number("most_restringings"))
    if not enough(0, high, per):
        return Plan(None, high, worth, alternating(*names, 2), next_settles)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(0, middle, per) else (middle, high)
    return Plan(high * per, high, worth, alternating(*names, high), next_settles)
