"""The nocking point: what the height tells at each place, how far it is moved, and when nothing new is to be tried.

It moves a sixteenth at a time; the bow of these tests has it 3/8 in (0.375) above square.
"""

from types import SimpleNamespace as Some

import numpy as np
import pytest
from plan_ends import rig_with
from plan_fakes import WITHIN, arrow_of, end_of, named, where_of

from shaftwright.answers.plan import nocking
from shaftwright.answers.plan.steps import Where
from shaftwright.parameters import parameters, setting

STEP = 1 / 16
PER_STEP = parameters("diagnosis")["height_per_step_in"]
HERE = 0.375


def at(up, place=None, ends=2, **more):
    """An arrow that lay so high or low, with the nocking point where it is or was."""
    told = () if place is None else (("nocking point", f"{place} in"),)
    return arrow_of(*[0.0] * ends, up=up, setting=told, **more)


def where(*arrows, sd=2.0, unset=False, **more):
    rig = rig_with(nocking_point=None) if unset else rig_with()
    found = where_of(*arrows, rig=rig, **more)
    found.scenario.__dict__["known"] = Some(bare_sd=np.array([sd - 1, sd + 1]), fletched_sd=np.array([sd, sd]),
                                            slope=np.ones(2048), shift_sd=np.zeros(2048))  # fmt: skip
    return found


# ---------------------------------------------------------------- what was seen


def test_all_arrows_at_one_place_together_the_present_place_first():
    other = at(4.0, 0.5)
    one, two = arrow_of(0, up=-1.0), arrow_of(0, 0, up=-4.0, spec=named("MARSH-400"))
    unread = arrow_of(0, up=3.0, setting=(("nocking point", "before"),))
    plate = arrow_of(0, up=-9.0, setting=(("plate", "1/8 in"),), spec=named(length=29))
    now, then, before = nocking.heights(where(other, one, two, unread, plate))
    assert (now.at_in, now.up_in, len(now.ends)) == (HERE, pytest.approx(-4.5), 4)
    assert (then.at_in, then.up_in, len(then.ends)) == (0.5, 4, 2)
    assert (before.at_in, before.up_in) == (None, 3)


def test_more_shots_weigh_more_and_a_bow_without_a_nocking_point_has_no_place():
    ends = [end_of(0, 1.0, shots=2), end_of(0, 4.0, shots=4)]
    (now,) = nocking.heights(where(arrow_of(ends=ends), unset=True))
    assert (now.at_in, now.up_in) == (None, 3)


def test_tails_high_less_tails_low():
    ends = [end_of(0, high=tail) for tail in ("high", "high", "high", "low", "straight", None)]
    assert nocking.heights(where(arrow_of(ends=ends)))[0].tails == 2


def test_the_doubt_of_one_end_is_that_of_both_groups():
    """2.2 standard deviations of a centre of three bare shots from one of three fletched."""
    found = where(at(0), sd=3.0)
    found.scenario.known.fletched_sd = np.array([1.0, 1.0])
    assert nocking.height_doubt(found) == pytest.approx(
        setting("plan.height_sd") * (9 / 3 + 1 / 3) ** 0.5
    )


# ---------------------------------------------------------------- whether it speaks

DOUBT = setting("plan.height_sd") * 2 * (2 / 3) ** 0.5  # 3.6 in of one end


@pytest.mark.parametrize(
    ("arrow", "off"),
    [
        (at(-DOUBT - 0.1, ends=1), True), (at(DOUBT + 0.1, ends=1), True), (at(-DOUBT + 0.1, ends=1), False),
        (at(-DOUBT / 2**0.5 - 0.1), True), (at(-WITHIN - 0.001), False), (at(-WITHIN, ends=9), False),
        (at(WITHIN + 0.1, ends=3), True), (at(-WITHIN - 0.1, ends=3), True), (arrow_of(), False),
    ],
)  # fmt: skip
def test_a_height_speaks_beyond_what_is_straight_and_the_groups_doubt(arrow, off):
    assert nocking.height_is_off(where(arrow)) == off


