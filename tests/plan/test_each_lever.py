"""Levers by themselves: what is thrown out, which comes first, points, what is set on the bow, and the cut."""

import numpy as np
import pytest
from plan_ends import owning, rig_with
from plan_fakes import (
    DRAWS,
    WITHIN,
    arrow_of,
    as_told,
    faked,
    levers_of,
    look_of,
    named,
    numbered,
    spec_of,
    where_of,
)

from shaftwright.answers.plan import levers
from shaftwright.answers.plan.result import Buy
from shaftwright.parameters import setting
from shaftwright.records.rig import Plunger

SHORTEST = 28.25  # practice: half an inch beyond a draw of 27 3/4 in
SURE = setting("plan.sure_way")
OVER = setting("plan.over_chance")
FAR = setting("plan.far_cut_in")


# ---------------------------------------------------------------- which side


@pytest.mark.parametrize(
    ("sides", "draws", "stiff"),
    [((5,), None, True), ((0.5,), None, True), ((-5,), None, False), ((0,), [9.0], False), ((None,), [1.0] * 51 + [-1.0] * 49, True),
     ((None,), [1.0] * 50 + [-1.0] * 50, False)],
)  # fmt: skip
def test_the_side_is_what_was_seen_else_what_is_likelier(sides, draws, stiff):
    assert levers_of(*sides, draws=draws).stiff is stiff
    assert levers_of(*sides, draws=draws, stiff=not stiff).stiff is not stiff


def test_tried_is_what_lay_outside_as_the_bow_stands():
    inside = arrow_of(1, spec=named(length=29))
    elsewhere = arrow_of(5, spec=named(length=28.5), setting=(("plate", "1/8 in"),))
    found = levers_of(5, others=(inside, elsewhere))
    assert found.tried == {found.arrow.key}


# ---------------------------------------------------------------- what is thrown out


def test_what_is_unsafe_or_weighs_wrong_or_was_tried_or_goes_the_wrong_way_is_thrown_out():
    found = levers_of(-5, -5)
    good = look_of(-2, spec=named(point="P125"))
    bad = [
        look_of(-2, spec=named(point="P125"), long=False), look_of(-2, spec=named(point="P125"), per_lb=12.0),
        look_of(-2), look_of(-7, spec=named(point="P125")),
    ]  # fmt: skip
    assert found._passed([*bad, good]) == [good]


@pytest.mark.parametrize(
    ("own", "low", "high"),
    [(9.0, 8, 10), (7.0, 7.0, 10), (12.0, 8, 12.0)],
)
def test_the_weights_are_the_purposes_or_between_them_and_the_arrows_own(own, low, high):
    shot = levers_of(-5, now=look_of(-5, per_lb=own))._shot
    kept = [look_of(0, per_lb=x).weighs(shot) for x in (low - 0.2, low, high, high + 0.2)]
    assert kept == [False, True, True, False]


@pytest.mark.parametrize(("at", "new"), [(2.5, False), (3.0, True)])
def test_a_setting_of_the_plunger_is_new_where_the_arrow_was_not_shot_at_it(at, new):
    """An arrow tried as the bow stands is new at another setting."""
    plunger = {"rest": "plunger", "plate": None}
    rig = rig_with(**plunger, plunger={"turns": 2})
    tried = arrow_of(
        5, setting=(("plunger", "2.5 turns"),), rig=rig_with(**plunger, plunger={"turns": 2.5})
    )
    other = arrow_of(5, spec=named(length=29), rig=rig_with(**plunger, plunger={"turns": 3}))
    found = levers_of(5, 5, rig=rig, others=(tried, other))
    look = look_of(1, kind="plunger", rig=rig_with(**plunger, plunger={"turns": at}))
    assert found._new(look) is new
    assert not found._new(look_of(1, kind="point"))


APART = 0.01


@pytest.mark.parametrize(
    ("off", "middle", "right", "anyhow"),
    [
        (-5, -5 + APART, False, False), (-5, -5 + 2 * APART, True, True), (-5, -6, False, False),
        (5, 5 - APART, False, False), (5, 5 - 2 * APART, True, True), (5, 6, False, False),
        (-5, 5 + WITHIN / 2 - 0.1, True, True), (-5, 5 + WITHIN / 2, False, True),
        (5, -5 - WITHIN / 2 + 0.1, True, True), (5, -5 - WITHIN / 2, False, True),
    ],
)  # fmt: skip
def test_the_right_way_is_toward_the_fletched_and_not_as_far_off_beyond(off, middle, right, anyhow):
    found = levers_of(off)
    assert found._right_way(look_of(middle)) is right
    assert found._right_way(look_of(middle), overshoot=True) is anyhow


