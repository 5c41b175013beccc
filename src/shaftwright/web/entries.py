"""What the page notes: bare shafts and the other kinds of entries, each from its form."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from itertools import zip_longest
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.note.changes import change_of, weight_as_told, with_state
from shaftwright.answers.note.keep import Kept, Known, checked, keep
from shaftwright.answers.note.noting import arrow_to_note
from shaftwright.answers.plan.result import Plan
from shaftwright.errors import Fault, InputError
from shaftwright.records.fields import Hit, read_hits
from shaftwright.records.notebook import Change
from shaftwright.resources import table
from shaftwright.units import cap, convert, distance_typed, read_quantity
from shaftwright.web.answers import Papers
from shaftwright.web.app import Form, app_state, first, page, post, said, texts, to
from shaftwright.web.forms import forms, values_of, weight_values
from shaftwright.web.pages import far_values, rig_data, shots_given

#: entries of the arrow that the plan names
_OF_ARROW: Final = ("broadhead", "dozen")
_SAY_MORE: Final = (
    "Your words are of what stands below now: say what of it is other, or note it down as it is."
)
MOST_HITS: Final = 24
#: what is asked of bare shafts beside arrow and hits
_BARE: Final = ("distance", "piece", "taped", "marks", "reads", "nock")
#: the parts of an arrow that is given so
_BY: Final = {
    "names": ("shaft", "point", "insert", "length"),
    "numbers": ("spine", "gr_per_in", "front", "tail", "length"),
}


def other_page(request: Request) -> Response:
    """A form for another kind of entry."""
    state, query = app_state(request), request.query_params
    kind, papers = query.get("kind", ""), state.papers()
    values = {"what": query.get("what", "")[:40], "date": date.today().isoformat()}
    if kind in _OF_ARROW:
        answer = state.answer(papers) if papers.rig is not None else None
        asked, arrow = answer.asked if answer is not None else None, None
        if asked is not None:
            arrow = arrow_to_note(kind, asked.plan, papers.stock, asked.shelf, asked.entries)
        if asked is None or arrow is None:
            return said(request, "No arrow is named yet that this could be of.", (), 200)
        build = arrow.build.model_dump(by_alias=True, exclude_none=True)
        values |= {f"build.{name}": str(value) for name, value in build.items()}
        values |= far_values(asked.plan.next.distance_yd, papers)
    stands, told = _as_the_rig(papers), query.getlist("now")
    values |= {name: text for name, text in stands.items() if name.split(".")[1] in told}
    return _other(request, kind, values, rows=_came(request) if kind == "have" else None)


def _as_the_rig(papers: Papers) -> dict[str, str]:
    """What a change may state, as the rig has it."""
    rig = values_of(rig_data(papers))
    weight, at = rig.get("bow.draw_weight.lb", ""), rig.get("bow.draw_weight.at", "own draw")
    rig["bow.draw_weight.lb"] = f"{weight} at {at}" if weight else ""
    return {f.field: rig[f.rig] for f in forms().kinds["change"].fields if rig.get(f.rig)}


def _came(request: Request) -> list[dict[str, str]]:
    """What came, a row a thing: as the list that was shown has it, else as the next thing does."""
    things = [came.rpartition(" ")[::2] for came in request.query_params.getlist("came")]
    if things:
        return [{"item": item, "count": count, "length": ""} for item, count in things]
    answer = app_state(request).ready(None)
    came = () if answer is None else answer.asked.plan.next.noted
    return [
        {name: str(told) for name, told in one.items()} for one in came if one["kind"] == "have"
    ]


def _other(
    request: Request, kind: str, values: dict[str, str], faults: Iterable[str] = (), status: int = 200,
    rows: list[dict[str, str]] | None = None,
) -> Response:  # fmt: skip
    if kind not in forms().kinds:
        return said(request, "There is no such page.", (), 404)
    stock = app_state(request).papers().stock
    given = {
        "kind": kind, "form": forms().kinds[kind], "values": values, "rows": rows,
        "arrow": {n: v for n, v in values.items() if n.startswith("build.")},
        "faults": list(faults), "items": [i.item for i in stock.items[:500]] if stock else [],
    }  # fmt: skip
    return page(request, "other.html", given, status)


def shot_save(request: Request, form: Form) -> Response:
    """Append one reading of bare shafts."""
    papers = app_state(request).papers()
    rows = _rows(form, "hit-kind", "hit-right", "hit-up", "hit-tail")
    hits = [
        {name.removeprefix("hit-"): text for name, text in row.items()}
        for row in rows if row["hit-right"].strip() or row["hit-up"].strip()
    ][:MOST_HITS]  # fmt: skip
    try:
        data = _data("bareshaft", texts(form), papers)
        for kind in ("fletched", "bare"):
            if landed := [_hit(hit, papers.units) for hit in hits if hit["kind"] == kind]:
                data[kind] = landed
        kept = _kept(request, papers, data)
    except InputError as error:
        faults = tuple(told_in(fault, papers.units) for fault in error.faults)
        return page(request, "shots.html", shots_given(papers, texts(form), faults, hits=hits), 422)
    if kept.line is None:
        return to(request, "/shots?twice=1")
    noted = f"/shots?noted={kept.line}"
    if kept.doubts:
        return said(request, "Noted.", kept.doubts, 200, (noted, "To the shots"))
    return to(request, noted)


def other_save(request: Request, form: Form) -> Response:
    """Append an entry of another kind, or of what came several."""
    kind, given, papers = first(form, "kind"), texts(form), app_state(request).papers()
    if kind not in forms().kinds:
        return said(request, "There is no such page.", (), 404)
    rows = _rows(form, "item", "count", "length") if kind == "have" else None
    if kind == "change" and (of := _of_words(given, papers)):
        return _other(request, kind, given | {"what": of}, [_SAY_MORE], 422)
    try:
        data = _data(kind, given, papers)
        every = {name: data[name] for name in ("kind", "date", "remark") if name in data}
        came = [every | _filled(row) for row in rows or () if row["item"].strip()]
        kept = _kept(request, papers, *(came or [data]))
    except InputError as error:
        return _other(
            request, kind, given, (told_in(f, papers.units) for f in error.faults), 422, rows
        )
    taken, next_thing = " ".join(kept.taken), ("/", "What to do now")
    if kept.edits:
        title, fields = "Noted. Now write it into the rig too.", _rig_with(given, papers)
        lines = [taken, *kept.doubts, *_by_label(kept.edits)]
        there = next_thing if fields else ("/rig", "To the rig's form")
        press = (app_state(request).at + "/rig", "Write it into the rig") if fields else None
        return said(request, title, lines, 200, there, press, fields.items())
    told = [taken, *kept.besides, *kept.doubts]
    if any(told):
        return said(request, "Noted.", [*filter(None, told)], 200, next_thing)
    return to(request, "/shots/noted?did=noted")


def _rig_with(given: dict[str, str], papers: Papers) -> dict[str, str]:
    """The rig's form with what a change states; empty where it states nothing that the form asks."""
    stated = {
        f.rig: text for f in forms().kinds["change"].fields
        if f.rig and (text := given.get(f.field, "").strip())
    }  # fmt: skip
    if weight := stated.pop("bow.draw_weight.lb", ""):
        told = weight_as_told(weight, papers.rig)
        alone = re.search(r"\bat\b|@", told) is None
        stated |= weight_values(f"{told} at own draw" if alone else told)
    if not stated:
        return {}
    revision = {"revision": papers.versions["rig"].revision, "then": "map"}
    unknown = dict.fromkeys((f"{name}.unknown" for name in stated), "")
    return values_of(rig_data(papers)) | stated | unknown | revision


