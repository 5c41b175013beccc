"""Each lever by itself: what is offered, what is thrown out, and which comes first."""

from types import SimpleNamespace as Some

import pytest
from plan_ends import SHOP, owning, rig_with
from plan_fakes import ONE, WITHIN, arrow_of, look_of, named, numbered, spec_of, where_of

from shaftwright.answers.arrows.outlook import Idea
from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.plan import levers
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.result import Buy
from shaftwright.parameters import setting
from shaftwright.records.rig import Plunger
from shaftwright.records.stock import Stock

SHORTEST = 28.25  # practice: half an inch beyond a draw of 27 3/4 in
SURE = setting("plan.sure_way")
OVER = setting("plan.over_chance")
FAR = setting("plan.far_cut_in")


def of(*sides, stiff=None, now=None, stock=ONE, others=(), rig=None, where=None, **more):
    """The levers of an arrow; from the bow as it stands it should land where it did unless told."""
    arrow = arrow_of(*sides, stock=stock, **more)
    where = where or where_of(arrow, *others, stock=stock, rig=rig)
    found = Levers(where, arrow, stiff)
    found.__dict__["_now"] = now or look_of(
        arrow.off_in, spec=arrow.spec, base=arrow, build=arrow.build
    )
    return found


def faked(monkeypatch, make):
    """What ideas should do, by hand; the ideas that were asked about."""
    asked = []

    def outlooks(of, ideas, weights=None):
        asked.extend(ideas)
        return [make(idea) for idea in ideas]

    monkeypatch.setattr(levers, "outlooks", outlooks)
    return asked


def as_told(idea, middle=0.0, **more):
    """An idea with where it should land."""
    return look_of(middle, spec=idea.spec, base=idea.base, piece=idea.piece, buy=idea.buy, kind=idea.kind,
                   amount=idea.amount, rig=idea.rig, **more)  # fmt: skip


# ---------------------------------------------------------------- which side


@pytest.mark.parametrize(
    ("sides", "draws", "stiff"),
    [((5,), None, True), ((0.5,), None, True), ((-5,), None, False), ((0,), [9.0], False), ((None,), [1.0] * 51 + [-1.0] * 49, True),
     ((None,), [1.0] * 50 + [-1.0] * 50, False)],
)  # fmt: skip
def test_the_side_is_what_was_seen_else_what_is_likelier(sides, draws, stiff):
    assert of(*sides, draws=draws).stiff is stiff
    assert of(*sides, draws=draws, stiff=not stiff).stiff is not stiff


def test_tried_is_what_lay_outside_as_the_bow_stands():
    inside = arrow_of(1, spec=named(length=29))
    elsewhere = arrow_of(5, spec=named(length=28.5), setting=(("plate", "1/8 in"),))
    found = of(5, others=(inside, elsewhere))
    assert found.tried == {found.arrow.key}


# ---------------------------------------------------------------- what is thrown out


def test_what_is_unsafe_or_weighs_wrong_or_was_tried_or_goes_the_wrong_way_is_thrown_out():
    found = of(-5, -5)
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
    assert of(-5, now=look_of(-5, per_lb=own))._weights == (low, high)


@pytest.mark.parametrize(("at", "new"), [(2.5, False), (3.0, True)])
def test_a_setting_of_the_plunger_is_new_where_the_arrow_was_not_shot_at_it(at, new):
    """An arrow tried as the bow stands is new at another setting."""
    plunger = {"rest": "plunger", "plate": None}
    rig = rig_with(**plunger, plunger={"turns": 2})
    tried = arrow_of(
        5, setting=(("plunger", "2.5 turns"),), rig=rig_with(**plunger, plunger={"turns": 2.5})
    )
    other = arrow_of(5, spec=named(length=29), rig=rig_with(**plunger, plunger={"turns": 3}))
    found = of(5, 5, rig=rig, others=(tried, other))
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
    found = of(off)
    assert found._right_way(look_of(middle)) is right
    assert found._right_way(look_of(middle), overshoot=True) is anyhow


def test_a_hundredth_of_an_inch_is_no_way_at_all():
    assert not of(-5, now=look_of(0.0))._right_way(look_of(APART))
    assert not of(5, now=look_of(0.0))._right_way(look_of(-APART))


def test_the_way_is_counted_from_the_bow_as_it_is_set_now():
    found = of(-5, now=look_of(-3))
    assert not found._right_way(look_of(-4))
    assert found._right_way(look_of(-2))


