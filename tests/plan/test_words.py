"""How the plan calls things: sides as a right- or left-handed archer sees them, fronts, lengths, ends and what they showed."""

from types import SimpleNamespace as Some

import pytest
from plan_fakes import arrow_of, end_of, spec_of

from shaftwright.answers.plan.result import Buy
from shaftwright.answers.plan.steps import Words, counted, ends_told, listed
from shaftwright.parameters import setting
from shaftwright.units import cap

ROWS = {
    "P175": Some(mass_gr=175.0),
    "B150": Some(mass_gr=150.0),
    "MARSH-500": Some(full_length_in=32.25),
    "LONG": Some(full_length_in=None),
}


def words(hand="right", units="imperial"):
    rig = Some(units=units, archer=Some(hand=hand))
    return Words(Some(rig=rig, item=ROWS.get))


def test_distances_are_told_in_the_units_of_the_bow():
    assert words().yd(20) == "20 yd"
    assert words(units="metric").yd(20) == "18 m"
    assert words().off(-5.5) == "5 1/2 in"
    assert words(units="metric").off(5.43) == "14 cm"


@pytest.mark.parametrize(
    ("hand", "stiff", "side"),
    [("right", True, "left"), ("right", False, "right"), ("left", True, "right"), ("left", False, "left"),
     ("unknown", True, "left")],
)  # fmt: skip
def test_bare_and_stiff_lies_left_of_a_right_hander_and_right_of_a_left_hander(hand, stiff, side):
    """Common practice, no source."""
    assert words(hand).side(stiff) == side


def test_a_shaft_by_numbers_is_called_by_its_spine():
    assert words().shaft(spec_of(shaft="MARSH-500")) == "MARSH-500"
    assert words().shaft(spec_of(spine_mils=480.0, length_in=29, front_gr=200)) == "spine 480"


@pytest.mark.parametrize(
    ("parts", "told"),
    [({"point": "P175"}, "175 gr point"), ({"broadhead": "B150"}, "150 gr broadhead"), ({}, "no point")],
)  # fmt: skip
def test_a_front_is_a_point_or_a_broadhead(parts, told):
    assert words().front(spec_of(shaft="MARSH-500", **parts)) == told


def test_a_front_by_numbers_is_all_that_is_up_front():
    assert words().front(spec_of(spine_mils=480.0, length_in=29, front_gr=212.5)) == (
        "212.5 gr up front"
    )


@pytest.mark.parametrize(
    ("shaft", "length", "told"),
    [("MARSH-500", 29.5, "29 1/2 in"), ("MARSH-500", 29.03125, "29 1/32 in"), ("MARSH-500", None, "32 1/4 in"),
     ("LONG", None, "uncut"), ("NOBODY", None, "uncut")],
)  # fmt: skip
def test_a_length_is_told_to_a_thirty_second_and_uncut_as_the_row_has_it(shaft, length, told):
    assert words().length(spec_of(shaft=shaft, length_in=length)) == told


def test_the_full_length_of_a_row_is_told_to_a_thirty_second():
    at = Words(Some(rig=Some(units="imperial", archer=Some(hand="right")),
                    item=lambda _: Some(full_length_in=31.03125)))  # fmt: skip
    assert at.length(spec_of(shaft="A")) == "31 1/32 in"


def test_an_arrow_is_its_length_and_front():
    assert words().arrow(spec_of(shaft="MARSH-500", length_in=29.5, point="P175")) == (
        "29 1/2 in, 175 gr point"
    )


def seen_of(
    ends,
    offset=None,
    inside=False,
    fliers=0,
    marks=("none",),
    yards=20,
    wide=0,
    nearer=False,
    few=0,
):
    shot = (Some(fliers=fliers, entry=Some(distance_yd=yards)),) * ends
    reading = Some(look=Some(void=""))
    looked = tuple(Some(entry=Some(marks=m), reading=reading, too_few=False) for m in marks)
    looked += (Some(entry=Some(marks="not_looked"), reading=reading, too_few=True),) * few
    void = Some(look=Some(void="the bare shafts do not group"))
    looked += (Some(entry=Some(marks="not_looked"), reading=void, too_few=False),) * wide
    return Some(counting=shot, ends=looked, offset_in=offset, inside=inside, reads="stiff",
                nearer_left_out=nearer)  # fmt: skip


