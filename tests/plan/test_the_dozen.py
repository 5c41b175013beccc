"""The dozen of a proven arrow: bought or in hand, made, still flying or not, and the label that reorders it."""

import datetime as dt
from types import SimpleNamespace as Some

import pytest
from plan_ends import change, entry, have, owning
from plan_fakes import (
    ONE,
    TWO,
    WITHIN,
    arrow_of,
    end_of,
    look_of,
    named,
    numbered,
    owned,
    second,
    where_of,
    without,
)

from shaftwright.answers.plan import prove
from shaftwright.answers.plan.result import Buy
from shaftwright.answers.plan.steps import BUTT, FLEX
from shaftwright.records.stock import Stock

ELSEWHERE = (("plate", "1/8 in"),)
SPRUCE = named("SPRUCE-1132-45", 28.5, "PW-1132-125", None)


# ---------------------------------------------------------------- the dozen


def dozen_of(stock=ONE, purpose="practice", ends=None, spec=None, heads=(), given=None):
    arrow = arrow_of(ends=ends or [end_of(1)] * 3, stock=TWO, spec=spec, heads=heads)
    where = where_of(arrow, stock=stock, purpose=purpose)
    if given is not None:
        where.scenario.__dict__["held"] = given
    return prove.dozen(where, arrow)


def test_a_dozen_is_bought_with_its_spares_and_one_shot_first():
    """Fourteen of one batch for twelve: what the shopping list holds."""
    step = dozen_of()
    assert (step.stage, step.kind, step.note) == (
        "dozen",
        "make_dozen",
        "shaftwright note dozen 12",
    )
    assert step.cautions == (FLEX, BUTT)
    assert step.distance_yd == 20  # where the one that is shot first was proved
    bought = " and ".join(f"{b.quantity} {b.item}" for b in step.buy)
    assert sum(b.quantity for b in step.buy) >= 12
    assert {b.item for b in step.buy} <= {"MARSH-500", "MARSH-500-12"}
    assert step.do == (
        f"Buy {bought}, make one at 30 in with the 175 gr point, shoot it, then make the rest."
    )
    assert step.why == "The MARSH-500 is proven: three ends straight."


def test_packs_of_a_dozen_count_as_twelve_each():
    by_the_dozen = Stock(
        tuple(i for i in ONE.items if i.kind != "shaft" or i.item == "MARSH-500-12")
    )
    step = dozen_of(stock=by_the_dozen, spec=named("MARSH-500-12"))
    assert all(b.quantity % 12 == 0 and b.quantity for b in step.buy)
    assert [b.item for b in step.buy] == ["MARSH-500-12"]


@pytest.mark.parametrize(
    ("ends", "heads", "why"),
    [
        ([end_of(1)] * 3, (), "three ends straight."),
        (second(), (), "4 ends straight, a second one alike."),
        (second(), [Some(look=Some(centre=(1.0, 0.0)), entry=None, line=0)],
         "4 ends straight, a second one alike, broadheads with the field points."),
    ],
)  # fmt: skip
def test_what_proved_it_is_told(ends, heads, why):
    assert dozen_of(ends=ends, heads=heads).why == f"The MARSH-500 is proven: {why}"


@pytest.mark.parametrize(
    ("many", "length", "buys"), [(12, 30.0, False), (11, 30.0, True), (12, 29.9, True)]
)
def test_twelve_in_hand_that_are_long_enough_are_taken(many, length, buys):
    step = dozen_of(given=owned((1, 30.0), *[(n, length) for n in range(2, many + 1)]))
    assert bool(step.buy) == buys
    assert step.do.startswith(
        "Buy " if buys else "You have the shafts: take twelve MARSH-500, make one"
    )


def test_without_the_shaft_in_the_shop_a_dozen_is_looked_for_or_taken_from_what_is_there():
    step = dozen_of(stock=without("MARSH-500"))
    assert step.do.startswith("Look elsewhere for shafts like the MARSH-500")
    assert step.stage == "dozen"
    held = owned(*[(n, 30.0) for n in range(1, 13)])
    assert dozen_of(stock=without("MARSH-500"), given=held).kind == "make_dozen"
    assert dozen_of(stock=without("MARSH-500"), spec=numbered()).kind == "make_dozen"


