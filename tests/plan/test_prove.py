"""Something flies straight: which one leads, what it still has to prove, and a second one alike."""

from types import SimpleNamespace as Some

import pytest
from plan_ends import owning
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
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

ELSEWHERE = (("plate", "1/8 in"),)
SPRUCE = named("SPRUCE-1132-45", 28.5, "PW-1132-125", None)


# ---------------------------------------------------------------- which one leads


def leads(*arrows, looks=None, stock=TWO, purpose="practice"):
    return prove.leading(where_of(*arrows, looks=looks, stock=stock, purpose=purpose))


def test_the_more_proven_leads():
    """Three straight ends before two, two before one, one before what is off; words and inches aside."""
    one, two, three = (
        arrow_of(0),
        arrow_of(2, 2, spec=named(length=29)),
        arrow_of(2, 2, 2, spec=named(length=28.5)),
    )
    off = arrow_of(5, 5, spec=named(length=31))
    assert leads(off) is None
    assert leads(off, one) is one
    assert leads(one, two) is two
    assert leads(one, two, three) is three


def test_of_one_standing_what_is_at_the_present_setting_then_more_ends_then_the_surer():
    now, other = arrow_of(0), arrow_of(0, spec=named("MARSH-400"), setting=ELSEWHERE)
    assert leads(other, now) is now
    two, three = (
        arrow_of(0, 0, draws=[0] * 7 + [9] * 3),
        arrow_of(0, 0, 0, spec=named("MARSH-400"), draws=[0] * 7 + [9] * 3),
    )
    assert leads(two, three) is three
    surer = arrow_of(0, 0, spec=named("MARSH-400"), draws=[0] * 75 + [9] * 25)
    assert leads(two, surer) is surer


def test_of_equals_to_a_hundredth_what_weighs_right_then_what_is_in_hand_then_the_name():
    one = arrow_of(0, 0, draws=[0] * 7_500 + [9] * 2_500)
    other = arrow_of(0, 0, spec=named("MARSH-400"), draws=[0] * 7_510 + [9] * 2_490)
    assert leads(one, other) is other  # MARSH-400 before MARSH-500
    assert leads(one, other, looks={other: look_of(per_lb=12.0)}) is one
    lost = arrow_of(0, 0, spec=named("FEN-500"), draws=[0] * 7_500 + [9] * 2_500)
    assert leads(lost, one) is one


def test_broadheads_that_fly_lead_and_those_given_up_come_last():
    """Apart in three ends and it is another arrow's turn, however straight it is bare."""
    apart = [Some(look=Some(centre=(9.0, 0.0)), entry=None, line=0)]
    least = int(setting("plan.heads_bow_ends"))
    plain = arrow_of(0, 0, spec=named(length=29), draws=[0] * 7 + [9] * 3)
    few = arrow_of(0, 0, heads=apart * (least - 1))
    assert few.heads_together is False
    assert leads(few, plain, purpose="hunting") is plain
    proven_more = arrow_of(0, 0, 0, heads=apart * (least - 1))
    assert leads(proven_more, arrow_of(0, spec=named(length=29)), purpose="hunting") is proven_more
    spent = arrow_of(0, 0, 0, heads=apart * least)
    once = arrow_of(0, spec=named(length=29))
    assert leads(spent, once, purpose="hunting") is once


def test_one_from_another_setting_leads_until_it_has_spoken_twice_at_the_present_one():
    before = arrow_of(0, 0, 0, setting=ELSEWHERE)
    assert leads(before) is before
    assert leads(before, arrow_of(5)) is before
    # one straight end at the present one is what it waited for
    straight = arrow_of(1)
    assert leads(before, straight) is straight
    assert leads(before, arrow_of(5, 5)) is None
    assert leads(before, arrow_of(5, 5, setting=(("plate", "1/4 in"),))) is before
    assert leads(before, arrow_of(5, 5, fair=False)) is before


# ---------------------------------------------------------------- what it has to prove


def proving(
    *sides, stock=ONE, purpose="practice", entries=(), given=None, looks=None, others=(), **more
):
    arrow = arrow_of(*sides, stock=stock, **more)
    looks = None if looks is None else {arrow: looks}
    where = where_of(
        arrow, *others, stock=stock, purpose=purpose, entries=entries, looks=looks, **(given or {})
    )
    if stock is ONE:
        where.scenario.__dict__["held"] = owned((1, arrow.length_in))  # it was shot
    return prove.prove(where, arrow)