def test_a_hundredth_of_an_inch_is_no_way_at_all():
    assert not levers_of(-5, now=look_of(0.0))._right_way(look_of(APART))
    assert not levers_of(5, now=look_of(0.0))._right_way(look_of(-APART))


def test_the_way_is_counted_from_the_bow_as_it_is_set_now():
    found = levers_of(-5, now=look_of(-3))
    assert not found._right_way(look_of(-4))
    assert found._right_way(look_of(-2))


@pytest.mark.parametrize("stiff", [True, False])
def test_the_chance_of_the_right_way_is_counted_draw_by_draw(stiff):
    found = levers_of(5 if stiff else -5, now=look_of(draws=[2.0] * 10))
    way = -1 if stiff else 1
    look = look_of(draws=[2 + way * x for x in [0.5] * 7 + [-0.5, 0.0, 0.0]])
    assert found.chance_right(look) == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("kind", "chance", "sure"),
    [("point", SURE, True), ("point", SURE - 0.01, False), ("cut", SURE - 0.01, False), ("plate", SURE - 0.01, False),
     ("shaft", 0.0, True), ("buy", 0.0, True)],
)  # fmt: skip
def test_another_shaft_is_sure_and_else_nine_bows_in_ten(monkeypatch, kind, chance, sure):
    found = levers_of(-5)
    monkeypatch.setattr(found, "chance_right", lambda look: chance)
    assert found.sure(look_of(kind=kind)) is sure


@pytest.mark.parametrize(
    ("look", "kept"),
    [(look_of(-2, spec=named(point="P125")), True), (look_of(-2, spec=named(length=29), kind="cut", amount=-1.0), False),
     (look_of(-2, spec=named(point="P125"), buy=("P125",)), False)],
)  # fmt: skip
def test_what_may_go_either_way_must_cost_neither_money_nor_length(monkeypatch, look, kept):
    found = levers_of(-5, -5)
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    monkeypatch.setattr(found, "sure", lambda look: False)
    assert found.judged([look]) == ([look] if kept else [])
    monkeypatch.setattr(found, "sure", lambda look: True)
    assert found.judged([look]) == [look]


def test_the_best_is_the_likeliest_and_of_equals_to_a_hundredth_the_smaller_change(monkeypatch):
    found = levers_of(-5, -5)
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    looks = [
        look_of(-2, spec=named(point=f"P{gr}"), inside=inside, amount=gr - 175.0)
        for gr, inside in ((100, 0.504), (125, 0.496), (200, 0.51), (250, 0.6))
    ]
    assert [o.idea.spec.point for o in found.judged(looks)] == ["P250", "P200", "P125", "P100"]
    beyond = look_of(5 + WITHIN, spec=named(point="P125"))
    assert found.judged([beyond]) == []
    assert found.judged([beyond], overshoot=True) == [beyond]


@pytest.mark.parametrize(("inside", "offered"), [(0.9, True), (0.5, True), (0.49, False)])
def test_no_change_makes_it_less_likely_inside_than_it_is(monkeypatch, inside, offered):
    """Two bad ends of an arrow that all the rest speaks for are no reason to leave it."""
    found = levers_of(-5, -5, draws=np.where(np.arange(DRAWS) % 2, -1.0, -4.0))
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    look = look_of(-2, spec=named(point="P125"), inside=inside)
    assert found.judged([look]) == ([look] if offered else [])
    assert found.judged([look], overshoot=True) == ([look] if offered else [])


@pytest.mark.parametrize(
    ("per_lb", "inside", "middle", "named_"),
    [(10.1, 0.6, -2, True), (10.1, 0.3, -2, True), (10.1, 0.29, -2, False), (9.9, 0.6, -2, False),
     (7.9, 0.6, -2, False), (10.1, 0.6, -7, False)],
)  # fmt: skip
def test_a_point_in_hand_that_is_only_too_heavy_is_known(
    monkeypatch, per_lb, inside, middle, named_
):
    """Practice asks for 8 to 10 gr/lb; a shaft to be bought is inside with 60 in 100."""
    found = levers_of(-5, -5)
    look = look_of(middle, spec=named(point="P125"), per_lb=per_lb, inside=inside)
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas: [look])
    bought = look_of(-1, kind="buy", inside=0.6)
    assert found.only_too_heavy(bought) is (look if named_ else None)


