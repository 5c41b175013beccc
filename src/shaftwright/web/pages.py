"""What the page shows: the map, the rig's steps, the stock, the shots, the list."""

from __future__ import annotations

import re
from collections import Counter
from contextlib import suppress
from datetime import date
from typing import Any, Final
from urllib.parse import urlencode

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from shaftwright.answers.choose.map import Seen
from shaftwright.answers.note.noting import arrow_named
from shaftwright.answers.shop.shopping import Wishes, shopping
from shaftwright.errors import InputError, NoAnswer, ShaftwrightError, told_once
from shaftwright.files.strict_yaml import parse_yaml
from shaftwright.physics.spine import spine_marked
from shaftwright.records.notebook import BareShaft, BuildSpec
from shaftwright.render.pictures.bareshaft import progress_figure, target_view
from shaftwright.render.screens.bareshaft import distance_plain
from shaftwright.render.screens.choose import turned_away
from shaftwright.units import distance_told
from shaftwright.watched import Stopped
from shaftwright.web.answers import READY_IN, Answer, Papers
from shaftwright.web.app import app_state, is_part, next_given, opened, page, said, templates, to
from shaftwright.web.forms import all_fields, by_field, forms, values_of

_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]{1,12}\.?[0-9]{0,17}|\.[0-9]{1,17})")


def number(text: str | None) -> float | None:
    """A plain number of a query, None when it is none."""
    if text is None or not _NUMBER.fullmatch(text.strip()):
        return None
    return float(text)


def map_page(request: Request) -> Response:
    """The map, or the way to one."""
    state, papers = opened(request)
    if papers.rig is None:
        return page(request, "begin.html")
    try:
        answer = state.answer(papers, None if is_part(request) else READY_IN)
    except Stopped:
        lead = "Not every arrow of the stock was weighed, so there is no answer yet. "
        lead += "With fewer shafts or points in the stock it is quicker."
        press = (state.at + "/again", "Begin again")
        return said(request, "Stopped", (), 200, ("/stock", "To the stock"), press, lead=lead)
    except ShaftwrightError as error:
        return said(request, "The map cannot be drawn yet.", str(error).splitlines(), 200)
    if answer is None:
        return page(request, "waiting.html")
    return page(request, "map.html", map_given(request, answer))


def pace_part(request: Request) -> Response:
    """How far the answer is that is being worked out, for the page that waits."""
    pace = app_state(request).pace
    return JSONResponse({"done": pace.done, "many": pace.many, "left_s": pace.left_s})


def map_given(request: Request, answer: Answer) -> dict[str, Any]:
    """All that the map's page shows for a query."""
    query = request.query_params
    place, here, kept_place, kept = places(query, answer)
    return here_given(answer, place, here, kept) | {
        "drawn": answer.map(place),
        "sheet": answer.sheet(place),
        "kept_is_on_it": kept_place == place,
        "away": turned_away(answer.choice),
    }


def places(query: QueryParams, answer: Answer) -> tuple[int, Seen, int, Seen]:
    """The arrow looked at and the one kept to compare; both are the plan's before anybody moves."""
    planned = answer.planned
    name = planned.shaft if planned is not None else ""

    def at(before: str) -> tuple[int, Seen]:
        shaft = query.get(f"{before}shaft")
        place = answer.place_of(name if shaft is None else shaft)
        length, front = number(query.get(f"{before}length")), number(query.get(f"{before}front"))
        if shaft is None and length is None and planned is not None:
            length, front = planned.length_in, planned.front_gr
        return place, answer.seen(place, length, front)

    place, here = at("")
    return place, here, *at("kept_")


def here_given(answer: Answer, place: int, here: Seen, kept: Seen) -> dict[str, Any]:
    """What the panel beside the map shows."""
    choice = answer.choice
    nearest = answer.nearest(place, here)

    def is_at(one: Seen, other: Seen) -> bool:
        return one.listed.shaft == other.listed.shaft and bool(
            abs(one.listed.length_in - other.listed.length_in) < 1e-3
            and abs(one.listed.front_gr - other.listed.front_gr) < 1e-2
        )

    same = is_at(here, kept)
    first = "the best of the stock by rank" if choice.listed else "the usual one"
    first = "the arrow of the next thing to do" if answer.planned else first
    unmoved = is_at(kept, places(QueryParams(), answer)[1])
    tunable = choice.listed[place].chance_tunable if choice.listed else None
    is_nearest = nearest is not None and (
        abs(nearest.listed.length_in - here.listed.length_in) < 0.02
        and abs(nearest.listed.front_gr - here.listed.front_gr) < 0.6
    )
    return {
        "here": here, "kept": kept, "nearest": nearest, "is_nearest": is_nearest, "same": same,
        "tunable": tunable, "why": () if same else answer.why(kept, here),
        "usual": f"a usual {spine_marked(here.listed.spine_mils, bool(here.build.wood[0]))}",
        "choice": choice, "kept_is": first if unmoved else "the one you kept",
    }  # fmt: skip


