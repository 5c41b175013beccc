"""The arrow bending round the riser: from the fingers' release to the string's stop.

A planar model of the arrow's sideways motion, seen from above. For a right-handed archer x points
forward and y away from the riser, which is to the archer's left. The signs of "stiff" and "weak"
follow from it without being put in. What is computed: rigid translation and rotation and the first
free-free bending modes of the shaft with its end masses, pushed by the string (whose thrust
softens the bending), held by the string's tension, rolled off the fingertips, and pressed by a
one-sided strike plate that slides along the shaft. See Notes of `launch` for the equations.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Final

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.physics.launch.beam import COEFFICIENTS, Beam, free_free_beam, modes_at
from shaftwright.physics.launch.integrator import END, Lanes
from shaftwright.physics.launch.limbs import PLACES, limbs_of, shoot
from shaftwright.physics.launch.parts import (
    Frames,
    Launch,
    LaunchArrow,
    LaunchBow,
    LaunchSettings,
)
from shaftwright.physics.launch.states import State

#: steps in a launch, before the shortening that fast modes and contacts ask for
STEPS: Final = 240
#: largest phase of the fastest mode in one of `STEPS` steps [rad]
PHASE: Final = 1.0
#: points on the shaft in a picture of it
STATIONS: Final = 41
#: Legendre polynomials as power series, a row each
_POWERS: Final = np.array(
    [np.pad(legendre.leg2poly(row[: i + 1]), (0, COEFFICIENTS - 1 - i))
     for i, row in enumerate(np.eye(COEFFICIENTS))]
)  # fmt: skip


def launch(
    arrow: LaunchArrow,
    bow: LaunchBow,
    settings: LaunchSettings,
    *,
    bending_modes: int = 4,
    steps: int = STEPS,
    frames: int = 0,
) -> Launch:
    r"""Shoot arrows: all fields broadcast together, one launch for each element.

    Parameters
    ----------
    arrow : LaunchArrow
    bow : LaunchBow
    settings : LaunchSettings
    bending_modes : int
        0 (rigid arrow) to 10.
    steps : int
        Steps a launch takes at least; fast modes and contact changes ask for more.
    frames : int
        Pictures to keep; 0 keeps none.

    Returns
    -------
    Launch
        Arrays of the broadcast shape.

    Raises
    ------
    ValueError
        A shaft shorter than the distance from nock to plate at full draw, or no two limbs that could
        be the bow.

    Notes
    -----
    With mass-normalised modes y = sum q_i(t) phi_i(x), x from the nock, remaining stroke s:

    .. math::
        s'' = -F(s)/(m + K), \qquad
        q'' + \Omega^2 q - \frac{F}{m+K} G q + m_s \phi_0 \phi_0^T q''
        = \phi_0 [-k(s) y_0 + \mu_f F \cos(\pi t_r / 2 t_f)] + \phi(b+s) N

    phi_0 = phi(0), k = k_full + (k_brace - k_full) (1 - s/d)^r, t_r = d - s the travel so far; the
    cosine's term acts for t_r < t_f only; of a computed bow s, F/(m + K) and k are those of
    `limbs.shoot`, the fingers roll off the force at full draw; N = max(k_p z - c v, 0) while the depth
    z = offset + radius - y(b+s) is positive, v being the shaft's own sideways velocity there. The
    arrow starts straight and at rest, its nock on the median plane, touching the plate.
    Fourth-order Runge-Kutta with steps cut at contact changes.

    Everything is told as for a right-handed archer; a left-handed one's rig is its mirror image.

    The model holds small slopes (a few degrees), neglects shaft damping, the string's own waves,
    limb twist, hand shock, plate friction and everything vertical. Absolute turn rates hang on
    settings nobody measures: use it for differences, or fit it.
    """
    parts = (arrow, bow, settings)
    shape = np.broadcast_shapes(*(part.shape() for part in parts))
    v = {
        f.name: np.broadcast_to(np.asarray(getattr(part, f.name), float), shape).reshape(-1)
        for part in parts
        for f in fields(part)
    }
    short = v["brace_height_m"] + v["power_stroke_m"] - v["length_m"]
    if np.any(short > 0):
        raise ValueError(
            f"the shaft is {1000 * short.max():.0f} mm shorter than nock to plate at full draw"
        )
    of_shaft = ("length_m", "stiffness_n_m2", "mass_per_length_kg_m", "front_kg", "tail_kg",
                "fletching_kg", "fletching_station_m")  # fmt: skip
    beam = free_free_beam(*(v[name] for name in of_shaft), bending_modes=bending_modes)
    lanes = _with_limbs(v, beam, _lanes(v, beam, steps))
    string_kg = v["string_mass_kg"] * v["string_lateral_mass"]
    slope = lanes.gap / (v["brace_height_m"] + v["power_stroke_m"])
    q = np.zeros(beam.at_nock.shape[::-1])
    q[0] = slope * beam.balance * np.sqrt(beam.mass)
    q[1] = slope * np.sqrt(beam.inertia)
    record: list[State] | None = [] if frames else None
    at_end, contacts = lanes.run(q, record)

    def shaped(value: Array) -> Array:
        return value.reshape(shape + value.shape[1:])

    speed, q, p = lanes.exit_speed, at_end.q.T, at_end.p.T
    at_nock = (beam.at_nock * p).sum(axis=1)
    return Launch(
        turn_rate_rad_s=shaped(p[:, 1] / np.sqrt(beam.inertia)),
        angle_rad=shaped(q[:, 1] / np.sqrt(beam.inertia)),
        direction_rad=shaped(p[:, 0] / np.sqrt(beam.mass) / speed),
        speed_m_s=shaped(speed),
        time_s=shaped(at_end.time),
        contacts_s=shaped(contacts),
        modes=shaped(q),
        mode_rates=shaped(p),
        beam=beam,
        energy_j=shaped(
            0.5 * (p**2 + beam.omega_squared * q**2).sum(axis=1) + 0.5 * string_kg * at_nock**2
        ),
        work_j=shaped(at_end.work),
        length_m=shaped(v["length_m"]),
        frames=_pictures(record, lanes, beam, frames, shape) if record else None,
    )


def after_exit(left: Launch, time_s: ArrayLike) -> tuple[Array, Array]:
    """The shaft's free motion once the string has let go, gravity and air left out.

    Parameters
    ----------
    left : Launch
        What `launch` gave, of one or more launches.
    time_s : array_like, shape (times,)
        Time after the string's stop [s].

    Returns
    -------
    station_m : ndarray, shape (..., 41)
        Distance from the nock [m].
    sideways_m : ndarray, shape (..., times, 41)
        Centre line off the bow's median plane, positive to the archer's left [m].
    """
    beam, shape = left.beam, left.turn_rate_rad_s.shape
    t = np.asarray(time_s, float)
    omega = np.sqrt(beam.omega_squared)[:, None, :]
    q, p = (x.reshape(len(beam.mass), 1, -1) for x in (left.modes, left.mode_rates))
    # sin(w t) / w, which is t for the rigid motions
    swing = t[:, None] * np.sinc(omega * t[:, None] / np.pi)
    amplitudes = q * np.cos(omega * t[:, None]) + p * swing
    station = np.linspace(0, 1, STATIONS) * left.length_m.reshape(-1, 1)
    shapes = modes_at(beam.coefficients, station, left.length_m.reshape(-1))
    sideways = np.einsum("ntk,nsk->nts", amplitudes, shapes)
    return station.reshape(*shape, STATIONS), sideways.reshape(*shape, t.size, STATIONS)


def _lanes(v: dict[str, Array], beam: Beam, steps: int) -> Lanes:
    """The launches as the integrator wants them."""
    used = v["stored_energy_j"] * (1 - v["hysteresis"])
    moved = beam.mass + v["virtual_mass_kg"]
    nock, string_kg = beam.at_nock.T, v["string_mass_kg"] * v["string_lateral_mass"]
    # The slower of the two ends of the nock's way tells the time of a step.
    clock = np.sqrt(v["power_stroke_m"] * moved / v["draw_force_n"])
    clock = np.maximum(clock, v["power_stroke_m"] / np.sqrt(2 * used / moved))
    fastest = np.sqrt(beam.omega_squared.max(axis=1)) * clock
    return Lanes(
        force=v["draw_force_n"],
        stroke=v["power_stroke_m"],
        exponent=v["draw_force_n"] * v["power_stroke_m"] / used - 1,
        moved=moved,
        brace=v["brace_height_m"],
        length=v["length_m"],
        gap=v["plate_offset_m"] + v["plate_shift_m"] + v["radius_m"],
        string_full=v["string_stiffness_full_n_m"],
        string_brace=v["string_stiffness_brace_n_m"],
        string_rise=v["string_rise"],
        side_fraction=v["side_fraction"],
        side_travel=v["side_travel_m"],
        plate_stiffness=v["plate_stiffness_n_m"],
        plate_damping=v["plate_damping_n_s_m"],
        step=np.minimum(END / STEPS, PHASE / np.maximum(fastest, PHASE)) * (STEPS / steps),
        omega_squared=np.ascontiguousarray(beam.omega_squared.T),
        nock=np.ascontiguousarray(nock),
        # the string's mass is one point at the nock: Sherman and Morrison's inverse
        recoil=nock * (string_kg / (1 + string_kg * (nock**2).sum(axis=0))),
        thrust=np.ascontiguousarray(beam.thrust.transpose(1, 2, 0)),
        powers=np.ascontiguousarray((beam.coefficients @ _POWERS).transpose(1, 2, 0)),
        exit_speed=np.sqrt(2 * used / moved),
        shot=np.full(len(moved), -1),
        tables=np.empty((0, 6)),
    )


def _with_limbs(v: dict[str, Array], beam: Beam, lanes: Lanes) -> Lanes:
    """With the computed bows shot; bows and arrow masses that are alike are shot once."""
    own = np.flatnonzero(v["computed"])
    if not own.size:
        return lanes
    given = np.column_stack([
        v["draw_force_n"], v["power_stroke_m"], v["stored_energy_j"] * (1 - v["hysteresis"]),
        v["brace_height_m"], v["half_string_share"] * (v["brace_height_m"] + v["power_stroke_m"]),
        v["string_stretch_n"], beam.mass, v["string_mass_kg"], v["limb_inertia_kg_m2"],
    ])[own]  # fmt: skip
    rows, which = np.unique(given, axis=0, return_inverse=True)
    columns, which = rows.T, np.ravel(which)
    shot = shoot(limbs_of(*columns[:6]), *columns[6:])
    past, slowest, speed = np.zeros_like(beam.mass), np.zeros_like(beam.mass), lanes.exit_speed
    past[own], speed[own] = shot.past_m[which], shot.speed_m_s[which]
    slowest[own] = shot.clock.max(axis=0)[which] * np.sqrt(beam.omega_squared[own].max(axis=1))
    column = np.full(len(beam.mass), -1)
    column[own] = which * (PLACES - 1)
    rows = np.stack([shot.clock, shot.forward, shot.hold], axis=-1)  # (places, bows, 3)
    tables = np.concatenate([rows[:-1], np.diff(rows, axis=0)], axis=-1)
    return replace(
        lanes,
        stroke=lanes.stroke + past,
        brace=lanes.brace - past,
        step=np.minimum(lanes.step, PHASE / np.maximum(slowest, PHASE)),
        exit_speed=speed,
        shot=column,
        tables=np.ascontiguousarray(tables.swapaxes(0, 1)).reshape(-1, 6),
    )


def _pictures(
    record: list[State], lanes: Lanes, beam: Beam, frames: int, shape: tuple[int, ...]
) -> Frames:
    """Pictures at even times: straight lines between the steps, which are some 40 us apart."""
    steps = np.array([state.time for state in record])
    left = np.array([np.cos(state.angle) for state in record])
    amplitudes = np.stack([state.q for state in record])
    time = np.linspace(0, steps[-1], frames, axis=1)
    travel = np.empty_like(time)
    q = np.empty((*time.shape, amplitudes.shape[1]))
    for n, wanted in enumerate(time):
        travel[n] = lanes.stroke[n] * (1 - np.interp(wanted, steps[:, n], left[:, n]))
        for k in range(q.shape[2]):
            q[n, :, k] = np.interp(wanted, steps[:, n], amplitudes[:, k, n])
    station = np.linspace(0, 1, STATIONS) * lanes.length[:, None]
    sideways = q @ modes_at(beam.coefficients, station, lanes.length).transpose(0, 2, 1)
    plate = (lanes.brace + lanes.stroke)[:, None] - travel
    return Frames(
        *(x.reshape(shape + x.shape[1:]) for x in (time, travel, station, sideways, plate))
    )
