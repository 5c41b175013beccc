"""Several bows that lie in one folder: a page to choose one, and each below an address of its own.

The bow is in the address, so two tabs on two bows cannot mix.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Mapping, Sequence
from contextlib import asynccontextmanager
from pathlib import Path
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.types import Receive, Scope, Send

from shaftwright import __version__
from shaftwright.web.answers import State
from shaftwright.web.app import bow_app, static, templates
from shaftwright.web.guard import Door
from shaftwright.web.workbook import Workbook

BOWS = "/bow"


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


def several(folder: Path, bows: Sequence[Path], door: Door) -> Starlette:
    """The pages of several bows."""
    states = {bow.name: State(Workbook(bow), door, f"{BOWS}/{quote(bow.name)}") for bow in bows}

    def choose(_: Request) -> Response:
        given = [(state.at, name, state.papers()) for name, state in states.items()]
        text = templates().get_template("bows.html").render(
            at="", path="/", pages=(), token=door.token, version=__version__, folder=folder.name,
            now=None, bows=given,
        )  # fmt: skip
        return HTMLResponse(text)

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        for state in states.values():
            state.close()

    routes = [Route("/", choose), Route("/static/{name}", static), Mount(BOWS, _Bows(states))]
    app = Starlette(routes=routes, lifespan=lifespan)
    app.router.redirect_slashes = False
    return app
