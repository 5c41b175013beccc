"""One launch as it is seen: where the shaft touches, when it clears, where the nock goes; told in words."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, Final

import numpy as np

from shaftwright.answers.choose.rank import arrows_of
from shaftwright.answers.launch.rig import LaunchRig, launch_arrow, launch_rig
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array, Bools
from shaftwright.errors import NoAnswer
from shaftwright.inference.evidence.look import hand_sign
from shaftwright.physics.arrow import balance_point_m
from shaftwright.physics.bare_flight import BareShaft, bare_flight, fin_slope_per_rad
from shaftwright.physics.launch.launch import after_exit, launch
from shaftwright.physics.launch.parts import Launch, LaunchArrow, LaunchBow, LaunchSettings
from shaftwright.records.builds import Builds
from shaftwright.resources import table
from shaftwright.result import Result, kept
from shaftwright.units import FPS_M_S, INCH_M, YARD_M, cap, in_100

#: pictures kept of a launch
FRAMES: Final = 61
#: of these every second goes into the JSON
_EVERY: Final = 2
#: how long the shaft is followed after the string's stop, in shares of the time on the string
_AFTER: Final = 0.75
_AFTER_FRAMES: Final = 30
#: contacts nearer together than this count as one [ms]
_JOINED_MS: Final = 0.25


@dataclass(frozen=True)
class Exit:
    """How the arrow leaves the string; positive: nose to the archer's left, nock to the right."""

    turn_rate_rad_s: float
    attack_deg: float
    direction_deg: float
    speed_fps: float
    time_ms: float
    plate_left_ms: float


#: fields of an exit that have a side
SIDED: Final = ("turn_rate_rad_s", "attack_deg", "direction_deg")


@dataclass(frozen=True)
class Contact:
    """The shaft on the plate, from when to when and where on the shaft.

    Attributes
    ----------
    start_ms, end_ms : float
        After release.
    start_in, end_in : float
        Where the plate stands then, from the nock throat.
    """

    start_ms: float
    end_ms: float
    start_in: float
    end_in: float


@dataclass(frozen=True, eq=False)
class Pictures:
    """The shaft from above at times, the string still on it and after.

    Attributes
    ----------
    time_ms : array (frames,)
        After release; those after `time_ms` of the exit are in free flight.
    nock_travel_in : array (frames,)
        How far the nock has come forward.
    station_in : array (stations,)
        Along the shaft, from the nock.
    sideways_in : array (frames, stations)
        Centre line off the bow's median plane, positive to the archer's left.
    plate_station_in : array (frames,)
        Where the plate stands along the shaft; below nought once the nock has passed it.
    touching : bool array (frames,)
        Whether the shaft is on the plate.
    on_string : int
        How many of the frames have the string on the nock.
    plate_face_in : float
        The plate's face off the median plane, positive to the archer's left.
    riser_side : float
        Which side the riser lies: -1 the archer's right, 1 the left.
    radius_in : float
        Of the shaft.
    """

    time_ms: Array
    nock_travel_in: Array
    station_in: Array
    sideways_in: Array
    plate_station_in: Array
    touching: Bools
    on_string: int
    plate_face_in: float
    riser_side: float
    radius_in: float

    def as_list(self) -> list[dict[str, Any]]:
        """Every second frame on the string, with every second station."""
        return [
            {
                "time_ms": float(self.time_ms[i]),
                "nock_travel_in": float(self.nock_travel_in[i]),
                "plate_station_in": float(self.plate_station_in[i]),
                "touching": bool(self.touching[i]),
                "station_in": self.station_in[::_EVERY].tolist(),
                "sideways_in": self.sideways_in[i, ::_EVERY].tolist(),
            }
            for i in range(0, self.on_string, _EVERY)
        ]


@dataclass(frozen=True, eq=False)
class Seen(Result):
    """One launch at the middle settings."""

    question: Scenario = field(metadata=kept(json=False))
    builds: Builds = field(metadata=kept(json=False))
    #: 1 where the bow's own right is the archer's, -1 for a left-hander
    sign: float = field(metadata=kept(json=False))
    exit: Exit
    #: in order; those a quarter of a millisecond apart are one
    contacts: tuple[Contact, ...]
    #: from the nock throat
    balance_in: float
    #: when the balance point passes the plate; None where the string stops first
    balance_passes_ms: float | None = field(metadata=kept(json="balance_passes_plate_ms"))
    pictures: Pictures = field(metadata=kept(json=False))
    warnings: tuple[str, ...] = field(metadata=kept(json=False))
    #: the exit in the bow's frame, for the flight
    state: dict[str, Array] = field(metadata=kept(json=False))

    @property
    def stiff(self) -> float:
        """Turn rate on the stiff side: positive where this archer's arrow leaves as a stiff one."""
        return self.sign * self.exit.turn_rate_rad_s

    def to_dict(self) -> dict[str, Any]:
        """With the frames of the picture."""
        return {**super().to_dict(), "frames": self.pictures.as_list()}


