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
from typing import Any, Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shaftwright.physics.launch import array as launch_array
from shaftwright.physics.launch import columns as launch_columns
from shaftwright.physics.launch.beam import Array, Beam, free_free_beam, modes_at
from shaftwright.physics.launch.parts import (
    Energy,
    Frames,
    Launch,
    LaunchArrow,
    LaunchBow,
    LaunchSettings,
)

__all__ = ["Launch", "LaunchArrow", "LaunchBow", "LaunchSettings", "after_exit", "launch"]

Engine = Literal["auto", "numba", "numpy"]

#: steps in a launch, before the shortening that fast modes and contacts ask for
STEPS: Final = 240
#: largest phase of the fastest mode in one of `STEPS` steps [rad]
PHASE: Final = 1.0
#: launches from which compiling pays in `engine="auto"`
MANY: Final = 400


def launch(
    arrow: LaunchArrow,
    bow: LaunchBow,
    settings: LaunchSettings,
    *,
    hand: Literal["right", "left"] = "right",
    bending_modes: int = 4,
    steps: int = STEPS,
    frames: int = 0,
    stations: int = 41,
    engine: Engine = "auto",
) -> Launch:
    r"""Shoot arrows: all fields broadcast together, one launch for each element.

    Parameters
    ----------
    arrow : LaunchArrow
    bow : LaunchBow
    settings : LaunchSettings
    hand : {"right", "left"}
        The hand that draws. A left-handed rig is the mirror image: described alike, computed as
        right-handed and mirrored at the end, here and nowhere else.
    bending_modes : int
        0 (rigid arrow) to 10.
    steps : int
        Steps a launch takes at least; fast modes and contact changes ask for more.
    frames, stations : int
        Pictures to keep and points on the shaft in each; 0 keeps none.
    engine : {"auto", "numba", "numpy"}
        `auto` takes numba for many launches if it is installed.

    Returns
    -------
    Launch
        Arrays of the broadcast shape.

    Raises
    ------
    ValueError
        Values that no bow or arrow has: not finite, not positive where they must be, a shaft
        shorter than the distance from nock to plate at full draw.
    ModuleNotFoundError
        `engine="numba"` without numba.

    Notes
    -----
    With mass-normalised modes y = sum q_i(t) phi_i(x), x from the nock, remaining stroke s:

    .. math::
        s'' = -F(s)/(m + K), \qquad
        q'' + \Omega^2 q - \frac{F}{m+K} G q + m_s \phi_0 \phi_0^T q''
        = \phi_0 [-k(s) y_0 + \mu_f F \cos(\pi t_r / 2 t_f)] + \phi(b+s) N

    phi_0 = phi(0), k = k_full + (k_brace - k_full) (1 - s/d)^r, t_r = d - s the travel so far; the
    cosine's term acts for t_r < t_f only; N = max(k_p z - c v, 0) while the depth
    z = offset + radius - y(b+s) is positive, v being the shaft's own sideways velocity there. The
    arrow starts straight and at rest, its nock on the median plane, touching the plate.
    Fourth-order Runge-Kutta with steps cut at contact changes.

    The model holds small slopes (a few degrees), neglects shaft damping, the string's own waves,
    limb twist, hand shock, plate friction and everything vertical. Absolute turn rates hang on
    settings nobody measures: use it for differences, or fit it.
    """
    if hand not in ("right", "left"):
        raise ValueError(f"hand {hand!r}; allowed are right and left")
    shape = np.broadcast_shapes(
        arrow.shape(),
        bow.shape(),
        settings.shape(),
        () if bow.draw_curve_n is None else np.shape(bow.draw_curve_n)[:-1],
    )

    def flat(value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), shape).reshape(-1)

    a, b, c = (
        {f.name: flat(getattr(part, f.name)) for f in fields(part) if f.name != "draw_curve_n"}
        for part in (arrow, bow, settings)
    )
    _check(a, b, c)
    beam = free_free_beam(
        a["length_m"],
        a["stiffness_n_m2"],
        a["mass_per_length_kg_m"],
        a["front_kg"],
        a["tail_kg"],
        a["fletching_kg"],
        a["fletching_station_m"],
        bending_modes=bending_modes,
    )
    par = _parameters(a, b, c, beam)
    count, mode_count = len(par), bending_modes + 2
    if bow.draw_curve_n is None:
        curve = np.zeros((count, 0))
        energy = b["stored_energy_j"] * (1 - b["hysteresis"])
    else:
        points = np.shape(bow.draw_curve_n)[-1]
        curve = np.broadcast_to(bow.draw_curve_n, (*shape, points)).reshape(count, points)
        curve = curve * (1 - b["hysteresis"])[:, None]
        energy = np.trapezoid(curve, axis=1) * b["power_stroke_m"] / (points - 1)
    # The time from rest by a straight-line draw curve; real ones take a little less.
    expected = 0.5 * np.pi * par[:, launch_columns.STROKE]
    expected /= np.sqrt(2 * energy / par[:, launch_columns.MOVED])
    fastest = np.sqrt(beam.omega_squared.max(axis=1))
    with np.errstate(divide="ignore"):
        by_phase = np.where(fastest > 0, PHASE / fastest, np.inf)
    par[:, launch_columns.STEP] = np.minimum(expected / STEPS, by_phase) * (STEPS / steps)

    q, p = np.zeros((count, mode_count)), np.zeros((count, mode_count))
    slope = par[:, launch_columns.GAP] / (b["brace_height_m"] + b["power_stroke_m"])
    q[:, 0] = slope * beam.balance * np.sqrt(beam.mass)
    q[:, 1] = slope * np.sqrt(beam.inertia)
    works = np.zeros((count, launch_columns.WORKS))
    summary = np.zeros((count, launch_columns.SUMMARY))
    contacts = np.full((count, launch_columns.KEPT_CONTACTS, 2), np.nan)
    arrays = (par, curve, beam.omega_squared, beam.thrust, beam.at_nock, beam.coefficients)
    results = (q, p, works, summary, contacts)
    if frames and count > launch_array.CHUNK:
        raise ValueError(f"frames of {count} launches asked; {launch_array.CHUNK} at most")
    record: list[launch_array.Record] = []
    if frames or not _use_numba(engine, count):
        launch_array.run(*arrays, *results, record=record if frames else None)
    else:
        from shaftwright.physics.launch import lane as launch_lane  # numba takes a second to load

        launch_lane.run(*(np.ascontiguousarray(x) for x in arrays), *results)
    pictures = _pictures(record, par, beam, frames, stations, shape) if frames else None
    return _result(par, beam, results, pictures, shape, 1.0 if hand == "right" else -1.0)


