"""Wrapping and small phrases for text in 80 columns."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.errors import printable
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.inference.band import Band

WIDTH = 80


#: text with control characters taken out, so that a name cannot drive the terminal
clean = printable


def short(name: str, width: int) -> str:
    """A name cut in its middle, so that its beginning and its end both stay.

    Examples
    --------
    >>> short("SPRUCE-1132-40-1", 13), short("I25", 13)
    ('SPRUCE-…-40-1', 'I25')
    """
    name = clean(name)
    if len(name) <= width:
        return name
    tail = (width - 1) * 5 // 12
    return f"{name[: width - 1 - tail]}…{name[len(name) - tail :]}"


def tame(text: str, longest: int = 48) -> str:
    """Text whose unbroken words all fit on a line: a longer one is cut in its middle.

    Examples
    --------
    >>> tame("string " + "x" * 50, 9)
    'string xxxxx…xxx'
    """
    return " ".join(short(word, longest) for word in text.split(" "))


def wrap(text: str, indent: str = "", first: str | None = None) -> str:
    """A paragraph in 80 columns, `indent` before every line, `first` before the first."""
    return textwrap.fill(
        clean(text), WIDTH, initial_indent=indent if first is None else first, subsequent_indent=indent,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def bullets(lines: Iterable[str], mark: str = "- ") -> str:
    """A list in 80 columns."""
    return "\n".join(wrap(line, "  " + " " * len(mark), "  " + mark) for line in lines)


def opening(asked: Scenario) -> str:
    """The first lines of every screen of a bow: the one thing to do now."""
    return wrap(asked.now.do)


def own_told(asked: Scenario) -> list[str]:
    """One line where an answer rests on the archer's own rules; none where it does not."""
    own = asked.own_rules
    if not own:
        return []
    names = [("size of " if one.kind == "size" else "") + short(one.name, 34) for one in own]
    for shown in range(len(names), 0, -1):
        more = f" and {len(names) - shown} more" if shown < len(names) else ""
        told = f"Rests on your own: {', '.join(names[:shown])}{more}."
        if len(told) <= WIDTH - 2:
            break
    return [told]


def closing(asked: Scenario, full: bool = False, warnings: Iterable[str] = ()) -> str:
    """The last lines: an answer's own warnings, cautions of the very step, notes, where the rest is."""
    notes = asked.warnings
    own = [warning for warning in warnings if warning not in notes]
    lines = [bullets(own, "! ") + "\n"] if own else []
    lines += [bullets(asked.now.cautions, "! ")] if asked.now.cautions else []
    if full or (len(notes) == 1 and len(notes[0]) <= WIDTH - 4):
        lines += [bullets(notes, "! ")] if notes else []
    elif notes:
        remarks = "1 remark" if len(notes) == 1 else f"{len(notes)} remarks"
        lines.append(f"  ! {remarks} on the notebook: --full")
    where = "All cautions: shaftwright explain --cautions"
    lines += own_told(asked)
    lines.append(where if full else f"{where}; all figures: --full")
    return "\n".join(lines)


def eighths(value: float) -> str:
    """Inches to the nearest eighth, as a saw is set; without the unit.

    Examples
    --------
    >>> eighths(29.47), eighths(30.0)
    ('29 1/2', '30')
    """
    return inches(round(8 * value) / 8).removesuffix(" in")


def fives(value: float) -> str:
    """Grains or thousandths of an inch to the nearest five.

    Examples
    --------
    >>> fives(512.4), fives(2.0)
    ('510', '0')
    """
    return f"{5 * round(value / 5):d}"


def chances(chance: float) -> str:
    """A chance in words where it is a round one.

    Examples
    --------
    >>> chances(0.8), chances(0.9), chances(0.63)
    ('4 chances in 5', '9 chances in 10', '63 chances in 100')
    """
    for whole in (2, 3, 4, 5, 10, 20, 100):
        if abs(chance * whole - round(chance * whole)) < 1e-9:
            return f"{round(chance * whole)} chances in {whole}"
    return f"{100 * chance:.0f} chances in 100"


def spine_told(mils: float, pounds: bool = False) -> str:
    """A spine as shafts are sold: thousandths of an inch to the nearest five, or pounds for wood.

    Examples
    --------
    >>> spine_told(503), spine_told(503, True)
    ('505', '63 lb')
    """
    if not pounds:
        return fives(mils)
    from shaftwright.physics.spine import pounds_from_mils

    return f"{pounds_from_mils(mils):.0f} lb"


def band_told(band: Band, pounds: bool = False) -> str:
    """The spines that suit: the middle, then from the stiff to the weak end, rounded one way everywhere.

    Examples
    --------
    >>> from shaftwright.inference.band import Band
    >>> at = {"chance": 0.8, "length_in": 29.5, "front_gr": 200.0}
    >>> band_told(Band(low=417.6, mid=441.0, high=471.2, **at))
    '440 (420 to 470)'
    >>> band_told(Band(low=500.0, mid=650.0, high=800.0, **at), pounds=True)
    '48 lb (63 to 39 lb)'
    """
    middle, stiff, weak = (spine_told(x, pounds) for x in (band.mid, band.low, band.high))
    return f"{middle} ({stiff.removesuffix(' lb')} to {weak})"


def table(
    rows: Sequence[Sequence[Any]], headers: Sequence[str] = (), align: str = "", gap: str = " ",
    indent: str = "",
) -> str:  # fmt: skip
    """A plain table, as narrow as it can be; `align` has l or r for each column."""
    lines = [
        [clean(str(cell)).strip() for cell in row]
        for row in ([headers, *rows] if headers else rows)
    ]
    widths = [max(map(len, column)) for column in itertools.zip_longest(*lines, fillvalue="")]
    sides = align.ljust(len(widths), "l")
    shown = []
    for cells in lines:
        placed = [
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(cells, widths, sides, strict=False)
        ]
        shown.append((indent + gap.join(placed)).rstrip())
    return "\n".join(shown)
