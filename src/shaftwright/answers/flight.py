"""A build in the air: drop, time, wind and where the point is held, each with its range."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np

from shaftwright import limits
from shaftwright.answers.build import dangers
from shaftwright.answers.parts import part_length, parts_amiss
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.arrays import Array
from shaftwright.errors import InputError
from shaftwright.inference.speed import speeds_fps
from shaftwright.limits import MOST, number, refuse, word
from shaftwright.physics.aim import eye_above_nock_from_point_on_m, hold_m, point_on_m
from shaftwright.physics.air import STANDARD_TEMPERATURE_C, Air
from shaftwright.physics.flight import (
    Drag,
    Shot,
    aimed,
    drag_of,
    elevation_rad,
    fly,
)
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.resources import constant, table
from shaftwright.result import Result, kept
from shaftwright.units import (
    FOOT_POUND_J,
    FPS_M_S,
    GRAIN_FPS_PER_SLUG_FPS,
    GRAIN_KG,
    INCH_M,
    Interval,
    distance_typed,
    read_quantity,
)
from shaftwright.units import YARD_M as YARD

_SLUG_FPS_KG_M_S = GRAIN_FPS_PER_SLUG_FPS * GRAIN_KG * FPS_M_S
_PATH_POINTS = 61
_USUAL = (10, 15, 20, 25, 30, 40, 50, 60)


@dataclass(frozen=True)
class Conditions(Result):
    """What the arrow flies through and how it is aimed."""

    #: along the sight line, rising
    distances_yd: tuple[float, ...] = field(metadata=kept(json=False))
    air: Air = field(metadata=kept(json=False))
    #: toward the archer's right; sight line uphill
    wind_fps: float = 0.0
    slope_deg: float = 0.0
    #: names of the drag table's rows
    head: str = "field"
    fletching: str = "not_stated"
    #: eye above the nock at full draw; usual of the release when None
    eye_in: float | None = field(default=None, metadata=kept(json=False))
    #: distance at which the point was seen to cover the mark; replaces the eye's height
    point_on_yd: float | None = field(default=None, metadata=kept(json=False))

    def __post_init__(self) -> None:
        """Refuse what no arrow flies through; the distances rise, each once."""
        far = self.distances_yd
        if not 1 <= len(far) <= MOST:
            raise InputError.of("distances_yd", f"needs 1 to {MOST} distances", value=far)
        refuse(
            *(number("distances_yd", yards, limits.DISTANCE) for yards in far),
            number("wind_fps", self.wind_fps, limits.WIND), number("slope_deg", self.slope_deg, limits.SLOPE),
            number("eye_in", self.eye_in, limits.EYE),
            number("point_on_yd", self.point_on_yd, limits.POINT_ON),
            word("head", self.head, drag_names("point")),
            word("fletching", self.fletching, drag_names("fletching")),
        )  # fmt: skip
        object.__setattr__(self, "distances_yd", tuple(sorted(set(far))))

    def to_dict(self) -> dict[str, Any]:
        """With the density of the air."""
        return {"air_density_kg_m3": float(np.asarray(self.air.density_kg_m3)), **super().to_dict()}


@dataclass(frozen=True)
class Row(Result):
    """What becomes of an arrow at one distance; not-a-number out of reach."""

    distance_yd: float
    time_s: float
    drop_in: Interval
    #: what is left of it
    speed_fps: Interval
    energy_ftlb: float
    momentum_slug_fps: float
    wind_drift_in: Interval
    #: above the mark positive
    hold_in: Interval

    def to_dict(self) -> dict[str, Any]:
        """With the ends of a range beside its middle."""
        found: dict[str, Any] = {}
        for key, value in super().to_dict().items():
            stem, _, unit = key.rpartition("_")
            ends = value if isinstance(value, dict) else {"mid": value}
            for end, figure in ends.items():
                found[key if end == "mid" else f"{stem}_{end}_{unit}"] = figure
        return found


@dataclass(frozen=True, eq=False)
class Flight(Answer):
    """A build at its distances."""

    builds: Builds = field(metadata=kept(json=False))
    #: as it leaves the string
    speed_fps: Interval
    eye_in: Interval = field(metadata=kept(json="eye_above_nock_in"))
    #: why it must not be drawn
    dangers: tuple[str, ...]
    #: what is out of reach or does not fit in the readings
    warnings: tuple[str, ...]
    #: what of its parts is missing or does not fit
    amiss: tuple[str, ...] = field(metadata=kept(json=False))
    total_gr: float
    #: chronograph, or usual
    speed_from: str
    conditions: Conditions = field(metadata=kept(flat=True))
    rows: tuple[Row, ...]
    #: None where the point never comes up to the mark
    point_on_yd: Interval | None = field(metadata=kept(ends="point_on_range_yd"))
    #: path against the sight line when aimed for `aimed_yd` by the middle figures; middle and ends
    path_yd: Array = field(metadata=kept(json=False))
    path_in: Array = field(metadata=kept(json=False))
    aimed_yd: float = field(metadata=kept(json=False))

    def to_dict(self) -> dict[str, Any]:
        """With all that speaks against the arrow."""
        return {**super().to_dict(), "cautions": [*self.dangers, *self.amiss]}


def air_of(
    temperature_c: float | None = None, pressure_hpa: float | None = None, humidity_pct: float = 0.0,
    height_m: float | None = None,
) -> Air:  # fmt: skip
    """Air as a weather station gives it [deg C, hPa not reduced to the sea, %, m], or standard."""
    if pressure_hpa is not None and height_m is not None:
        problem = "stands beside the pressure, which already tells it; give one"
        raise InputError.of("height_m", problem, value=height_m)
    refuse(
        number("temperature_c", temperature_c, limits.CELSIUS),
        number("pressure_hpa", pressure_hpa, limits.PRESSURE),
        number("humidity_pct", humidity_pct, limits.HUMIDITY),
        number("height_m", height_m, limits.HEIGHT),
    )
    celsius = STANDARD_TEMPERATURE_C if temperature_c is None else temperature_c
    pascal = None if pressure_hpa is None else 100 * pressure_hpa
    return Air.at(celsius, pascal, humidity_pct / 100, height_m or 0.0)


def usual_yd(units: str) -> tuple[float, ...]:
    """Distances where none are named, round ones in the unit of the rig [yd].

    Examples
    --------
    >>> usual_yd("imperial")[:3]
    (10.0, 15.0, 20.0)
    """
    return tuple(read_quantity(distance_typed(f"{far}", units), "yd") for far in _USUAL)


def drag_names(part: str) -> tuple[str, ...]:
    """The names of the drag table's rows of a part: `point` or `fletching`."""
    return tuple(row["name"] for row in table("drag") if row["part"] == part)