def after_exit(left: Launch, time_s: ArrayLike, *, stations: int = 41) -> tuple[Array, Array]:
    """The shaft's free motion once the string has let go, gravity and air left out.

    Parameters
    ----------
    left : Launch
        What `launch` gave, of one or more launches.
    time_s : array_like, shape (times,)
        Time after the string's stop [s].
    stations : int
        Points on the shaft.

    Returns
    -------
    station_m : ndarray, shape (..., stations)
        Distance from the nock [m].
    sideways_m : ndarray, shape (..., times, stations)
        Centre line off the bow's median plane, positive to the archer's left [m].
    """
    beam, shape = left.beam, left.turn_rate_rad_s.shape
    t = np.asarray(time_s, float)
    omega = np.sqrt(beam.omega_squared)[:, None, :]
    q, p = (x.reshape(len(beam.mass), 1, -1) for x in (left.modes, left.mode_rates))
    # sin(w t) / w, which is t for the rigid motions
    swing = t[:, None] * np.sinc(omega * t[:, None] / np.pi)
    amplitudes = q * np.cos(omega * t[:, None]) + p * swing
    station = np.linspace(0, 1, stations) * left.length_m.reshape(-1, 1)
    shapes = modes_at(beam.coefficients, station, left.length_m.reshape(-1))
    sideways = left.mirror * np.einsum("ntk,nsk->nts", amplitudes, shapes)
    return station.reshape(*shape, stations), sideways.reshape(*shape, t.size, stations)


