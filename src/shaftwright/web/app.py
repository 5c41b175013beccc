"""The page put together: routes, templates, the guard; several bows, each below an address of its own."""

from __future__ import annotations

import functools
import re
from collections.abc import (
    AsyncIterator,
    Awaitable,
    Callable,
    Collection,
    Iterable,
    Mapping,
    Sequence,
)
from contextlib import asynccontextmanager
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

from jinja2 import Environment, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

from shaftwright import __version__
from shaftwright.errors import InputError, ShaftwrightError, printable, told_once
from shaftwright.files.bow import bows_in, is_the_sample
from shaftwright.render.page import environment
from shaftwright.render.pictures.figure import css
from shaftwright.render.screens.next import expect_told
from shaftwright.render.words import own_told
from shaftwright.units import percent
from shaftwright.web.answers import Answer, Papers, State
from shaftwright.web.forms import in_units
from shaftwright.web.guard import Door, Guard, TooLarge
from shaftwright.web.workbook import Workbook

_COMMAND: Final = re.compile(r"\bshaftwright\b")
#: an option whose own name is no word for what it says
_WORDS: Final = {"must": "the limit"}
#: a file that is named to be written in, with what is written there; where a page has a form for it
_FILE: Final = re.compile(
    r"\b(into|in|to|shorten) (rig\.yaml|stock\.csv)(?:: draw_weight: \{[^}]*\})?", re.IGNORECASE
)
_FORMS: Final = {"rig.yaml": ("/rig", "the rig"), "stock.csv": ("/stock", "the stock")}
_NO_SCALE: Final = re.compile(r"write draw_weight: \{[^}]*\}, ")
_OPTION: Final = re.compile(r"(?<!\w)--([a-z][a-z-]*)")
#: several bows lie below it; two tabs on two bows cannot mix
BOWS: Final = "/bow"
UPLOADS: Final = ("/stock", "/files")
SAMPLE: Final = "The stock is the sample still: put your shop's rows there before you buy."
PAGES: Final = (
    ("/", "Map"),
    ("/rig", "Rig"),
    ("/stock", "Stock"),
    ("/shots", "Shots"),
    ("/list", "List"),
    ("/files", "Files"),
)
_STATIC: Final = {
    "page.css": "text/css; charset=utf-8",
    "page.js": "text/javascript; charset=utf-8",
    "map.js": "text/javascript; charset=utf-8",
    "shots.js": "text/javascript; charset=utf-8",
    "icon.svg": "image/svg+xml",
}


@functools.cache
def templates() -> Environment:
    """The templates of reports and pages."""
    made = environment("shaftwright.web")
    made.filters["no_commands"] = linked
    made.filters["percent"] = percent
    made.filters["in_units"] = in_units
    made.globals["pairs"] = lambda names: [(n, n) for n in names]
    return made


def app_state(request: Request) -> State:
    """The state a request came to."""
    found: State = request.app.state.shaftwright
    return found


def opened(request: Request) -> tuple[State, Papers]:
    """The state, and the folder as it stands now."""
    state = app_state(request)
    return state, state.papers()


def is_part(request: Request) -> bool:
    """Whether the page's own script asks for a piece of a page."""
    return request.headers.get("x-part") == "1"


def page(
    request: Request, name: str, given: Mapping[str, Any] | None = None, status: int = 200
) -> HTMLResponse:
    """One template as an answer."""
    state = app_state(request)
    papers = state.papers()
    text = templates().get_template(name).render(
        at=state.at, path=quote(request.scope["path"]), pages=PAGES, token=state.door.token,
        version=__version__, folder=state.workbook.folder.name or "workbook",
        base="bare.html" if is_part(request) else "base.html", units=papers.units,
        off="cm" if papers.units == "metric" else "in",
        **{"papers": papers, **next_given(state.ready(papers=papers)), **(given or {})},
    )  # fmt: skip
    return HTMLResponse(text, status)


def to(request: Request, there: str) -> Response:
    """On to another page of the same bow."""
    return RedirectResponse(app_state(request).at + there, 303)


def said(
    request: Request, title: str, lines: Iterable[str] = (), status: int = 422,
    there: tuple[str, str] | None = None, press: tuple[str, str] | None = None,
    fields: Iterable[tuple[str, str]] = (), lead: str = "",
) -> HTMLResponse:  # fmt: skip
    """A page that only says something, and where to go on from it; with `press` by one press of a button."""
    given = {"papers": None, "title": title, "lines": list(lines), "there": there, "press": press,
             "fields": list(fields), "lead": lead}  # fmt: skip
    return page(request, "said.html", given, status)


