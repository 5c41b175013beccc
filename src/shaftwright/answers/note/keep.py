"""The one way into a notebook, whoever writes: checked, doubted, appended, and what follows from it."""

from __future__ import annotations

import os.path
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shaftwright.answers.arrows.pieces import in_hand
from shaftwright.answers.note.changes import change_of, keep_before, taken_as, to_edit, weight_taken
from shaftwright.answers.note.noting import doubts, refused
from shaftwright.answers.plan.result import Plan
from shaftwright.answers.scenario import named
from shaftwright.errors import Fault, InputError
from shaftwright.files.atomic import locked
from shaftwright.files.faults import validated
from shaftwright.files.notebook import Notebook, append_entry, load_notebook, withdrawal
from shaftwright.files.strict_yaml import Document
from shaftwright.records.notebook import ENTRY, AnyEntry, Change, Dozen, Have, content_hash
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock


def checked(data: dict[str, Any], name: str = "note", line: int | None = None) -> AnyEntry:
    """The record of plain data; faults name where it came from."""
    return validated(ENTRY, Document(name, data, {} if line is None else {(): line}))


@dataclass(frozen=True)
class Known:
    """The notebook that is written to, and what is known of its bow."""

    path: Path
    #: of the bow; None where a notebook or a rig file was named
    folder: Path | None
    rig: Rig | None
    stock: Stock | None
    entries: tuple[AnyEntry, ...]
    #: the rig before its last change
    before: Rig | None
    #: worked out only where a dozen is noted
    plan: Callable[[], Plan | None] | None = None
    #: typed as a command, so that its options may be named
    typed: bool = False
    #: the folder as it was named
    named: str = ""

    def refused(self, entry: AnyEntry) -> list[Fault]:
        """What in an entry cannot be, as far as anything is known of the bow."""
        if self.folder is None and self.stock is None:
            return []
        found = refused(entry, self.stock, self.entries)
        return [replace(one, problem=named(one.problem, self.named)) for one in found]

    def doubts(self, entry: AnyEntry) -> tuple[str, ...]:
        """What of an entry is hardly meant so."""
        plan = self.plan() if self.plan is not None and isinstance(entry, Dozen) else None
        return doubts(entry, self.rig, self.stock, self.entries, self.before, plan, self.typed)


@dataclass(frozen=True)
class Kept:
    """What keeping entries came to."""

    #: on which the first begins; None where it stood there already
    line: int | None
    #: what is hardly meant so
    doubts: tuple[str, ...]
    #: what strikes out earlier counts of the same day
    struck: tuple[AnyEntry, ...]
    #: what counts come to beside what was noted, where not as they say
    besides: tuple[str, ...]
    #: what a change is taken for
    taken: tuple[str, ...] = ()
    #: fields of the rig file that a change asks to change by hand, with what stands there now
    edits: tuple[str, ...] = ()
    #: whether the old rig was put aside; None where the limbs of the rig file stay
    old_rig: bool | None = None


def keep(
    known: Known, *entries: AnyEntry, sure: Callable[[tuple[str, ...]], None] | None = None,
    once: bool = False,
) -> Kept:  # fmt: skip
    """Append entries, all or none, to the notebook as it stands by then.

    `sure` hears the doubts before anything is written, and raises to keep nothing. With `once`, what
    stands last already is the same form sent twice.
    """
    faults = [fault for entry in entries for fault in known.refused(entry)]
    if faults:
        raise InputError(faults)
    told = tuple(dict.fromkeys(doubt for entry in entries for doubt in known.doubts(entry)))
    if sure is not None:
        sure(told)
    every = [*known.entries, *entries]
    idle = [besides(e, known.stock, [k for k in every if k is not e]) for e in entries]
    kept = replace(_of_change(known, entries), doubts=told)
    with locked(Path(os.path.realpath(known.path)).parent):
        book = _as_it_stands(known.path)
        last = book.entries[-len(entries) :] if book is not None and once else ()
        if [content_hash(entry) for entry in last] != [content_hash(entry) for entry in entries]:
            struck = tuple(w for entry in entries for w in instead_of(book, entry))
            line = append_entry(known.path, *entries, *struck)
            told = tuple(dict.fromkeys(filter(None, idle)))
            kept = replace(kept, line=line, struck=struck, besides=told)
        if kept.old_rig and known.folder is not None:
            kept = replace(kept, old_rig=keep_before(known.folder))
    return kept


