"""The next cheapest measurement: how many shots, how many restringings, in which order."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from shaftwright.measure.compare.anytime import Cells, Evidence
from shaftwright.measure.values import Array
from shaftwright.resources import measuring
from shaftwright.result import Result, kept

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
