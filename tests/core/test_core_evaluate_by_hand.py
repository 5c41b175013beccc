"""Rules made for the purpose: each condition both ways, amounts by hand, groups by a plain loop."""

from types import SimpleNamespace

import numpy as np
import pytest

from shaftwright.parameters import Range
from shaftwright.rules.evaluate import Firing, _size, _weigh_groups, evaluate, interpolate
from shaftwright.rules.facts import FACTS, Fact, _build, _choice, in_words, reference_facts
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Rule

X, Y = np.array([100.0, 200.0, 250.0]), np.array([0.0, 10.0, 20.0])
TABLES = {("front_mass", "front_gr", "shift_pct"): (X, Y)}


def rule(form, code="A01", **more):
    told = {
        "code": code, "name": f"r-{code.lower()}", "applies": {"to": "build"}, "shift": "effective_bow_weight_lb",
        "form": form, "shift_unit": "lb", "value": 2, "low": 1, "high": 4, "saw": "a", "why": "b", "do": "c",
        "basis": "recalled", "fires": {}, "silent": {}, **more,
    }  # fmt: skip
    return Rule.model_validate({k: v for k, v in told.items() if v is not None})


LENGTH = {"per": 2.0, "of": "shaft_length_in", "from": 28.0, "until": 32.0}
KIND = {"longbow": {"value": 3, "low": 1, "high": 5}, "selfbow": {"value": 6, "low": 2, "high": 9}}
NO_NUMBERS = {"value": None, "low": None, "high": None}


def outcome(one, **facts):
    return evaluate(RuleBook((one,), tables=TABLES), {**reference_facts(), **facts})


def test_a_line_counts_steps_beyond_its_start_until_its_end():
    one = rule(LENGTH)
    found = outcome(one, shaft_length_in=np.array([27.0, 28.0, 31.0, 35.0]))
    (fired,) = found.firings
    assert fired.amount.tolist() == [-0.5, 0, 1.5, 2]
    assert fired.fact.tolist() == [27, 28, 31, 35]
    assert (fired.range.value, fired.range.low, fired.range.high) == (2, 1, 4)
    assert (fired.case, fired.group, fired.weight) == (None, None, 1.0)
    endless = rule({k: v for k, v in LENGTH.items() if k != "until"})
    assert outcome(endless, shaft_length_in=36.0).firings[0].amount == 4


def test_a_line_at_its_start_is_silent_and_says_so():
    (silence,) = outcome(rule(LENGTH), shaft_length_in=np.array([28.0, 28.0])).silences
    assert silence.found == "shaft_length_in is 28 in"
    assert silence.needs == "shaft_length_in differs from 28 in"
    assert outcome(rule(LENGTH), shaft_length_in=np.array([28.0, 29.0])).firings


def test_a_table_is_read_and_at_its_nought_silent():
    one = rule({"table": "front_mass", "of": "front_gr", "x": "front_gr", "y": "shift_pct"})
    (fired,) = outcome(one, front_gr=150.0).firings
    assert (fired.amount, fired.fact) == (5, 150)
    (silence,) = outcome(one, front_gr=100.0).silences
    assert (silence.found, silence.needs) == (
        "front_gr is at the table's nought",
        "front_gr differs from it",
    )


def test_a_step_has_a_size_for_each_case_it_names():
    one = rule({"step": "bow.kind"}, cases=KIND, **NO_NUMBERS)
    (fired,) = outcome(one, **{"bow.kind": "selfbow"}).firings
    assert (fired.amount, fired.case, fired.range.value, fired.fact) == (1, "selfbow", 6, None)
    (silence,) = outcome(one).silences
    assert (silence.found, silence.needs) == (
        "bow.kind is recurve",
        "bow.kind is longbow or selfbow",
    )


def test_a_constant_always_speaks():
    (fired,) = outcome(rule("constant", silent=None)).firings
    assert (fired.amount, fired.case, fired.fact, fired.weight) == (1, None, None, 1)


