"""Field types that all records share: quantities with limits, text without surprises, hits as said."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Callable, Sequence
from typing import Annotated, Any, ClassVar, Final, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

from shaftwright.units import convert, read_quantity

Unknown = Literal["unknown"]


def _decimal_comma(value: Any) -> str:
    """What to write for a number with a comma in it; empty for anything else."""
    written = value if isinstance(value, str) else ""
    match = re.match(r"\s*([+-]?\d{1,9}),(\d{1,9})(?![\d.,])", written)
    if match is None:
        return ""
    whole, rest = match.groups()
    if len(rest) == 3 and whole.strip("+-0"):
        return f"has a comma; write {whole}.{rest} or {whole}{rest}"
    return f"has a decimal comma; write {whole}.{rest}"


def _between(
    read: Callable[[Any], float], low: float, high: float, allowed: str
) -> BeforeValidator:
    """A validator that reads a number and holds it between two limits, both allowed."""

    def check(value: Any) -> float:
        try:
            number = read(value)
        except ValueError as error:
            raise ValueError(f"{error}; allowed: {allowed}") from None
        if not low <= number <= high:
            raise ValueError(f"is out of range; allowed: {allowed}")
        return number

    return BeforeValidator(check)


def reader(unit: str, low: float, high: float) -> BeforeValidator:
    """A validator for a quantity in `unit`, between two limits."""
    # long notebooks say the same few masses and strings again and again
    read_text = functools.lru_cache(maxsize=1024)(read_quantity)

    def read(value: Any) -> float:
        if not isinstance(value, str | int | float):
            raise ValueError("is not a quantity")
        try:
            return (read_text if type(value) is str else read_quantity)(value, unit)
        except ValueError as error:
            raise ValueError(_decimal_comma(value) or f"is not usable: {error}") from None

    return _between(read, low, high, f"{low:g} to {high:g} {unit}")


def plain_number(low: float, high: float) -> BeforeValidator:
    """A validator for a plain number between two limits; fractions such as `1/2` are read too."""

    def read(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise ValueError("is not a number")
        try:
            return _number(value) if isinstance(value, str) else float(value)
        except (ValueError, ArithmeticError):
            raise ValueError(_decimal_comma(value) or "is not a number") from None

    return _between(read, low, high, f"a number, {low:g} to {high:g}")


def _number(text: str) -> float:
    # not Fraction(text): a few characters such as 1e999999999 would cost it all memory
    over, line, under = text.partition("/") if len(text) <= 40 else ("", "", "")
    return float(over) / float(under) if line else float(over)


def whole_number(low: int, high: int) -> BeforeValidator:
    """A validator for a whole number between two limits."""

    def read(value: Any) -> int:
        if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 16:
            return int(value)
        if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
            return int(value)
        if isinstance(value, bool) or not isinstance(value, int):
            raise ValueError("is not a whole number")
        return value

    return _between(read, low, high, f"a whole number, {low} to {high}")


def _label(value: Any) -> Any:
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


Name = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]
#: labels such as `A` or `2` are text, however they are written
Label = Annotated[Name, BeforeValidator(_label)]
Text = Annotated[str, StringConstraints(max_length=2000)]

DrawLength = Annotated[float, reader("in", 18, 36)]
Brace = Annotated[float, reader("in", 3, 12)]
BowWeight = Annotated[float, reader("lb", 5, 200)]
SideDistance = Annotated[float, reader("in", 0, 2)]
SmallLength = Annotated[float, reader("in", -3, 3)]
Thickness = Annotated[float, reader("in", 0, 0.5)]
ShaftLength = Annotated[float, reader("in", 15, 45)]
PartMass = Annotated[float, reader("gr", 0, 1000)]
StringMass = Annotated[float, reader("gr", 20, 600)]
ArrowMass = Annotated[float, reader("gr", 100, 3000)]
Distance = Annotated[float, reader("yd", 1, 120)]
Spine = Annotated[float, plain_number(100, 3000)]
WoodSpine = Annotated[float, plain_number(10, 150)]
MassPerInch = Annotated[float, plain_number(1, 40)]
Diameter = Annotated[float, reader("in", 0.1, 0.6)]
Bore = Annotated[float, reader("in", 0.05, 0.6)]
Offset = Annotated[float, reader("in", -120, 120)]
Speed = Annotated[float, reader("fps", 30, 450)]
Level = Annotated[float, reader("dB", 0, 180)]


def _day(value: Any) -> Any:
    # a bare number would be taken for seconds since 1970
    written = isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value.strip(), re.A)
    if not written and type(value) is not dt.date:
        raise ValueError("is not a date; write 2026-05-31")
    return value.strip() if written else value


Day = Annotated[dt.date, BeforeValidator(_day)]


def _one(value: Any) -> Any:
    if isinstance(value, bool):
        raise ValueError("is not allowed; allowed: 1")
    return value


#: the head of every YAML file: `format: 1`, and `true` is not 1
Format = Annotated[Literal[1], BeforeValidator(_one)]


def optional(written: str) -> Any:
    """A field that may be left out, by the name that archers write it under."""
    return Field(default=None, alias=written)


class Record(BaseModel):
    """Base of all records: immutable, unknown fields refused, read by the names archers write."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        populate_by_name=True,
        allow_inf_nan=False,
        defer_build=True,  # most commands use few of the records
    )

    #: the record in one line, as archers write it; shown where something else was written
    written: ClassVar[str] = ""