def next_given(answer: Answer | None) -> dict[str, Any]:
    """The one next thing, with which every page opens, and where the next shots should land."""
    if answer is None:
        return {"now": None, "expected": "", "own": []}
    now, units = answer.asked.plan.next, answer.asked.rig.units
    stock = answer.papers.versions["stock"].text
    sample = stock is not None and is_the_sample(stock.encode())
    return {
        "now": now,
        "expected": expect_told(now.expect, units) if now.expect is not None else "",
        "own": [*own_told(answer.asked), *[SAMPLE] * sample],
    }


@pass_context
def linked(context: Context, text: object) -> Markup:
    """A page has no commands and no files: what names a command is left out, a file is its form, a tap away.

    Examples
    --------
    >>> def shown(text): return linked({}, text).striptags()
    >>> shown("Are the others cut too? Then: shaftwright note have FEN-500 2")
    'Are the others cut too?'
    >>> shown("Add it to stock.csv, then: shaftwright next.")
    'Add it to the stock.'
    >>> shown("Weigh it, and write it into rig.yaml: draw_weight: {lb: .., at: own_draw}.")
    'Weigh it, and write it into the rig.'
    >>> shown("A budget of 120 would do, or fewer --arrows; whatever --must says")
    'A budget of 120 would do, or fewer arrows; whatever the limit says'
    """
    told = str(escape(printable(_for_a_page(str(text)))))
    for name, (path, words) in _FORMS.items():
        link = Markup('<a href="{}{}">{}</a>').format(context.get("at", ""), path, words)
        told = told.replace(f"[[{name}]]", link)
    return Markup(told)


def _for_a_page(text: str) -> str:
    kept: list[str] = []
    for clause in re.split(r"(?<=[.;:?!])\s+", text):
        if not _COMMAND.search(clause):
            kept.append(clause)
        elif kept and kept[-1].endswith(":"):
            head, _, then = kept.pop().rpartition(",")
            kept += [f"{head}."] if then.strip() == "then:" else []
    told = re.sub(r"[;:]$", ".", " ".join(kept))
    told = _OPTION.sub(lambda o: _WORDS.get(o[1], o[1].replace("-", " ")), told)
    told = _NO_SCALE.sub("say so in rig.yaml, ", told)
    return _FILE.sub(lambda f: f"{f[1]} [[{f[2].lower()}]]", told)


#: texts, and the bytes of files; their names are never used
Form = dict[str, list[str | bytes]]
Handler = Callable[[Request, Form], Response]


def first(form: Form, name: str, limit: int = 4000) -> str:
    """The first text of a field, cut; empty when there is none."""
    value = form.get(name, [""])[0]
    return value[:limit] if isinstance(value, str) else ""


def texts(form: Form) -> dict[str, str]:
    """All text fields of a form, the first of each."""
    return {name: first(form, name, 20_000) for name in form}


