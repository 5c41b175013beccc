"""Everything to take away: the files as they are, and the answers as JSON, CSV and a report."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from typing import Any, Final

from markupsafe import Markup
from starlette.datastructures import QueryParams
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.card.card import card
from shaftwright.answers.report import report
from shaftwright.answers.shop.shopping import Shopping, shopping
from shaftwright.errors import InputError, ShaftwrightError
from shaftwright.render.page import card_html, report_html
from shaftwright.render.screens.shop import csv_text, safe_cell, shop_text
from shaftwright.result import finite
from shaftwright.web.answers import ON_MAP, Answer, State
from shaftwright.web.app import app_state, opened, page
from shaftwright.web.pages import wishes_of
from shaftwright.web.workbook import FILES, What

LISTED: Final = 12
#: for what is opened on its own: the report has its style inside, and never runs anything
TAKEN_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
COLUMNS: Final = (
    "rank", "shaft", "spine_mils", "length_in", "point", "point_gr", "insert", "insert_gr", "collar",
    "front_gr", "tail_gr", "total_gr", "gr_per_lb", "foc_pct", "chance_match", "chance_tunable", "price",
)  # fmt: skip


Maker = Callable[[State, QueryParams], str | None]


def _json(document: Any) -> str:
    return json.dumps(finite(document), ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def _of_answer(made: Callable[[Answer, QueryParams], str | None]) -> Maker:
    """A file made from the answer to the folder as it stands; none where there is no answer."""

    def file(state: State, query: QueryParams) -> str | None:
        with suppress(ShaftwrightError):
            answer = state.ready(None)
            return None if answer is None else made(answer, query)
        return None

    return file


def _choose_json(answer: Answer, _: QueryParams) -> str:
    document = answer.choice.to_dict()
    return _json(document | {"builds": document["builds"][:LISTED]})


def _builds_csv(answer: Answer, _: QueryParams) -> str | None:
    builds = answer.choice.to_dict()["builds"]
    if not builds:
        return None
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for build in builds:
        writer.writerow([_cell(build[name]) for name in COLUMNS])
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return safe_cell(value) if isinstance(value, str) else f"{value:.6g}"


def _bareshaft_json(answer: Answer, _: QueryParams) -> str | None:
    found = answer.diagnosis
    return None if found is None else _json({"format": 2, **found.plan.keys(), **found.to_dict()})


def _report_html(answer: Answer, _: QueryParams) -> str:

    few = replace(answer.choice, listed=answer.choice.listed[:ON_MAP])
    return report_html(report(answer.asked, date.today(), choice=few))


def _list(shown: Callable[[Shopping], str]) -> Maker:
    def made(answer: Answer, query: QueryParams) -> str | None:
        wishes, faults = wishes_of(query)
        stocked = answer.papers.stock is not None and not faults
        return shown(shopping(answer.asked, wishes)) if stocked else None

    return _of_answer(made)


def _file(what: What) -> Maker:
    def made(state: State, _: QueryParams) -> str | None:
        try:
            return state.workbook.read(what).text
        except InputError:  # a link or a folder in its place; the page says so elsewhere
            return None

    return made


#: name -> (media type, what it is, how it is made, the files it needs)
OFFERED: Final[dict[str, tuple[str, str, Maker, tuple[What, ...]]]] = {
    FILES["rig"]: ("application/yaml", "your rig", _file("rig"), ("rig",)),
    FILES["stock"]: ("text/csv", "the stock", _file("stock"), ("stock",)),
    FILES["notebook"]: ("application/yaml", "your notebook", _file("notebook"), ("notebook",)),
    FILES["before"]: (
        "application/yaml", "the rig before its last change", _file("before"), ("before",)),
    "report.html": (
        "text/html", "one page to read or to print on two sheets", _of_answer(_report_html), ("rig",)),
    "card.html": (
        "text/html", "the setup card to print; once the dozen is made, with its label for the quiver",
        _of_answer(lambda one, _: card_html(card(one.asked, date.today()))), ("rig",)),
    "choose.json": (
        "application/json", "bands and arrows, for other programs", _of_answer(_choose_json), ("rig",)),
    "builds.csv": (
        "text/csv", "every shaft's best arrow, for a spreadsheet", _of_answer(_builds_csv), ("rig", "stock")),
    "bareshaft.json": (
        "application/json", "what your shots say, for other programs", _of_answer(_bareshaft_json),
        ("rig", "notebook")),
    "list.csv": ("text/csv", "the shopping list, for a spreadsheet", _list(csv_text), ("rig", "stock")),
    "list.json": (
        "application/json", "the shopping list, for other programs", _list(lambda x: _json(x.to_dict())),
        ("rig", "stock")),
    "list.txt": ("text/plain", "the shopping list, to print", _list(shop_text), ("rig", "stock")),
}  # fmt: skip


def _sent(raw: bytes, name: str, media: str) -> Response:
    return Response(
        raw, media_type=media,
        headers={
            "content-disposition": f'attachment; filename="{name}"',
            "content-security-policy": TAKEN_POLICY,
        },
    )  # fmt: skip


def files_page(request: Request) -> Response:
    """What there is to take away, and what was kept."""
    state, papers = opened(request)
    offered = []
    for name, (_, told, _, needs) in OFFERED.items():
        of = [papers.versions[w].text if name == FILES[w] else getattr(papers, w) for w in needs]
        offered.append((name, told, None not in of))
    return page(
        request, "files.html",
        {"offered": offered, "kept": state.workbook.kept(), "names": FILES,
         "phone": state.door.address, "code": _code(state.door.address)},
    )  # fmt: skip


def _code(address: str) -> Markup:
    """An address as a picture that a phone's camera reads; a dark one on white, in any scheme."""
    import segno

    if not address:
        return Markup()
    made = segno.make(address, micro=False)
    return Markup(made.svg_inline(omitsize=True, light="#fff"))


def take(request: Request) -> Response:
    """One file to take away, by a fixed list of names."""
    name = request.path_params["name"]
    state = app_state(request)
    if name == "everything.zip":
        return _sent(_everything(state, request.query_params), name, "application/zip")
    if name not in OFFERED:
        raise HTTPException(404)
    media, _, made, _ = OFFERED[name]
    text = made(state, request.query_params)
    if text is None:
        raise HTTPException(404)
    return _sent(text.encode("utf-8"), name, media)


def take_kept(request: Request) -> Response:
    """A version that was put aside."""
    text = app_state(request).workbook.read_kept(request.path_params["name"])
    if text is None:
        raise HTTPException(404)
    return _sent(text.encode("utf-8"), request.path_params["name"], "text/plain")


def _everything(state: State, query: QueryParams) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, (_, _, made, _) in OFFERED.items():
            text = made(state, query)
            if text is not None:
                archive.writestr(name, text)
        for name in state.workbook.kept():
            text = state.workbook.read_kept(name)
            if text is not None:
                archive.writestr(f"kept/{name}", text)
    return out.getvalue()


ROUTES: Final = [
    Route("/files", files_page),
    Route("/files/kept/{name}", take_kept),
    Route("/files/{name}", take),
]