@pytest.mark.parametrize("stiff", [True, False])
def test_the_chance_of_the_right_way_is_counted_draw_by_draw(stiff):
    found = of(5 if stiff else -5, now=look_of(draws=[2.0] * 10))
    way = -1 if stiff else 1
    look = look_of(draws=[2 + way * x for x in [0.5] * 7 + [-0.5, 0.0, 0.0]])
    assert found.chance_right(look) == pytest.approx(0.7)


@pytest.mark.parametrize(
    ("kind", "chance", "sure"),
    [("point", SURE, True), ("point", SURE - 0.01, False), ("cut", SURE - 0.01, False), ("plate", SURE - 0.01, False),
     ("shaft", 0.0, True), ("buy", 0.0, True)],
)  # fmt: skip
def test_another_shaft_is_sure_and_else_nine_bows_in_ten(monkeypatch, kind, chance, sure):
    found = of(-5)
    monkeypatch.setattr(found, "chance_right", lambda look: chance)
    assert found.sure(look_of(kind=kind)) is sure


@pytest.mark.parametrize(
    ("look", "kept"),
    [(look_of(-2, spec=named(point="P125")), True), (look_of(-2, spec=named(length=29), kind="cut", amount=-1.0), False),
     (look_of(-2, spec=named(point="P125"), buy=("P125",)), False)],
)  # fmt: skip
def test_what_may_go_either_way_must_cost_neither_money_nor_length(monkeypatch, look, kept):
    found = of(-5, -5)
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    monkeypatch.setattr(found, "sure", lambda look: False)
    assert found.judged([look]) == ([look] if kept else [])
    monkeypatch.setattr(found, "sure", lambda look: True)
    assert found.judged([look]) == [look]


def test_the_best_is_the_likeliest_and_of_equals_to_a_hundredth_the_smaller_change(monkeypatch):
    found = of(-5, -5)
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    looks = [
        look_of(-2, spec=named(point=f"P{gr}"), inside=inside, amount=gr - 175.0)
        for gr, inside in ((100, 0.504), (125, 0.496), (200, 0.51), (250, 0.6))
    ]
    assert [o.idea.spec.point for o in found.judged(looks)] == ["P250", "P200", "P125", "P100"]
    beyond = look_of(5 + WITHIN, spec=named(point="P125"))
    assert found.judged([beyond]) == []
    assert found.judged([beyond], overshoot=True) == [beyond]


# ---------------------------------------------------------------- points and what is on the bow


def test_the_spring_is_told_before_the_side_and_the_best_of_each_first(monkeypatch):
    found = of(-5)
    monkeypatch.setattr(found, "on_the_bow", lambda: ["turn"])
    monkeypatch.setattr(found, "side", lambda: ["move"])
    monkeypatch.setattr(found, "points", lambda: ["point"])
    monkeypatch.setattr(found, "judged", lambda ideas: [*ideas, "more"])
    assert found.on_bow == ["turn", "more", "move", "more"]
    assert found.points_in_hand == ["point", "more"]


def test_no_heavier_is_what_adds_nothing_up_front():
    found = of(5)
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
    by_numbers = of(5, spec=numbered(front=200.0))
    by_numbers.__dict__["points_in_hand"] = [look_of(spec=numbered(front=200.05))]
    assert by_numbers.no_heavier == []


def parts(found, owned=True):
    return {(i.kind, i.spec.point, i.spec.insert, i.amount, i.buy) for i in found.points(owned)}


def test_points_and_inserts_are_changed_one_at_a_time_by_what_they_weigh():
    stock = owning(MARSH_500=1, P175=6, P125=1, P200=0, I25=4, I100=3, I12=0)
    found = of(-5, stock=stock)
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
    found = of(-5, spec=spec, stock=owning(MARSH_500=1, B150=3, P125=0, P175=0, I100=0))
    (idea,) = found.points()
    assert (idea.kind, idea.spec.broadhead, idea.spec.point, idea.amount) == (
        "point",
        "B150",
        None,
        -25,
    )


def test_of_an_arrow_that_is_gone_no_point_is_changed():
    assert list(of(-5, spec=named("MARSH-400")).points()) == []
    assert (
        list(of(-5, stock=None, where=where_of(stock=None), spec=numbered(front=30.0)).points())
        != []
    )


