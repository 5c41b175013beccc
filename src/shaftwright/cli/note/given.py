"""What was given for an entry, made into one; where it goes, and what it would mean there."""

from __future__ import annotations

import datetime as dt
import os.path
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import click

from shaftwright.answers.note.changes import WHATS
from shaftwright.answers.note.keep import Known, checked
from shaftwright.answers.note.noting import Arrow, arrow_to_note
from shaftwright.cli import common
from shaftwright.cli.note import KINDS, PLUNGER, STATE, WITH_BUILD
from shaftwright.errors import Fault, InputError
from shaftwright.files.bow import NOTEBOOK
from shaftwright.files.csv_rows import mapped, rows_of
from shaftwright.files.notebook import Notebook
from shaftwright.files.stock import load_stock
from shaftwright.files.strict_yaml import read_text
from shaftwright.records.fields import read_hit
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.units import distance_typed


@dataclass(frozen=True)
class Place:
    """The notebook that is written to, and what is known of its bow."""

    path: Path
    #: None for a notebook file of which no rig was named
    bow: common.Bow | None
    stock_files: tuple[str, ...] = ()

    @property
    def folder(self) -> Path | None:
        """The bow's folder; None where a notebook file was named."""
        return self.bow.files.folder if self.bow is not None else None

    @property
    def rig(self) -> Rig | None:
        """The bow as its rig file states it."""
        return self.bow.rig if self.bow is not None else None

    @property
    def units(self) -> str:
        """What bare numbers mean."""
        return "imperial" if self.rig is None else self.rig.units

    @cached_property
    def stock(self) -> Stock | None:
        """What is in hand or could be bought."""
        if self.bow is not None:
            return self.bow.stock

        return load_stock(self.stock_files) if self.stock_files else None

    @cached_property
    def notebook(self) -> Notebook | None:
        """What was noted so far; entries that cannot be read are named and passed over."""
        if not self.path.exists():
            return None
        try:
            return common.read_notebook(self.path) if self.bow is None else self.bow.notebook
        except InputError as error:
            if all(fault.line is None for fault in error.faults):
                raise  # no entry's fault: the file itself cannot be read
            for fault in error.faults:
                click.echo(f"{fault} (entry skipped)", err=True)
            return None

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """The entries that stand."""
        return self.notebook.entries if self.notebook is not None else ()

    @property
    def known(self) -> Known:
        """What keeping an entry rests on."""
        bow = self.bow
        of = (self.path, self.folder, self.rig, self.stock, self.entries)
        if bow is None:
            return Known(*of, None, typed=True)
        return Known(*of, bow.before, lambda: bow.scenario.plan, typed=True, named=bow.named)


def place_of(where: str | None, given: dict[str, Any]) -> Place:
    """A folder with its bow, or a notebook file with the rig and stock that were named."""
    rig_file, stock_files = given.get("rig_file"), given.get("stock_files", ())
    if where is not None and not os.path.isdir(where):
        if not os.path.exists(where) and not os.path.splitext(where)[1]:
            problem = (
                "is neither a bow's folder nor a notebook; a new notebook's name ends in .yaml"
            )
            raise InputError.of(where, problem)
        bow = common.Bow(rig_file, stock_files, where if os.path.exists(where) else None)
        return Place(Path(where), bow if rig_file else None, stock_files)
    bow = common.Bow(where, stock_files)
    files = bow.files
    assert files.folder is not None
    if rig_file:
        notebook, before = (str(f) if f else None for f in (files.notebook, files.before))
        bow = common.Bow(rig_file, tuple(map(str, files.stock)), notebook, before)
    return Place(files.folder / NOTEBOOK, bow, stock_files)


_TAILS = {"right": "side", "left": "side", "high": "up", "low": "up", "slight": "how", "clear": "how",
          "in_butt": "seen", "in_flight": "seen"}  # fmt: skip


def _stated(given: Mapping[str, Any], names: tuple[str, ...], of: str) -> dict[str, Any]:
    """Those options of a group that were given."""
    return {name: given[of + name] for name in names if given.get(of + name) is not None}


