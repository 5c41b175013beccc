"""Exact conversions, the closed list of units, and a reader for what archers write.

All conversions follow from the definitions in NIST SP 811 (2008), Appendix B: the grain is
64.79891 mg, the inch 25.4 mm, the avoirdupois pound 0.45359237 kg, standard gravity
9.80665 m/s2.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

GRAIN_KG: Final = 64.79891e-6
INCH_M: Final = 0.0254
FOOT_M: Final = 0.3048
YARD_M: Final = 0.9144
POUND_KG: Final = 0.45359237
GRAVITY_M_S2: Final = 9.80665
POUND_FORCE_N: Final = POUND_KG * GRAVITY_M_S2
FOOT_POUND_J: Final = POUND_FORCE_N * FOOT_M
FPS_M_S: Final = FOOT_M
MIL_M: Final = INCH_M / 1000

#: grain x (ft/s)^2 in one foot-pound of kinetic energy: 450,436.7
GRAIN_FPS2_PER_FOOT_POUND: Final = 2 * FOOT_POUND_J / (GRAIN_KG * FPS_M_S**2)
#: grain x ft/s in one slug-ft/s of momentum: 225,218
GRAIN_FPS_PER_SLUG_FPS: Final = POUND_FORCE_N / FOOT_M / GRAIN_KG


@dataclass(frozen=True)
class Unit:
    """One unit of the closed list: what it measures and its size in SI."""

    symbol: str
    dimension: str
    exact: Fraction


#: The closed list. `lb` is a force (a bow's weight); a mass in pounds is not written by archers.
UNITS: Final[dict[str, Unit]] = {
    symbol: Unit(symbol, dimension, Fraction(exact))
    for dimension, sizes in {
        "length": {"mm": "0.001", "cm": "0.01", "m": "1", "in": "0.0254", "ft": "0.3048", "yd": "0.9144"},
        "mass": {"gr": "64.79891e-6", "g": "0.001", "kg": "1", "oz": "0.028349523125"},
        "force": {"lb": str(Fraction("0.45359237") * Fraction("9.80665")), "N": "1"},
        "speed": {"fps": "0.3048", "m/s": "1"},
        "level": {"dB": "1"},
    }.items()
    for symbol, exact in sizes.items()
}  # fmt: skip

_SYNONYMS: Final = {'"': "in", "″": "in", "inch": "in", "inches": "in", "lbs": "lb", "#": "lb",
                    "grains": "gr", "ft/s": "fps", "n": "N", "db": "dB", "yard": "yd", "yards": "yd",
                    "meter": "m", "meters": "m", "metre": "m", "metres": "m"}  # fmt: skip

#: the distance for which inches aside are told, the usual one at which bare shafts are compared [yd]
REFERENCE_YD: Final = 20.0

#: two-sided 95 % of a normal distribution
Z95: Final = 1.959963984540054


@dataclass(frozen=True)
class Interval:
    """A middle and its 95 % range, perhaps lopsided."""

    mid: float
    low: float
    high: float

    @property
    def mean(self) -> float:
        """Mean of the split normal with this mode and range."""
        below, above = (self.mid - self.low) / Z95, (self.high - self.mid) / Z95
        return self.mid + math.sqrt(2 / math.pi) * (above - below)

    @property
    def sd(self) -> float:
        """Standard deviation of that split normal."""
        below, above = (self.mid - self.low) / Z95, (self.high - self.mid) / Z95
        return math.sqrt((1 - 2 / math.pi) * (above - below) ** 2 + above * below)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm, for a positive quantity known as a log-normal."""
        return math.log(self.high / self.low) / (2 * Z95)

    def scaled(self, factor: float) -> Interval:
        """The same doubt about a quantity `factor` times as large."""
        ends = (self.low * factor, self.high * factor)
        return Interval(self.mid * factor, *(ends if factor >= 0 else ends[::-1]))


_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_QUANTITY = re.compile(
    rf"""^\s*(?:
        (?P<sign>[+-]?)(?:(?P<whole>\d{{1,9}})(?:\s+|-))?(?P<num>\d{{1,9}})\s*/\s*(?P<den>\d{{1,9}})
        | (?P<plain>{_NUMBER})
    )\s*(?P<unit>[A-Za-z"″/#]{{0,8}})\s*$""",
    re.VERBOSE | re.ASCII,
)