def _kept(request: Request, papers: Papers, *data: dict[str, Any]) -> Kept:
    """Entries checked and appended; what is wrong with them is a fault of this entry."""
    state = app_state(request)

    def plan() -> Plan | None:
        answer = state.ready(None, papers)
        return None if answer is None else answer.asked.plan

    book = state.workbook
    known = Known(
        book.path("notebook"), book.folder, papers.rig, papers.stock, papers.entries, papers.before, plan
    )  # fmt: skip
    entries = [checked(one, str(one.get("item", "this entry"))) for one in data]
    try:
        return keep(known, *entries, once=True)
    except InputError as error:
        raise InputError([replace(fault, file="this entry") for fault in error.faults]) from None


def told_in(fault: Fault, units: str) -> str:
    """A fault of a distance or a hit in the unit that was asked for."""
    at = fault.field.split(".")[0]
    unit, own = ("yd", "m") if at == "distance" else ("in", "cm")
    if units != "metric" or at not in ("distance", "fletched", "bare", "broadhead"):
        return str(fault)

    def limits(found: re.Match[str]) -> str:
        low, high = (f"{convert(float(end), unit, own):.0f}" for end in found.groups())
        return f"{low} to {high} {own}"

    value = fault.value
    if isinstance(value, float):
        value = f"{convert(value, unit, own):g} {own}"
    problem = re.sub(rf"(-?\d+) to (\d+) {unit}\b", limits, fault.problem)
    return str(replace(fault, problem=problem, value=value))


