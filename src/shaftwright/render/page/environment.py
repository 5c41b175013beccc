"""How every page is made: one set of templates, in which what people wrote is always text."""

from __future__ import annotations

import base64
import functools
import hashlib
from importlib.resources import files
from typing import Any

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from shaftwright.errors import printable
from shaftwright.render.pictures.figure import css, to_svg
from shaftwright.render.pictures.map import MapSheet
from shaftwright.render.words import chances, spine_told
from shaftwright.units import in_100, inches


@functools.cache
def environment(*packages: str) -> Environment:
    """The templates of this room and of other packages.

    Everything put in is escaped, and control and writing-direction characters are taken out of it,
    unless it was made as markup.
    """
    made = Environment(
        loader=ChoiceLoader([PackageLoader(name) for name in ("shaftwright.render", *packages)]),
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_clean,
    )  # fmt: skip
    made.filters |= {
        # not torn apart at the end of a line
        "inches": lambda length_in: Markup(escape(inches(length_in).replace(" ", "\u00a0"))),
        "chances": chances,
        "spine": spine_told,
        "in_100": in_100,
        "words": lambda name: str(name).replace("-", " ").replace("_", " "),
        # the template engine's own "capitalize" would make small letters of the rest: of names too
        "first_up": lambda text: str(text)[:1].upper() + str(text)[1:],
        # a value that comes back with the form must be the one that was written
        "as_written": lambda text: Markup(escape(text)),
        "picture": lambda drawn: Markup(
            drawn.svg if isinstance(drawn, MapSheet) else to_svg(drawn)
        ),
    }
    return made


def _clean(value: Any) -> Any:
    return printable(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def saved_page(template: str, style: str, script: str = "", **given: Any) -> str:
    """A whole HTML file that fetches nothing, with a style sheet inside; it runs its own script only."""
    sheet = css() + (files("shaftwright.render") / "templates" / style).read_text(encoding="utf-8")
    runs = f"script-src {_digest(script)}; " if script else ""
    policy = (
        f"default-src 'none'; style-src {_digest(sheet)}; {runs}base-uri 'none'; form-action 'none'"
    )
    return environment().get_template(template).render(
        given, style=Markup(sheet), script=Markup(script), policy=policy
    )  # fmt: skip


def _digest(text: str) -> str:
    """What the policy of a page allows by its content."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