def entry_data(kind: str, given: Mapping[str, Any], units: str) -> dict[str, Any]:
    """The options of one kind as an entry's data; what is wrong stays for the record to find."""
    data: dict[str, Any] = {"kind": kind}
    day = None
    if given["date"] is not None or not given.get("csv_file"):
        day = read_date(given["date"] or "today")
    if day is not None:
        data["date"] = day
    data |= _stated(given, ("remark",), "") | _stated(given, KINDS[kind].fields, "field_")
    if kind in WITH_BUILD and (build := common.build_data(given)):
        data["build"] = build
    if kind in ("bareshaft", "broadhead"):
        data |= _shots(given, "cm" if units == "metric" else "in")
        if "reads" in data:
            data["reads"] = read_as(data["reads"])
        if "distance" in data:
            data["distance"] = distance_typed(data["distance"], units)
    elif kind == "change":
        data |= _what(given)
    elif kind == "dozen":
        data |= _dozen(given)
    plunger = _stated(given, PLUNGER, "plunger_")
    state = _stated(given, STATE, "state_") | ({"plunger": plunger} if plunger else {})
    return data | ({"rig_state": state} if state else {})


def read_as(said: str) -> str:
    """A reading in words as the notebook writes it: a little, a bit and slightly are one.

    Examples
    --------
    >>> read_as("a bit weak"), read_as("Slightly stiff"), read_as("weak")
    ('slightly_weak', 'slightly_stiff', 'weak')
    """
    return re.sub(
        r"(?i)^\s*(?:slightly|a little|a bit)\s+(stiff|weak)\s*$",
        lambda m: f"slightly_{m[1].lower()}",
        said,
    )


def read_date(text: str) -> str | None:
    """A day as the notebook writes it; None where it is not known."""
    said = text.strip().lower()
    if said == "unknown":
        return None
    if said in ("today", "yesterday"):
        return (dt.date.today() - dt.timedelta(days=said == "yesterday")).isoformat()
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", said):
            return dt.date.fromisoformat(said).isoformat()
    except ValueError:
        pass
    problem = "is not a date; write 2026-05-31, today, yesterday or unknown"
    raise InputError.of("note", problem, None, "--date", text)


def _what(given: Mapping[str, Any]) -> dict[str, str]:
    """A closed word is written as the notebook has it, free text stays as it was typed."""
    words = " ".join(given["words"]) or given["what"] or ""
    closed = re.sub(r"[\s-]+", "_", words.strip().lower())

    if closed in WHATS:
        return {"what": closed}
    return {"what": words} if words else {}


def haves(given: Mapping[str, Any], data: dict[str, Any]) -> list[dict[str, Any]]:
    """What is in hand, an entry a thing; '2 at 30 in' says how many and how long."""
    things = given["things"]
    if len(things) % 2:
        problem = "must be a thing and its number, and so on: ITEM N ITEM N"
        raise InputError.of("note", problem, None, "", " ".join(things))
    found = []
    for item, number in zip(things[::2], things[1::2], strict=True):
        count, _, length = (part.strip() for part in number.partition(" at "))
        found.append(data | {"item": item, "count": count} | ({"length": length} if length else {}))
    if "length" in data and (len(found) > 1 or found[0]["length"] != data["length"]):
        problem = "is for one thing at a time, said once; several: ITEM '2 at 30 in' ITEM N"
        raise InputError.of("note", problem, None, "--length", data["length"])
    return found


def _dozen(given: Mapping[str, Any]) -> dict[str, Any]:
    masses = read_masses(given["masses"] or "")
    data: dict[str, Any] = {"masses": masses} if masses else {}
    made = given["number"] or given["field_made"]
    if made is None and masses:
        made = len(masses)
    return data | ({} if made is None else {"made": made})


