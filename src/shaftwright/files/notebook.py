"""Notebook files: every entry stands alone, appends happen whole or not at all."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import yaml
from pydantic import ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import write_atomic
from shaftwright.files.faults import faults_of
from shaftwright.files.strict_yaml import Document, parse_yaml, read_text
from shaftwright.records.notebook import (
    ENTRY,
    AnyEntry,
    BareShaft,
    BraceReading,
    Broadhead,
    Change,
    Chrono,
    Sound,
    Weigh,
)


@dataclass(frozen=True)
class Notebook:
    """The readable entries of a notebook, and the faults of the others.

    Attributes
    ----------
    name : str
        The file.
    entries : tuple
        Records in file order.
    lines : tuple of int
        Line on which each begins.
    faults : tuple of Fault
        One or more for every entry that could not be read.
    """

    name: str
    entries: tuple[AnyEntry, ...] = ()
    lines: tuple[int, ...] = ()
    faults: tuple[Fault, ...] = field(default=())


def load_notebook(path: Path | str) -> Notebook:
    """Read a notebook; a bad entry is named by line and the rest still read.

    Parameters
    ----------
    path : Path or str
        The file.

    Returns
    -------
    Notebook
        Entries and faults.

    Raises
    ------
    InputError
        The file cannot be read at all, or it has entries and none is readable.
    """
    return parse_notebook(read_text(path), str(path))


def parse_notebook(text: str, name: str) -> Notebook:
    """Read notebook text; see `load_notebook`.

    Parameters
    ----------
    text : str
        The text.
    name : str
        How to call it in faults.

    Returns
    -------
    Notebook
        Entries and faults.

    Raises
    ------
    InputError
        It has entries and none is readable.
    """
    entries: list[AnyEntry] = []
    lines: list[int] = []
    faults: list[Fault] = []
    for line, block in _blocks(text):
        try:
            document = parse_yaml(block, name, line)
            entries.append(_entry(document))
            lines.append(line)
        except InputError as error:
            faults.extend(error.faults)
    if faults and not entries:
        raise InputError(faults)
    return Notebook(name, tuple(entries), tuple(lines), tuple(faults))


def _blocks(text: str) -> Iterator[tuple[int, str]]:
    """Each entry's first line and text: an entry begins with `-` in the first column."""
    start, block = 0, list[str]()
    for number, line in enumerate(text.splitlines(keepends=True), 1):
        if line.startswith(("- ", "-\n", "-\r")) or line == "-":
            if block:
                yield start, "".join(block)
            start, block = number, [line]
        elif block:
            block.append(line)
        elif line.strip() and not line.startswith("#") and line.strip() not in ("---", "[]"):
            start, block = number, [line]
    if block:
        yield start, "".join(block)


def _entry(document: Document) -> AnyEntry:
    data = document.data
    if not isinstance(data, list) or len(data) != 1 or not isinstance(data[0], dict):
        problem = "is not an entry; an entry begins with '- kind: ...' in the first column"
        raise InputError([Fault(document.name, problem, document.line(()))])
    try:
        return ENTRY.validate_python(data[0])
    except ValidationError as error:
        model = _MODELS.get(str(data[0].get("kind")))
        raise InputError(faults_of(error, document, model, (0,))) from None


_MODELS = {
    str(model.model_fields["kind"].default): model
    for model in (BareShaft, Broadhead, Chrono, Sound, BraceReading, Weigh, Change)
}


def entry_text(entry: AnyEntry) -> str:
    """One entry as the YAML item that `append_entry` writes.

    Parameters
    ----------
    entry : AnyEntry
        The record.

    Returns
    -------
    str
        A YAML list item, ending in a newline.
    """
    plain = entry.model_dump(by_alias=True, exclude_none=True, exclude_defaults=True, mode="json")
    return yaml.safe_dump(
        [{"kind": entry.kind, **plain}], sort_keys=False, allow_unicode=True, width=100,
        default_flow_style=None,
    )  # fmt: skip


def append_entry(path: Path | str, entry: AnyEntry) -> int:
    """Append one entry so that a kill at any instant leaves the notebook with it or without it.

    Two appends at once wait for each other. What stands in the file is kept to the letter.

    Parameters
    ----------
    path : Path or str
        The notebook; made when it is not there.
    entry : AnyEntry
        The record.

    Returns
    -------
    int
        The line on which the entry begins.

    Raises
    ------
    InputError
        The file is not a text file.
    OSError
        Not writable; the file is as it was.
    """
    target = Path(path)
    with _locked(target.parent):
        text = read_text(target) if target.exists() else ""
        if text and not text.endswith("\n"):
            text += "\n"
        line = text.count("\n") + 1
        write_atomic(target, text + entry_text(entry))
    return line


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
