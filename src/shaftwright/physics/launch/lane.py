"""One launch after another, in scalar loops: compiled by numba where that is installed.

Without numba the functions here are plain Python, correct and slow; `launch_array` then does the
work. Both follow the same scheme, step by step (see `launch`), and a test holds them together.

Scheme. The nock's travel does not depend on the bending: Nystrom's fourth-order method for
s'' = -F(s) / (m + K). The modes: the classical fourth-order Runge-Kutta method, with the plate's
contact *frozen* on or off within a step. Where the contact would change inside a step, the step
is shortened to that moment; so it is where the fingers' push ends and where the string stops.
Every step therefore sees a smooth field, and the order stays four through contacts.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.physics.launch.columns import (
    BRACE,
    CONTACTS,
    EXPONENT,
    FORCE,
    GAP,
    GREATEST_FORCE,
    KEPT_CONTACTS,
    LEAST_FORCE,
    LEGENDRE,
    LENGTH,
    MOVED,
    PLATE_DAMPING,
    PLATE_STIFFNESS,
    SEARCH,
    SHORTEST,
    SIDE_FRACTION,
    SIDE_TRAVEL,
    SPEED,
    STEP,
    STEPS,
    STRING_BRACE,
    STRING_FULL,
    STRING_MASS,
    STRING_RISE,
    STROKE,
    TIME,
    WORKS,
)

Array = NDArray[np.float64]


def _compile(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function compiled by numba, or as it is where numba is not installed."""
    try:
        numba = importlib.import_module("numba")
    except ImportError:
        return function
    compiled: Callable[..., Any] = numba.njit(cache=True, fastmath=False, error_model="numpy")(
        function
    )
    return compiled


def _force(s: float, par: Array, curve: Array) -> float:
    if s <= 0.0:
        return 0.0
    points = curve.shape[0]
    if points == 0:
        return float(par[FORCE] * (s / par[STROKE]) ** par[EXPONENT])
    place = s / par[STROKE] * (points - 1)
    i = min(int(place), points - 2)
    return float(curve[i] + (place - i) * (curve[i + 1] - curve[i]))


force = _compile(_force)


def _travel(
    s: float, v: float, push: float, h: float, par: Array, curve: Array
) -> tuple[float, float, float]:
    """Remaining stroke, its rate and the force after h: Nystrom's fourth-order method."""
    m = par[MOVED]
    a1 = -push / m
    a2 = -force(s + 0.5 * h * v + 0.125 * h * h * a1, par, curve) / m
    a3 = -force(s + h * v + 0.5 * h * h * a2, par, curve) / m
    s_end = s + h * v + h * h / 6 * (a1 + 2 * a2)
    v_end = v + h / 6 * (a1 + 4 * a2 + a3)
    return s_end, v_end, force(s_end, par, curve)


travel = _compile(_travel)


def _shapes(station: float, length: float, coefficients: Array, out: Array) -> None:
    """The modes at a station: Legendre polynomials by their recurrence."""
    z = 2.0 * station / length - 1.0
    modes, terms = coefficients.shape
    before, now = 1.0, z
    for i in range(modes):
        out[i] = coefficients[i, 0] + coefficients[i, 1] * z
    for n in range(2, terms):
        before, now = now, LEGENDRE[n, 0] * z * now - LEGENDRE[n, 1] * before
        for i in range(2, modes):
            out[i] += coefficients[i, n] * now


shapes = _compile(_shapes)


def _rates(
    q: Array,
    p: Array,
    s: float,
    push: float,
    touching: bool,
    by_fingers: bool,
    station: Array,
    par: Array,
    omega2: Array,
    thrust: Array,
    nock: Array,
    acceleration: Array,
    power: Array,
) -> None:
    """Modal accelerations and the powers of the forces."""
    modes = q.shape[0]
    a = push / par[MOVED]
    y, vy, y_plate, v_plate, p_push = 0.0, 0.0, 0.0, 0.0, 0.0
    for i in range(modes):
        y += nock[i] * q[i]
        vy += nock[i] * p[i]
        y_plate += station[i] * q[i]
        v_plate += station[i] * p[i]
    risen = 1.0 - max(s, 0.0) / par[STROKE]
    if par[STRING_RISE] != 1.0:
        risen = max(risen, 0.0) ** par[STRING_RISE]
    of_string = -(par[STRING_FULL] + (par[STRING_BRACE] - par[STRING_FULL]) * risen) * y
    of_fingers = 0.0
    if by_fingers:
        part = (par[STROKE] - s) / par[SIDE_TRAVEL]
        of_fingers = par[SIDE_FRACTION] * push * np.cos(0.5 * np.pi * part)
    spring, damper = 0.0, 0.0
    if touching:
        depth = par[GAP] - y_plate
        if depth > 0.0:
            spring = par[PLATE_STIFFNESS] * depth
            damper = -par[PLATE_DAMPING] * v_plate
            if spring + damper < 0.0:
                spring, damper = 0.0, 0.0
    at_nock = 0.0
    for i in range(modes):
        given = 0.0
        # the translation (mode 0) has no slope: it neither feels nor gives thrust
        for j in range(1, modes):
            given += thrust[i, j] * q[j]
        given *= a
        p_push += p[i] * given
        acceleration[i] = (
            given
            - omega2[i] * q[i]
            + nock[i] * (of_string + of_fingers)
            + station[i] * (spring + damper)
        )
        at_nock += nock[i] * acceleration[i]
    square = 0.0
    for i in range(modes):
        square += nock[i] * nock[i]
    # the string's mass is one point at the nock: Sherman and Morrison's inverse
    pull = par[STRING_MASS] / (1.0 + par[STRING_MASS] * square) * at_nock
    for i in range(modes):
        acceleration[i] -= pull * nock[i]
    power[0] = p_push
    power[1] = of_string * vy
    power[2] = of_fingers * vy
    power[3] = spring * v_plate
    power[4] = damper * v_plate
    power[5] = spring + damper


