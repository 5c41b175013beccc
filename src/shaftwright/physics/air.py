"""Air: density from temperature, pressure, humidity and height, and its viscosity.

References
----------
1. ISO 2533:1975, Standard Atmosphere (dry air; pressure by height; Sutherland viscosity).
2. Buck, A. L. (1981), J. Appl. Meteorol. 20, 1527 (vapour pressure over water), recalled.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array

STANDARD_PRESSURE_PA: Final = 101_325.0
STANDARD_TEMPERATURE_C: Final = 15.0
_ZERO_C_K: Final = 273.15
_DRY_GAS: Final = 287.05287  # J/(kg K), ISO 2533
_VAPOUR_GAS: Final = 461.523  # J/(kg K), water
_LAPSE_K_M: Final = 0.0065


@dataclass(frozen=True, eq=False)
class Air:
    """Density and viscosity of the air an arrow flies through.

    Parameters
    ----------
    density_kg_m3 : array_like
        Density [kg/m3].
    viscosity_pa_s : array_like
        Dynamic viscosity [Pa s].
    """

    density_kg_m3: ArrayLike
    viscosity_pa_s: ArrayLike

    @classmethod
    def at(
        cls,
        temperature_c: ArrayLike = STANDARD_TEMPERATURE_C,
        pressure_pa: ArrayLike | None = None,
        humidity: ArrayLike = 0.0,
        height_m: ArrayLike = 0.0,
    ) -> Air:
        """Moist air at a place.

        Parameters
        ----------
        temperature_c : array_like
            Temperature where the arrow flies [deg C].
        pressure_pa : array_like, optional
            Air pressure at that place; of the standard atmosphere at `height_m` when absent [Pa].
        humidity : array_like
            Relative humidity, 0 to 1 [-].
        height_m : array_like
            Height above the sea, used only without a pressure [m].

        Returns
        -------
        Air
            Density and viscosity.

        Notes
        -----
        Dry air and vapour as ideal gases side by side; compressibility is under 0.05 %.

        Examples
        --------
        >>> round(float(Air.at().density_kg_m3), 4)
        1.225

        References
        ----------
        1. ISO 2533:1975, Sutherland's formula with 1.458e-6 kg/(m s K^1/2) and 110.4 K.
        """
        kelvin = np.asarray(temperature_c, float) + _ZERO_C_K
        pressure = standard_pressure_pa(height_m) if pressure_pa is None else pressure_pa
        vapour = np.asarray(humidity, float) * vapour_pressure_pa(temperature_c)
        dry = (np.asarray(pressure) - vapour) / (_DRY_GAS * kelvin)
        return cls(dry + vapour / (_VAPOUR_GAS * kelvin), 1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def standard_pressure_pa(height_m: ArrayLike) -> Array:
    """Air pressure of the standard atmosphere.

    Parameters
    ----------
    height_m : array_like
        Height above the sea, -1,000 to 11,000 [m].

    Returns
    -------
    ndarray
        Pressure [Pa].

    References
    ----------
    1. ISO 2533:1975 (geopotential height; the difference is 0.2 m at 1,000 m).
    """
    ratio = 1 - _LAPSE_K_M * np.asarray(height_m, float) / (_ZERO_C_K + STANDARD_TEMPERATURE_C)
    exponent = 9.80665 / (_DRY_GAS * _LAPSE_K_M)
    return np.asarray(STANDARD_PRESSURE_PA * ratio**exponent)


def vapour_pressure_pa(temperature_c: ArrayLike) -> Array:
    """Saturated vapour pressure over water.

    Parameters
    ----------
    temperature_c : array_like
        Temperature, -40 to 50 [deg C].

    Returns
    -------
    ndarray
        Vapour pressure [Pa].

    References
    ----------
    1. Buck (1981), J. Appl. Meteorol. 20, 1527, recalled; within 0.2 % above freezing.
    """
    t = np.asarray(temperature_c, float)
    return np.asarray(611.21 * np.exp((18.678 - t / 234.5) * t / (257.14 + t)))
