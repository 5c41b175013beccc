"""The page that shows one build leaving the bow: from above, in words, frame by frame and in motion."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.choose.map import Seen
from shaftwright.errors import ShaftwrightError
from shaftwright.physics.spine import spine_marked
from shaftwright.render.pictures.figure import to_svg
from shaftwright.render.screens.build import builds_name
from shaftwright.web.answers import READY_IN
from shaftwright.web.app import is_part, opened, page, said, to
from shaftwright.web.pages import number

if TYPE_CHECKING:
    from shaftwright.answers.launch.fit import Glance

#: as long as a part of a page waits; a launch takes a second or two
_PART_WAITS: Final = 60.0
_KEPT: Final = 6


def launch_page(request: Request) -> Response:
    """How a build of the map leaves the string, or the way to it.

    Its motion is asked for on its own: it is most of the bytes, and few look at it.
    """
    state, papers = opened(request)
    if papers.rig is None:
        return to(request, "/")
    query = request.query_params
    waits = _PART_WAITS if is_part(request) else READY_IN
    waiting = {"told": "Launching this arrow from your bow, step by step"}
    try:
        answer = state.answer(papers, waits)
        if answer is None:
            return page(request, "waiting.html", waiting)
        noted = answer.noted() if query.get("of") == "shots" else None
        if noted is not None:
            here, arrow = noted
            spine = spine_marked(here.listed.spine_mils, bool(here.build.wood[0]))
            what, key = arrow.spec.shaft or f"Spine {spine}", "of shots"
        else:
            place = answer.place_of(query.get("shaft", ""))
            here = answer.seen(place, number(query.get("length")), number(query.get("front")))
            b = here.listed
            what = b.shaft or f"A usual {spine_marked(b.spine_mils, bool(here.build.wood[0]))}"
            key = f"{b.shaft}/{b.length_in:.6g}/{b.front_gr:.6g}"
        found = state.launch(papers, here.build, key, waits)
    except ShaftwrightError as error:
        return said(request, "This launch cannot be shown.", str(error).splitlines(), 200)
    if found is None:
        return page(request, "waiting.html", waiting)
    name = f"{builds_name(here.build)} on {found.seen.question.rig.name}"
    if request.url.path.endswith("moving"):
        return page(request, "moving.html", _moving(found, name))
    shot = "of=shots" if noted is not None else ""
    return page(request, "launch.html", _launch_given(what, here, found, name, shot))


def _launch_given(what: str, here: Seen, found: Glance, name: str, shot: str) -> dict[str, Any]:
    """What the page of one launch shows."""
    from shaftwright.answers.launch.seen import agreement, sides, story
    from shaftwright.render.pictures import launch

    seen, b = found.seen, here.listed
    asked = urlencode({"shaft": b.shaft, "length": b.length_in, "front": b.front_gr})
    return {
        "what": what, "shot": shot, "here": here, "seen": seen, "found": found, "sides": sides(seen),
        "agreement": agreement(seen, found.stiff_share), "story": story(seen), "asked": shot or asked,
        "riser": launch.riser_of(seen), **_frames(found, name),
    }  # fmt: skip


@functools.lru_cache(maxsize=_KEPT)
def _frames(found: Glance, name: str) -> dict[str, Any]:
    """The strip of frames."""
    from shaftwright.render.pictures import launch

    return {
        "strip": Markup(to_svg(launch.launch_figure(found.seen, name, alone=False))),
        "strip_wider": launch.frames_exaggeration(found.seen),
    }


@functools.lru_cache(maxsize=_KEPT)
def _moving(found: Glance, name: str) -> dict[str, Any]:
    """The moving picture."""
    from shaftwright.render.pictures import launch

    return {
        "moving": Markup(launch.launch_animation(found.seen, name, alone=False)),
        "wider": launch.exaggeration(found.seen),
        "slowed": launch.slowed(found.seen),
    }


ROUTES: Final = [Route("/launch", launch_page), Route("/launch/moving", launch_page)]