@pytest.mark.parametrize(
    ("front", "amounts"),
    [(200.0, [25, 50, 75, 100, -25, -50, -75, -100]), (115.0, [25, 50, 75, 100, -25, -50, -75]),
     (114.0, [25, 50, 75, 100, -25, -50]), (40.0, [25, 50, 75, 100])],
)  # fmt: skip
def test_by_numbers_the_front_moves_by_steps_of_25_grains_never_under_40(front, amounts):
    ideas = list(of(-5, spec=numbered(front=front)).points())
    assert [i.amount for i in ideas] == amounts
    assert [i.spec.front_gr for i in ideas] == [front + a for a in amounts]
    assert {i.kind for i in ideas} == {"point"}


PLUNGER = {"rest": "plunger", "plate": None}


def test_a_plunger_nobody_described_is_turned_from_the_usual():
    """Two turns are usual."""
    from shaftwright.resources import usual

    found = of(-5, rig=rig_with(**PLUNGER))
    ideas = list(found.on_the_bow())
    assert [i.rig.bow.plunger.turns - usual("plunger_turns") for i in ideas] == [0.5, 1.0]
    assert [i.amount for i in ideas] == [0.5, 1.0]
    from_one = of(5, rig=rig_with(**PLUNGER, plunger={"turns": 1, "out": 0.0625}))
    assert [i.rig.bow.plunger.turns for i in from_one.on_the_bow()] == [0.5, 0]
    assert [i.rig.bow.plunger.out_in for i in from_one.on_the_bow()] == [0.0625] * 2


def test_only_a_shelf_with_a_plate_has_a_plate_to_change():
    plate = {"thickness": 0.125, "material": "leather"}
    assert len(list(of(-5, rig=rig_with(plate=plate)).on_the_bow())) == 2
    assert list(of(-5, rig=rig_with(rest="elevated", plate=plate)).on_the_bow()) == []
    assert list(of(-5, rig=rig_with(plate=None)).on_the_bow()) == []
    (one,) = of(5, rig=rig_with(plate={"thickness": 0.0625, "material": "leather"})).on_the_bow()
    assert (one.rig.bow.plate.thickness_in, one.rig.bow.plate.material, one.amount) == (
        0.03125,
        "leather",
        -0.03125,
    )


@pytest.mark.parametrize(("out", "steps"), [(0.0625, 2), (0.03125, 1), (0.0, 0)])
def test_a_plunger_never_brings_the_arrows_middle_inside_the_strings_line(out, steps):
    found = of(5, rig=rig_with(**PLUNGER, plunger={"turns": 2, "out": out}))
    ideas = list(found.side())
    assert [i.amount for i in ideas] == [-0.03125, -0.0625][:steps]
    assert [i.rig.bow.plunger.out_in for i in ideas] == [out + i.amount for i in ideas]
    assert {i.kind for i in ideas} <= {"plunger"}
    weak = of(-5, rig=rig_with(**PLUNGER, plunger={"turns": 2, "out": out}))
    assert len(list(weak.side())) == 2


def test_what_is_no_plunger_has_no_side_to_move():
    assert list(of(-5).side()) == []


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
    found = of(off, off, spec=spec or named(length=length), **more)
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
    found = of(-9, -9)
    faked(monkeypatch, lambda idea: as_told(idea, draws=[-WITHIN] * 10))
    assert not found._hopeless()
    faked(monkeypatch, lambda idea: as_told(idea, draws=[-WITHIN - 0.1] * 10))
    assert found._hopeless()


def test_the_shortest_is_asked_about_as_a_cut_of_so_much(monkeypatch):
    found = of(-9, -9)
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
    assert of(-9, -9, where=away).cut is None


def test_a_cut_says_how_much_comes_off(monkeypatch):
    faked(monkeypatch, lambda idea: as_told(idea, -1.0))
    cut = of(-9, -9, spec=named(length=31)).cut
    assert (cut.idea.kind, cut.idea.amount, cut.idea.base is not None) == ("cut", -1.5, True)


# ---------------------------------------------------------------- other shafts in hand


def piece(shaft="MARSH-400", length=32.0, number=1):
    return Piece(shaft, number, length, False)


