"""Purposes, mass floors and the weights of the ranking, as data."""

import functools
from typing import Literal

from shaftwright.parameters import Section, Sourced, section, setting
from shaftwright.records.fields import Record
from shaftwright.rules.schema import Choices


class Span(Record):
    """A range without a most likely value."""

    low: float
    high: float


class PurposeRule(Sourced):
    """What one purpose asks of an arrow."""

    label: str
    gr_per_lb: Span
    foc_pct: dict[str, Span]
    shortest_shaft_beyond_draw_in: float
    usual_front_gr: float
    broadheads: bool
    why: str


class MassFloor(Sourced):
    """Lightest arrow in grains per pound; a limit rejects, the others caution."""

    name: str
    gr_per_lb: float
    limit: bool
    applies: Choices
    why: str


class Worth(Record):
    """One part of the ranking's score."""

    weight: float
    why: str
    fades_over: float = 1.0


class Purposes(Section):
    """rules/purposes.yaml."""

    purposes: dict[str, PurposeRule]
    mass_floors: tuple[MassFloor, ...]
    utility: dict[Literal["match", "mass", "foc", "robustness", "price", "in_hand"], Worth]

    def floors(self, kind: str) -> list[MassFloor]:
        """The mass floors of bows of a kind."""
        return [f for f in self.mass_floors if kind in f.applies.get("bow.kind", (kind,))]

    def asked(self, purpose: str, kind: str, only_wood: bool) -> PurposeRule:
        """What a purpose asks of arrows from a bow of a kind, heavier where bow or shafts want it."""
        rule = self.purposes[purpose]
        low, high = rule.gr_per_lb.low, rule.gr_per_lb.high
        rise = max(0.0, *(f.gr_per_lb - low for f in self.floors(kind)))
        heaviest = setting("matching.wood_heaviest_gr_per_lb") if only_wood else 0.0
        span = Span(low=low + rise, high=max(high + rise, heaviest))
        return rule.model_copy(update={"gr_per_lb": span})


@functools.cache
def purposes() -> Purposes:
    """The shipped purposes, loaded once."""
    return section("purposes", Purposes)
