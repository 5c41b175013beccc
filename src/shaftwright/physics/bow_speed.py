"""Speed of any arrow with its range: energy and virtual mass of this bow, or of bows like it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.physics.bow import (
    Range,
    arrow_speed,
    power_stroke_m,
    string_virtual_mass_kg,
    virtual_mass_kg,
)
from shaftwright.resources import constant, interval, table
from shaftwright.units import FPS_M_S, GRAIN_KG, INCH_M, POUND_FORCE_N, Z95, Interval


@dataclass(frozen=True, eq=False)
class SpeedModel:
    """Energy and virtual mass of one bow with their doubt, ready for any number of arrows.

    Parameters
    ----------
    energy_j, energy_sd_j : float
        Energy that reaches arrow and moving parts, and its standard deviation [J].
    virtual_kg, virtual_sd_kg : float
        Virtual mass, string's share included, and its standard deviation [kg].
    correlation : float
        Between the two; near 1 when both come from one speed reading [-].
    reference_kg : float, optional
        Arrow mass at which a speed was read; away from it the virtual mass itself may differ [kg].
    growth : float
        Doubt of the virtual mass per arrow mass away from `reference_kg` [-].

    Notes
    -----
    Ranges are 95 %, first order in the logarithm of the speed: within 1 fps of sampling for a
    bow whose kind is known, within 2.5 fps of a range 60 fps wide when nothing is.

    Examples
    --------
    >>> model = SpeedModel(53.0, 2.0, 0.008, 0.002)
    >>> low, mid, high = model.speed([0.029, 0.033])
    >>> mid.round(2)
    array([53.52, 50.85])
    """

    energy_j: float
    energy_sd_j: float
    virtual_kg: float
    virtual_sd_kg: float
    correlation: float = 0.0
    reference_kg: float | None = None
    growth: float = 0.0

    def speed(self, arrow_kg: ArrayLike) -> Range:
        """Speed of arrows of any mass.

        Parameters
        ----------
        arrow_kg : array_like
            Masses of whole arrows [kg].

        Returns
        -------
        Range
            Low, mid and high speed, 95 % [m/s].
        """
        mid = arrow_speed(self.energy_j, arrow_kg, self.virtual_kg)
        width = Z95 * self.log_speed_sd(arrow_kg)
        return Range(mid * np.exp(-width), mid, mid * np.exp(width))

    def log_speed_sd(self, arrow_kg: ArrayLike) -> Array:
        """Standard deviation of the logarithm of the speed."""
        arrow = np.asarray(arrow_kg, float)
        moved = arrow + self.virtual_kg
        energy = self.energy_sd_j / self.energy_j
        virtual = self.virtual_sd_kg / moved
        square = energy**2 + virtual**2 - 2 * self.correlation * energy * virtual
        if self.reference_kg is not None:
            square = square + (self.growth * (arrow - self.reference_kg) / moved) ** 2
        return np.asarray(np.sqrt(np.maximum(square, 0.0)) / 2)

    @classmethod
    def from_readings(
        cls,
        arrow_kg: ArrayLike,
        speed_m_s: ArrayLike,
        virtual_kg: float,
        virtual_sd_kg: float,
        *,
        shot_sd_m_s: float,
        scale_sd: float,
    ) -> SpeedModel:
        """Measured speeds in place of a typical energy; the virtual mass keeps its doubt.

        Parameters
        ----------
        arrow_kg, speed_m_s : array_like, shape (n,)
            Masses shot [kg] and speeds read [m/s].
        virtual_kg, virtual_sd_kg : float
            Virtual mass, typical of the kind or known better, and its doubt [kg].
        shot_sd_m_s : float
            Spread of single readings [m/s].
        scale_sd : float
            Relative doubt of the chronograph's scale [-].

        Returns
        -------
        SpeedModel
            Near the masses shot it is as sure as the chronograph; away from them the virtual
            mass's doubt fans out.
        """
        arrow, speed = np.broadcast_arrays(arrow_kg, speed_m_s)
        moved = arrow + virtual_kg
        energy = float(np.mean(moved * speed**2) / 2)
        per_virtual = float(np.mean(speed**2) / 2)
        shots = float(np.sqrt(np.sum((moved * speed) ** 2))) * shot_sd_m_s / speed.size
        energy_sd = np.sqrt(
            (per_virtual * virtual_sd_kg) ** 2 + shots**2 + (2 * scale_sd * energy) ** 2
        )
        correlation = per_virtual * virtual_sd_kg / energy_sd if energy_sd > 0 else 0.0
        return cls(
            energy, float(energy_sd), virtual_kg, virtual_sd_kg, float(correlation),
            float(np.mean(arrow)), _growth(),
        )  # fmt: skip

    @classmethod
    def from_energy(
        cls, energy_j: float, energy_sd_j: float, arrow_kg: float, speed_m_s: float, speed_sd: float
    ) -> SpeedModel:
        """A measured energy, and the virtual mass that the speed of one arrow mass asks for.

        Parameters
        ----------
        energy_j, energy_sd_j : float
            Energy measured under the draw curve, and its doubt [J].
        arrow_kg, speed_m_s : float
            Mass shot [kg] and speed read [m/s].
        speed_sd : float
            Relative doubt of that speed [-].

        Returns
        -------
        SpeedModel
            At the mass shot as sure as its speed; away from it the energy's doubt comes in. The virtual
            mass is negative where the arrow carries more than the energy given.
        """
        virtual = float(virtual_mass_kg(energy_j, arrow_kg, speed_m_s))
        energy = energy_sd_j / energy_j
        doubt = float(np.hypot(energy, 2 * speed_sd))
        sd = (arrow_kg + virtual) * doubt
        return cls(energy_j, energy_sd_j, virtual, sd, energy / doubt, arrow_kg, _growth())


def _growth() -> float:
    """Doubt of the virtual mass per arrow mass away from the masses shot [-]."""
    return constant("virtual_mass", "growth", column="mid")


UNKNOWN: Final = "unknown"


class Typical(NamedTuple):
    """What is usual for one kind of bow and limb class.

    Attributes
    ----------
    quality : Interval
        Stored energy over draw force times power stroke [-].
    hysteresis : Interval
        Share of it lost inside the limbs [-].
    limbs_kg_per_n : Interval
        Virtual mass of the limbs per draw force [kg/N].
    """

    quality: Interval
    hysteresis: Interval
    limbs_kg_per_n: Interval


@cache
def typical(kind: str, limbs: str) -> Typical:
    """Usual values for a kind of bow and a limb class.

    Parameters
    ----------
    kind : str
        selfbow, longbow, hybrid, recurve, or unknown.
    limbs : str
        standard, high_performance, deep_curve, or unknown.

    Returns
    -------
    Typical
        The table's row; for an unknown, or a class that the kind does not come in, the span of
        all rows that may be meant, its middle the mean of theirs.
    """
    energy = table("energy_per_lb")
    mass = [row for row in table("virtual_mass") if row["part"] == "limbs"]
    keys = [(row["kind"], row["limbs"]) for row in energy]
    of_kind = [key for key in keys if kind in (key[0], UNKNOWN)]
    meant = [key for key in of_kind if key[1] == limbs] or of_kind
    rows = [row for row in energy if (row["kind"], row["limbs"]) in meant]
    masses = [row for row in mass if (row["kind"], row["limbs"]) in meant]
    per_n = GRAIN_KG / POUND_FORCE_N
    return Typical(_span(rows, "quality_"), _span(rows, "hysteresis_"), _span(masses, "", per_n))


def _span(rows: list[dict[str, str]], prefix: str, factor: float = 1.0) -> Interval:
    low, mid, high = ([float(row[prefix + end]) for row in rows] for end in ("low", "mid", "high"))
    return Interval(sum(mid) / len(mid) * factor, min(low) * factor, max(high) * factor)


def typical_virtual_kg(
    kind: str,
    limbs: str,
    draw_force_n: float,
    string_kg: float | None = None,
    silencers_kg: float = 0.0,
    silencer_position: float = 0.25,
) -> tuple[float, float]:
    """Usual virtual mass of limbs and string, and its doubt.

    Parameters
    ----------
    kind, limbs : str
        See `typical`.
    draw_force_n : float
        Draw force at the archer's own draw; the limbs' virtual mass grows with it [N].
    string_kg : float, optional
        Mass of the string, that of a usual polyester one when absent [kg].
    silencers_kg, silencer_position : float
        Mass of the pair [kg], and fraction of the half string from the limb tip [-].

    Returns
    -------
    tuple of float
        Mean and standard deviation [kg].
    """
    per_n = typical(kind, limbs).limbs_kg_per_n
    string = interval("rig_usual", "string_mass_gr", "polyester").scaled(GRAIN_KG)
    if string_kg is not None:
        string = Interval(string_kg, string_kg, string_kg)
    added = float(string_virtual_mass_kg(string.mean, silencers_kg, silencer_position))
    mean = per_n.mean * draw_force_n + added
    return mean, float(np.hypot(per_n.sd * draw_force_n, string.sd / 3))


def typical_energy_j(
    kind: str, limbs: str, draw_force_n: float, stroke_m: float, draw_force_sd_n: float = 0.0
) -> tuple[float, float]:
    """Usual energy that reaches arrow and moving parts, and its doubt.

    Parameters
    ----------
    kind, limbs : str
        See `typical`.
    draw_force_n : float
        Draw force at the archer's own draw [N].
    stroke_m : float
        Power stroke [m].
    draw_force_sd_n : float
        Doubt of the draw force [N].

    Returns
    -------
    tuple of float
        Mean and standard deviation: stored energy q F d less the limbs' hysteresis [J].
    """
    quality, hysteresis = typical(kind, limbs)[:2]
    kept = 1 - hysteresis.mean
    energy = quality.mean * kept * draw_force_n * stroke_m
    relative = (
        (quality.sd / quality.mean) ** 2
        + (hysteresis.sd / kept) ** 2
        + (draw_force_sd_n / draw_force_n) ** 2
    )
    return energy, energy * float(np.sqrt(relative))


def typical_speed_model(kind: str, limbs: str, draw_force_n: float, stroke_m: float) -> SpeedModel:
    """Speed model of a bow of which only kind, weight and stroke are known.

    Parameters
    ----------
    kind, limbs : str
        See `typical`; each may be unknown.
    draw_force_n, stroke_m : float
        Draw force at the archer's own draw [N] and power stroke [m].

    Returns
    -------
    SpeedModel
        With the range from bow to bow of that kind.
    """
    energy = typical_energy_j(kind, limbs, draw_force_n, stroke_m)
    return SpeedModel(*energy, *typical_virtual_kg(kind, limbs, draw_force_n))


def typical_speed_fps(
    gr_per_lb: ArrayLike,
    draw_length_in: float,
    brace_height_in: float,
    draw_weight_lb: float,
    kind: str = "recurve",
    limbs: str = "standard",
) -> Range:
    """Usual speed of the reference class: a laminated recurve with a polyester string, not let go by fingers.

    Parameters
    ----------
    gr_per_lb : array_like
        Arrow mass over draw weight [gr/lb].
    draw_length_in, brace_height_in : float
        Draw length (to the grip throat plus 1 3/4 in) and brace height [in].
    draw_weight_lb : float
        Draw weight at that draw length [lb].
    kind, limbs : str
        Another class, to compare with.

    Returns
    -------
    Range
        Low, mid and high speed, 95 % from bow to bow [fps].

    Examples
    --------
    >>> [round(float(v)) for v in typical_speed_fps(10, 28, 7.5, 45)]
    [167, 176, 185]
    """
    stroke = float(power_stroke_m(draw_length_in * INCH_M, brace_height_in * INCH_M))
    model = typical_speed_model(kind, limbs, draw_weight_lb * POUND_FORCE_N, stroke)
    speed = model.speed(np.asarray(gr_per_lb, float) * draw_weight_lb * GRAIN_KG)
    return Range(*(np.asarray(v / FPS_M_S) for v in speed))
