"""The list of `choose` in the plan's order: what flies straight leads, what is to be shot now is marked."""

import dataclasses
from pathlib import Path

import pytest

from shaftwright.answers.choose.choose import choose
from shaftwright.answers.choose.listing import as_planned
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock

HERON = Path(__file__).parents[2] / "examples" / "heron_marsh"


@pytest.fixture(scope="module")
def chosen():
    stock = load_stock(HERON / "stock.csv")
    asked = scenario(load_rig(HERON / "rig.yaml"), stock=stock)
    return asked, choose(asked, stock, top=4).listed


def planned(chosen, stage, **arrow):
    asked, listed = chosen
    then = Next(stage, "shoot", "Shoot it.", "", **arrow)
    fixed = dataclasses.replace(asked)
    fixed.__dict__["plan"] = Plan(then, ())
    return as_planned(fixed, listed)


FIELD = {"shaft": "MARSH-500", "length_in": 31.25, "point": "P175", "insert": "I25"}


@pytest.mark.parametrize("stage", ["prove", "dozen", "done"])
def test_what_flies_straight_leads_and_stands_there_once(chosen, stage):
    found = planned(chosen, stage, **FIELD)
    assert (found[0].shaft, found[0].length_in, found[0].point) == ("MARSH-500", 31.25, "P175")
    assert [b.shaft for b in found].count("MARSH-500") == 1
    assert [b.rank for b in found] == list(range(1, len(found) + 1))
    assert len(found) <= 4
    assert not any(b.marked for b in found)
    # by hand: 31.25 in of 7.4 gr/in, 175 gr point, 25 gr insert, and the lightest tail of the shop
    assert found[0].total_gr - found[0].tail_gr == pytest.approx(31.25 * 7.4 + 175 + 25)


def test_in_tune_it_is_listed_and_marked_and_the_rank_of_the_others_stays(chosen):
    found = planned(chosen, "tune", **FIELD)
    assert [b.marked for b in found] == [False, False, False, True]
    assert (found[-1].shaft, found[-1].length_in) == ("MARSH-500", 31.25)
    assert [b.shaft for b in found[:3]] == [b.shaft for b in chosen[1][:3]]


def test_one_that_is_listed_is_marked_where_it_stands(chosen):
    second = chosen[1][1]
    arrow = {
        "shaft": second.shaft,
        "length_in": second.length_in,
        "point": second.point,
        "insert": second.insert,
    }
    found = planned(chosen, "tune", **arrow)
    assert [b.marked for b in found] == [False, True, False, False]


@pytest.mark.parametrize(
    ("stage", "shaft"), [("test_shafts", "MARSH-500"), ("tune", None), ("prove", "NOWHERE")]
)
def test_a_kit_or_an_arrow_nobody_has_changes_no_order(chosen, stage, shaft):
    assert planned(chosen, stage, **(FIELD | {"shaft": shaft})) == chosen[1]
