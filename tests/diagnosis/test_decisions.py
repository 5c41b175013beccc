"""What follows from bare shafts: safety and fair shots first, nocking point next, sideways last."""

import numpy as np
import pytest
from diagnosis_ends import (
    FLETCHED,
    NAMES,
    RIG,
    SHOP,
    STOCK,
    chances,
    front_of,
    owning,
    read,
    shot,
    then,
)

from shaftwright.answers.scenario import scenario
from shaftwright.errors import NoAnswer
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.notebook import ENTRY
from shaftwright.rules.sections import diagnosis_rules, purposes

LEFT = RIG.model_copy(update={"archer": RIG.archer.model_copy(update={"hand": "left"})})
MIRRORED = [[-x, y] for x, y in FLETCHED]
#: steps that make another arrow of it
OF_SPINE = {"point", "insert", "cut", "shaft", "buy", "collar", "wrap"}


def far(n):
    """Ends so wide that they are no groups."""
    return [shot(bare=[[-25, 0], [20, 10], [0, -20]], fletched=FLETCHED)] * n


# ---------------------------------------------------------------- fair shots first


def test_no_bare_shaft_of_this_bow_is_no_answer():
    change = ENTRY.validate_python({"kind": "change", "what": "limbs"})
    with pytest.raises(NoAnswer, match="3 fletched"):
        read()
    with pytest.raises(NoAnswer, match="as it stands"):
        read(shot(-5), change)
    # a setting is no other bow
    setting = ENTRY.validate_python({"kind": "change", "what": "silencers"})
    assert read(shot(-5), setting).next_change.kind == "shoot"


def test_one_shot_proves_nothing_and_it_says_how_many_it_takes():
    """Common practice, no source: one shot proves nothing."""
    found = read(shot(-6, n=1))
    assert found.plan.next.kind == "shoot"
    assert (found.plan.next.bare, found.plan.next.fletched) == (3, 3)
    assert "Too few" in found.verdict
    assert found.plan.shot[0].standing == "not clear yet"


def test_a_group_without_fletched_shots_is_no_test():
    found = read(*[shot(-6, fletched=[])] * 3)
    assert found.plan.next.kind == "shoot"
    assert found.plan.shot[0].standing == "not clear yet"


def test_shots_that_do_not_group_are_void():
    found = read(*far(2))
    assert found.plan.next.kind == "shoot"
    # nearer, until they do
    assert found.plan.next.distance_yd == 10
    assert "too wide" in found.verdict
    assert found.plan.shot[0].standing == "not clear yet"


def test_a_third_end_that_disagrees_changes_no_spine():
    """Common practice, no source: straight and slightly stiff favour the first; a third shot left with
    its nock left is contact, release or the butt's face, and moves neither band nor arrow."""
    ends = [shot(reads="slightly_stiff", nock="right", shaft="MARSH-400"), shot(reads="straight")]
    third = shot(-5, n=1, side="left")
    stock = owning(MARSH_500=1, MARSH_400=1)
    two, three = read(*ends, stock=stock), read(*ends, third, stock=stock)
    assert three.band_after.mid == pytest.approx(two.band_after.mid, rel=0.01)
    for found in (two, three):
        step = found.plan.next
        assert (step.kind, step.shaft, step.point, step.length_in) == (
            "shoot", "MARSH-500", "P125", 30,
        )  # fmt: skip


def test_a_single_reading_has_no_others_to_contradict():
    odd = shot(reads="weak", shaft="MARSH-300", point="P75")
    stock = owning(MARSH_300=1)
    alone, with_others = (read(*[odd] * n, stock=stock) for n in (1, 2))
    assert not any("contradicts" in w for w in alone.warnings)
    assert any("what the rules expect" in w for w in alone.warnings)
    assert not alone.readings[0].contradicts
    assert alone.readings[0].unexpected
    assert not any(r.unexpected for r in with_others.readings)


# ---------------------------------------------------------------- sideways


