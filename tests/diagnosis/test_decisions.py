"""The one next thing: in the order of a careful tuner, with what can be undone first."""

import numpy as np
import pytest

from shaftwright.answers.diagnose import diagnose
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.errors import NoAnswer
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY

STOCK = load_stock("examples/heron_marsh/stock.csv")
RIG = load_rig("examples/heron_marsh/rig.yaml")
FLETCHED = [[0.5, 0.0], [-1.5, 1.0], [1.0, -1.0]]


def shot(x=None, y=0.0, shaft="MARSH-500", point="P125", n=3, side=None, **more):
    build = {"shaft": shaft, "length": "30 in", "point": point, "insert": "I25", "nock": "N246",
             "fletching": "F3x4"}  # fmt: skip
    data = {
        "kind": "bareshaft",
        "build": build,
        "distance": 20,
        "taped": True,
        "marks": "none",
        "cant_deg": 0,
    }
    if x is not None:
        tail = {"side": side} if side else None
        spread = [[-1.5, 0.6], [1.5, -0.6], [0.0, 0.0]][:n]
        data["bare"] = [{"at": [x + dx, y + dy], "tail": tail} for dx, dy in spread]
        data["fletched"] = FLETCHED
    return ENTRY.validate_python(data | more)


def decide(*entries, rig=RIG, stock=STOCK):
    return diagnose(rig, entries, stock).decision


def test_no_bare_shaft_of_this_bow_is_no_answer():
    change = ENTRY.validate_python({"kind": "change", "what": "limbs"})
    with pytest.raises(NoAnswer, match="3 fletched"):
        diagnose(RIG, [], STOCK)
    with pytest.raises(NoAnswer, match="as it stands"):
        diagnose(RIG, [shot(-5), change], STOCK)


def test_one_shot_proves_nothing_and_it_says_how_many_more():
    decision = decide(shot(-6, n=1))
    assert decision.kind == "shoot"
    assert "bare shafts and 3 fletched" in decision.what


def test_a_group_without_fletched_shots_is_no_test():
    assert decide(shot(-6, fletched=[])).kind == "shoot"


def test_shots_that_do_not_group_are_void():
    wide = shot(bare=[[-25, 0], [20, 10], [0, -20]], fletched=FLETCHED)
    decision = decide(wide)
    assert decision.kind == "shoot"
    assert "do not group" in decision.verdict


def test_stiff_gets_front_mass_with_parts_in_hand_first():
    stiff = [shot(-7, side="right", shaft="MARSH-500") for _ in range(3)]
    decision = decide(*stiff)
    assert decision.kind == "change"
    assert decision.unit == "gr"
    assert decision.amount > 0
    assert decision.reversible
    part = decision.option.spec.point, decision.option.spec.insert
    assert any(STOCK.by_name[p].in_hand for p in part if p)
    assert "further left" in decision.if_wrong
    assert "false stiff" in decision.if_wrong
    # right of where they are now, in the archer's view
    assert decision.expect.low_in > -7
    assert decision.expect.low_in < decision.expect.high_in


def test_weak_gets_less_front_never_more():
    weak = [shot(7, side="left", shaft="MARSH-600", point="P175") for _ in range(3)]
    decision = decide(*weak)
    assert decision.kind == "change"
    assert not (decision.unit == "gr" and decision.amount > 0 and "wrap" not in decision.what)
    assert decision.option.build.bare_gr[0] >= 8 * 47


def test_inside_the_groups_it_stops_and_says_an_offset_this_small_says_nothing():
    decision = decide(
        *[shot(x, shaft="MARSH-500", point="P175") for x in (0.5, -0.5, 0.2, -0.3, 0.1)]
    )
    assert decision.stop
    assert decision.amount == 0
    assert "inside your own groups" in decision.verdict


def test_large_offset_without_a_look_for_marks_adds_no_front_mass():
    decision = decide(*[shot(-12, side="right", marks="not_looked") for _ in range(2)])
    assert decision.kind == "look"
    assert "powder" in decision.what
    assert "no front mass" in decision.what


