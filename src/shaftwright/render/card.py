"""The setup card as text."""

from __future__ import annotations

from collections.abc import Sequence

from shaftwright.answers.card import SECTIONS, Card, Difference, Line
from shaftwright.answers.card_proof import Proof
from shaftwright.render.words import bullets, chances, short, tame, wrap
from shaftwright.units import inches

#: section -> heading
HEADINGS = {
    "archer": "Archer", "bow": "Bow", "rest": "Where the arrow lies", "string": "String", "arrow": "Arrow",
    "measured": "Measured",
}  # fmt: skip
_MOST_TESTS = 3
_COLUMN = 26
_LONGEST = 70


def card_text(card: Card) -> str:
    """The whole card in 80 columns.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    str
        Text.
    """
    asked = card.question
    parts = [
        wrap(
            f"Setup card: {asked.rig.name}, for {asked.purpose_rule.label}, {card.date.isoformat()}"
        ),
        wrap(band_words(card)),
        "\n".join(
            wrap(line, "  ", "" if i == 0 else "  ") for i, line in enumerate(broadhead_words(card))
        ),
    ]
    for section in SECTIONS:
        lines = [line for line in card.lines if line.section == section]
        if lines:
            parts.append("\n".join([HEADINGS[section], *map(_line, lines)]))
    if card.missing:
        parts.append("Missing to build this rig again:\n" + bullets(card.missing, "[ ] "))
    else:
        parts.append("Nothing is missing to build this rig again.")
    if card.last is not None:
        parts.append(_against_last(card))
    notes = [*(c.text for c in card.cautions if c.severity == "danger"), *card.warnings]
    if notes:
        parts.append(bullets(map(tame, notes), "! "))
    return "\n\n".join(parts)


def _line(line: Line) -> str:
    return wrap(tame(line.value), " " * _COLUMN, f"  {line.label} ".ljust(_COLUMN))


def band_words(card: Card) -> str:
    """The spine band, always with what it stands at.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    str
        A sentence or two.
    """
    band = card.band
    text = (
        f"Spine: stiffest {band.low:.0f}, weakest {band.high:.0f} ({chances(band.chance)}), at "
        f"{inches(round(16 * band.length_in) / 16)} with {band.front_gr:.0f} gr up front"
    )
    if not card.build_named:
        return f"{text}; no arrow is on this card."
    if card.one is None:
        return f"{text}."
    return (
        f"{text}. The arrow below has {card.one.listed.spine_mils:.0f}; chance that it matches "
        f"{card.one.listed.chance_match:.2f}."
    )


def broadhead_words(card: Card) -> list[str]:
    """Whether broadheads are proved, and the tests behind it.

    Parameters
    ----------
    card : Card
        The card.

    Returns
    -------
    list of str
        The verdict first; empty where the purpose takes none and none was shot.
    """
    if not card.broadheads:
        return ["Broadheads: NOT PROVED, none shot yet."] if card.broadheads_due else []
    if card.proved:
        first = f"Broadheads: PROVED, {_test(card.proved[0])}."
        others = [p for p in card.broadheads if p is not card.proved[0]]
    else:
        newest = card.broadheads[0]
        first = f"Broadheads: NOT PROVED: {_test(newest)}, {newest.why}."
        others = list(card.broadheads[1:])
    lines = [
        f"also {_test(p)}" + (f": {p.why}" if p.why else ": together") for p in others[:_MOST_TESTS]
    ]
    if len(others) > _MOST_TESTS:
        lines.append(f"and {len(others) - _MOST_TESTS} tests more in the notebook")
    return [first, *lines]


def _test(proof: Proof) -> str:
    when = "on an unknown day" if proof.date is None else proof.date.isoformat()
    text = f"{when} at {proof.distance_yd:g} yd with {tame(proof.arrow)}"
    if proof.offset_in is not None:
        across, up = proof.offset_in
        text += (
            f" ({abs(across):.1f} in {'right' if across >= 0 else 'left'} and {abs(up):.1f} in "
            f"{'high' if up >= 0 else 'low'} of the field points)"
        )
    return text


def _against_last(card: Card) -> str:
    assert card.last is not None
    head = f"Against the card of {short(card.last.date, 20)}:"
    if not card.differences:
        return f"{head} nothing has changed."
    return head + "\n" + bullets(difference_words(card.differences))


def difference_words(differences: Sequence[Difference]) -> list[str]:
    """What is not as on the last card: changes one by one, then what came and what went.

    Parameters
    ----------
    differences : sequence of Difference
        What it was and is.

    Returns
    -------
    list of str
        Short lines.
    """
    both = [d for d in differences if d.was and d.now]
    lines = [f"{_name(d)}: {short(d.was, _LONGEST)} -> {short(d.now, _LONGEST)}" for d in both]
    gone = [f"{_name(d)} ({short(d.was, 24)})" for d in differences if not d.now]
    came = [_name(d) for d in differences if not d.was]
    lines += [f"not known now: {', '.join(gone)}"] if gone else []
    lines += [f"new on the card: {', '.join(came)}"] if came else []
    return [tame(line) for line in lines]


def _name(difference: Difference) -> str:
    return short(difference.label, 30)