def test_stiff_gets_weight_up_front_of_parts_in_hand():
    """T5: more up front weakens; common practice, no source: what is in hand first."""
    found = read(*[shot(-7, side="right")] * 3)
    step = found.plan.next
    assert step.kind in ("point", "insert")
    assert step.buy == ()
    assert (step.shaft, step.length_in) == ("MARSH-500", 30)
    assert front_of(step) > 150
    assert all(SHOP.by_name[name].in_hand for name in (step.point, step.insert))
    assert found.next_change.reversible
    assert not found.stop
    # it comes in from the left
    middle = (step.expect.low_in + step.expect.high_in) / 2
    assert -7 < middle < 7


def test_weak_gets_less_front_never_more_and_keeps_the_mass_floor():
    """The floor of rules/purposes.yaml and the maker's minimum, whichever is more."""
    bow = RIG.bow
    for point in ("P175", "P225", "P250"):
        step = then(*[shot(7, side="left", point=point)] * 2)
        assert step.kind in OF_SPINE
        if step.shaft == "MARSH-500":
            assert front_of(step) <= float(point[1:]) + 25
        bare = SHOP.by_name[step.shaft].gr_per_in * step.length_in + front_of(step)
        assert bare >= bow.maker_minimum_gr_per_lb * bow.draw_weight.lb


def test_no_lighter_point_that_would_fall_under_the_floor():
    """14 in of weak, and the lightest points in hand are too light for the bow: they are not named."""
    stock = owning(MARSH_500=1, P75=3, P85=3, P100=3, P175=3, P125=0, I100=0)
    step = then(*[shot(14, side="left", point="P175")] * 3, stock=stock)
    assert step.point not in ("P75", "P85", "P100")
    allowed = owning(MARSH_500=1, P125=3, P225=3, P175=3, I100=0)
    assert then(*[shot(14, side="left", point="P225")] * 3, stock=allowed).kind == "point"


def test_nothing_is_cut_while_something_in_hand_can_be_undone():
    """plan.md, how a careful tuner decides, 3; common practice, no source."""
    weak = [shot(6, side="left", point="P225", length=31)] * 2
    first = then(*weak)
    assert first.kind == "point"
    assert first.point == "P175"
    no_point = owning(MARSH_500=1, P125=0, P175=0, P225=3)
    cut = then(*weak, stock=no_point)
    assert cut.kind == "cut"
    assert cut.length_in in (30.5, 30.0, 29.5)  # by half inches
    assert not read(*weak, stock=no_point).next_change.reversible
    assert "Cut carbon wet" in cut.cautions[0]
    # one end is not enough for a saw
    assert then(weak[0], stock=no_point).kind == "shoot"


@pytest.mark.slow
def test_never_below_the_safe_length():
    """Common practice, no source: draw + 1 in where broadheads may follow."""
    least = shortest_safe_length_in(RIG, purposes().purposes[RIG.purpose])
    assert least == RIG.archer.draw_length_in + 1
    stock = owning(MARSH_500=1, P125=0, P175=0, P225=3)
    for over, kinds in ((0.5, {"cut"}), (0.125, OF_SPINE), (0.0, OF_SPINE - {"cut"})):
        step = then(*[shot(6, side="left", point="P225", length=least + over)] * 2, stock=stock)
        assert step.kind in kinds
        assert step.length_in >= least


def test_expected_ranges_and_steps_are_mirrored_for_the_left_hand():
    ends = [shot(-7, side="right")] * 3
    mirror = [shot(7, side="left", fletched=MIRRORED)] * 3
    one, other = read(*ends).plan.next, read(*mirror, rig=LEFT).plan.next
    assert other.do == one.do
    assert other.expect.low_in == pytest.approx(-one.expect.high_in, abs=0.5)
    assert other.expect.high_in == pytest.approx(-one.expect.low_in, abs=0.5)


