"""What no rule knows of an arrow: an error of its own, shared with arrows that are like it.

A Gaussian process over arrows (Kennedy & O'Hagan 2001, J. R. Stat. Soc. B 63, 425, recalled): where
the rules are off for one arrow they are off alike for its neighbours. A few arrows, the pivots, carry
the scores; every other arrow takes shares of them, and what is left over is its shaft's own.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array
from shaftwright.parameters import parameters, setting
from shaftwright.physics import normal
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.rig import Rig
from shaftwright.resources import table

if TYPE_CHECKING:
    from collections.abc import Sequence

Labels = NDArray[np.int64]
PIVOTS = 12
#: the drivers: how large such errors are on this bow, and one score for each pivot
SIZE = "size of an arrow's own error"
SCORES = tuple(f"an arrow's own error {i + 1}" for i in range(PIVOTS))
DRIVERS = (SIZE, *SCORES)
_LEAST = 1e-6


@dataclass(frozen=True)
class Traits:
    """Of n arrows what tells how alike they are.

    Attributes
    ----------
    x : array (n, 4)
        Length, front mass, tail mass and logarithm of stiffness, each over the distance at which
        arrows stop being alike.
    wood : array (n,)
        1 for wood.
    setting, limbs : array (n,) of int
        How the bow is set, and which limbs it has: a number of each, compared faster than its words.
    """

    x: Array
    wood: Array
    setting: Labels
    limbs: Labels

    def __len__(self) -> int:
        return len(self.x)

    def take(self, rows: NDArray[np.int_]) -> Traits:
        """Those at an index."""
        return Traits(self.x[rows], self.wood[rows], self.setting[rows], self.limbs[rows])

    def as_stiff_as(self, wanted_lb: Array) -> Traits:
        """The same arrows with the stiffness that is wanted of them [lb]."""
        x = self.x.copy()
        x[:, 3] = _log_stiffness(wanted_lb)
        return Traits(x, self.wood, self.setting, self.limbs)


def traits_of(rig: Rig, builds: Builds) -> Traits:
    """Traits of arrows shot from one rig.

    Parameters
    ----------
    rig, builds : Rig, Builds
        The bow as it is set, and n arrows.

    Returns
    -------
    Traits
        Of the n.
    """
    bow = rig.bow
    setting_now = hash(repr((bow.plate, bow.plunger, bow.nocking_point, bow.brace_height_in)))
    limbs = hash(repr((bow.limbs_id, bow.limbs, bow.draw_weight)))
    columns = [getattr(builds, name) / setting(f"own_error.{name}")
               for name in ("length_in", "front_gr", "tail_gr")]  # fmt: skip
    x = np.stack([*columns, _log_stiffness(pounds_from_mils(builds.spine_mils))], axis=1)
    n = len(builds)
    return Traits(x, builds.wood, np.full(n, setting_now), np.full(n, limbs))


def joined(many: Sequence[Traits]) -> Traits:
    """Several sets as one.

    Parameters
    ----------
    many : sequence of Traits
        Any lengths.

    Returns
    -------
    Traits
        All of them, in order.
    """
    names = [field.name for field in fields(Traits)]
    return Traits(*(np.concatenate([getattr(t, name) for t in many]) for name in names))


def _log_stiffness(stiffness_lb: Array) -> Array:
    return np.log(np.maximum(stiffness_lb, 1.0)) / setting("own_error.log_stiffness")


def alike(one: Traits, other: Traits) -> Array:
    """How alike two sets of arrows are, from 0 to 1 (n, m).

    Parameters
    ----------
    one, other : Traits
        n and m arrows.

    Returns
    -------
    array (n, m)
        Correlation of their own errors: a squared exponential over the traits, less where the material,
        the setting of the bow or its limbs differ.
    """
    apart = np.zeros((len(one), len(other)))
    for a, b in zip(one.x.T, other.x.T, strict=True):
        apart += np.square(a[:, None] - b)
    apart *= -0.5
    for name in ("wood", "setting", "limbs"):
        share = np.log(setting(f"own_error.other_{name}"))
        apart += share * (getattr(one, name)[:, None] != getattr(other, name))
    return np.exp(apart, out=apart)


@dataclass(frozen=True, eq=False)
class OwnErrors:
    """The arrows whose errors carry the scores.

    Attributes
    ----------
    pivots : Traits
        m of them, at most `PIVOTS`.
    root : array (m, m)
        Inverse of the lower Cholesky factor of how alike they are.
    """

    pivots: Traits
    root: Array

    def shares(self, traits: Traits) -> Array:
        """How much of each pivot's score the arrows take (n, m); squares add up to 1 at a pivot."""
        return np.asarray(alike(traits, self.pivots) @ self.root.T)


