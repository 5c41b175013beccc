"""The closed list of what rules may speak of: each with its unit and reference value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from shaftwright.arrays import Array

Value = float | str | Array
FactMap = dict[str, Value]


@dataclass(frozen=True)
class Fact:
    """One quantity or choice of the closed list; a choice's first case is the reference condition."""

    reference: float | str
    unit: str = ""
    choices: tuple[str, ...] = ()
    of_build: bool = False


def _choice(*cases: str) -> Fact:
    return Fact(cases[0], choices=cases)


def _build(reference: float, unit: str) -> Fact:
    return Fact(reference, unit, of_build=True)


FACTS: Final[dict[str, Fact]] = {
    "archer.release": _choice("split", "three_under", "mechanical", "unknown"),
    "bow.kind": _choice("recurve", "hybrid", "longbow", "selfbow", "unknown"),
    "bow.limbs": _choice("standard", "high_performance", "deep_curve", "unknown"),
    "bow.rest": _choice("shelf", "elevated", "plunger", "unknown"),
    "bow.plunger.spring": _choice("medium", "soft", "stiff", "unknown"),
    "bow.plate.material": _choice("leather", "fur", "hard", "none", "unknown"),
    # how well the shaft's sideways place is known
    "bow.side_position": _choice("stated", "plate_not_stated", "by_not_stated", "set_by_rest",
                                 "window_unknown", "window_unknown_longbow", "window_unknown_selfbow"),
    "bow.brace_height": _choice("stated", "unknown"),
    # where the draw weight was taken
    "bow.draw_weight.at": _choice("own_draw", "marked", "curve"),
    "string.material": _choice("polyester", "low_stretch", "unknown"),
    # whether a chronograph has spoken
    "speed.measured": _choice("no", "yes"),
    "draw_length_in": Fact(28.0, "in"),
    # own draw beyond the draw the weight is marked at
    "draw_beyond_marked_in": Fact(0.0, "in"),
    # brace height beyond the usual one of the bow's kind
    "brace_beyond_usual_in": Fact(0.0, "in"),
    "plunger_turns_beyond_usual": Fact(0.0, "turns"),
    "string_mass_gr": Fact(145.0, "gr"),
    # what silencers, by weight and place, count as if spread along the string
    "silencers_as_string_gr": Fact(0.0, "gr"),
    # measured speed above the usual of the bow's kind, and its 95 % half width
    "speed_excess_fps": Fact(0.0, "fps"),
    "speed_doubt_fps": Fact(0.0, "fps"),
    # shaft centre further outside the string's plane than on the usual bow of its kind
    "shaft_centre_beyond_usual_in": _build(0.0, "in"),
    "shaft_length_in": _build(28.0, "in"),
    "front_gr": _build(125.0, "gr"),
    # what the insert adds by the front-mass table
    "insert_share_pct": _build(0.0, "%"),
    # collar or outsert
    "collar_gr": _build(0.0, "gr"),
    "tail_gr": _build(25.0, "gr"),
    "rear_taper_in": _build(0.0, "in"),
    # the arrow usually shot from such a bow, of which practice knows what suits
    "usual_length_in": _build(28.0, "in"),
    "usual_front_gr": _build(125.0, "gr"),
    "usual_tail_gr": _build(25.0, "gr"),
    # 1 for a shaft of wood
    "wood_shaft": _build(0.0, ""),
}  # fmt: skip

_WORDS = {
    "low_stretch": "low-stretch", "high_performance": "high-performance", "deep_curve": "deep-curve",
    "three_under": "three under", "plate_not_stated": "not fully stated (no plate given)",
    "by_not_stated": "not fully stated (the cut's distance is missing)",
    "set_by_rest": "set by the rest, not by the riser", "window_unknown": "not known",
    "window_unknown_longbow": "not known, and the handle may not be cut at all",
    "window_unknown_selfbow": "not known, and the handle may not be cut at all",
    "unknown": "of unknown kind",
}  # fmt: skip


def in_words(case: str) -> str:
    """A choice as it reads in a sentence.

    Examples
    --------
    >>> in_words("deep_curve")
    'deep-curve'
    """
    return _WORDS.get(case, case.replace("_", " "))


class Signed(float):
    """A number that may say its sign in words: size, and what follows above and below nought.

    Examples
    --------
    >>> "{0:.1f| fps faster| fps slower} than usual".format(Signed(-3.6))
    '3.6 fps slower than usual'
    """

    def __format__(self, spec: str) -> str:
        plain, *words = spec.split("|")
        if len(words) not in (0, 2):
            raise ValueError("a sign has two words")
        return (
            format(abs(float(self)), plain) + words[self < 0]
            if words
            else format(float(self), plain)
        )


def reference_facts() -> FactMap:
    """The reference conditions of effective bow weight."""
    return {name: fact.reference for name, fact in FACTS.items()}
