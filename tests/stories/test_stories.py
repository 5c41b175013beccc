"""Every story of the plan through the command line: in hits and in words, for both hands, in every order."""

import pytest
from story import Story, document, holds, orders
from table_bow import STORIES as BOW
from table_proving import STORIES as PROVING
from table_tuning import STORIES as TUNING

STORIES = [*TUNING, *PROVING, *BOW]
TOLD = [
    pytest.param(s, form, id=f"{s}-{form}", marks=[pytest.mark.slow] if form != s.forms[0] else [])
    for s in STORIES for form in s.forms if s.ends
]  # fmt: skip
TOLD += [pytest.param(s, "hits", id=str(s)) for s in STORIES if not s.ends]


@pytest.mark.parametrize("hand", ["own", pytest.param("other", marks=pytest.mark.slow)])
@pytest.mark.parametrize(("story", "form"), TOLD)
def test_the_next_thing_is_what_a_careful_tuner_says(story: Story, form, hand, tmp_path):
    one = story.on(hand)
    holds(one, document("next", one.write(tmp_path, form)), form)


@pytest.mark.slow
@pytest.mark.parametrize("story", [s for s in STORIES if len(s.ends) > 1], ids=str)
def test_the_order_of_entries_never_matters(story: Story, tmp_path):
    form = story.forms[0]
    plan = document("next", story.write(tmp_path, form))
    for entries in orders(story.entries(form)):
        other = document("next", story.write(tmp_path, form, entries))
        assert other["next"] == plan["next"]
        for a, b in zip(other["shot"], plan["shot"], strict=True):
            assert a | {"lines": []} == b | {"lines": []}


def test_orders_are_all_of_three_and_six_of_more():
    ends = [{"kind": "bareshaft", "n": n} for n in range(4)]
    assert len(orders(ends[:3])) == 5  # 3! without the first
    assert 5 <= len(orders(ends)) <= 6
    two = orders([ends[0], ends[1], {"kind": "change"}, ends[2], ends[3]])
    assert len(two) == 3
    assert all(order[2]["kind"] == "change" for order in two)
