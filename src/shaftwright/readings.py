"""Readings of speed and sound held against each other, with or without the bow they are of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shaftwright.shown import Shown

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.measure.brace import Brace
    from shaftwright.measure.compare import Comparison
    from shaftwright.measure.frames import Frames
    from shaftwright.records.notebook import AnyEntry


def compare(
    readings: Frames, by: Sequence[str] = ("string",), distance_yd: float = 20.0,
    asked: Scenario | None = None,
) -> Shown[Comparison]:  # fmt: skip
    """Readings of a notebook or a file held against each other; of a bow where one is known."""
    from shaftwright.measure.compare import compare
    from shaftwright.measure.readings import fields_of
    from shaftwright.measure.use import Drop, drop_through_air, vacuum_drop_in, virtual_mass_gr
    from shaftwright.render.screens.compare import compare_text

    fields, virtual = fields_of(by), None
    drop: Drop = vacuum_drop_in
    if asked is not None:
        virtual = virtual_mass_gr(asked.rig, asked.demand_without_speed(asked.reference_build()))
        mass = readings.speeds["arrow_mass_gr"].astype(float).median()
        if mass == mass:
            drop = drop_through_air(float(mass))
    found = compare(
        readings.speeds, fields, sound=readings.levels, virtual_mass_gr=virtual,
        distance_yd=distance_yd, drop_in=drop, units="imperial" if asked is None else asked.rig.units,
    )  # fmt: skip
    return Shown(found, asked, lambda full: compare_text(found, asked), "compare")


def brace(
    entries: Sequence[AnyEntry], material: str | None = None, asked: Scenario | None = None
) -> Shown[Brace]:
    """A sweep of brace heights in a notebook, and strings that settle; of a bow where one is known."""
    from shaftwright.measure.brace import brace_answer
    from shaftwright.measure.frames import frames
    from shaftwright.render.screens.brace import brace_text

    found = brace_answer(frames(entries), material)
    return Shown(found, asked, lambda full: brace_text(found, asked), "brace")