def left_over(shares: Array) -> Array:
    """What share of an arrow's own error no pivot tells.

    Parameters
    ----------
    shares : array (n, m)
        How much of each pivot's score the arrows take.

    Returns
    -------
    array (n,)
        As a standard deviation, of a whole of 1.
    """
    rest: Array = np.sqrt(np.maximum(1.0 - np.square(shares).sum(axis=1), 0.0))
    return rest


def pivots_of(shot: Traits | None, usual: Traits) -> OwnErrors:
    """Pivots: what was shot first, then usual arrows, always the one least like those before.

    Parameters
    ----------
    shot : Traits or None
        Arrows that were shot.
    usual : Traits
        Arrows of the kinds that are usually tried.

    Returns
    -------
    OwnErrors
        By pivoted Cholesky decomposition, at most `PIVOTS` of them.
    """
    candidates = usual if shot is None else joined([shot, usual])
    many = 0 if shot is None else len(shot)
    between = alike(candidates, candidates)
    rest, chosen = np.ones(len(candidates)), list[int]()
    factor = np.zeros((len(candidates), PIVOTS))
    while len(chosen) < PIVOTS:
        first = rest[:many] if rest[:many].max(initial=0.0) > _LEAST else rest
        at = int(np.argmax(first.round(9)))  # equals by their place, whatever the last digit says
        if rest[at] <= _LEAST:
            break
        k = len(chosen)
        factor[:, k] = (between[:, at] - factor[:, :k] @ factor[at, :k]) / np.sqrt(rest[at])
        rest = rest - np.square(factor[:, k])
        rest[at] = 0.0
        chosen.append(at)
    lower = factor[chosen, : len(chosen)]
    return OwnErrors(candidates.take(np.array(chosen)), np.asarray(np.linalg.inv(lower)))


def usual_traits(rig: Rig, own_lb: float) -> Traits:
    """Arrows as they are usually tried with a bow: lengths, fronts and spines about the usual ones.

    Parameters
    ----------
    rig : Rig
        The bow as it is set.
    own_lb : float
        Draw weight at the own draw [lb].

    Returns
    -------
    Traits
        Of arrows in every combination.
    """
    rows = table("own_error_arrows")
    steps = (
        [float(row["value"]) for row in rows if row["trait"] == trait]
        for trait in ("length_beyond_draw", "front", "log_stiffness")
    )
    length, front, stiff = (a.ravel() for a in np.meshgrid(*steps, indexing="ij"))
    made = builds_by_numbers(None, rig.archer.draw_length_in + length, front)
    return traits_of(rig, made).as_stiff_as(own_lb * np.exp(stiff))


@functools.cache
def size_doubt() -> tuple[float, float]:
    """Median size of an arrow's own error, and its doubt.

    Returns
    -------
    tuple of float
        Share of the draw weight, and one standard deviation of its logarithm.
    """
    span = parameters("own_error")["size_pct"]
    return span.value / 100, float(np.log(span.high / span.low)) / (2 * normal.Z95)


def sizes(scores: Array) -> Array:
    """Size of an arrow's own error at standard scores of `SIZE`.

    Parameters
    ----------
    scores : array (D,)
        Standard normal scores.

    Returns
    -------
    array (D,)
        Share of the draw weight.
    """
    median, doubt = size_doubt()
    return median * np.exp(doubt * scores)


def mean_square() -> float:
    """Mean of the square of that size.

    Returns
    -------
    float
        Square of a share of the draw weight.
    """
    median, doubt = size_doubt()
    return float(median**2 * np.exp(2 * doubt**2))
