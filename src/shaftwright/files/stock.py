"""Stock files: strict CSV, every faulty row named by line and column in the same run."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from shaftwright.errors import Fault, InputError
from shaftwright.files.csv_rows import header_faults, other_separator, rows_of, width_fault
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import Document, read_text
from shaftwright.records.stock import COLUMNS, NEEDED_COLUMNS, OPTIONAL_COLUMNS, Stock, StockItem

_KNOWN = COLUMNS + OPTIONAL_COLUMNS
_MOST_SEARCHED = 40


def load_stock(paths: Path | str | Sequence[Path | str]) -> Stock:
    """Read one or more stock files into one stock; an `InputError` has every fault of every row."""
    several = [paths] if isinstance(paths, str | Path) else list(paths)
    return stock_of([(str(path), read_text(path)) for path in several])


def stock_of(texts: Sequence[tuple[str, str]]) -> Stock:
    """A stock of texts by their names."""
    items: list[StockItem] = []
    faults: list[Fault] = []
    lines: dict[str, str] = {}
    for name, text in texts:
        for item, line in _items(text, name, faults):
            if item.item in lines:
                problem = f"stands twice; first at {lines[item.item]}"
                faults.append(Fault(name, problem, line, "item", item.item))
            lines.setdefault(item.item, f"{name}:{line}")
            items.append(item)
    if faults:
        raise InputError(faults)
    return Stock(tuple(items), ", ".join(name for name, _ in texts))


def _items(text: str, name: str, faults: list[Fault]) -> Iterator[tuple[StockItem, int]]:
    """Every good row with its line."""
    torn: list[Fault] = []
    rows = rows_of(text, name, torn)
    header = next(rows, (1, [""]))[1]
    found = torn or _of_header(header, text.partition("\n")[0], name)
    empty = not found

    def fits(row: list[str]) -> bool:
        # a whole file saved with decimal commas is told by its first rows
        return len(faults) < _MOST_SEARCHED and _fits(header, row)

    for line, row in rows if not found else ():
        empty = False
        try:
            if len(row) != len(header):
                raise InputError(width_fault(header, row, name, line, fits))
            yield _item(header, row, name, line), line
        except InputError as error:
            faults += error.faults
    faults += torn or found
    if empty and not torn:
        faults.append(Fault(name, "has no items: the stock is empty"))


def _of_header(header: list[str], as_written: str, name: str) -> list[Fault]:
    if not any(header):
        return [Fault(name, f"is empty; its first line names its columns: {','.join(COLUMNS)}")]
    other = other_separator(as_written, _KNOWN)
    if other is not None:
        return [Fault(name, other, 1)]
    problem = f"is not a known column; known: {', '.join(_KNOWN)}"
    return header_faults(header, NEEDED_COLUMNS, _KNOWN.__contains__, name, problem)


def _item(header: list[str], row: list[str], name: str, line: int) -> StockItem:
    cells = {column: cell for column, cell in zip(header, row, strict=True) if cell}
    return validated(StockItem, Document(name, cells, {(): line}))


def _fits(header: list[str], row: list[str]) -> bool:
    """Whether a row of the header's length would do."""
    try:
        return bool(_item(header, row, "", 0))
    except InputError:
        return False