def test_after_one_straight_end_another():
    step = proving(1)
    assert (step.stage, step.kind, step.distance_yd) == ("prove", "shoot", 20)
    assert (
        step.why == "It flew straight: bare 1 in left of the fletched, once. One end can be luck."
    )
    assert step.then == "Within 2 1/2 in again: one end more."
    assert step.if_not == "More than that to the right is weak, to the left stiff."


@pytest.mark.parametrize(
    ("sides", "purpose", "luck", "then"),
    [
        ((1, 1), "practice", "Two ends so far; three make sure.", "the dozen"),
        ((1, 1), "hunting", "Two ends so far; three make sure.", "make a second one alike"),
    ],
)  # fmt: skip
def test_after_two_straight_ends_a_third(sides, purpose, luck, then):
    step = proving(*sides, purpose=purpose)
    assert step.kind == "shoot"
    assert step.why.endswith(luck)
    assert step.then == f"Within 2 1/2 in again: {then}."


def test_with_a_second_one_alike_broadheads_are_next_to_hunt():
    where = where_of(purpose="hunting")
    assert prove._then(where, arrow_of(ends=[end_of(1), end_of(1, piece=2)])) == "broadheads next"
    assert prove._then(where, arrow_of(1, 1)) == "make a second one alike"
    assert prove._then(where_of(), arrow_of(1, 1)) == "the dozen"


def end_at(stiffward_in):
    shots = [(0, 1.2), (1, -0.6), (-1, -0.6)]
    return ENTRY.validate_python({
        "kind": "bareshaft", "distance": 20, "taped": True, "cant_deg": 0, "marks": "none",
        "build": {"spine": 500, "gr_per_in": 8, "length": 29.5, "front": 200, "tail": 25},
        "bare": [[x - stiffward_in, y] for x, y in shots], "fletched": [list(s) for s in shots],
    })  # fmt: skip


@pytest.mark.slow
def test_the_dozen_is_promised_only_where_the_next_end_makes_sure_of_it():
    """Three ends at an inch and a half: as far off again is no proof yet, on the other side it is."""
    rig = load_rig("examples/heron_marsh/rig.yaml", ("archer.draw_length=28", "purpose=practice"))
    seen = [end_at(1.5)] * 3

    def after(*more):
        return scenario(rig, entries=[*seen, *more]).plan.next

    now = after()
    assert now.kind == "shoot"
    assert now.then.startswith("Between "), now.then
    assert ": the dozen. Else within" in now.then
    assert after(end_at(1.5)).kind == "shoot"
    assert after(end_at(0)).kind == "make_dozen"


@pytest.mark.parametrize(
    ("inside", "ends", "told"),
    [(0.79, 3, "Three ends, and still 79 in 100 that it is straight."),
     (0.79, 4, "4 ends, and still 79 in 100 that it is straight."), (0.79, 2, "Two ends so far; three make sure.")],
)  # fmt: skip
def test_three_ends_of_which_the_groups_leave_doubt_are_not_enough(inside, ends, told):
    draws = [0.0] * round(100 * inside) + [9.0] * round(100 - 100 * inside)
    step = prove._so_far(where_of(), arrow_of(*[1] * ends, draws=draws))
    assert step.endswith(told)


def test_a_word_from_near_by_is_proved_from_far():
    arrow = arrow_of(1, fair=False)
    assert (
        prove._so_far(where_of(arrow), arrow) == "It read straight near by; 20 yd is what counts."
    )


@pytest.mark.parametrize(
    ("inside", "asks"), [(setting("plan.proof_chance"), "broadheads"), (setting("plan.proof_chance") - 0.01, "shoot")],
)  # fmt: skip
def test_it_is_proved_at_four_chances_in_five(monkeypatch, inside, asks):
    monkeypatch.setattr(prove, "broadheads", lambda where, arrow: Some(kind="broadheads"))
    many = round(100 * inside)
    assert proving(1, 1, 1, draws=[0.0] * many + [9.0] * (100 - many)).kind == asks


