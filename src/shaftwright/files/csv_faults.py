"""What went wrong in a CSV file that a spreadsheet saved its own way: separators, decimal commas."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from itertools import combinations, pairwise

from shaftwright.errors import Fault

_SEPARATORS = {";": "semicolons", "\t": "tabs"}
_MOST_WAYS = 300
_DIGITS = re.compile(r"[+-]?[0-9]{1,9}\Z")
_REST = re.compile(r"[0-9]{1,9}(?: ?[a-z]+)?\Z")


def other_separator(first_line: str, known: Collection[str]) -> str | None:
    """What a file is separated by instead of commas, told by its first line.

    Parameters
    ----------
    first_line : str
        The header.
    known : collection of str
        Names of columns that may stand in it.

    Returns
    -------
    str or None
        What is wrong and what to do; None where commas name as many columns as anything else.

    Examples
    --------
    >>> other_separator("item;kind;price", {"item", "kind"})[:28]
    'is separated by semicolons; '
    """

    def named(separator: str) -> int:
        return sum(cell.strip(' "') in known for cell in first_line.split(separator))

    best = max(_SEPARATORS, key=named)
    if named(best) <= named(","):
        return None
    return (
        f"is separated by {_SEPARATORS[best]}; save it with commas between the cells and with decimal "
        "points (0.25)"
    )


def width_fault(
    header: Sequence[str], row: Sequence[str], name: str, line: int, fits: Callable[[list[str]], bool]
) -> list[Fault]:  # fmt: skip
    """What is wrong with a row of more or fewer cells than its header.

    Parameters
    ----------
    header, row : sequence of str
        Cells.
    name : str
        The file.
    line : int
        Line of the row.
    fits : callable
        Whether cells as many as the header's make a good row.

    Returns
    -------
    list of Fault
        One for every cell that a decimal comma cut in two for certain; else one for the row.
    """
    problem = f"has {len(row)} cells where the header has {len(header)}"
    whole = ",".join(row)
    for sign, word in _SEPARATORS.items():
        if len(row) < len(header) <= len(whole.split(sign)):
            return [Fault(name, f"{problem}; it is separated by {word}, write commas", line)]
    cut = _cut_numbers(row, len(row) - len(header), fits)
    if cut:
        return [
            Fault(
                name, f"has a decimal comma; write {row[at].strip()}.{row[at + 1].strip()}", line,
                header[column], f"{row[at].strip()},{row[at + 1].strip()}",
            )
            for at, column in cut
        ]  # fmt: skip
    if len(row) > len(header) and any(_DIGITS.match(cell.strip()) for cell in row):
        problem += (
            "; a decimal comma makes two cells of a number: write 0.25, or put the cell in quotes"
        )
    return [Fault(name, problem, line)]


def _cut_numbers(
    row: Sequence[str], surplus: int, fits: Callable[[list[str]], bool]
) -> list[tuple[int, int]]:
    """Cells, with their columns, that every way of joining cut numbers to a good row joins."""
    if surplus < 1:
        return []
    pairs = [
        at
        for at, (cell, after) in enumerate(pairwise(row))
        if _DIGITS.match(cell.strip()) and _REST.match(after.strip())
    ]
    common: set[tuple[int, int]] | None = None
    apart = (
        way for way in combinations(pairs, surplus) if all(b - a > 1 for a, b in pairwise(way))
    )
    for tried, way in enumerate(apart):
        if tried >= _MOST_WAYS:
            return []
        if fits(_joined(row, way)):
            cut = {(at, at - before) for before, at in enumerate(way)}
            common = cut if common is None else common & cut
    return sorted(common or ())


def _joined(row: Sequence[str], way: Collection[int]) -> list[str]:
    """The row with each cell of `way` and the one after it made one number."""
    cells, at = [], 0
    while at < len(row):
        if at in way:
            cells.append(f"{row[at].strip()}.{row[at + 1].strip()}")
            at += 1
        else:
            cells.append(row[at])
        at += 1
    return cells
