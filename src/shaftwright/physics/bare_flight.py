"""The bare shaft in flight: how a turn rate and an angle at exit become an offset and an attitude.

Sideways motion in one plane, +y away from the riser, as the launch gives it: a positive angle or
turn rate has the nose to +y, and lift carries the shaft to +y. Two forces act: lift on the nose,
which turns the shaft further, and cross-flow along the whole shaft, which acts at its middle,
behind the balance point, and grows with the square of the angle. Where both moments cancel the
shaft trims. A balance point farther forward shortens the nose's arm and lengthens the
cross-flow's: so a high front of centre turns more slowly, trims at a smaller angle and drifts
less. With fins the same equations carry the fletched arrow.

References
----------
1. Barrowman, J. S. (1967), The practical calculation of the aerodynamic characteristics of
   slender finned vehicles (nose normal force 2 per rad, fins); cross-flow 1.1 planform sin^2.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array, stepped
from shaftwright.physics.air import Air
from shaftwright.physics.arrow import (
    Arrow,
    balance_point_m,
    moment_of_inertia_kg_m2,
    total_mass_kg,
)

NOSE_PER_RAD: Final = 2.0
CROSS_FLOW: Final = 1.1
_LONGEST_STEP_M: Final = 0.25  # a sixtieth of the length over which a shaft turns


@cache
def _gauss() -> tuple[Array, Array]:
    return np.polynomial.legendre.leggauss(6)


@dataclass(frozen=True, eq=False)
class BareShaft:
    """What the air acts on; every field a number or an array.

    Parameters
    ----------
    length_m : array_like
        Nock throat to the nose [m].
    diameter_m : array_like
        Outside diameter [m].
    mass_kg : array_like
        Whole mass [kg].
    balance_m : array_like
        Balance point from the nock throat [m].
    inertia_kg_m2 : array_like
        Moment of inertia about it [kg m2].
    fin_slope : array_like
        Normal force of fins per radian on the shaft's cross-section, 0 when bare [1/rad].
    fin_at_m : array_like
        Where it acts, from the nock throat [m].
    """

    length_m: ArrayLike
    diameter_m: ArrayLike
    mass_kg: ArrayLike
    balance_m: ArrayLike
    inertia_kg_m2: ArrayLike
    fin_slope: ArrayLike = 0.0
    fin_at_m: ArrayLike = 0.0

    @classmethod
    def of(cls, arrow: Arrow, diameter_m: ArrayLike, **more: ArrayLike) -> BareShaft:
        """The bare shaft of a build, its nose at the end of the shaft."""
        return cls(
            arrow.length_m, diameter_m, total_mass_kg(arrow), balance_point_m(arrow),
            moment_of_inertia_kg_m2(arrow), **more,
        )  # fmt: skip


class BareFlight(NamedTuple):
    """Shafts at distances; each field has shape (..., distances).

    Attributes
    ----------
    offset_m : ndarray
        Sideways from the line of departure, +y [m].
    attack_rad : ndarray
        Shaft against its path, nose toward +y positive: the nock's attitude [rad].
    """

    offset_m: Array
    attack_rad: Array


def trim_angle_rad(length_m: ArrayLike, diameter_m: ArrayLike, foc_pct: ArrayLike) -> Array:
    """Angle of attack at which a bare shaft trims.

    Parameters
    ----------
    length_m, diameter_m : array_like
        Length and outside diameter [m].
    foc_pct : array_like
        Front of centre, above nought [%].

    Returns
    -------
    ndarray
        Angle between shaft and path at which the two moments cancel [rad].

    Notes
    -----
    2 A a (L - B) = 1.1 L d a^2 (B - L/2) for a small angle a. Theory: no measurement was found.

    Examples
    --------
    >>> bool(0.030 < trim_angle_rad(0.72, 0.0052, 12.0) < 0.034)
    True
    """
    f = np.asarray(foc_pct, float) / 100
    slender = np.asarray(diameter_m, float) / np.asarray(length_m, float)
    return np.asarray(NOSE_PER_RAD * np.pi / 4 / CROSS_FLOW * slender * (0.5 - f) / f)


def fin_slope_per_rad(
    fins: int,
    span_m: ArrayLike,
    root_m: ArrayLike,
    tip_m: ArrayLike,
    sweep_m: ArrayLike,
    diameter_m: ArrayLike,
) -> Array:
    """Normal force slope of fins in the shaft's presence, on the shaft's cross-section.

    Parameters
    ----------
    fins : int
        Three or four.
    span_m : array_like
        Height of a fin from the shaft's surface [m].
    root_m, tip_m : array_like
        Chords at the shaft and at the tip [m].
    sweep_m : array_like
        How far the middle of the tip chord lies behind that of the root chord [m].
    diameter_m : array_like
        Outside diameter of the shaft [m].

    Returns
    -------
    ndarray
        Slope [1/rad].

    References
    ----------
    1. Barrowman (1967), fin normal force with the body's interference factor.
    """
    span, diameter = np.asarray(span_m, float), np.asarray(diameter_m, float)
    middle = np.hypot(span, np.asarray(sweep_m, float))
    chords = np.asarray(root_m, float) + np.asarray(tip_m, float)
    alone = 4 * fins * (span / diameter) ** 2 / (1 + np.sqrt(1 + (2 * middle / chords) ** 2))
    return np.asarray(alone * (1 + diameter / 2 / (span + diameter / 2)))


def loads(
    shaft: BareShaft,
    air: Air,
    speed_m_s: ArrayLike,
    attack_rad: ArrayLike,
    turn_rad_s: ArrayLike = 0.0,
) -> tuple[Array, Array]:
    """Side force and moment about the balance point.

    Parameters
    ----------
    shaft : BareShaft
        One or many.
    air : Air
        Density is used.
    speed_m_s, attack_rad, turn_rad_s : array_like
        Speed [m/s], shaft against path [rad], turn rate [rad/s].

    Returns
    -------
    tuple of ndarray
        Force toward +y [N]; moment, turning the nose to +y positive [N m].

    Notes
    -----
    Each station meets the air at its own angle, so turning is damped. Small angles, up to some
    15 degrees; a shaft that also bends or spins is not modelled.
    """
    length, diameter = np.asarray(shaft.length_m, float), np.asarray(shaft.diameter_m, float)
    balance, density = np.asarray(shaft.balance_m, float), np.asarray(air.density_kg_m3, float)
    speed, turn = np.asarray(speed_m_s, float), np.asarray(turn_rad_s, float)
    across = speed * np.sin(np.asarray(attack_rad, float))
    section = np.pi * diameter**2 / 4

    def met(arm: Array) -> Array:
        """Sideways speed of the air against a station ahead of the balance point by `arm`."""
        return np.asarray(across - turn * arm)

    nose_arm, fin_arm = length - balance, np.asarray(shaft.fin_at_m, float) - balance
    at_nose = density / 2 * speed * section * NOSE_PER_RAD * met(nose_arm)
    at_fins = density / 2 * speed * section * np.asarray(shaft.fin_slope, float) * met(fin_arm)
    force, moment = at_nose + at_fins, at_nose * nose_arm + at_fins * fin_arm
    nodes, weights = (v.reshape(-1, *(1,) * np.ndim(force + length)) for v in _gauss())
    arm = length * (1 + nodes) / 2 - balance
    wind = met(arm)
    part = weights / 2 * length * density / 2 * CROSS_FLOW * diameter * wind * np.abs(wind)
    return np.asarray(force + part.sum(axis=0)), np.asarray(moment + (part * arm).sum(axis=0))


def bare_flight(
    shaft: BareShaft,
    speed_m_s: ArrayLike,
    turn_rad_s: ArrayLike,
    attack_rad: ArrayLike,
    distances_m: ArrayLike,
    air: Air | None = None,
    longest_step_m: float = _LONGEST_STEP_M,
) -> BareFlight:
    """Offset and nock attitude of shafts at distances, from how they left the string.

    Parameters
    ----------
    shaft : BareShaft
        One or many; broadcasts against the initial states.
    speed_m_s : array_like
        Speed at exit [m/s].
    turn_rad_s, attack_rad : array_like
        Turn rate [rad/s] and angle of shaft against path [rad] at exit.
    distances_m : array_like, shape (k,)
        Distances, rising [m].
    air : Air, optional
        Standard air when absent.
    longest_step_m : float
        Of the Runge-Kutta steps [m].

    Returns
    -------
    BareFlight
        At the distances, on the last axis.

    Notes
    -----
    Offsets are from the line on which the balance point departs. What a bare shaft shows against
    a fletched one is the difference of two such flights from one exit, with and without fins.
    The speed lost on the way is left out. A shaft that leaves with a fast turn swings through its
    path: its attitude far out may point the other way, so the nearer attitude tells more.
    """
    distances = np.atleast_1d(np.asarray(distances_m, float))
    air = Air.at() if air is None else air
    speed, turn, attack = (np.asarray(v, float) for v in (speed_m_s, turn_rad_s, attack_rad))
    mass, inertia = np.asarray(shaft.mass_kg, float), np.asarray(shaft.inertia_kg_m2, float)

    def rates(state: Array) -> Array:
        _, path, angle, rate = state
        force, moment = loads(shaft, air, speed, angle - path, rate)
        return np.stack([path, force / (mass * speed**2), rate / speed, moment / (inertia * speed)])

    shape = np.broadcast_shapes(
        speed.shape, turn.shape, attack.shape, mass.shape, inertia.shape, np.shape(shaft.balance_m),
        np.shape(shaft.length_m), np.shape(shaft.diameter_m), np.shape(air.density_kg_m3),
        np.shape(shaft.fin_slope),
    )  # fmt: skip
    state = np.zeros((4, *shape))
    state[2], state[3] = attack, turn
    seen = []
    x = 0.0
    for distance in distances:
        steps = max(1, int(np.ceil((distance - x) / longest_step_m - 1e-9)))
        h = (distance - x) / steps
        for _ in range(steps if h > 0 else 0):
            state = stepped(rates, state, h)
        x = float(distance)
        seen.append(state)
    y, path, angle, _ = np.stack(seen, axis=-1)
    return BareFlight(y, angle - path)