def convert(value: float, unit_from: str, unit_to: str) -> float:
    """Convert a value between two units of the same dimension, exactly to one rounding.

    Parameters
    ----------
    value : float
        The value [unit_from].
    unit_from, unit_to : str
        Symbols of the closed list `UNITS`.

    Returns
    -------
    float
        The value [unit_to].

    Raises
    ------
    ValueError
        A unit that is not in the list, two units of different dimensions, or a value too large
        for the unit wanted.

    Examples
    --------
    >>> convert(1, "in", "mm")
    25.4
    >>> round(convert(505, "gr", "g"), 4)
    32.7234
    """
    source, target = UNITS[unit_from], UNITS[unit_to]
    if source is target or not math.isfinite(value):
        return value
    return _rounded(Fraction(value) * source.exact / target.exact)


def _rounded(exact: Fraction) -> float:
    try:
        return float(exact)
    except OverflowError:
        raise ValueError("the number is out of all reason") from None


def units_like(unit: str) -> list[str]:
    """The units of the closed list that measure the same as `unit`."""
    dimension = UNITS[unit].dimension
    return [u.symbol for u in UNITS.values() if u.dimension == dimension]


def read_quantity(text: str | float, unit: str) -> float:
    """Read what an archer writes as a number in `unit`.

    Understands `29 1/4 in`, `29-1/4`, `29.25`, `1/8`, `74 cm`, `32 g`, `505 gr`, `60 m/s`.
    A bare number is taken to be in `unit` already.

    Parameters
    ----------
    text : str or float
        The text, or a number.
    unit : str
        The unit wanted, of the closed list.

    Returns
    -------
    float
        The value [unit].

    Raises
    ------
    ValueError
        Text that is no quantity, a unit of another kind, NaN or infinity.

    Examples
    --------
    >>> read_quantity("29 1/4 in", "in")
    29.25
    >>> read_quantity("74 cm", "in")
    29.133858267716537
    >>> read_quantity("-1/8", "in")
    -0.125
    >>> read_quantity("18 yards", "yd"), read_quantity("20 metres", "m")
    (18.0, 20.0)
    """
    if isinstance(text, bool):
        raise ValueError("a yes/no where a quantity should be")
    if isinstance(text, int | float):
        if isinstance(text, int) and abs(text) > 10**15:
            raise ValueError("the number is out of all reason")
        if not math.isfinite(text):
            raise ValueError("not a finite number")
        return float(text)
    match = _QUANTITY.match(text) if len(text) <= 60 else None
    if match is None:
        raise ValueError(f"not a quantity; write a number and a unit, such as {_sample(unit)}")
    symbol = match["unit"]
    symbol = _SYNONYMS.get(symbol, _SYNONYMS.get(symbol.lower(), symbol)) or unit
    if symbol not in UNITS:
        raise ValueError(
            f"unit {match['unit']!r} is not known; use {' or '.join(units_like(unit))}"
        )
    if UNITS[symbol].dimension != UNITS[unit].dimension:
        raise ValueError(
            f"{symbol} measures {UNITS[symbol].dimension}; use {' or '.join(units_like(unit))}"
        )
    if match["plain"] is not None:
        number = float(match["plain"])
        if not math.isfinite(number):
            raise ValueError("not a finite number")
        return convert(number, symbol, unit)
    denominator = int(match["den"])
    if denominator == 0:
        raise ValueError("a fraction over nought")
    exact = Fraction(int(match["whole"] or 0)) + Fraction(int(match["num"]), denominator)
    if match["sign"] == "-":
        exact = -exact
    return _rounded(exact * UNITS[symbol].exact / UNITS[unit].exact)


def _sample(unit: str) -> str:
    return {"in": "29 1/4 in", "gr": "125 gr", "lb": "47 lb", "fps": "171 fps", "yd": "20 yd",
            "dB": "84.2 dB"}.get(unit, f"1 {unit}")  # fmt: skip


def inches(value: float, finest: int = 16) -> str:
    """Write a length as archers do: in 1/`finest` in when it is such, else to 1/32 in, under an inch to 1/64.

    Examples
    --------
    >>> inches(29.25), inches(0.125), inches(-1.5), inches(28.0), inches(31.496), inches(0.138)
    ('29 1/4 in', '1/8 in', '-1 1/2 in', '28 in', '31 1/2 in', '9/64 in')
    """
    parts = value * finest
    if abs(parts - round(parts)) > 1e-6 * finest:
        finest = 64 if abs(value) < 1 else 32
        parts = value * finest
    exact = Fraction(round(parts), finest)
    sign, exact = ("-" if exact < 0 else ""), abs(exact)
    whole, rest = divmod(exact, 1)
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{rest.numerator}/{rest.denominator}")
    return f"{sign}{' '.join(words)} in"


