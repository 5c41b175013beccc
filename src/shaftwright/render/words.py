"""Wrapping and small phrases for text in 80 columns."""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

from shaftwright.errors import printable

WIDTH = 80


def clean(text: str) -> str:
    """Text with control characters taken out, so that a name cannot drive the terminal."""
    return printable(text)


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
    """A paragraph in 80 columns.

    Parameters
    ----------
    text : str
        The paragraph.
    indent : str
        Before every line.
    first : str, optional
        Before the first line instead.

    Returns
    -------
    str
        Lines.
    """
    return textwrap.fill(
        clean(text), WIDTH, initial_indent=indent if first is None else first, subsequent_indent=indent,
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def bullets(lines: Iterable[str], mark: str = "- ") -> str:
    """A list in 80 columns."""
    return "\n".join(wrap(line, "  " + " " * len(mark), "  " + mark) for line in lines)


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


def table(rows: Sequence[Sequence[Any]], headers: Sequence[str] = (), align: str = "") -> str:
    """A plain table, as narrow as it can be.

    Parameters
    ----------
    rows : sequence of rows
        Cells, written as they are.
    headers : sequence of str
        One for each column.
    align : str
        A letter for each column: l or r.

    Returns
    -------
    str
        Lines without trailing blanks.
    """
    lines = [
        [clean(str(cell)).strip() for cell in row]
        for row in ([headers, *rows] if headers else rows)
    ]
    widths = [max(map(len, column)) for column in itertools.zip_longest(*lines, fillvalue="")]
    sides = align.ljust(len(widths), "l")
    told = []
    for cells in lines:
        placed = [
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(cells, widths, sides, strict=False)
        ]
        told.append(" ".join(placed).rstrip())
    return "\n".join(told)
