"""The rules on another footing: the trade's sizes, the launch model's, or both by their doubt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from shaftwright.mechanics.bow import Z95
from shaftwright.resources import table
from shaftwright.rulebook.load import RuleBook
from shaftwright.rulebook.schema import Range, Rule

Basis = Literal["trade", "physics", "both"]
BASES: Final[tuple[Basis, ...]] = ("trade", "physics", "both")


@dataclass(frozen=True)
class Used:
    """What a rule's size rests on.

    Attributes
    ----------
    code, name, case : str
        The rule.
    trade, physics, used : Range
        Coefficients in the rule's own unit.
    apart : float
        How far the two are apart in their joint standard deviations.
    """

    code: str
    name: str
    case: str
    trade: Range
    physics: Range
    used: Range
    apart: float


def combined(trade: Range, physics: Range) -> tuple[Range, float]:
    """Two statements of one size, weighed by their doubt.

    Parameters
    ----------
    trade, physics : Range
        Most likely values with 95 % ranges.

    Returns
    -------
    tuple of Range and float
        The weighted mean with its range, and how many joint standard deviations they are apart.

    Notes
    -----
    Where they are further apart than their doubts allow, the range is widened by that factor
    (Birge's ratio): a quarrel of the sources is not settled by averaging it.

    References
    ----------
    1. Birge, R. T. (1932), Phys. Rev. 40, 207.

    Examples
    --------
    >>> both, apart = combined(Range(value=2, low=0, high=4), Range(value=2, low=0, high=4))
    >>> both.value, round(both.high - both.low, 2), apart
    (2.0, 2.83, 0.0)
    """
    sds = [max((span.high - span.low) / (2 * Z95), 1e-9) for span in (trade, physics)]
    weights = [1 / sd**2 for sd in sds]
    middle = (weights[0] * trade.value + weights[1] * physics.value) / sum(weights)
    apart = abs(trade.value - physics.value) / float(np.hypot(sds[0], sds[1]))
    half = Z95 * float(np.sqrt(1 / sum(weights))) * max(apart, 1.0)
    return Range(value=middle, low=middle - half, high=middle + half), apart


def book_on(book: RuleBook, basis: Basis) -> tuple[RuleBook, tuple[Used, ...]]:
    """The rule book with sizes on a chosen footing.

    Parameters
    ----------
    book : RuleBook
        With the trade's sizes.
    basis : {"trade", "physics", "both"}
        Whose sizes are reckoned with, where the model has one (tables/physics_sizes.csv).

    Returns
    -------
    tuple of RuleBook and tuple of Used
        The book, and what was used for the rules that have both sizes; the others keep the trade's.
    """
    if basis == "trade":
        return book, ()
    sizes = {
        (row["code"], row["case"]): Range(
            value=float(row["value"]), low=float(row["low"]), high=float(row["high"])
        )
        for row in table("physics_sizes")
    }
    used: list[Used] = []
    rules = []
    for rule in book.rules:
        for case in [c for code, c in sizes if code == rule.code]:
            trade = rule.range_for(case or None)
            if trade is None:
                continue
            both, apart = combined(trade, sizes[rule.code, case])
            taken = both if basis == "both" else sizes[rule.code, case]
            used.append(
                Used(rule.code, rule.name, case, trade, sizes[rule.code, case], taken, apart)
            )
            rule = _with(rule, case, taken)
        rules.append(rule)
    return replace(book, rules=tuple(rules)), tuple(used)


def _with(rule: Rule, case: str, span: Range) -> Rule:
    if rule.cases is not None:
        return rule.model_copy(update={"cases": {**rule.cases, case: span}, "basis": "calculated"})
    return rule.model_copy(
        update={"value": span.value, "low": span.low, "high": span.high, "basis": "calculated"}
    )
