"""What a purpose asks of an arrow's balance and weight is met by the usual arrow for it."""

import pytest

from shaftwright.rules.sections import purposes


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


@pytest.mark.parametrize("purpose", ["hunting", "practice", "three_d", "target"])
def test_a_wooden_bow_is_never_sent_below_what_bowyers_ask_for_it(purpose):
    """Wooden bows want 9 to 10 grains per pound (common practice, no source)."""
    plain, asked = (
        purposes().purposes[purpose].gr_per_lb,
        purposes().asked(purpose, "selfbow"),
    )
    assert asked.gr_per_lb.low >= 9
    assert asked.gr_per_lb.high - asked.gr_per_lb.low == plain.high - plain.low
    assert purposes().asked(purpose, "recurve").gr_per_lb == plain


def test_wood_is_not_too_heavy_for_targets():
    """A 32 in wood shaft of 5/16 in with its point weighs some 420 gr: 10 gr/lb at 42 lb."""
    asked = purposes().asked("target", "recurve")
    assert asked.span(True).low == asked.span(False).low == 7
    assert asked.span(True).high >= 420 / 42 > asked.span(False).high
    assert asked.weights({"carbon", "wood"}) == "7 to 8 gr/lb (wood to 11)"
    assert asked.weights({"wood"}) == "7 to 11 gr/lb"