def look_part(request: Request) -> Response:
    """One step on the map: the panel as markup, and the place as held inside the edges."""
    state, papers = opened(request)
    if papers.rig is None:
        return JSONResponse({"gone": True}, 409)
    answer = state.answer(papers)
    assert answer is not None
    place, here, _, kept = places(request.query_params, answer)
    given = here_given(answer, place, here, kept)
    html = templates().get_template("here.html").render(given, at=state.at)
    return JSONResponse(
        {
            "html": html,
            "shaft": here.listed.shaft,
            "length": round(here.listed.length_in, 4),
            "front": round(here.listed.front_gr, 2),
            "revision": papers.key,
        }
    )


def next_part(request: Request) -> Response:
    """The one next thing by itself, once it is known."""
    return page(request, "now.html", next_given(app_state(request).ready(None)))


def builds_page(request: Request) -> Response:
    """All ranked builds with their reasons."""
    state, papers = opened(request)
    if papers.rig is None or papers.stock is None:
        return to(request, "/")
    answer = state.answer(papers)
    assert answer is not None
    return page(
        request, "builds.html", {"choice": answer.choice, "away": turned_away(answer.choice)}
    )


def rig_page(request: Request) -> Response:
    """The rig as steps down one column."""
    return page(request, "rig.html", rig_given(app_state(request).papers()))


def rig_given(
    papers: Papers, values: dict[str, str] | None = None, faults: dict[str, str] | None = None,
    others: tuple[str, ...] = (),
) -> dict[str, Any]:  # fmt: skip
    """What the rig's page shows: the file's values, or those just sent."""
    version = papers.versions["rig"]
    broken = ""
    if values is None:
        data = rig_data(papers)
        values = values_of(data)
        if data is None and version.text is not None:
            broken = "The file cannot be read as a rig; saving here keeps its text in Files."
    if faults is None:
        faults, others = by_field(papers.faults.get("rig", ()))
    others = (*others, *(str(fault) for fault in papers.faults.get("before", ())))
    labels = {field.field: field for field in all_fields()}
    return {
        "steps": forms().steps, "values": values, "faults": faults, "others": others,
        "revision": version.revision, "broken": broken, "labels": labels,
        "conflict": None,
    }  # fmt: skip


def rig_data(papers: Papers) -> Any:
    """The rig file's plain data; None without one, or where it cannot be read."""
    text = papers.versions["rig"].text
    try:
        return parse_yaml(text, "rig.yaml").data if text is not None else None
    except InputError:
        return None


def rig_why(request: Request) -> Response:
    """After a save of the rig: whether the bow itself is another now."""
    query = request.query_params
    told = [("what", query.get("what", "other")), *(("now", n) for n in query.getlist("now"))]
    then = "/" if query.get("then") == "map" else "/rig?saved=1"
    return page(request, "why.html", {"told": urlencode(told), "then": then})


def stock_page(request: Request) -> Response:
    """The stock: what lies in the folder, and the way to load another."""
    papers = app_state(request).papers()
    items = papers.stock.items if papers.stock is not None else ()
    risky = [i.item for i in items if i.item.lstrip()[:1] in "=+-@|%"]
    return page(
        request, "stock.html",
        {"kinds": Counter(i.kind for i in items), "risky": risky[:5],
         "standing": [str(f) for f in told_once(papers.faults.get("stock", ()))],
         "revision": papers.versions["stock"].revision},
    )  # fmt: skip


#: the arrow of a reading, in one line
_ARROW: Final = (
    "build.shaft", "build.spine", "build.length", "build.point", "build.insert", "build.front", "distance",
)  # fmt: skip


def shots_page(request: Request) -> Response:
    """Bare shafts: enter them, and see what the last ones said."""
    state, papers = opened(request)
    values = {"date": date.today().isoformat()} | first_values(papers, state.ready())
    # just after an end was noted what to do now stands first
    just = not {"noted", "twice"}.isdisjoint(request.query_params)
    return page(request, "shots.html", shots_given(papers, values) | {"just": just})


