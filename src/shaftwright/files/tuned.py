"""Tables of tuned rigs: a row an arrow, any field of the rig by its dotted name."""

from __future__ import annotations

import copy
import csv
import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.faults import faults_of
from shaftwright.files.strict_yaml import Document, parse_yaml, read_text
from shaftwright.physics.arrow.spine import mils_from_pounds
from shaftwright.records.rig import Rig
from shaftwright.records.tuned import TunedArrow

_ROOMS: Final = ("archer", "bow", "string", "launch")
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
    """The rows that can be used, and why the others cannot.

    Attributes
    ----------
    arrows : tuple of TunedArrow
        In file order.
    left_out : tuple of str
        A line for every row that lacks something.
    """

    arrows: tuple[TunedArrow, ...]
    left_out: tuple[str, ...]


def load_tuned(path: Path | str) -> TunedTable:
    """Read a table of tuned rigs.

    Parameters
    ----------
    path : Path or str
        CSV: rig, length, front, spine or wood_lb, reads, seen_with, source, and fields of the rig by
        their dotted names as `--set` takes them (`bow.kind`, `archer.draw_length`, ...).

    Returns
    -------
    TunedTable
        A row in which a needed cell is blank is left out and told, not guessed at.

    Raises
    ------
    InputError
        Every column that is not known and every cell that is not allowed, with line and column.
    """
    name = str(path)
    reader = csv.reader(io.StringIO(read_text(path), newline=""), strict=True)
    faults: list[Fault] = []
    arrows: list[TunedArrow] = []
    left_out: list[str] = []
    try:
        header = [cell.strip() for cell in next(reader, [])]
        _check_header(header, name)
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            line = reader.line_num
            if len(row) != len(header):
                problem = f"has {len(row)} cells where the header has {len(header)}"
                faults.append(Fault(name, problem, line))
                continue
            cells = {c: v.strip() for c, v in zip(header, row, strict=True) if v.strip()}
            lacks = [column for column in _NEEDED if column not in cells]
            if "spine" not in cells and "wood_lb" not in cells:
                lacks.append("spine or wood_lb")
            if lacks:
                left_out.append(f"{name}:{line}: lacks {', '.join(lacks)}")
                continue
            arrow = _arrow(cells, name, line, faults)
            if arrow is not None:
                arrows.append(arrow)
    except csv.Error as error:
        faults.append(Fault(name, f"is not CSV here: {error}", reader.line_num))
    if faults:
        raise InputError(faults)
    return TunedTable(tuple(arrows), tuple(left_out))


def _check_header(header: list[str], name: str) -> None:
    faults = [Fault(name, "column is missing", 1, c) for c in _NEEDED if c not in header]
    if not {"spine", "wood_lb"} & set(header):
        faults.append(Fault(name, "column is missing: spine [mils] or wood_lb", 1, "spine"))
    for column in dict.fromkeys(header):
        if column not in _OWN and column.split(".")[0] not in _ROOMS:
            problem = f"is not a known column; known: {', '.join(_OWN)}, bow.kind and the like"
            faults.append(Fault(name, problem, 1, "", column))
        elif header.count(column) > 1:
            faults.append(Fault(name, "column stands twice", 1, column))
    if faults:
        raise InputError(faults)


def _arrow(cells: dict[str, str], name: str, line: int, faults: list[Fault]) -> TunedArrow | None:
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
        below[last] = parse_yaml(text, name).data
    build = {k: cells[k] for k in ("spine", "length", "front", "tail", "gr_per_in", "diameter")
             if k in cells}  # fmt: skip
    data = {"rig": rig, "build": build} | {k: cells[k] for k in ("reads", "seen_with", "source")}
    document = Document(name, data, {(): line})
    try:
        if "wood_lb" in cells:
            build["spine"] = f"{mils_from_pounds(float(cells['wood_lb'])):.1f}"
        data["rig"] = Rig.model_validate(rig)
        return TunedArrow.model_validate(data)
    except ValidationError as error:
        # the rig alone, or the row around it
        inner = Document(name, rig if error.title == "Rig" else data, {(): line})
        faults.extend(faults_of(error, inner, Rig if error.title == "Rig" else TunedArrow))
    except (ValueError, ZeroDivisionError):
        faults.append(
            Fault(document.name, "is not a number of pounds", line, "wood_lb", cells["wood_lb"])
        )
    return None