def shaft(piece, middle=0.0, inside=0.5, buy=(), point="P175", **more):
    spec = named(piece.shaft, more.pop("length", piece.length_in), point)
    return look_of(middle, spec=spec, piece=piece, kind=more.pop("kind", "shaft"), inside=inside,
                   buy=tuple(Buy(b, 1) for b in buy), **more)  # fmt: skip


def offered(monkeypatch, off, ready, shorter=(), others=(), pieces=None):
    """What shafts in hand come to, of what they should do as they are or cut."""
    found = of(off, off, others=others)
    asked = {}

    def is_ready(new, spec):
        asked["ready"] = list(new)
        return [o for o in ready if o.idea.piece in new]

    def is_shorter(new, spec):
        asked["shorter"] = list(new)
        return [o for o in shorter if o.idea.piece in new]

    found.makeable = Some(ready=is_ready, shorter=is_shorter, pieces="all", fair="fair")
    monkeypatch.setattr(levers, "outlooks", lambda of, ideas, weights: ideas)
    monkeypatch.setattr(found, "sure", lambda look: True)
    every = list(dict.fromkeys(o.idea.piece for o in (*ready, *shorter)))
    return found.pieces(every if pieces is None else pieces), asked


STIFFER, WEAKER = piece("MARSH-400"), piece("MARSH-600")


def test_a_shaft_in_hand_must_be_on_the_side_asked_for_however_far(monkeypatch):
    stiff, weak = shaft(STIFFER, 12.0), shaft(WEAKER, -12.0)
    assert offered(monkeypatch, -5, [stiff, weak])[0] == [stiff]
    assert offered(monkeypatch, 5, [stiff, weak])[0] == [weak]


def test_what_lay_outside_is_not_shot_again_as_another_piece(monkeypatch):
    tried = arrow_of(9, spec=named("MARSH-400", 31.0))
    long = piece("MARSH-400", 31.03125)  # a sixteenth apart is one arrow
    assert offered(monkeypatch, -5, [shaft(long, 1.0)], others=(tried,))[0] == []


NEAR = setting("plan.same_length_in")


@pytest.mark.parametrize(
    ("apart", "now", "left"), [(NEAR, True, True), (NEAR - 0.01, True, False), (-NEAR + 0.01, True, False), (0.0, False, True)],
)  # fmt: skip
def test_a_piece_as_long_as_one_that_was_shot_is_that_arrow(apart, now, left):
    shot = arrow_of(9, spec=named("MARSH-400", 30.0), setting=() if now else (("plate", "1/8 in"),))
    found = of(-5, others=(shot,), where=where_of(shot))
    found.shot = (shot, arrow_of(9, spec=named("MARSH-600", 31.0)))
    assert found._not_shot([piece(length=30 + apart)]) == (
        [piece(length=30 + apart)] if left else []
    )


def test_fewest_to_buy_then_likeliest_to_a_tenth_then_the_nearest_front(monkeypatch):
    pieces = [piece("MARSH-400", 32.0 - n / 2, n) for n in range(5)]
    looks = [
        shaft(pieces[0], 1.0, 0.9, buy=("P175",)), shaft(pieces[1], 1.0, 0.54, point="P250"),
        shaft(pieces[2], 1.0, 0.46, point="P200"), shaft(pieces[3], 1.0, 0.46, point="P125"), shaft(pieces[4], 1.0, 0.6),
    ]  # fmt: skip
    found = offered(monkeypatch, -5, looks)[0]
    assert found == [looks[4], looks[2], looks[3], looks[1], looks[0]]


def cut_of(piece, middle, length=30.0, draws=None, **more):
    return shaft(
        piece,
        middle,
        kind="cut",
        length=length,
        amount=length - piece.length_in,
        draws=draws,
        **more,
    )


@pytest.mark.parametrize(("as_it_is", "cuts"), [(-FAR - 0.1, True), (-FAR, False), (None, True)])
def test_a_weaker_shaft_that_would_be_far_off_as_it_is_is_cut_a_little_first(
    monkeypatch, as_it_is, cuts
):
    long = [] if as_it_is is None else [shaft(WEAKER, as_it_is)]
    short = [cut_of(WEAKER, -1.0, inside=0.6), cut_of(WEAKER, -3.0, 30.5, inside=0.5)]
    other = piece("MARSH-700")
    found = offered(monkeypatch, 9, [*long, shaft(other, -1.0)], short)[0]
    mine = [o for o in found if o.idea.piece == WEAKER]
    assert mine == ([short[0]] if cuts else long)
    assert any(o.idea.piece == other for o in found)


