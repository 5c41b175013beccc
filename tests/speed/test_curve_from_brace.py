"""A draw curve begins where the string leaves brace: a pull well before it is a mistake, one just past it is none."""

import pytest

from shaftwright.errors import InputError
from shaftwright.inference.speed import stored_energy_j
from shaftwright.records.rig import Rig


def energy_j(first):
    rig = Rig.model_validate({
        "format": 1, "rig": "a curve",
        "archer": {"hand": "right", "release": "split", "draw_length": 28},
        "bow": {"kind": "recurve", "limbs": "standard", "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf",
                "draw_weight": {"curve": [first, [18, 20], [28, 45]]}},
        "string": {"material": "polyester"},
    })  # fmt: skip
    return stored_energy_j(rig, 45.0, 1.0)[0]


def test_a_pull_before_brace_is_refused_one_just_past_it_is_not():
    """At 7 1/2 in of brace the string leaves it at 9 1/4 in of draw: the grip's allowance of 1 3/4 in (AMO standard, recalled)."""
    assert energy_j([9.35, 0.5]) == pytest.approx(energy_j([9.6, 0.9]), rel=0.02)
    with pytest.raises(InputError, match="no pull before it"):
        energy_j([8.9, 1])
