"""What every step rests on: what may be shot, what is dangerous, what is told with a step, and what the notebook asks back."""

from types import SimpleNamespace as Some

import numpy as np
import pytest
from plan_ends import change, have, owning, words
from plan_fakes import WITHIN, arrow_of, look_of, named, numbered, owned, spec_of, where_of

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.plan import steps
from shaftwright.answers.plan.result import Expect
from shaftwright.answers.plan.steps import BUTT, FLEX, WOOD, Where
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock

SPRUCE = named("SPRUCE-1132-45", point="PW-1132-125", insert=None)
TWO_KINDS = owning(MARSH_500=1, SPRUCE_1132_45=1)


def test_three_bare_and_three_fletched_near_first_and_far_to_prove():
    """Common practice, no source: ten yards for safety, twenty to compare, three and three."""
    where = where_of()
    assert (where.near_yd, where.far_yd, where.bare, where.fletched) == (10, 20, 3, 3)


def test_arrows_of_a_bow_before_its_last_change_are_not_of_here(monkeypatch):
    old, new = arrow_of(0, period=1), arrow_of(0)
    monkeypatch.setattr(steps, "arrows_shot", lambda of: (old, new))
    where = Where(where_of().scenario)
    assert where.arrows == (old, new)
    assert where.here == (new,)


def test_what_is_straight_is_what_the_archers_groups_tell():
    """Half the sum of both spreads, never under 2 in or over 3 in."""
    for spread, within in ((1.0, 2.0), (2.4, 2.4), (9.0, 3.0)):
        known = Some(bare_sd=np.full(3, spread), fletched_sd=np.full(3, spread))
        assert Where(Some(known=known)).within == pytest.approx(within)


def test_what_was_shot_heavier_than_the_purpose_may_stay_so():
    heavy = arrow_of(0)
    where = where_of(heavy, looks={heavy: look_of(per_lb=12.5)})
    assert where.makeable.shot == (12.5,)


@pytest.mark.parametrize(
    ("spec", "purpose", "wood", "second"),
    [(named(), "practice", False, False), (named(), "hunting", False, True), (SPRUCE, "practice", True, True),
     (numbered(), "practice", False, False)],
)  # fmt: skip
def test_wood_and_hunting_want_a_second_arrow(spec, purpose, wood, second):
    """Common practice, no source: wood differs from shaft to shaft; a broadhead must not rest on one odd shaft."""
    where = where_of(purpose=purpose, stock=TWO_KINDS)
    assert where.wood(spec) == wood
    assert where.hunting == (purpose == "hunting")
    assert where.needs_second(spec) == second
    assert where.look_at(spec) == (WOOD if wood else FLEX)
    assert where.look_at(None) == FLEX


@pytest.mark.parametrize(
    ("long", "heavy", "told"),
    [(True, True, ()), (False, True, ("too short for this draw",)), (True, False, ("too light for this bow",)),
     (False, False, ("too short for this draw", "too light for this bow"))],
)  # fmt: skip
def test_too_short_and_too_light_are_told_together(long, heavy, told):
    arrow = arrow_of(0)
    where = where_of(arrow, looks={arrow: look_of(long=long, heavy=heavy)})
    assert where.dangers(arrow) == told
    assert where.standing(arrow) == ("dangerous" if told else "straight so far")


@pytest.mark.parametrize(
    ("period", "at", "own", "replaced"),
    [(0, (), True, True), (0, (("plunger", "2 turns"),), True, False), (1, (), False, False)],
)  # fmt: skip
def test_an_arrow_shot_as_the_bow_stands_is_believed_as_it_was_shot(
    monkeypatch, period, at, own, replaced
):
    arrow = arrow_of(-4, period=period, setting=at, weak=0.7)
    asked = []

    def fake(of, ideas):
        asked.extend(ideas)
        return [look_of(1.0, weak=0.2)]

    monkeypatch.setattr(steps, "outlooks", fake)
    where = Where(where_of().scenario)
    look = where.outlook(arrow)
    assert where.outlook(arrow) is look
    (idea,) = asked
    assert idea.spec == arrow.spec
    assert (idea.base is arrow) == own
    assert look.far_too_weak == (0.7 if replaced else 0.2)
    assert look.z_lb[0] == (-4 if replaced else 1)


# ---------------------------------------------------------------- false stiff

LEAST_LB = setting("diagnosis.stiffer_by_lb")


