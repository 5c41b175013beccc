"""The launch model's sizes foretold for a rig, against the model itself and against what they claim."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.answers.launch.against_rules import coefficients
from shaftwright.files.rig import load_rig
from shaftwright.inference.launch.sizes import FACTS, sizes_for
from shaftwright.physics.launch.changes import standard_changes
from shaftwright.physics.launch.match import moves_pct
from shaftwright.physics.launch.trial import random_rigs
from shaftwright.records.rig import Rig
from shaftwright.resources import table
from shaftwright.rules.load import rulebook
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N

RIG = load_rig("examples/heron_marsh/rig.yaml", ())
ALL_RIGS = {(row["code"], row["case"]): float(row["value"]) for row in table("physics_sizes")}
OWN = {(row["code"], row["case"]) for row in table("physics_sizes_by_rig") if row["code"] != "-"}


def changed(rig: Rig = RIG, lb: float | None = None, draw: float | None = None) -> Rig:
    """The example with another weight at its own draw, or another draw."""
    bow, archer = rig.bow, rig.archer
    if lb is not None:
        bow = bow.model_copy(update={"draw_weight": bow.draw_weight.model_copy(update={"lb": lb})})
    if draw is not None:
        archer = archer.model_copy(update={"draw_length_in": draw})
    return rig.model_copy(update={"bow": bow, "archer": archer})


def test_every_rule_with_a_size_has_one_for_this_rig():
    found = sizes_for(RIG)
    assert set(found) == set(ALL_RIGS)
    assert set(found) >= OWN
    assert all(span.low <= span.value <= span.high for span in found.values())


def test_rules_without_lines_keep_the_size_of_all_rigs():
    found = sizes_for(RIG, 29.0, 200.0, 8.0)
    for key, value in ALL_RIGS.items():
        assert (found[key].value == value) == (key not in OWN)


@settings(max_examples=40, deadline=None)
@given(st.floats(20, 90), st.floats(22, 34), st.floats(22, 34), st.floats(0, 600))
def test_ranges_are_in_order_and_none_is_wilder_than_three_times_all_rigs(lb, draw, length, front):
    found = sizes_for(changed(lb=lb, draw=draw), length, front)
    wide = {
        (r["code"], r["case"]): float(r["high"]) - float(r["low"]) for r in table("physics_sizes")
    }
    for key, span in found.items():
        assert span.low <= span.value <= span.high
        assert 0 < span.high - span.low < 3 * wide[key]


def test_beyond_the_trial_a_fact_counts_as_at_its_edge():
    most = next(r for r in table("physics_sizes_by_rig") if r["part"] == "most")
    edge = float(most["front_gr"])
    assert sizes_for(RIG, front_gr=edge + 500) == sizes_for(RIG, front_gr=edge)
    assert sizes_for(changed(lb=200)) == sizes_for(changed(lb=float(most["draw_weight_lb"])))


def test_what_nobody_says_of_the_arrow_is_the_trials_middle():
    middle = next(r for r in table("physics_sizes_by_rig") if r["part"] == "middle")
    told = (float(middle[k]) for k in ("shaft_length_in", "front_gr", "gr_per_in"))
    assert sizes_for(RIG) == sizes_for(RIG, *told)


@pytest.mark.slow
def test_ranges_hold_rigs_that_the_fit_never_saw():
    """Fresh rigs: 95 % ranges of pairs hold at least 88 % of 120 (2 sd of the count and of the fit)."""
    rig = random_rigs(60, 2, seed=77)
    arrow, bow, _ = rig
    by_kind = {change.change: change for change in standard_changes()}
    kinds = {"A01": "front_mass", "A03": "shaft_length", "L03": "stored_energy"}
    rows = {r["change"]: r for r in table("physics_rules") if r["change"] in kinds.values()}
    facts = {
        "draw_weight_lb": np.ravel(bow.draw_force_n) / POUND_FORCE_N,
        "stroke_in": np.ravel(bow.power_stroke_m) / INCH_M,
        "plate_offset_in": np.ravel(bow.plate_offset_m) / INCH_M,
        "brace_height_in": np.ravel(bow.brace_height_m) / INCH_M,
        "front_gr": np.ravel(arrow.front_kg) / GRAIN_KG,
        "shaft_length_in": np.ravel(arrow.length_m) / INCH_M,
        "gr_per_in": np.ravel(arrow.mass_per_length_kg_m) / GRAIN_KG * INCH_M,
        "fullness": np.ravel(bow.stored_energy_j)
        / np.ravel(bow.draw_force_n)
        / np.ravel(bow.power_stroke_m),
    }
    middle = next(r for r in table("physics_sizes_by_rig") if r["part"] == "middle")
    moved = moves_pct(rig, [by_kind[kind] for kind in kinds.values()])
    for (code, kind), pct in zip(kinds.items(), moved, strict=True):
        rule = rulebook().find(code)
        per_unit = coefficients(rows[kind]["counts"], rule, rulebook(), by_kind[kind], rig)
        sizes = pct / per_unit[:, None]
        ends = []
        for part in ("low", "high"):
            row = next(
                r for r in table("physics_sizes_by_rig") if (r["code"], r["part"]) == (code, part)
            )
            slopes = [float(row[k]) * (facts[k] - float(middle[k])) for k in FACTS]
            ends.append(float(row["at_middle"]) + np.sum(slopes, axis=0)[:, None])
        there = np.isfinite(sizes)
        inside = ((sizes >= ends[0]) & (sizes <= ends[1]))[there]
        assert inside.mean() >= 0.88, (code, inside.mean())