def test_of_a_pieces_fronts_the_one_nearest_as_it_is_counts(monkeypatch):
    long = [shaft(WEAKER, -9.0), shaft(WEAKER, -4.0, point="P125")]
    found = offered(
        monkeypatch, 9, [*long, shaft(piece("MARSH-700"), -30.0)], [cut_of(WEAKER, -1.0)]
    )[0]
    assert [o for o in found if o.idea.piece == WEAKER] == long


def test_a_cut_weaker_shaft_may_land_as_far_out_on_its_own_side(monkeypatch):
    short = cut_of(WEAKER, -12.0)
    assert offered(monkeypatch, 9, [shaft(WEAKER, -20.0)], [short])[0] == [short]


def test_a_cut_that_may_go_too_far_is_none(monkeypatch):
    long, over = [shaft(WEAKER, -9.0)], [WITHIN + 1] * 11 + [0.0] * 89
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, draws=over)])[0] == long
    just = [WITHIN + 1] * 10 + [0.0] * 90
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, draws=just)])[0] != long


def test_a_cut_that_is_unsafe_is_none(monkeypatch):
    long = [shaft(WEAKER, -9.0)]
    assert offered(monkeypatch, 9, long, [cut_of(WEAKER, -1.0, weak=0.5)])[0] == long


def test_only_unknown_shafts_are_thought_of_shorter_and_only_for_a_stiff_arrow(monkeypatch):
    known = piece("MARSH-500")
    _, asked = offered(monkeypatch, 9, [shaft(known, -1.0), shaft(WEAKER, -1.0)])
    assert asked == {"ready": [known, WEAKER], "shorter": [WEAKER]}
    _, asked = offered(monkeypatch, -9, [shaft(STIFFER, 1.0)])
    assert asked == {"ready": [STIFFER], "shorter": []}
    elsewhere = arrow_of(9, spec=named("MARSH-600", 29.0), setting=(("plate", "1/8 in"),))
    _, asked = offered(monkeypatch, 9, [shaft(WEAKER, -1.0)], others=(elsewhere,))
    assert asked["shorter"] == [WEAKER]


def test_fair_pieces_are_those_with_a_fair_chance():
    found = of(-5)
    found.makeable = Some(fair="fair")
    found.pieces = lambda pieces: [pieces]
    assert found.fair_pieces == ["fair"]


def test_stiffer_ones_in_hand_the_nearest_first_and_nothing_to_buy_before():
    found = of(-5)
    looks = [shaft(STIFFER, -9.0), shaft(piece("MARSH-340"), 3.0), shaft(STIFFER, 1.0, buy=("P175",)), shaft(WEAKER, 0.0),
             shaft(piece("MARSH-500"), 0.0)]  # fmt: skip
    found.makeable = Some(ready=lambda pieces, like: looks, pieces=())
    assert found.stiffer_in_hand() == [looks[1], looks[0], looks[2]]


# ---------------------------------------------------------------- shafts to buy


def row(item, spine, like="MARSH-500", **more):
    return SHOP.by_name[like].model_copy(
        update={"item": item, "spine_mils": float(spine), "in_hand": 0} | more
    )


def shop(*rows):
    parts = [i for i in SHOP.items if i.kind != "shaft"]
    return Stock((row("MARSH-500", 500, in_hand=1), *rows, *parts))


def bought(side, *rows, length=30.0, held=None, looks=None):
    """The shafts thought of, in what order they are named, by hand."""
    stock = shop(*rows)
    found = of(side, side, stock=stock, spec=named(length=length))
    if held is not None:
        found.scenario.__dict__["held"] = Some(
            of=lambda item: held if item == "MARSH-500" else (), stock=stock
        )
    found._uncut = lambda shaft: [Idea(named(shaft.item, 32.0), found.rig, kind="buy")]
    found.judged = lambda ideas, overshoot: [
        look_of(spec=i.spec, kind="buy", build=found.arrow.build, **(looks or {}).get(i.spec.shaft, {})) for i in ideas if overshoot
    ]  # fmt: skip
    return [o.idea.spec.shaft for o in found.shafts_to_buy()]


SPINES = [row(f"S{n}", n) for n in (249, 250, 490, 491, 509, 510, 750, 751)]


