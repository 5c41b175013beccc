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

from shaftwright.answers.note.changes import state_of, take_back_before, weight_as_told
from shaftwright.answers.note.keep import keep
from shaftwright.answers.note.noting import Arrow, arrow_to_note
from shaftwright.errors import InputError, told_once
from shaftwright.files.atomic import locked
from shaftwright.files.faults import faults_of
from shaftwright.files.notebook import Notebook, append_entry, withdrawal
from shaftwright.records.fields import Hit, read_hits
from shaftwright.records.notebook import ENTRY, AnyEntry, Change, content_hash
from shaftwright.render.screens.bareshaft import entry_text
from shaftwright.render.screens.next import landed
from shaftwright.resources import table
from shaftwright.units import cap, distance_told
from shaftwright.web.answers import Papers, read_text
from shaftwright.web.app import Form, app_state, change, first, page, said, texts, to
from shaftwright.web.changes import known
from shaftwright.web.forms import entry_document, kinds, plain_entry
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
#: entries of the arrow that the plan names
_OF_ARROW: Final = ("broadhead", "dozen")
_HITS: Final = ("fletched", "broadhead")
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
        "standing": [str(f) for f in told_once(papers.faults.get("notebook", ()))],
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

    def out(book: Notebook, place: int) -> AnyEntry:
        if isinstance(book.entries[place], Change):
            take_back_before(app_state(request).workbook.folder)
        return withdrawal(book, place)

    return _on_entry(
        request, form, "struck", "That entry does not stand in the notebook any more.",
        lambda book: (book.entries, book.lines), out,
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
    if query.get("kind") in _OF_ARROW:
        arrow = _arrow(request, query["kind"])
        if arrow is None:
            return said(request, "No arrow is named yet that this could be of.", (), 200)
        build = arrow.build.model_dump(by_alias=True, exclude_none=True)
        values |= {f"build.{name}": str(value) for name, value in build.items()}
        values["distance"] = _far(request)
    rig = app_state(request).papers().rig
    now = state_of(rig, ()) if values["what"] else {}
    for name, unit in _NOW.items():  # as the rig says it since it was saved
        if name in now and name.removesuffix("_id").startswith(values["what"].removesuffix("s")):
            values[f"now.{name}"] = _told(now[name], unit)
    return _other(request, query.get("kind", ""), values)


def _told(value: Any, unit: str) -> str:
    """A value of the bow's state as a form's field has it."""
    if isinstance(value, dict):
        return f"{value['lb']:.4g} lb at {value['at']:.4g} in"
    return f"{value:.4g} {unit}" if unit else str(value)


def _arrow(request: Request, kind: str) -> Arrow | None:
    """The arrow that such an entry is of."""
    state = app_state(request)
    papers = state.papers()
    answer = state.answer(papers) if papers.rig is not None else None
    if answer is None:
        return None
    asked = answer.asked
    return arrow_to_note(kind, asked.plan, papers.stock, asked.shelf, asked.entries)


def _far(request: Request) -> str:
    """The distance that the plan names, as it is written; empty where it names none."""
    papers = app_state(request).papers()
    answer = app_state(request).answer(papers)
    yards = None if answer is None else answer.asked.plan.next.distance_yd
    return "" if yards is None or papers.rig is None else distance_told(yards, papers.rig.units)


def _other(
    request: Request, kind: str, values: dict[str, str], faults: Iterable[str] = (), status: int = 200
) -> Response:  # fmt: skip
    if kind not in kinds():
        return said(request, "There is no such page.", (), 404)
    stock = app_state(request).papers().stock
    given = {
        "kind": kind, "form": kinds()[kind], "values": values,
        "arrow": {n: v for n, v in values.items() if n.startswith("build.")},
        "faults": list(faults), "items": [i.item for i in stock.items[:500]] if stock else [],
    }  # fmt: skip
    return page(request, "other.html", given, status)


def other_save(request: Request, form: Form) -> Response:
    """Append an entry of another kind."""
    state, kind, given = app_state(request), first(form, "kind"), texts(form)
    if kind not in kinds():
        return said(request, "There is no such page.", (), 404)
    papers = state.papers()
    try:
        data = _data(kind, given, papers)
    except InputError as error:
        return _other(request, kind, given, map(str, error.faults), 422)
    try:
        entry = ENTRY.validate_python(data)
    except ValidationError as error:
        found = faults_of(error, entry_document(data), None, (0,))
        return _other(
            request, kind, given, (str(replace(f, file="this entry")) for f in found), 422
        )
    book = known(state, papers)
    try:
        kept = keep(book, entry, once=True)
    except InputError as error:
        return _other(request, kind, given, map(str, error.faults), 422)
    taken = " ".join(kept.taken)
    if kept.edits:
        title = "Noted. Now write it into the rig too."
        lines = [taken, *kept.doubts, *_by_label(kept.edits)]
        return said(request, title, lines, 200, ("/rig", "To the rig's form"))
    told = [taken, *kept.besides, *kept.doubts]
    if any(told):
        return said(request, "Noted.", [*filter(None, told)], 200)
    return to(request, "/shots/noted?did=noted")


def _data(kind: str, given: dict[str, str], papers: Papers) -> dict[str, Any]:
    """A form as plain data of an entry; `now.` names what the bow is after a change."""
    units = papers.rig.units if papers.rig is not None else "imperial"
    fields = kinds()[kind].fields
    asked = {name: given.get(name, "") for name in (*(f.field for f in fields), "date", "remark")}
    filled = plain_entry(asked, (f.field for f in fields if f.kind == "number"))
    if kind in _OF_ARROW:
        filled["build"] = {n[6:]: v for n, v in given.items() if n.startswith("build.") and v}
    if kind == "broadhead":
        filled |= {n: _hits(n, str(v), units) for n, v in filled.items() if n in _HITS}
        if "together" in filled:
            filled["together"] = filled["together"] == "true"
        if state := state_of(papers.rig, papers.entries):
            filled["rig_state"] = state
    if "masses" in filled:
        filled["masses"] = str(filled["masses"]).replace(",", " ").split()
    now = {name[4:]: text for name, text in filled.items() if name.startswith("now.")}
    if "draw_weight" in now:
        now["draw_weight"] = weight_as_told(str(now["draw_weight"]), papers.rig)
    data = {name: text for name, text in filled.items() if not name.startswith("now.")}
    return {"kind": kind} | data | ({"rig_state": now} if now else {})


def _hits(name: str, text: str, units: str) -> list[Hit]:
    try:
        return list(read_hits(text, "cm" if units == "metric" else "in"))
    except ValueError as error:
        raise InputError.of("this entry", str(error), None, name, text) from None


def _by_label(fields: Iterable[str]) -> list[str]:
    """What has to be changed by hand in the rig, as an archer calls it on the setup card."""
    called = {}
    for row in table("card_fields"):
        name = re.sub("_(in|gr)$", "", row["key"])
        called[name] = f"string {row['label']}" if row["section"] == "string" else row["label"]

    def label(found: re.Match[str]) -> str:
        name = found[0]
        while name and name not in called:
            name = name.rpartition(".")[0]
        return called.get(name, found[0])

    told = (re.sub(r"\b(?:archer|bow|string)\.[a-z_.]*[a-z]", label, line) for line in fields)
    return [cap(line) for line in told]


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