def test_no_change_leads_back_to_an_arrow_that_lay_outside():
    """Common practice, no source: what was tried and lay outside is not tried again."""
    tried = [shot(-7, side="right", point="P175")] * 2
    now = [shot(-9, side="right")] * 2
    stock = owning(MARSH_500=1, P125=3, P175=3, P225=3, I100=0)
    assert then(*now, stock=stock).point in ("P175", "P225")
    assert then(*tried, *now, stock=stock).point == "P225"


@pytest.mark.slow
def test_inside_the_groups_nothing_of_it_is_changed():
    """Common practice, no source: an offset inside the archer's own groups says nothing."""
    for lean in (0.0, -1.2, 1.2):
        ends = [shot(x + lean, point="P175") for x in (0.5, -0.5, 0.2, -0.3, 0.1)]
        for many in range(1, 6):
            step = then(*ends[:many])
            assert step.stage == "prove"
            assert (step.shaft, step.length_in, step.point) == ("MARSH-500", 30, "P175")
            assert step.kind not in OF_SPINE
    # the same ends with the tails to one side are no proof
    leaning = read(*[shot(x, point="P175", side="right") for x in (0.5, -0.5, 0.2, -0.3, 0.1)])
    assert leaning.plan.shot[0].standing == "not clear yet"


def test_what_is_expected_of_the_same_arrow_lies_about_where_it_lies():
    found = read(*[shot(x, point="P175") for x in (0.5, -0.5, 0.2)])
    seen = found.expect_now
    # left of the fletched for a right-hander's stiff shaft
    middle = -float(np.mean(found.arrow.known.mismatch_lb * found.scenario.learned.slope))
    assert seen.low_in < middle < seen.high_in
    assert seen.chance == 0.8


@pytest.mark.slow
def test_an_arrow_that_flies_straight_leads_whatever_others_did():
    """plan.md: what flies straight leads; a neighbour that reads as it should is a confirmation."""
    stiff = [shot(-9, side="right", shaft="MARSH-400"), shot(-8, side="right", shaft="MARSH-400")]
    inside = [shot(x, point="P175") for x in (-1.0, -0.8, -0.8, -0.7, -0.4)]
    stock = owning(MARSH_500=1, MARSH_400=1)
    for many in range(1, 6):
        found = read(*stiff, *inside[:many], stock=stock)
        assert found.arrow.spec.shaft == "MARSH-500"
        assert found.plan.next.stage == "prove"
        assert found.plan.shot[0].shaft == "MARSH-500"


# ---------------------------------------------------------------- marks and contact


def test_a_large_offset_without_a_look_for_marks_adds_no_front_mass():
    """Common practice, no source: far too weak reads stiff; look for marks first."""
    step = then(*[shot(-12, side="right", marks="not_looked")] * 2)
    assert step.kind == "look_for_marks"
    assert "Powder" in step.do
    assert (step.shaft, step.point, step.length_in) == ("MARSH-500", "P125", 30)


@pytest.mark.slow
@pytest.mark.parametrize("point", ["P125", "P175", "P225"])
def test_no_front_mass_before_marks_were_looked_for(point):
    step = then(*[shot(-6, side="right", point=point, marks="not_looked")] * 2)
    assert step.kind == "look_for_marks" or front_of(step) <= float(point[1:]) + 25
    looked = then(*[shot(-6, side="right", point="P125", marks="none")] * 2)
    assert front_of(looked) > 150


def marked_steps():
    for point in ("P125", "P175", "P225"):
        for x, side in ((-6, "right"), (6, "left")):
            for times in (1, 2):
                yield point, [shot(x, side=side, point=point, marks="plate")] * times


@pytest.mark.slow
def test_with_marks_on_the_plate_nothing_weakens_and_marks_are_not_asked_for_again():
    """Common practice, no source: marks mean too weak, however stiff it reads."""
    for point, ends in marked_steps():
        found = read(*ends)
        step = found.plan.next
        assert found.plan.shot[0].standing == "contact"
        assert step.kind != "look_for_marks"
        if step.shaft is None:
            assert step.kind == "none"
            continue
        assert front_of(step) <= float(point[1:]) + 25
        spine = SHOP.by_name[step.shaft].spine_mils
        assert spine <= 500
        if spine == 500:
            assert step.length_in <= 30


