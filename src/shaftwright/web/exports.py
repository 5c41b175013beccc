"""Everything to take away: the files as they are, and the answers as JSON, CSV and a report."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable
from typing import Any, Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.errors import InputError, ShaftwrightError
from shaftwright.render.screens.shop import safe_cell
from shaftwright.web.app import House, house_of, page
from shaftwright.web.workbook import FILES
from shaftwright.web.worker import finite

LISTED: Final = 12
#: for what is opened on its own: the report has its style inside, and never runs anything
TAKEN_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox"
COLUMNS: Final = (
    "rank", "shaft", "spine_mils", "length_in", "point", "point_gr", "insert", "insert_gr", "collar",
    "front_gr", "tail_gr", "total_gr", "gr_per_lb", "foc_pct", "chance_match", "chance_tunable", "price",
)  # fmt: skip


def _json(document: Any) -> str:
    return json.dumps(finite(document), ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def _choice(house: House) -> dict[str, Any] | None:
    papers = house.desk.papers()
    if papers.rig is None:
        return None
    try:
        answer = house.desk.answer(papers)
    except ShaftwrightError:
        return None
    return None if answer is None else answer.choice.to_dict()


def _choose_json(house: House) -> str | None:
    document = _choice(house)
    if document is None:
        return None
    return _json(document | {"builds": document["builds"][:LISTED]})


def _builds_csv(house: House) -> str | None:
    document = _choice(house)
    if document is None or not document["builds"]:
        return None
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for build in document["builds"]:
        writer.writerow([_cell(build[name]) for name in COLUMNS])
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return safe_cell(value) if isinstance(value, str) else f"{value:.6g}"


def _bareshaft_json(house: House) -> str | None:
    try:
        found = house.desk.diagnosis(house.desk.papers())
    except ShaftwrightError:
        return None
    return None if found is None else _json({"format": 2, **found.plan.keys(), **found.to_dict()})


def _report_html(house: House) -> str | None:
    papers = house.desk.papers()
    if papers.rig is None:
        return None
    from shaftwright.render.page.report import report_html

    try:
        return report_html(house.desk.report(papers))
    except ShaftwrightError:
        return None


def _shop(key: str) -> Callable[[House], str | None]:
    def made(house: House) -> str | None:
        job = house.jobs.job
        if job is None or job.state != "done":
            return None
        return _json(job.result[key]) if key == "answer" else str(job.result[key])

    return made


def _file(what: Any) -> Callable[[House], str | None]:
    def made(house: House) -> str | None:
        try:
            return house.workbook.read(what).text
        except InputError:  # a link or a folder in its place; the page says so elsewhere
            return None

    return made


#: name -> (media type, what it is, how it is made)
OFFERED: Final[dict[str, tuple[str, str, Callable[[House], str | None]]]] = {
    FILES["rig"]: ("application/yaml", "your rig", _file("rig")),
    FILES["stock"]: ("text/csv", "the stock", _file("stock")),
    FILES["notebook"]: ("application/yaml", "your notebook", _file("notebook")),
    FILES["before"]: ("application/yaml", "the rig before its last change", _file("before")),
    "report.html": ("text/html", "one page to read or to print on two sheets", _report_html),
    "choose.json": ("application/json", "bands and arrows, for other programs", _choose_json),
    "builds.csv": ("text/csv", "every shaft's best arrow, for a spreadsheet", _builds_csv),
    "bareshaft.json": (
        "application/json",
        "what your shots say, for other programs",
        _bareshaft_json,
    ),
    "list.csv": ("text/csv", "the shopping list, for a spreadsheet", _shop("csv")),
    "list.json": ("application/json", "the shopping list, for other programs", _shop("answer")),
    "list.txt": ("text/plain", "the shopping list, to print", _shop("text")),
}


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
    house = house_of(request)
    papers = house.desk.papers()
    there = {FILES[what]: papers.versions[what].text is not None for what in FILES}
    done = house.jobs.job is not None and house.jobs.job.state == "done"
    ready = {
        "choose.json": papers.rig is not None,
        "builds.csv": papers.rig is not None and papers.stock is not None,
        "bareshaft.json": papers.rig is not None and papers.notebook is not None,
        "report.html": papers.rig is not None,
        "list.csv": done, "list.json": done, "list.txt": done,
    }  # fmt: skip
    offered = [(name, told, there.get(name, ready.get(name, True)))
               for name, (_, told, _) in OFFERED.items()]  # fmt: skip
    return page(
        request, "files.html",
        {"papers": papers, "offered": offered, "kept": house.workbook.kept(), "names": FILES},
    )  # fmt: skip


def take(request: Request) -> Response:
    """One file to take away, by a fixed list of names."""
    name = request.path_params["name"]
    house = house_of(request)
    if name == "everything.zip":
        return _sent(_everything(house), name, "application/zip")
    if name not in OFFERED:
        raise HTTPException(404)
    media, _, made = OFFERED[name]
    text = made(house)
    if text is None:
        raise HTTPException(404)
    return _sent(text.encode("utf-8"), name, media)


def take_kept(request: Request) -> Response:
    """A version that was put aside."""
    text = house_of(request).workbook.read_kept(request.path_params["name"])
    if text is None:
        raise HTTPException(404)
    return _sent(text.encode("utf-8"), request.path_params["name"], "text/plain")


def _everything(house: House) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, (_, _, made) in OFFERED.items():
            text = made(house)
            if text is not None:
                archive.writestr(name, text)
        for name in house.workbook.kept():
            text = house.workbook.read_kept(name)
            if text is not None:
                archive.writestr(f"kept/{name}", text)
    return out.getvalue()


ROUTES: Final = [
    Route("/files", files_page),
    Route("/files/kept/{name}", take_kept),
    Route("/files/{name}", take),
]
