"""From what was typed to the notebook: checked, shown, kept, and answered with what comes next."""

from __future__ import annotations

import os.path
import sys
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from shaftwright.cli import common
from shaftwright.cli.note import WITH_BUILD, WITH_STATE
from shaftwright.errors import InputError, NoAnswer, printable

if TYPE_CHECKING:
    from shaftwright.answers.noting import Arrow
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.notebook import AnyEntry
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock


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
        from shaftwright.files.stock import load_stock

        return load_stock(self.stock_files) if self.stock_files else None

    @cached_property
    def notebook(self) -> Notebook | None:
        """What was noted so far; entries that cannot be read are named and passed over."""
        if not self.path.exists():
            return None
        try:
            return common.read_notebook(self.path) if self.bow is None else self.bow.notebook
        except InputError as error:
            for fault in error.faults:
                click.echo(f"{fault} (entry skipped)", err=True)
            return None

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """The entries that stand."""
        return self.notebook.entries if self.notebook is not None else ()


def place_of(where: str | None, given: dict[str, Any]) -> Place:
    """A folder with its bow, or a notebook file with the rig and stock that were named."""
    from shaftwright.files.bow import NOTEBOOK

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


def at_terminal() -> bool:
    """Whether somebody is there to be asked."""
    return sys.stdin.isatty()


def note(kind: str, where: str | None, given: dict[str, Any]) -> None:
    """Note one reading, or a file of them."""
    from shaftwright.cli.note import questions
    from shaftwright.cli.note.given import checked, entry_data, haves, rows, state_data

    place = place_of(where, given)
    _only_a_notebook(place.path)
    data = entry_data(kind, given, place.units)
    if kind in WITH_STATE:
        state = (_state(place) if kind != "change" or given["rig_file"] else {}) | state_data(given)
        if state:
            data["rig_state"] = state
    if given.get("csv_file"):
        _keep(place, rows(kind, given["csv_file"], given["columns"], data))
        return
    asking = at_terminal() and place.rig is not None
    if kind == "have":
        _keep(place, [_checked(place, checked(one), asking) for one in haves(given, data)])
        return
    asked = asking and kind in questions.KINDS and questions.nothing_said(kind, data)
    if asked:
        questions.fill(kind, place, data)
    filled = not asked and kind in WITH_BUILD and _filled(kind, place, data)
    if kind == "dozen":
        data.setdefault("made", 12)
    entry = _checked(place, checked(data), asking)
    if asking and kind == "change":
        entry = questions.what_kind(place, entry)
    if asked and not questions.keep_it(entry, place.units):
        click.echo("Nothing was noted.")
        return
    _keep(place, [entry], shown=filled)


def _filled(kind: str, place: Place, data: dict[str, Any]) -> bool:
    """Whether arrow and distance were taken as `next` names them, since the options name none."""
    if "build" in data or place.bow is None:
        return False
    arrow = arrow_next(kind, place)
    if arrow is None:
        problem = "names no arrow, and next names none: add --shaft, --length and --point"
        raise InputError.of("note", problem)
    fill_arrow(data, arrow)
    distance = place.bow.scenario.plan.next.distance_yd
    if kind != "dozen" and distance is not None:
        data.setdefault("distance", distance)
    return True


def fill_arrow(data: dict[str, Any], arrow: Arrow) -> None:
    """Put an arrow into an entry's data."""
    data["build"] = arrow.build.model_dump(by_alias=True, exclude_none=True)
    if arrow.piece is not None and data["kind"] != "dozen":
        data.setdefault("piece", arrow.piece)


def arrow_next(kind: str, place: Place) -> Arrow | None:
    """The arrow that `next` names, for a dozen the one that leads."""
    from shaftwright.answers.noting import arrow_leading, arrow_named

    assert place.bow is not None
    find = arrow_leading if kind == "dozen" else arrow_named
    return find(place.bow.scenario.plan, place.stock, place.entries)


def _state(place: Place) -> dict[str, Any]:
    """The bow as its rig file states it."""
    from shaftwright.answers.changes import state_of

    state = None if place.rig is None else state_of(place.rig, place.entries)
    return {} if state is None else state.model_dump(by_alias=True, exclude_none=True)


def _checked(place: Place, entry: AnyEntry, asking: bool) -> AnyEntry:
    """The entry, unless it cannot be; what is doubtful is asked about, or else warned of."""
    from shaftwright.answers.noting import doubts, refused
    from shaftwright.cli.note.questions import doubtful, other_piece

    if place.folder is not None or place.stock is not None:
        faults = refused(entry, place.stock, place.entries)
        if faults and asking:
            entry = other_piece(place, entry, faults[0])
            faults = refused(entry, place.stock, place.entries)
        if faults:
            raise InputError(faults)
    hand = place.rig.archer.hand if place.rig is not None else "right"
    plan = place.bow.scenario.plan if place.bow is not None and entry.kind == "dozen" else None
    for doubt in doubts(entry, hand, plan):
        if asking:
            doubtful(doubt)
        else:
            click.echo(f"note: {doubt}", err=True)
    return entry


