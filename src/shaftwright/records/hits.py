"""Hits as an archer says them: `3l 1h` is three left and one high, `-3,1` is the same."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from shaftwright.units import convert, read_quantity

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