@pytest.mark.parametrize("times", [1, 2])
def test_with_marks_nothing_that_weakens_is_advised(times):
    decision = decide(*[shot(-6, side="right", marks="plate") for _ in range(times)])
    assert decision.kind in ("look", "change")
    if decision.option is not None:
        assert not (decision.unit == "gr" and decision.amount > 0)
        assert decision.option.build.front_gr[0] <= 150


def test_far_too_weak_is_never_told_to_be_shot_again():
    """Safety gate: no more front mass, no weaker or longer shaft above a 10 % chance."""
    weak = shot(-6, side="right", shaft="MARSH-700", point="P300", marks="not_looked")
    found = diagnose(RIG, [weak] * 2, STOCK)
    assert found.asked.build.far_too_weak > 0.1
    decision = found.decision
    assert "do not shoot" in decision.verdict
    assert "powder" in decision.what
    if decision.option is not None:
        same = decision.option.same_shaft
        assert decision.option.build.front_gr[0] <= 325 if same else True
        assert decision.option.build.spine_mils[0] <= 700


def test_cutting_only_after_what_can_be_undone_and_never_below_the_safe_length():
    found = diagnose(RIG, [shot(8, side="left", shaft="MARSH-600", point="P75")] * 3, STOCK)
    if found.decision.option is not None and found.decision.option.kind == "cut":
        assert found.decision.amount == -0.25
    from shaftwright.answers.diagnose_options import options_for

    cuts = [o for o in options_for(found.asked, RIG, STOCK) if o.kind == "cut"]
    assert cuts
    assert min(float(o.build.length_in[0]) for o in cuts) >= RIG.archer.draw_length_in + 1
    assert all(not o.reversible and "point end" in o.what for o in cuts)
    # with the lightest point on and nothing else to undo, a quarter inch is cut
    bare = [i for i in STOCK.items if i.item in ("MARSH-600", "P75", "I12", "N246", "F3x4")]
    from shaftwright.records.stock import Stock

    rig = RIG.model_copy(update={"bow": RIG.bow.model_copy(
        update={"plate": None, "maker_minimum_gr_per_lb": None})})  # fmt: skip
    weak = shot(9, side="left", shaft="MARSH-600", point="P75")
    weak = ENTRY.validate_python(weak.model_dump(by_alias=True, exclude_none=True)
                                 | {"build": {"shaft": "MARSH-600", "length": 31.5, "point": "P75", "insert": "I12"}})  # fmt: skip
    decision = diagnose(rig, [weak] * 4, Stock(tuple(bare))).decision
    if decision.kind == "change":
        assert decision.option.kind == "cut"
        assert decision.amount == -0.25
        assert not decision.reversible
        assert "31 1/4 in" in decision.what


def test_two_shafts_and_a_third_that_disagrees():
    """Common practice, no source: straight and slightly stiff favour the first; a third shot left with
    its nock left changes no spine but asks for a fresh look at nock, marks and face."""
    straight = shot(reads="straight", shaft="MARSH-500")
    stiff = shot(reads="slightly_stiff", nock="right", shaft="MARSH-400")
    third = shot(-5, n=1, side="left", shaft="MARSH-500")
    two, three = (
        diagnose(RIG, [stiff, straight], STOCK),
        diagnose(RIG, [stiff, straight, third], STOCK),
    )
    assert three.band_after.mid == pytest.approx(two.band_after.mid, rel=0.01)
    assert three.decision.kind == "look"
    for word in ("nock", "marks", "face"):
        assert word in three.decision.what


def test_expected_ranges_are_mirrored_for_the_left_hand():
    left = RIG.model_copy(update={"archer": RIG.archer.model_copy(update={"hand": "left"})})
    right = diagnose(RIG, [shot(-7, side="right")] * 3, STOCK)
    mirror = [[-x, y] for x, y in FLETCHED]
    other = diagnose(left, [shot(7, side="left", fletched=mirror)] * 3, STOCK)
    assert other.decision.what == right.decision.what
    assert other.decision.expect.low_in == pytest.approx(-right.decision.expect.high_in, abs=0.5)


def test_chances_of_each_axis_sum_to_one_and_every_cause_has_a_check():
    found = diagnose(RIG, [shot(-5)], STOCK)
    for axis in ("sideways", "vertical"):
        assert sum(s.chance for s in found.suspects if s.cause.axis == axis) == pytest.approx(1)
    assert {c.code for c in diagnosis_rules().causes} == {s.cause.code for s in found.suspects}
    assert all(s.cause.check and s.cause.do for s in found.suspects)


