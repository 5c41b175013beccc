"""Whatever an archer writes, the reading ends in one decision with finite numbers."""

import json
import math
from typing import get_args

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shaftwright.answers.diagnose import diagnose
from shaftwright.answers.plan.result import Kind, Stage
from shaftwright.answers.scenario import scenario
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig

OFFSET = st.floats(-40, 40, allow_nan=False)
POINT = st.tuples(OFFSET, OFFSET)
TAIL = st.fixed_dictionaries(
    {}, optional={"side": st.sampled_from(["right", "left", "straight"]), "up": st.sampled_from(["high", "low"]),
                  "how": st.sampled_from(["slight", "clear"]), "seen": st.sampled_from(["in_flight", "in_butt"])},
)  # fmt: skip
SHOT = st.fixed_dictionaries({"at": POINT, "tail": TAIL})
ENTRIES = st.builds(
    lambda spine, length, front, distance, bare, fletched, words, taped, marks, plate, cant: {
        "kind": "bareshaft", "build": {"spine": spine, "length": length, "front": front}, "distance": distance,
        "bare": bare, "fletched": fletched, "taped": taped, "marks": marks, "cant_deg": cant,
        **({"reads": words} if words or not bare else {}),
        **({"rig_state": {"plate": plate}} if plate is not None else {}),
    },
    st.sampled_from([250, 400, 500, 640, 900, 1400]), st.sampled_from([26, 28, 29.5, 32]),
    st.sampled_from([60, 125, 200, 400]), st.sampled_from([3, 12, 20, 60]),
    st.lists(SHOT, max_size=4), st.lists(POINT, max_size=4),
    st.sampled_from(["straight", "slightly_stiff", "stiff", "slightly_weak", "weak"]),
    st.booleans(), st.sampled_from(["none", "plate", "shelf", "not_looked"]),
    st.sampled_from([None, 0.0, 0.125]), st.sampled_from([None, 0, 25, -70]),
)  # fmt: skip
RIGS = st.builds(
    lambda hand, kind, cut, rest, lb, plate: Rig.model_validate(
        {"format": 1, "rig": "r", "archer": {"hand": hand, "release": "unknown", "draw_length": 28},
         "bow": {"kind": kind, "limbs": "unknown", "draw_weight": {"lb": lb, "at": 28}, "brace_height": "unknown",
                 "window": {"cut": cut}, "rest": rest,
                 **({"plate": {"thickness": plate}} if plate is not None else {})},
         "string": {"material": "unknown"}}
    ),
    st.sampled_from(["right", "left", "unknown"]), st.sampled_from(["selfbow", "longbow", "recurve", "unknown"]),
    st.sampled_from(["none", "unknown", "past_centre"]), st.sampled_from(["shelf", "plunger", "unknown"]),
    st.sampled_from([15, 45, 95]), st.sampled_from([None, 0.0, 0.0625]),
)  # fmt: skip
CHANGE = {"kind": "change", "what": "limbs"}


@pytest.mark.slow
@given(
    rig=RIGS,
    entries=st.lists(ENTRIES, min_size=1, max_size=4),
    change=st.sampled_from([None, 0, 1]),
)
@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_notebook_ends_in_one_decision(rig, entries, change):
    if change is not None:
        entries = [*entries[:change], CHANGE, *entries[change:]]
    records = [ENTRY.validate_python(e) for e in entries]
    asked = scenario(rig, entries=records)
    try:
        found = diagnose(asked)
    except NoAnswer:
        assert not any(r.kind == "bareshaft" for r in records[(change or 0) :])
        assert asked.plan.next.do
        return
    step, document = asked.plan.next, found.to_dict() | asked.plan.to_dict()
    json.dumps(document, allow_nan=False)
    assert step.kind in get_args(Kind)
    assert step.stage in get_args(Stage)
    assert len(step.cautions) <= 3
    assert found.verdict == step.why
    assert found.next_change.what == step.do
    for expect in (found.expect_now, step.expect):
        if expect is not None:
            assert math.isfinite(expect.low_in)
            assert expect.low_in < expect.high_in
    band = document["band_after"]
    assert 0 < band["low"] <= band["mid"] <= band["high"] < 1e5
    for scores in asked.learned.belief.scores.values():
        assert np.isfinite(scores).all()
    for axis in ("sideways", "vertical"):
        assert sum(c.chance for c in found.causes if c.axis == axis) == pytest.approx(1)
    # every arrow is told once, with all its ends
    assert sum(s.groups for s in asked.plan.shot) == sum(r.kind == "bareshaft" for r in records)
    for arrow in asked.where.here:
        disagree = all(e.reading.look.disagree for e in arrow.ends)
        if arrow.ends and disagree:
            assert asked.where.standing(arrow) in ("not clear yet", "contact", "dangerous")
    here = asked.where.here
    marked = len(here) == 1 and here[0].marks in ("plate", "shelf")
    if marked and step.kind in ("point", "insert") and not asked.where.dangers(here[0]):
        # never heavier up front on an arrow that marks, unless it is too light to be shot
        assert float(step.do.split(" gr up front")[0].split()[-1]) <= here[0].spec.front_gr