def one_arrow(builds: Builds) -> LaunchArrow:
    """A single build for the launch, each field one number."""
    arrow = launch_arrow(builds)
    return arrow.changed(
        **{f.name: float(np.ravel(getattr(arrow, f.name))[0]) for f in fields(arrow)}
    )


def rig_of(asked: Scenario, builds: Builds, draws: int) -> LaunchRig:
    """The question's rig for the launch model, with draws of what is uncertain."""
    return launch_rig(asked.rig, asked.demand(builds), asked.speeds(), draws)


def seen(asked: Scenario, builds: Builds, on: LaunchRig | None = None) -> Seen:
    """Launch one build at the middle settings and keep the pictures; what cannot be launched says why."""
    on = rig_of(asked, builds, 1) if on is None else on
    sign, arrow = -hand_sign(asked.rig.archer.hand), one_arrow(builds)
    left = shot(arrow, on.middle_bow, on.middle_settings, frames=FRAMES)
    frames = left.frames
    assert frames is not None
    contacts = _contacts(left, frames.time_s, frames.plate_station_m)
    balance = float(np.ravel(balance_point_m(arrows_of(builds)))[0])
    passes = np.flatnonzero(frames.plate_station_m <= balance)
    state = exits(left)
    return Seen(
        asked, builds, sign,
        Exit(**{k: float(sign * v) if k in SIDED else float(v) for k, v in state.items()}),
        contacts, balance / INCH_M,
        float(frames.time_s[passes[0]]) * 1e3 if passes.size else None,
        _pictures(left, on, arrow, sign, contacts), on.warnings, state,
    )  # fmt: skip


def shot(arrow: LaunchArrow, bow: LaunchBow, settings: LaunchSettings, frames: int = 0) -> Launch:
    """A launch; NoAnswer where there can be none."""
    try:
        return launch(arrow, bow, settings, frames=frames)
    except ValueError as error:
        raise NoAnswer(f"the launch model cannot shoot this: {error}") from None


def exits(left: Launch) -> dict[str, Array]:
    """Exit states by the names of `Exit`, in the bow's frame."""
    return {
        "turn_rate_rad_s": left.turn_rate_rad_s,
        "attack_deg": np.degrees(left.attack_rad),
        "direction_deg": np.degrees(left.direction_rad),
        "speed_fps": left.speed_m_s / FPS_M_S,
        "time_ms": left.time_s * 1e3,
        "plate_left_ms": left.plate_left_s * 1e3,
    }


def _contacts(left: Launch, time_s: Array, station_m: Array) -> tuple[Contact, ...]:
    joined: list[list[float]] = []
    for start, end in left.contacts_s[np.isfinite(left.contacts_s[:, 0])] * 1e3:
        if joined and start - joined[-1][1] < _JOINED_MS:
            joined[-1][1] = float(end)
        else:
            joined.append([float(start), float(end)])

    def where(ms: float) -> float:
        return float(np.interp(ms / 1e3, time_s, station_m)) / INCH_M

    return tuple(Contact(start, end, where(start), where(end)) for start, end in joined)


def _pictures(
    left: Launch, on: LaunchRig, arrow: LaunchArrow, sign: float, contacts: tuple[Contact, ...]
) -> Pictures:
    frames = left.frames
    assert frames is not None
    stop = float(left.time_s)
    later = np.linspace(0, _AFTER * stop, _AFTER_FRAMES + 1)[1:]
    _, free = after_exit(left, later)
    time_ms = np.concatenate([frames.time_s, stop + later]) * 1e3
    travel = np.concatenate(
        [frames.nock_travel_m, frames.nock_travel_m[-1] + float(left.speed_m_s) * later]
    )
    plate = float(frames.plate_station_m[0]) - travel
    touching = np.zeros(len(time_ms), bool)
    for contact in contacts:
        touching |= (time_ms >= contact.start_ms) & (time_ms <= contact.end_ms)
    face = float(on.middle_bow.plate_offset_m) + float(on.middle_settings.plate_shift_m)  # type: ignore[arg-type]
    return Pictures(
        time_ms, travel / INCH_M, frames.station_m / INCH_M,
        sign * np.concatenate([frames.sideways_m, free.reshape(len(later), -1)]) / INCH_M,
        plate / INCH_M, touching, FRAMES, sign * face / INCH_M, -sign,
        float(arrow.radius_m) / INCH_M,  # type: ignore[arg-type]
    )  # fmt: skip


