"""The setup card as one printable page that needs no network and no script."""

from __future__ import annotations

from importlib.resources import files

from shaftwright.answers.card.card import SECTIONS, Card
from shaftwright.render.page.markup import Markup, element, items
from shaftwright.render.page.report import saved_page
from shaftwright.render.pictures.figure import css as palette_css
from shaftwright.render.screens.card import (
    HEADINGS,
    band_words,
    broadhead_words,
    difference_words,
    done_words,
)

_LONGEST = 150
_MOST_LINES = 8


def card_html(card: Card) -> str:
    """The card as one HTML file: a sheet of A4."""
    style = palette_css() + (files("shaftwright") / "render" / "templates" / "card.css").read_text(
        "utf-8"
    )
    rig = card.question.rig
    day = card.date.isoformat()
    proved = broadhead_words(card)
    about = f"setup card for {card.question.purpose_rule.label}, "
    top = element(
        "header", element("p", card.question.plan.next.do, class_="do"), element("h1", rig.name),
        element("p", about, element("time", day, datetime=day), class_="told"),
        element("p", band_words(card), class_="lead"),
        element("p", *_marked(proved[0]), class_="lead") if proved else None,
        items(map(_cut, proved[1:])),
    )  # fmt: skip
    sheet = element("div", *_sections(card), class_="sheet")
    body = element("main", top, sheet, _notes(card), _label(card))
    return saved_page(f"{rig.name}: setup card", style, body)


def _marked(text: str) -> list[object]:
    """The verdict on broadheads, its two loud words in bold."""
    for words in ("NOT PROVED", "PROVED"):
        before, found, after = text.partition(words)
        if found:
            return [before, element("strong", found), after]
    return [text]


def _cut(text: str) -> str:
    """A text that would push the card off its page, cut; the whole of it is in --json."""
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def _sections(card: Card) -> list[Markup]:
    found = []
    for section in SECTIONS:
        lines = card.lines(section)
        if not lines:
            continue
        rows = [
            element("div", element("dt", line.label), element("dd", _cut(line.value)))
            for line in lines
        ]
        found.append(element("section", element("h2", HEADINGS[section]), element("dl", *rows)))
    return found


def _label(card: Card) -> Markup | None:
    """Once the dozen is made: a strip to cut out and put in the quiver, and the end that checks it."""
    if card.quiver_label is None:
        return None
    label, *check = done_words(card)
    strip = element("p", f"{card.question.rig.name}: {_cut(label)}", class_="strip")
    return element("section", strip, items(check), class_="label")


def _notes(card: Card) -> Markup:
    """What is missing, what changed, and the cautions, below the facts."""
    parts: list[Markup | None] = []
    if not card.missing:
        parts.append(element("p", "Nothing is missing to set this bow up again."))
    else:
        boxes = items((f"\u2610 {line}" for line in card.missing), class_="boxes")
        parts += [element("section", element("h2", "Missing to set this bow up again"), boxes)]
    if card.last is not None:
        told = difference_words(card.differences)
        lines = [_cut(line) for line in told[:_MOST_LINES]]
        lines += [f"and {len(told) - _MOST_LINES} more"] if len(told) > _MOST_LINES else []
        listed = items(lines) or element("p", "Nothing has changed.")
        parts.append(
            element("section", element("h2", f"Against the card of {_cut(card.last.date)}"), listed)
        )
    grave = [c.text for c in card.cautions if c.severity == "danger"]
    warnings = [*card.question.warnings, *card.warnings][:_MOST_LINES]
    mind = items([*map(_cut, warnings), *grave])
    if mind is not None:
        parts.append(element("section", element("h2", "Mind"), mind))
    return element("div", *parts, class_="notes")