rates = _compile(_rates)


def _advance(
    q: Array,
    p: Array,
    s: float,
    v: float,
    push: float,
    s_end: float,
    v_end: float,
    push_end: float,
    h: float,
    touching: bool,
    by_fingers: bool,
    par: Array,
    curve: Array,
    omega2: Array,
    thrust: Array,
    nock: Array,
    coefficients: Array,
    station: Array,
    q_end: Array,
    p_end: Array,
    gained: Array,
    room: tuple[Array, ...],
) -> None:
    """One Runge-Kutta step of all modes along a step of the nock; `station` is the start's."""
    modes = q.shape[0]
    k1, k2, k3, k4, p2, p3, p4, q_try, halfway, arrival, w1, w2, w3, w4 = room
    m = par[MOVED]
    # quintic Hermite midpoint of the nock's travel
    s_mid = 0.5 * (s + s_end) + 5 * h / 32 * (v - v_end) + h * h / 64 * (-push / m - push_end / m)
    push_mid = force(s_mid, par, curve)
    if touching:
        shapes(par[BRACE] + s_mid, par[LENGTH], coefficients, halfway)
        shapes(par[BRACE] + s_end, par[LENGTH], coefficients, arrival)

    rates(q, p, s, push, touching, by_fingers, station, par, omega2, thrust, nock, k1, w1)
    for i in range(modes):
        q_try[i] = q[i] + 0.5 * h * p[i]
        p2[i] = p[i] + 0.5 * h * k1[i]
    rates(
        q_try, p2, s_mid, push_mid, touching, by_fingers, halfway, par, omega2, thrust, nock, k2, w2
    )
    for i in range(modes):
        q_try[i] = q[i] + 0.5 * h * p2[i]
        p3[i] = p[i] + 0.5 * h * k2[i]
    rates(
        q_try, p3, s_mid, push_mid, touching, by_fingers, halfway, par, omega2, thrust, nock, k3, w3
    )
    for i in range(modes):
        q_try[i] = q[i] + h * p3[i]
        p4[i] = p[i] + h * k3[i]
    rates(
        q_try, p4, s_end, push_end, touching, by_fingers, arrival, par, omega2, thrust, nock, k4, w4
    )
    for i in range(modes):
        q_end[i] = q[i] + h / 6 * (p[i] + 2 * p2[i] + 2 * p3[i] + p4[i])
        p_end[i] = p[i] + h / 6 * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i])
    for j in range(WORKS):
        gained[j] = h / 6 * (w1[j] + 2 * w2[j] + 2 * w3[j] + w4[j])


advance = _compile(_advance)


def _margin(q: Array, p: Array, touching: bool, station: Array, par: Array) -> float:
    """How far the contact is from changing: the push if touching, else what a touch needs."""
    y, vy = 0.0, 0.0
    for i in range(q.shape[0]):
        y += station[i] * q[i]
        vy += station[i] * p[i]
    depth = par[GAP] - y
    push = par[PLATE_STIFFNESS] * depth - par[PLATE_DAMPING] * vy
    if touching:
        return float(push)
    return float(-min(depth * par[PLATE_STIFFNESS], push))


margin = _compile(_margin)