@pytest.mark.parametrize(
    ("side", "other_side", "stiffer_by", "false"),
    [
        (4.0, 0.0, LEAST_LB, True),
        (4.0, 0.0, LEAST_LB - 0.1, False),
        (4.0, 4.0 - WITHIN / 2 - 0.01, LEAST_LB, True),
        (4.0, 4.0 - WITHIN / 2, LEAST_LB, False),
        (WITHIN / 2, -3.0, LEAST_LB, True),
        (WITHIN / 2 - 0.01, -3.0, LEAST_LB, False),
        (-4.0, -8.0, LEAST_LB, False),
        (4.0, None, LEAST_LB, False),
        (None, 0.0, LEAST_LB, False),
    ],
)  # fmt: skip
def test_a_weaker_shaft_further_to_the_stiff_side_is_falsely_stiff(
    side, other_side, stiffer_by, false
):
    """Common practice, no source: a stiffer shaft that lands less stiff shows that the other slaps the plate."""
    one = arrow_of(side, before=1.0)
    other = arrow_of(other_side, before=1.0 + stiffer_by, spec=named("MARSH-400"))
    where = where_of(one, other)
    assert where.false_stiff(one) == false
    assert not where_of(one).false_stiff(one)


@pytest.mark.parametrize(
    ("marks", "sides", "standing"),
    [("not_looked", (4, 4), "contact"), ("none", (4, 4), "outside"), ("not_looked", (4,), "contact"),
     ("none", (-1, 5, 5), "outside"), ("not_looked", (2, 2), "flies straight"), ("plate", (4, 4), "contact")],
)  # fmt: skip
def test_false_stiff_is_contact_until_no_marks_were_seen(marks, sides, standing):
    one = arrow_of(*sides, marks=marks)
    other = arrow_of(-3, before=5.0, spec=named("MARSH-400"))
    assert where_of(one, other).standing(one) == standing


def test_nothing_is_falsely_stiff_by_itself():
    one = arrow_of(4, 4, marks="not_looked")
    assert where_of(one).standing(one) == "outside"


@pytest.mark.parametrize(("hunting", "heads", "standing"), [
    (False, (), "proven"), (True, (), "flies straight"),
])  # fmt: skip
def test_hunting_asks_for_a_second_one_and_heads_before_it_is_proven(hunting, heads, standing):
    arrow = arrow_of(0, 0, 0)
    where = where_of(arrow, purpose="hunting" if hunting else "practice")
    assert where.standing(arrow) == standing


# ---------------------------------------------------------------- what can be made


def test_what_is_in_hand_can_be_made_again_and_numbers_always():
    where = where_of()
    assert where.can_make(arrow_of(0)) == Piece("MARSH-500", 1, 32.0, False)
    assert where.makes(arrow_of(0))
    assert not where.makes(arrow_of(0, spec=named("MARSH-400")))
    assert where.makes(arrow_of(0, spec=numbered()))


@pytest.mark.parametrize(
    ("shaft", "weak", "may"),
    [("MARSH-500", 0.0, True), ("MARSH-500", 0.9, False), ("MARSH-400", 0.0, False)],
)
def test_a_far_too_weak_shaft_is_not_shot_again(shaft, weak, may):
    arrow = arrow_of(-9, -9, weak=weak, spec=named(shaft))
    assert where_of(arrow).may_shoot(arrow) == may


# ---------------------------------------------------------------- a step


def step(where=None, **more):
    return (where or where_of()).step("tune", "shoot", "Do.", "Why.", **more)


def test_a_step_names_shaft_length_point_insert_and_piece():
    piece = Piece("MARSH-500", 3, 32.0, True)
    told = step(spec=named(length=29.5), piece=piece)
    assert (told.stage, told.kind, told.do, told.why) == ("tune", "shoot", "Do.", "Why.")
    assert (told.shaft, told.length_in, told.point) == ("MARSH-500", 29.5, "P175")
    assert (told.insert, told.piece) == ("I25", 3)
    assert told.distance_yd is told.bare is told.fletched is told.note is None
    assert told.cautions == ()


def test_an_uncut_shaft_is_as_long_as_its_row_says():
    assert step(spec=named(length=None)).length_in == 32
    assert step(spec=spec_of(shaft="NOBODY", length_in=None)).length_in is None
    assert step(spec=named()).piece is None
    assert step().shaft is None


