"""The limits of fit as the rule set states them."""

from __future__ import annotations

from shaftwright.records.fit import FitLimits
from shaftwright.rules.purposes import setting


def fit_limits() -> FitLimits:
    """How far diameters may differ, from rules/matching.yaml."""
    return FitLimits(
        setting("bore_fit_in"), setting("outside_caution_in"), setting("outside_reject_in")
    )