def test_when_and_unless_are_looked_at_before_the_form():
    when = {"to": "build", "when": {"bow.kind": ("longbow", "selfbow")}}
    (silence,) = outcome(rule("constant", silent=None, applies=when)).silences
    assert (silence.found, silence.needs) == (
        "bow.kind is recurve",
        "bow.kind is longbow or selfbow",
    )
    assert outcome(rule("constant", silent=None, applies=when), **{"bow.kind": "selfbow"}).firings
    unless = {"to": "build", "unless": {"bow.kind": ("recurve", "hybrid")}}
    (silence,) = outcome(rule("constant", silent=None, applies=unless)).silences
    assert (silence.found, silence.needs) == (
        "bow.kind is recurve",
        "bow.kind is not recurve or hybrid",
    )
    assert outcome(rule("constant", silent=None, applies=unless), **{"bow.kind": "longbow"}).firings


def test_a_rule_is_in_its_group_where_every_condition_holds():
    group = {"group": "g", "when": {"bow.kind": ("longbow",), "bow.rest": ("shelf",)}}
    one = rule("constant", silent=None, overlaps=group)
    assert outcome(one).firings[0].group is None
    assert outcome(one, **{"bow.kind": "longbow"}).firings[0].group == "g"
    assert outcome(one, **{"bow.kind": "longbow", "bow.rest": "elevated"}).firings[0].group is None
    for form, facts in (
        (LENGTH, {"shaft_length_in": 30.0}),
        ({"step": "bow.kind"}, {"bow.kind": "selfbow"}),
    ):
        more = {"cases": KIND, **NO_NUMBERS} if "step" in form else {}
        assert outcome(rule(form, overlaps="g", **more), **facts).firings[0].group == "g"


def test_only_rules_of_the_asked_shift_are_looked_at():
    mine, other = (
        rule("constant", silent=None),
        rule("constant", "A02", silent=None, shift="draw_weight_lb"),
    )
    book = RuleBook((mine, other))
    assert [f.rule.code for f in evaluate(book, reference_facts()).firings] == ["A01"]
    assert [f.rule.code for f in evaluate(book, reference_facts(), "draw_weight_lb").firings] == [
        "A02"
    ]


def test_a_unit_is_a_pound_or_a_hundredth_of_the_weight():
    assert Firing(rule("constant", silent=None), 1.0, None).unit_lb(47.0) == 1
    pct = rule("constant", silent=None, shift_unit="pct_of_draw_weight")
    assert Firing(pct, 1.0, None).unit_lb(47.0) == 0.47


def test_what_a_rule_saw_is_filled_in():
    line = rule(LENGTH, saw="{fact:.1f} is {excess:+.1f} beyond")
    assert Firing(line, 1.0, None, fact=np.array([30.0])).saw() == "30.0 is +2.0 beyond"
    table = rule(
        {"table": "front_mass", "of": "front_gr", "x": "front_gr", "y": "shift_pct"},
        saw="{excess:.0f} gr",
    )
    assert Firing(table, 1.0, None, fact=150.0).saw() == "150 gr"
    against = rule(LENGTH, saw="{fact:.4g} in against the usual {usual:.4g} in")
    told = Firing(against, 1.0, None, fact=np.array([28.0]), usual_fact=28.75).saw()
    assert told == "28 in against the usual 28.75 in"
    step = rule(
        {"step": "bow.limbs"},
        cases={"deep_curve": KIND["longbow"]},
        saw="{case}, {case_words}",
        **NO_NUMBERS,
    )
    assert Firing(step, 1.0, None, "deep_curve").saw() == "deep curve, deep-curve"
    assert Firing(rule("constant", silent=None, saw="{fact}"), 1.0, None).saw() == "nan"
    assert in_words("three_under") == "three under"
    assert in_words("own_draw") == "own draw"
    assert in_words("window_unknown_longbow").startswith("not known, and")


# --- tables ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "value"),
    [(100.0, 0), (150.0, 5), (200.0, 10), (225.0, 15), (250.0, 20), (50.0, -5), (300.0, 30), (0.0, -10)],
)  # fmt: skip
def test_lines_between_rows_and_the_last_slopes_beyond(at, value):
    found = interpolate(X, Y, at)
    assert found == pytest.approx(value)
    assert isinstance(found, float)
    many = interpolate(X, Y, np.array([at, 210.0]))
    assert many.tolist() == pytest.approx([value, 12])
    assert interpolate(X, Y, np.array([50.0, at, 260.0])).tolist() == pytest.approx([-5, value, 22])
    assert interpolate(X, Y, np.zeros(0)).shape == (0,)


