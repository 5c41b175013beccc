"""Whose sizes the rules reckon with: the trade's, the launch model's, or both with a doubt between."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from shaftwright.parameters import Range
from shaftwright.physics.normal import Z95, split_sds
from shaftwright.resources import table
from shaftwright.rules.load import Basis, RuleBook, Sizes, rulebook
from shaftwright.rules.schema import Rule

#: columns of tables/physics_sizes.csv: how the string's sideways stiffness may come about
_LAWS: Final = ("even", "late", "computed")
#: less than this share of the trade's size is nought: launches of random rigs tell no finer
_NOUGHT: Final = 0.01


@dataclass(frozen=True)
class ModelSize:
    """What the launch model says of one size, in the rule's own unit.

    Attributes
    ----------
    span : Range
        Middle and 95 % range over random rigs, settings and laws of the string.
    by_law : dict
        Law of the string -> middle over rigs and settings, of the laws that have one.
    """

    span: Range
    by_law: dict[str, float]


def combined(trade: Range, model: ModelSize, slope: bool = False) -> Sizes:
    """Trade and launch model as two studies of one size, with a variance between them.

    Parameters
    ----------
    trade : Range
        Most likely value with its 95 % range.
    model : ModelSize
        The launch model's.
    slope : bool
        Whether the doubt is of the way from the usual arrow: what rigs do there the model tells too.

    Returns
    -------
    Sizes
        Both, and in `used` what is reckoned with.

    Notes
    -----
    Of two readings with a variance between them the squared distance is twice that variance on the mean;
    under several laws of the string the mean of the squares counts. That variance is added to each
    study's own: the most likely value goes from the trade's towards the mean of the laws by the model's
    share of one over variance, and both sides of the trade's range are widened by it. Of a slope the
    trade's range tells how it is for the usual arrow, and the model's how rigs differ away from it: each
    study's variance counts by its share. Where trade and
    every law agree on the sign, the range ends at nought: no sign is let in that both deny. A law that
    says nought, to a hundredth of the trade's size, denies no sign. What else
    was tried: docs/decisions/whose-sizes.md.

    References
    ----------
    1. DerSimonian, R. and Laird, N. (1986), Control. Clin. Trials 7, 177: random effects, weights of
       one over the sum of variances within and between; as recalled.

    Examples
    --------
    >>> trade = Range(value=2, low=0.04, high=3.96)
    >>> found = combined(trade, ModelSize(Range(value=4, low=2.04, high=5.96), {"even": 4.0}))
    >>> found.used.value, round(found.used.high, 2), round(found.between, 3), found.share
    (3.0, 6.39, 1.414, 0.5)
    """
    laws = np.array(list(model.by_law.values()) or [trade.value])
    between = float(np.sqrt(np.mean((laws - trade.value) ** 2) / 2))
    own, other = (
        max(((span.high - span.low) / (2 * Z95)) ** 2 + between**2, 1e-18)
        for span in (trade, model.span)
    )
    share = other / (own + other)
    value = share * trade.value + (1 - share) * float(np.mean(laws))
    spreads = np.array([split_sds(s.value, s.low, s.high) for s in (trade, model.span)])
    counts = share if slope else 1.0
    rigs = np.sqrt(counts * spreads[0] ** 2 + (1 - counts) * spreads[1] ** 2)
    below, above = (Z95 * float(np.hypot(sd, between)) for sd in rigs)
    low, high = value - below, value + above
    nought = _NOUGHT * abs(trade.value)
    if trade.low >= 0 and (laws >= -nought).all():
        low = max(low, 0.0)
    if trade.high <= 0 and (laws <= nought).all():
        high = min(high, 0.0)
    used = Range(value=value, low=low, high=high)
    return Sizes("both", trade, model.span, dict(model.by_law), used, share, between)


@functools.cache
def of_all_rigs() -> dict[tuple[str, str], ModelSize]:
    """The launch model's sizes over random rigs, from tables/physics_sizes.csv, by (code, case)."""
    return {
        (row["code"], row["case"]): ModelSize(
            Range(**{n: float(row[n]) for n in Range.model_fields}),
            {law: float(row[law]) for law in _LAWS if row[law]},
        )
        for row in table("physics_sizes")
    }


def book_on(book: RuleBook, basis: Basis) -> RuleBook:
    """The rule book with sizes on a chosen footing.

    Parameters
    ----------
    book : RuleBook
        With the trade's sizes.
    basis : {"both", "trade", "physics"}
        Whose sizes are reckoned with, where the model has one.

    Returns
    -------
    RuleBook
        Its `sizes` tell what was used for the rules that have both; the others keep the trade's.
    """
    if basis == "trade":
        return book
    sizes: dict[tuple[str, str], Sizes] = {}
    for (code, case), model in of_all_rigs().items():
        rule = book.find(code)
        trade = None if rule is None else rule.range_for(case or None)
        if rule is None or trade is None:
            continue
        one = combined(trade, model, rule.slope)
        if basis == "physics":
            one = replace(one, basis=basis, used=model.span, share=0.0)
        sizes[code, case] = one
    rules = list(book.rules)
    for (code, case), one in sizes.items():
        at = next(i for i, rule in enumerate(rules) if rule.code == code)
        rules[at] = _with(rules[at], case, one)
    return replace(book, rules=tuple(rules), basis=basis, sizes=sizes)


@functools.cache
def shipped(basis: Basis = "both") -> RuleBook:
    """The shipped rules on a footing, worked out once.

    Parameters
    ----------
    basis : {"both", "trade", "physics"}
        Whose sizes; both as two studies unless somebody asks for one of them.

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