def test_json_has_the_keys_of_the_contract():
    document = diagnose(RIG, [shot(-5)], STOCK).as_dict()
    assert {"format", "rig", "band_before", "band_after", "causes", "verdict", "next_change", "stop",
            "cautions"} <= set(document)  # fmt: skip
    assert {"code", "label", "chance", "signs_for", "signs_against", "check"} <= set(
        document["causes"][0]
    )
    assert {"what", "amount", "unit", "reversible", "expect"} <= set(document["next_change"])
    assert {"low_in", "high_in"} <= set(document["next_change"]["expect"])
    assert {"low", "mid", "high", "chance", "length_in", "front_gr"} == set(document["band_after"])
    assert np.isfinite(list(document["band_after"].values())).all()


def test_creeping_string_and_low_brace_are_suspected():
    brace = [
        ENTRY.validate_python({"kind": "brace", "brace": b, "string": "A", "twists": 20})
        for b in (7.5, 7.25)
    ]
    found = diagnose(RIG, [*brace, shot(4)], STOCK)
    assert found.signs["string"] == ["creeping"]
    calm = diagnose(RIG, [shot(4)], STOCK)

    def chance(d, name):
        return next(s.chance for s in d.suspects if s.cause.name == name)

    assert chance(found, "string-creeps") > 2 * chance(calm, "string-creeps")
    low = RIG.model_copy(update={"bow": RIG.bow.model_copy(update={"brace_height_in": 6.25})})
    assert chance(diagnose(low, [shot(4)], STOCK), "brace-too-low") > 2 * chance(
        calm, "brace-too-low"
    )


def test_a_weaker_arrow_that_does_not_come_in_is_never_weakened_further():
    """Common practice, no source: moved the wrong way is false stiff until shown otherwise."""
    first = [shot(-6, side="right", point="P125")] * 2
    heavier = [
        shot(-8, side="right", point="P225", marks=m) for m in ("not_looked", "none", "none")
    ]
    for many in (1, 2, 3):
        decision = decide(*first, *heavier[:many])
        assert decision.kind in ("look", "shoot", "change")
        if decision.option is not None:
            assert decision.option.build.front_gr[0] <= 250
            assert decision.option.build.spine_mils[0] <= 500
    assert "false stiff" in decide(*first, *heavier[:1]).verdict
    came_in = decide(*first, shot(-1, point="P225"))
    assert "false stiff" not in came_in.verdict


def test_a_nocking_point_expects_a_height_not_a_side():
    """Common practice, no source: bare shafts high with the tail low ask for a higher nocking point."""
    from shaftwright.render.bareshaft import bareshaft_text
    from shaftwright.render.bareshaft_picture import target_view

    for y, tail, way in ((9, "low", "raise"), (-9, "high", "lower")):
        found = diagnose(RIG, [shot(0, y=y, bare=[{"at": [d, y], "tail": {"up": tail}} for d in (-1, 0, 1)])] * 2, STOCK)  # fmt: skip
        assert found.decision.kind == "nocking_point"
        assert found.decision.what.startswith(way)
        told = " ".join(bareshaft_text(found).split())
        expected = told.split("expect the next bare centre")[1].split("of the fletched one")[0]
        assert "left" not in expected
        assert "right" not in expected
        assert ("high" if y > 0 else "low") in expected
        expect = found.as_dict()["next_change"]["expect"]
        assert expect["axis"] == "vertical"
        assert expect["low_in"] < expect["high_in"]
        assert target_view(found) is not None
    aside = diagnose(RIG, [shot(-5)], STOCK).as_dict()["next_change"]["expect"]
    assert aside["axis"] == "sideways"