# ---------------------------------------------------------------- points and what is on the bow


def test_the_spring_is_told_before_the_side_and_the_best_of_each_first(monkeypatch):
    found = levers_of(-5)
    monkeypatch.setattr(found, "on_the_bow", lambda: ["turn"])
    monkeypatch.setattr(found, "side", lambda: ["move"])
    monkeypatch.setattr(found, "points", lambda: ["point"])
    monkeypatch.setattr(found, "judged", lambda ideas: [*ideas, "more"])
    assert found.on_bow == ["turn", "more", "move", "more"]
    assert found.points_in_hand == ["point", "more"]


def test_no_heavier_is_what_adds_nothing_up_front():
    found = levers_of(5)
    same, light, heavy = (
        look_of(),
        look_of(spec=named(point="P125")),
        look_of(spec=named(point="P200")),
    )
    found.__dict__["points_in_hand"] = [heavy, same, light]
    assert found.no_heavier == [same, light]
    grain = named(point="P145", insert="I60")  # five grains more
    found.__dict__["points_in_hand"] = [look_of(spec=grain)]
    assert found.no_heavier == []
    by_numbers = levers_of(5, spec=numbered(front=200.0))
    by_numbers.__dict__["points_in_hand"] = [look_of(spec=numbered(front=200.05))]
    assert by_numbers.no_heavier == []


def parts(found, owned=True):
    return {(i.kind, i.spec.point, i.spec.insert, i.amount, i.buy) for i in found.points(owned)}


def test_points_and_inserts_are_changed_one_at_a_time_by_what_they_weigh():
    stock = owning(MARSH_500=1, P175=6, P125=1, P200=0, I25=4, I100=3, I12=0)
    found = levers_of(-5, stock=stock)
    assert parts(found) == {
        ("point", "P125", "I25", -50.0, ()),
        ("insert", "P175", "I100", 75.0, ()),
    }
    assert {id(i.rig) for i in found.points()} == {id(found.rig)}
    bought = parts(found, owned=False)
    assert ("point", "P200", "I25", 25.0, (Buy("P200", 1),)) in bought
    assert ("insert", "P175", "I12", -13.0, (Buy("I12", 1),)) in bought
    assert not any(p in ("P125", "P175") for kind, p, *_ in bought if kind == "point")


def test_a_broadhead_is_changed_for_another_and_told_as_a_point():
    spec = spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B175", insert="I25")
    found = levers_of(-5, spec=spec, stock=owning(MARSH_500=1, B150=3, P125=0, P175=0, I100=0))
    (idea,) = found.points()
    assert (idea.kind, idea.spec.broadhead, idea.spec.point, idea.amount) == (
        "point",
        "B150",
        None,
        -25,
    )


def test_of_an_arrow_that_is_gone_no_point_is_changed():
    assert list(levers_of(-5, spec=named("MARSH-400")).points()) == []
    assert (
        list(
            levers_of(
                -5, stock=None, where=where_of(stock=None), spec=numbered(front=30.0)
            ).points()
        )
        != []
    )


@pytest.mark.parametrize(
    ("front", "amounts"),
    [(200.0, [25, 50, 75, 100, -25, -50, -75, -100]), (115.0, [25, 50, 75, 100, -25, -50, -75]),
     (114.0, [25, 50, 75, 100, -25, -50]), (40.0, [25, 50, 75, 100])],
)  # fmt: skip
def test_by_numbers_the_front_moves_by_steps_of_25_grains_never_under_40(front, amounts):
    ideas = list(levers_of(-5, spec=numbered(front=front)).points())
    assert [i.amount for i in ideas] == amounts
    assert [i.spec.front_gr for i in ideas] == [front + a for a in amounts]
    assert {i.kind for i in ideas} == {"point"}


PLUNGER = {"rest": "plunger", "plate": None}


