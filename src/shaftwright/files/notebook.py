"""Notebook files: every entry stands alone, appends happen whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import sweep, write_atomic
from shaftwright.files.faults import faults_of
from shaftwright.files.strict_yaml import (
    LARGEST_BYTES,
    Document,
    NotPlainError,
    StrictDumper,
    parse_yaml,
    quick_items,
    read_text,
)
from shaftwright.records.notebook import (
    ENTRY,
    AnyEntry,
    BareShaft,
    BraceReading,
    Broadhead,
    Change,
    Chrono,
    Dozen,
    Have,
    Sound,
    Weigh,
    Withdrawn,
    content_hash,
    plain_entry,
)

_AT_ONCE = 200  # entries parsed together: one that is torn costs its neighbours' speed only


@dataclass(frozen=True)
class Notebook:
    """The readable entries of a notebook, and the faults of the others.

    Attributes
    ----------
    name : str
        The file.
    entries : tuple
        Records in file order, without those that were struck out.
    lines : tuple of int
        Line on which each begins.
    faults : tuple of Fault
        One or more for every entry that could not be read.
    withdrawn : tuple
        Entries that were struck out.
    withdrawn_lines : tuple of int
        Line on which each of these begins.
    """

    name: str
    entries: tuple[AnyEntry, ...] = ()
    lines: tuple[int, ...] = ()
    faults: tuple[Fault, ...] = field(default=())
    withdrawn: tuple[AnyEntry, ...] = ()
    withdrawn_lines: tuple[int, ...] = ()


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
    for line, block, data in _items(text):
        try:
            entries.append(_record(data) or _entry(parse_yaml(block, name, line)))
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
    by = [i for i, entry in enumerate(entries) if isinstance(entry, Withdrawn)]
    if not by:
        return set()
    places: dict[str, list[int]] = {}
    for i, entry in enumerate(entries):
        if not isinstance(entry, Withdrawn):
            places.setdefault(content_hash(entry), []).append(i)
    out = set(by)
    for i in by:
        entry = entries[i]
        assert isinstance(entry, Withdrawn)
        same = places.get(entry.of, [])
        if len(same) >= entry.nth:
            out.add(same[entry.nth - 1])
    return out


def _items(text: str) -> Iterator[tuple[int, str, Any]]:
    """Each entry's first line, its text, and its data where the quick reader could tell it.

    The quick reader takes many entries at once; where it stumbles, or where what it found does not
    stand block for block as the entries do, each entry of that lot is left to the strict one.
    """
    lines = text.splitlines(keepends=True)
    starts = _starts(lines)
    for first in range(0, len(starts), _AT_ONCE):
        lot = starts[first : first + _AT_ONCE]
        last = first + len(lot)
        ends = [*lot[1:], starts[last] if last < len(starts) else len(lines)]
        data: list[Any] = [None] * len(lot)
        with suppress(NotPlainError):
            found = quick_items("".join(lines[lot[0] : ends[-1]]))
            at = [lot[0] + line for line, _ in found]
            if len(found) == len(lot) and all(
                start <= line < end for start, line, end in zip(lot, at, ends, strict=True)
            ):
                data = [item for _, item in found]
        for start, end, item in zip(lot, ends, data, strict=True):
            yield start + 1, "".join(lines[start:end]), item


def _starts(lines: Sequence[str]) -> list[int]:
    """Lines, from 0, on which entries begin: `-` in the first column, or what stands before any."""
    found: list[int] = []
    for number, line in enumerate(lines):
        if line.startswith(("- ", "-\n", "-\r")) or line == "-" or (not found and _says(line)):
            found.append(number)
    return found


def _says(line: str) -> bool:
    return bool(line.strip()) and not line.startswith("#") and line.strip() not in ("---", "[]")


def _record(data: Any) -> AnyEntry | None:
    """The entry of plain data; None where something is wrong with it."""
    if not isinstance(data, dict):
        return None
    try:
        return ENTRY.validate_python(data)
    except ValidationError:
        return None


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
    for model in (
        BareShaft,
        Broadhead,
        Chrono,
        Sound,
        BraceReading,
        Weigh,
        Change,
        Dozen,
        Have,
        Withdrawn,
    )
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
    return yaml.dump(
        [plain_entry(entry)], Dumper=StrictDumper, sort_keys=False, allow_unicode=True, width=100,
        default_flow_style=None,
    )  # fmt: skip


def append_entry(path: Path | str, entry: AnyEntry) -> int:
    """Append one entry so that a kill at any instant leaves the notebook with it or without it.

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
        The file is not a text file, or would grow past what is read back.
    OSError
        Not writable; the file is as it was.
    """
    return append_entries(path, [entry])


def append_entries(path: Path | str, entries: Sequence[AnyEntry]) -> int:
    """Append several entries in one step: all of them or none; see `append_entry`.

    Two appends at once wait for each other. What stands in the file is kept to the letter, also
    entries that cannot be read.

    Parameters
    ----------
    path : Path or str
        The notebook; made when it is not there.
    entries : sequence of AnyEntry
        The records.

    Returns
    -------
    int
        The line on which the first begins.

    Raises
    ------
    InputError
        The file is not a text file, or would grow past what is read back.
    OSError
        Not writable; the file is as it was.
    """
    target = Path(os.path.realpath(path))
    with _locked(target.parent):
        sweep(target)
        text = read_text(target) if target.exists() else ""
        if text and not text.endswith("\n"):
            text += "\n"
        line = text.count("\n") + 1
        text += "".join(entry_text(entry) for entry in entries)
        if len(text.encode()) > LARGEST_BYTES:
            size = LARGEST_BYTES // 1024 // 1024
            raise InputError(
                [Fault(str(path), f"would grow past {size} MiB; begin a new notebook")]
            )
        write_atomic(target, text)
    return line


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the folder, so that two writers wait for each other; a killed one lets go by itself."""
    try:
        import fcntl
    except ImportError:  # no such locks here; the write itself stays whole
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield
    finally:
        os.close(descriptor)