def test_a_shaft_too_short_for_the_draw_is_never_told_to_be_shot():
    """Common practice, no source: draw + 1/2 in at least, + 1 in where broadheads may follow."""
    from shaftwright.inference.rig_facts import shortest_safe_length_in
    from shaftwright.rules.purposes import purposes

    least = shortest_safe_length_in(RIG, purposes().purposes[RIG.purpose])
    assert least >= RIG.archer.draw_length_in + 0.5
    build = {"shaft": "MARSH-500", "length": least - 3, "point": "P125", "insert": "I25"}
    for group in (
        [shot(-3, n=2, build=build)], [shot(-6, side="right", build=build)] * 3,
        [shot(0, build=build)] * 4, [shot(reads="stiff", build=build)],
        [shot(-6, side="left", build=build)],
    ):  # fmt: skip
        decision = decide(*group)
        assert decision.what.startswith("do not draw this arrow")
        assert f"too short, it must be at least {least:g}" in decision.what.replace(" 1/4", ".25")
        assert decision.stop
        assert decision.option is None
        assert "shoot" not in decision.what
    long_enough = shot(-3, n=2, build=build | {"length": least, "point": "P175"})
    assert "short" not in decide(long_enough).what
    assert not decide(long_enough).stop


def test_far_too_weak_by_its_own_figures_is_said_first_however_it_reads():
    """A shaft under the shoot gate of rules/purposes.yaml; it may read stiff (common practice, no source)."""
    found = diagnose(RIG, [shot(-6, side="right", shaft="MARSH-700", point="P300")] * 2, STOCK)
    assert found.decision.what.startswith("do not draw this arrow: far too weak")
    assert found.decision.stop
    assert "do not shoot" in found.decision.verdict
    if found.decision.option is not None:
        assert found.decision.option.build.spine_mils[0] < found.asked.build.build.spine_mils[0]
    assert found.as_dict()["stop"] is True
    assert found.as_dict()["dangers"]


def doubtful(**more):
    """A build whose only danger is a chance over 10 % of being far too weak, by its middle it is not."""
    points = ("P125", "P145", "P175", "P200", "P225", "P250", "P300")
    for reads, point in ((r, p) for r in ("slightly_weak", "weak", "straight") for p in points):
        found = diagnose(RIG, [shot(shaft="MARSH-600", point=point, reads=reads, **more)], STOCK)
        told = found.decision.dangers
        if told and all("with a chance of" in danger for danger in told):
            assert found.asked.build.far_too_weak > 0.1
            return found
    raise AssertionError("no such build")


def test_a_chance_over_one_in_ten_of_far_too_weak_says_first_not_to_shoot_it():
    """The safety gate of rules/purposes.yaml: by figures alone, first powder, then stiffer or lighter."""
    from shaftwright.render.bareshaft import bareshaft_text

    found = doubtful(marks="not_looked")
    decision = found.decision
    assert decision.what.startswith("do not shoot this arrow further")
    assert "powder" in decision.what
    assert decision.stop
    assert decision.dangers
    assert decision.kind != "shoot"
    option = decision.option
    assert option is not None
    stiffer = option.build.spine_mils[0] < found.asked.build.build.spine_mils[0]
    lighter = option.build.front_gr[0] < found.asked.build.build.front_gr[0]
    assert stiffer or lighter
    assert not stiffer or option.build.length_in[0] <= 30
    document = found.as_dict()
    assert document["stop"] is True
    assert document["dangers"]
    told = bareshaft_text(found)
    assert told.startswith("Do not shoot this arrow further")
    assert "What it could be" not in told  # those checks ask for shots
    # nor is it told to be shot again because its shots were no group, or disagreed
    spec = found.asked.build.spec
    wide = shot(shaft=spec.shaft, point=spec.point, bare=[[-25, 0], [20, 10], [0, -20]],
                fletched=FLETCHED, marks="not_looked")  # fmt: skip
    entry = found.asked.last_entry
    again = diagnose(RIG, [entry, wide], STOCK)
    assert again.asked.last.look.void
    assert again.asked.build.far_too_weak > 0.1
    assert again.decision.stop
    assert "do not" in again.decision.what
    assert "shoot 3" not in again.decision.what


