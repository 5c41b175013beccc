"""Every story of the plan: in hits and in words, for both hands, in every order."""

from dataclasses import replace

import pytest
from story import Story, document, holds, orders
from story_screens import fit_to_read
from table_bow import STORIES as BOW
from table_proving import STORIES as PROVING
from table_tuning import STORIES as TUNING

import shaftwright

pytestmark = pytest.mark.slow

STORIES = [*TUNING, *PROVING, *BOW]


def says_something_new(story: Story, form: str, hand: str) -> bool:
    """Words that tell of no side are the same for the other hand; hits always tell of one."""
    other = story.on(hand)
    return form == story.forms[0] or hand == "own" or other.entries(form) != story.entries(form)


#: beside each story's first telling, which all that is asked of it shares
TOLD = [
    (story, form, hand)
    for story in STORIES for form in (story.forms if story.ends else ("hits",)) for hand in ("own", "other")
    if (form, hand) != (story.forms[0], "own") and says_something_new(story, form, hand)
]  # fmt: skip


@pytest.mark.parametrize("story", STORIES, ids=str)
def test_the_next_thing_is_what_a_careful_tuner_says(story: Story, told):
    """And the screen that says it is fit to read; the command says the same (tests/interface)."""
    _, plan, bow = told(story)
    holds(story, plan, story.forms[0])
    assert plan["format"] == 2
    fit_to_read("next", str(bow.next()), plan)


@pytest.mark.slow
@pytest.mark.parametrize(("story", "form", "hand"), TOLD)
def test_told_in_another_way_or_by_the_other_hand_it_is_the_same(
    story: Story, form, hand, tmp_path
):
    one = story.on(hand)
    holds(one, document("next", one.write(tmp_path, form)), form)


@pytest.mark.slow
@pytest.mark.parametrize("story", [s for s in STORIES if len(s.ends) > 1], ids=str)
def test_the_order_of_entries_never_matters(story: Story, told, tmp_path):
    """Whatever the order, every answer rests on the same; one of the orders goes through the command."""
    form = story.forms[0]
    _, plan, _ = told(story)
    others = orders(story.entries(form))
    first = shaftwright.open(story.write(tmp_path, form)).scenario
    for entries in others:
        asked = shaftwright.open(story.write(tmp_path, form, entries)).scenario
        assert replace(asked, lines=()) == replace(first, lines=())
    if others:
        other = document("next", tmp_path)
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
