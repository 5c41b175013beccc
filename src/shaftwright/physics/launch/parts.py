"""What goes into a launch and what comes out: arrow, bow, settings, and the exit."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.physics.launch.beam import Beam


@dataclass(frozen=True)
class Fields:
    """Quantities that are broadcast together."""

    def changed(self, **change: ArrayLike) -> Self:
        """A copy with some fields set."""
        return replace(self, **{k: np.asarray(v, float) for k, v in change.items()})

    def plus(self, **more: ArrayLike) -> Self:
        """A copy with something added to some fields."""
        return self.changed(**{k: np.asarray(getattr(self, k)) + v for k, v in more.items()})

    def times(self, **factor: ArrayLike) -> Self:
        """A copy with some fields multiplied."""
        return self.changed(**{k: np.asarray(getattr(self, k)) * v for k, v in factor.items()})

    def taken(self, index: Any) -> Self:
        """Some of the launches, by a last axis that all fields with one share."""
        columns = {k: np.asarray(v) for k, v in vars(self).items()}
        return self.changed(**{k: v[..., index] if v.ndim else v for k, v in columns.items()})

    def shape(self) -> tuple[int, ...]:
        """The shape all fields broadcast to."""
        return np.broadcast_shapes(*(np.shape(getattr(self, f.name)) for f in fields(self)))


@dataclass(frozen=True)
class LaunchArrow(Fields):
    """The arrow as a launch sees it; every field a number or an array [SI].

    Attributes
    ----------
    length_m : array_like
        Nock throat to the end of the shaft.
    stiffness_n_m2 : array_like
        Bending stiffness EI.
    mass_per_length_kg_m : array_like
        Bare shaft.
    front_kg : array_like
        Everything at the tip.
    tail_kg : array_like
        Nock and what sits with it.
    fletching_kg : array_like
        Fletching and wrap, as a point ahead of the nock; 0 for a bare shaft.
    radius_m : array_like
        Outside radius.
    fletching_station_m : array_like
        Where the fletching's mass is, from the nock.
    """

    length_m: ArrayLike
    stiffness_n_m2: ArrayLike
    mass_per_length_kg_m: ArrayLike
    front_kg: ArrayLike
    tail_kg: ArrayLike
    radius_m: ArrayLike
    fletching_kg: ArrayLike = 0.0
    fletching_station_m: ArrayLike = 3 * 0.0254


@dataclass(frozen=True)
class LaunchBow(Fields):
    """The bow as a launch sees it; every field a number or an array [SI].

    Attributes
    ----------
    draw_force_n : array_like
        Force at the archer's own draw.
    power_stroke_m : array_like
        String travel from full draw to brace.
    stored_energy_j : array_like
        Area under the draw curve. The force is F0 (s/d)^p, p chosen so that its area is the
        energy used.
    virtual_mass_kg : array_like
        Mass of limbs and string counted as moving with the arrow (a third of the string's
        included).
    brace_height_m : array_like
        Grip throat to string; the plate is taken to stand at the throat.
    string_mass_kg : array_like
        Whole string.
    plate_offset_m : array_like
        Plate's face outside the median plane; past centre is negative.
    hysteresis : array_like
        Part of the stored energy that is lost.
    """

    draw_force_n: ArrayLike
    power_stroke_m: ArrayLike
    stored_energy_j: ArrayLike
    virtual_mass_kg: ArrayLike
    brace_height_m: ArrayLike
    string_mass_kg: ArrayLike
    plate_offset_m: ArrayLike = 0.0
    hysteresis: ArrayLike = 0.0


@dataclass(frozen=True)
class LaunchSettings(Fields):
    """What nobody measures; every field a number or an array [SI]. See `launch_settings`.

    Attributes
    ----------
    side_fraction : array_like
        Fingers' side force at the start over the draw force; 0 for a mechanical release.
    side_travel_m : array_like
        String travel over which it fades.
    plate_stiffness_n_m, plate_damping_n_s_m : array_like
        Strike plate: spring and damper.
    string_stiffness_full_n_m, string_stiffness_brace_n_m : array_like
        Sideways stiffness of the string at the nock, at full draw and at brace.
    string_lateral_mass : array_like
        Part of the string's mass that moves sideways with the nock.
    plate_shift_m : array_like
        Doubt of where the shaft bears: added to the plate's offset.
    string_rise : array_like
        Exponent of the rise of the string's stiffness with travel: 1 grows evenly from full draw
        to brace, 2 and 3 grow late, as the limbs come to their stop.
    computed : array_like
        1: push, speed and the string's sideways stiffness from two limbs and an elastic string
        (`limbs`), the fields of the string's stiffness and the virtual mass left aside; 0: by them.
    limb_inertia_kg_m2, string_stretch_n, half_string_share : array_like
        Of a computed bow: one limb about its hinge, the string's EA, and half the string over the
        distance from grip to nock at full draw.
    """

    side_fraction: ArrayLike
    side_travel_m: ArrayLike
    plate_stiffness_n_m: ArrayLike
    plate_damping_n_s_m: ArrayLike
    string_stiffness_full_n_m: ArrayLike
    string_stiffness_brace_n_m: ArrayLike
    string_lateral_mass: ArrayLike
    plate_shift_m: ArrayLike = 0.0
    string_rise: ArrayLike = 1.0
    computed: ArrayLike = 0.0
    limb_inertia_kg_m2: ArrayLike = 0.0075
    string_stretch_n: ArrayLike = 80_000.0
    half_string_share: ArrayLike = 1.19


Rig = tuple[LaunchArrow, LaunchBow, LaunchSettings]


def shape_of(rig: Rig) -> tuple[int, ...]:
    """The shape of a rig's launches.

    Parameters
    ----------
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings

    Returns
    -------
    tuple of int
    """
    return np.broadcast_shapes(*(part.shape() for part in rig))


@dataclass(frozen=True)
class Frames:
    """The bent shaft seen from above, at evenly spaced times up to the string's stop.

    Attributes
    ----------
    time_s : ndarray, shape (..., frames)
    nock_travel_m : ndarray, shape (..., frames)
        Distance the nock has come forward.
    station_m : ndarray, shape (..., stations)
        Distance from the nock along the shaft.
    sideways_m : ndarray, shape (..., frames, stations)
        Centre line off the median plane; positive to the archer's left.
    plate_station_m : ndarray, shape (..., frames)
        Where the plate stands, from the nock.
    """

    time_s: Array
    nock_travel_m: Array
    station_m: Array
    sideways_m: Array
    plate_station_m: Array


@dataclass(frozen=True)
class Launch:
    """How arrows leave the string; sides as for a right-handed archer.

    Attributes
    ----------
    turn_rate_rad_s : ndarray
        Rotation of the whole arrow; positive: the nose goes left, the nock right (stiff).
    angle_rad : ndarray
        The arrow's mean direction of pointing against the bow's axis.
    direction_rad : ndarray
        Path of the balance point against the bow's axis.
    speed_m_s, time_s : ndarray
        Along the bow's axis, and from release to the string's stop.
    contacts_s : ndarray, shape (..., 24, 2)
        Start and end of the contacts with the plate, in order; nan beyond the last.
    modes, mode_rates : ndarray, shape (..., modes)
        Amplitudes and rates at the string's stop [kg^1/2 m].
    beam : Beam
        The modes, with the launches in one row.
    energy_j, work_j : ndarray
        Of the sideways motion at the string's stop, and what was done on it; alike but for the
        integration's error.
    length_m : ndarray
        Of the shafts.
    frames : Frames or None
    """

    turn_rate_rad_s: Array
    angle_rad: Array
    direction_rad: Array
    speed_m_s: Array
    time_s: Array
    contacts_s: Array
    modes: Array
    mode_rates: Array
    beam: Beam
    energy_j: Array
    work_j: Array
    length_m: Array
    frames: Frames | None = None

    @property
    def attack_rad(self) -> Array:
        """Angle between the arrow and its path; positive: nose to the left."""
        return self.angle_rad - self.direction_rad

    @property
    def plate_left_s(self) -> Array:
        """When the last contact ended, `time_s` if none did; nan without contact."""
        left: Array = np.fmax.reduce(self.contacts_s[..., 1], axis=-1)
        return left
