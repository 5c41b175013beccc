"""The launch model's sizes of the rules for one rig, foretold by a table instead of a launch.

A launch of every change takes seconds; what a rig's draw weight, stroke, plate and usual arrow say of
its sizes beforehand was fitted once (`calibrate/physics_sizes.py`) and takes no time.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.inference.rig_facts import brace_height_in, side_position, stated_weight_lb
from shaftwright.inference.speed import stored_energy_j
from shaftwright.parameters import Range
from shaftwright.physics.bow.bow import power_stroke_m
from shaftwright.physics.bow.typical import typical
from shaftwright.physics.normal import Z95
from shaftwright.records.rig import Rig
from shaftwright.resources import table
from shaftwright.rules.load import rulebook
from shaftwright.rules.sizes import of_all_rigs
from shaftwright.units import INCH_M, POUND_FORCE_N

Array = NDArray[np.float64]

#: columns of the table that a rig is told by
FACTS: Final = ("draw_weight_lb", "stroke_in", "plate_offset_in", "brace_height_in", "front_gr",
                "shaft_length_in", "gr_per_in", "fullness")  # fmt: skip
_FULLNESS: Final = FACTS.index("fullness")


def sizes_for(
    rig: Rig,
    length_in: float | None = None,
    front_gr: float | None = None,
    gr_per_in: float | None = None,
) -> dict[tuple[str, str], Range]:
    """The launch model's size of every rule it has a say in, for this rig as far as a table can tell.

    Parameters
    ----------
    rig : Rig
        For draw weight, stroke, plate and brace height.
    length_in, front_gr, gr_per_in : float, optional
        The arrow it is asked for, such as the reference build; absent ones are the trial's middle.

    Returns
    -------
    dict
        (code, case) of a rule -> middle and 95 % range in the rule's own unit. Rules whose size
        hangs too little on what is known of a rig have that of all rigs (tables/physics_sizes.csv).

    Notes
    -----
    Valid inside the trial's ranges; a fact beyond them counts as at their edge. The range holds the
    settings nobody measures, the table's own error and, where no draw curve was measured, the doubt
    of how full it is.

    References
    ----------
    1. Koenker, R. and Bassett, G. (1978), Econometrica 46, 33: regression quantiles.
    """
    found = dict(of_all_rigs())
    least, middle, most, lines = _lines()
    given = _facts(
        rig, {"shaft_length_in": length_in, "front_gr": front_gr, "gr_per_in": gr_per_in}
    )
    doubt = _fullness_sd(rig)
    told = np.where(np.isnan(given), middle, np.clip(given, least, most)) - middle
    for key, line in lines.items():
        low, mid, high = np.sort(line[:, 0] + line[:, 1:] @ told)
        more = Z95 * doubt * line[1, 1 + _FULLNESS]
        found[key] = Range(
            value=float(mid),
            low=float(mid - np.hypot(mid - low, more)),
            high=float(mid + np.hypot(high - mid, more)),
        )
    return found


@functools.cache
def _lines() -> tuple[Array, Array, Array, dict[tuple[str, str], Array]]:
    """Least, middle and greatest facts of the trial, and three lines for each rule."""
    facts: dict[str, Array] = {}
    lines: dict[tuple[str, str], list[list[float]]] = {}
    for row in table("physics_sizes_by_rig"):
        values = [float(row[name]) for name in FACTS]
        if row["code"] == "-":
            facts[row["part"]] = np.array(values)
        else:
            lines.setdefault((row["code"], row["case"]), []).append(
                [float(row["at_middle"]), *values]
            )
    return (
        facts["least"], facts["middle"], facts["most"],
        {key: np.array(rows) for key, rows in lines.items()},
    )  # fmt: skip


def _facts(rig: Rig, arrow: Mapping[str, float | None]) -> Array:
    """A rig as the table's facts; not-a-number where nobody knows."""
    lb, stroke = _own_lb(rig), _stroke_in(rig)
    place, case = side_position(rig)
    stored = stored_energy_j(rig, lb)
    if stored is None:
        full = typical(rig.bow.kind, rig.bow.limbs).quality.mean
    else:
        full = stored[0] / (lb * POUND_FORCE_N * stroke * INCH_M)
    known = {
        "draw_weight_lb": lb,
        "stroke_in": stroke,
        "plate_offset_in": None if case.startswith("window_unknown") else place,
        "brace_height_in": brace_height_in(rig),
        "fullness": full,
        **arrow,
    }
    return np.array([np.nan if known[name] is None else known[name] for name in FACTS], float)


def _own_lb(rig: Rig) -> float:
    """Draw weight at the own draw by the rule for what a bow gains beyond its mark [lb]."""
    stated, at = stated_weight_lb(rig), rig.bow.draw_weight.at
    if rig.bow.draw_weight.curve is not None or not isinstance(at, float):
        return stated
    rule = rulebook().find("draw-beyond-marked")
    gain = 0.0 if rule is None or rule.value is None else rule.value
    return stated * (1 + gain / 100 * max(rig.archer.draw_length_in - at, 0.0))


def _stroke_in(rig: Rig) -> float:
    stroke = power_stroke_m(rig.archer.draw_length_in * INCH_M, brace_height_in(rig) * INCH_M)
    return float(stroke) / INCH_M


def _fullness_sd(rig: Rig) -> float:
    return (
        0.0
        if rig.bow.draw_weight.curve is not None
        else typical(rig.bow.kind, rig.bow.limbs).quality.sd
    )
