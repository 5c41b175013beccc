"""A bow of two rigid limbs on springs and an elastic string: what it does to the nock, computed.

Two degrees of freedom (the limbs' angle, the nock's place) give draw curve, tension, force on the
nock, efficiency and speed together, with no virtual mass. See Notes of `shoot`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from shaftwright.arrays import Array, stepped
from shaftwright.resources import usual

#: steps of a shot to where a power-law bow would have stopped, and how many of these at most
STEPS: Final = 400
MOST: Final = 3.0
#: places on the nock's way that are kept, even in its angle (see `integrator`)
PLACES: Final = 241
#: turns that settle the string's stretch; each leaves some hundredth of the error
_TURNS: Final = 12


@dataclass(frozen=True)
class Limbs:
    """Springs and geometry of n bows, each found from its draw weight, stroke and stored energy.

    Attributes
    ----------
    limb_m, hinge_m, apart_m : ndarray, shape (n,)
        Hinge to tip; hinges behind the grip's throat, and half their distance.
    spring_n_m, bias_n_m : ndarray, shape (n,)
        Torque of one limb: spring x angle - bias. A spring below nought belongs to a draw curve
        fuller than a straight limb's, as a recurve's.
    rest_m, stretch_n : ndarray, shape (n,)
        Half the string without tension, and its EA.
    braced_m, drawn_m : ndarray, shape (n,)
        Nock behind the throat.
    braced_rad, drawn_rad : ndarray, shape (n,)
        The limbs' angle from upright, towards the archer.
    """

    limb_m: Array
    hinge_m: Array
    apart_m: Array
    spring_n_m: Array
    bias_n_m: Array
    rest_m: Array
    stretch_n: Array
    braced_m: Array
    drawn_m: Array
    braced_rad: Array
    drawn_rad: Array

    def string(self, nock_m: Array, angle_rad: Array) -> tuple[Array, Array, Array, Array]:
        """Of half the string: tension, its share along the bow's axis, length, and the limb's lever.

        The share is positive while the string pushes the nock forward; the lever is the tension's
        about the hinge, positive where it bends the limb further.
        """
        sin, cos = np.sin(angle_rad), np.cos(angle_rad)
        back = nock_m - self.hinge_m - self.limb_m * sin
        up = self.apart_m + self.limb_m * cos
        length = np.hypot(back, up)
        tension = self.stretch_n * np.maximum(length / self.rest_m - 1, 0.0)
        lever = self.limb_m * (back * cos + up * sin) / length
        return tension, back / length, length, lever

    def energy_j(self, nock_m: Array, angle_rad: Array) -> Array:
        """In both limbs and the string [J], from an arbitrary nought."""
        tension = self.string(nock_m, angle_rad)[0]
        limbs = self.spring_n_m * angle_rad**2 - 2 * self.bias_n_m * angle_rad
        return limbs + tension**2 * self.rest_m / self.stretch_n


@dataclass(frozen=True)
class Shot:
    """What n bows do to their arrows, at places even in the angle of the nock's way.

    Attributes
    ----------
    past_m : ndarray, shape (n,)
        How far beyond brace the nock leaves.
    speed_m_s, time_s : ndarray, shape (n,)
        Of the arrow as it leaves.
    efficiency : ndarray, shape (n,)
        Arrow's energy over the energy stored.
    clock, forward, hold : ndarray, shape (places, n)
        As `states.Bow`: time for each radian [s], acceleration [m/s2], sideways stiffness [N/m].
    way_m, tension_n, force_n, pace : ndarray, shape (places, n)
        Nock's distance from where it leaves, tension, force on the arrow, and speed [m/s].
    """

    past_m: Array
    speed_m_s: Array
    time_s: Array
    efficiency: Array
    clock: Array
    forward: Array
    hold: Array
    way_m: Array
    tension_n: Array
    force_n: Array
    pace: Array


def limbs_of(
    draw_force_n: Array, stroke_m: Array, stored_j: Array, brace_m: Array, half_string_m: Array,
    stretch_n: Array,
) -> Limbs:  # fmt: skip
    """The limbs' spring, its bias and the string's length that give a bow's force and energy.

    Parameters
    ----------
    draw_force_n, stroke_m, stored_j, brace_m, half_string_m, stretch_n : ndarray, shape (n,)
        Force at full draw, string travel, energy under the draw curve, grip to string, half the
        string as braced, and the string's EA.

    Returns
    -------
    Limbs

    Raises
    ------
    ValueError
        No two limbs do it: the draw is too long for the bow, or the string slack at brace.
    """
    limb = usual("limb_of_half_string") * half_string_m
    hinge = usual("hinge_of_brace_height") * brace_m
    with np.errstate(invalid="ignore"):
        braced = np.arcsin((brace_m - hinge) / limb)
        apart = half_string_m - limb * np.cos(braced)
        drawn_at = brace_m + stroke_m
        reach = np.hypot(drawn_at - hinge, apart)
        to_nock = np.arctan2(drawn_at - hinge, -apart)
        rest, tight, slack = half_string_m, np.zeros_like(limb), np.zeros_like(limb)
        for _ in range(_TURNS):
            length = rest * (1 + tight / stretch_n)
            # hinge, nock and tip make a triangle
            inner = np.arccos((reach**2 + limb**2 - length**2) / (2 * reach * limb))
            drawn = to_nock - inner
            sin, cos = np.sin(drawn), np.cos(drawn)
            back, up = drawn_at - hinge - limb * sin, apart + limb * cos
            tight = draw_force_n * length / (2 * back)
            torque = tight * limb * (back * cos + up * sin) / length
            # torque = spring x drawn - bias; stored = spring x (squares) - 2 bias x (angles)
            turn = drawn - braced
            in_string = (tight**2 - slack**2) * rest / stretch_n
            mean = (stored_j - in_string) / (2 * turn)
            spring = 2 * (torque - mean) / turn
            bias = spring * drawn - torque
            slack = (spring * braced - bias) / (limb * np.sin(braced))
            rest = half_string_m / (1 + slack / stretch_n)
    fine = (drawn < 0.5 * np.pi) & (slack > 0)
    if not np.all(fine):
        raise ValueError("two limbs and a string cannot make this bow: the draw is too long for it")
    return Limbs(
        limb, hinge, apart, spring, bias, rest, stretch_n, brace_m, drawn_at, braced, drawn
    )  # fmt: skip


def shoot(bow: Limbs, arrow_kg: Array, string_kg: Array, limb_kg_m2: Array) -> Shot:
    r"""Shoot arrows from rest at full draw until the string is straight and pushes no more.

    Parameters
    ----------
    bow : Limbs
        n bows.
    arrow_kg, string_kg, limb_kg_m2 : ndarray, shape (n,)
        Arrow, whole string, and one limb's inertia about its hinge.

    Returns
    -------
    Shot

    Raises
    ------
    ValueError
        The string never came straight.

    Notes
    -----
    .. math::
        (m + m_s/3)\, x'' = -2 T \cos\gamma, \qquad
        (I + m_s \ell^2 / 6)\, \theta'' = T \ell_\perp - (k \theta - c)

    x the nock behind the grip, T the half string's tension by its stretch, gamma its angle to the
    bow's axis, l_perp its lever about the hinge. A third of the string counts with the nock, a
    sixth with each tip. Fourth-order Runge-Kutta.

    References
    ----------
    1. Hickman, C. N. (1937), J. Franklin Inst. 224, 153: rigid limbs, a stiff string; as recalled.
    2. Marlow, W. C. (1981), Am. J. Phys. 49, 320: the string's stretch; as recalled.
    """
    nock_kg, tip_kg_m2 = arrow_kg + string_kg / 3, limb_kg_m2 + string_kg * bow.limb_m**2 / 6

    def rates(y: Array) -> Array:
        tension, along, _, lever = bow.string(y[0], y[1])
        torque = bow.spring_n_m * y[1] - bow.bias_n_m
        return np.stack(
            [y[2], y[3], -2 * tension * along / nock_kg, (tension * lever - torque) / tip_kg_m2]
        )

    zero = np.zeros_like(arrow_kg)
    y = np.stack([bow.drawn_m, bow.drawn_rad, zero, zero])
    stored = bow.energy_j(y[0], y[1]) - bow.energy_j(bow.braced_m, bow.braced_rad)
    stroke = bow.drawn_m - bow.braced_m
    h = 1.6 * stroke / np.sqrt(2 * 0.8 * stored / nock_kg) / STEPS
    record = [y]
    running = np.ones(zero.shape, bool)
    while running.any() and len(record) < MOST * STEPS:
        y = stepped(rates, y, h)
        record.append(y)
        running &= bow.string(y[0], y[1])[1] > 0
    if running.any():
        raise ValueError("the string of two limbs never comes straight: no such bow")
    return _at_places(bow, np.stack(record), h, stored, arrow_kg, nock_kg)


def _at_places(
    bow: Limbs, path: Array, h: Array, stored: Array, arrow_kg: Array, nock_kg: Array
) -> Shot:
    """A shot from its steps, up to where the string is straight."""
    tension, along, length, _ = bow.string(path[:, 0], path[:, 1])
    count = len(h)
    last = np.argmax(along <= 0, axis=0)
    grid = np.linspace(0, 0.5 * np.pi, PLACES)
    kept = np.empty((7, PLACES, count))
    past, leaves = np.empty(count), np.empty(count)
    for n, end in enumerate(last):
        part = along[end - 1, n] / (along[end - 1, n] - along[end, n])

        def cut(values: Array, end: int = int(end), part: float = float(part)) -> Array:
            return np.append(values[:end], values[end - 1] + part * (values[end] - values[end - 1]))

        x, v, t = cut(path[:, 0, n]), -cut(path[:, 2, n]), cut(np.arange(len(path)) * h[n])
        pull = cut(tension[:, n])
        forward = 2 * pull * cut(along[:, n]) / nock_kg[n]
        way = x - x[-1]
        angle = np.arccos(np.clip(way / way[0], 0.0, 1.0))
        clock = np.full_like(t, np.sqrt(way[0] / forward[0]))
        clock[1:] = way[0] * np.sin(angle[1:]) / v[1:]
        rows = (clock, forward, 2 * pull / cut(length[:, n]), way, pull, forward * arrow_kg[n], v)
        for i, row in enumerate(rows):
            kept[i, :, n] = np.interp(grid, angle, row)
        past[n], leaves[n] = bow.braced_m[n] - x[-1], t[-1]
    speed = kept[6, -1]
    return Shot(past, speed, leaves, 0.5 * arrow_kg * speed**2 / stored, *kept)
