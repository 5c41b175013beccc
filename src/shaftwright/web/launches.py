"""The page that shows one build leaving the bow: from above, in words, frame by frame and in motion."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from shaftwright.answers.choose.moves import Seen
from shaftwright.errors import ShaftwrightError
from shaftwright.web.answers import READY_IN
from shaftwright.web.app import app_state, page, said, to
from shaftwright.web.pages import is_part, number

if TYPE_CHECKING:
    from shaftwright.answers.launch.glance import Glance

#: as long as a part of a page waits; a launch takes a second or two
_PART_WAITS: Final = 60.0
_KEPT: Final = 6


def launch_page(request: Request) -> Response:
    """How a build of the map leaves the string, or the way to it."""
    state = app_state(request)
    papers = state.papers()
    if papers.rig is None:
        return to(request, "/")
    query = request.query_params
    waits = _PART_WAITS if is_part(request) else READY_IN
    given: dict[str, Any] = {"papers": papers}
    waiting = given | {"told": "Launching this arrow from your bow, step by step"}
    try:
        answer = state.answer(papers, waits)
        if answer is None:
            return page(request, "waiting.html", waiting)
        noted = answer.noted() if query.get("of") == "shots" else None
        if noted is not None:
            here, arrow = noted
            what, key = arrow.spec.shaft or f"Spine {here.listed.spine_mils:.0f}", "of shots"
        else:
            place = answer.place_of(query.get("shaft", ""))
            here = answer.seen(place, number(query.get("length")), number(query.get("front")))
            b = here.listed
            what = b.shaft or f"A usual {b.spine_mils:.0f}"
            key = f"{b.shaft}/{b.length_in:.6g}/{b.front_gr:.6g}"
        found = state.launch(papers, here.build, key, waits)
    except ShaftwrightError as error:
        return said(request, "This launch cannot be shown.", str(error).splitlines(), 200)
    if found is None:
        return page(request, "waiting.html", waiting)
    return page(request, "launch.html", given | launch_given(what, here, found, noted is not None))


def launch_given(what: str, here: Seen, found: Glance, shot: bool) -> dict[str, Any]:
    """What the page of one launch shows."""
    from shaftwright.answers.launch.story import agreement, sides, story
    from shaftwright.render.screens.build import builds_name

    seen, b = found.seen, here.listed
    return {
        "what": what,
        "shot": shot,
        "here": here,
        "seen": seen,
        "found": found,
        "sides": sides(seen),
        "agreement": agreement(seen, found.stiff_share),
        "story": story(seen),
        "riser": "right" if seen.pictures.riser_side < 0 else "left",
        "back": "/?" + urlencode({"shaft": b.shaft, "length": b.length_in, "front": b.front_gr}),
        **_pictures(found, f"{builds_name(here.build)} on {seen.question.rig.name}"),
    }


@functools.lru_cache(maxsize=_KEPT)
def _pictures(found: Glance, name: str) -> dict[str, Any]:
    """The strip of frames and the moving picture, each for wide and narrow screens."""
    from markupsafe import Markup

    from shaftwright.render.launch import animation as moving
    from shaftwright.render.launch import picture as frames
    from shaftwright.render.pictures.figure import to_svg

    seen = found.seen
    strips = (frames.IN_FRAMES, frames.IN_NARROW_FRAMES)
    sheets = (moving.IN_PAGE, moving.IN_NARROW_PAGE)
    return {
        "strips": [Markup(to_svg(frames.launch_figure(seen, name, strip))) for strip in strips],
        "strips_wider": [frames.frames_exaggeration(seen, strip) for strip in strips],
        "moving": [Markup(moving.launch_animation(seen, name, sheet)) for sheet in sheets],
        "moving_wider": [moving.exaggeration(seen, sheet) for sheet in sheets],
        "slowed": moving.slowed(seen),
    }


ROUTES: Final = [Route("/launch", launch_page)]
