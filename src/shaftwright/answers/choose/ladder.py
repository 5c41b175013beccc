"""Effective bow weight rung by rung, each rule with its range, taken from the trace."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from shaftwright.answers.choose.choose import Choice
from shaftwright.inference.band import Spread


@dataclass(frozen=True)
class Rung:
    """One step of the ladder.

    Attributes
    ----------
    name : str
        The rule's name in words.
    start, end : float
        Where the sum stands before and after it [lb].
    low, high : float
        95 % range of what it adds [lb].
    reason : str
        What was seen, and why it matters; empty for what was measured.
    """

    name: str
    start: float
    end: float
    low: float
    high: float
    reason: str

    @property
    def adds(self) -> float:
        """What it adds [lb]."""
        return self.end - self.start


@dataclass(frozen=True)
class Ladder:
    """Draw weight at the foot, rules as rungs, effective bow weight on top.

    Attributes
    ----------
    stated_lb : float
        The draw weight as stated [lb].
    rungs : tuple of Rung
        In the order of the trace; the archer's own shots last.
    total : Spread
        Effective bow weight with its 95 % range [lb].
    length_in, front_gr : float
        The build it is stated at.
    """

    stated_lb: float
    rungs: tuple[Rung, ...]
    total: Spread
    length_in: float
    front_gr: float


def ladder_of(choice: Choice) -> Ladder:
    """The ladder of a choice's short band.

    Parameters
    ----------
    choice : Choice
        An answer.

    Returns
    -------
    Ladder
        Its last rung ends at the effective bow weight.
    """
    leaves = _leaves(choice.trace["root"])
    stated = float(leaves[0]["value"])
    rungs, at = [], stated
    for leaf in leaves[1:]:
        low, high = _range(leaf)
        rungs.append(
            Rung(leaf["label"].replace("-", " "), at, at + leaf["value"], low, high,
                 leaf.get("reason", ""))
        )  # fmt: skip
        at += leaf["value"]
    band = choice.band
    return Ladder(stated, tuple(rungs), choice.effective, band.length_in, band.front_gr)


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
