"""A build in the air: drop, time, wind and where the point is held, each with its range."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.arrow_parts import part_length
from shaftwright.answers.build import dangers, usual_value
from shaftwright.answers.parts_named import parts_amiss
from shaftwright.answers.result import Answer, kept
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import Fault, InputError
from shaftwright.inference.band import Spread, moments
from shaftwright.inference.speed import speeds_fps
from shaftwright.physics.flight.aim import eye_above_nock_from_point_on_m, hold_m, point_on_m
from shaftwright.physics.flight.air import STANDARD_TEMPERATURE_C, Air
from shaftwright.physics.flight.flight import (
    Drag,
    Shot,
    drag_of,
    elevation_rad,
    flight_table,
    fly,
)
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.resources import table
from shaftwright.units import FOOT_POUND_J, FPS_M_S, GRAIN_FPS_PER_SLUG_FPS, GRAIN_KG, INCH_M
from shaftwright.units import YARD_M as YARD

Array = NDArray[np.float64]
_SLUG_FPS_KG_M_S = GRAIN_FPS_PER_SLUG_FPS * GRAIN_KG * FPS_M_S
_PATH_POINTS = 61


@dataclass(frozen=True)
class Conditions:
    """What the arrow flies through and how it is aimed.

    Attributes
    ----------
    distances_yd : tuple of float
        Along the sight line, rising [yd].
    air : Air
        Density and viscosity.
    wind_fps, slope_deg : float
        Wind toward the archer's right [fps], sight line uphill [deg].
    head, fletching : str
        Names of the drag table's rows.
    eye_in : float or None
        Eye above the nock at full draw; usual of the release when None [in].
    point_on_yd : float or None
        Distance at which the point was seen to cover the mark; replaces the eye's height [yd].
    """

    distances_yd: tuple[float, ...]
    air: Air
    wind_fps: float = 0.0
    slope_deg: float = 0.0
    head: str = "field"
    fletching: str = "not_stated"
    eye_in: float | None = None
    point_on_yd: float | None = None


@dataclass(frozen=True, eq=False)
class Ranged:
    """A quantity at distances with its 95 % range; not-a-number out of reach."""

    mid: Array
    low: Array
    high: Array


@dataclass(frozen=True, eq=False)
class Flight(Answer):
    """A build at its distances."""

    builds: Builds = field(metadata=kept(json=False))
    conditions: Conditions = field(metadata=kept(json=False))
    #: as it leaves the string
    speed_fps: Spread
    #: at the distances; hold above the mark positive
    time_s: Ranged = field(metadata=kept(json=False))
    drop_in: Ranged = field(metadata=kept(json=False))
    left_fps: Ranged = field(metadata=kept(json=False))
    energy_ftlb: Ranged = field(metadata=kept(json=False))
    momentum_slug_fps: Ranged = field(metadata=kept(json=False))
    drift_in: Ranged = field(metadata=kept(json=False))
    hold_in: Ranged = field(metadata=kept(json=False))
    eye_in: Spread = field(metadata=kept(json="eye_above_nock_in"))
    #: None where the point never comes up to the mark
    point_on_yd: Spread | None = field(metadata=kept(json=False))
    #: path against the sight line when aimed for `aimed_yd` by the middle figures
    path_yd: Array = field(metadata=kept(json=False))
    path_in: Ranged = field(metadata=kept(json=False))
    aimed_yd: float = field(metadata=kept(json=False))
    #: why it must not be drawn
    dangers: tuple[str, ...]
    #: what of its parts is missing or does not fit
    amiss: tuple[str, ...] = field(metadata=kept(json=False))
    #: what is out of reach or does not fit in the readings
    warnings: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """With the air and the aim, and a row for every distance."""
        on, asked = self.point_on_yd, self.conditions
        return {
            **super().to_dict(),
            "total_gr": float(self.builds.total_gr[0]),
            "speed_from": "chronograph" if self.question.speed else "usual",
            "air_density_kg_m3": float(np.asarray(asked.air.density_kg_m3)),
            "wind_fps": asked.wind_fps,
            "slope_deg": asked.slope_deg,
            "head": asked.head,
            "fletching": asked.fletching,
            "rows": [self._row(i, yards) for i, yards in enumerate(asked.distances_yd)],
            "point_on_yd": None if on is None else on.mid,
            "point_on_range_yd": None if on is None else {"low": on.low, "high": on.high},
            "cautions": [*self.dangers, *self.amiss],
        }

    def _row(self, i: int, yards: float) -> dict[str, float]:
        def at(name: str, of: Ranged) -> dict[str, float]:
            stem, _, unit = name.partition("_")
            return {
                name: float(of.mid[i]),
                f"{stem}_low_{unit}": float(of.low[i]),
                f"{stem}_high_{unit}": float(of.high[i]),
            }

        return {
            "distance_yd": yards,
            "time_s": float(self.time_s.mid[i]),
            **at("drop_in", self.drop_in),
            **at("speed_fps", self.left_fps),
            "energy_ftlb": float(self.energy_ftlb.mid[i]),
            "momentum_slug_fps": float(self.momentum_slug_fps.mid[i]),
            "wind_drift_in": float(self.drift_in.mid[i]),
            "wind_drift_low_in": float(self.drift_in.low[i]),
            "wind_drift_high_in": float(self.drift_in.high[i]),
            **at("hold_in", self.hold_in),
        }


def air_of(
    temperature_c: float | None = None, pressure_hpa: float | None = None, humidity_pct: float = 0.0,
    height_m: float = 0.0,
) -> Air:  # fmt: skip
    """Air as a weather station gives it [deg C, hPa not reduced to the sea, %, m], or standard."""
    celsius = STANDARD_TEMPERATURE_C if temperature_c is None else temperature_c
    pascal = None if pressure_hpa is None else 100 * pressure_hpa
    return Air.at(celsius, pascal, humidity_pct / 100, height_m)


def drag_names(part: str) -> tuple[str, ...]:
    """The names of the drag table's rows of a part: `point` or `fletching`."""
    return tuple(row["name"] for row in table("drag") if row["part"] == part)


