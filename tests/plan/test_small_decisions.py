"""Single decisions of the plan by themselves: what may be shot, when broadheads are let be, why a straight one is shot again."""

from types import SimpleNamespace as Some

import pytest

from shaftwright.answers.plan import heads, prove
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.prove import _since_set
from shaftwright.answers.plan.steps import Words
from shaftwright.parameters import setting


@pytest.mark.parametrize(
    ("marks", "moves_in", "known", "may"),
    [("clean", 1, True, True), ("clean", -1, True, False), ("clean", 0, True, False), ("unknown", 1, True, False), ("clean", 1, False, False)],
)  # fmt: skip
def test_what_the_rules_call_unsafe_may_be_shot_only_stiffer_than_a_clean_shot(
    marks, moves_in, known, may
):
    """Common practice, no source: a shaft that left no marks may be made stiffer, never weaker."""
    arrow = Some(marks=marks, off_in=-3.0)
    look = Some(middle_in=-3.0 + moves_in, safe=False, long_enough=True, heavy_enough=True,
                idea=Some(base=arrow if known else None))  # fmt: skip
    assert Levers._may_be_shot(Some(arrow=arrow), look) is may
    for short in ("long_enough", "heavy_enough"):
        assert not Levers._may_be_shot(Some(arrow=arrow), Some(**vars(look) | {short: False}))


@pytest.mark.parametrize(("over", "told"), [(0, "again"), (1, "dozen")])
def test_broadheads_are_let_be_after_twice_the_ends_that_would_prove_them(monkeypatch, over, told):
    tries = 2 * setting("plan.heads_accept_ends") + over
    monkeypatch.setattr(heads, "heads_shot", lambda where, arrow: tries)
    monkeypatch.setattr(heads, "_again", lambda *_: "again")
    monkeypatch.setattr(prove, "dozen", lambda *_: "dozen")
    where = Some(words=Some(shaft=lambda spec: "the one"))
    assert heads._heads_off(where, Some(spec=None, heads_off=lambda: None)) == told


def test_a_straight_one_from_another_setting_is_told_with_that_setting():
    arrow = Some(now=False, key="a", setting=(("plunger", "2 turns"), ("string", "before")))
    told = _since_set(Some(here=[]), arrow)
    assert "flew straight with plunger 2 turns and before the change of string;" in told


@pytest.mark.parametrize(
    ("item", "told"), [(Some(mass_gr=175.0), "175 gr point"), (Some(mass_gr=None), "point P"), (None, "point P")],
)  # fmt: skip
def test_a_front_is_called_by_its_weight_where_the_stock_knows_it(item, told):
    spec = Some(by_numbers=False, point="P", broadhead=None)
    assert Words.front(Some(scenario=Some(item=lambda name: item)), spec) == told