def test_what_is_in_hand_of_a_dozen_is_not_bought(monkeypatch):
    from shaftwright.answers.shop import dozen

    lines = [Some(kind="shaft", item="MARSH-500", packs=0, pack=1), Some(kind="shaft", item="MARSH-500-12", packs=1, pack=12),
             Some(kind="point", item="P175", packs=1, pack=6)]  # fmt: skip
    monkeypatch.setattr(dozen, "dozen_for", lambda of, spec: lines)
    assert dozen_of().buy == (Buy("MARSH-500-12", 12),)


def test_an_uncut_shaft_takes_any_in_hand():
    held = owned(*[(n, 20.0) for n in range(1, 13)])
    assert dozen_of(spec=named(length=None), given=held).buy == ()


# ---------------------------------------------------------------- a dozen that was made


def made(many, day=None, length=30.0, **more):
    told = {
        "kind": "dozen",
        "made": many,
        "build": {"shaft": "MARSH-500", "length": length, "point": "P175", "insert": "I25"},
    }
    return entry(told | ({"date": f"2026-05-{day:02d}"} if day else {}) | more)


def dozen_in(*entries, arrow=None, looks=None):
    arrow = arrow or arrow_of(1, 1, 1)
    where = where_of(arrow, entries=entries, looks=None if looks is None else {arrow: looks})
    found = prove.made_dozen(where)
    return None if found is None else found[0].made


def test_fewer_than_three_are_the_first_of_a_dozen():
    assert dozen_in() is None
    assert dozen_in(made(2)) is None
    assert dozen_in(made(3)) == 3
    assert dozen_in(made(1, 1), made(2, 2)) == 2


def test_the_last_noted_counts_of_one_day_the_most():
    assert dozen_in(made(12, 1), made(6, 2)) == 6
    assert dozen_in(made(6, 2), made(12, 1)) == 6
    assert dozen_in(made(6, 2), made(12, 2)) == 12
    assert dozen_in(made(6), made(12, 1)) == 12


def test_a_dozen_from_before_the_bow_was_set_anew_counts_once_its_arrow_is_proven_again():
    """Nobody makes twelve once more for half a turn of the plunger; with other limbs it is none."""
    anew = change("plate", plate=0.125)
    assert dozen_in(made(12), anew) == 12
    assert dozen_in(made(12), anew, arrow=arrow_of(1)) is None
    assert dozen_in(made(12), anew, arrow=arrow_of(1, 1)) is None
    assert dozen_in(anew, made(12), arrow=arrow_of(1)) == 12
    assert dozen_in(anew, made(12), change("plate", plate=0.09375), arrow=arrow_of(1)) is None
    assert dozen_in(made(12), change("limbs", limbs_id="heron-3", draw_weight=50)) is None
    assert dozen_in(have("P175", 3), made(12)) == 12


@pytest.mark.parametrize(
    "arrow",
    [
        arrow_of(1, 1, spec=named(length=29)),
        arrow_of(1, 1, setting=ELSEWHERE),
        arrow_of(),
        arrow_of(1, 1, period=1),
    ],
)
def test_a_dozen_of_an_arrow_never_shot_bare_as_the_bow_stands_is_none(arrow):
    assert dozen_in(made(12), arrow=arrow) is None


def test_a_dozen_that_must_not_be_drawn_or_that_no_stock_knows_is_none():
    assert dozen_in(made(12), looks=look_of(long=False)) is None
    assert dozen_in(made(12, build={"shaft": "BOUGHT", "length": 30, "point": "P175"})) is None


MAY = dt.date(2026, 5, 10)


@pytest.mark.parametrize(
    ("ends", "day", "missed"),
    [
        ([end_of(1)] * 3, MAY, False),
        ([end_of(1)] * 3 + [end_of(3, day=11)], MAY, True),
        ([end_of(1)] * 3 + [end_of(-3, day=11)], MAY, True),
        ([end_of(1)] * 3 + [end_of(WITHIN, day=11)], MAY, False),
        ([end_of(1)] * 3 + [end_of(3, day=10)], MAY, False),
        ([end_of(1)] * 3 + [end_of(3, day=11)], None, False),
        ([end_of(1)] * 3 + [end_of(3, day=11), end_of(1, day=12)], MAY, False),
        ([end_of(1)] * 3 + [end_of(1, day=11), end_of(3, day=12)], MAY, True),
        ([end_of(1)] * 3 + [end_of(4, day=11), end_of(0, day=11)], MAY, False),
        ([end_of(1)] * 3 + [end_of(4, day=11), end_of(2, day=11)], MAY, True),
        ([end_of(1)] * 3 + [end_of(3)], MAY, False),
        ([end_of(5)] * 3, MAY, True),
        ([end_of(6), end_of(6), *[end_of(-2)] * 4], MAY, True),
    ],
)  # fmt: skip
def test_the_last_days_ends_since_the_dozen_tell_whether_it_still_flies(ends, day, missed):
    assert prove.missed_since(arrow_of(ends=ends), day) == missed


