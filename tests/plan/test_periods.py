"""Which changes begin a period, which are a setting, and that order within a stretch is no matter."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_ends import asked, change, end, entry, owning, rig_with, words

from shaftwright.inference.evidence.periods import arrange, in_order
from shaftwright.records.notebook import content_key

RIG = rig_with()


def period_of(first, *later, rig=RIG):
    """The period and setting of an end that stands before a change."""
    taken, _ = arrange(rig, [first, *later])
    return taken[0].period, taken[0].setting


# ---------------------------------------------------------------- periods and settings (plan.md)


@pytest.mark.parametrize(("what", "state"), [
    ("limbs", {"draw_weight": 47}), ("limbs", {}), ("riser", {}), ("draw_length", {"draw_length": 28.5}),
    ("release", {"release": "three_under"}), ("crawl", {"crawl": 0.5}),
    ("draw_weight", {"draw_weight": 44}), ("new limbs", {}), ("New Limbs fitted", {}),
])  # fmt: skip
def test_these_begin_a_period(what, state):
    assert period_of(end(), change(what, **state))[0] == 1


@pytest.mark.parametrize(("what", "state"), [
    ("plunger", {}), ("plate", {}), ("nocking_point", {}), ("brace", {}), ("tiller", {}), ("string", {}),
    ("silencers", {}), ("other", {}), ("new quiver", {}), ("moved the sight", {}), ("new string", {}),
])  # fmt: skip
def test_these_are_settings(what, state):
    period, setting = period_of(end(), change(what, **state))
    assert period == 0
    assert setting


def test_each_period_counts_back_from_now():
    ends = [end(weak=x) for x in (1, 2, 3)]
    told = [ends[0], change("limbs", draw_weight=47), ends[1], change("crawl"), ends[2]]
    taken, _ = arrange(RIG, told)
    assert [t.period for t in taken] == [2, 1, 0]


@pytest.mark.parametrize(("was", "now", "period"), [
    (47, 47, 0), (47, 46.2, 0), (47, 48, 0), (47, 48.5, 1), (47, 45.5, 1),
])  # fmt: skip
def test_draw_weight_by_more_than_a_pound_begins_a_period(was, now, period):
    """plan.md: or of draw weight by more than 1 lb."""
    first = end(rig_state={"draw_weight": was})
    assert period_of(first, change("draw_weight", draw_weight=now))[0] == period


@pytest.mark.parametrize(("material", "period"), [("polyester", 1), ("low_stretch", 0)])
def test_a_string_of_another_material_is_a_period_one_of_the_same_a_setting(material, period):
    first = end(rig_state={"string_material": "low_stretch"})
    found, setting = period_of(first, change("string", string_material=material))
    assert found == period
    assert period or setting


@pytest.mark.parametrize(("was", "same"), [
    (7.5, True), (7.3, True), (7.25, True), (7.75, True), (7.1, False), (8.0, False),
])  # fmt: skip
def test_brace_within_a_quarter_inch_is_one_setting(was, same):
    """plan.md: brace within 1/4 in; the rig file says 7 1/2 in."""
    _, setting = period_of(end(rig_state={"brace": was}))
    assert (setting == ()) == same


@pytest.mark.parametrize(("name", "value", "same"), [
    ("nocking_point", 0.375, True), ("nocking_point", 0.4375, False), ("plate", 0.0625, True),
    ("plate", 0.09375, False), ("tiller", 0.125, True), ("tiller", 0.25, False),
])  # fmt: skip
def test_other_settings_are_told_apart_by_what_an_archer_can_set(name, value, same):
    period, setting = period_of(end(rig_state={name: value}))
    assert period == 0
    assert (setting == ()) == same


def test_what_a_change_back_leads_to_is_the_setting_of_before():
    """Moved out and back again: the first ends stand at the present setting."""
    out = change("nocking_point", nocking_point=0.5)
    back = change("nocking_point", nocking_point=0.375)
    first = end(rig_state={"nocking_point": 0.375})
    taken, _ = arrange(RIG, [first, out, end(weak=1, rig_state={"nocking_point": 0.5}), back])
    assert taken[0].setting == ()
    assert [name for name, _ in taken[1].setting] == ["nocking point"]


@pytest.mark.parametrize(("what", "state"), [
    ("plunger", {"plunger": {"spring": "medium", "turns": 2}}), ("nocking_point", {"nocking_point": 0.375}),
    ("brace", {"brace": 7.5}), ("tiller", {"tiller": 0.125}), ("plate", {"plate": 0.0625}), ("string", {"string": "A"}),
])  # fmt: skip
def test_a_change_that_says_no_new_value_is_one_all_the_same(what, state):
    """The rig file still says what stood before: what was shot then was shot at another setting."""
    first, after = end(rig_state=state), end(weak=1, rig_state=state)
    taken, _ = arrange(RIG, [first, change(what), after])
    assert taken[0].setting == ((what.replace("_", " "), "before its change"),)
    assert taken[0].period == 0
    assert taken[1].setting == ()


def test_once_the_rig_file_says_what_is_new_the_values_tell():
    """Out and back without a value: the rig file was written anew each time."""
    out = end(weak=1, rig_state={"nocking_point": 0.5})
    told = [
        end(rig_state={"nocking_point": 0.375}),
        change("nocking_point"),
        out,
        change("nocking_point"),
    ]
    taken, _ = arrange(RIG, told)
    assert taken[0].setting == ()
    assert taken[1].setting == (("nocking point", "1/2 in"),)


def test_the_bow_of_an_old_reading_is_the_one_it_was_shot_from():
    told = end(rig_state={"brace": 8.25, "plate": 0.125, "draw_weight": 50})
    taken, _ = arrange(RIG, [told])
    bow = taken[0].rig.bow
    assert (bow.brace_height_in, bow.plate.thickness_in, bow.draw_weight.lb) == (8.25, 0.125, 50)


def test_other_limbs_of_unknown_weight_teach_nothing_and_it_is_said():
    taken, warnings = arrange(RIG, [end(), change("limbs", limbs_id="heron-3")])
    assert taken[0].silent
    assert any("draw weight" in w for w in warnings)
    known, _ = arrange(
        RIG, [end(rig_state={"draw_weight": 52}), change("limbs", limbs_id="heron-3")]
    )
    assert not known[0].silent


def test_a_leading_arrow_waits_for_one_end_at_the_new_setting():
    """plan.md: what was shot at another setting informs, and waits for one straight end."""
    ends = [end(weak=w) for w in (0.3, -0.2, 0.1)]
    before = asked(*ends).plan
    assert before.shot[0].setting == "now"
    after = asked(*ends, change("silencers")).plan
    assert after.shot[0].setting != "now"
    assert after.shot[0].period == 0
    assert (after.next.stage, after.next.kind) in (("prove", "shoot"), ("tune", "shoot"))
    assert (after.next.shaft, after.next.length_in) == ("MARSH-500", 30)
    again = asked(*ends, change("silencers"), end(weak=0.2)).plan
    assert {s.setting == "now" for s in again.shot} == {True, False}


def test_a_new_period_begins_anew():
    ends = [end(weak=w) for w in (0.3, -0.2, 0.1)]
    after = asked(*ends, change("crawl", crawl=0.75)).plan
    assert {s.period for s in after.shot} == {1}
    assert after.next.stage == "tune"
    assert after.next.distance_yd == 10


# ---------------------------------------------------------------- order is no matter


def some_entries():
    """Entries without a change."""
    weak = st.sampled_from([-7.0, -3.0, 0.0, 0.5, 4.0])
    ends = st.builds(
        lambda w, point, yd, marks: end(w, point=point, yd=yd, marks=marks), weak,
        st.sampled_from(["P125", "P175"]), st.sampled_from([10, 20]), st.sampled_from(["none", "plate"]),
    )  # fmt: skip
    told = st.sampled_from(["straight", "stiff", "slightly_weak"]).map(words)
    brace = st.integers(0, 3).map(
        lambda n: entry({"kind": "brace", "brace": 7.5 - n / 16, "shots_on": 100 * n})
    )
    have = st.integers(1, 4).map(lambda n: entry({"kind": "have", "item": "MARSH-500", "count": n}))
    return st.lists(st.one_of(ends, told, brace, have), min_size=1, max_size=5)


@given(st.lists(some_entries(), min_size=1, max_size=3), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_any_order_inside_a_stretch_comes_out_the_same(stretches, random):
    one, other = [], []
    for i, stretch in enumerate(stretches):
        shuffled = random.sample(stretch, len(stretch))
        between = [change("limbs" if i % 2 else "brace")] if i else []
        one += [*between, *stretch]
        other += [*between, *shuffled]
    found, lines = in_order(one, range(1, len(one) + 1))
    again, lines_again = in_order(other, range(1, len(other) + 1))
    assert [content_key(e) for e in found] == [content_key(e) for e in again]
    # lines go with their entries; changes stay where they stand; nothing is lost
    assert [content_key(one[n - 1]) for n in lines] == [content_key(e) for e in found]
    assert sorted(lines) == sorted(lines_again) == list(range(1, len(one) + 1))
    assert [i for i, e in enumerate(found) if e.kind == "change"] == [
        i for i, e in enumerate(one) if e.kind == "change"
    ]


@pytest.mark.slow
@given(some_entries(), st.randoms(use_true_random=False))
@settings(max_examples=15, deadline=None)
def test_any_order_leads_to_the_same_plan(entries, random):
    stock = owning(MARSH_500=2, MARSH_400=1)
    shuffled = random.sample(entries, len(entries))
    plans = []
    for order in (entries, shuffled):
        told = asked(*order, stock=stock).plan.to_dict()
        plans.append(told["next"] | {"shot": [s | {"lines": 0} for s in told["shot"]]})
    assert plans[0] == plans[1]


def test_the_side_of_a_change_does_matter():
    ends, new = [end(weak=w) for w in (0.3, -0.2)], change("limbs", draw_weight=47)
    assert asked(*ends, new).plan.next.stage == "tune"
    assert asked(new, *ends).plan.next.stage == "prove"


def test_brace_readings_go_by_the_shots_on_the_string():
    read = [entry({"kind": "brace", "brace": 7.5, "shots_on": n}) for n in (900, 50, 300)]
    found, _ = in_order(read)
    assert [e.shots_on for e in found] == [50, 300, 900]
