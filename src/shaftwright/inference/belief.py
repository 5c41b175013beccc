"""What is believed of the uncertain numbers: joint draws of one standard score for each driver.

A driver is a rule, or an overlap group whose rules share their doubt. Before any shot the scores
are independent standard normals; evidence replaces them by draws that agree with the shots.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field

import numpy as np

from shaftwright.arrays import Array
from shaftwright.inference.own_error import DRIVERS, OwnErrors
from shaftwright.physics import normal
from shaftwright.rules.load import RuleBook

DRAWS = 2048
SEED = 20_260_101
#: for what is not a driver, such as a shaft's own error
OWN_SEED = SEED + 1


@dataclass(frozen=True)
class Belief:
    """Joint draws of the drivers' standard scores.

    Attributes
    ----------
    scores : dict
        Driver -> array (DRAWS,), all equally likely.
    learned : bool
        Whether evidence has gone in; then the scores depend on one another.
    errors : OwnErrors or None
        The arrows that carry the scores of arrows' own errors; None for a bow's usual ones.
    """

    scores: dict[str, Array]
    learned: bool = False
    errors: OwnErrors | None = None
    _deviations: dict[tuple[str, bool, float, float], Array] = field(
        default_factory=dict, repr=False, compare=False
    )

    @property
    def size(self) -> int:
        """Number of draws."""
        return len(next(iter(self.scores.values())))

    def some(self, draws: slice) -> Belief:
        """Some of the draws."""
        kept = {name: row[draws] for name, row in self.scores.items()}
        return Belief(kept, self.learned, self.errors)

    def deviations(self, driver: str, flip: bool, below: float, above: float) -> Array:
        """Draws of a split normal's deviation from its most likely value, worked out once.

        Parameters
        ----------
        driver : str
            Whose scores.
        flip : bool
            Whether a higher score means a lower coefficient.
        below, above : float
            Standard deviations on the two sides.

        Returns
        -------
        array (DRAWS,)
            In the unit of the standard deviations; not to be written to.
        """
        key = driver, flip, below, above
        if key not in self._deviations:
            scores = self.scores[driver]
            self._deviations[key] = normal.split_deviation(
                -scores if flip else scores, below, above
            )
        return self._deviations[key]


def drivers_of(book: RuleBook) -> tuple[str, ...]:
    """Every driver of a rule book: its rules by code, its overlap groups by name, then arrows' own errors."""
    groups = dict.fromkeys(rule.overlaps.group for rule in book.rules if rule.overlaps)
    return (*(rule.code for rule in book.rules), *groups, *DRIVERS)


def prior_belief(book: RuleBook) -> Belief:
    """Independent scores by Latin hypercube: every driver is stratified, the seed is fixed.

    Parameters
    ----------
    book : RuleBook
        The order of its drivers, not their names, picks the draws.

    Returns
    -------
    Belief
        The same for every rig and hand, so that comparisons share their draws.
    """
    drivers = drivers_of(book)
    table = latin_hypercube(len(drivers), DRAWS)
    return Belief({driver: table[i] for i, driver in enumerate(drivers)})


@functools.cache
def latin_hypercube(drivers: int, draws: int, seed: int = SEED) -> Array:
    """Stratified standard normal scores with a fixed seed.

    Parameters
    ----------
    drivers, draws : int
        Rows and columns.
    seed : int
        Another one gives rows that are independent of the drivers'.

    Returns
    -------
    array (drivers, draws)
        Each row a permutation of the same `draws` strata.
    """
    strata = normal.quantile((np.arange(draws) + 0.5) / draws)
    random = np.random.default_rng(seed)
    return np.stack([random.permutation(strata) for _ in range(drivers)])