@pytest.mark.parametrize(
    ("up", "tail", "ends", "off"),
    [(-3, "high", 2, True), (-3, "low", 2, False), (-3, None, 2, False), (3, "low", 2, True), (3, "high", 2, False),
     (-3, "high", 1, False), (3, None, 2, False)],
)  # fmt: skip
def test_tails_back_a_height_that_is_in_doubt(up, tail, ends, off):
    """Low with the tail high or high with the tail low, in more than one end; the doubt is 3.8 in of two."""
    assert nocking.height_is_off(where(at(up, ends=ends, high=tail), sd=3.0)) == off


def test_one_tail_of_two_backs_it_too():
    ends = [end_of(0, -3.0, high="high"), end_of(0, -3.0)]
    assert nocking.height_is_off(where(arrow_of(ends=ends), sd=3.0))
    ends = [end_of(0, 3.0, high="low"), end_of(0, 3.0)]
    assert nocking.height_is_off(where(arrow_of(ends=ends), sd=3.0))


@pytest.mark.parametrize(
    ("tails", "off"),
    [(("high",), True), (("low",), True), (("high", None), False), (("high", "high", None), True),
     (("high", "low", "high"), False), ((None,), False)],
)  # fmt: skip
def test_where_no_height_was_noted_most_tails_speak(tails, off):
    ends = [end_of(0, None, high=tail) for tail in tails]
    assert nocking.height_is_off(where(arrow_of(ends=ends))) == off


def test_a_height_with_nothing_new_to_try_is_let_be():
    """Off the same way between here and a place that is off the other way."""
    between = [at(-9), at(-9, HERE - STEP / 2), at(9, HERE - STEP)]
    assert nocking.height_is_off(where(at(-9), at(9, HERE - STEP)))
    assert not nocking.height_is_off(where(*between))


def test_ends_that_tell_no_height_are_not_counted_as_doubt():
    """One end in height, four that tell none: the doubt is that of one."""
    ends = [end_of(0, -3.0), *[end_of(0, None)] * 4]
    assert not nocking.height_is_off(where(arrow_of(ends=ends)))


# ---------------------------------------------------------------- how far

FAR_IN = setting("plan.far_height_steps") * PER_STEP.value


def target(*arrows, **more):
    return nocking._target(where(*arrows, **more))


@pytest.mark.parametrize(
    ("arrow", "move"),
    [
        (at(-4), -STEP), (at(4), STEP), (at(-FAR_IN), -STEP), (at(-FAR_IN - 0.1), -2 * STEP),
        (at(FAR_IN + 0.1), 2 * STEP), (at(-FAR_IN - 0.1, ends=1), -STEP),
        (arrow_of(ends=[end_of(0, None, high="high")]), -STEP), (arrow_of(ends=[end_of(0, None, high="low")]), STEP),
        (arrow_of(ends=[end_of(0, None, high="high")] * 3), -STEP),
    ],
)  # fmt: skip
def test_low_comes_down_and_high_goes_up_a_sixteenth_two_where_it_is_far_off_twice(arrow, move):
    """Common practice, no source: bare shafts low (tail high): lower the nocking point."""
    assert target(arrow) == (move, HERE + move)
    assert target(arrow, unset=True)[0] == move
    assert target(arrow, unset=True)[1] is not None


