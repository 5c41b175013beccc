"""Aiming over the point: where to hold it, and the distance at which it covers the mark.

At full draw the nock sits below the eye and the point stands in the picture. The line from the
eye over the point meets the target's plane above or below the mark: that is the hold.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.physics.flight import Shot, elevation_rad, fly
from shaftwright.units import GRAVITY_M_S2


def hold_m(
    shot: Shot, distance_m: ArrayLike, eye_above_nock_m: ArrayLike, nock_to_point_m: ArrayLike
) -> Array:
    """Where the point must be held: above the mark positive, below it negative.

    Parameters
    ----------
    shot : Shot
        The arrow, see `flight.Shot`.
    distance_m : array_like
        Distances from the eye [m].
    eye_above_nock_m : array_like
        Height of the eye over the nock at full draw, square to the sight line [m].
    nock_to_point_m : array_like
        From nock throat to the tip of the point [m].

    Returns
    -------
    ndarray
        Height of the hold at the target's distance [m].

    Notes
    -----
    The eye is taken straight above the nock. `eye_above_nock_from_point_on_m` finds the height
    that agrees with a point-on distance the archer knows, and so takes in what the bow adds.
    """
    distance, eye = np.asarray(distance_m, float), np.asarray(eye_above_nock_m, float)
    length = np.asarray(nock_to_point_m, float)
    pointed = elevation_rad(shot, distance, -eye)
    return np.asarray(distance * (length * np.sin(pointed) - eye) / (length * np.cos(pointed)))


def point_on_m(shot: Shot, eye_above_nock_m: ArrayLike, nock_to_point_m: ArrayLike) -> Array:
    """Distance at which the point covers the mark.

    Parameters
    ----------
    shot : Shot
        The arrow, see `flight.Shot`.
    eye_above_nock_m : array_like
        Height of the eye over the nock at full draw, square to the sight line [m].
    nock_to_point_m : array_like
        From nock throat to the tip of the point [m].

    Returns
    -------
    ndarray
        The far distance of the two, not the arrow's own length; not-a-number where the point
        never comes up to the mark [m].
    """
    eye, length = np.asarray(eye_above_nock_m, float), np.asarray(nock_to_point_m, float)
    # with the point on the mark the arrow's angle is known; only the far crossing is sought
    angle = np.arcsin(eye / length)
    pull = GRAVITY_M_S2 * np.cos(np.asarray(shot.slope_rad, float))
    speed = np.asarray(shot.speed_m_s, float)
    rise, forward = speed * np.sin(angle), speed * np.cos(angle)
    over = rise**2 - 2 * pull * eye
    root = np.sqrt(np.where((over > 0) & (rise > 0), over, np.nan))
    distance = np.asarray(forward * (rise + root) / pull)  # without drag: beyond the true one
    for _ in range(40):
        at = fly(shot, distance, angle, -eye)
        step = at.height_m * at.velocity_m_s[0] / at.velocity_m_s[1]
        # short of the top of the path the slope misleads: come in from beyond
        step = np.where(np.isnan(step), distance * 0.2, step)
        distance = np.asarray(np.maximum(distance - step, distance / 2))
        if not np.any(np.abs(step) > 1e-6):
            break
    return distance


def eye_above_nock_from_point_on_m(
    shot: Shot, point_on: ArrayLike, nock_to_point_m: ArrayLike
) -> Array:
    """Height of the eye over the nock that agrees with a known point-on distance.

    Parameters
    ----------
    shot : Shot
        The arrow, see `flight.Shot`.
    point_on : array_like
        Distance at which the archer's point covers the mark [m].
    nock_to_point_m : array_like
        From nock throat to the tip of the point [m].

    Returns
    -------
    ndarray
        The height, what the bow adds to the angle included [m].
    """
    length = np.asarray(nock_to_point_m, float)
    eye = np.zeros(np.broadcast_shapes(np.shape(point_on), length.shape))
    for _ in range(30):
        # contracts by about arrow length over distance a turn
        new = length * np.sin(elevation_rad(shot, point_on, -eye))
        if not np.any(np.abs(new - eye) >= 1e-9):  # settled, or out of reach
            return np.asarray(new)
        eye = np.asarray(new)
    return eye
