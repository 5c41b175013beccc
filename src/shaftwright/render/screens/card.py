"""The setup card as text."""

from __future__ import annotations

from collections.abc import Sequence

from shaftwright.answers.card.card import SECTIONS, Card, Difference, Line
from shaftwright.answers.card.proof import Proof
from shaftwright.physics.spine import spine_marked
from shaftwright.render.words import band_told, bullets, closing, fives, opening, short, tame, wrap
from shaftwright.units import aside_told, distance_told, in_100, inches

#: section -> heading
HEADINGS = {
    "archer": "Archer", "bow": "Bow", "rest": "Where the arrow lies", "string": "String", "arrow": "Arrow",
    "measured": "Measured",
}  # fmt: skip
_SHORT = {"rest": "Rest"}
_MOST_TESTS, _MOST_CHANGES = 3, 6
_COLUMN, _NARROW = 26, 10
_LONGEST = 70


def card_text(card: Card, full: bool = False) -> str:
    """The card in 80 columns: what to do, the facts part by part, what is missing."""
    asked = card.question
    about = f"Setup card: {asked.rig.name}, for {asked.purpose_rule.label}, {card.date.isoformat()}"
    tests = broadhead_words(card, full)
    head = [
        wrap(about), wrap(band_words(card)),
        *(wrap(line, "  ", "" if i == 0 else "  ") for i, line in enumerate(tests)),
        *(wrap(line, "  ", "") for line in done_words(card)),
    ]  # fmt: skip
    parts = [opening(asked), "\n".join(head), _facts(card, full), _missing(card, full)]
    if card.last is not None:
        parts.append(_against_last(card, full))
    if card.warnings:
        parts.append(bullets(map(tame, card.warnings), "! "))
    if full:
        grave = [c.text for c in card.cautions if c.severity == "danger"]
        parts.append("Cautions\n" + bullets(grave, "! "))
    return "\n\n".join((*parts, closing(asked, full=full)))


def _facts(card: Card, full: bool) -> str:
    """Every fact on a line of its own, or each part as one paragraph."""
    found = [(name, card.lines(name)) for name in SECTIONS]
    if full:
        rows = ("\n".join([HEADINGS[name], *map(_line, lines)]) for name, lines in found if lines)
        return "\n\n".join(rows)
    return "\n".join(
        wrap(
            "; ".join(f"{line.label} {tame(line.value)}" for line in lines), " " * _NARROW,
            _SHORT.get(name, HEADINGS[name]).ljust(_NARROW),
        )
        for name, lines in found if lines
    )  # fmt: skip


def _line(line: Line) -> str:
    return wrap(tame(line.value), " " * _COLUMN, f"  {line.label} ".ljust(_COLUMN))


def _missing(card: Card, full: bool) -> str:
    if not card.missing:
        return "Nothing is missing to set this bow up again."
    if full:
        return "Missing to set this bow up again:\n" + bullets(card.missing, "[ ] ")
    names = ", ".join(line.partition(":")[0] for line in card.missing)
    return wrap(f"Missing to set this bow up again: {names}. How to get them: --full", "  ", "")


def band_words(card: Card) -> str:
    """The spines that suit, always with what they stand at."""
    band, one = card.band, card.one
    at = f"{inches(round(16 * band.length_in) / 16)}, {fives(band.front_gr)} gr up front"
    if one is None:
        told = band_told(band, card.question.only_wood)
        return f"Spine that suits at {at}: {told}, {in_100(band.chance)}; no arrow is on this card yet."
    pounds = one.listed.wood_lb
    told = band_told(band, pounds is not None)
    own = spine_marked(one.listed.spine_mils, pounds is not None)
    # with its own feathers and shaft, so not quite what `choose` says of the usual one
    return f"Spine that suits this arrow, {at}: {told}, {in_100(band.chance)}; it has {own}."


def done_words(card: Card) -> list[str]:
    """Once the dozen is made: the line that orders it again, and the end that says whether it is in tune."""
    if card.quiver_label is None:
        return []
    then = card.question.now
    return [f"Quiver label: {card.quiver_label}.", *filter(None, (then.then, then.if_not))]


def broadhead_words(card: Card, full: bool = True) -> list[str]:
    """Whether broadheads are proved, and the tests behind it; nothing where none are due or shot."""
    if not card.broadheads:
        return ["Broadheads: NOT PROVED, none shot yet."] if card.broadheads_due else []
    units = card.question.rig.units
    if card.proved:
        first = f"Broadheads: PROVED, {_test(card.proved[0], units)}."
        others = [p for p in card.broadheads if p is not card.proved[0]]
    else:
        newest = card.broadheads[0]
        first = f"Broadheads: NOT PROVED: {_test(newest, units)}, {newest.why}."
        others = list(card.broadheads[1:])
    most = _MOST_TESTS if full else 0
    lines = [
        f"also {_test(p, units)}" + (f": {p.why}" if p.why else ": together") for p in others[:most]
    ]
    if full and len(others) > most:
        lines.append(f"and {len(others) - most} tests more in the notebook")
    return [first, *lines]


def _test(proof: Proof, units: str) -> str:
    when = "on an unknown day" if proof.date is None else proof.date.isoformat()
    text = f"{when} at {distance_told(proof.distance_yd, units)} with {tame(proof.arrow)}"
    if proof.offset_in is not None:
        across, up = proof.offset_in
        high = aside_told(up, units, ("low", "high"))
        text += f" ({aside_told(across, units)} and {high} of the field points)"
    return text


def _against_last(card: Card, full: bool) -> str:
    assert card.last is not None
    head = f"Against the card of {short(card.last.date, 20)}:"
    if not card.differences:
        return f"{head} nothing has changed."
    told = difference_words(card.differences)
    shown = told if full else told[:_MOST_CHANGES]
    if len(told) > len(shown):
        shown = [*shown, f"and {len(told) - len(shown)} more with --full"]
    return head + "\n" + bullets(shown)


def difference_words(differences: Sequence[Difference]) -> list[str]:
    """What is not as on the last card: changes one by one, then what came and what went."""
    both = [d for d in differences if d.was and d.now]
    lines = [f"{_name(d)}: {short(d.was, _LONGEST)} -> {short(d.now, _LONGEST)}" for d in both]
    gone = [f"{_name(d)} ({short(d.was, 24)})" for d in differences if not d.now]
    came = [_name(d) for d in differences if not d.was]
    lines += [f"not known now: {', '.join(gone)}"] if gone else []
    lines += [f"new on the card: {', '.join(came)}"] if came else []
    return [tame(line) for line in lines]


def _name(difference: Difference) -> str:
    return short(difference.label, 30)
