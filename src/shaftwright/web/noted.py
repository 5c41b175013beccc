"""The notebook on the page: all that was noted, an entry struck out or noted again."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.note.changes import take_back_before
from shaftwright.errors import told_once
from shaftwright.files.atomic import locked
from shaftwright.files.notebook import Notebook, append_entry, withdrawal
from shaftwright.records.notebook import AnyEntry, Change, content_hash
from shaftwright.render.screens.bareshaft import entry_text
from shaftwright.render.screens.next import landed
from shaftwright.units import REFERENCE_YD, distance_told
from shaftwright.web.answers import read_text
from shaftwright.web.app import Form, app_state, first, opened, page, post, said, to
from shaftwright.web.forms import forms
from shaftwright.web.workbook import FILES

#: a line that goes on
_ON: Final = re.compile(r"\n {5,}")
#: entries shown unless all are asked for
_FEW: Final = 60
_DONE: Final = {
    "noted": "Noted.",
    "struck": "Struck out. It stays in the notebook, and no answer reads it any more.",
    "again": "Noted again, at the end of the notebook.",
}


def noted_page(request: Request) -> Response:
    """Everything noted, newest first, and what was struck out."""
    state, papers = opened(request)
    book, units = papers.notebook, papers.units
    answer = state.ready(1.0)
    lies: dict[int, str] = {}
    if answer is not None and answer.papers.notebook is book:
        ends = (end for arrow in answer.asked.where.arrows for end in arrow.ends)
        lies = {id(end.entry): landed(end.seen_right_in, units) for end in ends}

    def rows(entries: Iterable[AnyEntry], lines: Iterable[int]) -> list[dict[str, Any]]:
        return [
            {"line": line, "mark": content_hash(entry),
             "told": _ON.sub(" ", entry_text(entry, units)).split("\n"),
             "lies": lies.get(id(entry), "")}
            for entry, line in zip(entries, lines, strict=True)
        ][::-1]  # fmt: skip

    given = {
        "done": _DONE.get(request.query_params.get("did", ""), ""),
        "kinds": forms().kinds, "few": None if "all" in request.query_params else _FEW,
        "stand": rows(book.entries, book.lines) if book is not None else [],
        "out": rows(book.withdrawn, book.withdrawn_lines) if book is not None else [],
        "standing": [str(f) for f in told_once(papers.faults.get("notebook", ()))],
        "far": distance_told(REFERENCE_YD, units),
    }  # fmt: skip
    return page(request, "noted.html", given)


def _on_entry(
    request: Request, form: Form, did: str, missing: str,
    added: Callable[[Notebook, int], AnyEntry | None],
) -> Response:  # fmt: skip
    """Append what follows from the entry that a form names by its line and what it says."""
    state, named = app_state(request), (first(form, "line"), first(form, "mark"))
    with locked(state.workbook.folder):
        book = state.papers().notebook
        if book is None:
            return said(request, missing, (), 409)
        stand, out = (book.entries, book.lines), (book.withdrawn, book.withdrawn_lines)
        both = zip(*(stand if did == "struck" else out), strict=True)
        marks = [(str(line), content_hash(entry)) for entry, line in both]
        if named not in marks:
            return said(request, missing, (), 409)
        entry = added(book, marks.index(named))
        if entry is not None:
            append_entry(state.workbook.path("notebook"), entry)
    return to(request, f"/shots/noted?did={did}")


def strike(request: Request, form: Form) -> Response:
    """Strike out an entry; nothing is erased."""

    def out(book: Notebook, place: int) -> AnyEntry:
        if isinstance(book.entries[place], Change):
            take_back_before(app_state(request).workbook.folder)
        return withdrawal(book, place)

    gone = "That entry does not stand in the notebook any more."
    return _on_entry(request, form, "struck", gone, out)


def again(request: Request, form: Form) -> Response:
    """Note an entry again that was struck out, unless it stands already."""

    def anew(book: Notebook, place: int) -> AnyEntry | None:
        entry = book.withdrawn[place]
        stand = {content_hash(e) for e in book.entries}
        return None if content_hash(entry) in stand else entry

    return _on_entry(request, form, "again", "That entry is not struck out.", anew)


def restore(request: Request, form: Form) -> Response:
    """Put a kept version back in its place; what stands there now is kept in turn."""
    state, name = app_state(request), first(form, "name")
    text = state.workbook.read_kept(name)
    what = next((w for w in FILES if name.startswith(f"{w}-")), None)
    if text is None or what is None:
        return said(request, "There is no such version.", (), 404)
    read_text(what, text, name)
    state.workbook.save(what, text, state.workbook.read(what).revision)
    return to(request, "/files?restored=1")


ROUTES: Final = [
    Route("/shots/noted", noted_page),
    post("/shots/strike", strike),
    post("/shots/again", again),
    post("/files/restore", restore),
]