@pytest.mark.parametrize(
    ("up", "other", "place", "to"),
    [
        (-4, 4, HERE - STEP, HERE - STEP / 2),
        (4, -4, HERE + STEP, HERE + STEP / 2),
        (-3, 9, HERE - 2 * STEP, HERE - STEP / 2),
        (-9, 3, HERE - 2 * STEP, HERE - 1.5 * STEP),
        (-4, 4, HERE - STEP / 2, HERE - STEP / 4),
        (-4, 0.5, HERE - 2 * STEP, HERE - 2 * STEP),
        (4, -0.5, HERE + 2 * STEP, HERE + 2 * STEP),
        (-4, 4, HERE - 0.76 * STEP, HERE - STEP / 2),
        (-4, 4, HERE - 0.75 * STEP, HERE - STEP / 2),
        (-3, 9, HERE - 0.75 * STEP, HERE - STEP / 4),
        (-3, 9, HERE - 0.76 * STEP, None),
        (-0.5, 9, HERE - STEP, None),
    ],
)  # fmt: skip
def test_between_too_low_and_too_high_it_goes_in_proportion_in_the_finest_steps(
    up, other, place, to
):
    """Half sixteenths while the two are more than three quarters of one apart, else quarters."""
    move, found = target(at(up), at(other, place))
    assert found == (None if to is None else pytest.approx(to))
    if to is not None:
        assert move == pytest.approx(to - HERE)


def test_the_nearest_of_those_beyond_is_taken():
    move, to = target(at(-4), at(3, HERE - 4 * STEP), at(4, HERE - STEP))
    assert (move, to) == (-STEP / 2, HERE - STEP / 2)


def test_a_place_off_the_other_way_that_lies_behind_is_not_between():
    assert target(at(-4), at(4, HERE + STEP)) == (-STEP, HERE - STEP)
    assert target(at(4), at(-4, HERE - STEP)) == (STEP, HERE + STEP)


def test_tried_and_off_the_same_way_it_goes_past_the_farthest():
    assert target(at(-4, ends=1), at(-9, HERE - STEP)) == (
        pytest.approx(-2 * STEP),
        HERE - 2 * STEP,
    )
    assert target(at(4), at(9, HERE + STEP), at(7, HERE + 2 * STEP)) == (
        pytest.approx(3 * STEP), HERE + 3 * STEP,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("seen", "beside", "to"),
    [(-WITHIN - 0.1, 0.0, HERE - 2 * STEP), (-WITHIN, 0.0, HERE - STEP), (-9, 0.12 * STEP, HERE - 1.88 * STEP),
     (-9, STEP / 8, HERE - STEP), (-9, 0.13 * STEP, HERE - STEP), (-9, -0.12 * STEP, HERE - 2.12 * STEP)],
)  # fmt: skip
def test_a_place_counts_as_tried_within_an_eighth_of_a_step_and_only_where_it_was_off(
    seen, beside, to
):
    assert target(at(-4, ends=1), at(seen, round(HERE - STEP + beside, 9)))[1] == pytest.approx(
        to, abs=1e-6
    )


def test_where_nothing_is_known_of_a_place_it_is_not_counted():
    nameless = arrow_of(0, 0, up=-9.0, setting=(("nocking point", "before"),))
    unread = arrow_of(0, up=None, setting=(("nocking point", f"{HERE - STEP} in"),))
    assert target(at(-4), nameless, unread) == (-STEP, HERE - STEP)


@pytest.mark.parametrize(
    ("now", "then", "raised"),
    [
        (at(-6), at(-6, HERE + STEP), True),
        (at(-6), at(-6 - WITHIN / 2 + 0.01, HERE + STEP), True),
        (at(-6), at(-6 - WITHIN / 2 - 0.01, HERE + STEP), False),
        (at(-6), at(-6 + WITHIN / 2 - 0.01, HERE + STEP), True),
        (at(-6), at(-6 - WITHIN / 2, HERE + STEP), False),
        (at(-6), at(-6, HERE), False),
        (at(-6), at(-6, HERE - 3 * STEP), False),
        (at(-6, ends=1), at(-6, HERE + STEP), False),
        (at(-6), at(-6, HERE + STEP, ends=1), False),
        (at(-WITHIN), at(-WITHIN, HERE + STEP), False),
        (at(-WITHIN - 0.1), at(-WITHIN - 0.1, HERE + STEP), True),
        (at(6), at(6, HERE + 3 * STEP), False),
        (arrow_of(ends=[end_of(0, None, high="high")] * 2), at(-3, HERE + STEP), False),
    ],
)  # fmt: skip
def test_moved_down_in_vain_the_shafts_bounce_off_the_shelf_and_it_goes_clearly_high(
    now, then, raised
):
    """Common practice, no source: raise it until the bare shafts are clearly high, then come down."""
    move, to = target(now, then)
    assert (move == setting("diagnosis.clearly_high_in")) == raised
    if raised:
        assert to == HERE + move


