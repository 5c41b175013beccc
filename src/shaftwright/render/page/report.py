"""The report: one HTML file that needs no network and no script, for screen, phone and paper."""

from __future__ import annotations

from typing import Any, Final

from shaftwright import __version__
from shaftwright.answers.report import Report
from shaftwright.render.page.card import facts_of
from shaftwright.render.page.environment import saved_page
from shaftwright.render.pictures.band import band_figure
from shaftwright.render.pictures.bareshaft import target_view
from shaftwright.render.pictures.ladder import ladder_figure
from shaftwright.render.pictures.map import map_figure
from shaftwright.render.pictures.progress import progress_figure
from shaftwright.render.screens import choose as choose_words
from shaftwright.render.screens.card import broadhead_words, done_words
from shaftwright.render.screens.explain import basis_words
from shaftwright.render.screens.next import expect_told, landed
from shaftwright.render.screens.shop import sections
from shaftwright.render.words import own_told
from shaftwright.units import distance_told

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
    now = asked.plan.next
    coming = [expect_told(now.expect, units)] if now.expect is not None else []
    gravest_first = sorted(choice.cautions, key=lambda c: c.severity != "danger")
    names = _names(told)
    return saved_page(
        "report.html", "report.css", told=told, asked=asked, choice=choice, card=told.card, now=now,
        names=names, version=__version__, words=choose_words, landed=lambda x: landed(x, units),
        lines=[now.why, " ".join(filter(None, (*coming, now.then))), now.if_not],
        far=distance_told(20, units), found=found, causes=_causes(told), basis_words=basis_words,
        target=target_view(found, "target") if found is not None else None,
        progress=progress_figure(told.progress) if told.progress is not None else None,
        band_figure=band_figure(told.bands, "band"), map_figure=map_figure(told.map, "map"),
        ladder_figure=ladder_figure(told.ladder, "ladder"), lists=_lists(told),
        proved=[*done_words(told.card), *broadhead_words(told.card)], facts_of=facts_of(told.card),
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


def _lists(told: Report) -> dict[str, Any]:
    return {} if told.shopping is None else dict(sections(told.shopping))