def _keep(place: Place, entries: list[AnyEntry], shown: bool = False) -> None:
    from shaftwright.answers.noting import instead_of
    from shaftwright.files.notebook import append_entry
    from shaftwright.records.notebook import Have
    from shaftwright.render.screens.entry import entry_text

    struck = [w for e in entries if isinstance(e, Have) for w in instead_of(place.notebook, e)]
    line = append_entry(place.path, *entries, *struck)
    many = "1 entry" if len(entries) == 1 else f"{len(entries)} entries"
    click.echo(printable(f"{place.path}:{line}: {many} noted"))
    if shown:
        click.echo(entry_text(entries[0], place.units))
    if struck:
        click.echo("What was noted of it earlier that day is struck out.")
    _echo(entries[0], place.rig)
    _of_change(place, entries[0])
    _answer(place)


def _only_a_notebook(notebook_file: Path) -> None:
    """An entry written into a rig or stock file would ruin it, so nothing else is ever touched.

    Only the first line that says something counts: a torn entry further down is no reason to refuse.
    """
    from shaftwright.files.strict_yaml import read_text

    if not notebook_file.is_file():
        return
    lines = [line.strip() for line in read_text(notebook_file).lstrip("\ufeff").splitlines()]
    says = (n for n, line in enumerate(lines, 1) if line and not line.startswith(("#", "---", "%")))
    first = next(says, None)
    if first is not None and not f"{lines[first - 1]} ".startswith("- "):
        problem = "is no notebook, so nothing was written: every entry of one begins with '- '"
        raise InputError.of(str(notebook_file), problem, first)


def _echo(entry: AnyEntry, rig: Rig | None) -> None:
    """A word said back in what it means, so that a slip is noticed at the butt."""
    reads = getattr(entry, "reads", None)
    if reads is not None:
        from shaftwright.answers.noting import tail_of
        from shaftwright.render.screens.entry import words_echo

        hand = rig.archer.hand if rig is not None else "right"
        whose = "" if rig is not None else " (for a right-hander)"
        click.echo(words_echo(reads, tail_of(reads, hand)) + whose)


def _of_change(place: Place, entry: AnyEntry) -> None:
    """Which fields of the rig file to change by hand, and the old rig kept where the limbs are others."""
    from shaftwright.records.notebook import Change

    if not isinstance(entry, Change) or place.folder is None or place.bow is None:
        return
    from shaftwright.answers.changes import change_of, edited_already, keep_before, to_edit
    from shaftwright.files.bow import BEFORE, RIG
    from shaftwright.render.words import wrap

    rig = place.bow.rig
    kind = change_of(entry, rig, place.entries, place.bow.before)
    if kind == "limbs" and not edited_already(rig, entry):
        said = f"The rig as it was is kept as {BEFORE}."
        if not keep_before(place.folder):
            said = (
                f"{BEFORE} is there already and stays. If it is of still older limbs, put a copy of "
                f"{RIG} in its place before you change that."
            )
        click.echo(wrap(said))
    edits = to_edit(rig, entry, kind)
    if edits:
        click.echo("Write it into rig.yaml too; what follows goes by the change:")
        click.echo("\n".join(wrap(edit, "    ", "  ") for edit in edits))


def _answer(place: Place) -> None:
    """What comes next, now that the notebook says more."""
    if place.folder is None or place.bow is None:
        return
    from shaftwright.answers.scenario import scenario
    from shaftwright.files.notebook import load_notebook
    from shaftwright.render.screens.next import next_text

    bow = place.bow
    try:
        now = load_notebook(place.path)
        asked = scenario(bow.rig, None, place.stock, now.entries, now.lines, bow.before)
        after = common.Bow(bow.path, bow.stock_files)
        common.answer(after, False, dict, lambda: "\n" + next_text(asked), gap="")
    except (InputError, NoAnswer) as error:
        # the reading is kept: that no next step can be named is no failure of the note
        click.echo(printable(f"no next step can be named: {error}"), err=True)


def undo(where: str | None) -> None:
    """Strike out the last entry that stands."""
    from shaftwright.files.notebook import append_entry, withdrawal
    from shaftwright.records.notebook import Have
    from shaftwright.render.screens.entry import entry_text

    place = place_of(where, {})
    _only_a_notebook(place.path)
    notebook = place.notebook
    if notebook is None or not notebook.entries:
        raise NoAnswer(f"{place.path}: nothing is noted there that could be struck out")
    last = notebook.entries[-1]
    click.echo(f"The last entry, line {notebook.lines[-1]}:\n{entry_text(last, place.units)}")
    if at_terminal() and not click.confirm("Strike it out?", default=True):
        click.echo("Nothing was changed.")
        return
    append_entry(place.path, withdrawal(notebook, len(notebook.entries) - 1))
    click.echo("Struck out; it stays in the file, withdrawn.")
    if isinstance(last, Have) and any(
        isinstance(e, Have) and (e.item, e.date) == (last.item, last.date)
        for e in notebook.withdrawn
    ):
        told = f"Earlier counts of {last.item} stay struck out: note the one that holds."
        click.echo(printable(told))
    _answer(place)
