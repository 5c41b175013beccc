"""Purposes, mass floors and the weights of the ranking, as data."""

import functools
from typing import Literal

from shaftwright.parameters import Section, Sourced, section
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


@functools.cache
def purposes() -> Purposes:
    """The shipped purposes, loaded once."""
    return section("purposes", Purposes)