#: right and up positive, as the archer stands
Hit = tuple[float, float]

FORM: Final = "3l 1h for 3 left and 1 high (lo is low), or right and up: -3,1"
_NUMBER = r"(?:\d+(?:\s+|-))?\d+\s*/\s*\d+|\d+\.\d*|\.\d+|\d+"
#: "0 1lo": straight one way, off the other
_NOUGHT = re.compile(r"^0\s+(?=\d)|(?<=[a-z])\s+0$")
_PART = re.compile(
    rf"(?:and\b|[,+])?\s*(?P<number>{_NUMBER})\s*(?P<unit>mm|cm|inches|inch|in|[\"″])?\s*"
    r"(?P<way>left|right|high|low|down|up|lo|l|r|h|u|d)(?![a-z])\s*"
)
_WAYS: Final = {
    "left": (0, -1), "l": (0, -1), "right": (0, 1), "r": (0, 1), "high": (1, 1), "h": (1, 1), "up": (1, 1),
    "u": (1, 1), "low": (1, -1), "lo": (1, -1), "down": (1, -1), "d": (1, -1),
}  # fmt: skip
_MIDDLE: Final = ("0", "centre", "center", "middle")


def read_hit(text: str, unit: str = "in") -> Hit:
    """One hit in inches; a bare number is in `unit`.

    Examples
    --------
    >>> read_hit("3l 1h"), read_hit("1/2 high"), read_hit("-3, 1"), read_hit("5r 2lo", "cm")
    ((-3.0, 1.0), (0.0, 0.5), (-3.0, 1.0), (1.9685, -0.7874))
    >>> read_hit("0 1lo"), read_hit("3l 0")
    ((0.0, -1.0), (-3.0, 0.0))
    """
    said = " ".join(text.lower().split())
    if said in _MIDDLE:
        return 0.0, 0.0
    numbers = [part.strip() for part in said.split(",")]
    if len(numbers) == 2 and all(re.match(r"[+-]?[\d.]", part) for part in numbers):
        try:
            return _inches(numbers[0], unit), _inches(numbers[1], unit)
        except ValueError:
            if not said[-1].isalpha():
                raise
    said = _NOUGHT.sub("", said)
    at: list[float | None] = [None, None]
    place = 0
    while place < len(said):
        part = _PART.match(said, place)
        if part is None:
            comma = re.search(r"(\d+),(\d+)\s*[a-z]", said)
            told = f"write {comma[1]}.{comma[2]} for it" if comma else f"write {FORM}"
            raise ValueError(f"is not a hit; {told}")
        axis, sign = _WAYS[part["way"]]
        if at[axis] is not None:
            either = ("left or right", "high or low")[axis]
            raise ValueError(f"says {either} twice; write {FORM}")
        at[axis] = sign * _inches(part["number"] + (part["unit"] or ""), unit)
        place = part.end()
    if at == [None, None]:
        raise ValueError(f"is not a hit; write {FORM}")
    return at[0] or 0.0, at[1] or 0.0


def _inches(text: str, unit: str) -> float:
    bare = text[-1:].isdigit() or text.endswith(".")
    found = read_quantity(f"{text} {unit}" if bare else text, "in")
    return round(found, 4) + 0.0


def read_hits(text: str, unit: str = "in") -> tuple[Hit, ...]:
    """Several hits, with a semicolon between them."""
    return tuple(read_hit(part, unit) for part in re.split(r"[;\n]", text) if part.strip())


def hit_told(hit: Sequence[float], unit: str = "in") -> str:
    """A hit in words that `read_hit` reads back: to a hundredth of an inch, or a tenth of a centimetre.

    Examples
    --------
    >>> hit_told((-3, 1)), hit_told((0, -0.5)), hit_told((0, 0)), hit_told((2.54, 0), "cm")
    ('3 left 1 high', '0.5 low', 'centre', '6.5 right')
    """
    across, up = (round(convert(at, "in", unit), 2 if unit == "in" else 1) for at in hit)
    told = [f"{abs(at):g} {minus if at < 0 else plus}"
            for at, minus, plus in ((across, "left", "right"), (up, "low", "high")) if at]  # fmt: skip
    return " ".join(told) or "centre"
