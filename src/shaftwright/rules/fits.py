"""The limits of fit as the rule set states them."""

from __future__ import annotations

from shaftwright.records.fit import FitLimits, fit
from shaftwright.records.stock import StockItem, shaft_facts
from shaftwright.rules.purposes import setting


def fit_limits() -> FitLimits:
    """How far diameters may differ, from rules/matching.yaml."""
    return FitLimits(
        setting("bore_fit_in"), setting("outside_caution_in"), setting("outside_reject_in")
    )


def part_fits(part: StockItem, shaft: StockItem) -> bool:
    """Whether a part fits a shaft at all, by those limits."""
    return fit(part, shaft, shaft_facts(shaft), fit_limits()).fits
