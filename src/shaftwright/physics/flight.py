"""The fletched arrow in flight: quadratic drag, drop, time, wind, hills.

The sight line is the x axis, z is square to it and up, y to the archer's right. The equations
are solved with x as the running variable, so that each distance is hit exactly and a whole grid
of builds by distances is one pass. Aiming over the point is in `aim`, the bare shaft in
`bare_flight`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array, stepped
from shaftwright.physics.air import Air
from shaftwright.resources import table
from shaftwright.units import GRAVITY_M_S2

_STEPS = 48  # a part in 1e9 at 100 m: the field is smooth, and the step is fourth order
_SLOWEST_M_S = 3.0  # along the sight line; an arrow as slow as that has not reached the place


@dataclass(frozen=True, eq=False)
class Drag:
    """Drag of one arrow, or of many: a coefficient on the shaft's cross-section, and extras.

    Parameters
    ----------
    diameter_m : array_like
        Outside diameter of the shaft [m].
    laminar, turbulent : array_like
        Coefficients on the cross-section with either boundary layer, small vanes included [-].
    reynolds_low, reynolds_high : array_like
        Reynolds numbers on the diameter between which the layer changes; (0, 0) is always
        turbulent [-].
    extra_area_m2 : array_like
        Drag area of larger fletching and of a broadhead, negative for a bare shaft [m2].
    """

    diameter_m: ArrayLike
    laminar: ArrayLike
    turbulent: ArrayLike
    reynolds_low: ArrayLike = 0.0
    reynolds_high: ArrayLike = 0.0
    extra_area_m2: ArrayLike = 0.0

    def coefficient(self, reynolds: ArrayLike) -> Array:
        """Drag coefficient on the cross-section at a Reynolds number, extras left out."""
        laminar, turbulent, low, high = (
            np.asarray(each, float)
            for each in (self.laminar, self.turbulent, self.reynolds_low, self.reynolds_high)
        )
        share = np.clip((np.asarray(reynolds) - low) / np.maximum(high - low, 1.0), 0.0, 1.0)
        # no kink, so the integrator keeps its order
        return np.asarray(laminar + share * share * (3 - 2 * share) * (turbulent - laminar))

    def area_m2(self, speed_m_s: ArrayLike, air: Air) -> Array:
        """Drag area, force over dynamic pressure, at a speed through the air."""
        diameter = np.asarray(self.diameter_m, float)
        density, viscosity = np.asarray(air.density_kg_m3), np.asarray(air.viscosity_pa_s, float)
        reynolds = density * diameter / viscosity * np.asarray(speed_m_s, float)
        section = np.pi * diameter**2 / 4
        found = section * self.coefficient(reynolds) + np.asarray(self.extra_area_m2, float)
        return np.asarray(np.maximum(found, 0.5 * section))


def drag_of(
    diameter_m: ArrayLike, fletching: str = "feathers_4in", point: str = "field", level: str = "mid"
) -> Drag:
    """Drag by what is on the shaft, from `tables/drag.csv`.

    Parameters
    ----------
    diameter_m : array_like
        Outside diameter of the shaft [m].
    fletching, point : str
        Names of the table's rows.
    level : str
        low, mid or high end of the table's ranges.

    Returns
    -------
    Drag
        Ready for `Shot`.

    Examples
    --------
    >>> drag = drag_of(0.0075, "feathers_4in", "field")
    >>> round(float(drag.coefficient(28_000)), 2)
    2.6
    """
    known = {(row["part"], row["name"]): row for row in table("drag")}

    def value(part: str, name: str) -> float:
        return float(known[part, name][level])

    extra = (value("fletching", fletching) + value("point", point)) * 1e-6
    tripped = known["point", point]["boundary"] == "turbulent"
    # a layer that turns early means more drag: the table's ends are crossed over
    ends = {"low": "high", "mid": "mid", "high": "low"}
    low, high = (
        0.0 if tripped else float(known["reynolds", name][ends[level]])
        for name in ("laminar_until", "turbulent_from")
    )
    return Drag(
        diameter_m, value("coefficient", "laminar"), value("coefficient", "turbulent"),
        low, high, extra,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Shot:
    """An arrow on its way: one, or an array of them.

    Parameters
    ----------
    speed_m_s : array_like
        Speed as it leaves the string [m/s].
    mass_kg : array_like
        Mass of the whole arrow [kg].
    drag : Drag
        See `drag_of`.
    air : Air
        Standard air by default.
    slope_rad : array_like
        Sight line against the level, uphill positive [rad].
    crosswind_m_s : array_like
        Wind toward the archer's right [m/s].
    tailwind_m_s : array_like
        Wind along the sight line, from behind positive [m/s].
    """

    speed_m_s: ArrayLike
    mass_kg: ArrayLike
    drag: Drag
    air: Air = field(default_factory=Air.at)
    slope_rad: ArrayLike = 0.0
    crosswind_m_s: ArrayLike = 0.0
    tailwind_m_s: ArrayLike = 0.0


class Arrival(NamedTuple):
    """State of arrows at their distances; not-a-number where an arrow does not get there.

    Attributes
    ----------
    time_s : ndarray
        Time of flight [s].
    height_m, side_m : ndarray
        Above the sight line, and to the archer's right [m].
    velocity_m_s : tuple of ndarray
        Along the sight line, up and to the right [m/s].
    """

    time_s: Array
    height_m: Array
    side_m: Array
    velocity_m_s: tuple[Array, Array, Array]

    @property
    def speed_m_s(self) -> Array:
        """Speed over the ground."""
        return np.asarray(np.sqrt(sum(v**2 for v in self.velocity_m_s)))


def fly(
    shot: Shot,
    distance_m: ArrayLike,
    elevation_rad: ArrayLike = 0.0,
    start_height_m: ArrayLike = 0.0,
    steps: int = _STEPS,
) -> Arrival:
    """Fly arrows to their distances; all arguments broadcast against each other.

    Parameters
    ----------
    shot : Shot
        Arrows, air and wind.
    distance_m : array_like
        Distances along the sight line [m].
    elevation_rad : array_like
        Departure angle above the sight line [rad].
    start_height_m : array_like
        Height of the start above the sight line [m].
    steps : int
        Runge-Kutta steps to each distance.

    Returns
    -------
    Arrival
        Time, place and velocity at the distance.

    Notes
    -----
    The arrow points along its path through the air, as a fletched arrow does after the first
    yards. Fourth-order Runge-Kutta; flat shots, short of 80 degrees.
    """
    distance = np.asarray(distance_m, float)
    slope, angle = np.asarray(shot.slope_rad, float), np.asarray(elevation_rad, float)
    speed, mass = np.asarray(shot.speed_m_s, float), np.asarray(shot.mass_kg, float)
    pull_x, pull_z = -GRAVITY_M_S2 * np.sin(slope), -GRAVITY_M_S2 * np.cos(slope)
    along, across = np.asarray(shot.tailwind_m_s, float), np.asarray(shot.crosswind_m_s, float)
    per_mass = np.asarray(shot.air.density_kg_m3, float) / (2 * mass)

    def rates(state: Array) -> Array:
        _, _, _, u, w, v = state
        through = np.sqrt((u - along) ** 2 + w**2 + (v - across) ** 2)
        brake = per_mass * shot.drag.area_m2(through, shot.air) * through
        pace = 1 / np.maximum(u, _SLOWEST_M_S / 2)
        found = np.empty_like(state)
        found[0] = 1
        found[1], found[2] = w, v
        found[3], found[4] = pull_x - brake * (u - along), pull_z - brake * w
        found[5] = -brake * (v - across)
        found *= pace
        return found

    shape = np.broadcast_shapes(
        distance.shape, slope.shape, angle.shape, speed.shape, along.shape, across.shape,
        np.shape(per_mass), np.shape(start_height_m), np.shape(shot.drag.diameter_m),
        np.shape(shot.drag.extra_area_m2),
    )  # fmt: skip
    state = np.zeros((6, *shape))
    state[1] = np.asarray(start_height_m, float)
    state[3], state[4] = speed * np.cos(angle), speed * np.sin(angle)
    h = distance / steps
    reached = np.ones(shape, bool)
    for _ in range(steps):
        state = stepped(rates, state, h)
        reached &= state[3] > _SLOWEST_M_S
    state = np.where(reached, state, np.nan)
    return Arrival(state[0], state[1], state[2], (state[3], state[4], state[5]))


def elevation_rad(shot: Shot, distance_m: ArrayLike, start_height_m: ArrayLike = 0.0) -> Array:
    """Departure angle above the sight line that hits the mark.

    Parameters
    ----------
    shot : Shot
        Arrows, air and wind.
    distance_m : array_like
        Distances along the sight line [m].
    start_height_m : array_like
        Height of the nock above the sight line, below it negative [m].

    Returns
    -------
    ndarray
        The lower of the two angles; not-a-number out of reach [rad].
    """
    distance, start = np.asarray(distance_m, float), np.asarray(start_height_m, float)
    speed = np.asarray(shot.speed_m_s, float)
    fall = GRAVITY_M_S2 * np.cos(np.asarray(shot.slope_rad, float)) * distance / (2 * speed**2)
    away = np.maximum(distance, 1e-9)  # at no distance any angle would do
    angle = np.asarray(np.arctan(fall - start / away))
    for _ in range(25):
        # dz/d(angle) without air, from how the arrow leaves and comes down; the rest of the way is iterated
        at = fly(shot, distance, angle, start)
        down = at.velocity_m_s[1] / at.velocity_m_s[0]
        lift = away * np.clip(1 + np.tan(angle) * down, 0.5, 2.0)
        angle = angle - at.height_m / lift
        if not np.any(np.abs(at.height_m) > 1e-9):
            break
    return angle


def aimed(shot: Shot, distances_m: ArrayLike) -> tuple[Array, Arrival]:
    """What becomes of arrows downrange, aimed to hit at each distance.

    Parameters
    ----------
    shot : Shot
        Arrows; arrays of builds need a last axis of length 1, or none.
    distances_m : array_like, shape (k,)
        Distances along the sight line [m].

    Returns
    -------
    tuple of ndarray and Arrival
        Drop below the line of departure, square to the sight line [m], and how they arrive; the
        distances on the last axis, not-a-number out of reach.
    """
    distances = np.asarray(distances_m, float)
    angle = elevation_rad(shot, distances)
    at = fly(shot, distances, angle)
    return np.asarray(distances * np.tan(angle) - at.height_m), at