def test_with_a_distance_it_is_three_and_three_and_noted():
    told = step(spec=named(), distance=20.0)
    assert (told.bare, told.fletched, told.distance_yd) == (3, 3, 20)
    assert told.note == "shaftwright note bareshaft"
    assert step(spec=named(), distance=20.0, note="own").note == "own"
    assert step(spec=named(), distance=20.0, bare=2).bare == 2


@pytest.mark.parametrize(
    ("yd", "cautions"),
    [(setting("plan.fair_yd") - 1, (BUTT, FLEX)), (setting("plan.fair_yd"), (FLEX,)), (20, (FLEX,))],
)  # fmt: skip
def test_near_by_the_butt_is_spoken_of(yd, cautions):
    assert step(spec=named(), distance=yd).cautions == cautions
    assert step(spec=named(), distance=yd, cautions=("Own.",)).cautions == ("Own.",)
    assert step(where_of(stock=TWO_KINDS), spec=SPRUCE, distance=20).cautions == (WOOD,)


def test_bare_shafts_wear_a_field_point_and_heads_are_shot_as_they_are():
    """B200 is gone for the nearest field point, 200 gr; broadheads beside field points keep it."""
    spec = spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B200", insert="I25")
    assert step(spec=spec, distance=20.0).point == "P200"
    assert step(spec=spec, distance=20.0, bare=0).point == "B200"
    assert step(spec=spec).point == "B200"


def test_a_field_point_is_the_nearest_that_fits():
    where = where_of()
    field = where.with_field_point(
        spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B145", insert="I25")
    )
    assert (field.point, field.broadhead, field.insert) == ("P145", None, "I25")
    plain = named()
    assert where.with_field_point(plain) is plain
    assert where.with_field_point(spec_of(shaft="NOBODY", broadhead="B145")).broadhead == "B145"
    nowhere = where_of(stock=None)
    assert nowhere.with_field_point(spec_of(shaft="A", broadhead="B145")).broadhead == "B145"


def without(*points):
    """The shop without points of carbon shafts, or without some."""
    rows = [
        i
        for i in TWO_KINDS.items
        if i.kind != "point" or i.material == "wood" or i.item not in points
    ]
    return Stock(tuple(rows))


def test_a_point_for_wood_is_no_field_point_for_carbon():
    """PW-1132-145 is glued on a taper: the next that screws in, or the broadhead stays."""
    spec = spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B145", insert="I25")
    assert where_of(stock=without("P145")).with_field_point(spec).point == "P150"
    points = [i.item for i in TWO_KINDS.of_kind("point")]
    assert where_of(stock=without(*points)).with_field_point(spec).broadhead == "B145"


CUT_TOO = "Are your other MARSH-500 cut too? Then: shaftwright note have MARSH-500 N --length L"


def asking():
    """Two in hand, and only a short one was ever noted."""
    where = where_of(stock=owning(MARSH_500=2))
    where.scenario.__dict__["held"] = Some(
        ask_about=("MARSH-500",), of=lambda shaft: (), stock=where.scenario.stock
    )
    return where


def test_whether_the_others_were_cut_is_asked_while_there_is_room():
    where = asking()
    assert step(where, spec=named(), distance=20.0).cautions == (FLEX, CUT_TOO)
    assert step(where, spec=named(), distance=20.0, cautions=("a", "b")).cautions == (
        "a",
        "b",
        CUT_TOO,
    )
    assert step(where, spec=named(), cautions=("a", "b", "c")).cautions == ("a", "b", "c")
    assert step(where, spec=named("MARSH-400")).cautions == ()
    assert step(where).cautions == ()


def test_a_change_in_words_unknown_is_asked_about_in_the_last_place():
    told = 'Was "new rest" limbs, string or weight? Then note that.'
    where = where_of(asked_about=("new rest",))
    assert step(where).cautions == (told,)
    assert step(where, cautions=("a", "b", "c")).cautions == ("a", "b", told)
    two = step(where_of(asked_about=("one", "two")), cautions=("a", "b", "c")).cautions
    assert len(two) == 3
    assert "two" in two[2]


# ---------------------------------------------------------------- an arrow shot again


