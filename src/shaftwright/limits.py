"""What may be asked for, by command and from Python alike, and the fault of what may not."""

from __future__ import annotations

from collections.abc import Iterable
from numbers import Integral, Real
from os import PathLike
from typing import Final, Literal, NamedTuple, get_args

from shaftwright.errors import Fault, InputError, did_you_mean


class Limit(NamedTuple):
    """Where a number must lie."""

    low: float
    high: float
    unit: str = ""
    whole: bool = False


Material = Literal["carbon", "aluminium", "wood", "fibreglass"]
Purpose = Literal["hunting", "hunting_large_game", "three_d", "target", "practice"]
MATERIALS: Final[tuple[str, ...]] = get_args(Material)
STRINGS: Final = ("low_stretch", "polyester")
PURPOSES: Final[tuple[str, ...]] = get_args(Purpose)
BASES: Final = ("both", "trade", "physics")
AIR: Final = ("temperature_c", "pressure_hpa", "humidity_pct", "height_m")
#: builds listed where nothing is said
TOP: Final = 6
BAND_CHANCE, KIT_CHANCE = Limit(0.5, 0.99), Limit(0.05, 0.99)
LISTED, REPORTED = Limit(1, 500, whole=True), Limit(1, 50, whole=True)
ARROWS, BREAKAGE, BUDGET = Limit(0, 144, whole=True), Limit(0, 100, "%"), Limit(0, 1e9)
DRAWS, MASS, MOST = Limit(4, 400, whole=True), Limit(50, 2000, "gr"), 60
DISTANCE, POINT_ON, COMPARED = Limit(1, 300, "yd"), Limit(5, 200, "yd"), Limit(1, 100, "yd")
WIND, SLOPE, EYE = Limit(-100, 100, "fps"), Limit(-60, 60, "degrees"), Limit(0.25, 12, "in")
CELSIUS, PRESSURE = Limit(-50, 55, "C"), Limit(300, 1100, "hPa")
HUMIDITY, HEIGHT = Limit(0, 100, "%"), Limit(-450, 6000, "m")


def number(name: str, value: object, limit: Limit) -> Fault | None:
    """The fault of a number; None where it is good, or not given.

    Examples
    --------
    >>> print(number("chance", 80, BAND_CHANCE))
    chance: 80 is out of range; allowed: 0.5 to 0.99
    """
    kind, told = (Integral, "a whole number") if limit.whole else (Real, "a number")
    allowed = f"allowed: {limit.low:g} to {limit.high:g} {limit.unit}".rstrip()
    if value is None:
        return None
    if not isinstance(value, kind) or isinstance(value, bool) or value != value:
        return Fault(name, f"is not {told}; {allowed}", value=value)
    if not limit.low <= value <= limit.high:  # type: ignore[operator]
        return Fault(name, f"is out of range; {allowed}", value=value)
    return None


def word(name: str, value: object, allowed: Iterable[str]) -> Fault | None:
    """The fault of a word of a closed list; None where it is good, or not given."""
    words = tuple(allowed)
    if value is None or value in words:
        return None
    hint = did_you_mean(value, words) if isinstance(value, str) else ""
    return Fault(name, f"is not known; allowed: {', '.join(words)}{hint}", value=value)


def several(name: str, value: object) -> Fault | None:
    """The fault of one text or path where a list of them is wanted."""
    if not isinstance(value, str | PathLike):
        return None
    return Fault(name, f"must be a list, such as [{value!r}]", value=value)


def refuse(*found: Fault | None) -> None:
    """Raise what was found."""
    faults = [fault for fault in found if fault is not None]
    if faults:
        raise InputError(faults)
