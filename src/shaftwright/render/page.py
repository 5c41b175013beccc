"""Pages that need no network: report, card and sheet; in their templates what people wrote is always text."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
from importlib.resources import files
from typing import Any, Final

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from shaftwright import __version__
from shaftwright.answers.card.card import SECTIONS, Card
from shaftwright.answers.report import Report
from shaftwright.answers.sheet.result import Row, Sheet
from shaftwright.errors import printable
from shaftwright.parameters import setting
from shaftwright.render.pictures.bareshaft import progress_figure, target_view
from shaftwright.render.pictures.choice import band_figure, ladder_figure
from shaftwright.render.pictures.figure import css, to_svg
from shaftwright.render.pictures.map import MapSheet, map_figure
from shaftwright.render.screens import card as cards
from shaftwright.render.screens import choose as choose_words
from shaftwright.render.screens import next as plans
from shaftwright.render.screens.explain import basis_words
from shaftwright.render.screens.shop import sections
from shaftwright.render.words import chances, own_told, spine_told
from shaftwright.units import REFERENCE_YD, cap, distance_told, in_100, inches


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
        "first_up": lambda text: cap(str(text)),
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


_MOST_LINES = 8


def card_html(card: Card) -> str:
    """The card as one HTML file: a sheet of A4."""
    changed = cards.difference_words(card.differences) if card.last is not None else []
    left = len(changed) - _MOST_LINES
    grave = [c.text for c in card.cautions if c.severity == "danger"]
    return saved_page(
        "card.html", "card.css", card=card, rig=card.question.rig, band=cards.band_words(card),
        proved=cards.broadhead_words(card), facts_of=facts_of(card), done=cards.done_words(card), grave=grave,
        changed=changed[:_MOST_LINES] + ([f"and {left} more"] if left > 0 else []),
        warnings=[*own_told(card.question), *card.question.warnings, *card.warnings][:_MOST_LINES],
    )  # fmt: skip


def facts_of(card: Card) -> dict[str, object]:
    """Heading -> lines, of the sections that have any."""
    return {cards.HEADINGS[name]: lines for name in SECTIONS if (lines := card.lines(name))}


def sheet_html(sheet: Sheet) -> str:
    """The whole file."""
    rows = [_row(sheet, row) for row in sheet.rows]
    rig = sheet.question.rig
    nocking = rig.bow.nocking_point
    data = {
        "rows": rows, "stop": sheet.stop_in, "height": sheet.height_in,
        "cant": rig.bow.cant_deg or 0.0, "metric": rig.units == "metric",
        "void": setting("evidence.void_sd_in"), "flier": setting("evidence.flier_in"),
        "step": setting("diagnosis.nocking_step_in"),
        "nocking": None if nocking is None else nocking.above_square_in,
    }  # fmt: skip
    told = json.dumps(data, ensure_ascii=True)
    # another sheet on the same phone keeps its own shots
    name = hashlib.sha256(f"{rig.name} {told}".encode()).hexdigest()[:12]
    code = (files("shaftwright.render") / "templates" / "sheet.js").read_text(encoding="utf-8")
    # nothing that a stock's names hold can end the script
    script = f'const KEY = "sheet-{name}";\nconst SHEET = {told.replace("<", chr(92) + "u003c")};\n{code}'
    return saved_page(
        "sheet.html", "sheet.css", script, sheet=sheet, rows=rows, rig=rig, how=plans.how_to(sheet),
        begin=plans.begin_told(sheet),
        twenty=distance_told(REFERENCE_YD, rig.units),
    )  # fmt: skip


def _row(sheet: Sheet, row: Row) -> dict[str, Any]:
    """A row as page and face need it."""
    here, units = row.distance_yd, sheet.question.rig.units
    far = abs(here - REFERENCE_YD) > 0.1
    both = zip(*(plans.lines(sheet, row, at) for at in (here, REFERENCE_YD)), strict=True)
    return {
        "number": row.number, "arrow": plans.arrow_told(row), "same": str(row.own),
        "again": plans.again_told(row), "yards": here, "distance": distance_told(here, units),
        "within": row.within_in,
        "ways": [
            {"go": plans.goes_to(row, way), "row": way.row,
             "side": plans.side_told(sheet, way), "to": way.to_in}
            for way in plans.in_order(row)
        ],
        "lines": [
            {"told": told, "at20": at20 if far else "", "go": go} for (told, go), (at20, _) in both
        ],
        "entry": {k: v for k, v in row.entry.items() if k != "distance_yd"}, "change": row.change,
    }  # fmt: skip


#: causes less likely than this are not listed
LEAST_CHANCE: Final = 0.03
_SECTIONS: Final = {
    "shots": "Arrows shot",
    "bare-shafts": "What the bare shafts say",
    "spine": "Spine that suits",
    "where": "Length and weight up front",
    "narrow": "What would narrow it most",
    "builds": "Arrows",
    "list": "Shopping list",
    "rules": "Rule by rule",
    "card": "Setup card",
    "cautions": "Cautions",
}


def report_html(told: Report) -> str:
    """The whole page."""
    asked, choice, found, units = (
        told.question,
        told.choice,
        told.diagnosis,
        told.question.rig.units,
    )
    now = asked.now
    coming = [plans.expect_told(now.expect, units)] if now.expect is not None else []
    gravest_first = sorted(choice.cautions, key=lambda c: c.severity != "danger")
    names = _names(told)
    lists = {} if told.shopping is None else dict(sections(told.shopping))
    return saved_page(
        "report.html", "report.css", told=told, asked=asked, choice=choice, card=told.card, now=now,
        names=names, version=__version__, words=choose_words, landed=lambda x: plans.landed(x, units),
        shot_when=plans.shot_when,
        lines=[now.why, " ".join(filter(None, (*coming, now.then))), now.if_not],
        far=distance_told(REFERENCE_YD, units), found=found, causes=_causes(told), basis_words=basis_words,
        target=target_view(found, "target") if found is not None else None,
        progress=progress_figure(told.progress) if told.progress is not None else None,
        band_figure=band_figure(told.bands), map_figure=map_figure(told.map),
        ladder_figure=ladder_figure(told.ladder), lists=lists, facts_of=facts_of(told.card),
        proved=[*cards.done_words(told.card), *cards.broadhead_words(told.card)],
        cautions=gravest_first, own=own_told(asked),
    )  # fmt: skip


def _names(told: Report) -> dict[str, str]:
    """The sections that the data allow: id -> heading."""
    missing = {
        "shots": not told.question.plan.shot,
        "bare-shafts": told.diagnosis is None,
        "builds": told.choice.ranking is None,
        "list": told.shopping is None,
    }
    names = {key: name for key, name in _SECTIONS.items() if not missing.get(key)}
    if told.choice.listed and "builds" in names:
        names["builds"] = "Arrows of this stock"
    return names


def _causes(told: Report) -> list[Any]:
    """The likeliest causes; none for an arrow that is not to be shot, as the checks ask for shots."""
    found = told.diagnosis
    if found is None or found.dangers:
        return []
    likely = [c for c in found.causes if c.chance >= LEAST_CHANCE]
    return [c for axis, most in (("sideways", 4), ("vertical", 2))
            for c in [c for c in likely if c.axis == axis][:most]]  # fmt: skip
