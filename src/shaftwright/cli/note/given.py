"""What was typed after `note KIND`, as the plain data of an entry; CSV files row by row."""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Any

from shaftwright.cli import common
from shaftwright.cli.note import FIELDS, PLUNGER, STATE, WITH_BUILD
from shaftwright.errors import Fault, InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shaftwright.records.notebook import AnyEntry

_TAILS = {"right": "side", "left": "side", "high": "up", "low": "up", "slight": "how", "clear": "how",
          "in_butt": "seen", "in_flight": "seen"}  # fmt: skip


def entry_data(kind: str, given: Mapping[str, Any], units: str) -> dict[str, Any]:
    """The options of one kind as an entry's data; what is wrong stays for the record to find."""
    data: dict[str, Any] = {"kind": kind}
    day = (
        None
        if given.get("csv_file") and given["date"] is None
        else read_date(given["date"] or "today")
    )
    if day is not None:
        data["date"] = day
    if given["remark"] is not None:
        data["remark"] = given["remark"]
    data |= {n: given[f"field_{n}"] for n in FIELDS[kind] if given.get(f"field_{n}") is not None}
    if kind in WITH_BUILD:
        build = {key: given[key] for key in common.BUILD_KEYS if given.get(key) is not None}
        if build:
            data["build"] = build
    if kind in ("bareshaft", "broadhead"):
        data |= _shots(kind, given, "cm" if units == "metric" else "in")
        if units == "metric" and re.fullmatch(r"[\d\s./-]+", data.get("distance", "")):
            data["distance"] = f"{data['distance']} m"
    elif kind == "change":
        data |= _what(given)
    elif kind == "dozen":
        data |= _dozen(given)
    return data


def read_date(text: str) -> str | None:
    """A day as the notebook writes it; None where it is not known."""
    import datetime as dt

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
    raise InputError([Fault("note", problem, None, "--date", text)])


def state_data(given: Mapping[str, Any]) -> dict[str, Any]:
    """What the options state of the bow."""
    state = {n: given[f"state_{n}"] for n in STATE if given.get(f"state_{n}") is not None}
    plunger = {n: given[f"plunger_{n}"] for n in PLUNGER if given.get(f"plunger_{n}") is not None}
    return state | ({"plunger": plunger} if plunger else {})


def _what(given: Mapping[str, Any]) -> dict[str, str]:
    """A closed word is written as the notebook has it, free text stays as it was typed."""
    words = " ".join(given["words"]) or given["what"] or ""
    closed = re.sub(r"[\s-]+", "_", words.strip().lower())
    from shaftwright.answers.changes import WHATS

    if closed in WHATS:
        return {"what": closed}
    return {"what": words} if words else {}


def haves(given: Mapping[str, Any], data: dict[str, Any]) -> list[dict[str, Any]]:
    """What is in hand, an entry a thing."""
    things = given["things"]
    if len(things) % 2:
        problem = "must be a thing and its number, and so on: ITEM N ITEM N"
        raise InputError([Fault("note", problem, None, "", " ".join(things))])
    if len(things) > 2 and "length" in data:
        problem = "is for one thing at a time"
        raise InputError([Fault("note", problem, None, "--length", data["length"])])
    return [data | {"item": i, "count": n} for i, n in zip(things[::2], things[1::2], strict=True)]


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
        raise InputError([Fault("note", problem, None, "--masses", text)])
    return found


def _shots(kind: str, given: Mapping[str, Any], unit: str) -> dict[str, Any]:
    data: dict[str, Any] = {}
    if given["fletched"]:
        data["fletched"] = [_point(text, "--fletched", unit) for text in given["fletched"]]
    if kind == "broadhead":
        if given["broadhead_hits"]:
            data["broadhead"] = [_point(text, "--hit", unit) for text in given["broadhead_hits"]]
        if given["together"] is not None:
            data["together"] = given["together"]
        return data
    if given["bare"]:
        data["bare"] = [_bare(text, unit) for text in given["bare"]]
    if given["taped"]:
        data["taped"] = True
    if given["nock_side"]:
        data["nock"] = list(given["nock_side"])
    return data


def _point(text: str, option: str, unit: str) -> list[float]:
    from shaftwright.records.hits import read_hit

    try:
        return list(read_hit(text, unit))
    except ValueError as error:
        raise InputError([Fault("note", f"{error}", None, option, text)]) from None


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
            raise InputError([Fault("note", problem, None, "--bare", word)])
    return {"at": point, "tail": tail}


def checked(data: dict[str, Any], name: str = "note", line: int | None = None) -> AnyEntry:
    """The record of plain data; faults name where it came from."""
    from pydantic import ValidationError

    from shaftwright.files.faults import faults_of
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import ENTRY

    try:
        return ENTRY.validate_python(data)
    except ValidationError as error:
        document = Document(name, data)
        if line is not None:
            document.lines[()] = line
        raise InputError(faults_of(error, document)) from None


def rows(kind: str, file: str, columns: tuple[str, ...], fixed: dict[str, Any]) -> list[AnyEntry]:
    """Every row of a CSV file as an entry: all of them or, with a fault in any, none."""
    from shaftwright.files.strict_yaml import read_text

    text = read_text(file)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    found = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    header = [cell.strip() for cell in next(found, [])]
    allowed = (*FIELDS[kind], "date", "remark")
    places: dict[str, int] = {name: header.index(name) for name in allowed if name in header}
    faults: list[Fault] = []
    for pair in columns:
        name, _, column = (part.strip() for part in pair.partition("="))
        if name not in allowed:
            faults.append(
                Fault("--column", f"is not a field; allowed: {', '.join(allowed)}", None, "", name)
            )
        elif column not in header:
            faults.append(
                Fault(file, f"has no such column; it has {', '.join(header)[:200]}", 1, "", column)
            )
        else:
            places[name] = header.index(column)
    if not faults and not places:
        faults.append(Fault(file, f"has no column that is a field; map one with --column "
                            f"{FIELDS[kind][0]}=COLUMN; it has {', '.join(header)[:200]}", 1))  # fmt: skip
    entries: list[AnyEntry] = []
    try:
        for row in [] if faults else found:
            cells = {
                n: row[i].strip() for n, i in places.items() if i < len(row) and row[i].strip()
            }
            if not any(cell.strip() for cell in row):
                continue
            try:
                entries.append(checked(fixed | cells, file, found.line_num))
            except InputError as error:
                faults += error.faults
    except csv.Error as error:
        faults.append(Fault(file, f"is not CSV here: {error}", found.line_num))
    if not faults and not entries:
        faults.append(Fault(file, "has no readings"))
    if faults:
        raise InputError(faults)
    return entries
