"""Chronograph and sound-meter readings straight from a CSV file, a row a shot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shaftwright.errors import Fault, InputError, did_you_mean
from shaftwright.files.csv_rows import mapped, other_separator, rows_of
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import Document, read_text
from shaftwright.records.notebook import Chrono, Sound

_KINDS: dict[str, tuple[type[Chrono] | type[Sound], str]] = {
    "chrono": (Chrono, "speed"),
    "sound": (Sound, "level"),
}
_MOST_FAULTS = 20


@dataclass(frozen=True)
class ReadingsFile:
    """The readable rows of a file as columns, and the faults of the others."""

    #: field -> values in file order, None where a cell was blank; empty without such readings
    chrono: dict[str, list[Any]]
    sound: dict[str, list[Any]]
    #: one or more for every row left out; past twenty they are only counted
    faults: tuple[Fault, ...] = ()


class _Column(dict[str, Any]):
    """The values of one field by their texts, each read once; a list of faults where it has none."""

    def __init__(self, kind: str, alias: str, place: int) -> None:
        super().__init__({"": None})
        self.model, self.key = _KINDS[kind]
        self.alias, self.place = alias, place
        fields = self.model.model_fields
        self.name = next(n for n, f in fields.items() if alias in (n, f.alias))

    def __missing__(self, text: str) -> Any:
        try:
            record = validated(self.model, Document("", {self.key: 100, self.alias: text}))
            self[text] = getattr(record, self.name)
        except InputError as error:
            self[text] = error.faults
        return self[text]


def load_readings(path: Path | str, columns: Mapping[str, str] | None = None) -> ReadingsFile:
    """Read a CSV of readings; a bad row is named by line and the rest still read.

    `columns` says field -> column, where a column is called otherwise than the field. An `InputError`
    tells of no column of speeds or levels, one that is not there, or no row that can be read.
    """
    name, text = str(path), read_text(path)
    separator = "\t" if name.lower().endswith(".tsv") else ","
    torn: list[Fault] = []
    rows = rows_of(text, name, torn, separator, strict=False)
    header = next(rows, (1, []))[1]
    if torn:
        raise InputError(torn)
    known = {*_allowed(), *(columns or {}).values()}
    if separator == "," and (other := other_separator(text.partition("\n")[0], known)):
        raise InputError.of(name, other, 1)
    places = _places(header, columns or {}, name)
    kinds = {
        kind: (places[key], [_Column(kind, a, at) for a, at in places.items() if a in _aliases(kind)])
        for kind, (_, key) in _KINDS.items() if key in places
    }  # fmt: skip
    found: dict[str, list[list[Any]]] = {kind: [] for kind in kinds}
    faults: list[Fault] = []
    bad = 0
    width = max(places.values()) + 1
    for line, cells in rows:
        cells += [""] * (width - len(cells))
        read = [
            (kind, [column[cells[column.place]] for column in own])
            for kind, (at, own) in kinds.items() if cells[at]
        ]  # fmt: skip
        wrong = [fault for _, row in read for v in row if type(v) is list for fault in v]
        if wrong:
            bad += 1
            if len(faults) < _MOST_FAULTS:
                faults += [replace(fault, file=name, line=line) for fault in wrong]
            continue
        for kind, row in read:
            found[kind].append(row)
    if torn:
        raise InputError(torn)
    if bad > _MOST_FAULTS:
        faults.append(Fault(name, f"has {bad} rows that cannot be read; the first are named above"))
    if not any(found.values()):
        raise InputError(faults or [Fault(name, "has no readings")])
    filled = {
        kind: {c.name: list(v) for c, v in zip(kinds[kind][1], zip(*lines, strict=True), strict=True)}
        for kind, lines in found.items() if lines
    }  # fmt: skip
    return ReadingsFile(filled.get("chrono", {}), filled.get("sound", {}), tuple(faults))


def _aliases(kind: str) -> list[str]:
    return [field.alias or key for key, field in _KINDS[kind][0].model_fields.items()]


def _allowed() -> list[str]:
    """Fields that a column may hold."""
    every = dict.fromkeys(alias for kind in _KINDS for alias in _aliases(kind))
    return [alias for alias in every if alias not in ("kind", "rig_state", "remark")]


def _places(header: list[str], columns: Mapping[str, str], name: str) -> dict[str, int]:
    allowed = _allowed()
    places = {field: header.index(field) for field in allowed if field in header}
    faults: list[Fault] = []
    for field in columns:
        if field not in allowed:
            hint = did_you_mean(field, allowed, f"; allowed: {', '.join(allowed)}")
            faults.append(Fault("--column", f"is not a field{hint}", None, "", field))
    own = {field: column for field, column in columns.items() if field in allowed}
    places |= mapped(header, own, name, faults)
    if not faults and "speed" not in places and "level" not in places:
        has = ", ".join(header)[:200]
        problem = f"has no speed and no level; map one: --column speed=COLUMN; it has {has}"
        faults.append(Fault(name, problem, 1))
    if faults:
        raise InputError(faults)
    return places
