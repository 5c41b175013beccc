"""Tables of tuned rigs: a row an arrow, any field of the rig by its dotted name."""

from __future__ import annotations

import copy
import csv
import io
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, Literal

from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import locked, write_atomic
from shaftwright.files.csv_rows import header_faults, rows_of
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import Document, parse_yaml, read_text
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.fields import Name, Record
from shaftwright.records.notebook import BuildSpec, Reads
from shaftwright.records.rig import Rig

_ROOMS: Final = ("archer", "bow", "string", "launch")
_BUILD: Final = ("spine", "length", "front", "tail", "gr_per_in", "diameter")
_OWN: Final = ("rig", "spine", "wood_lb", "length", "front", "tail", "gr_per_in", "diameter", "reads",
               "seen_with", "source")  # fmt: skip
#: what a rig file must state is `unknown` here where there is no column; that widens the doubt
_UNSAID: Final = {
    "archer": {"hand": "unknown", "release": "unknown"},
    "bow": {"limbs": "unknown", "brace_height": "unknown", "window": {"cut": "unknown"},
            "rest": "unknown"},
    "string": {"material": "unknown"},
}  # fmt: skip
_NEEDED: Final = ("rig", "archer.draw_length", "bow.kind", "bow.draw_weight.lb", "bow.draw_weight.at",
                  "length", "front", "reads", "seen_with", "source")  # fmt: skip


@dataclass(frozen=True)
class TunedTable:
    """The rows that can be used, in file order, and why the others cannot."""

    arrows: tuple[TunedArrow, ...]
    #: a line for every row that lacks something
    left_out: tuple[str, ...]


def load_tuned(path: Path | str) -> TunedTable:
    """Read a CSV of tuned rigs: what is in `_OWN`, and fields of the rig by their dotted names.

    A row in which a needed cell is blank is left out and told, not guessed at; an `InputError` has
    every column that is not known and every cell that is not allowed.
    """
    name = str(path)
    faults: list[Fault] = []
    arrows: list[TunedArrow] = []
    left_out: list[str] = []
    rows = rows_of(read_text(path), name, faults)
    header = next(rows, (1, []))[1]
    if not faults:
        _check_header(header, name)
    for line, row in rows:
        if len(row) != len(header):
            problem = f"has {len(row)} cells where the header has {len(header)}"
            faults.append(Fault(name, problem, line))
            continue
        cells = {column: cell for column, cell in zip(header, row, strict=True) if cell}
        lacks = [column for column in _NEEDED if column not in cells]
        if "spine" not in cells and "wood_lb" not in cells:
            lacks.append("spine or wood_lb")
        if lacks:
            left_out.append(f"{name}:{line}: lacks {', '.join(lacks)}")
            continue
        try:
            arrows.append(_arrow(cells, name, line))
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return TunedTable(tuple(arrows), tuple(left_out))


def _check_header(header: list[str], name: str) -> None:
    problem = f"is not a known column; known: {', '.join(_OWN)}, bow.kind and the like"
    faults = header_faults(
        header, _NEEDED, lambda c: c in _OWN or c.split(".")[0] in _ROOMS, name, problem
    )
    if not {"spine", "wood_lb"} & set(header):
        missing = sum(f.problem == "column is missing" for f in faults)
        told = Fault(name, "column is missing: spine [mils] or wood_lb", 1, "spine")
        faults.insert(missing, told)
    if faults:
        raise InputError(faults)


def _arrow(cells: dict[str, str], name: str, line: int) -> TunedArrow:
    rig: dict[str, Any] = {"format": 1, "rig": cells["rig"], **copy.deepcopy(_UNSAID)}
    for column, text in cells.items():
        if column in _OWN:
            continue
        *rooms, last = column.split(".")
        below = rig
        for room in rooms:
            if not isinstance(below.get(room), dict):
                below[room] = {}
            below = below[room]
        below[last] = parse_yaml(text, name, line).data
    build = {k: cells[k] for k in _BUILD if k in cells}
    if "wood_lb" in cells:
        try:
            build["spine"] = f"{mils_from_pounds(float(cells['wood_lb'])):.1f}"
        except (ValueError, ZeroDivisionError):
            problem = "is not a number of pounds"
            raise InputError.of(name, problem, line, "wood_lb", cells["wood_lb"]) from None
    read = validated(Rig, Document(name, rig, {(): line}))
    data = {"rig": read, "build": build} | {k: cells[k] for k in ("reads", "seen_with", "source")}
    return validated(TunedArrow, Document(name, data, {(): line}))


@dataclass(frozen=True)
class Appended:
    """A row as it is, or would be, in a table of tuned rigs."""

    cells: dict[str, str]
    line: int
    #: whether the table had it already
    there: bool


def append_tuned(path: Path | str, cells: Mapping[str, str], write: bool = True) -> Appended:
    """Add a row to a table of tuned rigs, whole or not at all, unless it stands there already.

    The rig's name is the one given, else drawn by lot; rows that tell the same of the rig share theirs.
    Columns that the table lacks are added. With `write` False only what would happen is told.
    """
    path, cells = Path(path), dict(cells)
    name = cells.pop("rig", "") or f"r-{secrets.token_hex(4)}"
    if not path.parent.is_dir():
        raise InputError.of(str(path), "lies in a folder that is not there")
    with locked(path.parent):
        lines = _lines(path)
        header, *rows = lines or [[*("rig", *cells)]]
        for line, row in enumerate(rows, 2):
            there = {c: cell.strip() for c, cell in zip(header, row, strict=False) if cell.strip()}
            of = there.pop("rig", "")
            if there == cells:
                return Appended({"rig": of, **cells}, line, True)
            if _only_rig(there) == _only_rig(cells):
                name = of
        whole = {"rig": name, **cells}
        header = [*header, *(column for column in whole if column not in header)]
        if write:
            made = io.StringIO()
            writer = csv.writer(made, lineterminator="\n")
            writer.writerows([header, *(row + [""] * (len(header) - len(row)) for row in rows)])
            writer.writerow([whole.get(column, "") for column in header])
            write_atomic(path, made.getvalue())
        return Appended(whole, len(rows) + 2, False)


def _only_rig(cells: Mapping[str, str]) -> dict[str, str]:
    return {column: cell for column, cell in cells.items() if "." in column}


def _lines(path: Path) -> list[list[str]]:
    """Every row of a table that can be read as one; none where there is no file yet."""
    if not path.exists():
        return []
    load_tuned(path)
    return list(csv.reader(io.StringIO(read_text(path), newline="")))


#: with what the outcome was seen, surest first
Seen = Literal["bare_shaft", "broadheads", "fletched"]


class TunedArrow(Record):
    """A row of a table of tuned rigs."""

    rig: Rig
    build: BuildSpec
    reads: Reads
    seen_with: Seen
    source: Name