ON_IT = setting("plan.on_it_in")


@pytest.mark.parametrize(
    ("shot", "told"),
    [
        (seen_of(0), "its ends cannot be read"),
        (seen_of(1), "it read stiff once"), (seen_of(2), "it read stiff twice"), (seen_of(3), "it read stiff 3 times"),
        (seen_of(1, 1.5, True), "bare 1 1/2 in right of the fletched, once"),
        (seen_of(2, -1.5, True), "bare 1 1/2 in left of the fletched, two ends together"),
        (seen_of(3, ON_IT - 0.01, True), "bare on the fletched, three ends together"),
        (seen_of(1, 0.01 - ON_IT, True), "bare on the fletched, once"),
        (seen_of(1, ON_IT, True), "bare 1/4 in right of the fletched, once"),
        (seen_of(1, 6.0), "bare 6 in right of the fletched in one end"),
        (seen_of(4, -6.0), "bare 6 in left of the fletched in 4 ends"),
        (seen_of(2, 0.5), "bare 1/2 in right of the fletched in two ends"),
        (seen_of(1, 6.0, yards=10), "bare 6 in right of the fletched, as at 20 yd, in one end"),
        (seen_of(1, 1.5, True, yards=10), "bare 1 1/2 in right of the fletched, as at 20 yd, once"),
        (seen_of(1, 6.0, yards=19.685), "bare 6 in right of the fletched in one end"),
        (seen_of(1, 6.0, nearer=True), "bare 6 in right of the fletched in one end at 20 yd"),
        (seen_of(1, 6.0, fliers=1), "bare 6 in right of the fletched in one end, one flier left out"),
        (seen_of(2, 6.0, fliers=1), "bare 6 in right of the fletched in two ends, two fliers left out"),
        (seen_of(1, 6.0, wide=1),
         "bare 6 in right of the fletched in one end, one end that does not group left out"),
        (seen_of(1, 6.0, fliers=1, wide=2),
         "bare 6 in right of the fletched in one end, one flier and two ends that do not group left out"),
        (seen_of(1, 6.0, few=2),
         "bare 6 in right of the fletched in one end, two ends of fewer than three fletched and two bare left out"),
        (seen_of(1, 6.0, marks=("plate", "not_looked")),
         "bare 6 in right of the fletched in one end; it marked the plate"),
        (seen_of(1, 6.0, marks=("none", "plate", "none")),
         "bare 6 in right of the fletched in one end; it marked the plate in one of three ends"),
        (seen_of(1, 6.0, marks=("shelf", "plate")),
         "bare 6 in right of the fletched in one end; it marked the plate and the shelf"),
    ],
)  # fmt: skip
def test_what_the_ends_of_an_arrow_showed(shot, told):
    assert words().seen(shot) == told


def test_ends_from_nearer_are_left_out_once_there_are_fair_ones():
    far, near = end_of(6, yards=20), end_of(6, yards=10, fair=False)
    assert arrow_of(ends=[far, near]).nearer_left_out
    assert not arrow_of(ends=[near, near]).nearer_left_out
    assert not arrow_of(ends=[far, end_of(6, yards=20, fair=False)]).nearer_left_out


def test_small_numbers_are_words():
    assert [ends_told(n) for n in (1, 2, 3, 4)] == ["one end", "two ends", "three ends", "4 ends"]
    assert [counted(n) for n in (0, 1, 12, 13, -1)] == ["no", "one", "twelve", "13", "-1"]


def test_a_capital_and_a_list():
    assert [cap(""), cap("it read stiff")] == ["", "It read stiff"]
    assert listed([Buy("P175", 1), Buy("I25", 2)]) == "P175 and I25"
