"""CSV files row by row, and what goes wrong in those that a spreadsheet saved its own way."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from itertools import combinations, pairwise

from shaftwright.errors import Fault

_SEPARATORS = {";": "semicolons", "\t": "tabs"}
_MOST_WAYS = 300
_DIGITS = re.compile(r"[+-]?[0-9]{1,9}\Z")
_REST = re.compile(r"[0-9]{1,9}(?: ?[a-z]+)?\Z")


def rows_of(
    text: str, name: str, faults: list[Fault], delimiter: str = ",", strict: bool = True
) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of the first row and of every other that says something."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=strict)
    try:
        yield 1, [cell.strip() for cell in next(reader, [])]
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells):
                yield reader.line_num, cells
    except csv.Error as error:
        faults.append(Fault(name, f"is not CSV here: {error}", reader.line_num))


def without_rows(text: str, lines: Collection[int | None]) -> str:
    """The text without the rows that stand on these lines; a row may span several."""
    written = text.splitlines(keepends=True)
    reader, kept, begun = csv.reader(written), list[str](), 0
    for _ in reader:
        if not any(begun < line <= reader.line_num for line in lines if line is not None):
            kept += written[begun : reader.line_num]
        begun = reader.line_num
    return "".join(kept)


def header_faults(
    header: Sequence[str], needed: Sequence[str], known: Callable[[str], bool], name: str, problem: str
) -> list[Fault]:  # fmt: skip
    """Columns that are missing, not known, or there twice."""
    faults = [Fault(name, "column is missing", 1, c) for c in needed if c not in header]
    for column, count in Counter(header).items():
        if not known(column):
            faults.append(Fault(name, problem, 1, "", column))
        elif count > 1:
            faults.append(Fault(name, "column stands twice", 1, column))
    return faults


def mapped(
    header: Sequence[str], columns: Mapping[str, str], name: str, faults: list[Fault]
) -> dict[str, int]:
    """Field -> place of the column that it was said to stand in."""
    told = ", ".join(header)[:200]
    faults += [
        Fault(name, f"has no such column; it has {told}", 1, "", column)
        for column in columns.values() if column not in header
    ]  # fmt: skip
    return {field: header.index(column) for field, column in columns.items() if column in header}


def other_separator(first_line: str, known: Collection[str]) -> str | None:
    """What a file is separated by instead of commas, told by its first line and the known columns.

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

    One fault for every cell that a decimal comma cut in two for certain, else one for the row;
    `fits` tells whether cells as many as the header's make a good row.
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
    after = {at + 1 for at in way}
    return [
        f"{cell.strip()}.{row[at + 1].strip()}" if at in way else cell
        for at, cell in enumerate(row)
        if at not in after
    ]