def test_a_plunger_nobody_described_is_turned_from_the_usual():
    """Two turns are usual."""
    from shaftwright.resources import usual

    found = levers_of(-5, rig=rig_with(**PLUNGER))
    ideas = list(found.on_the_bow())
    assert [i.rig.bow.plunger.turns - usual("plunger_turns") for i in ideas] == [0.5, 1.0]
    assert [i.amount for i in ideas] == [0.5, 1.0]
    from_one = levers_of(5, rig=rig_with(**PLUNGER, plunger={"turns": 1, "out": 0.0625}))
    assert [i.rig.bow.plunger.turns for i in from_one.on_the_bow()] == [0.5, 0]
    assert [i.rig.bow.plunger.out_in for i in from_one.on_the_bow()] == [0.0625] * 2


def test_only_a_shelf_with_a_plate_has_a_plate_to_change():
    plate = {"thickness": 0.125, "material": "leather"}
    assert len(list(levers_of(-5, rig=rig_with(plate=plate)).on_the_bow())) == 2
    assert list(levers_of(-5, rig=rig_with(rest="elevated", plate=plate)).on_the_bow()) == []
    assert list(levers_of(-5, rig=rig_with(plate=None)).on_the_bow()) == []
    (one,) = levers_of(
        5, rig=rig_with(plate={"thickness": 0.0625, "material": "leather"})
    ).on_the_bow()
    assert (one.rig.bow.plate.thickness_in, one.rig.bow.plate.material, one.amount) == (
        0.03125,
        "leather",
        -0.03125,
    )


@pytest.mark.parametrize(("out", "steps"), [(0.0625, 2), (0.03125, 1), (0.0, 0)])
def test_a_plunger_never_brings_the_arrows_middle_inside_the_strings_line(out, steps):
    found = levers_of(5, rig=rig_with(**PLUNGER, plunger={"turns": 2, "out": out}))
    ideas = list(found.side())
    assert [i.amount for i in ideas] == [-0.03125, -0.0625][:steps]
    assert [i.rig.bow.plunger.out_in for i in ideas] == [out + i.amount for i in ideas]
    assert {i.kind for i in ideas} <= {"plunger"}
    weak = levers_of(-5, rig=rig_with(**PLUNGER, plunger={"turns": 2, "out": out}))
    assert len(list(weak.side())) == 2


def test_what_is_no_plunger_has_no_side_to_move():
    assert list(levers_of(-5).side()) == []


# ---------------------------------------------------------------- the cut


def cutting(
    monkeypatch, off, length, *, over=(), bad=(), middle=-1.0, enough=1.0, spec=None, **more
):
    """Which lengths are thought of, and which is taken; `over` are those that may well go too far."""

    def make(idea):
        draws = (
            [WITHIN + 1] * 11 + [0.0] * 89
            if idea.spec.length_in in over
            else [WITHIN + 1] * 10 + [0.0] * 90
        )
        if idea.spec.length_in == SHORTEST:
            draws = [0.0] * round(100 * enough) + [-9.0] * round(100 - 100 * enough)
        return as_told(idea, middle, draws=draws, long=idea.spec.length_in not in bad)

    asked = faked(monkeypatch, make)
    found = levers_of(off, off, spec=spec or named(length=length), **more)
    monkeypatch.setattr(found, "sure", lambda look: True)
    cut = found.cut
    return [i.spec.length_in for i in asked[1:]], None if cut is None else cut.length_in


@pytest.mark.parametrize(
    ("off", "length", "thought_of"),
    [
        (-FAR - 0.1, 31, [30.5, 30, 29.5]), (-FAR, 31, [30.75, 30.5, 30.25]), (-3.1, 31, [30.75, 30.5, 30.25]),
        (-3.0, 31, [30.875, 30.75, 30.625]), (-9, 29.25, [28.75, 28.25]), (-9, 28.75, [28.25]), (-9, 28.5, [28.25]),
        (-9, 28.65, [28.4]), (-9, 28.375, [28.25]), (-9, 28.3125, []), (-9, 28.25, []), (-9, 28, []),
    ],
)  # fmt: skip
def test_half_an_inch_at_a_time_far_off_a_quarter_nearer_an_eighth_near(
    monkeypatch, off, length, thought_of
):
    """Three steps at most, halved rather than come out too short."""
    asked, taken = cutting(monkeypatch, off, length)
    assert asked == pytest.approx(thought_of)
    assert taken == (None if not thought_of else pytest.approx(thought_of[-1]))