def test_a_known_arrow_is_shot_from_far_where_it_should_land():
    arrow = arrow_of(0)
    where = where_of(arrow, stock=owning(MARSH_500=2))
    shot = where.shoot("prove", "shoot", "Do.", "Why.", arrow)
    assert shot.distance_yd == 20
    assert shot.piece == 1
    assert shot.expect == where.expect(where.outlook(arrow), 20)
    assert shot.expect.axis == "sideways"
    assert where.shoot("prove", "shoot", "Do.", "Why.", arrow, 10.0).distance_yd == 10
    assert where.shoot("prove", "shoot", "Do.", "Why.", arrow, expect=None).expect is None
    own = Expect("vertical", 0, 1, 0.8)
    assert where.shoot("prove", "shoot", "Do.", "Why.", arrow, expect=own).expect is own
    noted = where.shoot("prove", "shoot", "Do.", "Why.", arrow, note="note", cautions=("c",))
    assert (noted.note, noted.cautions) == ("note", ("c",))


def test_a_known_arrow_should_land_nearer_aside_from_near_by():
    """Inches grow with the distance."""
    arrow = arrow_of(8.0)
    where = where_of(arrow)
    far = where.shoot("tune", "shoot", "Do.", "Why.", arrow).expect
    near = where.shoot("tune", "shoot", "Do.", "Why.", arrow, 10.0).expect
    assert far.low_in == pytest.approx(2 * near.low_in)
    assert far.low_in < -8 < far.high_in  # stiff lies left of a right-hander


def test_the_same_arrow_again():
    arrow = arrow_of(0)
    where = where_of(arrow)
    where.scenario.__dict__["held"] = owned((1, 30.0))
    again = where.again("prove", arrow, "Why.", "Then.", "If not.")
    assert again.do == "Shoot the MARSH-500 again as it is: 30 in, 175 gr point, 20 yd, 3 and 3."
    assert (again.kind, again.then, again.if_not) == ("shoot", "Then.", "If not.")
    near = where.again("prove", arrow, "Why.", "Then.", "If not.", 10.0, how=" once")
    assert near.do == "Shoot the MARSH-500 once: 30 in, 175 gr point, 10 yd, 3 and 3."
    assert near.distance_yd == 10


def test_the_same_arrow_again_is_cut_anew_where_the_one_that_was_shot_is_gone():
    arrow = arrow_of(0)
    where = where_of(arrow)
    where.scenario.__dict__["held"] = owned((2, 32.0))
    again = where.again("prove", arrow, "Why.", "Then.", "If not.")
    assert (again.kind, again.piece, again.length_in) == ("cut", 2, 30.0)
    assert again.do == (
        "Cut the MARSH-500 you have to 30 in, make it like the one that is gone and shoot it: 175 gr point, "
        "20 yd, 3 and 3."
    )
    assert again.cautions[0].startswith("Cut carbon wet")
    where.scenario.__dict__["held"] = owned((2, 30.0625))
    assert where.again("prove", arrow, "Why.", "Then.", "If not.").kind == "shoot"


# ---------------------------------------------------------------- changes of the bow


def test_the_bow_is_set_anew_while_a_change_is_the_last_thing_told():
    told, shot = change("plate", plate=0.09375), words("straight")
    assert where_of(entries=(told,)).set_anew
    assert where_of(entries=(told, have("P175", 3))).set_anew
    assert not where_of(entries=()).set_anew
    assert not where_of(entries=(have("P175", 3),)).set_anew
    assert not where_of(entries=(told, shot)).set_anew
    assert where_of(entries=(shot, told)).set_anew


def test_how_often_a_setting_was_changed_since_the_bow_itself_was():
    plate = [change("plate", plate=n / 32) for n in (3, 2)]
    where = where_of(entries=(*plate, change("nocking_point", nocking_point=0.5)))
    assert where.set_times("plate") == 2
    assert where.set_times("nocking point") == where.set_times("nocking_point") == 1
    assert where.set_times("plunger") == 0
    limbs = change("limbs", limbs_id="heron-3", draw_weight=50)
    assert where_of(entries=(*plate, limbs)).set_times("plate") == 0


def test_free_words_that_say_nothing_known_are_asked_about():
    assert where_of(entries=(change("new rest"),)).asked_about == ("new rest",)
    assert where_of(entries=(change("other"),)).asked_about == ()
    assert where_of(entries=(change("plate", plate=0.09375),)).asked_about == ()
    assert where_of().asked_about == ()
    limbs = change("limbs", limbs_id="heron-3", draw_weight=50)
    assert where_of(entries=(change("new rest"), limbs)).asked_about == ()