def test_marks_that_were_noted_are_not_asked_for_again():
    for marks in ("none", "plate"):
        assert "look for marks" not in doubtful(marks=marks).decision.what
        assert "powder" not in doubtful(marks=marks).decision.what
    first = [shot(-6, side="right", point="P125")] * 2
    heavier = [shot(-8, side="right", point="P225", marks="none")] * 3
    assert "marks" not in decide(*first, *heavier).what.split(";")[0]
    noted, not_noted = (
        diagnose(RIG, [shot(-6, side="right", marks=m)], STOCK) for m in ("none", "not_looked")
    )
    assert any("powder" in s.cause.check for s in not_noted.suspects)
    assert not any("powder" in s.cause.check for s in noted.suspects)
    checks = {s.cause.code: s.cause.check for s in noted.suspects}
    assert all(checks.values())
    assert noted.as_dict()["causes"][0]["check"] in checks.values()


def test_at_a_stop_nothing_is_changed_and_no_more_is_expected_than_of_the_same_build():
    from shaftwright.render.bareshaft import bareshaft_text

    stopped = 0
    for lean in (0.0, -1.2, 1.2):
        group = [shot(x + lean, point="P175") for x in (0.5, -0.5, 0.2, -0.3, 0.1)]
        found = diagnose(RIG, group, STOCK)
        if not found.decision.stop:
            continue
        stopped += 1
        assert found.decision.expect == found.expect_now
        middle = float(np.mean(found.asked.build.mismatch_lb * found.learned.slope))
        expect = found.decision.expect
        # left of the fletched for a right-hander's stiff shaft
        assert expect.low_in < -middle < expect.high_in
        told = " ".join(bareshaft_text(found).split())
        assert "shot again as it is, expect the next bare centre" in told
    assert stopped


def test_a_single_reading_has_no_others_to_contradict():
    from shaftwright.render.bareshaft import bareshaft_text

    odd = shot(reads="weak", shaft="MARSH-300", point="P75")
    alone, with_others = (diagnose(RIG, [odd] * n, STOCK) for n in (1, 2))
    assert "contradicts the others" not in bareshaft_text(alone)
    assert not any("contradicts" in w for w in alone.learned.warnings)
    assert any("what the rules expect" in w for w in alone.learned.warnings)
    assert not alone.as_dict()["readings"][0]["contradicts"]
    assert not any(r.unexpected for r in with_others.learned.readings)


def near(x, tail="straight", point="P225"):
    """A group by a tidy shot at 10 yd: 3 fletched, 3 bare."""
    return shot(
        x, distance=10, point=point, shaft="MARSH-400", fletched=[[0, -1], [-1, 0.5], [1, 0]],
        bare=[{"at": [x + d, 0.5], "tail": {"side": tail}} for d in (-0.3, 0.0, 0.4)],
    )  # fmt: skip


def test_ends_that_stay_inside_the_groups_win_over_what_other_builds_let_expect():
    """Common practice, no source: an offset inside the archer's own groups says nothing."""
    stiff = [near(-4.7, "right", "P125"), near(-4.8, "right", "P125"), near(-2.7, "right", "P175")]
    inside = [near(x) for x in (-1.0, -0.8, -0.8, -0.7, -0.4)]
    for many in range(1, 6):
        found = diagnose(RIG, [*stiff, *inside[:many]], STOCK)
        assert abs(found.asked.side_in) < found.asked.within_in
        assert found.decision.kind in ("shoot", "stop")
        assert found.decision.option is None
        assert "which side" not in found.decision.verdict
    assert found.decision.stop
    assert "inside your own groups" in found.decision.verdict
    # the same ends with the tails to one side are no proof
    leaning = [near(x, "right") for x in (-1.0, -0.8, -0.8, -0.7, -0.4)]
    from shaftwright.answers.diagnose_danger import stays_inside

    assert stays_inside(found.asked)
    assert not stays_inside(diagnose(RIG, [*stiff, *leaning], STOCK).asked)


def test_dead_centre_is_called_inside_and_never_a_doubt_of_side():
    for many in (1, 2, 3):
        decision = decide(*[near(0.0, point="P175")] * many)
        assert "which side" not in decision.verdict
        if decision.kind in ("shoot", "stop"):
            assert "nside your" in decision.verdict


