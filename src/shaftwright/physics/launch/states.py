"""Launches under way, many at once: where they are, and where in a step their contact changes.

Launches are the last axis, so that every operation runs along contiguous memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array, Bools

Mask = Bools
Places = NDArray[np.intp]

#: turns of the search for the moment of a contact change
SEARCH: Final = 3
#: shortest part of a step taken up to one
SHORTEST: Final = 1e-3


class Columns:
    """Arrays whose last axis is the launch."""

    def only(self, which: Places) -> Self:
        """Some launches."""
        return type(self)(
            **{name: value.take(which, axis=-1) for name, value in vars(self).items()}
        )

    def put(self, which: Places, other: Self) -> None:
        """Others in the place of some."""
        for name, value in vars(other).items():
            getattr(self, name)[..., which] = value


@dataclass
class Bow(Columns):
    """What the bow does where the nock is.

    Attributes
    ----------
    clock : ndarray, shape (n,)
        Time for each radian of the nock's way [s].
    forward : ndarray, shape (n,)
        The arrow's acceleration along the bow's axis [m/s2].
    hold : ndarray, shape (n,)
        The string's sideways stiffness [N/m].
    roll : ndarray, shape (n,)
        Side force of the fingers [N].
    plate : ndarray, shape (modes, n)
        The modes where the shaft passes the plate [kg^-1/2].
    """

    clock: Array
    forward: Array
    hold: Array
    roll: Array
    plate: Array


@dataclass
class State(Bow):
    """Where some launches are, and what the bow does there.

    Attributes
    ----------
    angle, time : ndarray, shape (n,)
        The nock's way, from 0 to `END` [rad], and the time since release [s].
    q, p : ndarray, shape (modes, n)
        Amplitudes of the modes [kg^1/2 m] and their rates.
    work : ndarray, shape (n,)
        Done on the sideways motion by all but the shaft's own stiffness [J].
    touching : bool ndarray, shape (n,)
        Whether the shaft is on the plate.
    depth, force : ndarray, shape (n,)
        How deep it is in the plate [m], and how the plate would push it there [N].
    """

    angle: Array
    time: Array
    q: Array
    p: Array
    work: Array
    touching: Mask
    depth: Array
    force: Array


@dataclass
class Search(Columns):
    """Where in a step the contact changes: an Illinois search, a try a turn of all launches.

    Attributes
    ----------
    tries : int ndarray, shape (n,)
        Still to come; 0 where nothing is sought.
    low, high : ndarray, shape (n,)
        Parts of the step before and after the change.
    before, after : ndarray, shape (n,)
        Margins there, halved where an end stayed.
    """

    tries: Places
    low: Array
    high: Array
    before: Array
    after: Array

    @classmethod
    def idle(cls, count: int) -> Self:
        """Nothing sought."""
        return cls(np.zeros(count, np.intp), *np.zeros((4, count)))

    def part(self) -> Array:
        """Of the step, to be tried now."""
        split = self.low - self.before * (self.high - self.low) / (self.after - self.before)
        return np.where(self.tries > 1, split, np.maximum(self.high, SHORTEST))

    def begin(self, which: Places, before: Array, after: Array) -> None:
        """Where a whole step went past a change."""
        # at the start the margin is nought, but for rounding
        one, least = np.ones(which.size), np.maximum(before[which], 1e-300)
        tries = np.full(which.size, SEARCH + 1)
        self.put(which, Search(tries, 0 * one, one, least, after[which]))

    def narrow(self, which: Places, part: Array, margin: Array) -> None:
        """After a try of a part of the step."""
        old = self.only(which)
        above = margin > 0.0
        self.put(which, Search(
            old.tries - 1,
            np.where(above, part, old.low),
            np.where(above, old.high, part),
            np.where(above, margin, 0.5 * old.before),
            np.where(above, 0.5 * old.after, margin),
        ))  # fmt: skip