def _use_numba(engine: Engine, count: int) -> bool:
    if engine not in ("auto", "numba", "numpy"):
        raise ValueError(f"engine {engine!r}; allowed are auto, numba and numpy")
    if engine == "numba" and not launch_columns.numba_is_there():
        raise ModuleNotFoundError("engine 'numba' asked, but numba is not installed")
    return engine == "numba" or (
        engine == "auto" and count >= MANY and launch_columns.numba_is_there()
    )


_POSITIVE: Final = (
    "length_m", "stiffness_n_m2", "mass_per_length_kg_m", "draw_force_n", "power_stroke_m",
    "stored_energy_j", "side_travel_m", "brace_height_m", "string_rise",
)  # fmt: skip
_ANY_SIGN: Final = ("plate_offset_m", "plate_shift_m", "side_fraction")


def _check(*parts: dict[str, Array]) -> None:
    for part in parts:
        for name, value in part.items():
            if not np.all(np.isfinite(value)):
                raise ValueError(f"{name} is not finite")
            if name in _POSITIVE and np.any(value <= 0):
                raise ValueError(f"{name} must be above 0, is {value.min():g}")
            if name not in _ANY_SIGN and np.any(value < 0):
                raise ValueError(f"{name} must not be below 0, is {value.min():g}")
    arrow, bow = parts[0], parts[1]
    if np.any(bow["hysteresis"] >= 1):
        raise ValueError(f"hysteresis must be under 1, is {bow['hysteresis'].max():g}")
    if np.any(bow["virtual_mass_kg"] + arrow["front_kg"] + arrow["tail_kg"] <= 0):
        raise ValueError("neither arrow parts nor virtual mass: nothing to push")
    reach = bow["brace_height_m"] + bow["power_stroke_m"] - arrow["length_m"]
    if np.any(reach > 0):
        raise ValueError(
            f"the shaft is {1000 * reach.max():.0f} mm shorter than nock to plate at full draw"
        )
    used = bow["stored_energy_j"] * (1 - bow["hysteresis"])
    if np.any(used >= bow["draw_force_n"] * bow["power_stroke_m"]):
        raise ValueError("more energy than full force over the whole stroke")


def _parameters(a: dict[str, Array], b: dict[str, Array], c: dict[str, Array], beam: Beam) -> Array:
    lane = launch_columns
    par = np.empty((len(beam.mass), lane.PARAMETERS))
    par[:, lane.FORCE] = b["draw_force_n"]
    par[:, lane.STROKE] = b["power_stroke_m"]
    used = b["stored_energy_j"] * (1 - b["hysteresis"])
    par[:, lane.EXPONENT] = b["draw_force_n"] * b["power_stroke_m"] / used - 1
    par[:, lane.MOVED] = beam.mass + b["virtual_mass_kg"]
    par[:, lane.BRACE] = b["brace_height_m"]
    par[:, lane.STRING_FULL] = c["string_stiffness_full_n_m"]
    par[:, lane.STRING_BRACE] = c["string_stiffness_brace_n_m"]
    par[:, lane.STRING_RISE] = c["string_rise"]
    par[:, lane.STRING_MASS] = b["string_mass_kg"] * c["string_lateral_mass"]
    par[:, lane.SIDE_FRACTION] = c["side_fraction"]
    par[:, lane.SIDE_TRAVEL] = c["side_travel_m"]
    par[:, lane.PLATE_STIFFNESS] = c["plate_stiffness_n_m"]
    par[:, lane.PLATE_DAMPING] = c["plate_damping_n_s_m"]
    par[:, lane.GAP] = b["plate_offset_m"] + c["plate_shift_m"] + a["radius_m"]
    par[:, lane.LENGTH] = a["length_m"]
    return par