def _of_change(known: Known, entries: Sequence[AnyEntry]) -> Kept:
    """What the last change among entries means for the rig file."""
    nothing = Kept(None, (), (), ())
    change = next((entry for entry in reversed(entries) if isinstance(entry, Change)), None)
    if change is None or known.rig is None or known.folder is None:
        return nothing
    earlier = [e for e in entries if e is not change]
    of = change_of(change, known.rig, (*known.entries, *earlier), known.before)
    taken = tuple(filter(None, (taken_as(of), weight_taken(change, known.rig))))
    edits = to_edit(known.rig, change, of)
    return replace(
        nothing, taken=taken, edits=edits, old_rig=(of == "limbs" and bool(edits)) or None
    )


def _as_it_stands(path: Path) -> Notebook | None:
    """The notebook; None where there is none, or no entry of it can be read."""
    try:
        return load_notebook(path) if os.path.exists(path) else None
    except InputError:
        return None


def besides(entry: AnyEntry, stock: Stock | None, entries: Sequence[AnyEntry]) -> str:
    """What a count, or a dozen made, comes to beside what is noted already; empty where as it says."""
    if stock is None or not isinstance(entry, Have | Dozen):
        return ""
    item = entry.item if isinstance(entry, Have) else str(entry.build.shaft)
    row = stock.by_name.get(item)
    if row is None:
        return ""

    def held(known: Sequence[AnyEntry]) -> tuple[int, list[float]]:
        found = in_hand(stock, known)
        assert found.stock is not None
        return found.stock.by_name[item].in_hand, sorted(p.length_in for p in found.of(item))

    entries = [e for e in entries if not _replaces(entry, e)]
    now, before = held([*entries, entry]), held(entries)
    if isinstance(entry, Dozen) and now[0] > before[0] > 0:
        return f"{before[0]} {item} were in hand: {now[0] - before[0]} more are taken as bought."
    counts = [e for e in entries if isinstance(e, Have) and e.item == item and e.date is not None]
    enough = isinstance(entry, Dozen) and now[0] >= entry.made
    if isinstance(entry, Have):
        # shafts of other lengths, counted on the same day, are there beside them
        beside = {e.length_in: e.count for e in counts if e.date == entry.date and e.length_in}
        enough = now[0] == entry.count + sum(beside.values())
    if enough or now != before:
        return ""
    last = max((e.date for e in counts if e.date is not None), default=None)
    there = f"{now[0]} {item} in hand"
    if last is not None and (entry.date is None or entry.date < last):
        return f"It changes nothing: {item} was counted later, on {last}; {there}."
    return f"It changes nothing: {there} by what was shot or made since."


def _replaces(entry: AnyEntry, other: AnyEntry) -> bool:
    """Whether a count takes the place of another of the same day.

    Shafts of two lengths are two counts of one day; a count without a length is of all of them.
    """
    return (
        isinstance(entry, Have) and isinstance(other, Have)
        and (other.item, other.date) == (entry.item, entry.date)
        and (entry.length_in is None or other.length_in in (None, entry.length_in))
    )  # fmt: skip


def instead_of(notebook: Notebook | None, entry: AnyEntry) -> list[AnyEntry]:
    """What strikes out earlier counts of the same day that this one replaces."""
    if notebook is None:
        return []
    places = enumerate(notebook.entries)
    return [withdrawal(notebook, place) for place, e in places if _replaces(entry, e)]