def test_straight_with_marks_eases_the_plate_and_never_cuts():
    """plan.md, standings, contact."""
    found = read(*[shot(0, point="P175", marks="plate")] * 3)
    assert found.plan.next.kind == "plate"
    assert "Ease" in found.plan.next.do
    assert found.plan.next.length_in == 30
    assert found.plan.shot[0].standing == "contact"


@pytest.mark.slow
def test_marks_are_gone_only_after_two_clean_looks():
    """Common practice, no source: powder does not take every touch."""
    dirty = [("plate",), ("plate", "none"), ("plate", "not_looked", "none"), ("plate", "plate", "none", "none")]  # fmt: skip
    for marks in dirty:
        found = read(*[shot(-6, side="right", marks=m) for m in marks])
        assert found.plan.shot[0].standing == "contact", marks
        assert front_of(found.plan.next) <= 150
    for marks in (("none", "none"), ("plate", "none", "none"), ("none", "plate", "none"),
                  ("not_looked",)):  # fmt: skip
        assert read(*[shot(-6, side="right", marks=m) for m in marks]).arrow.marks != "plate"


def test_noted_marks_change_what_is_asked_to_be_checked():
    noted, not_noted = (read(shot(-6, side="right", marks=m)) for m in ("none", "not_looked"))
    assert any("powder" in c.check for c in not_noted.causes)
    assert not any("powder" in c.check for c in noted.causes)
    assert all(c.check for c in noted.causes)


def test_a_weaker_arrow_that_moves_out_is_contact_until_marks_were_looked_for():
    """Common practice, no source: moved the wrong way is false stiff until shown otherwise."""
    first = [shot(-6, side="right", marks="not_looked")] * 2
    heavier = [shot(-11, side="right", point="P225", marks="not_looked")] * 2
    found = read(*first, *heavier)
    standings = {s.point: s.standing for s in found.plan.shot}
    assert standings == {"P125": "outside", "P225": "contact"}
    assert found.plan.next.kind == "look_for_marks"
    assert found.plan.next.point == "P225"
    assert "stiff side" in found.verdict
    came_in = read(*first, shot(-1, point="P225"))
    assert came_in.plan.next.stage == "prove"
    assert "contact" not in {s.standing for s in came_in.plan.shot}


@pytest.mark.slow
def test_a_weaker_arrow_within_the_scatter_of_a_stiffer_one_is_not_called_false_stiff():
    """Calculated: two centres of three shots differ by 2 to 4 in on scatter alone."""
    first = [shot(-4.5, side="right", point="P175", marks="not_looked")] * 2
    for heavier, told in ((-4.6, "outside"), (-14, "contact")):
        ends = [shot(heavier, side="right", point="P250", marks="not_looked")] * 2
        found = read(*first, *ends)
        assert {s.point: s.standing for s in found.plan.shot}["P250"] == told


# ---------------------------------------------------------------- safety


def test_far_too_weak_is_never_told_to_be_shot_as_it_is_nor_made_weaker():
    """Safety gate of rules/purposes.yaml: over a chance of one in ten."""
    weak = [shot(-6, side="right", shaft="MARSH-700", point="P300", marks="not_looked")] * 2
    found = read(*weak, stock=owning(MARSH_700=1, P300=3))
    assert found.arrow.known.far_too_weak > 0.1
    assert found.plan.next.kind == "look_for_marks"
    # never shot, it is not named at all
    step = scenario(RIG, stock=owning(MARSH_700=1, MARSH_500=1, P300=3)).plan.next
    assert step.shaft == "MARSH-500"
    assert "MARSH-700" in step.why


