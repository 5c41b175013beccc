"""Effective bow weight rung by rung, each rule with its range, taken from the trace."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

from shaftwright.answers.choose.choose import Choice
from shaftwright.units import Interval


class Rung(NamedTuple):
    """One step of the ladder [lb]."""

    #: the rule's name in words
    name: str
    #: where the sum stands before and after it
    start: float
    end: float
    #: 95 % range of what it adds
    low: float
    high: float

    @property
    def adds(self) -> float:
        """What it adds."""
        return self.end - self.start


@dataclass(frozen=True)
class Ladder:
    """Draw weight at the foot, rules as rungs, effective bow weight on top [lb]."""

    #: the draw weight as stated
    stated_lb: float
    #: in the order of the trace; the archer's own shots last
    rungs: tuple[Rung, ...]
    #: effective bow weight with its 95 % range
    total: Interval
    #: the build it is stated at
    length_in: float
    front_gr: float


def ladder_of(choice: Choice) -> Ladder:
    """The ladder of a choice's short band; its last rung ends at the effective bow weight."""
    foot, *leaves = _leaves(choice.trace["root"])
    rungs, at = [], float(foot["value"])
    for leaf in leaves:
        end = at + leaf["value"]
        own = " (own)" if leaf.get("own") else ""
        rungs.append(Rung(leaf["label"].replace("-", " ") + own, at, end, *_range(leaf)))
        at = end
    band = choice.band
    return Ladder(
        float(foot["value"]), tuple(rungs), choice.effective, band.length_in, band.front_gr
    )


def _leaves(node: dict[str, Any]) -> list[dict[str, Any]]:
    """The terms of the sum: rules, and what was measured or learned."""
    if node.get("rule") or node["op"] == "input":
        return [node]
    return [leaf for child in node["children"] for leaf in _leaves(child)]


def _range(leaf: dict[str, Any]) -> tuple[float, float]:
    """95 % range of what a rule adds: its coefficient's range times the rest of its product."""
    doubtful = next((c for c in leaf["children"] if "low" in c), None)
    if doubtful is None:
        return float(leaf["value"]), float(leaf["value"])
    rest = math.prod(c["value"] for c in leaf["children"] if c is not doubtful)
    ends = (doubtful["low"] * rest, doubtful["high"] * rest)
    return min(ends), max(ends)