def test_shafts_are_bought_on_the_side_asked_for_neither_the_same_nor_half_as_stiff():
    """Spines two hundredths apart are one; beyond half again or half as much nobody goes in one step."""
    assert sorted(bought(-9, *SPINES)) == ["S250", "S490"]
    assert sorted(bought(9, *SPINES)) == ["S510", "S750"]


def test_another_material_is_no_like_shaft():
    wood = row("WOOD", 400, material="wood")
    assert bought(-9, wood, row("S400", 400)) == ["S400"]


@pytest.mark.parametrize(
    ("length", "owned", "again"),
    [
        (30.0, 30.0, True),
        (31.93, 31.0, False),
        (30.0, 31.93, True),
        (31.94, 31.9, False),
        (31.9, 31.9, True),
        (30.0, 31.94, False),
        (30.0, 32.0, False),
    ],
)
def test_a_stiff_one_takes_the_same_shaft_longer_where_none_so_long_is_in_hand(
    length, owned, again
):
    held = (piece("MARSH-500", owned),)
    found = bought(9, row("S600", 600), row("OTHER", 500), length=length, held=held)
    assert found == (["S600", "MARSH-500"] if again else ["S600"])
    assert bought(-9, length=length, held=held) == []


def test_the_same_line_first_then_the_likelier_to_a_tenth_then_the_smaller_pack():
    rows = [
        row("FEN", 400, line="FEN"),
        row("A12", 400, pack=12),
        row("A1", 400),
        row("BETTER", 340, pack=12),
    ]
    looks = {
        "A12": {"inside": 0.54},
        "A1": {"inside": 0.46},
        "BETTER": {"inside": 0.6},
        "FEN": {"inside": 0.9},
    }
    assert bought(-9, *rows, looks=looks) == ["BETTER", "A1", "A12", "FEN"]


def test_a_shaft_of_no_stock_has_no_like():
    assert of(-9, stock=None, where=where_of(stock=None), spec=numbered()).shaft is None
    found = of(-9, spec=named(), where=where_of(stock=Stock()))
    assert found.shafts_to_buy() == []
    assert list(found.new_ones()) == []


def test_the_same_shaft_anew_or_its_like():
    stock = shop(row("LIKE", 500), row("STIFF", 400), row("TUBE", 500, material="aluminium"))
    found = of(-9, stock=stock)
    found._uncut = lambda shaft: [shaft.item]
    assert list(found.new_ones()) == ["MARSH-500", "LIKE"]


@pytest.mark.parametrize("side", [-9, 9])
def test_by_numbers_the_usual_spines_on_the_side_asked_for(monkeypatch, side):
    found = of(side, side, spec=numbered())
    ideas = []
    monkeypatch.setattr(found, "judged", lambda some: ideas.extend(some) or "judged")
    assert found.shafts_to_buy() == "judged"
    spines = [i.spec.spine_mils for i in ideas]
    assert spines
    assert all((s > 500) == (side > 0) for s in spines)
    assert [i.buy for i in ideas] == [(Buy(f"spine {s:.0f}", 1),) for s in spines]
    assert [i.amount for i in ideas] == spines
    assert {(i.kind, i.spec.gr_per_in, i.spec.length_in) for i in ideas} == {("buy", None, 30)}


# ---------------------------------------------------------------- as long as is safe


def uncut(
    monkeypatch, side, middles, *, rows=(), item="S400", weak=None, spec=None, stock=None, full=32.0
):
    """The new shaft as it is first shot; `middles` by length."""
    stock = stock or shop(row("S400", 400, full_length_in=full), *rows)

    def make(idea):
        length = idea.spec.length_in
        return as_told(idea, middles(length), weak=(weak or (lambda x: 0.0))(length), stock=stock)

    found = of(side, side, stock=stock, spec=spec)
    asked = faked(monkeypatch, make)
    ideas = list(found._uncut(stock.by_name[item]))
    assert len(ideas) <= 1
    return (ideas[0] if ideas else None), [i.spec.length_in for i in asked]


def test_a_new_shaft_is_shot_as_it_comes(monkeypatch):
    idea, asked = uncut(
        monkeypatch, -9, lambda x: 1.0, spec=named(nock="N246", collar="C292-14", wrap="W5")
    )
    assert asked == [32 - n / 2 for n in range(8)]  # by halves to the shortest safe one
    assert (idea.kind, idea.amount, idea.base, idea.piece) == ("buy", 0, None, None)
    assert (idea.spec.shaft, idea.spec.length_in, idea.spec.point, idea.spec.insert) == (
        "S400",
        32,
        "P175",
        "I25",
    )
    assert idea.spec.nock is idea.spec.collar is idea.spec.wrap is None
    assert idea.buy == (Buy("S400", 1),)


