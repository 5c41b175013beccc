"""Whose sizes the rules reckon with: the trade's, the launch model's, or both by their doubt."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from shaftwright.parameters import Range
from shaftwright.physics.normal import Z95, split_mean, split_sds
from shaftwright.resources import table
from shaftwright.rules.load import Basis, RuleBook, Sizes, rulebook
from shaftwright.rules.schema import Rule


def mean_of(span: Range) -> float:
    """Mean of a split normal given by its most likely value and 95 % range."""
    return span.value + split_mean(*split_sds(span.value, span.low, span.high))


def combined(trade: Range, physics: Range) -> Sizes:
    """Two statements of one size, weighed by their doubt.

    Parameters
    ----------
    trade, physics : Range
        Most likely values with 95 % ranges.

    Returns
    -------
    Sizes
        Both, and in `used` the weighted mean with its range.

    Notes
    -----
    Weights go as one over the square of a range's width. The mean of the trade's lopsided range and
    the model's middle over rigs are averaged; the result is taken as even on both sides. Where the
    two are further apart than their doubts allow, the range is widened by that factor (Birge's
    ratio): a quarrel of the sources is not settled by averaging it.

    References
    ----------
    1. Birge, R. T. (1932), Phys. Rev. 40, 207.

    Examples
    --------
    >>> both = combined(Range(value=2, low=0, high=4), Range(value=2, low=0, high=4))
    >>> both.used.value, round(both.used.high - both.used.low, 2), both.apart
    (2.0, 2.83, 0.0)
    """
    sds = [max((span.high - span.low) / (2 * Z95), 1e-9) for span in (trade, physics)]
    weights = [1 / sd**2 for sd in sds]
    share = weights[0] / sum(weights)
    means = mean_of(trade), physics.value
    middle = share * means[0] + (1 - share) * means[1]
    apart = abs(means[0] - means[1]) / float(np.hypot(sds[0], sds[1]))
    half = Z95 * float(np.sqrt(1 / sum(weights))) * max(apart, 1.0)
    used = Range(value=middle, low=middle - half, high=middle + half)
    return Sizes("both", trade, physics, used, share, apart)


@functools.cache
def of_all_rigs() -> Mapping[tuple[str, str], Range]:
    """The launch model's sizes over random rigs, from tables/physics_sizes.csv, by (code, case)."""
    return {
        (row["code"], row["case"]): Range(**{n: float(row[n]) for n in Range.model_fields})
        for row in table("physics_sizes")
    }


def book_on(
    book: RuleBook, basis: Basis, physics: Mapping[tuple[str, str], Range] | None = None
) -> RuleBook:
    """The rule book with sizes on a chosen footing.

    Parameters
    ----------
    book : RuleBook
        With the trade's sizes.
    basis : {"both", "trade", "physics"}
        Whose sizes are reckoned with, where the model has one.
    physics : mapping, optional
        The model's sizes by (code, case), such as one rig's; by default those of all rigs.

    Returns
    -------
    RuleBook
        Its `sizes` tell what was used for the rules that have both; the others keep the trade's.
    """
    if basis == "trade":
        return book
    sizes: dict[tuple[str, str], Sizes] = {}
    for (code, case), span in (of_all_rigs() if physics is None else physics).items():
        rule = book.find(code)
        trade = None if rule is None else rule.range_for(case or None)
        if rule is None or trade is None:
            continue
        one = combined(trade, span)
        if basis == "physics":
            one = replace(one, basis=basis, used=span, share=0.0)
        sizes[code, case] = one
    rules = list(book.rules)
    for (code, case), one in sizes.items():
        at = next(i for i, rule in enumerate(rules) if rule.code == code)
        rules[at] = _with(rules[at], case, one)
    return replace(book, rules=tuple(rules), basis=basis, sizes=sizes)


@functools.cache
def shipped(basis: Basis = "both") -> RuleBook:
    """The shipped rules on a footing for a rig nobody has looked at, worked out once.

    Parameters
    ----------
    basis : {"both", "trade", "physics"}
        Whose sizes; both weighed by their doubt unless somebody asks for one of them.

    Returns
    -------
    RuleBook
        The rules.
    """
    return book_on(rulebook(), basis)


def _with(rule: Rule, case: str, sizes: Sizes) -> Rule:
    span = sizes.used
    basis = "calculated" if sizes.basis == "physics" else rule.basis
    if rule.cases is not None:
        return rule.model_copy(update={"cases": {**rule.cases, case: span}, "basis": basis})
    return rule.model_copy(
        update={"value": span.value, "low": span.low, "high": span.high, "basis": basis}
    )