def test_three_ends_that_are_not_level_or_whose_tails_point_aside_are_shot_on(monkeypatch):
    monkeypatch.setattr(prove, "height_is_off", lambda where: False)
    monkeypatch.setattr(prove, "broadheads", lambda where, arrow: Some(kind="broadheads"))
    assert proving(1, 1, 1).kind == "broadheads"
    assert proving(1, 1, 1, up=9.0).kind == "shoot"


def test_proven_bare_it_wants_a_second_one_then_broadheads(monkeypatch):
    monkeypatch.setattr(prove, "broadheads", lambda where, arrow: Some(kind="broadheads"))
    assert proving(1, 1, 1, purpose="hunting").kind == "make_second"
    assert proving(ends=second(), purpose="hunting").kind == "broadheads"
    assert proving(ends=second(side=9), purpose="hunting", off=1.0).kind == "make_second"
    assert proving(1, 1, 1).kind == "broadheads"


def test_after_six_ends_still_in_doubt_something_small_is_changed_on_the_bow(monkeypatch):
    monkeypatch.setattr(prove, "_small_change", lambda where, arrow: Some(kind="plate"))
    doubt = [0.0] * 7 + [9.0] * 3
    few, many = (int(setting("plan.patient_ends")) - n for n in (1, 0))
    assert proving(*[1] * few, draws=doubt).kind == "shoot"
    assert proving(*[1] * many, draws=doubt).kind == "plate"
    monkeypatch.setattr(prove, "_small_change", lambda where, arrow: None)
    assert proving(*[1] * many, draws=doubt).kind == "shoot"


def test_a_straight_one_that_lands_low_is_a_matter_of_the_nocking_point(monkeypatch):
    monkeypatch.setattr(prove, "height_is_off", lambda where: True)
    monkeypatch.setattr(prove, "nocking_point", lambda where, arrow, stage, why: (stage, why))
    told = (
        "The MARSH-500 is straight sideways, but lands 4 in {}: the nocking point, not the shaft."
    )
    assert proving(1, up=-4.0) == ("prove", told.format("low"))
    assert proving(1, up=4.0) == ("prove", told.format("high"))
    assert proving(1, up=None) == ("prove", "")  # by tails, or by the others


# ---------------------------------------------------------------- set anew, lost


def test_what_flew_straight_is_shot_once_at_the_present_setting():
    step = proving(1, 1, 1, setting=ELSEWHERE)
    assert step.do == (
        "Shoot the MARSH-500 again as the bow is set now: 30 in, 175 gr point, 20 yd, 3 and 3."
    )
    assert (
        step.why
        == "It flew straight with plate 1/8 in; one straight end now shows that it still does."
    )
    assert step.then == "Within 2 1/2 in: it leads as before."
    anew = proving(1, 1, 1, given={"set_anew": True})
    assert anew.do.startswith("Shoot the MARSH-500 as the bow is set now: ")
    assert anew.why == (
        "The bow was set anew since the last shot; one straight end shows that it still flies."
    )


def test_one_end_off_at_the_present_setting_can_be_bad_luck():
    before, now = arrow_of(0, 0, setting=ELSEWHERE), arrow_of(5)
    told = "It flew straight before the bow was set anew; one end since lay off, which can be bad luck."
    assert prove._since_set(where_of(before, now), before) == told
    other = arrow_of(5, spec=named(length=29))
    for since in (other, arrow_of(), arrow_of(5, setting=(("plate", "1/4 in"),))):
        assert prove._since_set(where_of(before, since), before) != told


def test_a_straight_one_that_is_lost_is_bought_again():
    step = proving(1, 1, stock=owning(MARSH_400=1))
    assert (step.stage, step.kind, step.buy) == ("prove", "buy", (Buy("MARSH-500", 1),))
    assert step.do == (
        "Buy another MARSH-500 for the one that is gone, make it alike and shoot it: 30 in, 175 gr point, 20 yd."
    )
    assert step.why == (
        "It flew straight: bare 1 in left of the fletched, two ends together. No other arrow takes its place yet."
    )
    assert step.then == "Within 2 1/2 in: it is proved like the first."
    where = where_of(arrow_of(1, 1))
    where.scenario.__dict__["held"] = owned((1, 29.0))
    # number one was cut since: the one that is bought is the second
    assert prove.prove(where, where.arrows[0]).piece == 2