def flight(
    asked: Scenario, builds: Builds, conditions: Conditions, stock: Stock | None = None
) -> Flight:
    """Fly a build to its distances, with what speed, drag and eye are not known to.

    The three are taken as independent: each is moved to either end of its range by itself, and what
    that does is added by squares on either side. An eye or a point-on distance that no archer has is
    a fault.
    """
    low, mid, high = (float(v[0]) for v in speeds_fps(asked.speeds(), builds.total_gr))
    shot = _shots(builds, conditions, (mid, low, high))
    distances = np.array(conditions.distances_yd) * YARD
    length = (float(builds.length_in[0]) + _ahead_in(conditions.head)) * INCH_M
    eyes = _eyes_m(asked, conditions, shot, length)
    dropped, at = aimed(shot, distances)
    on = _ranged(np.ravel(point_on_m(shot, eyes, length)) / YARD)
    aimed_yd = float(conditions.distances_yd[len(conditions.distances_yd) // 2])
    path_yd = np.linspace(0.0, conditions.distances_yd[-1], _PATH_POINTS)
    angle = float(elevation_rad(shot, aimed_yd * YARD, -eyes)[0, 0])
    path = fly(shot, path_yd * YARD, angle, -float(eyes[0, 0])).height_m
    drop, left, drift, hold = map(_ranged, (
        dropped / INCH_M, at.speed_m_s / FPS_M_S, at.side_m / INCH_M,
        hold_m(shot, distances, eyes, length) / INCH_M,
    ))  # fmt: skip
    momentum = float(builds.total_gr[0]) * GRAIN_KG * at.speed_m_s[0]
    rows = tuple(
        Row(
            yards, float(at.time_s[0, i]), _spread(drop[:, i]), _spread(left[:, i]),
            float(momentum[i] * at.speed_m_s[0, i]) / 2 / FOOT_POUND_J,
            float(momentum[i]) / _SLUG_FPS_KG_M_S, _spread(drift[:, i]), _spread(hold[:, i]),
        )
        for i, yards in enumerate(conditions.distances_yd)
    )  # fmt: skip
    return Flight(
        asked, builds, Interval(mid, low, high),
        _spread(np.array([eyes[0, 0], eyes.min(), eyes.max()]) / INCH_M), dangers(asked, builds),
        (*asked.warnings, *_unreached(rows, bool(np.isnan(on[0])))), parts_amiss(builds, stock),
        float(builds.total_gr[0]), "chronograph" if asked.speed else "usual", conditions, rows,
        None if np.isnan(on[0]) else _spread(on), path_yd, _ranged(path / INCH_M), aimed_yd,
    )  # fmt: skip


def _spread(values: Array) -> Interval:
    mid, low, high = values.tolist()
    return Interval(mid, low, high)


def _shots(builds: Builds, asked: Conditions, speeds: tuple[float, float, float]) -> Shot:
    """Seven shots on the first axis: the middle, the ends of speed, those of drag, twice the middle."""
    diameter = 2 * float(builds.radius_in[0]) * INCH_M
    mid, low, high = speeds
    levels = ("mid", "mid", "mid", "low", "high", "mid", "mid")
    drags = [drag_of(diameter, asked.fletching, asked.head, level) for level in levels]
    columns = {
        f.name: np.array([[float(np.asarray(getattr(drag, f.name)))] for drag in drags])
        for f in fields(Drag)
    }
    return Shot(
        np.array([[mid], [low], [high], [mid], [mid], [mid], [mid]]) * FPS_M_S,
        float(builds.total_gr[0]) * GRAIN_KG, Drag(**columns), asked.air,
        float(np.radians(asked.slope_deg)), asked.wind_fps * FPS_M_S,
    )  # fmt: skip


def _ranged(values: Array) -> Array:
    """Middle, low and high (3, ...) of the middle first, then pairs of ends, one pair a cause.

    Ends are added by squares. An end that is out of reach leaves the range unknown.
    """
    ends = values[1:] - values[0]
    pairs = ends.reshape(len(ends) // 2, 2, *ends.shape[1:])
    down = np.sum(np.minimum(pairs.min(axis=1), 0.0) ** 2, axis=0)
    up = np.sum(np.maximum(pairs.max(axis=1), 0.0) ** 2, axis=0)
    return np.stack([values[0], values[0] - np.sqrt(down), values[0] + np.sqrt(up)])


def _ahead_in(head: str) -> float:
    part = "broadhead" if head.startswith("broadhead") else "point"
    return part_length(part, "ahead") or 0.0


def _eyes_m(asked: Scenario, conditions: Conditions, shot: Shot, length_m: float) -> Array:
    """Eye above the nock (7, 1): the same for the first five shots, then the ends of its range [m]."""
    if conditions.point_on_yd is not None:
        eyes = eye_above_nock_from_point_on_m(
            shot, np.array([[conditions.point_on_yd * YARD]]), length_m
        )
        if not np.all((eyes > 0) & (eyes < length_m)):
            problem = (
                "is no distance that an arrow of this speed reaches with the point on the mark"
            )
            value = f"{conditions.point_on_yd:g} yd"
            raise InputError.of("--point-on", problem, None, "", value)
        return eyes
    release = asked.rig.archer.release
    low, middle, high = (
        conditions.eye_in or constant("flight_usual", "eye_above_nock", release, column=column)
        for column in ("low", "value", "high")
    )
    return np.array([[middle]] * 5 + [[low], [high]]) * INCH_M


def _unreached(rows: tuple[Row, ...], never_on: bool) -> list[str]:
    short = [f"{row.distance_yd:g}" for row in rows if np.isnan(row.time_s)]
    found = [f"out of reach: {', '.join(short)} yd"] if short else []
    if never_on:
        found.append("the point never comes up to the mark: there is no point-on distance")
    return found