@pytest.mark.parametrize("times", [1, 2])
def test_far_too_weak_and_marked_is_not_shot_again_as_it_is(times):
    """plan.md, standings, contact: suspect weak; common practice, no source: stiffer or lighter."""
    marked = [shot(-6, side="right", shaft="MARSH-700", point="P300", marks="plate")] * times
    found = read(*marked, stock=owning(MARSH_700=1, P300=3))
    assert found.arrow.known.far_too_weak > 0.5
    step = found.plan.next
    assert step.kind != "shoot"
    assert step.shaft != "MARSH-700" or front_of(step) < 325


@pytest.mark.parametrize("owned", [{}, {"MARSH_400": 6}])
def test_marked_and_reading_stiff_goes_no_further_than_the_next_stiffer_shaft(owned):
    """plan.md: first ends at 10 yd for safety; what is in hand before what is bought."""
    ends = [shot(-6, side="right", marks=m) for m in ("plate", "none")]
    step = then(*ends, stock=owning(MARSH_500=1, **owned))
    assert step.expect is None or step.expect.high_in > -20
    assert not owned or step.kind != "buy"


def test_a_weaker_arrow_not_looked_at_is_looked_at_before_more_front():
    """plan.md, stories: a weaker shaft lands more to the stiff side, marks not looked for."""
    first = [shot(-6, side="right", marks="none")] * 2
    heavier = [shot(-11, side="right", point="P225", marks="not_looked")] * 2
    step = then(*first, *heavier)
    assert step.kind == "look_for_marks" or front_of(step) <= 150


def test_a_change_of_front_says_how_many_grains():
    """design.md, section 8: what, amount, unit."""
    found = read(*[shot(-7, side="right")] * 3)
    assert found.plan.next.kind in ("point", "insert")
    assert found.next_change.amount == front_of(found.plan.next) - 150
    assert found.next_change.unit == "gr"


@pytest.mark.slow
def test_a_shaft_too_short_for_the_draw_is_never_told_to_be_shot():
    """Common practice, no source: draw + 1/2 in at least, + 1 in where broadheads may follow."""
    least = shortest_safe_length_in(RIG, purposes().purposes[RIG.purpose])
    for ends in (
        [shot(-3, n=2, length=least - 3)], [shot(-6, side="right", length=least - 3)] * 3,
        [shot(0, length=least - 3)] * 4, [shot(reads="stiff", length=least - 3)],
        [shot(-6, side="left", length=least - 0.25)],
    ):  # fmt: skip
        found = read(*ends)
        assert "too short for this draw" in found.dangers
        assert found.stop
        assert found.plan.shot[0].standing == "dangerous"
        assert "do not shoot it" in found.verdict
        assert found.plan.next.length_in >= least
    fine = read(shot(-3, n=2, length=least, point="P175"))
    assert fine.dangers == ()
    assert not fine.stop


def test_an_arrow_under_the_floor_is_never_told_to_be_shot():
    """rules/purposes.yaml and the maker's minimum of 8 gr/lb: 376 gr bare from this bow."""
    light = [shot(0, point="P75")] * 4  # 30 x 7.4 + 75 + 25 = 322 gr
    found = read(*light)
    assert found.dangers == ("too light for this bow",)
    assert found.stop
    assert found.plan.shot[0].standing == "dangerous"
    step = found.plan.next
    assert SHOP.by_name[step.shaft].gr_per_in * step.length_in + front_of(step) >= 376


# ---------------------------------------------------------------- height


@pytest.mark.parametrize(("y", "tail", "way", "to"), [
    (9, "low", "Raise", "1/2 in"), (-9, "high", "Lower", "1/4 in"),
])  # fmt: skip
def test_a_nocking_point_expects_a_height_not_a_side(y, tail, way, to):
    """T5, T7: bare shafts high with the tail low ask for a higher nocking point, and the reverse."""
    bare = [{"at": [d, y], "tail": {"up": tail}} for d in (-1, 0, 1)]
    found = read(*[shot(0, y=y, bare=bare)] * 2)
    step = found.plan.next
    assert step.kind == "nocking_point"
    assert step.do.startswith(f"{way} the nocking point 1/8 in, to {to} above square")
    assert step.setting == f"nocking point {to}"
    assert step.expect.axis == "vertical"
    assert step.expect.low_in < step.expect.high_in
    # toward the fletched ones
    assert abs(step.expect.low_in + step.expect.high_in) / 2 < 9
    assert read(shot(-5), shot(-5)).plan.next.expect.axis == "sideways"


