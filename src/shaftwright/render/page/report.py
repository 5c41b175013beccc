"""The report: one HTML file that needs no network and no script, for screen, phone and paper."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files

from shaftwright import __version__
from shaftwright.answers.report import Report
from shaftwright.render.page.answer import (
    band_section,
    builds_section,
    map_section,
    narrow_section,
)
from shaftwright.render.page.markup import Markup, element, items, join, trusted
from shaftwright.render.page.range import bareshaft_section, shopping_section, shots_section
from shaftwright.render.page.rig import card_section, cautions_section, rules_section
from shaftwright.render.pictures.figure import css as palette_css
from shaftwright.render.screens.next import expect_told


def report_html(told: Report) -> str:
    """The whole page."""
    style = stylesheet()
    sections = [s for s in _sections(told) if s is not None]
    links = [element("li", element("a", name, href=f"#{key}")) for key, name, _ in sections]
    page = element(
        "div", _header(told), element("nav", element("ul", *links), aria_label="On this page"),
        element("main", _mind(told), *(body for _, _, body in sections), id="main"), _footer(told),
        class_="page",
    )  # fmt: skip
    skip = element("a", "To the answer", href="#main", class_="skip")
    title = f"{told.question.rig.name}: arrows for {told.question.purpose_rule.label}"
    return saved_page(title, style, skip, page)


def stylesheet() -> str:
    """The report's whole style sheet: the palette, light and dark, and the page."""
    page = files("shaftwright") / "render" / "templates" / "report.css"
    return palette_css() + page.read_text(encoding="utf-8")


def saved_page(title: str, style: str, *body: object) -> str:
    """A whole HTML file that fetches nothing and runs nothing."""
    head = element(
        "head", element("meta", charset="utf-8"),
        element("meta", http_equiv="Content-Security-Policy", content=content_policy(style)),
        element("meta", name="viewport", content="width=device-width, initial-scale=1"),
        element("meta", name="color-scheme", content="light dark"),
        element("meta", name="referrer", content="no-referrer"),
        element("title", title),
        trusted(f"<style>{style}</style>"),
    )  # fmt: skip
    return f"<!DOCTYPE html>\n{element('html', head, element('body', *body), lang='en')}\n"


def content_policy(style: str) -> str:
    """The content policy that allows this one style sheet and nothing else."""
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"


def _sections(told: Report) -> list[tuple[str, str, Markup] | None]:
    return [
        shots_section(told),
        bareshaft_section(told),
        band_section(told),
        map_section(told),
        narrow_section(told),
        builds_section(told),
        shopping_section(told),
        rules_section(told),
        card_section(told),
        cautions_section(told),
    ]


def _header(told: Report) -> Markup:
    """The one thing to do now, why, what it means when it comes and when not, and its cautions."""
    asked = told.question
    now = asked.plan.next
    day = element("time", told.date.isoformat(), datetime=told.date.isoformat())
    job = [asked.rig.name, f"{asked.rig.bow.kind}, for {asked.purpose_rule.label}"]
    coming = [expect_told(now.expect, asked.rig.units)] if now.expect is not None else []
    lines = [now.why, " ".join(filter(None, (*coming, now.then))), now.if_not]
    return element(
        "header", element("p", *(f"{part} \u00b7 " for part in job), day, class_="job"),
        element("h1", now.do),
        *(element("p", line, class_="lead") for line in lines if line),
        items(element("strong", caution) for caution in now.cautions),
    )  # fmt: skip


def _mind(told: Report) -> Markup | None:
    """What was left out or has no answer, before anything else is read."""
    lines = [*told.question.warnings, *told.gaps]
    if not lines:
        return None
    return element("div", items(lines), class_="mind", role="note", aria_label="Mind")


def _footer(told: Report) -> Markup:
    lines = [
        f"Shaftwright {__version__}. Every figure is an estimate with its doubt; your own shots decide.",
        "The bow maker's word, local law and a coach who sees you shoot go before this page.",
    ]
    return element("footer", join(element("p", line) for line in lines))
