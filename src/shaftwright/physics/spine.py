"""Static stiffness: the two definitions of spine, and tubes by their size.

Both definitions are a simply supported bar loaded at its centre, d = F L^3 / (48 EI)
(Roark's Formulas for Stress and Strain): modern shafts on 28 in with 1.94 lb (ASTM F2031),
wood on 26 in with 2 lb, told as pounds = 26 / deflection in inches (AMO standard).
"""

from __future__ import annotations

import math
from typing import Final, TypeVar

from shaftwright.arrays import Array
from shaftwright.units import GRAIN_KG, INCH_M, MIL_M, POUND_FORCE_N

Number = TypeVar("Number", float, Array)

MODERN_SPAN_IN: Final = 28.0
MODERN_LOAD_LB: Final = 1.94
WOOD_SPAN_IN: Final = 26.0
WOOD_LOAD_LB: Final = 2.0

#: deflection of one bar under the wood test over that under the modern test: 0.8254185
WOOD_OVER_MODERN: Final = (WOOD_LOAD_LB / MODERN_LOAD_LB) * (WOOD_SPAN_IN / MODERN_SPAN_IN) ** 3
#: wood pounds x modern deflection in inches of one bar: 31.4992
POUNDS_TIMES_INCHES: Final = WOOD_SPAN_IN / WOOD_OVER_MODERN
#: EI [N m2] x modern deflection in inches: 2.54618
STIFFNESS_TIMES_INCHES: Final = (
    MODERN_LOAD_LB * POUND_FORCE_N * (MODERN_SPAN_IN * INCH_M) ** 3 / 48 / INCH_M
)


def pounds_from_mils(spine_mils: Number) -> Number:
    """Stiffness in wood pounds of the same bar as a static spine, exact from the definitions.

    Parameters
    ----------
    spine_mils : float or array
        Static spine [mils].

    Returns
    -------
    float or array
        Stiffness [lb].

    Examples
    --------
    >>> round(pounds_from_mils(500.0), 4)
    62.9983
    """
    return 1000.0 * POUNDS_TIMES_INCHES / spine_mils


def mils_from_pounds(pounds: Number) -> Number:
    """Static spine of the same bar as a stiffness in wood pounds; the inverse of `pounds_from_mils`.

    Parameters
    ----------
    pounds : float or array
        Stiffness [lb].

    Returns
    -------
    float or array
        Static spine [mils].
    """
    return 1000.0 * POUNDS_TIMES_INCHES / pounds


def spine_marked(spine_mils: float, wood: bool) -> str:
    """A shaft's own spine as it is marked: thousandths of an inch, of wood in pounds.

    Examples
    --------
    >>> spine_marked(500.0, False), spine_marked(mils_from_pounds(37.5), True)
    ('500', '37.5 lb')
    """
    return f"{round(pounds_from_mils(spine_mils), 1):g} lb" if wood else f"{spine_mils:.0f}"


def bending_stiffness_n_m2(spine_mils: Number) -> Number:
    """Bending stiffness EI of a bar of this static spine.

    Parameters
    ----------
    spine_mils : float or array
        Static spine [mils].

    Returns
    -------
    float or array
        EI [N m2].

    Examples
    --------
    >>> round(bending_stiffness_n_m2(500.0), 4)
    5.0924
    """
    return 1000.0 * STIFFNESS_TIMES_INCHES / spine_mils


def deflection_in(stiffness_n_m2: float, span_in: float, load_lb: float) -> float:
    """Centre deflection of a simply supported bar, F L^3 / (48 EI).

    Parameters
    ----------
    stiffness_n_m2 : float
        EI [N m2].
    span_in, load_lb : float
        Span [in] and centre load [lb].

    Returns
    -------
    float
        Deflection [in].
    """
    load, span = load_lb * POUND_FORCE_N, span_in * INCH_M
    return load * span**3 / (48 * stiffness_n_m2) / INCH_M


def tube_from_size_code(
    size_code: str, modulus_pa: float, density_kg_m3: float
) -> tuple[float, float, float, float]:
    """Static spine and mass of an aluminium tube from its size code.

    Parameters
    ----------
    size_code : str
        Four digits: outside diameter in 1/64 in, then wall in 1/1000 in (`2016`: 20/64 in, 0.016 in).
    modulus_pa, density_kg_m3 : float
        The metal's Young's modulus [Pa] and density [kg/m3].

    Returns
    -------
    tuple of float
        Static spine [mils], mass per inch [gr/in], outside and inside diameter [in].

    Raises
    ------
    ValueError
        Not four digits, or a wall that leaves no bore.
    """
    if len(size_code) != 4 or not (size_code.isascii() and size_code.isdigit()):
        raise ValueError(
            "a size code is four digits: outside diameter in 1/64 in, wall in 1/1000 in, as 2016"
        )
    outside, wall = int(size_code[:2]) / 64, int(size_code[2:]) / 1000
    inside = outside - 2 * wall
    if wall <= 0 or inside <= 0:
        raise ValueError("this size code leaves no wall or no bore")
    second_moment = math.pi / 64 * (outside**4 - inside**4) * INCH_M**4
    area = math.pi / 4 * (outside**2 - inside**2) * INCH_M**2
    spine = deflection_in(modulus_pa * second_moment, MODERN_SPAN_IN, MODERN_LOAD_LB)
    return spine * INCH_M / MIL_M, density_kg_m3 * area * INCH_M / GRAIN_KG, outside, inside
