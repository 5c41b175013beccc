"""Many launches at once in plain NumPy: the same scheme as `launch_lane`, lane by lane.

Lanes are the last axis, so that every operation runs along contiguous memory. Each lane keeps its
own clock: a lane whose step is cut short at a contact change simply takes one step more.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.physics.launch import columns as lane

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
#: launches still under way, their clocks, remaining strokes and modes (modes, lanes)
Record = tuple[NDArray[np.intp], Array, Array, Array]

#: lanes done together: the search for a change of contact is made by few of them at a time, and the
#: interpreter costs the same for few as for many; more than this bring nothing
CHUNK: Final = 10_000


def _dot(a: Array, b: Array) -> Array:
    """Sum over the modes of products, lane by lane, without a temporary for the products."""
    found: Array = np.einsum("in,in->n", a, b)
    return found


@dataclass
class _Lanes:
    """The constants of some launches; the launch is the last axis."""

    par: Array
    curve: Array
    omega2: Array
    thrust: Array
    nock: Array
    coefficients: Array

    def __post_init__(self) -> None:
        self.curved = bool(np.any(self.par[lane.STRING_RISE] != 1.0))
        mass = self.par[lane.STRING_MASS]
        self.at_string = mass / (1.0 + mass * _dot(self.nock, self.nock))

    def only(self, which: Mask | NDArray[np.intp]) -> _Lanes:
        return _Lanes(
            self.par[:, which],
            self.curve[:, which],
            self.omega2[:, which],
            self.thrust[:, :, which],
            self.nock[:, which],
            self.coefficients[:, :, which],
        )

    def force(self, s: Array) -> Array:
        par, points = self.par, len(self.curve)
        positive = np.maximum(s, 0.0)
        if points == 0:
            pushes = par[lane.FORCE] * (positive / par[lane.STROKE]) ** par[lane.EXPONENT]
        else:
            place = positive / par[lane.STROKE] * (points - 1)
            i = np.minimum(place.astype(np.intp), points - 2)
            left = np.take_along_axis(self.curve, i[None], axis=0)[0]
            right = np.take_along_axis(self.curve, i[None] + 1, axis=0)[0]
            pushes = left + (place - i) * (right - left)
        return np.where(s > 0.0, pushes, 0.0)

    def travel(self, s: Array, v: Array, push: Array, h: Array) -> tuple[Array, Array, Array]:
        m = self.par[lane.MOVED]
        a1 = -push / m
        a2 = -self.force(s + 0.5 * h * v + 0.125 * h * h * a1) / m
        a3 = -self.force(s + h * v + 0.5 * h * h * a2) / m
        s_end = s + h * v + h * h / 6 * (a1 + 2 * a2)
        v_end = v + h / 6 * (a1 + 4 * a2 + a3)
        return s_end, v_end, self.force(s_end)

    def station(self, s: Array) -> Array:
        """The modes at the plate."""
        z = 2.0 * (self.par[lane.BRACE] + s) / self.par[lane.LENGTH] - 1.0
        c = self.coefficients
        out: Array = c[:, 0] + c[:, 1] * z
        terms = np.empty((c.shape[1] - 2, len(z)))
        before, now = np.ones_like(z), z
        for n in range(2, c.shape[1]):
            before, now = now, lane.LEGENDRE[n, 0] * z * now - lane.LEGENDRE[n, 1] * before
            terms[n - 2] = now
        out[2:] += np.einsum("ijn,jn->in", c[2:, 2:], terms)
        return out

    def rates(
        self,
        q: Array,
        p: Array,
        s: Array,
        push: Array,
        touching: Mask,
        by_fingers: Mask,
        station: Array,
    ) -> tuple[Array, Array]:
        par = self.par
        a = push / par[lane.MOVED]
        y, vy = _dot(self.nock, q), _dot(self.nock, p)
        y_plate, v_plate = _dot(station, q), _dot(station, p)
        brace, full = par[lane.STRING_BRACE], par[lane.STRING_FULL]
        risen = 1.0 - np.maximum(s, 0.0) / par[lane.STROKE]
        if self.curved:
            risen = np.maximum(risen, 0.0) ** par[lane.STRING_RISE]
        of_string = -(full + (brace - full) * risen) * y
        of_fingers = np.zeros_like(s)
        if by_fingers.any():
            travelled = (par[lane.STROKE] - s) / par[lane.SIDE_TRAVEL]
            roll = par[lane.SIDE_FRACTION] * push * np.cos(0.5 * np.pi * travelled)
            of_fingers = np.where(by_fingers, roll, 0.0)
        depth = par[lane.GAP] - y_plate
        spring = par[lane.PLATE_STIFFNESS] * depth
        damper = -par[lane.PLATE_DAMPING] * v_plate
        pressed = touching & (depth > 0.0) & (spring + damper >= 0.0)
        spring, damper = np.where(pressed, spring, 0.0), np.where(pressed, damper, 0.0)
        given = np.zeros_like(q)
        np.einsum("ijn,jn->in", self.thrust[1:, 1:], q[1:], out=given[1:])
        given[1:] *= a
        acceleration = given - self.omega2 * q
        part = self.nock * (of_string + of_fingers)
        acceleration += part
        acceleration += np.multiply(station, spring + damper, out=part)
        at_nock = _dot(self.nock, acceleration)
        acceleration -= np.multiply(self.at_string * at_nock, self.nock, out=part)
        power = np.stack(
            [
                _dot(p, given),
                of_string * vy,
                of_fingers * vy,
                spring * v_plate,
                damper * v_plate,
                spring + damper,
            ]
        )
        return acceleration, power

    def advance(self, now: _State, h: Array) -> _State:
        """One Runge-Kutta step; the contact stays as it is at the start."""
        q, p, push, station = now.q, now.p, now.push, now.station
        s_end, v_end, push_end = self.travel(now.s, now.v, push, h)
        m = self.par[lane.MOVED]
        s_mid = (
            0.5 * (now.s + s_end)
            + 5 * h / 32 * (now.v - v_end)
            + h * h / 64 * (-push / m - push_end / m)
        )
        push_mid = self.force(s_mid)
        halfway, arrival = self.station(s_mid), self.station(s_end)
        fixed = (now.touching, now.by_fingers)
        k1, w1 = self.rates(q, p, now.s, push, *fixed, station)
        p2 = p + 0.5 * h * k1
        k2, w2 = self.rates(q + 0.5 * h * p, p2, s_mid, push_mid, *fixed, halfway)
        p3 = p + 0.5 * h * k2
        k3, w3 = self.rates(q + 0.5 * h * p2, p3, s_mid, push_mid, *fixed, halfway)
        p4 = p + h * k3
        k4, w4 = self.rates(q + h * p3, p4, s_end, push_end, *fixed, arrival)
        return _State(
            q=q + h / 6 * (p + 2 * p2 + 2 * p3 + p4),
            p=p + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4),
            s=s_end,
            v=v_end,
            push=push_end,
            station=arrival,
            works=now.works + h / 6 * (w1 + 2 * w2 + 2 * w3 + w4),
            touching=now.touching,
            by_fingers=now.by_fingers,
        )

    def margin(self, now: _State) -> Array:
        """How far the contact is from changing; see `launch_lane`."""
        y, vy = _dot(now.station, now.q), _dot(now.station, now.p)
        depth = self.par[lane.GAP] - y
        stiffness = self.par[lane.PLATE_STIFFNESS]
        push = stiffness * depth - self.par[lane.PLATE_DAMPING] * vy
        away: Array = np.where(now.touching, push, -np.minimum(depth * stiffness, push))
        return away

    def landing(self, now: _State, h: Array, s_end: Array, stop: Array) -> Array:
        low, high, f_low, f_high = np.zeros_like(h), h.copy(), now.s - stop, s_end - stop
        part = h
        for _ in range(lane.SEARCH):
            fall = f_high - f_low
            live = fall != 0.0
            safe = np.where(live, fall, 1.0)
            part = np.where(live, low - f_low * (high - low) / safe, part)
            value = self.travel(now.s, now.v, now.push, part)[0] - stop
            above = value > 0.0
            low, high = np.where(above, part, low), np.where(above, high, part)
            f_low, f_high = (
                np.where(above, value, 0.5 * f_low),
                np.where(above, 0.5 * f_high, value),
            )
        return part

    def change(self, now: _State, h: Array, before: Array, after: Array) -> Array:
        """The part of a step at which the contact has just changed: Illinois search."""
        low, high, f_low, f_high = np.zeros_like(h), np.ones_like(h), before, after
        for _ in range(lane.SEARCH):
            part = low - f_low * (high - low) / (f_high - f_low)
            value = self.margin(self.advance(now, part * h))
            above = value > 0.0
            low, high = np.where(above, part, low), np.where(above, high, part)
            f_low, f_high = (
                np.where(above, value, 0.5 * f_low),
                np.where(above, 0.5 * f_high, value),
            )
        return high


@dataclass
class _State:
    """Where some launches are; the launch is the last axis."""

    q: Array
    p: Array
    s: Array
    v: Array
    push: Array
    station: Array
    works: Array
    touching: Mask
    by_fingers: Mask

    def only(self, which: Mask | NDArray[np.intp]) -> _State:
        return _State(**{name: value[..., which] for name, value in vars(self).items()})

    def put(self, which: NDArray[np.intp], other: _State) -> None:
        for name, value in vars(other).items():
            getattr(self, name)[..., which] = value


def run(
    par: Array,
    curve: Array,
    omega2: Array,
    thrust: Array,
    nock: Array,
    coefficients: Array,
    q: Array,
    p: Array,
    works: Array,
    summary: Array,
    contacts: Array,
    record: list[Record] | None = None,
) -> None:
    """All launches, in chunks; the same arguments and results as `launch_lane.run`.

    Parameters
    ----------
    par, curve, omega2, thrust, nock, coefficients : array (n, ...)
        Parameters, draw curve, squared frequencies, thrust matrix, nock amplitudes and mode
        coefficients of every launch; SI, laid out as in `launch_lane`.
    q, p, works, summary, contacts : array (n, ...)
        Mode amplitudes and rates, works, summary and contact times; written in place.
    record : list, optional
        Receives what every step left; at most `CHUNK` launches then.
    """
    for first in range(0, len(par), CHUNK):
        part = slice(first, first + CHUNK)
        lanes = _Lanes(
            np.ascontiguousarray(par[part].T),
            np.ascontiguousarray(curve[part].T),
            np.ascontiguousarray(omega2[part].T),
            np.ascontiguousarray(thrust[part].transpose(1, 2, 0)),
            np.ascontiguousarray(nock[part].T),
            np.ascontiguousarray(coefficients[part].transpose(1, 2, 0)),
        )
        _run_chunk(lanes, q[part], p[part], works[part], summary[part], contacts[part], record)


def _run_chunk(
    lanes: _Lanes,
    q: Array,
    p: Array,
    works: Array,
    summary: Array,
    contacts: Array,
    record: list[Record] | None,
) -> None:
    count_lanes = len(q)
    stroke = lanes.par[lane.STROKE]
    fingers_end = np.maximum(stroke - lanes.par[lane.SIDE_TRAVEL], 0.0)
    now = _State(
        q=q.T.copy(),
        p=p.T.copy(),
        s=stroke.copy(),
        v=np.zeros(count_lanes),
        push=lanes.force(stroke),
        station=lanes.station(stroke),
        works=np.zeros((lane.WORKS, count_lanes)),
        touching=np.zeros(count_lanes, dtype=bool),
        by_fingers=np.ones(count_lanes, dtype=bool),
    )
    t = np.zeros(count_lanes)
    count, steps = np.zeros(count_lanes, dtype=np.intp), np.zeros(count_lanes)
    least, greatest = np.full(count_lanes, np.inf), np.zeros(count_lanes)
    ids = np.arange(count_lanes)

    def flip(which: NDArray[np.intp]) -> None:
        """Change the contact of lanes and write down when."""
        now.touching[which] = ~now.touching[which]
        count[which] += now.touching[which]
        kept = which[count[which] <= lane.KEPT_CONTACTS]
        contacts[ids[kept], count[kept] - 1, np.where(now.touching[kept], 0, 1)] = t[kept]

    if record is not None:
        record.append((ids, t.copy(), now.s, now.q))
    while len(ids):
        h = lanes.par[lane.STEP].copy()
        stop = np.where(now.by_fingers, fingers_end, 0.0)
        s_end = lanes.travel(now.s, now.v, now.push, h)[0]
        landing = s_end <= stop
        if landing.any():
            at = np.flatnonzero(landing)
            h[at] = lanes.only(at).landing(now.only(at), h[at], s_end[at], stop[at])
        before = lanes.margin(now)
        ahead = lanes.advance(now, h)
        after = lanes.margin(ahead)
        changes = np.zeros(len(ids), dtype=bool)
        if (after < 0.0).any():
            at = np.flatnonzero(after < 0.0)
            few = lanes.only(at)
            part = np.zeros(len(at))
            sure = before[at] > 0.0
            if sure.any():
                searched = at[sure]
                part[sure] = lanes.only(searched).change(
                    now.only(searched), h[searched], before[searched], after[searched]
                )
            short = part < lane.SHORTEST
            flip(at[short])
            cut = at[~short]
            h[cut] *= part[~short]
            changes[cut] = True
            landing[cut] &= part[~short] == 1.0
            ahead.put(at, few.advance(now.only(at), h[at]))
        t += h
        steps += 1
        ahead.s = np.where(landing, stop, ahead.s)
        ahead.by_fingers = now.by_fingers & ~landing
        ahead.touching = now.touching
        now = ahead
        if landing.any():
            now.station = lanes.station(now.s)
        if now.touching.any():
            force = np.maximum(lanes.margin(now), 0.0)
            least = np.where(now.touching, np.minimum(least, force), least)
            greatest = np.where(now.touching, np.maximum(greatest, force), greatest)
        flip(np.flatnonzero(changes))
        if record is not None:
            record.append((ids, t.copy(), now.s, now.q))
        done = now.s <= 0.0
        if done.any():
            at = np.flatnonzero(done)
            out = ids[at]
            q[out], p[out], works[out] = now.q.T[at], now.p.T[at], now.works.T[at]
            summary[out, lane.TIME], summary[out, lane.SPEED] = t[at], -now.v[at]
            summary[out, lane.LEAST_FORCE] = least[at]
            summary[out, lane.GREATEST_FORCE] = greatest[at]
            summary[out, lane.CONTACTS], summary[out, lane.STEPS] = count[at], steps[at]
            still = at[now.touching[at] & (count[at] <= lane.KEPT_CONTACTS)]
            contacts[ids[still], count[still] - 1, 1] = t[still]
            keep = ~done
            lanes, now = lanes.only(keep), now.only(keep)
            t, count, steps, ids = t[keep], count[keep], steps[keep], ids[keep]
            least, greatest, fingers_end = least[keep], greatest[keep], fingers_end[keep]