def test_sure_of_the_side_and_not_of_the_size_says_so_and_names_the_step():
    """Two groups well left with the nock right and no marks are stiff (T5, T6: see test_signs)."""
    told = []
    for many in (1, 2):
        decision = decide(*[near(-5, "right", "P75")] * many)
        told.append(decision)
        assert "which side" not in decision.verdict
    for decision in told:
        if decision.kind == "shoot":
            assert decision.verdict.startswith("Clearly stiff; how much is not known yet")
            assert "change the" in decision.if_wrong or "try a weaker" in decision.if_wrong
    from shaftwright.answers.diagnose_change import next_step, outlooks
    from shaftwright.answers.diagnose_options import options_for
    from shaftwright.rules.sizes import shipped

    found = diagnose(RIG, [near(-5, "right", "P75")] * 2, STOCK)
    every = outlooks(options_for(found.asked, RIG, STOCK), found.asked, found.learned, shipped())
    step, back = next_step(every, weaken=True), next_step(every, weaken=False)
    assert step.weakens
    assert step.option.reversible
    assert back is None or not back.weakens


def test_glue_counts_against_an_insert_and_never_against_a_point():
    """Common practice, no source: a point is screwed in by hand, an insert is heated out."""
    from dataclasses import replace

    from shaftwright.answers.diagnose_change import choose_change, outlooks
    from shaftwright.answers.diagnose_options import options_for
    from shaftwright.rules.sizes import shipped

    found = diagnose(RIG, [near(-4, "right", "P125")] * 3, STOCK)
    every = outlooks(options_for(found.asked, RIG, STOCK), found.asked, found.learned, shipped())
    glued = {o.option.what.split()[2] for o in every if o.option.glued}
    assert glued == {"insert"}
    one = next(o for o in every if o.option.what.startswith("change the point"))
    point = replace(one, chance_inside=0.7, heavy_enough=True, far_too_weak=0.0)
    insert = replace(point, chance_inside=0.75, option=replace(point.option, glued=True))
    for free in (False, True):
        assert choose_change([insert, point], 0.1, gated=False, free=free) is point
        better = replace(insert, chance_inside=0.95)
        assert choose_change([better, point], 0.1, gated=False, free=free) is better


def test_a_changed_arrow_under_the_usual_mass_is_warned_of():
    from shaftwright.answers.diagnose_danger import mass_warning
    from shaftwright.answers.diagnose_options import options_for
    from shaftwright.rules.sizes import shipped

    found = diagnose(RIG, [near(0, point="P175")] * 2, STOCK)
    options = options_for(found.asked, RIG, STOCK)
    told = {
        o.spec.point: mass_warning(o, RIG, shipped(), None) for o in options if "point" in o.what
    }
    light, heavy = min(told, key=lambda p: int(p[1:])), max(told, key=lambda p: int(p[1:]))
    assert "gr/lb, under the" in told[light]
    assert told[heavy] is None


def test_a_weaker_arrow_within_the_scatter_of_a_stiffer_one_is_not_called_false_stiff():
    """Calculated: two centres of three shots differ by 2 to 4 in on scatter alone."""
    from shaftwright.answers.diagnose_signs import moved_wrong_way

    first = [shot(-4.5, side="right", point="P175")]
    heavier = [shot(x, side="right", point="P200") for x in (-4.6, -4.4, -4.7)]
    far = [shot(-14, side="right", point="P250")] * 3
    near_by, wide = (diagnose(RIG, [*first, *first, *group], STOCK) for group in (heavier, far))
    doubtful_way = moved_wrong_way(near_by.asked, near_by.learned)
    sure_way = moved_wrong_way(wide.asked, wide.learned)
    limit = diagnosis_rules().value("wrong_way_sd")
    assert doubtful_way is None or doubtful_way < limit
    assert sure_way > limit
    assert "false stiff" not in near_by.decision.verdict
    assert "false stiff" in wide.decision.verdict