def test_what_the_shop_lacks_is_looked_for_elsewhere_by_what_it_is():
    gone = arrow_of(1, 1)
    where = where_of(gone, stock=without("MARSH-500"))
    step = prove.prove(where, gone)
    assert (step.stage, step.kind, step.buy) == ("prove", "buy", ())
    assert step.do == (
        "Look elsewhere for shafts like the MARSH-500: spine 500, 7.4 gr an inch, at least 30 in long."
    )
    assert prove._not_in_the_shop(where, gone, "dozen").stage == "dozen"


# ---------------------------------------------------------------- a neighbour that reads as it should


@pytest.mark.parametrize(
    ("other", "told"),
    [
        (arrow_of(9, 9, spec=named("MARSH-400")), " The MARSH-400 read stiff, as a stiffer shaft should."),
        (arrow_of(-9, -9, spec=named("MARSH-600")), " The MARSH-600 read weak, as a weaker shaft should."),
        (arrow_of(-9, -9, spec=named("MARSH-400")), ""), (arrow_of(9, 9, spec=named("MARSH-600")), ""),
        (arrow_of(1, 1, spec=named("MARSH-400")), ""), (arrow_of(9, 9, spec=named(length=29)), ""),
        (arrow_of(-9, -9, spec=named("FEN-500")), ""), (arrow_of(9, 9, spec=named("FEN-500")), ""),
        (arrow_of(None, spec=named("MARSH-400")), ""),
    ],
)  # fmt: skip
def test_a_neighbour_confirms_it(other, told):
    """Common practice, no source: a stiffer shaft lands stiffer, a weaker one weaker."""
    arrow = arrow_of(1)
    assert prove._confirmed(where_of(arrow, other), arrow) == told
    assert proving(1, others=(other,)).why.endswith(told or "One end can be luck.")


def test_the_first_neighbour_that_confirms_is_named():
    arrow, odd = arrow_of(1), arrow_of(-9, spec=named("MARSH-400"))
    good = arrow_of(-9, -9, spec=named("MARSH-600"))
    assert "MARSH-600" in prove._confirmed(where_of(arrow, odd, good), arrow)


def test_the_nearest_neighbour_is_named_where_two_confirm():
    arrow = arrow_of(1, spec=named("MARSH-600"))
    far, near = (arrow_of(9, 9, spec=named(shaft)) for shaft in ("MARSH-400", "MARSH-500"))
    assert "MARSH-500" in prove._confirmed(where_of(arrow, far, near), arrow)


# ---------------------------------------------------------------- something small


def test_the_best_of_what_is_set_on_the_bow_brings_it_in(monkeypatch):
    arrow = arrow_of(2, 2, draws=[0.0] * 7 + [9.0] * 3)
    where = where_of(arrow)
    better = [look_of(inside=0.8), look_of(inside=0.75)]
    case = Some(levers=Some(on_bow=better), change=lambda look, why: prove.Case)
    taken = []

    def changed(look, why):
        taken.append((look, why))
        return where.step("tune", "plate", "Do.", why)

    case.change = changed
    monkeypatch.setattr(prove, "Case", lambda *_: case)
    step = prove._small_change(where, arrow)
    assert step.stage == "prove"
    assert taken == [(better[0], "It flies straight, but bare 2 in left of the fletched, two ends together: "
                                 "a little on the bow brings it in.")]  # fmt: skip
    for none in ([], [look_of(inside=0.7)], [look_of(inside=0.6)]):
        case.levers.on_bow = none
        assert prove._small_change(where, arrow) is None


# ---------------------------------------------------------------- a second one


def second_of(*sides, stock, purpose="hunting", ends=None, **more):
    arrow = arrow_of(*sides, ends=ends, stock=stock, **more)
    where = where_of(arrow, stock=stock, purpose=purpose)
    return prove._make_second(where, arrow)