def fins_of(diameter_m: float) -> tuple[float, float]:
    """Usual fletching: normal-force slope [1/rad] and where it acts from the nock throat [m]."""
    value = {row["quantity"]: float(row["value"]) for row in table("launch_fletching")}
    span, root, tip, sweep = (value[k] * INCH_M for k in ("span", "root", "tip", "sweep"))
    slope = fin_slope_per_rad(int(value["fins"]), span, root, tip, sweep, diameter_m)
    return float(slope), value["station"] * INCH_M


def flown(builds: Builds, states: dict[str, Array], distances_yd: Array) -> tuple[Array, Array]:
    """Fly the bare shaft and the fletched arrow on from one exit.

    Parameters
    ----------
    builds : Builds
        Of length 1.
    states : dict
        As `exits` gives them, in the bow's frame.
    distances_yd : array (k,)
        Rising [yd].

    Returns
    -------
    tuple of array (..., k)
        Bare less fletched offset, away from the riser [in]; the bare shaft's attitude, nose away
        from the riser [deg].
    """
    diameter = 2 * float(np.ravel(builds.radius_in)[0]) * INCH_M
    slope, station = fins_of(diameter)
    speed = states["speed_fps"] * FPS_M_S
    finned = np.array([0.0, 1.0]).reshape(2, *(1,) * np.ndim(speed))
    shaft = BareShaft.of(
        arrows_of(builds.take(0)), diameter, fin_slope=finned * slope, fin_at_m=finned * station
    )
    both = bare_flight(
        shaft, speed, states["turn_rate_rad_s"], np.radians(states["attack_deg"]),
        distances_yd * YARD_M,
    )  # fmt: skip
    bare, fletched = both.offset_m
    return (bare - fletched) / INCH_M, np.degrees(both.attack_rad[0])


def sides(seen: Seen) -> tuple[str, str]:
    """Where nock and nose go as the arrow leaves, for this archer."""
    return ("right", "left") if seen.exit.turn_rate_rad_s > 0 else ("left", "right")


def agreement(seen: Seen, stiff_share: float) -> str:
    """How far guesses at what nobody measures agree with one launch about its side."""
    share = stiff_share if seen.stiff > 0 else 1 - stiff_share
    sure = "" if share >= 0.75 else ": it may as well go the other way"
    return cap(f"{in_100(share)} guesses at what nobody measures go the same way{sure}.")


def story(seen: Seen) -> list[str]:
    """Where the shaft touches, when it clears, why the nock goes where it goes."""
    away, riser = ("left", "right") if seen.sign > 0 else ("right", "left")
    said = []
    if not seen.contacts:
        said.append("The shaft does not touch the plate.")
    for order, contact in enumerate(seen.contacts):
        said.append(_touch(seen, contact, "again " if order else "", away))
    if seen.contacts:
        last, stop = seen.contacts[-1], seen.exit.time_ms
        if stop - last.end_ms < 0.05:
            said.append(
                f"It has not cleared the plate when the string stops, {stop:.1f} ms after release: "
                "expect contact."
            )
        else:
            said.append(
                f"It is clear of the plate for good after {last.end_ms:.1f} ms, "
                f"{stop - last.end_ms:.1f} ms before the string stops at {stop:.1f} ms."
            )
    if seen.balance_passes_ms is not None:
        said.append(
            f"The balance point, {seen.balance_in:.1f} in from the nock, passes the plate at "
            f"{seen.balance_passes_ms:.1f} ms: a push before that turns the nose {away}, one after "
            f"it turns the nose {riser}."
        )
    nock, nose = sides(seen)
    back = "the fingers' roll, the string's pull on the nock and any push behind the balance point"
    out = "the plate's push ahead of the balance point"
    if seen.stiff > 0:
        why = f"{out} turned it more than {back} turned it back, as with a shaft that bends little"
    else:
        why = f"{back} turned it more than {out}, as with a shaft that bends readily"
    said.append(f"It leaves nock {nock}, nose {nose}: {why}.")
    return said


def _touch(seen: Seen, contact: Contact, again: str, away: str) -> str:
    ahead = contact.start_in - seen.balance_in
    where = "ahead of" if ahead > 0 else "behind"
    turns = away if ahead > 0 else ("right" if away == "left" else "left")
    return (
        f"It presses the plate {again}from {contact.start_ms:.1f} to {contact.end_ms:.1f} ms, "
        f"{contact.start_in:.1f} to {contact.end_in:.1f} in from the nock, {where} the balance "
        f"point: that turns the nose {turns}."
    )