def test_no_change_leads_back_to_a_build_that_lay_outside():
    """Common practice, no source: what was tried and lay outside is not tried again."""
    from shaftwright.answers.diagnose_danger import found_outside
    from shaftwright.answers.diagnose_options import options_for

    tried = [shot(-7, side="right", point="P175")] * 2
    now = [shot(-9, side="right", point="P125")] * 2
    found = diagnose(RIG, [*tried, *now], STOCK)
    back = [
        o
        for o in options_for(found.asked, RIG, STOCK)
        if found_outside(o, found.asked, found.learned)
    ]
    assert "P175" in {o.spec.point for o in back}
    # a lighter point on a heavier insert is the same arrow again
    assert {float(o.build.front_gr[0]) for o in back} == {200.0}
    assert found.decision.option is not None
    spec = found.decision.option.spec
    assert (spec.shaft, spec.point, spec.insert) != ("MARSH-500", "P175", "I25")
    # a single group is no reason to rule it out
    once = diagnose(RIG, [tried[0], *now], STOCK)
    assert not any(
        found_outside(o, once.asked, once.learned) for o in options_for(once.asked, RIG, STOCK)
    )


def test_a_shaft_cut_too_short_can_be_started_again_at_full_length_but_not_at_the_gate():
    from shaftwright.answers.diagnose_options import options_for

    found = diagnose(RIG, [shot(-6, side="right")] * 2, STOCK)
    open_gate, shut = (
        [o for o in options_for(found.asked, RIG, STOCK, gated) if "start again" in o.what]
        for gated in (False, True)
    )
    full = STOCK.by_name["MARSH-500"].full_length_in
    assert open_gate
    assert {float(o.build.length_in[0]) for o in open_gate} == {full}
    assert all(o.unit == "in" and o.amount == pytest.approx(full - 30) for o in open_gate)
    assert all(not o.same_shaft and o.reversible for o in open_gate)
    assert not shut


def test_of_equals_the_smallest_step_is_taken():
    from dataclasses import replace

    from shaftwright.answers.diagnose_change import choose_change, outlooks
    from shaftwright.answers.diagnose_options import options_for
    from shaftwright.rules.sizes import shipped

    found = diagnose(RIG, [near(-4, "right", "P125")] * 3, STOCK)
    every = outlooks(options_for(found.asked, RIG, STOCK), found.asked, found.learned, shipped())
    small, large = (
        replace(every[0], chance_inside=c, heavy_enough=True, far_too_weak=0.0, risky=False,
                mismatch_lb=np.full(8, z))
        for c, z in ((0.001, 6.0), (0.004, 19.0))
    )  # fmt: skip
    assert choose_change([large, small], 0.0, gated=True) is small


def test_marks_are_gone_only_after_two_clean_looks():
    """Common practice, no source: powder does not take every touch."""
    from shaftwright.answers.diagnose_danger import still_marked

    def after(*marks):
        return diagnose(RIG, [shot(-6, side="right", marks=m) for m in marks], STOCK)

    for marks in (
        ("plate",),
        ("plate", "none"),
        ("none", "plate", "none"),
        ("plate", "not_looked", "none"),
    ):
        found = after(*marks)
        assert still_marked(found.asked), marks
        decision = found.decision
        assert not (decision.option is not None and decision.unit == "gr" and decision.amount > 0)
    assert "one clean look" in after("plate", "none").decision.verdict
    assert not still_marked(after("none", "none").asked)
    assert not still_marked(after("not_looked").asked)
    cleared = after("plate", "none", "none", "none")
    assert not still_marked(cleared.asked)
    assert "Marks were seen" not in cleared.decision.verdict


def test_nothing_is_made_as_weak_as_a_build_that_left_marks():
    """Common practice, no source: marks mean too weak, however stiff it reads."""
    from shaftwright.answers.diagnose_danger import weakest_allowed_lb

    heavy = [shot(-6, side="right", point="P225", marks="plate")] * 2
    light = [shot(-6, side="right", point="P125", marks="none")] * 3
    found = diagnose(RIG, [*heavy, *light], STOCK)
    least = weakest_allowed_lb(found.learned)
    marked = next(b for b in found.learned.builds if b.spec.point == "P225")
    assert least == pytest.approx(float(marked.mismatch_lb.mean()))
    option = found.decision.option
    assert option is not None
    if option.same_shaft:
        assert option.build.front_gr[0] < 250
    # a still weaker build without marks says that they came from something else
    clean = [shot(-3, point="P300", marks="none")] * 2
    assert weakest_allowed_lb(diagnose(RIG, [*heavy, *clean], STOCK).learned) == -np.inf
    assert weakest_allowed_lb(diagnose(RIG, light, STOCK).learned) == -np.inf
