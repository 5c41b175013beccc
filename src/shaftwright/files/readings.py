"""Chronograph and sound-meter readings straight from a CSV file, a row a shot."""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import compress
from pathlib import Path
from typing import Annotated, Any

from pydantic import TypeAdapter, ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.csv_faults import other_separator
from shaftwright.files.faults import faults_of
from shaftwright.files.strict_yaml import Document, read_text
from shaftwright.records.notebook import Chrono, Sound

_KINDS: dict[str, tuple[type[Chrono] | type[Sound], str]] = {
    "chrono": (Chrono, "speed"),
    "sound": (Sound, "level"),
}
_MOST_FAULTS = 20


@dataclass(frozen=True)
class ReadingsFile:
    """The readable rows of a file as columns, and the faults of the others.

    Attributes
    ----------
    chrono, sound : dict
        Field -> values in file order, None where a cell was blank; empty without such readings.
    faults : tuple of Fault
        One or more for every row left out; past twenty they are only counted.
    """

    chrono: dict[str, list[Any]]
    sound: dict[str, list[Any]]
    faults: tuple[Fault, ...] = ()


class _Column:
    """One field of a record, read once for every distinct text."""

    def __init__(self, kind: str, alias: str) -> None:
        self.model, self.key = _KINDS[kind]
        self.alias = alias
        fields = self.model.model_fields
        self.name = next(n for n, f in fields.items() if alias in (n, f.alias))
        self.seen: dict[str, Any] = {"": None}

    def values(self, texts: Sequence[str]) -> list[Any] | None:
        """The values of many cells at once; None where one of them has none."""
        fresh = list(set(texts).difference(self.seen))
        field = self.model.model_fields[self.name]
        kind: Any = field.annotation
        if field.metadata:
            kind = Annotated[(kind, *field.metadata)]
        try:
            adapter = TypeAdapter(list[kind], config=self.model.model_config)
            self.seen.update(zip(fresh, adapter.validate_python(fresh), strict=True))
        except ValidationError:
            return None
        return [self.seen[text] for text in texts]

    def value(self, text: str) -> Any:
        """The value of a cell; a list of faults where it has none."""
        if text not in self.seen:
            data = {self.key: 100, self.alias: text}
            try:
                self.seen[text] = getattr(self.model.model_validate(data), self.name)
            except ValidationError as error:
                self.seen[text] = faults_of(error, Document("", data), self.model)
        return self.seen[text]


def load_readings(path: Path | str, columns: Mapping[str, str] | None = None) -> ReadingsFile:
    """Read a CSV of readings; a bad row is named by line and the rest still read.

    Parameters
    ----------
    path : Path or str
        The file; its first line names the columns.
    columns : mapping, optional
        Field -> column, where a column is called otherwise than the field.

    Returns
    -------
    ReadingsFile
        Columns and faults.

    Raises
    ------
    InputError
        No column of speeds or levels, a map to a column that is not there, or no row readable.
    """
    name, text = str(path), read_text(path)
    separator = "\t" if name.lower().endswith(".tsv") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        header = [cell.strip() for cell in next(reader, [])]
        other = separator == "," and other_separator(
            text.partition("\n")[0], {*_allowed(), *(columns or {}).values()}
        )
        if other:
            raise InputError([Fault(name, other, 1)])
        places = _places(header, columns or {}, name)
        clean = _read_clean(reader, places)
        if clean is not None:
            return clean
        # something is wrong somewhere: once more, a row at a time, to name it
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
        next(reader, None)
        return _read(reader, places, name)
    except csv.Error as error:
        raise InputError([Fault(name, f"is not CSV here: {error}", reader.line_num)]) from None


def _allowed() -> dict[str, None]:
    """Fields that a column may hold."""
    return {
        field.alias or key: None
        for model, _ in _KINDS.values()
        for key, field in model.model_fields.items()
        if key not in ("kind", "rig_state", "remark")
    }


def _places(header: list[str], columns: Mapping[str, str], name: str) -> dict[str, int]:
    allowed = _allowed()
    places = {field: header.index(field) for field in allowed if field in header}
    faults = []
    for field, column in columns.items():
        if field not in allowed:
            close = difflib.get_close_matches(field, allowed, 1, 0.5)
            hint = f"; did you mean {close[0]}?" if close else f"; allowed: {', '.join(allowed)}"
            faults.append(Fault("--column", f"is not a field{hint}", None, "", field))
        elif column not in header:
            has = ", ".join(header)[:200]
            faults.append(Fault(name, f"has no such column; it has {has}", 1, "", column))
        else:
            places[field] = header.index(column)
    if not faults and "speed" not in places and "level" not in places:
        has = ", ".join(header)[:200]
        faults.append(
            Fault(name, f"has no speed and no level; map one: --column speed=COLUMN; it has {has}", 1)
        )  # fmt: skip
    if faults:
        raise InputError(faults)
    return places


def _kinds(places: Mapping[str, int]) -> dict[str, tuple[int, list[tuple[_Column, int]]]]:
    """Kind of reading -> place of its quantity, and its columns with theirs."""
    found = {}
    for kind, (model, key) in _KINDS.items():
        known = {f.alias or n for n, f in model.model_fields.items()}
        if key in places:
            found[kind] = places[key], [
                (_Column(kind, alias), place) for alias, place in places.items() if alias in known
            ]  # fmt: skip
    return found


def _read_clean(reader: Iterable[list[str]], places: Mapping[str, int]) -> ReadingsFile | None:
    """A file without a fault, read by columns; None where any cell is not as it should be."""
    rows = [row for row in reader if row]
    if not rows or min(map(len, rows)) <= max(places.values()):
        return None
    cells = {
        place: [cell.strip() for cell in column]
        for place, column in enumerate(zip(*rows, strict=False))
        if place in places.values()
    }
    filled: dict[str, dict[str, list[Any]]] = {}
    for kind, (at, columns) in _kinds(places).items():
        if not any(cells[at]):
            continue
        filled[kind] = {}
        for column, place in columns:
            values = column.values(list(compress(cells[place], cells[at])))
            if values is None:
                return None
            filled[kind][column.name] = values
    if not filled:
        return None
    return ReadingsFile(filled.get("chrono", {}), filled.get("sound", {}))


def _read(reader: Any, places: Mapping[str, int], name: str) -> ReadingsFile:
    kinds = _kinds(places)
    found: dict[str, list[list[Any]]] = {kind: [] for kind in kinds}
    faults: list[Fault] = []
    bad = 0
    width = max(places.values()) + 1
    for row in reader:
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        cells += [""] * (width - len(cells))
        wrong: list[Fault] = []
        read = []
        for kind, (at, columns) in kinds.items():
            if not cells[at]:
                continue
            values = [column.value(cells[place]) for column, place in columns]
            wrong += [f for v in values if isinstance(v, list) for f in v]
            read.append((kind, values))
        if wrong:
            bad += 1
            if len(faults) < _MOST_FAULTS:
                faults += [Fault(name, f.problem, reader.line_num, f.field, f.value) for f in wrong]
            continue
        for kind, values in read:
            found[kind].append(values)
    if bad > _MOST_FAULTS:
        faults.append(Fault(name, f"has {bad} rows that cannot be read; the first are named above"))
    if not any(found.values()):
        raise InputError(faults or [Fault(name, "has no readings")])
    filled = {
        kind: {
            column.name: [values[i] for values in found[kind]]
            for i, (column, _) in enumerate(columns)
        }
        for kind, (_, columns) in kinds.items()
        if found[kind]
    }
    return ReadingsFile(filled.get("chrono", {}), filled.get("sound", {}), tuple(faults))
