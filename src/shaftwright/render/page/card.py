"""The setup card as one printable page that needs no network and no script."""

from __future__ import annotations

from shaftwright.answers.card.card import SECTIONS, Card
from shaftwright.render.page.environment import saved_page
from shaftwright.render.screens.card import (
    HEADINGS,
    band_words,
    broadhead_words,
    difference_words,
    done_words,
)
from shaftwright.render.words import own_told

_MOST_LINES = 8


def card_html(card: Card) -> str:
    """The card as one HTML file: a sheet of A4."""
    changed = difference_words(card.differences) if card.last is not None else []
    left = len(changed) - _MOST_LINES
    grave = [c.text for c in card.cautions if c.severity == "danger"]
    return saved_page(
        "card.html", "card.css", card=card, rig=card.question.rig, band=band_words(card),
        proved=broadhead_words(card), facts_of=facts_of(card), done=done_words(card), grave=grave,
        changed=changed[:_MOST_LINES] + ([f"and {left} more"] if left > 0 else []),
        warnings=[*own_told(card.question), *card.question.warnings, *card.warnings][:_MOST_LINES],
    )  # fmt: skip


def facts_of(card: Card) -> dict[str, object]:
    """Heading -> lines, of the sections that have any."""
    return {HEADINGS[name]: lines for name in SECTIONS if (lines := card.lines(name))}
