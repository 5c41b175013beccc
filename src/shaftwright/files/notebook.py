"""Notebook files: every entry stands alone, appends happen whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import get_args

import yaml

from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import locked, write_atomic
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import LARGEST_BYTES, StrictDumper, parse_yaml, read_text
from shaftwright.records.notebook import ENTRY, AnyEntry, Withdrawn, content_hash, plain_entry

#: kind -> its record
_MODELS = {
    str(model.model_fields["kind"].default): model for model in get_args(get_args(AnyEntry)[0])
}


@dataclass(frozen=True)
class Notebook:
    """The readable entries of a notebook in file order, and the faults of the others."""

    name: str
    #: without those that were struck out
    entries: tuple[AnyEntry, ...] = ()
    #: line on which each begins
    lines: tuple[int, ...] = ()
    faults: tuple[Fault, ...] = ()
    #: entries that were struck out
    withdrawn: tuple[AnyEntry, ...] = ()
    withdrawn_lines: tuple[int, ...] = ()


def load_notebook(path: Path | str) -> Notebook:
    """Read a notebook; a bad entry is named by line and the rest still read."""
    return parse_notebook(read_text(path), str(path))


def parse_notebook(text: str, name: str) -> Notebook:
    """Read notebook text; an `InputError` only if it has entries and none is readable."""
    entries: list[AnyEntry] = []
    lines: list[int] = []
    faults: list[Fault] = []
    for line, block in _blocks(text):
        try:
            entries.append(_entry(block, name, line))
            lines.append(line)
        except InputError as error:
            # a torn entry is only noticed past its end; name a line it stands on
            last = line + block.rstrip("\n").count("\n")
            faults.extend(replace(f, line=min(f.line or line, last)) for f in error.faults)
    if faults and not entries:
        raise InputError(faults)
    out = _struck_out(entries)
    kept = [i for i in range(len(entries)) if i not in out]
    gone = [i for i in sorted(out) if not isinstance(entries[i], Withdrawn)]
    return Notebook(
        name, tuple(entries[i] for i in kept), tuple(lines[i] for i in kept), tuple(faults),
        tuple(entries[i] for i in gone), tuple(lines[i] for i in gone),
    )  # fmt: skip


def withdrawal(notebook: Notebook, place: int) -> Withdrawn:
    """The entry that strikes out another, named by its place among the entries that stand."""
    of, line = content_hash(notebook.entries[place]), notebook.lines[place]
    noted = zip(
        (*notebook.entries, *notebook.withdrawn), (*notebook.lines, *notebook.withdrawn_lines),
        strict=True,
    )  # fmt: skip
    return Withdrawn(
        of=of, nth=sum(at <= line and content_hash(entry) == of for entry, at in noted)
    )


def _struck_out(entries: Sequence[AnyEntry]) -> set[int]:
    """Places of the entries that were withdrawn, and of what withdrew them."""
    by = {i: entry for i, entry in enumerate(entries) if isinstance(entry, Withdrawn)}
    places: dict[str, list[int]] = {}
    for i, entry in enumerate(entries if by else ()):
        if i not in by:
            places.setdefault(content_hash(entry), []).append(i)
    same = ((places.get(entry.of, []), entry.nth) for entry in by.values())
    return {*by, *(found[nth - 1] for found, nth in same if len(found) >= nth)}


def _blocks(text: str) -> Iterator[tuple[int, str]]:
    """Each entry's first line and its text: it begins with `-` in the first column."""
    lines = text.splitlines(keepends=True)
    starts: list[int] = []
    for number, line in enumerate(lines):
        if line.startswith(("- ", "-\n", "-\r")) or line == "-" or (not starts and _says(line)):
            starts.append(number)
    for start, end in pairwise([*starts, len(lines)]):
        yield start + 1, "".join(lines[start:end])


def _says(line: str) -> bool:
    return bool(line.strip()) and not line.startswith("#") and line.strip() not in ("---", "[]")


def _entry(block: str, name: str, line: int) -> AnyEntry:
    document = parse_yaml(block, name, line)
    data = document.data
    if not isinstance(data, list) or len(data) != 1 or not isinstance(data[0], dict):
        problem = "is not an entry; an entry begins with '- kind: ...' in the first column"
        raise InputError.of(name, problem, document.line(()))
    return validated(ENTRY, document, _MODELS.get(str(data[0].get("kind"))), (0,))


def entry_text(entry: AnyEntry) -> str:
    """One entry as the YAML item that `append_entry` writes."""
    return yaml.dump(
        [plain_entry(entry)], Dumper=StrictDumper, sort_keys=False, allow_unicode=True, width=100,
        default_flow_style=None,
    )  # fmt: skip


def append_entry(path: Path | str, *entries: AnyEntry) -> int:
    """Append entries so that a kill at any instant leaves the notebook with all of them or none.

    Two appends at once wait for each other. What stands in the file is kept to the letter, also
    entries that cannot be read. Returns the line on which the first begins.
    """
    target = Path(os.path.realpath(path))
    with locked(target.parent):
        text = read_text(target) if target.exists() else ""
        if text and not text.endswith("\n"):
            text += "\n"
        line = text.count("\n") + 1
        text += "".join(entry_text(entry) for entry in entries)
        if len(text.encode()) > LARGEST_BYTES:
            size = LARGEST_BYTES // 1024 // 1024
            raise InputError.of(str(path), f"would grow past {size} MiB; begin a new notebook")
        write_atomic(target, text)
    return line