def _run(
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
) -> None:
    """All launches, from the starting shapes in `q` to the string's stop."""
    lanes, modes = q.shape
    q_end, p_end = np.empty(modes), np.empty(modes)
    gained = np.empty(WORKS)
    room = (
        np.zeros(modes), np.zeros(modes), np.zeros(modes), np.zeros(modes), np.zeros(modes),
        np.zeros(modes), np.zeros(modes), np.zeros(modes), np.zeros(modes), np.zeros(modes),
        np.zeros(WORKS), np.zeros(WORKS), np.zeros(WORKS), np.zeros(WORKS),
    )  # fmt: skip
    station, station_end = np.empty(modes), np.empty(modes)
    for n in range(lanes):
        par_n, curve_n = par[n], curve[n]
        omega_n, thrust_n, nock_n, coef_n = omega2[n], thrust[n], nock[n], coefficients[n]
        q_n, p_n = q[n], p[n]
        s, v, t, push = par_n[STROKE], 0.0, 0.0, force(par_n[STROKE], par_n, curve_n)
        fingers_end = par_n[STROKE] - par_n[SIDE_TRAVEL]
        by_fingers, touching = True, False
        count, steps = 0, 0
        least, greatest = np.inf, 0.0
        shapes(par_n[BRACE] + s, par_n[LENGTH], coef_n, station)
        while s > 0.0:
            h = par_n[STEP]
            stop = max(fingers_end, 0.0) if by_fingers else 0.0
            s_end, v_end, push_end = travel(s, v, push, h, par_n, curve_n)
            landing = s_end <= stop
            if landing:
                h = landing_part(s, v, push, h, s_end, stop, par_n, curve_n)
                s_end, v_end, push_end = travel(s, v, push, h, par_n, curve_n)
            before = margin(q_n, p_n, touching, station, par_n)
            advance(
                q_n, p_n, s, v, push, s_end, v_end, push_end, h, touching, by_fingers, par_n,
                curve_n, omega_n, thrust_n, nock_n, coef_n, station, q_end, p_end, gained, room,
            )  # fmt: skip
            shapes(par_n[BRACE] + s_end, par_n[LENGTH], coef_n, station_end)
            after = margin(q_end, p_end, touching, station_end, par_n)
            changes = False
            if after < 0.0:
                part = 0.0
                if before > 0.0:
                    low, high, f_low, f_high = 0.0, 1.0, before, after
                    for _ in range(SEARCH):
                        part = low - f_low * (high - low) / (f_high - f_low)
                        s_end, v_end, push_end = travel(s, v, push, part * h, par_n, curve_n)
                        advance(
                            q_n, p_n, s, v, push, s_end, v_end, push_end, part * h, touching,
                            by_fingers, par_n, curve_n, omega_n, thrust_n, nock_n, coef_n, station,
                            q_end, p_end, gained, room,
                        )  # fmt: skip
                        shapes(par_n[BRACE] + s_end, par_n[LENGTH], coef_n, station_end)
                        value = margin(q_end, p_end, touching, station_end, par_n)
                        # Illinois: halve the end that stays, so that both ends close in
                        if value > 0.0:
                            low, f_low, f_high = part, value, 0.5 * f_high
                        else:
                            high, f_high, f_low = part, value, 0.5 * f_low
                    part = high
                if part < SHORTEST:
                    touching = not touching
                    if touching:
                        if count < KEPT_CONTACTS:
                            contacts[n, count, 0] = t
                        count += 1
                    elif count <= KEPT_CONTACTS:
                        contacts[n, count - 1, 1] = t
                else:
                    h = part * h
                    changes = True
                    landing = landing and part == 1.0
                s_end, v_end, push_end = travel(s, v, push, h, par_n, curve_n)
                advance(
                    q_n, p_n, s, v, push, s_end, v_end, push_end, h, touching, by_fingers, par_n,
                    curve_n, omega_n, thrust_n, nock_n, coef_n, station, q_end, p_end, gained,
                    room,
                )  # fmt: skip
            t += h
            v, push = v_end, push_end
            s = stop if landing else s_end
            for i in range(modes):
                q_n[i] = q_end[i]
                p_n[i] = p_end[i]
            for j in range(WORKS):
                works[n, j] += gained[j]
            steps += 1
            shapes(par_n[BRACE] + s, par_n[LENGTH], coef_n, station)
            if landing and by_fingers:
                by_fingers = False
            if touching:
                now = max(margin(q_n, p_n, True, station, par_n), 0.0)
                least, greatest = min(least, now), max(greatest, now)
            if changes:
                touching = not touching
                if touching:
                    if count < KEPT_CONTACTS:
                        contacts[n, count, 0] = t
                    count += 1
                elif count <= KEPT_CONTACTS:
                    contacts[n, count - 1, 1] = t
        if touching and count <= KEPT_CONTACTS:
            contacts[n, count - 1, 1] = t
        summary[n, TIME], summary[n, SPEED] = t, -v
        summary[n, LEAST_FORCE], summary[n, GREATEST_FORCE] = least, greatest
        summary[n, CONTACTS], summary[n, STEPS] = count, steps


def _landing_part(
    s: float, v: float, push: float, h: float, s_end: float, stop: float, par: Array, curve: Array
) -> float:
    """The part of a step that ends where the remaining stroke is `stop`: secant search."""
    low, high, f_low, f_high = 0.0, h, s - stop, s_end - stop
    part = h
    for _ in range(SEARCH):
        if f_high == f_low:
            break
        part = low - f_low * (high - low) / (f_high - f_low)
        value = travel(s, v, push, part, par, curve)[0] - stop
        if value > 0.0:
            low, f_low, f_high = part, value, 0.5 * f_high
        else:
            high, f_high, f_low = part, value, 0.5 * f_low
    return float(part)


landing_part = _compile(_landing_part)
run = _compile(_run)
