"""Speed of any arrow with its range, from energy and virtual mass with theirs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.physics.bow.bow import Floats, Range, arrow_speed
from shaftwright.units import Z95


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

    def log_speed_sd(self, arrow_kg: ArrayLike) -> Floats:
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
        growth: float = 0.0,
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
        growth : float
            Doubt of the virtual mass per arrow mass away from the readings' mean [-].

        Returns
        -------
        SpeedModel
            Near the masses shot it is as sure as the chronograph; away from them the virtual
            mass's doubt fans out.

        Raises
        ------
        ValueError
            No readings, or masses and speeds that are not positive.
        """
        arrow, speed = (np.atleast_1d(np.asarray(v, float)) for v in (arrow_kg, speed_m_s))
        arrow, speed = np.broadcast_arrays(arrow, speed)
        if speed.size == 0 or not (np.all(arrow > 0) and np.all(speed > 0)):
            raise ValueError("a speed model needs at least one mass and speed above nought")
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
            float(np.mean(arrow)), growth,
        )  # fmt: skip
