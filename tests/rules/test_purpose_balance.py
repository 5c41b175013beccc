"""What a purpose asks of an arrow's balance is met by the usual arrow for it."""

import pytest

from shaftwright.rules.purposes import purposes


def balance(per_inch, front, tail, length=28.5):
    """By a straight sum of weights along the shaft, the other way than the product's own."""
    shaft = per_inch * length
    middle = (shaft * length / 2 + front * length) / (shaft + front + tail)
    return 100 * (middle - length / 2) / length


@pytest.mark.parametrize(("per_inch", "front", "tail"), [(7, 110, 20), (7.5, 110, 25), (8, 120, 25), (6, 90, 15)])  # fmt: skip
def test_usual_carbon_for_targets_lies_in_the_range_asked(per_inch, front, tail):
    """Light carbon shafts with 90 to 120 gr up front: 11 to 16 % (recalled, today's advice)."""
    asked = purposes().purposes["target"].foc_pct["carbon"]
    assert asked.low <= balance(per_inch, front, tail) <= asked.high
    assert (asked.low, asked.high) == (11, 16)


def test_the_range_is_of_the_materials_own():
    """Aluminium is heavier an inch, so less of it is at the front (common practice, no source)."""
    asked = purposes().purposes["target"].foc_pct
    assert asked["aluminium"].high < asked["carbon"].high
    assert asked["aluminium"].low < asked["carbon"].low
