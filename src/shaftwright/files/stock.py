"""Stock files: strict CSV, every faulty row named by line and column in the same run."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from pydantic import ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.csv_faults import other_separator, width_fault
from shaftwright.files.strict_yaml import Document, read_text
from shaftwright.records.stock import COLUMNS, OPTIONAL_COLUMNS, Stock, StockItem

_MOST_SEARCHED = 40


def load_stock(paths: Path | str | Sequence[Path | str]) -> Stock:
    """Read one or more stock files into one stock.

    Parameters
    ----------
    paths : path or sequence of paths
        CSV files with the columns of `COLUMNS`, and those of `OPTIONAL_COLUMNS` where wanted.

    Returns
    -------
    Stock
        Items in file order.

    Raises
    ------
    InputError
        Every fault of every row.
    """
    several = [paths] if isinstance(paths, str | Path) else list(paths)
    items: list[StockItem] = []
    faults: list[Fault] = []
    lines: dict[str, str] = {}
    for path in several:
        for item, line in _rows(read_text(path), str(path), faults):
            if item.item in lines:
                problem = f"stands twice; first at {lines[item.item]}"
                faults.append(Fault(str(path), problem, line, "item", item.item))
            lines.setdefault(item.item, f"{path}:{line}")
            items.append(item)
    if faults:
        raise InputError(faults)
    return Stock(tuple(items), ", ".join(str(path) for path in several))


def _rows(text: str, name: str, faults: list[Fault]) -> Iterable[tuple[StockItem, int]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = [cell.strip() for cell in next(reader, [])]
        if not _header_fits(header, text.partition("\n")[0], name, faults):
            return
        empty = True
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            empty = False
            item = _item(header, row, name, reader.line_num, faults)
            if item is not None:
                yield item, reader.line_num
        if empty:
            faults.append(Fault(name, "has no items: the stock is empty"))
    except csv.Error as error:
        faults.append(Fault(name, f"is not CSV here: {error}", reader.line_num))


def _header_fits(header: list[str], as_written: str, name: str, faults: list[Fault]) -> bool:
    before = len(faults)
    if not any(header):
        faults.append(Fault(name, f"is empty; its first line must be {','.join(COLUMNS)}"))
        return False
    other = other_separator(as_written, COLUMNS + OPTIONAL_COLUMNS)
    if other is not None:
        faults.append(Fault(name, other, 1))
        return False
    for column in COLUMNS:
        if column not in header:
            faults.append(Fault(name, "column is missing", 1, column))
    for column in dict.fromkeys(header):
        if column not in COLUMNS + OPTIONAL_COLUMNS:
            faults.append(Fault(name, "is not a known column", 1, "", column))
        elif header.count(column) > 1:
            faults.append(Fault(name, "column stands twice", 1, column))
    return len(faults) == before


def _item(
    header: list[str], row: list[str], name: str, line: int, faults: list[Fault]
) -> StockItem | None:
    if len(row) != len(header):
        # a whole file saved with decimal commas is told by its first rows
        search = len(faults) < _MOST_SEARCHED
        faults += width_fault(
            header, row, name, line, lambda cells: search and _fits(header, cells)
        )
        return None
    cells = _cells(header, row)
    try:
        return StockItem.model_validate(cells)
    except ValidationError as error:
        document = Document(name, cells, {(): line})
        from shaftwright.files.faults import faults_of

        faults.extend(faults_of(error, document, StockItem))
        return None


def _cells(header: list[str], row: list[str]) -> dict[str, str]:
    return {column: cell.strip() for column, cell in zip(header, row, strict=True) if cell.strip()}


def _fits(header: list[str], row: list[str]) -> bool:
    """Whether a row of the header's length would do."""
    try:
        StockItem.model_validate(_cells(header, row))
    except ValidationError:
        return False
    return True