# ---------------------------------------------------------------- broadheads


@pytest.mark.parametrize(
    ("up", "place", "tried"),
    [
        (4, HERE + STEP, True), (-4, HERE - STEP, True), (4, HERE + STEP + 0.24 * STEP, True),
        (4, HERE + 1.25 * STEP, False), (4, HERE + STEP + 0.26 * STEP, False), (4, HERE + STEP - 0.24 * STEP, True), (4, HERE - STEP, False),
    ],
)  # fmt: skip
def test_broadheads_ask_for_a_sixteenth_unless_it_sat_there_already(up, place, tried):
    found = where(at(0), at(0, round(place, 9)))
    assert nocking.tried_by_heads(found, up) == tried
    assert not nocking.tried_by_heads(where(at(0)), up)


def test_a_place_nobody_can_read_was_not_tried():
    unread = arrow_of(0, setting=(("nocking point", "before"),))
    found = where_of(at(0), unread, rig=rig_with(nocking_point={"above_square": 0.0625}))
    assert not nocking.tried_by_heads(found, -4)
    assert not nocking.tried_by_heads(where(at(0), at(0, HERE + STEP), unset=True), 4)


# ---------------------------------------------------------------- as a step


def told(*arrows, why="", heads=None, **more):
    found = where(*arrows, **more)
    return nocking.nocking_point(found, found.here[0], "tune", why, heads)


def test_low_shafts_lower_it_with_the_new_place_and_the_line_to_type():
    step = told(at(-4))
    assert (step.stage, step.kind, step.distance_yd) == ("tune", "nocking_point", 20)
    assert step.do == (
        "Lower the nocking point 1/16 in, to 5/16 in above square, and shoot the MARSH-500 again: "
        "30 in, 175 gr point, 20 yd."
    )
    assert step.why == "The bare shafts land 4 in low: nocking point first, left and right after."
    assert step.note == 'shaftwright note change nocking_point --nocking-point "5/16 in"'
    assert step.setting == "nocking point 5/16 in"
    assert told(at(-4), why="Own.").why == "Own."


def test_high_shafts_raise_it():
    step = told(at(4))
    assert step.do.startswith("Raise the nocking point 1/16 in, to 7/16 in above square,")
    assert step.why.startswith("The bare shafts land 4 in high:")


def test_quarters_of_a_sixteenth_are_told_as_they_are():
    step = told(at(-4), at(4, HERE - STEP / 2))
    assert step.do.startswith("Lower the nocking point 1/64 in, to 23/64 in above square,")


@pytest.mark.parametrize(("up", "way"), [(-4, "Lower"), (4, "Raise")])
def test_where_nobody_measured_it_only_the_way_is_told(up, way):
    step = told(at(up), unset=True)
    assert step.do.startswith(f"{way} the nocking point 1/16 in, and shoot the MARSH-500 again")
    assert step.note == "shaftwright note change nocking_point"
    assert step.setting == f"nocking point {way.lower()}{'d' if way == 'Raise' else 'ed'}"


@pytest.mark.parametrize(
    ("up", "high", "seen"),
    [(-WITHIN / 2 - 0.1, "high", "The bare shafts land 1 1/4 in low"), (-WITHIN / 2, "high", "The tails fly high"),
     (None, "high", "The tails fly high"), (None, "low", "The tails fly low")],
)  # fmt: skip
def test_small_heights_are_told_by_the_tails(up, high, seen):
    step = told(arrow_of(0, 0, up=up, high=high))
    assert step.why == f"{seen}: nocking point first, left and right after."


