"""How many readings of a chronograph are left out is told in words."""

from shaftwright.inference.chrono import left_out
from shaftwright.records.notebook import ENTRY


def test_one_and_several_are_told():
    one = ENTRY.validate_python({"kind": "chrono", "speed": 171})
    why = "without an arrow's weight"
    assert left_out([one]) == (f"one chronograph reading {why} is left out",)
    assert left_out([one, one]) == (f"2 chronograph readings {why} are left out",)
