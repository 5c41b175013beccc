"""Which stage answers: done, dozen and prove whenever they hold, then setting up, measuring, kit and tuning; and the plan as data."""

from dataclasses import FrozenInstanceError
from types import SimpleNamespace as Some

import pytest
from plan_fakes import arrow_of, look_of, named, numbered, where_of

from shaftwright.answers.plan import plan
from shaftwright.answers.plan.nocking import Height
from shaftwright.answers.plan.result import Buy, Expect, Next, Plan, Shot
from shaftwright.answers.plan.steps import Where
from shaftwright.inference.belief import SEED

TURNS = ("made_dozen", "missed_since", "done", "prove_anew", "leading", "dozen", "prove", "tune", "set_up",
         "measure", "first_end", "buy_kit", "_describe")  # fmt: skip


@pytest.fixture
def turn(monkeypatch):
    """Whose answer it is, with what it finds told."""

    def ask(here=(), old=(), made=None, missed=False, lead=None, standing="straight so far", set_up=None,
            measure=None, fair=(), unknown=(), pieces=()):  # fmt: skip
        answers = {name: lambda *_, name=name: name for name in TURNS}
        answers |= {
            "made_dozen": lambda *_: made, "missed_since": lambda *_: missed, "leading": lambda *_: lead,
            "set_up": lambda *_: set_up, "measure": lambda *_: measure,
        }  # fmt: skip
        for name, answer in answers.items():
            monkeypatch.setattr(plan, name, answer)
        where = Some(
            here=here, arrows=(*here, *old), standing=lambda a: standing, makes=lambda a: a.makes,
            makeable=Some(fair=fair), scenario=Some(held=Some(unknown=unknown, pieces=pieces)),
        )  # fmt: skip
        return plan._next(where)

    return ask


def shot(now=True, inside=True, period=0, makes=True):
    return Some(now=now, inside=inside, period=period, makes=makes)


ENTRY = Some(date=None)


def test_a_dozen_that_flies_is_the_end_of_it(turn):
    assert turn((shot(),), made=(ENTRY, shot())) == "done"
    assert turn((shot(),), made=(ENTRY, shot()), missed=True) == "prove_anew"
    assert turn((shot(),), made=(ENTRY, shot(inside=False)), missed=True) == "tune"


def test_a_proven_one_as_the_bow_stands_is_made_a_dozen_of(turn):
    assert turn((shot(),), lead=shot(), standing="proven") == "dozen"
    assert turn((shot(),), lead=shot(now=False), standing="proven") == "prove"
    assert turn((shot(),), lead=shot()) == "prove"


def test_with_nothing_straight_it_is_tuned(turn):
    assert turn((shot(),)) == "tune"


def test_before_any_shot_the_bow_is_set_up_then_weighed(turn):
    assert turn(set_up="set_up", measure="measure", fair=(1,)) == "set_up"
    assert turn(measure="measure", fair=(1,)) == "measure"
    assert turn(fair=(1,)) == "first_end"


@pytest.mark.parametrize(
    ("old", "told"),
    [(shot(period=1), "first_end"), (shot(period=0), "buy_kit"), (shot(period=1, inside=False), "buy_kit"),
     (shot(period=1, makes=False), "buy_kit")],
)  # fmt: skip
def test_an_old_straight_one_is_shot_before_a_kit_is_bought(turn, old, told):
    assert turn(old=(old,)) == told


def test_shafts_that_no_stock_knows_are_described_first(turn):
    assert turn(unknown=("BOUGHT",)) == "_describe"
    assert turn(unknown=("BOUGHT",), pieces=(1,)) == "buy_kit"
    assert turn() == "buy_kit"


def test_an_unknown_shaft_wants_its_row():
    step = plan._describe(where_of(), "BOUGHT")
    assert (step.stage, step.kind) == ("tune", "describe")
    assert step.do.startswith("Add a row for the shaft BOUGHT to stock.csv: material, spine")


def test_the_best_is_shown_first():
    """This bow before another; then by standing, then the more proven, then the nearest."""
    near, far = arrow_of(5, 5, spec=named(length=29)), arrow_of(-7, -7, spec=named(length=31))
    straight = arrow_of(1, 1, spec=named(length=28.5))
    proven = arrow_of(1, 1, 1, spec=named(length=28))
    old = arrow_of(0, 0, 0, period=1, spec=named(length=30))
    where = where_of(far, old, near, straight, proven)
    shown = plan.plan_of(where.scenario).shot
    assert [s.length_in for s in shown] == [28, 28.5, 29, 31, 30]
    assert [s.standing for s in shown[:3]] == ["proven", "flies straight", "outside"]


def test_of_two_that_could_not_be_told_apart_the_nearer_is_first():
    """To a millionth of an inch; of equals by name."""
    one, other = (
        arrow_of(5.2, 5.2, spec=named(length=30)),
        arrow_of(-5.1, -5.1, spec=named(length=29)),
    )
    where = where_of(one, other)
    assert sorted((one, other), key=lambda a: plan._order(where, a)) == [other, one]
    same = arrow_of(5.2, 5.2, spec=named(length=29.5))
    where = where_of(one, same)
    assert sorted((one, same), key=lambda a: plan._order(where, a)) == [same, one]


def test_what_is_in_hand_is_shown_before_what_is_gone():
    there, gone = arrow_of(5, 5), arrow_of(4, 4, spec=named("MARSH-400"))
    assert [s.shaft for s in plan.plan_of(where_of(gone, there).scenario).shot] == [
        "MARSH-500",
        "MARSH-400",
    ]


def test_a_dangerous_one_is_last_though_it_flies():
    """What must not be drawn stands behind what is far off."""
    flies, off = arrow_of(0, 0, 0), arrow_of(9, 9, spec=named(length=29))
    where = where_of(flies, off, looks={flies: look_of(long=False)})
    assert [s.standing for s in plan.plan_of(where.scenario).shot] == ["outside", "dangerous"]


def test_rules_of_ones_own_are_told_with_the_plan_they_changed():
    where = where_of()
    where.scenario.__dict__["own_rules"] = ("mine",)
    assert plan.plan_of(where.scenario).own_rules == ("mine",)
    where.scenario.__dict__["own_rules"] = ()
    assert plan.plan_of(where.scenario).own_rules is None


# ---------------------------------------------------------------- as data


@pytest.mark.parametrize("kind", [Expect, Buy, Next, Shot, Plan, Where, Height])
def test_what_was_found_stands(kind):
    with pytest.raises(FrozenInstanceError):
        object.__new__(kind).stage = "other"


def test_figures_are_told_as_finely_as_they_can_be_known():
    """Hundredths of an inch, tenths of a grain, chances to a thousandth."""
    expect = Expect("sideways", -1.23456, 2.34567, 0.8).to_dict()
    assert (expect["low_in"], expect["high_in"]) == (-1.23, 2.35)
    arrow = arrow_of(1.23456, draws=[0.0] * 6 + [9.0], spec=numbered(front=200.26))
    told = arrow.as_shot("outside").to_dict()
    assert told["front_gr"] == 200.3
    assert told["offset_in"] == -1.23
    assert told["chance_inside"] == 0.857


def test_every_document_carries_plan_and_seed():
    step = Next("tune", "shoot", "Do.", "Why.")
    keys = Plan(step, ()).keys()
    assert keys["seed"] == SEED
    assert keys["next"]["do"] == "Do."
    assert "own_rules" not in keys
