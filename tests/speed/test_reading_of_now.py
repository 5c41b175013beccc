"""A chronograph reading is of the bow as it is: it weighs what was shot from it, not what older limbs shot."""

import numpy as np
import pytest

from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.records.notebook import ENTRY

RIG = "examples/heron_marsh/rig.yaml"
SHOT = {"kind": "bareshaft", "build": {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8},
        "distance": 20, "reads": "stiff"}  # fmt: skip
LIMBS = {"kind": "change", "what": "limbs"}


def learned(speed, *told):
    chrono = {"kind": "chrono", "speed": f"{speed} fps", "arrow_mass": 505}
    entries = [ENTRY.validate_python(one) for one in (*told, chrono)]
    scores = scenario(
        load_rig(RIG), None, None, entries, range(1, len(entries) + 1)
    ).learned.belief.scores
    return np.array([scores[name].mean() for name in sorted(scores)])


@pytest.mark.parametrize(("told", "counts"), [((SHOT,), True), ((SHOT, LIMBS), False)])
def test_a_reading_weighs_only_shots_of_the_bow_it_is_of(told, counts):
    moved = np.abs(learned(150, *told) - learned(190, *told)).max()
    assert (moved > 0.01) if counts else moved == 0