def test_an_odd_end_after_the_dozen_is_shot_again():
    arrow = arrow_of(1, 1, 1)
    where = where_of(arrow)
    where.scenario.__dict__["held"] = owned((1, 30.0))
    step = prove.prove_anew(where, arrow)
    assert (step.stage, step.kind) == ("prove", "shoot")
    assert step.then == "Within 2 1/2 in: it was an odd end, and you are tuned."
    assert step.if_not.startswith("Outside again")


@pytest.mark.parametrize(
    ("masses", "weighed"),
    [((), ""), ((452.5, 449.0, 451.0), ", 449 to 452.5 gr")],
)
def test_tuned_with_card_and_label(masses, weighed):
    arrow = arrow_of(1, 1, 1)
    told = made(12, masses=list(masses)) if masses else made(12)
    step = prove.done(where_of(arrow, entries=(told,)), told, arrow)
    assert (step.stage, step.kind) == ("done", "finish")
    assert step.do == (
        f"Tuned. Keep the card, and shoot: MARSH-500, 30 in, 175 gr point, 12 made{weighed}."
    )
    assert step.cautions == (FLEX,)
    assert (
        step.then
        == "Still in tune? One end of 3 fletched and 3 bare at 20 yd: within 2 1/2 in, yes."
    )
    assert step.why.startswith("Quiver label: 500 spine, 30 in, insert 25 gr, point 175 gr, ")


@pytest.mark.parametrize(("side", "told"), [(5.0, "5 in left"), (-5.0, "5 in right"), (2.5, "")])
def test_an_end_outside_on_the_day_of_the_dozen_is_asked_about(side, told):
    """Of one day nobody can say which came first."""
    arrow = arrow_of(ends=[end_of(0.5, day=1), end_of(0.5, day=1), end_of(side, day=2)])
    entry = made(12, date="2026-05-02")
    first = prove.done(where_of(arrow, entries=(entry,)), entry, arrow).cautions[0]
    assert first == (
        f"One end of that day lay {told}. Shot after the dozen? Then one more." if told else FLEX
    )


def test_the_end_that_keeps_it_in_tune_is_shot_with_one_that_is_as_long():
    """The first was cut since the dozen was made: noted as the first it would have to grow."""
    arrow = arrow_of(1, 1, 1)
    where = where_of(arrow)
    where.scenario.__dict__["held"] = owned((1, 29.0), (2, 30.0))
    assert prove.done(where, made(12), arrow).piece == 2
    assert dozen_of(given=owned((1, 29.0), (2, 30.0))).piece == 2


@pytest.mark.parametrize(("heads", "cautioned"), [((), True), ((1.0,), False), ((9.0,), True)])
def test_to_hunt_a_broadhead_must_have_flown(heads, cautioned):
    shot = [Some(look=Some(centre=(side, 0.0)), entry=None, line=0) for side in heads]
    arrow = arrow_of(1, 1, 1, heads=shot)
    step = prove.done(where_of(arrow, purpose="hunting"), made(12), arrow)
    no_head = "No broadhead has flown with the field points yet: shoot them before you hunt."
    assert step.cautions == ((no_head, FLEX) if cautioned else (FLEX,))


def test_a_label_reorders_the_arrow_wood_by_its_pounds():
    label = prove.quiver_label(where_of(), named(length=29.5))
    # 7.4 gr an inch, 175 + 25 up front, 9 for the nock; the feathers besides
    assert label.startswith("500 spine, 29 1/2 in, insert 25 gr, point 175 gr, ")
    assert label.endswith(" gr in all")
    wood = prove.quiver_label(where_of(stock=owning(SPRUCE_1132_45=1)), SPRUCE)
    assert wood.startswith("47.5 lb wood spine, 28 1/2 in, point 125 gr, ")
    assert prove.quiver_label(where_of(), numbered()).startswith("500 spine, 30 in")