def _pictures(
    record: list[launch_array.Record],
    par: Array,
    beam: Beam,
    frames: int,
    stations: int,
    shape: tuple[int, ...],
) -> Frames:
    """Pictures at even times: straight lines between the steps, which are some 40 us apart."""
    count, mode_count = beam.at_nock.shape
    times, travel = np.empty((count, frames)), np.empty((count, frames))
    amplitudes = np.empty((count, frames, mode_count))
    for n in range(count):
        rows = [
            (t[i[0]], s[i[0]], q[:, i[0]])
            for ids, t, s, q in record
            if len(i := np.flatnonzero(ids == n))
        ]
        t, s = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
        times[n] = np.linspace(0, t[-1], frames)
        travel[n] = par[n, launch_columns.STROKE] - np.interp(times[n], t, s)
        for k in range(mode_count):
            amplitudes[n, :, k] = np.interp(times[n], t, [row[2][k] for row in rows])
    length = par[:, launch_columns.LENGTH]
    station = np.linspace(0, 1, stations) * length[:, None]
    shapes = modes_at(beam.coefficients, station, length)
    sideways = np.einsum("nfk,nsk->nfs", amplitudes, shapes)
    full = par[:, launch_columns.BRACE] + par[:, launch_columns.STROKE]
    return Frames(
        times.reshape(*shape, frames),
        travel.reshape(*shape, frames),
        station.reshape(*shape, stations),
        sideways.reshape(*shape, frames, stations),
        (full[:, None] - travel).reshape(*shape, frames),
    )


def _result(
    par: Array,
    beam: Beam,
    results: tuple[Array, Array, Array, Array, Array],
    frames: Frames | None,
    shape: tuple[int, ...],
    mirror: float,
) -> Launch:
    """What the launches left, mirrored (the one place) for a left-handed archer."""
    q, p, works, summary, contacts = results
    lane = launch_columns
    speed = summary[:, lane.SPEED]
    at_nock = (beam.at_nock * p).sum(axis=1)
    counts = summary[:, lane.CONTACTS].astype(np.intp)
    last = contacts[np.arange(len(q)), np.clip(counts, 1, lane.KEPT_CONTACTS) - 1, 1]
    least = summary[:, lane.LEAST_FORCE]
    if frames is not None:
        frames = replace(frames, sideways_m=mirror * frames.sideways_m)

    def shaped(value: NDArray[Any]) -> Any:
        return value.reshape(shape + value.shape[1:])

    return Launch(
        turn_rate_rad_s=shaped(mirror * p[:, 1] / np.sqrt(beam.inertia)),
        angle_rad=shaped(mirror * q[:, 1] / np.sqrt(beam.inertia)),
        direction_rad=shaped(mirror * p[:, 0] / np.sqrt(beam.mass) / speed),
        speed_m_s=shaped(speed),
        time_s=shaped(summary[:, lane.TIME]),
        plate_left_s=shaped(last),
        contacts_s=shaped(contacts),
        contact_count=shaped(counts),
        least_plate_force_n=shaped(np.where(np.isfinite(least), least, np.nan)),
        greatest_plate_force_n=shaped(summary[:, lane.GREATEST_FORCE]),
        plate_impulse_n_s=shaped(mirror * works[:, 5]),
        modes=shaped(q),
        mode_rates=shaped(p),
        beam=beam,
        energy=Energy(
            shaped(0.5 * (p**2).sum(axis=1) + 0.5 * par[:, lane.STRING_MASS] * at_nock**2),
            shaped(0.5 * (beam.omega_squared * q**2).sum(axis=1)),
            *(shaped(works[:, k]) for k in range(5)),
        ),
        steps=shaped(summary[:, lane.STEPS]),
        length_m=shaped(par[:, lane.LENGTH]),
        mirror=mirror,
        frames=frames,
    )