# --- groups ----------------------------------------------------------------------------------------


def firing(group, amount, low=-1.0, high=3.0, unit="lb"):
    return Firing(
        SimpleNamespace(shift_unit=unit), amount, Range(value=1, low=low, high=high), group=group
    )


def test_size_is_how_far_the_range_may_reach():
    assert _size(firing("g", -2.0), 50.0) == 6
    assert _size(firing("g", 2.0, low=-5.0), 50.0) == 10
    assert _size(firing("g", 2.0, unit="pct_of_draw_weight"), 50.0) == 3


def test_the_farthest_of_a_group_counts_in_full_and_the_others_half():
    fired = [
        firing("g", 1.0),
        firing(None, 9.0),
        firing("g", 2.0),
        firing("h", 1.0),
        firing("g", 2.0),
    ]
    assert [f.weight for f in _weigh_groups(fired, 50.0)] == [0.5, 1, 1, 1, 0.5]
    arrays = [firing("g", np.array([1.0, 5.0])), firing("g", 2.0)]
    weighed = _weigh_groups(arrays, 50.0)
    assert [np.asarray(f.weight).tolist() for f in weighed] == [[0.5, 1], [1, 0.5]]
    assert [isinstance(f.weight, float) for f in _weigh_groups(fired, 50.0)] == [True] * 5
    lb, pct = firing("g", 1.0), firing("g", 1.0, unit="pct_of_draw_weight")
    assert [f.weight for f in _weigh_groups([lb, pct], 150.0)] == [0.5, 1]
    assert [f.weight for f in _weigh_groups([lb, pct], 50.0)] == [1, 0.5]


def test_the_draw_weight_decides_between_pounds_and_percent_in_a_book():
    lb = rule("constant", silent=None, overlaps="g")
    pct = rule("constant", "A02", silent=None, overlaps="g", shift_unit="pct_of_draw_weight")
    book = RuleBook((lb, pct))
    assert [f.weight for f in evaluate(book, reference_facts()).firings] == [1, 0.5]
    assert [f.weight for f in evaluate(book, reference_facts(), draw_weight_lb=101.0).firings] == [
        0.5,
        1,
    ]


def test_the_reference_conditions_are_the_usual_bow():
    """Common practice, no source: a 28 in draw and shaft, 125 gr up front, polyester; nothing beyond the usual."""
    found = reference_facts()
    assert {name: value for name, value in found.items() if not isinstance(value, str)} == {
        "draw_length_in": 28, "draw_beyond_marked_in": 0, "brace_beyond_usual_in": 0, "plunger_turns_beyond_usual": 0,
        "string_mass_gr": 145, "silencers_as_string_gr": 0, "speed_excess_fps": 0, "speed_doubt_fps": 0,
        "shaft_centre_beyond_usual_in": 0, "shaft_length_in": 28, "front_gr": 125, "insert_share_pct": 0, "collar_gr": 0,
        "tail_gr": 25, "rear_taper_in": 0, "wood_shaft": 0, "usual_length_in": 28, "usual_front_gr": 125, "usual_tail_gr": 25,
    }  # fmt: skip
    assert found["bow.kind"] == "recurve"
    assert all(fact.reference == fact.choices[0] for fact in FACTS.values() if fact.choices)
    assert {name for name, fact in FACTS.items() if fact.of_build} == {
        "shaft_centre_beyond_usual_in", "shaft_length_in", "front_gr", "insert_share_pct", "collar_gr", "tail_gr",
        "rear_taper_in", "wood_shaft", "usual_length_in", "usual_front_gr", "usual_tail_gr"}  # fmt: skip


def test_a_choice_begins_with_its_reference_and_a_quantity_of_the_build_says_so():
    assert _choice("split", "unknown") == Fact("split", "", ("split", "unknown"), False)
    assert _build(28.0, "in") == Fact(28.0, "in", (), True)
