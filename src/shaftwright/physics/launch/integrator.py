"""Many launches at once: the steps that follow the equations of `launch`.

Launches are the last axis, so that every operation runs along contiguous memory. The nock's way
does not hang on the bending and is known in closed form: with the remaining stroke s = d cos(a)
the angle a grows almost evenly with time, and it is what the steps count. So the fingers let go
and the string stops at the end of a step; only a change of contact cuts one short.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

#: the angle at which the string stops [rad]
END: Final = 0.5 * np.pi
#: contacts whose times are kept
KEPT_CONTACTS: Final = 24
#: turns of the search for the moment of a contact change
SEARCH: Final = 3
#: shortest part of a step taken up to one
SHORTEST: Final = 1e-3


def _dot(a: Array, b: Array) -> Array:
    """Sum over the modes of products, launch by launch."""
    found: Array = np.einsum("in,in->n", a, b)
    return found


class _Columns:
    """Arrays whose last axis is the launch."""

    def only(self, which: Places | slice) -> Self:
        return type(self)(**{name: value[..., which] for name, value in vars(self).items()})

    @classmethod
    def together(cls, parts: Sequence[Self]) -> Self:
        names = vars(parts[0])
        return cls(**{k: np.concatenate([getattr(x, k) for x in parts], -1) for k in names})

    def put(self, which: Places, other: Self) -> None:
        for name, value in vars(other).items():
            getattr(self, name)[..., which] = value


@dataclass
class Bow(_Columns):
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
class State(_Columns):
    """Where some launches are.

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
    """

    angle: Array
    time: Array
    q: Array
    p: Array
    work: Array
    touching: Mask


@dataclass
class Lanes(_Columns):
    """The constants of some launches, in SI.

    Attributes
    ----------
    force, stroke, exponent : ndarray, shape (n,)
        The draw curve: F0 (s/d)^exponent.
    moved : ndarray, shape (n,)
        Arrow and virtual mass.
    brace, length, gap : ndarray, shape (n,)
        Brace height, shaft, and the touching shaft's centre line off the median plane.
    string_full, string_brace, string_rise : ndarray, shape (n,)
        The string's sideways stiffness at full draw and at brace, and the exponent of its rise.
    side_fraction, side_travel : ndarray, shape (n,)
        The fingers' side force over the draw force, and the travel over which it fades.
    plate_stiffness, plate_damping : ndarray, shape (n,)
        Spring and damper.
    step : ndarray, shape (n,)
        Longest step [rad].
    omega_squared, nock : ndarray, shape (modes, n)
        Squared frequencies, and the modes at the nock.
    recoil : ndarray, shape (modes, n)
        What the string's mass at the nock takes of every mode's load, for a load at the nock.
    thrust : ndarray, shape (modes, modes, n)
        What the push takes of the stiffness; see `beam.Beam`.
    powers : ndarray, shape (modes, 12, n)
        The modes as power series over the shaft, from -1 to 1.
    """

    force: Array
    stroke: Array
    exponent: Array
    moved: Array
    brace: Array
    length: Array
    gap: Array
    string_full: Array
    string_brace: Array
    string_rise: Array
    side_fraction: Array
    side_travel: Array
    plate_stiffness: Array
    plate_damping: Array
    step: Array
    omega_squared: Array
    nock: Array
    recoil: Array
    thrust: Array
    powers: Array

    def speed(self, left: Array) -> Array:
        """Along the bow's axis, at a part of the stroke left."""
        energy = self.force * self.stroke / (self.exponent + 1)
        used = -np.expm1((self.exponent + 1) * np.log(np.maximum(left, 1e-300)))
        return np.sqrt(2 * energy / self.moved * used)

    def bow(self, angle: Array) -> Bow:
        """What the bow does at an angle of the nock's way."""
        left = np.maximum(np.cos(angle), 0.0)
        push = self.force * left**self.exponent
        speed = self.speed(left)
        rest = np.sqrt(self.stroke * self.moved / self.force)
        moving = speed > 0
        clock = np.where(moving, self.stroke * np.sin(angle) / np.where(moving, speed, 1.0), rest)
        risen = (1 - left) ** self.string_rise
        hold = self.string_full + (self.string_brace - self.string_full) * risen
        return self.at_nock(left, clock, push / self.moved, hold, push)

    def at_nock(self, left: Array, clock: Array, forward: Array, hold: Array, held: Array) -> Bow:
        """With the plate and the fingers, which roll off what they held [N], at a part of the way."""
        fading = np.minimum(self.stroke * (1 - left) / self.side_travel, 1.0)
        z = np.empty((self.powers.shape[1], left.size))
        z[0] = 1.0
        z[1:] = 2 * (self.brace + self.stroke * left) / self.length - 1
        return Bow(
            clock,
            forward,
            hold,
            self.side_fraction * held * np.cos(END * fading),
            np.einsum("ijn,jn->in", self.powers, np.multiply.accumulate(z, out=z)),
        )

    def rates(self, q: Array, p: Array, at: Bow, touching: Mask) -> tuple[Array, Array]:
        """Accelerations of the modes, and the power of all but the shaft's own stiffness."""
        load = np.einsum("ijn,jn->in", self.thrust, q)
        load *= at.forward
        load += self.nock * (at.roll - at.hold * _dot(self.nock, q))
        if touching.any():
            depth, force = self.contact(q, p, at)
            pressed = touching & (depth > 0) & (force > 0)
            load += at.plate * np.where(pressed, force, 0.0)
        power = _dot(p, load)
        load -= self.omega_squared * q
        load -= self.recoil * _dot(self.nock, load)
        return load, power

    def contact(self, q: Array, p: Array, at: Bow) -> tuple[Array, Array]:
        """How deep the shaft is in the plate, and how the plate would push it there."""
        depth = self.gap - _dot(at.plate, q)
        return depth, self.plate_stiffness * depth - self.plate_damping * _dot(at.plate, p)

    def margin(self, now: State, at: Bow) -> Array:
        """How far the contact is from changing: the push, or what a touch still needs."""
        depth, force = self.contact(now.q, now.p, at)
        found: Array = np.where(
            now.touching, force, -np.minimum(depth * self.plate_stiffness, force)
        )
        return found

    def advance(self, now: State, at: Bow, h: Array) -> tuple[State, Bow]:
        """One Runge-Kutta step; the contact stays as it is at the start."""
        q, p, touching = now.q, now.p, now.touching
        middle, end = self.bow(now.angle + 0.5 * h), self.bow(now.angle + h)
        t1, t2, t3 = h * at.clock, h * middle.clock, h * end.clock
        k1, w1 = self.rates(q, p, at, touching)
        p2 = p + 0.5 * t1 * k1
        k2, w2 = self.rates(q + 0.5 * t1 * p, p2, middle, touching)
        p3 = p + 0.5 * t2 * k2
        k3, w3 = self.rates(q + 0.5 * t2 * p2, p3, middle, touching)
        p4 = p + t2 * k3
        k4, w4 = self.rates(q + t2 * p3, p4, end, touching)
        t1, t2, t3 = t1 / 6, t2 / 3, t3 / 6
        ahead = State(
            now.angle + h,
            now.time + t1 + 2 * t2 + t3,
            q + t1 * p + t2 * (p2 + p3) + t3 * p4,
            p + t1 * k1 + t2 * (k2 + k3) + t3 * k4,
            now.work + t1 * w1 + t2 * (w2 + w3) + t3 * w4,
            touching,
        )
        return ahead, end

    def change(self, now: State, at: Bow, h: Array, before: Array, after: Array) -> Array:
        """The step after which the contact has just changed: Illinois search."""
        low, high, f_high = np.zeros_like(h), np.ones_like(h), after
        f_low = np.maximum(before, 1e-300)  # at the start it is nought, but for rounding
        for _ in range(SEARCH):
            part = low - f_low * (high - low) / (f_high - f_low)
            value = self.margin(*self.advance(now, at, part * h))
            above = value > 0.0
            low, high = np.where(above, part, low), np.where(above, high, part)
            f_low, f_high = (
                np.where(above, value, 0.5 * f_low),
                np.where(above, 0.5 * f_high, value),
            )
        return h * np.maximum(high, SHORTEST)

    def run(self, q: Array, record: list[State] | None = None) -> tuple[State, Array]:
        """All launches from rest to the string's stop.

        Parameters
        ----------
        q : ndarray, shape (modes, n)
            Amplitudes at the start [kg^1/2 m].
        record : list, optional
            Receives the states before the first and after every step.

        Returns
        -------
        State
            At the string's stop.
        ndarray, shape (n, 24, 2)
            Start and end of the contacts [s]; nan beyond the last.
        """
        zero = np.zeros_like(self.force)
        now = State(zero, zero, q, np.zeros_like(q), zero, np.zeros(zero.shape, bool))
        at = self.bow(now.angle)
        released = np.arccos(np.maximum(1 - self.side_travel / self.stroke, 0.0))
        contacts, count = np.full((zero.size, KEPT_CONTACTS, 2), np.nan), np.full(zero.size, -1)
        if record is not None:
            record.append(now)
        while (running := now.angle < END).any():
            margin = self.margin(now, at)
            # at the start the shaft lies on the plate and nothing moves: rounding decides nothing
            flips = np.flatnonzero(running & (now.angle > 0) & (margin < 0))
            if flips.size:
                now.touching[flips] = ~now.touching[flips]
                count[flips] += now.touching[flips]
                kept = flips[count[flips] < KEPT_CONTACTS]
                contacts[kept, count[kept], np.where(now.touching[kept], 0, 1)] = now.time[kept]
                margin = self.margin(now, at)
            stop = np.where(now.angle < released, released, END)
            landing = stop - now.angle <= self.step
            h = np.where(landing, stop - now.angle, self.step)
            ahead, ends = self.advance(now, at, h)
            after = self.margin(ahead, ends)
            cut = np.flatnonzero(running & (after < 0))
            if cut.size:
                few, start, place = self.only(cut), now.only(cut), at.only(cut)
                part = few.change(start, place, h[cut], margin[cut], after[cut])
                landing[cut] &= part == h[cut]
                state, there = few.advance(start, place, part)
                ahead.put(cut, state)
                ends.put(cut, there)
            ahead.angle[landing] = stop[landing]
            now, at = ahead, ends
            if record is not None:
                record.append(now)
        still = np.flatnonzero(now.touching & (count < KEPT_CONTACTS))
        contacts[still, count[still], 1] = now.time[still]
        return now, contacts


@dataclass
class LimbLanes(Lanes):
    """Launches from a computed bow: `stroke` and `brace` are those of where the nock leaves.

    Attributes
    ----------
    clocks, pushes, holds, paces : ndarray, shape (places, n)
        See `limbs.Shot`; read in straight lines.
    """

    clocks: Array
    pushes: Array
    holds: Array
    paces: Array

    def _read(self, angle: Array, *tables: Array) -> list[Array]:
        last = len(self.clocks) - 1
        at = np.clip(angle / END, 0.0, 1.0) * last
        cell = np.minimum(at.astype(np.intp), last - 1)
        part, lane = at - cell, np.arange(angle.size)
        return [(1 - part) * rows[cell, lane] + part * rows[cell + 1, lane] for rows in tables]

    def speed(self, left: Array) -> Array:
        """Along the bow's axis, at a part of the way left."""
        return self._read(np.arccos(np.clip(left, 0.0, 1.0)), self.paces)[0]

    def bow(self, angle: Array) -> Bow:
        """What the bow does at an angle of the nock's way."""
        found = self._read(angle, self.clocks, self.pushes, self.holds)
        clock, forward, hold = found
        return self.at_nock(np.maximum(np.cos(angle), 0.0), clock, forward, hold, self.force)
