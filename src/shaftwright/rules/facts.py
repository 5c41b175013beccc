"""The closed list of what rules may speak of: each with its unit, meaning and reference value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Value = float | str | NDArray[np.float64]
FactMap = dict[str, Value]


@dataclass(frozen=True)
class Fact:
    """One quantity or choice of the closed list."""

    name: str
    unit: str
    meaning: str
    reference: float | str
    choices: tuple[str, ...] = ()
    of_build: bool = False


def _number(name: str, unit: str, meaning: str, reference: float, of_build: bool = False) -> Fact:
    return Fact(name, unit, meaning, reference, (), of_build)


def _choice(name: str, meaning: str, *choices: str) -> Fact:
    return Fact(name, "", meaning, choices[0], choices)


#: the first choice is the reference condition
FACTS: Final[dict[str, Fact]] = {
    fact.name: fact
    for fact in (
        _choice("archer.release", "how the string is let go", "split", "three_under", "mechanical",
                "unknown"),
        _choice("bow.kind", "kind of bow", "recurve", "hybrid", "longbow", "selfbow", "unknown"),
        _choice("bow.limbs", "design of the limbs", "standard", "high_performance", "deep_curve", "unknown"),
        _choice("bow.window.cut", "how far the riser is cut", "to_centre", "past_centre", "short_of_centre",
                "none", "unknown"),
        _choice("bow.rest", "what the arrow lies on", "shelf", "elevated", "plunger", "unknown"),
        _choice("bow.plunger.spring", "the plunger's spring", "medium", "soft", "stiff", "unknown"),
        _choice("bow.plate.material", "the strike plate", "leather", "fur", "hard", "none", "unknown"),
        _choice("bow.side_position", "how well the shaft's sideways place is known", "stated",
                "plate_not_stated", "by_not_stated", "set_by_rest", "window_unknown",
                "window_unknown_longbow", "window_unknown_selfbow"),
        _choice("bow.brace_height", "whether the brace height is known", "stated", "unknown"),
        _choice("bow.draw_weight.at", "where the draw weight was taken", "own_draw", "marked", "curve"),
        _choice("string.material", "what the string is made of", "polyester", "low_stretch", "unknown"),
        _choice("string.silencers", "silencers on the string", "none", "fitted", "not_stated"),
        _choice("speed.measured", "whether a chronograph has spoken", "no", "yes"),
        _number("draw_length_in", "in", "draw length", 28.0),
        _number("draw_beyond_marked_in", "in", "own draw beyond the draw the weight is marked at", 0.0),
        _number("brace_beyond_usual_in", "in", "brace height beyond the usual one of the bow's kind", 0.0),
        _number("plunger_turns_beyond_usual", "turns", "plunger turned in beyond the usual", 0.0),
        _number("string_mass_gr", "gr", "mass of the string", 110.0),
        _number("speed_excess_fps", "fps", "measured speed above the reference class's", 0.0),
        _number("speed_doubt_fps", "fps", "95 % half width of the measured speed", 0.0),
        _number("shaft_centre_offset_in", "in", "shaft centre outside the string's plane", 0.138, True),
        _number("shaft_length_in", "in", "shaft length", 28.0, True),
        _number("front_gr", "gr", "front mass", 125.0, True),
        _number("insert_share_pct", "%", "what the insert adds by the front-mass table", 0.0, True),
        _number("collar_gr", "gr", "collar or outsert", 0.0, True),
        _number("tail_gr", "gr", "tail mass", 25.0, True),
        _number("rear_taper_in", "in", "length of a rear taper", 0.0, True),
    )
}  # fmt: skip

_WORDS = {
    "low_stretch": "low-stretch", "high_performance": "high-performance", "deep_curve": "deep-curve",
    "three_under": "three under", "plate_not_stated": "not fully stated (no plate given)",
    "by_not_stated": "not fully stated (the cut's distance is missing)",
    "set_by_rest": "set by the rest, not by the riser", "window_unknown": "not known",
    "window_unknown_longbow": "not known, and the handle may not be cut at all",
    "window_unknown_selfbow": "not known, and the handle may not be cut at all",
    "not_stated": "not stated", "unknown": "of unknown kind",
}  # fmt: skip


def in_words(case: str) -> str:
    """A choice as it reads in a sentence.

    Examples
    --------
    >>> in_words("deep_curve")
    'deep-curve'
    """
    return _WORDS.get(case, case.replace("_", " "))


def reference_facts() -> FactMap:
    """The reference conditions of effective bow weight."""
    return {fact.name: fact.reference for fact in FACTS.values()}
