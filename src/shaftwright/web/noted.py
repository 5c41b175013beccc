"""The notebook on the page: all that was noted, an entry struck out or noted again, and its other kinds."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from typing import Any, Final

from pydantic import ValidationError
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.changes import change_of, keep_before, state_of, to_edit
from shaftwright.answers.noting import refused
from shaftwright.files.atomic import locked
from shaftwright.files.faults import faults_of
from shaftwright.files.notebook import Notebook, append_entry, withdrawal
from shaftwright.records.notebook import ENTRY, AnyEntry, Change, content_hash
from shaftwright.render.screens.bareshaft import entry_text
from shaftwright.render.screens.next import landed
from shaftwright.web.answers import read_text
from shaftwright.web.app import Form, app_state, change, first, page, said, texts, to
from shaftwright.web.changes import noted_already
from shaftwright.web.forms import all_fields, entry_document, kinds, plain_entry
from shaftwright.web.workbook import FILES

#: a line that goes on
_ON: Final = re.compile(r"\n {5,}")
#: entries shown unless all are asked for
_FEW: Final = 60
_NOW: Final = {
    "brace": "in",
    "draw_weight": "lb",
    "plate": "in",
    "nocking_point": "in",
    "limbs_id": "",
}
_DONE: Final = {
    "noted": "Noted.",
    "struck": "Struck out. It stays in the notebook, and no answer reads it any more.",
    "again": "Noted again, at the end of the notebook.",
}


def noted_page(request: Request) -> Response:
    """Everything noted, newest first, and what was struck out."""
    state = app_state(request)
    papers = state.papers()
    book, units = papers.notebook, papers.rig.units if papers.rig is not None else "imperial"
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
        "kinds": kinds(), "few": None if "all" in request.query_params else _FEW,
        "stand": rows(book.entries, book.lines) if book is not None else [],
        "out": rows(book.withdrawn, book.withdrawn_lines) if book is not None else [],
        "standing": [str(f) for f in papers.faults.get("notebook", ())],
    }  # fmt: skip
    return page(request, "noted.html", given)


def _on_entry(
    request: Request, form: Form, did: str, missing: str,
    among: Callable[[Notebook], tuple[tuple[AnyEntry, ...], tuple[int, ...]]],
    added: Callable[[Notebook, int], AnyEntry | None],
) -> Response:  # fmt: skip
    """Append what follows from the entry that a form names by its line and what it says."""
    state, named = app_state(request), (first(form, "line"), first(form, "mark"))
    with locked(state.workbook.folder):
        book = state.papers().notebook
        both = zip(*among(book), strict=True) if book is not None else ()
        marks = [(str(line), content_hash(entry)) for entry, line in both]
        if book is None or named not in marks:
            return said(request, missing, (), 409)
        entry = added(book, marks.index(named))
        if entry is not None:
            append_entry(state.workbook.path("notebook"), entry)
    return to(request, f"/shots/noted?did={did}")


def strike(request: Request, form: Form) -> Response:
    """Strike out an entry; nothing is erased."""
    return _on_entry(
        request, form, "struck", "That entry does not stand in the notebook any more.",
        lambda book: (book.entries, book.lines), withdrawal,
    )  # fmt: skip


def again(request: Request, form: Form) -> Response:
    """Note an entry again that was struck out, unless it stands already."""

    def anew(book: Notebook, place: int) -> AnyEntry | None:
        entry = book.withdrawn[place]
        stand = {content_hash(e) for e in book.entries}
        return None if content_hash(entry) in stand else entry

    return _on_entry(
        request, form, "again", "That entry is not struck out.",
        lambda book: (book.withdrawn, book.withdrawn_lines), anew,
    )  # fmt: skip


def other_page(request: Request) -> Response:
    """A form for another kind of entry."""
    query = request.query_params
    values = {"what": query.get("what", "")[:40], "date": date.today().isoformat()}
    rig = app_state(request).papers().rig
    state = None if rig is None or not values["what"] else state_of(rig, ())
    now = {} if state is None else state.model_dump(by_alias=True, exclude_none=True)
    for name, unit in _NOW.items():  # as the rig says it since it was saved
        if name in now and name.removesuffix("_id").startswith(values["what"].removesuffix("s")):
            values[f"now.{name}"] = f"{now[name]:g} {unit}" if unit else str(now[name])
    return _other(request, query.get("kind", ""), values)


def _other(
    request: Request, kind: str, values: dict[str, str], faults: Iterable[str] = (), status: int = 200
) -> Response:  # fmt: skip
    if kind not in kinds():
        return said(request, "There is no such page.", (), 404)
    stock = app_state(request).papers().stock
    given = {
        "kind": kind, "form": kinds()[kind], "values": values,
        "faults": list(faults), "items": [i.item for i in stock.items[:500]] if stock else [],
    }  # fmt: skip
    return page(request, "other.html", given, status)


def other_save(request: Request, form: Form) -> Response:
    """Append an entry of another kind."""
    state, kind, given = app_state(request), first(form, "kind"), texts(form)
    if kind not in kinds():
        return said(request, "There is no such page.", (), 404)
    papers = state.papers()
    data = _data(kind, given)
    try:
        entry = ENTRY.validate_python(data)
    except ValidationError as error:
        found = faults_of(error, entry_document(data), None, (0,))
        return _other(
            request, kind, given, (str(replace(f, file="this entry")) for f in found), 422
        )
    if found := refused(entry, papers.stock, papers.entries):
        return _other(request, kind, given, (str(f) for f in found), 422)
    of, edits = "", list[str]()
    if isinstance(entry, Change) and papers.rig is not None:
        of = change_of(entry, papers.rig, papers.entries, papers.before)
        edits = _by_label(to_edit(papers.rig, entry, of))
    with locked(state.workbook.folder):
        if not noted_already(state.papers(), entry):
            append_entry(state.workbook.path("notebook"), entry)
        if edits and of == "limbs":
            keep_before(state.workbook.folder)
    if edits:
        return said(request, "Noted. Now write it into the rig too.", edits, 200)
    return to(request, "/shots/noted?did=noted")


def _data(kind: str, given: dict[str, str]) -> dict[str, Any]:
    """A form as plain data of an entry; `now.` names what the bow is after a change."""
    fields = kinds()[kind].fields
    asked = {name: given.get(name, "") for name in (*(f.field for f in fields), "date", "remark")}
    filled = plain_entry(asked, (f.field for f in fields if f.kind == "number"))
    now = {name[4:]: text for name, text in filled.items() if name.startswith("now.")}
    data = {name: text for name, text in filled.items() if not name.startswith("now.")}
    return {"kind": kind} | data | ({"rig_state": now} if now else {})


def _by_label(fields: Iterable[str]) -> list[str]:
    """What has to be changed by hand in the rig, by the names of its questions."""
    labels = {field.field: field.label for field in all_fields()}
    labels |= {"bow.draw_weight": "Draw weight"}
    told = list(fields)
    for name in sorted(labels, key=len, reverse=True):
        told = [line.replace(name, labels[name]) for line in told]
    return told


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
    Route("/shots/other", other_page),
    Route("/shots/strike", change(strike), methods=["POST"]),
    Route("/shots/again", change(again), methods=["POST"]),
    Route("/shots/other", change(other_save), methods=["POST"]),
    Route("/files/restore", change(restore), methods=["POST"]),
]