@pytest.mark.parametrize(("up", "far"), [(-4, 20), (4, 20), (-4, 25)])
def test_where_the_next_end_should_land_in_height(monkeypatch, up, far):
    """A sixteenth moves it by a half to four inches at 20 yd; two thirds of what is straight either way."""
    monkeypatch.setattr(Where, "far_yd", far)
    way = -1 if up < 0 else 1
    ends = sorted(up - way * by for by in (PER_STEP.low, PER_STEP.high))
    about = setting("diagnosis.height_doubt_groups") * WITHIN
    expect = told(at(up)).expect
    assert expect.axis == "vertical"
    assert expect.low_in == pytest.approx((ends[0] - about) * far / 20)
    assert expect.high_in == pytest.approx((ends[1] + about) * far / 20)
    assert expect.chance == setting("diagnosis.expect_chance")


def test_two_steps_should_move_it_twice_as_far():
    expect = told(at(-8)).expect
    about = setting("diagnosis.height_doubt_groups") * WITHIN
    assert expect.low_in == pytest.approx(-8 + 2 * PER_STEP.low - about)
    assert expect.high_in == pytest.approx(-8 + 2 * PER_STEP.high + about)


def test_by_tails_alone_the_height_is_taken_for_level():
    expect = told(arrow_of(0, 0, up=None, high="high")).expect
    about = setting("diagnosis.height_doubt_groups") * WITHIN
    assert expect.high_in == pytest.approx(PER_STEP.high + about)


@pytest.mark.parametrize(
    ("heads", "way", "to"),
    [(4.0, "Raise", "7/16"), (-4.0, "Lower", "5/16"), (0.8, "Raise", "7/16")],
)
def test_true_broadheads_move_it_against_what_bare_shafts_say(heads, way, to):
    step = told(at(-heads), heads=heads)
    assert step.do.startswith(f"{way} the nocking point 1/16 in, to {to} in above square,")
    about = setting("diagnosis.height_doubt_groups") * WITHIN
    far, near = heads - np.sign(heads) * PER_STEP.high, heads - np.sign(heads) * PER_STEP.low
    assert step.expect.low_in == pytest.approx(min(far, near) - about)
    assert step.expect.high_in == pytest.approx(max(far, near) + about)


@pytest.mark.parametrize(
    ("up", "others", "unset", "told_to"),
    [
        (-4, (), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (4, (), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (-4, (HERE - STEP,), False, "Lower the nocking point 1/8 in, to 1/4 in above square,"),
        (-4, (HERE + STEP,), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (4, (HERE - STEP,), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (-4, (HERE,), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (0.5, (HERE - STEP,), False, "Raise the nocking point 1/4 in, to 5/8 in above square,"),
        (0.0, (HERE - STEP,), False, "Lower the nocking point 1/8 in, to 1/4 in above square,"),
        (-4, (), True, "Raise the nocking point 1/4 in, and shoot"),
    ],
)  # fmt: skip
def test_marks_on_the_shelf_raise_it_clearly_then_it_comes_down(up, others, unset, told_to):
    """Raised since: down again by what the height says."""
    arrows = [at(-9, place) for place in others]
    assert told(at(up, marks="shelf"), *arrows, unset=unset).do.startswith(told_to)


def test_marks_on_the_shelf_with_no_place_left_between_raise_it_too():
    """Half an inch low here, far high a sixteenth below: nothing lies between."""
    step = told(at(-0.5, marks="shelf"), at(9, HERE - STEP))
    assert step.do.startswith("Raise the nocking point 1/4 in, to 5/8 in above square,")


def test_marks_on_the_shelf_without_height_or_tails_raise_it():
    step = told(arrow_of(0, up=None, marks="shelf"))
    assert step.do.startswith("Raise the nocking point 1/4 in, to 5/8 in above square,")


def test_marks_on_the_shelf_do_not_speak_against_broadheads():
    step = told(at(0, marks="shelf"), heads=-4.0)
    assert step.do.startswith("Lower the nocking point 1/16 in, to 5/16 in")