def test_a_cut_is_as_deep_as_hardly_ever_goes_too_far_and_one_step_at_the_least(monkeypatch):
    assert cutting(monkeypatch, -9, 31)[1] == 29.5
    assert cutting(monkeypatch, -9, 31, over=(29.5,))[1] == 30
    assert cutting(monkeypatch, -9, 31, over=(29.5, 30))[1] == 30.5
    assert cutting(monkeypatch, -9, 31, over=(29.5, 30, 30.5))[1] == 30.5
    assert OVER == 0.1


def test_a_cut_is_judged_like_every_other_lever(monkeypatch):
    assert cutting(monkeypatch, -9, 31, middle=-9.5)[1] is None
    assert cutting(monkeypatch, -9, 31, middle=9 + WITHIN)[1] is None
    assert cutting(monkeypatch, -9, 31, bad=(29.5,))[1] == 30


@pytest.mark.parametrize(
    ("enough", "cut"), [(setting("plan.hopeless_cut_chance"), 29.5), (0.09, None)]
)
def test_where_hardly_any_cut_would_do_nothing_is_cut(monkeypatch, enough, cut):
    """Less than one chance in ten that the shortest safe length is stiff enough."""
    assert cutting(monkeypatch, -9, 31, enough=enough)[1] == cut


def test_enough_is_up_to_what_counts_as_straight(monkeypatch):
    found = levers_of(-9, -9)
    faked(monkeypatch, lambda idea: as_told(idea, draws=[-WITHIN] * 10))
    assert not found._hopeless()
    faked(monkeypatch, lambda idea: as_told(idea, draws=[-WITHIN - 0.1] * 10))
    assert found._hopeless()


def test_the_shortest_is_asked_about_as_a_cut_of_so_much(monkeypatch):
    found = levers_of(-9, -9)
    asked = faked(monkeypatch, lambda idea: as_told(idea, draws=[0.0]))
    found._hopeless()
    assert [(i.kind, i.spec.length_in, i.amount) for i in asked] == [
        ("cut", SHORTEST, SHORTEST - 30)
    ]


def test_what_is_stiff_or_gone_or_away_from_the_saw_is_not_cut(monkeypatch):
    assert cutting(monkeypatch, 9, 31)[1] is None
    assert cutting(monkeypatch, -9, 31, spec=named("MARSH-400", 31))[1] is None
    assert cutting(monkeypatch, -9, 31, spec=numbered(length=31))[1] == 29.5
    away = where_of()
    object.__setattr__(away.scenario, "along", frozenset({"MARSH-500"}))
    assert levers_of(-9, -9, where=away).cut is None


def test_a_cut_says_how_much_comes_off(monkeypatch):
    faked(monkeypatch, lambda idea: as_told(idea, -1.0))
    cut = levers_of(-9, -9, spec=named(length=31)).cut
    assert (cut.idea.kind, cut.idea.amount, cut.idea.base is not None) == ("cut", -1.5, True)


# ---------------------------------------------------------------- one setting or two


def sideways(plate=None, **plunger):
    rest = {"rest": "plunger"} if plunger else {}
    told = None if plate is None else {"thickness": plate, "material": "leather"}
    rig = rig_with(plate=told, **rest, **({"plunger": plunger} if plunger else {}))
    return levers._sideways_setting(rig)


def test_settings_to_a_sixty_fourth_and_a_hundredth_of_a_turn_are_one():
    assert sideways(0.0625) == sideways(0.07) != sideways(0.09375)
    assert sideways(turns=2.5) == sideways(turns=2.504) != sideways(turns=2.51)
    assert (
        sideways(turns=2, out=0.0625)
        == sideways(turns=2, out=0.07)
        != sideways(turns=2, out=0.03125)
    )
    assert (
        sideways(turns=2, moved=0.0625)
        == sideways(turns=2, moved=0.07)
        != sideways(turns=2, moved=0.03125)
    )
    assert sideways(turns=2, moved=0) == sideways(turns=2) != sideways(turns=2, moved=0.09375)
    assert sideways(0.0625) != sideways()


def test_a_spring_nobody_described_stands_at_the_usual_turns():
    from shaftwright.resources import usual

    assert sideways(spring="medium") == sideways(turns=usual("plunger_turns")) == sideways()
    assert Plunger().turns is None