def _rows(form: Form, *names: str) -> list[dict[str, str]]:
    """Fields that a form has several times, row by row."""
    columns = ([v[:80] if isinstance(v, str) else "" for v in form.get(n, [])] for n in names)
    return [dict(zip(names, row, strict=True)) for row in zip_longest(*columns, fillvalue="")]


def _data(kind: str, given: dict[str, str], papers: Papers) -> dict[str, Any]:
    """A form as plain data of an entry; what is wrong stays for the check to find."""
    fields = () if kind == "bareshaft" else forms().kinds[kind].fields
    names = _BARE if kind == "bareshaft" else tuple(f.field for f in fields)
    data = {"kind": kind} | _filled({n: given.get(n, "") for n in (*names, "date", "remark")})
    for field in fields:
        if field.kind == "hits" and field.field in data:
            data[field.field] = _hits(field.field, data[field.field], papers.units)
    if "distance" in data:
        yards, _, told = given.get("far", "").partition(" ")
        same, typed = data["distance"] == told, distance_typed(data["distance"], papers.units)
        data["distance"] = yards if same else typed
    if kind in ("bareshaft", *_OF_ARROW):
        data["build"] = _build(given, papers)
    if "masses" in data:
        data["masses"] = data["masses"].replace(",", " ").split()
    if kind == "change":
        _of_change(data)
    return with_state(data, papers.rig, papers.entries)


def _filled(form: dict[str, str]) -> dict[str, Any]:
    """What of a form was filled in."""
    return {name: text for name, value in form.items() if (text := value.strip())}


def _build(given: dict[str, str], papers: Papers) -> dict[str, Any]:
    """The arrow of a form: by the names of its parts, or by numbers."""
    parts = _BY.get(given.get("by", ""))
    every = {n[6:]: text for n, text in given.items() if n.startswith("build.")}
    build = _filled({n: text for n, text in every.items() if parts is None or n in parts})
    point = papers.stock.by_name.get(build.get("point", "")) if papers.stock is not None else None
    if point is not None and point.kind == "broadhead":
        build["broadhead"] = build.pop("point")
    return build


def _of_words(given: dict[str, str], papers: Papers) -> str:
    """What a change is of that was only told in words; empty where no field of the form asks for it."""
    words = given.get("note", "").strip()
    if given.get("what") != "other" or not 0 < len(words) <= 80 or papers.rig is None:
        return ""
    of = change_of(Change(what=words), papers.rig, papers.entries, papers.before)
    fields = [
        f for f in forms().kinds["change"].fields if of in f.when.removeprefix("what=").split("|")
    ]
    return of if fields and not any(given.get(f.field) for f in fields) else ""


def _of_change(data: dict[str, Any]) -> None:
    """What `now.` says the bow is after a change; words alone say what it is of."""
    if data.get("what", "other") == "other" and "note" in data:
        data["what"] = data.pop("note")
    now: dict[str, Any] = {n[4:]: data.pop(n) for n in [*data] if n.startswith("now.")}
    if plunger := {n[8:]: now.pop(n) for n in [*now] if n.startswith("plunger.")}:
        now["plunger"] = plunger
    if now:
        data["rig_state"] = now


def _hit(hit: dict[str, str], units: str) -> Any:
    """Where one shaft landed and, of a bare one, how its tail pointed."""
    at = [_inches(hit["right"], units), _inches(hit["up"], units)]
    axis = {"right": "side", "left": "side", "straight": "side", "high": "up", "low": "up"}
    tail = hit["tail"] if hit["kind"] == "bare" else ""
    return {"at": at, "tail": {axis[tail]: tail}} if tail in axis else at


def _inches(text: str, units: str) -> Any:
    """Inches of a cell; what cannot be read stays as written, for the fault that names it."""
    text, unit = text.strip() or "0", "cm" if units == "metric" else "in"
    try:
        return round(convert(read_quantity(text, unit), unit, "in"), 4)
    except ValueError:
        return text


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
    return [cap(line).replace("_", " ") for line in told]


ROUTES: Final = [
    Route("/shots/other", other_page),
    post("/shots", shot_save),
    post("/shots/other", other_save),
]