def test_a_second_one_is_made_of_another_shaft_in_hand():
    step = second_of(1, 1, 5, stock=owning(MARSH_500=2))
    assert (step.kind, step.buy, step.piece) == ("make_second", (), 2)
    assert (
        step.do == "Make a second MARSH-500 alike and shoot it bare at 20 yd: 30 in, 175 gr point."
    )
    assert step.why == (
        "The first flew straight in two of three ends. One shaft may be an odd one; a dozen wants two that fly."
    )
    assert step.note == "shaftwright note bareshaft --piece 2"
    assert step.then == "Within 2 1/2 in: broadheads next."


def test_the_ends_of_the_first_alone_are_counted():
    """Inside up to what counts as straight, another shaft's left out."""
    ends = [end_of(WITHIN), end_of(-WITHIN), end_of(WITHIN + 0.1), end_of(9, piece=2)]
    step = second_of(ends=ends, stock=owning(MARSH_500=3))
    assert "Number 2, made alike, landed off" in step.why
    ends = [
        end_of(WITHIN),
        end_of(-WITHIN),
        end_of(WITHIN + 0.1),
        end_of(None, piece=2, fair=False),
    ]
    assert "straight in two of three ends" in second_of(ends=ends, stock=owning(MARSH_500=3)).why


def test_of_wood_every_shaft_is_its_own():
    stock = owning(SPRUCE_1132_45=2)
    step = second_of(1, 1, 1, stock=stock, spec=SPRUCE, purpose="practice")
    assert "Wood differs from shaft to shaft;" in step.why
    assert step.then == "Within 2 1/2 in: the dozen."


@pytest.mark.parametrize(
    ("pieces", "number"),
    [
        (((1, 30.0), (2, 32.0), (3, 31.0)), 3), (((1, 30.0), (2, 31.0), (3, 31.0)), 2),
        (((1, 30.0), (2, 30.0), (3, 29.9)), 2), (((1, 30.0), (5, 30.0)), 5),
    ],
)  # fmt: skip
def test_the_shortest_that_is_long_enough_becomes_the_second(pieces, number):
    arrow = arrow_of(1, 1, 1)
    where = where_of(arrow, purpose="hunting")
    where.scenario.__dict__["held"] = owned(*pieces)
    step = prove._make_second(where, arrow)
    assert (step.piece, step.buy) == (number, ())


def test_without_another_long_enough_one_is_bought():
    step = second_of(1, 1, 1, stock=ONE)
    assert (step.piece, step.buy) == (2, (Buy("MARSH-500", 1),))
    assert (
        step.do == "Buy one more MARSH-500, make it alike and shoot it: 30 in, 175 gr point, 20 yd."
    )
    arrow = arrow_of(1, 1, 1)
    where = where_of(arrow, purpose="hunting")
    where.scenario.__dict__["held"] = owned((1, 30.0), (2, 29.5))
    step = prove._make_second(where, arrow)
    # number two is too short, so the one that is bought is number three
    assert (step.buy, step.piece) == ((Buy("MARSH-500", 1),), 3)
    assert step.note == "shaftwright note bareshaft --piece 3"


def test_a_second_one_that_missed_twice_is_given_up_for_a_third():
    """One end off can be luck: number two once more; after two, number three."""
    stock = owning(MARSH_500=3)
    once = second_of(ends=second(side=9), stock=stock, off=1.0)
    assert (once.piece, once.buy) == (2, ())
    assert once.why == (
        "Number 2, made alike, landed off: compare its nock, weight and straightness."
    )
    assert once.note == "shaftwright note bareshaft --piece 2"
    twice = second_of(ends=[*second(side=9), end_of(9, piece=2)], stock=stock, off=1.0)
    assert twice.piece == 3
    few = second_of(ends=[*second(side=9), end_of(9, piece=2)], stock=owning(MARSH_500=2), off=1.0)
    assert few.buy == (Buy("MARSH-500", 1),)


def test_by_numbers_nothing_is_bought_for_the_second():
    step = second_of(1, 1, 1, stock=ONE, spec=numbered())
    assert step.buy == ()
    assert step.do.startswith("Make a second spine 500 alike")


def test_no_shop_has_another():
    arrow = arrow_of(1, 1, 1)
    where = where_of(arrow, stock=without("MARSH-500"), purpose="hunting")
    step = prove._make_second(where, arrow)
    assert step.do.startswith("Look elsewhere for shafts like the MARSH-500")
    assert step.stage == "prove"