def read_masses(text: str) -> list[str]:
    """Several weights in grains, with blanks, commas or semicolons between them."""
    found = re.findall(r"[\d.]+(?:\s*(?:gr|g|oz)\b)?", text)
    rest = re.sub(r"[\d.]+(?:\s*(?:gr|g|oz)\b)?|[\s,;]", "", text)
    if rest:
        problem = "is not a list of weights; write '503 504.5 502'"
        raise InputError.of("note", problem, None, "--masses", text)
    return found


def _shots(given: Mapping[str, Any], unit: str) -> dict[str, Any]:
    told = {
        "fletched": [_point(text, "--fletched", unit) for text in given["fletched"]],
        "broadhead": [_point(text, "--hit", unit) for text in given.get("broadhead_hits", ())],
        "bare": [_bare(text, unit) for text in given.get("bare", ())],
        "taped": given.get("taped"),
        "nock": list(given.get("nock_side", ())),
    }
    return {name: hits for name, hits in told.items() if hits} | _stated(given, ("together",), "")


def _point(text: str, option: str, unit: str) -> list[float]:
    try:
        return list(read_hit(text, unit))
    except ValueError as error:
        raise InputError.of("note", f"{error}", None, option, text) from None


def _bare(text: str, unit: str) -> Any:
    where, sign, seen = text.partition(":")
    point = _point(where, "--bare", unit)
    if not sign:
        return point
    tail: dict[str, str] = {}
    for word in seen.split("+"):
        name = word.strip()
        if name == "straight":
            tail.setdefault("side", "straight")
        elif name in _TAILS:
            tail[_TAILS[name]] = name
        else:
            problem = f"is not a tail; allowed: straight, {', '.join(_TAILS)}, joined by +"
            raise InputError.of("note", problem, None, "--bare", word)
    return {"at": point, "tail": tail}


def rows(kind: str, file: str, columns: tuple[str, ...], fixed: dict[str, Any]) -> list[AnyEntry]:
    """Every row of a CSV file as an entry: all of them or, with a fault in any, none."""
    text = read_text(file)
    first = text.split("\n", 1)[0]
    torn: list[Fault] = []
    found = rows_of(text, file, torn, max(",;\t", key=first.count), strict=False)
    header = next(found, (1, []))[1]
    allowed = (*KINDS[kind].fields, "date", "remark")
    pairs = (pair.partition("=") for pair in columns)
    said = {name.strip(): column.strip() for name, _, column in pairs}
    faults = [
        Fault("--column", f"is not a field; allowed: {', '.join(allowed)}", None, "", name)
        for name in said if name not in allowed
    ]  # fmt: skip
    places = {name: header.index(name) for name in allowed if name in header}
    places |= mapped(header, {n: c for n, c in said.items() if n in allowed}, file, faults)
    if not faults and not places:
        told = f"{allowed[0]}=COLUMN; it has {', '.join(header)[:200]}"
        problem = f"has no column that is a field; map one with --column {told}"
        faults.append(Fault(file, problem, 1))
    entries: list[AnyEntry] = []
    for line, row in [] if faults else found:
        cells = {name: row[at] for name, at in places.items() if at < len(row) and row[at]}
        try:
            entries.append(checked(fixed | cells, file, line))
        except InputError as error:
            faults += error.faults
    faults += torn
    if not faults and not entries:
        faults.append(Fault(file, "has no readings"))
    if faults:
        raise InputError(faults)
    return entries


def arrow_next(kind: str, place: Place) -> Arrow | None:
    """The arrow that an entry is of where it names none."""
    assert place.bow is not None
    asked = place.bow.scenario
    return arrow_to_note(kind, asked.plan, place.stock, asked.shelf, place.entries)


def filled(kind: str, place: Place, data: dict[str, Any]) -> bool:
    """Whether arrow and distance were taken as `next` names them, since the options name none."""
    if "build" in data or place.bow is None:
        return False
    arrow = arrow_next(kind, place)
    if arrow is None:
        problem = "names no arrow, and next names none: add --shaft, --length and --point"
        raise InputError.of("note", problem)
    arrow.into(data)
    distance = place.bow.scenario.plan.next.distance_yd
    if kind != "dozen" and distance is not None:
        data.setdefault("distance", distance)
    return True