def flight(
    asked: Scenario, builds: Builds, conditions: Conditions, stock: Stock | None = None
) -> Flight:  # fmt: skip
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
    flown = flight_table(shot, distances)
    hold = hold_m(shot, distances, eyes, length)
    on = _ranged(np.ravel(point_on_m(shot, eyes, length)) / YARD)
    aimed = float(conditions.distances_yd[len(conditions.distances_yd) // 2])
    path_yd = np.linspace(0.0, conditions.distances_yd[-1], _PATH_POINTS)
    angle = float(elevation_rad(shot, aimed * YARD, -eyes)[0, 0])
    path = fly(shot, path_yd * YARD, angle, -float(eyes[0, 0])).height_m
    mean = float(moments(asked.demand(builds), builds, asked.belief)[0][0])

    def of(name: str, unit: float) -> Ranged:
        return _ranged(getattr(flown, name) / unit)

    return Flight(
        asked, builds, conditions, Spread(mid, low, high),
        of("time_s", 1.0), of("drop_m", INCH_M), of("speed_m_s", FPS_M_S),
        of("energy_j", FOOT_POUND_J), of("momentum_kg_m_s", _SLUG_FPS_KG_M_S),
        of("wind_drift_m", INCH_M), _ranged(hold / INCH_M),
        Spread(*(float(v) / INCH_M for v in (eyes[0, 0], eyes.min(), eyes.max()))),
        None if np.isnan(on.mid) else Spread(float(on.mid), float(on.low), float(on.high)),
        path_yd, _ranged(path / INCH_M), aimed, dangers(asked, builds, mean),
        parts_amiss(builds, stock),
        (*asked.warnings, *_unreached(conditions, flown.time_s[0], bool(np.isnan(on.mid)))),
    )  # fmt: skip


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


def _ranged(values: Array) -> Ranged:
    """The middle first, then pairs of ends, one pair a cause; ends are added by squares.

    An end that is out of reach leaves the range unknown.
    """
    ends = values[1:] - values[0]
    pairs = ends.reshape(len(ends) // 2, 2, *ends.shape[1:])
    down = np.sum(np.minimum(pairs.min(axis=1), 0.0) ** 2, axis=0)
    up = np.sum(np.maximum(pairs.max(axis=1), 0.0) ** 2, axis=0)
    return Ranged(values[0], values[0] - np.sqrt(down), values[0] + np.sqrt(up))


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
            raise InputError([Fault("--point-on", problem, None, "", value)])
        return eyes
    release = asked.rig.archer.release
    low, middle, high = (
        conditions.eye_in or usual_value("eye_above_nock", release, column)
        for column in ("low", "value", "high")
    )
    return np.array([[middle]] * 5 + [[low], [high]]) * INCH_M


def _unreached(asked: Conditions, time_s: Array, never_on: bool) -> list[str]:
    found = []
    short = [d for d, t in zip(asked.distances_yd, time_s, strict=True) if np.isnan(t)]
    if short:
        found.append(f"out of reach: {', '.join(f'{d:g}' for d in short)} yd")
    if never_on:
        found.append("the point never comes up to the mark: there is no point-on distance")
    return found
