"""From what was typed to the notebook: checked, shown, kept, and answered with what comes next."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from shaftwright.answers.note.changes import take_back_before, with_state
from shaftwright.answers.note.keep import Kept, checked, keep
from shaftwright.answers.note.noting import tail_of
from shaftwright.answers.scenario import named, scenario
from shaftwright.cli import common
from shaftwright.cli.note import WITH_BUILD, WITH_STATE, questions
from shaftwright.cli.note.given import Place, entry_data, filled, haves, place_of, rows
from shaftwright.errors import InputError, NoAnswer, printable
from shaftwright.files.bow import BEFORE, RIG
from shaftwright.files.notebook import append_entry, load_notebook, withdrawal
from shaftwright.files.strict_yaml import read_text
from shaftwright.records.notebook import AnyEntry, Change, Have, content_hash
from shaftwright.render.screens.bareshaft import entry_text, words_echo
from shaftwright.render.words import wrap
from shaftwright.units import cap


def at_terminal() -> bool:
    """Whether somebody is there to be asked."""
    return sys.stdin.isatty()


def note(kind: str, where: str | None, given: dict[str, Any]) -> None:
    """Note one reading, or a file of them."""
    place = place_of(where, given)
    _only_a_notebook(place.path)
    data = entry_data(kind, given, place.units)
    if kind in WITH_STATE:
        data = with_state(data, place.rig, place.entries, bool(given["rig_file"]))
    if given.get("csv_file"):
        _keep(place, rows(kind, given["csv_file"], given["columns"], data))
        return
    asking = at_terminal() and place.rig is not None
    if kind == "have":
        _keep(place, [checked(one) for one in haves(given, data)], asking)
        return
    asked = asking and kind in questions.ASKED and data.keys().isdisjoint(questions.ASKED[kind])
    if asked:
        questions.fill(kind, place, data)
    taken = not asked and kind in WITH_BUILD and filled(kind, place, data)
    if kind == "dozen":
        data.setdefault("made", 12)
    entry = checked(data)
    if asking:
        if kind == "change":
            entry = questions.what_kind(place, entry)
        if faults := place.known.refused(entry):
            entry = questions.other_piece(place, entry, faults[0])
    _keep(place, [entry], asking, shown=taken, ask=asked)


def _keep(
    place: Place, entries: list[AnyEntry], asking: bool = False, shown: bool = False, ask: bool = False,
    before: int = 0,
) -> None:  # fmt: skip
    """Keep entries and say what came of it; what is doubtful is asked about, or else warned of."""

    def sure(told: tuple[str, ...]) -> None:
        for doubt in told:
            if asking:
                click.echo(wrap(doubt))
                click.confirm("Is that right?", default=False, abort=True)
            else:
                click.echo(f"note: {doubt}", err=True)
        if ask:
            click.echo("\n" + entry_text(entries[0], place.units))
        if ask and not click.confirm("Keep it?", default=True):
            click.echo("Nothing was noted.")
            click.get_current_context().exit()

    kept = keep(place.known, *entries, sure=sure)
    many = "1 entry" if len(entries) == 1 else f"{len(entries)} entries"
    there = f", {before} there already" * bool(before)
    click.echo(printable(f"{place.path}:{kept.line}: {many} noted{there}"))
    if shown:
        click.echo(entry_text(entries[0], place.units))
    if kept.struck:
        click.echo("What was noted of it earlier that day is struck out.")
    for told in kept.besides:
        click.echo(wrap(printable(told)))
    if len(entries) == 1:
        _echo(entries[0], place)
    _of_change(kept)
    _answer(place, kept.line)


def _only_a_notebook(notebook_file: Path) -> None:
    """An entry written into a rig or stock file would ruin it, so nothing else is ever touched.

    Only the first line that says something counts: a torn entry further down is no reason to refuse.
    """
    if not notebook_file.is_file():
        return
    lines = [line.strip() for line in read_text(notebook_file).lstrip("\ufeff").splitlines()]
    says = (n for n, line in enumerate(lines, 1) if line and not line.startswith(("#", "---", "%")))
    first = next(says, None)
    if first is not None and not f"{lines[first - 1]} ".startswith("- "):
        problem = "is no notebook, so nothing was written: every entry of one begins with '- '"
        raise InputError.of(str(notebook_file), problem, first)


def _echo(entry: AnyEntry, place: Place) -> None:
    """A word said back in what it means, so that a slip is noticed at the butt."""
    reads, rig = getattr(entry, "reads", None), place.rig
    if reads is not None:
        hand = rig.archer.hand if rig is not None else "right"
        whose = "" if rig is not None else " (for a right-hander)"
        told = words_echo(reads, tail_of(reads, hand), whose)
        click.echo(wrap(named(told, "" if place.bow is None else place.bow.named)))


def _of_change(kept: Kept) -> None:
    """Fields of the rig file to change by hand, and the old rig put aside where the limbs are others."""
    for told in kept.taken:
        click.echo(wrap(told))
    if kept.old_rig is not None:
        said = f"The rig as it was is kept as {BEFORE}."
        if not kept.old_rig:
            said = (
                f"{BEFORE} is there already and stays. If it is of still older limbs, put a copy of "
                f"{RIG} in its place before you change that."
            )
        click.echo(wrap(said))
    if kept.edits:
        click.echo("Write it into rig.yaml too; what follows goes by the change:")
        click.echo("\n".join(wrap(edit, "    ", "  ") for edit in kept.edits))


def _answer(place: Place, line: int | None = None) -> None:
    """What the entry on a line is worth beside the others, and what comes next."""
    if place.folder is None or place.bow is None:
        return
    from shaftwright.render.screens.next import next_text

    bow = place.bow
    try:
        now = load_notebook(place.path)
        asked = scenario(
            bow.rig, None, place.stock, now.entries, now.lines, bow.before, own=bow.own_rules,
            folder=bow.named,
        )  # fmt: skip
        for told in asked.remarks_on(line):
            click.echo(wrap(printable(f"{cap(told)}."), "  ", "! "))
        after = common.Bow(bow.path, bow.stock_files)
        common.answer(after, False, dict, lambda: "\n" + next_text(asked), gap="")
    except (InputError, NoAnswer) as error:
        # the reading is kept: that no next step can be named is no failure of the note
        click.echo(printable(f"no next step can be named: {error}"), err=True)


def take_in(where: str | None, file: str) -> None:
    """Entries of another file, all or none; what the notebook has already is passed over."""
    place = place_of(where, {})
    _only_a_notebook(place.path)
    found = load_notebook(file)
    if found.faults:
        raise InputError(list(found.faults))
    book = place.notebook
    known = set() if book is None else {content_hash(e) for e in (*book.entries, *book.withdrawn)}
    new = {hash: e for e in found.entries if (hash := content_hash(e)) not in known}
    if not new:
        click.echo("Nothing new: all of it is in the notebook already.")
        return
    _keep(place, list(new.values()), before=len(found.entries) - len(new))


def undo(where: str | None, line: int | None = None) -> None:
    """Strike out the entry that begins on a line, or the last one that stands."""
    place = place_of(where, {})
    _only_a_notebook(place.path)
    notebook = place.notebook
    if notebook is None or not notebook.entries:
        raise NoAnswer(f"{place.path}: nothing is noted there that could be struck out")
    at = len(notebook.entries) - 1
    if line is not None:
        if line not in notebook.lines:
            out = line in notebook.withdrawn_lines
            near = ", ".join(map(str, sorted(notebook.lines, key=lambda n: abs(n - line))[:3]))
            problem = "is struck out already" if out else f"begins no entry; near it: {near}"
            raise InputError.of(str(place.path), problem, line)
        at = notebook.lines.index(line)
    last = notebook.entries[at]
    told = "The last entry" if line is None else "The entry"
    click.echo(f"{told}, line {notebook.lines[at]}:\n{entry_text(last, place.units)}")
    if at_terminal() and not click.confirm("Strike it out?", default=True):
        click.echo("Nothing was changed.")
        return
    append_entry(place.path, withdrawal(notebook, at))
    click.echo("Struck out; it stays in the file, withdrawn.")
    if isinstance(last, Change) and place.folder is not None and take_back_before(place.folder):
        click.echo(f"{BEFORE} is taken away again: it was a copy of {RIG}.")
        place = place_of(where, {})
    if isinstance(last, Have) and any(
        isinstance(e, Have) and (e.item, e.date) == (last.item, last.date)
        for e in notebook.withdrawn
    ):
        told = f"Earlier counts of {last.item} stay struck out: note the one that holds."
        click.echo(printable(told))
    _answer(place)
