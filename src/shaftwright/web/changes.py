"""What the page changes: every route here asks for the token first, and loses nothing on a clash."""

from __future__ import annotations

from importlib.resources import files
from typing import Any, Final

from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from shaftwright.answers.choose.choose import choose
from shaftwright.answers.note.changes import others_of
from shaftwright.answers.scenario import scenario
from shaftwright.errors import InputError, ShaftwrightError, told_once
from shaftwright.files.csv_rows import without_rows
from shaftwright.files.strict_yaml import decoded, laid_into
from shaftwright.render.words import chances, spine_told
from shaftwright.rules.load import RuleBook
from shaftwright.units import inches
from shaftwright.web.answers import Papers, read_text
from shaftwright.web.app import Form, app_state, first, opened, page, post, said, texts, to, upload
from shaftwright.web.forms import all_fields, rig_check, values_of
from shaftwright.web.pages import rig_data, rig_given
from shaftwright.web.workbook import FILES, Conflict, What

#: what a new folder begins with beside its rig
STARTED: Final[tuple[What, ...]] = ("stock", "notebook")


def _starter(what: What) -> str:
    return (files("shaftwright") / "starter" / FILES[what]).read_text(encoding="utf-8")


def rig_save(request: Request, form: Form) -> Response:
    """Save the rig, if nothing is wrong and nobody else has saved it since."""
    state, papers = opened(request)
    given = texts(form)
    checked = rig_check(given, rig_data(papers))
    if checked.rig is None:
        return page(
            request, "rig.html",
            rig_given(papers, given, checked.faults, checked.others)
            | {"revision": given.get("revision", "")}, 422,
        )  # fmt: skip
    try:
        text = laid_into(papers.versions["rig"].text, checked.text)
        state.workbook.save("rig", text, given.get("revision", ""))
    except Conflict as clash:
        papers = state.papers()
        rows = _clash_rows(papers, given)
        more = {"conflict": clash, "rows": rows, "revision": clash.theirs.revision}
        return page(request, "rig.html", rig_given(papers, given, {}) | more, 409)
    then = first(form, "then")
    if (
        papers.rig
        and papers.entries
        and (others := others_of(papers.rig, checked.rig, papers.entries))
    ):
        now = "".join(f"&now={name}" for _, name in others)
        return to(
            request, f"/rig/why?what={others[0][0]}{now}&then={'map' if then == 'map' else ''}"
        )
    return to(request, "/" if then == "map" else "/rig?saved=1")


def _clash_rows(papers: Papers, given: dict[str, str]) -> list[tuple[str, str, str]]:
    """The fields in which the file and the form differ: label, in the file, in the form."""
    theirs = values_of(rig_data(papers))

    def shown(values: dict[str, str], name: str) -> str:
        if values.get(f"{name}.unknown"):
            return "unknown"
        return " ".join(values.get(name, "").split()) or "empty"

    names = [(field.field, field.label) for field in all_fields()]
    return [
        (label, shown(theirs, name), shown(given, name))
        for name, label in names if shown(theirs, name) != shown(given, name)
    ]  # fmt: skip


def rig_live(request: Request, form: Form) -> Response:
    """The faults of a rig while it is being filled in, and the spines that would suit it."""
    papers = app_state(request).papers()
    given = texts(form)
    checked = rig_check(given, rig_data(papers))
    told = "" if checked.rig is None else _bands_told(checked.rig, papers.own)
    stands = papers.versions["rig"].revision == given.get("revision", "")
    return JSONResponse(
        {"faults": checked.faults, "others": checked.others, "told": told, "stands": stands}
    )


def _bands_told(rig: Any, own: RuleBook | None) -> str:

    try:
        choice = choose(scenario(rig, own=own))
    except ShaftwrightError as error:
        return str(error)
    return " ".join(
        f"{name} ({inches(b.length_in)}, {b.front_gr:.0f} gr up front): stiffest {spine_told(b.low)}, "
        f"weakest {spine_told(b.high)}."
        for name, b in (("Cut short", choice.band), ("Uncut", choice.band_uncut))
    ) + f" {chances(choice.band.chance).capitalize()}, before any shot."  # fmt: skip


def file_save(request: Request, form: Form) -> Response:
    """Bring one of the files, or the starter's stock; checked before it replaces anything."""
    named = first(form, "what") or "stock"
    what: What | None = next((w for w in FILES if w == named), None)
    raw = _starter("stock").encode() if first(form, "starter") else upload(form, "file")
    if what is None or raw is None:
        return said(request, "Choose a file first.")
    try:
        text = decoded(raw, "your file")
        read_text(what, text, "your file")
    except InputError as error:
        lines = (str(fault) for fault in told_once(error.faults)[:40])
        return said(request, "Nothing was changed: the file has faults.", lines)
    revision = first(form, f"revision-{what}") or first(form, "revision")
    try:
        app_state(request).workbook.save(what, text, revision)
    except Conflict as clash:
        return _clashed(request, clash)
    return RedirectResponse(request.url.path, 303)


def stock_good(request: Request, form: Form) -> Response:
    """Leave the faulty rows out of the stock; the file as it was is kept."""
    state, papers = opened(request)
    bad = {fault.line for fault in papers.faults.get("stock", ())}
    text = without_rows(papers.versions["stock"].text or "", bad)
    read_text("stock", text, FILES["stock"])
    try:
        state.workbook.save("stock", text, first(form, "revision"))
    except Conflict as clash:
        return _clashed(request, clash)
    return to(request, "/stock")


def _clashed(request: Request, clash: Conflict) -> Response:
    lines = [
        f"{clash}. The file was left as it is.",
        f"What you were about to save lies in the folder kept as {clash.kept}.",
        "Look at both under Files, then decide.",
    ]
    return said(request, "Somebody saved before you.", lines, 409)


def begin(request: Request, form: Form) -> Response:
    """Write the starter files that are not there yet; nothing is ever overwritten."""
    state, papers = opened(request)
    for what in STARTED:
        if papers.versions[what].text is None:
            state.workbook.save(what, _starter(what), "absent")
    return to(request, "/rig")


def stop(request: Request, form: Form) -> Response:
    """End what is being worked out; the map then says so and offers to begin again."""
    app_state(request).pace.stopped = True
    return to(request, "/")


def again(request: Request, form: Form) -> Response:
    """Begin what was stopped once more."""
    state = app_state(request)
    state.begin_again(state.papers())
    return to(request, "/")


ROUTES: Final = [
    post("/begin", begin),
    post("/stop", stop),
    post("/again", again),
    post("/rig", rig_save),
    post("/rig/check", rig_live),
    post("/stock", file_save),
    post("/stock/good", stock_good),
    post("/files", file_save),
]