def test_a_nocking_point_moves_by_sixteenths():
    """Common practice, no source."""
    for y in (4, 5, 6, -4, -5, -6):
        tail = {"up": "low" if y > 0 else "high"}
        bare = [{"at": [d, y], "tail": tail} for d in (-1, 0, 1)]
        step = then(*[shot(0, bare=bare)] * 2)
        assert step.do.split(",")[0].endswith(
            " the nocking point 1/16 in" if abs(y) < 5.1 else " in"
        )


# ---------------------------------------------------------------- causes and documents


def test_chances_of_each_axis_sum_to_one_and_every_cause_has_a_check():
    for ends in ([shot(-5)], [shot(6, y=-7, side="left", marks="plate")] * 3, far(2)):
        found = read(*ends)
        for axis in ("sideways", "vertical"):
            assert sum(chances(found, axis).values()) == pytest.approx(1)
        assert {c.code for c in found.causes} == {c.code for c in diagnosis_rules().causes}
        assert all(c.check and c.label for c in found.causes)


def test_no_lighter_front_is_to_be_checked_where_none_is_to_be_had():
    weak = [shot(6, side="left", point="P175")] * 2
    with_one, without = (
        {NAMES[c.code]: c.check for c in read(*weak, stock=stock).causes}["too-weak"]
        for stock in (owning(MARSH_500=1, P150=3), owning(MARSH_500=1, P125=0))
    )
    assert "off the front" in with_one
    assert "off the front" not in without


def test_creeping_string_and_low_brace_are_suspected():
    brace = [
        ENTRY.validate_python(
            {"kind": "brace", "brace": b, "string": "A", "twists": 20, "shots_on": n}
        )
        for b, n in ((7.5, 0), (7.25, 100))
    ]
    found, calm = read(*brace, shot(4)), read(shot(4))
    assert found.signs["string"] == ["creeping"]
    assert chances(found)["string-creeps"] > 2 * chances(calm)["string-creeps"]
    low = RIG.model_copy(update={"bow": RIG.bow.model_copy(update={"brace_height_in": 6.25})})
    assert chances(read(shot(4), rig=low))["brace-too-low"] > 2 * chances(calm)["brace-too-low"]


def test_the_document_has_the_keys_of_the_contract():
    found = read(shot(-5), shot(-5))
    document = found.to_dict() | found.plan.to_dict()
    assert {"rig", "band_before", "band_after", "causes", "verdict", "next_change", "stop",
            "cautions", "next", "shot"} <= set(document)  # fmt: skip
    assert {"code", "label", "chance", "signs_for", "signs_against", "check"} <= set(
        document["causes"][0]
    )
    assert {"what", "amount", "unit", "reversible", "expect"} <= set(document["next_change"])
    assert document["next_change"]["what"] == document["next"]["do"]
    assert {"low_in", "high_in"} <= set(document["next_change"]["expect"])
    for name in ("band_before", "band_after"):
        band = document[name]
        assert set(band) == {"low", "mid", "high", "chance", "length_in", "front_gr"}
        assert np.isfinite(list(band.values())).all()
        assert band["low"] < band["mid"] < band["high"]


def test_ends_move_the_band_the_way_they_read():
    """T5: bare shafts left of the fletched ones ask a right-hander for a weaker arrow."""
    stiff, weak = read(*[shot(-7, side="right")] * 3), read(*[shot(7, side="left")] * 3)
    assert stiff.band_before.mid == weak.band_before.mid
    assert weak.band_after.mid < stiff.band_before.mid < stiff.band_after.mid
    assert STOCK.by_name["MARSH-500"].in_hand == 1
