"""What would suit where nothing in hand or in the stock can."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.inference.band import spine_band
from shaftwright.parameters import setting
from shaftwright.physics.arrow.spine import pounds_from_mils
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario

_MILS, _GRAINS = 5, 10


def what_to_look_for(scenario: Scenario) -> str:
    """Spines, length, what goes up front and the weight of the whole arrow; no full stop."""
    build = scenario.reference_build()
    demand = scenario.demand(build)
    band = spine_band(demand, build, scenario.belief, setting("matching.band_chance"))
    low, high = (_MILS * round(x / _MILS) for x in (band.low, band.high))
    asked = scenario.purpose_rule.gr_per_lb
    light, heavy = (_GRAINS * round(x * demand.own_lb / _GRAINS) for x in (asked.low, asked.high))
    return (
        f"look for spines {low} to {high} (wood {pounds_from_mils(high):.0f} to "
        f"{pounds_from_mils(low):.0f} lb), at least {inches(band.length_in)} long, with about "
        f"{band.front_gr:.0f} gr up front, {light} to {heavy} gr in all "
        f"({scenario.purpose_rule.label}: {asked.low:g} to {asked.high:g} gr/lb)"
    )