def shots_given(
    papers: Papers, values: dict[str, str], faults: tuple[str, ...] = (),
    hits: list[dict[str, str]] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """What the shots' page shows."""
    stock = papers.stock

    def names(*kinds: str) -> list[str]:
        return [i.item for i in stock.of_kind(*kinds)] if stock is not None else []

    return {
        "bare": any(isinstance(e, BareShaft) for e in papers.entries), "values": values, "faults": faults,
        "just": False,
        "arrow_told": ", ".join(
            told for name in _ARROW if (told := values.get(name, "").strip())
        ),
        "hits": hits or [], "shafts": names("shaft"), "points": names("point", "broadhead"),
        "inserts": names("insert", "outsert", "adapter"),
        "standing": [str(f) for f in told_once(papers.faults.get("notebook", ()))],
    }  # fmt: skip


def first_values(papers: Papers, answer: Answer | None) -> dict[str, str]:
    """The arrow to shoot next at its distance, to begin with; else that of the last reading."""
    entries = papers.entries
    last = next((e for e in reversed(entries) if isinstance(e, BareShaft)), None)
    taped = "yes" if last is not None and last.taped else ""
    named = None if answer is None else arrow_named(answer.asked.plan, papers.stock, entries)
    if answer is None or named is None:
        if last is None:
            return {}
        far = {"distance": distance_plain(last.distance_yd, papers.units)}
        return {**_parts(last.build), **far, "taped": taped}
    then = answer.asked.plan.next
    far = far_values(then.distance_yd, papers)
    another = str(then.piece) if then.piece is not None and then.piece > 1 else ""
    return {**_parts(named.build), **far, "taped": taped, "piece": another}


def far_values(yards: float | None, papers: Papers) -> dict[str, str]:
    """The plan's distance as the page tells it, and in `far` beside it what it stands for."""
    if yards is None:
        return {}
    told = distance_told(yards, papers.units)
    return {"distance": told, "far": f"{yards!r} {told}"}


def _parts(build: BuildSpec) -> dict[str, str]:
    """A build as the form asks for it."""
    written = build.model_dump(by_alias=True, exclude_none=True)
    values = {f"build.{key}": f"{v:g}" if isinstance(v, float) else str(v)
              for key, v in written.items()}  # fmt: skip
    if build.broadhead is not None:
        values["build.point"] = build.broadhead
    return values


def says_page(request: Request) -> Response:
    """What the shots say, and the one next change."""
    state, papers = opened(request)
    found, trouble, target = None, "", None
    try:
        answer = state.answer(papers) if papers.rig is not None else None
        found = answer.diagnosis if answer is not None else None
        target = target_view(found) if found is not None else None
    except (NoAnswer, InputError) as error:
        trouble = str(error)
    given = {"found": found, "trouble": trouble, "target": target}
    return page(request, "says.html", given)


def progress_page(request: Request) -> Response:
    """How the tuning went, end by end: a part of the notebook's page."""
    answer, drawn = app_state(request).ready(None), None
    with suppress(ShaftwrightError):
        drawn = progress_figure(answer.progress) if answer is not None and answer.progress else None
    return page(request, "progress.html", {"drawn": drawn})


def list_page(request: Request) -> Response:
    """The shopping list, for as many arrows and as much money as asked."""
    (state, papers), query = opened(request), request.query_params
    wishes, faults = wishes_of(query)
    given: dict[str, Any] = {
        "faults": faults, "trouble": (), "a": None,
        "arrows": query.get("arrows", "12"), "budget": query.get("budget", ""),
    }  # fmt: skip
    if papers.rig is not None and papers.stock is not None and not faults:
        try:
            answer = state.answer(papers, None if is_part(request) else READY_IN)
            if answer is None:
                return page(request, "waiting.html")
            given["a"] = shopping(answer.asked, wishes).to_dict()
        except ShaftwrightError as error:
            given["trouble"] = str(error).splitlines()
    return page(request, "list.html", given, 422 if faults else 200)


def wishes_of(query: QueryParams) -> tuple[Wishes, list[str]]:
    """How many arrows, and what they may cost at most; a dozen if unasked; what is wrong with it."""
    arrows, budget = query.get("arrows", "12").strip(), query.get("budget", "").strip()
    most, faults = number(budget), []
    if not (re.fullmatch("[0-9]{1,3}", arrows) and int(arrows) <= 144):
        faults.append("Arrows: a whole number from 0 (test shafts only) to 144.")
    if budget and (most is None or not 0 <= most < 1e9):
        faults.append("Most it may cost: a number, or nothing.")
    return (Wishes(), faults) if faults else (Wishes(arrows=int(arrows), budget=most), faults)


ROUTES: Final = [
    Route("/", map_page),
    Route("/next", next_part),
    Route("/pace", pace_part),
    Route("/look", look_part),
    Route("/builds", builds_page),
    Route("/rig", rig_page),
    Route("/rig/why", rig_why),
    Route("/stock", stock_page),
    Route("/shots", shots_page),
    Route("/shots/says", says_page),
    Route("/shots/progress", progress_page),
    Route("/list", list_page),
]