def change(handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """A route that changes something: the token is checked before its handler sees anything."""

    @functools.wraps(handler)
    async def endpoint(request: Request) -> Response:
        form: Form = {}
        try:
            async with request.form(max_files=2, max_fields=400, max_part_size=600_000) as given:
                for name, value in given.multi_items():
                    if isinstance(value, UploadFile):
                        read = await value.read() if value.filename else ""
                        form.setdefault(name, []).append(read)
                    else:
                        # what no browser sends: bytes of no text
                        form.setdefault(name, []).append(value.encode(errors="replace").decode())
        except (LookupError, ValueError, AttributeError):  # a charset or a boundary of no kind
            raise HTTPException(400) from None
        token = request.headers.get("x-shaftwright-token") or first(form, "token")
        if not app_state(request).door.knows_token(token):
            return _stale(request, form)
        try:
            return await run_in_threadpool(handler, request, form)
        except (InputError, OSError) as error:
            return _unsaved(request, error)

    return endpoint


def post(path: str, handler: Handler) -> Route:
    """Where a form of the page is sent."""
    return Route(path, change(handler), methods=["POST"])


def upload(form: Form, name: str) -> bytes | None:
    """The bytes of an uploaded file, None when none was chosen."""
    value = form.get(name, [""])[0]
    return value if isinstance(value, bytes) else None


def _stale(request: Request, form: Form) -> Response:
    """A page from before a restart: nothing is saved, nothing is lost, one press saves it."""
    sent = [(name, value) for name, values in form.items() for value in values if name != "token"]
    fields = [(name, value) for name, value in sent if isinstance(value, str)]
    lost = len(fields) < len(sent)
    lead = (
        "The page you sent this from was opened before Shaftwright was last started, so nothing has been "
        "changed yet. "
    )
    lead += (
        "A file has to be chosen again: go back and do so." if lost
        else "Everything you entered is still here."
    )  # fmt: skip
    press = None if lost else (quote(request.scope["path"]), "Go on with it")
    return said(request, "One more press", (), 403, None, press, fields, lead)


def _unsaved(request: Request, error: InputError | OSError) -> Response:
    """The folder cannot be written; the browser still has the answers."""
    if isinstance(error, InputError):
        lines = [str(fault) for fault in told_once(error.faults)]
    else:
        lines = [(error.strerror or str(error)).capitalize()]
    lines.append("Nothing was changed. Go back: your answers are still in the form.")
    return said(request, "That could not be saved.", lines, 409)


def static(request: Request) -> Response:
    """A file that belongs to the page, by a fixed list of names."""
    name = request.path_params["name"]
    if name == "figure.css":
        return PlainTextResponse(
            css(), media_type="text/css; charset=utf-8", headers={"cache-control": "no-cache"}
        )
    if name not in _STATIC:
        raise HTTPException(404)
    with as_file(files("shaftwright.web") / "static" / name) as path:
        raw = path.read_bytes()
    return Response(raw, media_type=_STATIC[name], headers={"cache-control": "no-cache"})


def _not_there(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    told = {404: "There is no such page.", 405: "That cannot be done here."}.get(
        status, "That did not work."
    )
    return said(request, told, (), status)


def _no_answer(request: Request, error: Exception) -> Response:
    """The papers do not fit together: said in the words of the commands."""
    return said(request, "There is no answer yet.", str(error).splitlines())


def _too_large(request: Request, error: Exception) -> Response:
    return PlainTextResponse("That is too large for this page, or came too slowly.\n", 413)


def create_app(folder: Path | str, door: Door | None = None) -> ASGIApp:
    """The page over a bow's folder, or over a folder of several bows."""
    book, door = Workbook(folder), door or Door()
    for name in templates().list_templates(["html"]):
        templates().get_template(name)
    found = bows_in(book.folder)
    if found:
        return Guard(several(book.folder, found, door), door, UPLOADS)
    state = State(book, door)
    state.ready(0)
    return Guard(bow_app(state), door, UPLOADS)


def bow_app(state: State) -> Starlette:
    """The pages of one bow."""
    from shaftwright.web import changes, entries, exports, launches, noted, pages

    app = _serving(
        [Route("/static/{name}", static), *pages.ROUTES, *launches.ROUTES, *changes.ROUTES,
         *entries.ROUTES, *noted.ROUTES, *exports.ROUTES],
        [state],
        {HTTPException: _not_there, TooLarge: _too_large, ShaftwrightError: _no_answer},
    )  # fmt: skip
    app.state.shaftwright = state
    return app


def several(folder: Path, bows: Sequence[Path], door: Door) -> Starlette:
    """The pages of several bows, and one to choose a bow."""
    states = {bow.name: State(Workbook(bow), door, f"{BOWS}/{quote(bow.name)}") for bow in bows}

    def choose(_: Request) -> Response:
        given = [(state.at, name, state.papers()) for name, state in states.items()]
        text = templates().get_template("bows.html").render(
            at="", path="/", pages=(), token=door.token, version=__version__, folder=folder.name,
            now=None, papers=None, bows=given,
        )  # fmt: skip
        return HTMLResponse(text)

    routes = [Route("/", choose), Route("/static/{name}", static), Mount(BOWS, _Bows(states))]
    return _serving(routes, states.values())


def _serving(
    routes: Sequence[BaseRoute],
    states: Collection[State],
    handlers: Mapping[Any, Any] | None = None,
) -> Starlette:
    """An application that ends the work of its bows with itself."""

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        for state in states:
            state.close()

    app = Starlette(routes=routes, lifespan=lifespan, exception_handlers=handlers)
    # a redirect to the same place with a slash would be built from the Host header
    app.router.redirect_slashes = False
    return app


class _Bows:
    """Hands a request on to the bow that its address names, by a fixed list of names."""

    def __init__(self, states: Mapping[str, State]) -> None:
        self.apps = {name: bow_app(state) for name, state in states.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The pages of one bow; the page to choose one where there is none of that name."""
        name, slash, _ = scope["path"].removeprefix(f"{BOWS}/").partition("/")
        if name in self.apps and slash:
            await self.apps[name]({**scope, "root_path": f"{BOWS}/{name}"}, receive, send)
        else:
            await RedirectResponse("/", 303)(scope, receive, send)