def length_told(value_in: float, units: str = "imperial") -> str:
    """A measure of the bow as archers take it: in inches, or in millimetres and centimetres.

    Examples
    --------
    >>> length_told(28.3465), length_told(0.016), length_told(7.5)
    ('28 11/32 in', '1/64 in', '7 1/2 in')
    >>> length_told(27.9528, "metric"), length_told(0.0787, "metric"), length_told(0, "metric")
    ('71 cm', '2 mm', '0 mm')
    """
    if units != "metric":
        return inches(value_in)
    unit = "mm" if abs(value_in) < 1 else "cm"
    return f"{_nearest(convert(value_in, 'in', unit), 10):g} {unit}"


def pounds_told(pounds: float) -> str:
    """A draw weight to a tenth of a pound, which no scale tells better.

    Examples
    --------
    >>> pounds_told(44.9618), pounds_told(47.0)
    ('45 lb', '47 lb')
    """
    return f"{_nearest(pounds, 10):g} lb"


def offset_told(inches_off: float, units: str = "imperial") -> str:
    """How far apart groups lie, as an archer measures it: to a quarter or half inch, or in centimetres.

    Examples
    --------
    >>> offset_told(5.43), offset_told(1.3), offset_told(-0.8)
    ('5 1/2 in', '1 1/4 in', '-3/4 in')
    >>> offset_told(5.43, "metric"), offset_told(1.3, "metric"), offset_told(0.8, "metric")
    ('14 cm', '3.5 cm', '2 cm')
    """
    fine = abs(inches_off) < 3
    if units == "metric":
        return f"{_nearest(convert(inches_off, 'in', 'cm'), 2 if fine else 1):g} cm"
    return inches(_nearest(inches_off, 4 if fine else 2))


def aside_told(
    offset_in: float, units: str = "imperial", sides: tuple[str, str] = ("left", "right")
) -> str:
    """How far and to which side groups lie apart, right or high positive.

    Examples
    --------
    >>> aside_told(-3.24), aside_told(3.24, "imperial", ("low", "high"))
    ('3 in left', '3 in high')
    """
    return f"{offset_told(abs(offset_in), units)} {sides[offset_in >= 0]}"


def distance_told(yards: float, units: str = "imperial") -> str:
    """A distance to the butt in whole yards or metres.

    Examples
    --------
    >>> distance_told(20), distance_told(20, "metric"), distance_told(19.685, "metric")
    ('20 yd', '18 m', '18 m')
    """
    if units == "metric":
        return f"{_nearest(convert(yards, 'yd', 'm'), 1):g} m"
    return f"{_nearest(yards, 1):g} yd"


def distance_typed(text: str, units: str = "imperial") -> str:
    """A distance with the unit that a bare number means.

    Examples
    --------
    >>> distance_typed("18", "metric"), distance_typed("20 yd", "metric"), distance_typed("20")
    ('18 m', '20 yd', '20 yd')
    """
    bare = re.fullmatch(r"[\d\s./-]+", text)
    return f"{text} {'m' if units == 'metric' else 'yd'}" if bare else text


def _nearest(value: float, parts: int) -> float:
    """To the nearest of so many parts of one, halves away from nought."""
    return math.copysign(math.floor(abs(value) * parts + 0.5) / parts, value) + 0.0


def in_100(chance: float) -> str:
    """A computed chance in whole hundredths; never quite 0 or 100, which nobody can know.

    Examples
    --------
    >>> in_100(0.534), in_100(0.999), in_100(0.0)
    ('53 in 100', 'over 99 in 100', 'under 1 in 100')
    """
    if chance > 0.995:
        return "over 99 in 100"
    return "under 1 in 100" if chance < 0.005 else f"{100 * chance:.0f} in 100"


def cap(text: str) -> str:
    """With a capital.

    Examples
    --------
    >>> cap("over 99 in 100"), cap("")
    ('Over 99 in 100', '')
    """
    return text[:1].upper() + text[1:]


def series(words: Sequence[str]) -> str:
    """One after the other in a sentence.

    Examples
    --------
    >>> series(["P75"]), series(["P75", "P100"]), series(["P75", "P100", "P125"])
    ('P75', 'P75 and P100', 'P75, P100 and P125')
    """
    *first, last = words or ("",)
    return f"{', '.join(first)} and {last}" if first else last


def percent(chance: float) -> str:
    """A computed chance as a whole percentage; never quite 0 or 100, which nobody can know.

    Examples
    --------
    >>> percent(0.54), percent(0.999), percent(0.0)
    ('54%', '>99%', '<1%')
    """
    if chance > 0.995:
        return ">99%"
    return "<1%" if chance < 0.005 else f"{chance:.0%}"
