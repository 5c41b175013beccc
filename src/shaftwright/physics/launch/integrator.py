"""Many launches at once: the steps that follow the equations of `launch`.

Launches are the last axis, so that every operation runs along contiguous memory. The nock's way
does not hang on the bending and is known in closed form: with the remaining stroke s = d cos(a)
the angle a grows almost evenly with time, and it is what the steps count. So the fingers let go
and the string stops at the end of a step; only a change of contact cuts one short.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from shaftwright.arrays import Array
from shaftwright.physics.launch.limbs import PLACES
from shaftwright.physics.launch.states import Bow, Mask, Places, Search, State

#: the angle at which the string stops [rad]
END: Final = 0.5 * np.pi
#: contacts whose times are kept
KEPT_CONTACTS: Final = 24
#: part of the way gone up to which the time for a radian is that of the start
START: Final = 1e-9


def _dot(a: Array, b: Array) -> Array:
    """Sum over the modes of products, launch by launch."""
    found: Array = np.einsum("in,in->n", a, b)
    return found


@dataclass
class Lanes:
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
    exit_speed : ndarray, shape (n,)
        Along the bow's axis, where the string stops.
    shot : int ndarray, shape (n,)
        Where a computed bow begins in `tables`, its `stroke` and `brace` being those of where the nock
        leaves; -1 for others.
    tables : ndarray, shape (bows x (places - 1), 6)
        `limbs.Shot`'s clock, forward and hold at even places, and how each goes on to the next.
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
    exit_speed: Array
    shot: Places
    tables: Array

    def __post_init__(self) -> None:
        self.released = np.arccos(np.maximum(1 - self.side_travel / self.stroke, 0.0))
        self.slowness = self.stroke * self.moved * (self.exponent + 1) / (2 * self.force)
        self.computed = np.flatnonzero(self.shot >= 0)

    def _read(self, angle: Array) -> Array:
        """Clock, forward and hold of the computed bows, in straight lines from place to place."""
        at = np.clip(angle[..., self.computed] * ((PLACES - 1) / END), 0.0, PLACES - 1)
        cell = np.minimum(at.astype(np.intp), PLACES - 2)
        found = self.tables.take(self.shot[self.computed] + cell, axis=0)
        read: Array = found[..., :3] + (at - cell)[..., None] * found[..., 3:]
        return read

    def pushed(self, angle: Array) -> dict[str, Array]:
        """Of `Bow`: clock, forward, hold and roll at angles of the nock's way, (..., n)."""
        half = np.sin(0.5 * angle)
        gone = 2 * half * half
        left = np.maximum(1 - gone, 0.0)
        power = np.exp(self.exponent * np.log(np.maximum(left, 1e-300)))
        held = self.force * power
        used = np.maximum(1 - power * left, 1e-300)
        # so near the start the quotient is rounding, and has its limit
        slow = np.where(gone > START, 2 * gone * (1 - half * half) / used, 2 / (self.exponent + 1))
        clock = np.sqrt(self.slowness * slow)
        hold = self.string_full + (self.string_brace - self.string_full) * gone**self.string_rise
        forward = held / self.moved
        own = self.computed
        if clock[..., own].size:
            read = self._read(angle)
            clock[..., own], forward[..., own], hold[..., own] = np.moveaxis(read, -1, 0)
            held[..., own] = self.force[own]
        fading = self.stroke * gone / self.side_travel
        roll = np.zeros_like(held)
        if (fading < 1).any():
            roll = self.side_fraction * held * np.cos(END * np.minimum(fading, 1.0))
        return {"clock": clock, "forward": forward, "hold": hold, "roll": roll}

    def plate(self, angle: Array) -> Array:
        """The modes where the shaft passes the plate, at an angle of the nock's way."""
        z = np.empty((self.powers.shape[1], angle.size))
        z[0] = 1.0
        z[1] = 2 * (self.brace + self.stroke * np.cos(angle)) / self.length - 1
        for order in range(2, len(z)):
            np.multiply(z[order - 1], z[1], out=z[order])
        modes = np.empty_like(self.nock)
        modes[:2] = np.einsum("ijn,jn->in", self.powers[:2, :2], z[:2])
        np.einsum("ijn,jn->in", self.powers[2:], z, out=modes[2:])
        return modes

    def rates(self, q: Array, p: Array, at: Bow, touching: Mask) -> tuple[Array, Array]:
        """Accelerations of the modes, and the power of all but the shaft's own stiffness."""
        load = self.nock * (at.roll - at.hold * _dot(self.nock, q))
        # pushing an arrow sideways does not soften it
        softened = np.einsum("ijn,jn->in", self.thrust[1:, 1:], q[1:])
        softened *= at.forward
        load[1:] += softened
        load += at.plate * self.push(q, p, at, touching)
        power = _dot(p, load)
        load[2:] -= self.omega_squared[2:] * q[2:]
        load -= self.recoil * _dot(self.nock, load)
        return load, power

    def contact(self, q: Array, p: Array, at: Bow) -> tuple[Array, Array]:
        """How deep the shaft is in the plate, and how the plate would push it there."""
        depth = self.gap - _dot(at.plate, q)
        return depth, self.plate_stiffness * depth - self.plate_damping * _dot(at.plate, p)

    def push(self, q: Array, p: Array, at: Bow, touching: Mask) -> Array:
        """The plate's push where the shaft touches it [N]."""
        depth, force = self.contact(q, p, at)
        return np.where(touching & (depth > 0) & (force > 0), force, 0.0)

    def margin(self, now: State) -> Array:
        """How far the contact is from changing: the push, or what a touch still needs."""
        clear = -np.minimum(now.depth * self.plate_stiffness, now.force)
        found: Array = np.where(now.touching, now.force, clear)
        return found

    def advance(self, now: State, h: Array) -> State:
        """One Runge-Kutta step; the contact stays as it is at the start."""
        q, p, touching, angle = now.q, now.p, now.touching, now.angle + h
        half = now.angle + 0.5 * h
        both = self.pushed(np.stack([half, angle]))
        middle = Bow(**{k: v[0] for k, v in both.items()}, plate=self.plate(half))
        end = Bow(**{k: v[1] for k, v in both.items()}, plate=self.plate(angle))
        t1, t2, t3 = h * now.clock, h * middle.clock, h * end.clock
        k1, w1 = self.rates(q, p, now, touching)
        q2, p2 = q + 0.5 * t1 * p, p + 0.5 * t1 * k1
        k2, w2 = self.rates(q2, p2, middle, touching)
        q3, p3 = q + 0.5 * t2 * p2, p + 0.5 * t2 * k2
        k3, w3 = self.rates(q3, p3, middle, touching)
        q4, p4 = q + t2 * p3, p + t2 * k3
        k4, w4 = self.rates(q4, p4, end, touching)
        t1, t2, t3 = t1 / 6, t2 / 3, t3 / 6
        q = q + t1 * p + t2 * (p2 + p3) + t3 * p4
        p = p + t1 * k1 + t2 * (k2 + k3) + t3 * k4
        time = now.time + t1 + 2 * t2 + t3
        work = now.work + t1 * w1 + t2 * (w2 + w3) + t3 * w4
        return self.state(end, angle=angle, time=time, q=q, p=p, work=work, touching=touching)

    def state(self, at: Bow, **where: Any) -> State:
        """With the contact there."""
        depth, force = self.contact(where["q"], where["p"], at)
        return State(**vars(at), **where, depth=depth, force=force)

    def start(self, q: Array) -> State:
        """At rest, the string still held."""
        zero = np.zeros_like(self.force)
        p, free = np.zeros_like(q), np.zeros(zero.shape, bool)
        at = Bow(**self.pushed(zero), plate=self.plate(zero))
        return self.state(at, angle=zero, time=zero, q=q, p=p, work=zero, touching=free)

    def run(self, q: Array, record: list[State] | None = None) -> tuple[State, Array]:
        """All launches from rest to the string's stop.

        A launch whose contact changes within a step tries parts of the step while the others go on.

        Parameters
        ----------
        q : ndarray, shape (modes, n)
            Amplitudes at the start [kg^1/2 m].
        record : list, optional
            Receives the states before the first and after every turn.

        Returns
        -------
        State
            At the string's stop.
        ndarray, shape (n, 24, 2)
            Start and end of the contacts [s]; nan beyond the last.
        """
        now, lanes = self.start(q), self.force.size
        search = Search.idle(lanes)
        contacts, count = np.full((lanes, KEPT_CONTACTS, 2), np.nan), np.full(lanes, -1)
        if record is not None:
            record.append(now)
        while (running := now.angle < END).any():
            margin, seeking = self.margin(now), search.tries > 0
            # at the start the shaft lies on the plate and nothing moves: rounding decides nothing
            flips = np.flatnonzero(running & ~seeking & (now.angle > 0) & (margin < 0))
            if flips.size:
                now.touching[flips] = touching = ~now.touching[flips]
                count[flips] += touching
                kept = count[flips] < KEPT_CONTACTS
                ends, at = np.where(touching, 0, 1)[kept], flips[kept]
                contacts[at, count[at], ends] = now.time[at]
                margin = self.margin(now)
            stop = np.where(now.angle < self.released, self.released, END)
            left = stop - now.angle
            h, part = np.minimum(left, self.step), np.ones_like(left)
            sought = np.flatnonzero(seeking)
            if sought.size:
                part[sought] = search.only(sought).part()
            ahead = self.advance(now, h * part)
            landing = (left <= self.step) & (part == 1)
            ahead.angle[landing] = stop[landing]
            after = self.margin(ahead)
            cut = running & ~seeking & (after < 0)
            wait = np.flatnonzero(cut | (search.tries > 1))
            if sought.size:
                search.narrow(sought, part[sought], after[sought])
            if wait.size:
                search.begin(np.flatnonzero(cut), margin, after)
                ahead.put(wait, now.only(wait))
            now = ahead
            if record is not None:
                record.append(now)
        still = np.flatnonzero(now.touching & (count < KEPT_CONTACTS))
        contacts[still, count[still], 1] = now.time[still]
        return now, contacts