@pytest.mark.parametrize(
    ("full", "lengths"),
    [(28.25, [28.25]), (28.7, [28.7]), (28.2, []), (29.25, [29.25, 28.75, 28.25])],
)
def test_no_length_is_under_the_shortest_safe_one(monkeypatch, full, lengths):
    assert uncut(monkeypatch, -9, lambda x: 1.0, full=full)[1] == lengths


LIMIT = setting("matching.far_too_weak_chance")


def test_where_it_may_be_far_too_weak_so_long_it_is_cut_to_be_safe(monkeypatch):
    idea, _ = uncut(
        monkeypatch, -9, lambda x: 1.0, weak=lambda x: LIMIT + (0.01 if x > 31 else 0.0)
    )
    assert (idea.spec.length_in, idea.amount) == (31, 1)
    assert uncut(monkeypatch, -9, lambda x: 1.0, weak=lambda x: 0.5)[0] is None


def test_a_weaker_one_is_no_longer_than_leaves_it_a_few_cuts_from_straight(monkeypatch):
    """For a stiff arrow; for a weak one the stiffer shaft stays as long as it comes."""
    falling = lambda x: 28.5 - x - FAR + 1.5  # noqa: E731  straight enough from 30 in down
    assert uncut(monkeypatch, 9, falling)[0].spec.length_in == 30
    assert uncut(monkeypatch, -9, falling)[0].spec.length_in == 32


@pytest.mark.parametrize(("shortest_at", "taken"), [(-8.0, 28.5), (-9.0, 28.5), (-9.1, None)])
def test_where_none_is_so_near_the_shortest_must_at_least_be_nearer(
    monkeypatch, shortest_at, taken
):
    idea, _ = uncut(monkeypatch, 9, lambda x: shortest_at - (x - 28.5))
    assert (None if idea is None else idea.spec.length_in) == taken


def test_a_point_that_does_not_fit_is_no_arrow(monkeypatch):
    spruce = SHOP.by_name["SPRUCE-1132-45"]
    stock = Stock(
        (row("MARSH-500", 500, in_hand=1), spruce, *(i for i in SHOP.items if i.kind != "shaft"))
    )
    wood = spec_of(shaft="SPRUCE-1132-45", length_in=28.5, point="PW-1132-125")
    assert (
        uncut(monkeypatch, -9, lambda x: 1.0, item="MARSH-500", stock=stock, spec=wood)[0] is None
    )
    bare = spec_of(shaft="MARSH-500", length_in=30.0)
    assert uncut(monkeypatch, -9, lambda x: 1.0, spec=bare)[0] is None


def test_for_another_bore_the_cheapest_insert_is_bought_too(monkeypatch):
    """0.204 in: I25 is for 0.246; what is not in hand is bought with it."""
    narrow = row("NARROW", 400, inside_diameter_in=0.204)
    idea, _ = uncut(monkeypatch, -9, lambda x: 1.0, rows=(narrow,), item="NARROW")
    assert idea.spec.insert.startswith("I204-")
    assert idea.buy == (Buy("NARROW", 1), Buy(idea.spec.insert, 1))
    odd = row("ODD", 400, inside_diameter_in=0.3, outside_diameter_in=0.35)
    assert uncut(monkeypatch, -9, lambda x: 1.0, rows=(odd,), item="ODD")[0] is None


def test_a_point_that_is_not_in_hand_is_bought_with_it(monkeypatch):
    idea, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(point="P200"))
    assert idea.buy == (Buy("S400", 1), Buy("P200", 1))
    heavy, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(insert="I100"))
    assert heavy.spec.insert == "I100"  # it fits, so it stays
    plain, _ = uncut(monkeypatch, -9, lambda x: 1.0, spec=named(insert=None))
    assert plain.buy == (Buy("S400", 1),)
    heads = spec_of(shaft="MARSH-500", length_in=30.0, broadhead="B175", insert="I25")
    assert uncut(monkeypatch, -9, lambda x: 1.0, spec=heads)[0].spec.broadhead == "B175"


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
