"""Nothing shot yet: the bow set up and weighed, a kit bought, and which of the shafts in hand is shot first."""

from types import SimpleNamespace as Some

import numpy as np
import pytest
from plan_ends import EXAMPLE, change, end, entry, owning, rig_with
from plan_fakes import ONE, arrow_of, look_of, named, where_of

from shaftwright.answers.arrows.pieces import InHand, Piece
from shaftwright.answers.plan import start
from shaftwright.answers.plan.result import Buy
from shaftwright.answers.plan.steps import BUTT, FLEX, Where
from shaftwright.answers.scenario import scenario
from shaftwright.answers.shop import kit
from shaftwright.errors import TooMany
from shaftwright.parameters import setting
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock

LIMIT = setting("matching.far_too_weak_chance") / setting("plan.weak_care_times")
SURE = setting("diagnosis.sure_side_chance")


def rig_of(hand="right", **bow):
    """The example's bow with some of it not known."""
    data = EXAMPLE.model_dump(by_alias=True, exclude_none=True, mode="json")
    data["archer"]["hand"] = hand
    data["bow"] |= bow
    data["bow"] = {k: v for k, v in data["bow"].items() if v is not None}
    return Rig.model_validate(data)


# ---------------------------------------------------------------- set up


def test_a_bow_that_is_described_is_not_set_up():
    assert start.set_up(where_of()) is None


@pytest.mark.parametrize(
    ("rig", "wanted"),
    [
        (rig_of(nocking_point=None), "nocking point 3/8 to 1/2 in above square"),
        (rig_of(brace_height="unknown"), "brace height 7 to 8 1/2 in (the bow maker's range first)"),
        (rig_of("unknown"), "the hand that draws, right or left"),
        (rig_of("unknown", brace_height="unknown", nocking_point=None),
         "brace height 7 to 8 1/2 in (the bow maker's range first), nocking point 3/8 to 1/2 in above square, "
         "the hand that draws, right or left"),
    ],
)  # fmt: skip
def test_only_what_is_not_known_is_asked_for_with_where_to_begin(rig, wanted):
    """Common practice, no source: recurve 7 to 8 1/2 in, split fingers 3/8 to 1/2 in above square."""
    step = start.set_up(where_of(rig=rig))
    assert (step.stage, step.kind, step.cautions) == ("set_up", "set_up", (start.OWN_DRAW,))
    assert step.do == f"Set the bow up and write it into rig.yaml: {wanted}."
    assert step.why.startswith("Every later step rests on them. ")


# ---------------------------------------------------------------- weigh it

MARKED = {"draw_weight": {"lb": 45, "at": 28}}


@pytest.fixture
def no_kit(monkeypatch):
    def none(of):
        raise kit.NoneFair("no shaft has a fair chance", False, "look for spines 400 to 500")

    monkeypatch.setattr(kit, "kit_for", none)


def unfair(where, *fair):
    where.__dict__["makeable"] = Some(fair=fair, far_too_weak=lambda pieces: [])
    return where


def test_a_bow_known_by_its_mark_alone_is_weighed(no_kit):
    step = start.measure(unfair(where_of(rig=rig_of(**MARKED))))
    assert (step.stage, step.kind) == ("measure", "measure")
    assert step.do == (
        "Weigh the bow at your own draw of 27 3/4 in, and write it into rig.yaml: draw_weight: {lb: .., at: own_draw}."
    )
    assert step.then == (
        "Without a scale: write draw_weight: {lb: 45, at: 28 in, no_scale: true}, and next names the shafts to test."
    )


def test_without_a_scale_the_kit_is_named(monkeypatch):
    monkeypatch.setattr(start, "_kit", lambda where: Some(do="Buy a kit."))
    step = start.measure(unfair(where_of(rig=rig_of(draw_weight={"lb": 45.5, "at": 27.75}))))
    assert step.then == (
        "Without a scale: write draw_weight: {lb: 45.5, at: 27 3/4 in, no_scale: true}, then: Buy a kit."
    )


@pytest.mark.parametrize(
    "weight",
    [{"lb": 47, "at": "own_draw"}, MARKED["draw_weight"] | {"no_scale": True},
     {"curve": [[7.5, 0], [15, 20], [22, 36], [28, 47]]}],
)  # fmt: skip
def test_a_bow_that_was_weighed_or_has_no_scale_is_not_weighed(no_kit, weight):
    assert start.measure(unfair(where_of(rig=rig_of(draw_weight=weight)))) is None


def test_what_was_shot_or_has_a_fair_chance_comes_before_the_scale(no_kit):
    rig = rig_of(**MARKED)
    assert start.measure(unfair(where_of(arrow_of(0, period=1), rig=rig))) is None
    assert start.measure(unfair(where_of(rig=rig), "a piece")) is None


# ---------------------------------------------------------------- the kit


def shaft(item="MARSH-500", quantity=1, **more):
    told = {"length_in": 32.0, "point": "P175", "insert": "I25", "cut_first": False, "longer_is": None, "packs": quantity,
            "pack": 1, "in_hand": 0, "full_length_in": 32.0}  # fmt: skip
    return Some(item=item, quantity=quantity, **(told | more))


def part(item, kind="point", mass=175.0, packs=1, pack=6, in_hand=0):
    return Some(item=item, kind=kind, mass_gr=mass, packs=packs, pack=pack, in_hand=in_hand)


def kit_told(monkeypatch, where=None, why="", weak=(), **more):
    told = {"shafts": (shaft(), shaft("MARSH-400", 2)), "parts": (part("P175"),), "first_point": "P175", "price": 28.5,
            "chance": 0.913, "asked": 0.9, "heavier": "", "to_buy": (("MARSH-500", 1), ("MARSH-400", 2))}  # fmt: skip
    monkeypatch.setattr(kit, "kit_for", lambda of: Some(**(told | more)))
    where = where or where_of()
    where.__dict__["makeable"] = Some(fair=(), far_too_weak=lambda pieces: list(weak))
    return start.buy_kit(where, why)


def test_a_kit_names_price_shafts_and_points(monkeypatch):
    step = kit_told(monkeypatch)
    assert (step.stage, step.kind, step.cautions) == ("test_shafts", "buy", (start.FIT,))
    assert step.do == ("Buy a test kit for 28.50: one MARSH-500, two MARSH-400, P175 points.")
    assert step.buy == (Buy("MARSH-500", 1), Buy("MARSH-400", 2))
    assert (step.shaft, step.length_in, step.point, step.insert) == ("MARSH-500", 32, "P175", "I25")
    assert step.why == (
        "Nothing you have is worth shooting from this bow yet. 91 in 100 that one of these tunes; a dozen now would "
        "be a guess."
    )
    assert step.if_not == ""


def test_a_kit_without_prices_or_points_says_nothing_of_them(monkeypatch):
    step = kit_told(monkeypatch, price=None, parts=(part("N246", "nock"),))
    assert step.do == "Buy a test kit: one MARSH-500, two MARSH-400."


def test_what_is_in_hand_of_a_kit_is_not_bought(monkeypatch):
    step = kit_told(monkeypatch, shafts=(shaft(quantity=0), shaft("MARSH-400", 3)))
    assert "kit for 28.50: three MARSH-400, P175" in step.do


def test_the_first_point_is_named_first(monkeypatch):
    points = (part("P125"), part("P200"), part("P100"), part("P175"))
    step = kit_told(monkeypatch, parts=points)
    assert ", P175, P100, P125 and P200 points." in step.do


def test_without_a_stock_of_ones_own_points_are_told_by_weight(monkeypatch):
    step = kit_told(monkeypatch, where_of(stock=None))
    assert ", 175 gr points." in step.do
    assert step.note is None


def test_the_line_to_type_counts_what_there_will_be(monkeypatch):
    parts = (part("P175", packs=1, pack=6, in_hand=2), part("I25", "insert", packs=0))
    step = kit_told(monkeypatch, shafts=(shaft(), shaft("A B", 2)), parts=parts)
    assert step.note == "shaftwright note have MARSH-500 2 'A B' 2 P175 8"
    none = kit_told(monkeypatch, shafts=(shaft(quantity=0),), parts=())
    assert none.note is None


@pytest.mark.parametrize(
    ("pieces", "bought", "told"),
    [
        ((), {}, '"1 at 30 1/2 in"'), ((32.0,), {"quantity": 2, "packs": 1}, '"2 at 30 1/2 in"'),
        # of a box only what is tested is cut
        ((), {"quantity": 2, "packs": 1, "pack": 6}, '"4 at 32 in" MARSH-500 "2 at 30 1/2 in"'),
        ((26.0, 26.0), {}, '"1 at 30 1/2 in" MARSH-500 "2 at 26 in"'),
        # a count by itself is of shafts as long as they come
        ((26.0, 26.0), {"cut_first": False}, '"1 at 32 in" MARSH-500 "2 at 26 in"'),
        ((32.0,), {"cut_first": False}, "2"),
    ],
)  # fmt: skip
def test_the_line_to_type_says_what_was_cut_first(monkeypatch, pieces, bought, told):
    """What is bought and cut is not told to be shot uncut later on; nor do short ones in hand grow."""
    where = where_of(stock=owning())
    held = tuple(Piece("MARSH-500", n, x, False) for n, x in enumerate(pieces, 1))
    where.scenario.__dict__["held"] = InHand(where.scenario.stock, held)
    cut = shaft(**{"cut_first": True, "length_in": 30.5} | bought)
    step = kit_told(monkeypatch, where, shafts=(cut,), parts=())
    assert step.note == f"shaftwright note have MARSH-500 {told}"
    assert ("when it is cut" in step.then) is cut.cut_first


def test_shafts_in_hand_that_are_far_too_weak_are_named(monkeypatch):
    step = kit_told(monkeypatch, weak=("REED-800", "REED-900"))
    assert step.why.startswith(
        "Far too weak for this bow, not to be shot: your REED-800, REED-900. 91 in 100"
    )
    own = kit_told(monkeypatch, weak=("REED-800",), why="Own.")
    assert own.why.startswith("Own. 91 in 100")


@pytest.mark.parametrize(
    ("chance", "told"), [(0.9, ""), (0.89, "This stock reaches no more; the usual is 90 in 100.")]
)
def test_a_kit_that_reaches_less_than_the_usual_says_so(monkeypatch, chance, told):
    assert kit_told(monkeypatch, chance=chance).if_not == told


def test_a_kit_that_only_the_usual_weights_hold_back_says_so(monkeypatch):
    told = "within the usual weights the kit has 61 in 100; with heavier ones 79 in 100"
    assert kit_told(monkeypatch, chance=0.61, heavier=told).if_not == f"W{told[1:]}."


def test_what_must_be_cut_before_it_is_shot(monkeypatch):
    long = {"cut_first": True, "length_in": 30.5}
    weak = shaft(**long, longer_is="may be far too weak")
    heavy = shaft("MARSH-300", **long | {"length_in": 29.0}, longer_is="is too heavy")
    assert kit_told(monkeypatch, shafts=(weak,)).do.endswith(
        ". Cut the MARSH-500 to 30 1/2 in first: longer may be far too weak."
    )
    assert kit_told(monkeypatch, shafts=(weak, shaft(), heavy)).do.endswith(
        ". Cut the MARSH-500 to 30 1/2 in and the MARSH-300 to 29 in first: longer is too heavy or may be far too weak."
    )
    odd = kit_told(monkeypatch, shafts=(shaft(**long),)).do
    assert odd.endswith("first: longer .")


def refused(monkeypatch, error, why=""):
    def fails(of):
        raise error

    monkeypatch.setattr(kit, "kit_for", fails)
    return start.buy_kit(unfair(where_of()), why)


def test_a_shop_that_has_nothing_says_what_to_look_for(monkeypatch):
    look = "look for spines 400 to 500"
    step = refused(monkeypatch, kit.NoneFair("none here", False, look))
    assert (step.stage, step.kind, step.cautions) == ("test_shafts", "none", (start.FIT,))
    assert step.do == "Nothing in this stock suits: look for spines 400 to 500."
    assert step.why == "None here."
    assert refused(monkeypatch, kit.NoneFair("none here", True, look)).do == (
        "Nothing in this stock suits at the usual weight: look for spines 400 to 500."
    )
    assert refused(monkeypatch, kit.NoneFair("none here", False, look), "Own.").why == "Own."


def test_a_shop_too_long_to_be_searched_is_to_be_shortened(monkeypatch):
    step = refused(monkeypatch, TooMany("too many lines"))
    assert (step.kind, step.do) == (
        "none",
        "Shorten stock.csv to what you would buy, then ask again.",
    )
    assert step.why == "It is too long for a kit to be found: too many lines."


# ---------------------------------------------------------------- an old straight one


def old(*sides, length=30.0, period=1, shaft_="MARSH-500"):
    return arrow_of(*(sides or (0, 0)), period=period, spec=named(shaft_, length))


def test_what_flew_straight_before_the_change_is_shot_first_near_by():
    arrow = old()
    where = where_of(arrow, looks={arrow: look_of(1.0, inside=0.6)})
    step = start.first_end(where)
    assert (step.stage, step.kind, step.distance_yd, step.length_in) == ("tune", "shoot", 10, 30)
    assert step.do == "Shoot your old MARSH-500 bare at 10 yd first: 30 in, 175 gr point."
    assert step.why == (
        "It flew straight from the bow as it was. It should still fly nearly straight."
    )
    assert step.then == "Straight or nearly so: shoot it at 20 yd next."


@pytest.mark.parametrize(
    ("entries", "material", "brace", "allowed"),
    [((end(), change("string")), "low_stretch", True, True), ((end(), change("string")), "polyester", True, False),
     ((change("string"), end()), "low_stretch", False, False), ((end(), change("plate")), "low_stretch", False, False)],
)  # fmt: skip
def test_a_new_string_is_measured_and_a_low_stretch_one_must_be_allowed(
    entries, material, brace, allowed
):
    arrow = old()
    rig = rig_with()
    rig = rig.model_copy(update={"string": rig.string.model_copy(update={"material": material})})
    where = where_of(arrow, looks={arrow: look_of(1.0, inside=0.6)}, entries=entries, rig=rig)
    step = start.first_end(where)
    assert ("measure the brace height" in step.why) is brace
    assert any("only if the bow maker allows it" in c for c in step.cautions) is allowed
    assert step.cautions[-1] == FLEX
    assert (BUTT in step.cautions) is not allowed


@pytest.mark.parametrize(
    ("entries", "asked"),
    [((end(), change("string")), True),
     ((end(), change("string"), entry({"kind": "brace", "brace": 7.5})), False),
     ((end(), change("string"), change("brace", brace=7.5)), False),
     ((end(), change("string", brace=7.5)), False),
     ((end(), entry({"kind": "brace", "brace": 7.5}), change("string")), True)],
)  # fmt: skip
def test_a_brace_height_noted_since_the_new_string_is_not_asked_for_again(entries, asked):
    arrow = old()
    step = start.first_end(
        where_of(arrow, looks={arrow: look_of(1.0, inside=0.6)}, entries=entries)
    )
    assert ("measure the brace height" in step.why) is asked


def picked(*arrows, looks=None, stock=ONE):
    return start._old_straight(where_of(*arrows, looks=looks, stock=stock))


def test_of_old_straight_ones_the_latest_bow_then_the_nearest_now():
    one, two = old(length=30), old(length=29)
    assert picked(one, two, looks={one: look_of(-3.0), two: look_of(2.0)}) is two
    assert picked(one, two, looks={one: look_of(2.0), two: look_of(-3.0)}) is one
    assert picked(one, two, looks={one: look_of(2.0), two: look_of(2.0)}) is two  # by name
    earlier = old(length=29, period=2)
    assert picked(earlier, one, looks={one: look_of(3.0), earlier: look_of(0.0)}) is one


def test_it_must_have_flown_be_there_and_be_safe_now():
    assert picked(old(5, 5)) is None
    assert picked(old(period=0)) is None
    assert picked(old(shaft_="MARSH-400"), stock=ONE) is None
    unsafe = old()
    assert picked(unsafe, looks={unsafe: look_of(long=False)}) is None


@pytest.mark.parametrize(
    ("inside", "stiff", "hand", "middle", "told"),
    [
        (0.5, 0.9, "right", 9, "It should still fly nearly straight."),
        (0.49, SURE, "right", 1, "It will probably read stiff: left of the fletched."),
        (0.49, SURE - 0.01, "right", 9, "It may read stiff: left of the fletched."),
        (0.49, SURE - 0.01, "right", 1, "It may still fly straight, or lie off to either side."),
        (0.49, SURE - 0.01, "right", -1, "It may still fly straight, or lie off to either side."),
        (0.49, 1 - SURE, "right", 1, "It will probably read weak: right of the fletched."),
        (0.49, 0.5, "right", 9, "It may read stiff: left of the fletched."),
        (0.49, 0.49, "left", -9, "It may read weak: left of the fletched."),
        (0.49, 1.0, "left", 9, "It will probably read stiff: right of the fletched."),
    ],
)  # fmt: skip
def test_what_it_will_probably_do_now(inside, stiff, hand, middle, told):
    draws = [1.0] * round(1000 * stiff) + [-1.0] * round(1000 - 1000 * stiff)
    look = look_of(inside=inside, draws=draws, middle=middle)
    assert start._probably(where_of(hand=hand), look) == told


def test_exactly_matched_is_not_stiff():
    assert "weak" in start._probably(where_of(), look_of(inside=0.4, draws=np.zeros(10), middle=9))


# ---------------------------------------------------------------- the first of what is in hand


def piece(shaft_="MARSH-500", length=32.0, number=1, shot=False):
    return Piece(shaft_, number, length, shot)


def first(ready, chances=None, fair=None, weak=(), hand="right"):
    """The first end of what may be shot as it is."""
    where = where_of(stock=owning(MARSH_500=1, MARSH_400=1, MARSH_600=1), hand=hand)
    fair = tuple(dict.fromkeys(o.idea.piece for o in ready)) if fair is None else fair
    where.__dict__["makeable"] = Some(
        fair=fair, ready=lambda pieces: ready, far_too_weak=lambda pieces: list(weak) if all(not p.shot for p in pieces) else ["shot"],
        chance=lambda look: (chances or {}).get(look.idea.spec.shaft, 0.5),
    )  # fmt: skip
    return start.first_end(where)


def as_it_is(
    shaft_="MARSH-500",
    weak=0.0,
    point="P175",
    insert="I25",
    buy=(),
    length=32.0,
    inside=0.5,
    middle=0.0,
):
    return look_of(middle, spec=named(shaft_, length, point, insert), piece=piece(shaft_, length), weak=weak, kind="shaft",
                   buy=tuple(Buy(b, 1) for b in buy), inside=inside)  # fmt: skip


def test_the_first_bare_shafts_are_shot_near_by():
    step = first([as_it_is(middle=2.0)], {"MARSH-500": 0.624})
    assert (step.stage, step.kind, step.distance_yd, step.piece) == ("tune", "shoot", 10, 1)
    assert step.do == "Shoot a bare MARSH-500 at 10 yd: 32 in, 175 gr point, 3 fletched and 3 bare."
    assert step.why == "62 in 100 that some cut or point of it suits this bow. Insert: I25."
    assert step.then == "Near the fletched ones: the same at 20 yd next."
    # eight inches at twenty yards are four at ten
    assert step.if_not.startswith("More than 4 in off, or sideways in the butt:")
    # straight at 1 in to the left: weak by two inches at twenty yards
    assert step.expect.low_in < -1 < step.expect.high_in


def test_it_does_not_stop_where_the_bare_ones_should_land():
    """Expected more than 4 in aside at ten yards: that is no reason to stop, marks are looked for."""
    for middle in (-16.0, 16.0):
        step = first([as_it_is(middle=middle)])
        assert max(-step.expect.low_in, step.expect.high_in) > 4
        assert step.if_not == (
            "More than 4 in off: look for marks on the plate. Sideways in the butt: stop."
        )


def test_how_far_off_is_too_far_grows_with_the_distance(monkeypatch):
    """Eight inches at twenty yards are 4.8 at twelve: told to half an inch."""
    monkeypatch.setattr(Where, "near_yd", 12)
    assert first([as_it_is()]).if_not.startswith("More than 5 in off,")


def test_a_certainty_is_told_as_over_99_in_100():
    assert first([as_it_is(insert=None)], {"MARSH-500": 1.0}).why == (
        "Over 99 in 100 that some cut or point of it suits this bow."
    )


def test_the_likeliest_of_several_is_shot_first():
    ready = [as_it_is("MARSH-500"), as_it_is("MARSH-400")]
    step = first(ready, {"MARSH-500": 0.7, "MARSH-400": 0.5})
    assert step.shaft == "MARSH-500"
    assert " The likeliest of those you have." in step.why
    assert first(ready, {"MARSH-500": 0.5, "MARSH-400": 0.7}).shaft == "MARSH-400"


@pytest.mark.parametrize(("weak", "stiffest"), [(LIMIT, False), (LIMIT + 0.001, True)])
def test_where_one_may_be_too_weak_the_stiffest_is_shot_first(weak, stiffest):
    """Within a fifth of the limit it is likeliest first."""
    step = first(
        [as_it_is("MARSH-500"), as_it_is("MARSH-400", weak=weak)],
        {"MARSH-500": 0.7, "MARSH-400": 0.5},
    )
    assert step.shaft == ("MARSH-400" if stiffest else "MARSH-500")
    assert (" Stiffest first." in step.why) == stiffest


def test_where_one_cannot_be_shot_yet_the_stiffest_is_shot_first_and_it_waits():
    waiting = (piece("MARSH-600"), piece("MARSH-600", 31.0), piece("FEN-500"))
    ready = [as_it_is("MARSH-500"), as_it_is("MARSH-400")]
    fair = (*(o.idea.piece for o in ready), *waiting)
    step = first(ready, {"MARSH-500": 0.7, "MARSH-400": 0.5}, fair=fair)
    assert step.shaft == "MARSH-400"
    assert " Shot later, once cut: FEN-500, MARSH-600." in step.why


def test_what_needs_nothing_bought_comes_first_and_of_equals_the_shorter():
    ready = [as_it_is("MARSH-400", buy=("P175",)), as_it_is("MARSH-500")]
    assert first(ready, {"MARSH-500": 0.5, "MARSH-400": 0.9}).shaft == "MARSH-500"
    ready = [as_it_is(length=31.0), as_it_is(length=30.0)]
    assert first(ready).length_in == 30


def test_parts_to_buy_are_named():
    step = first([as_it_is(buy=("P175", "I25"))])
    assert step.do.startswith("With the P175 and I25 bought, shoot a bare MARSH-500 at 10 yd:")
    assert step.buy == (Buy("P175", 1), Buy("I25", 1))


def test_far_too_weak_ones_are_named():
    assert first([as_it_is()], weak=("REED-900",)).why.endswith(
        " Not to be shot, far too weak on paper: REED-900."
    )


def test_chances_alike_to_a_hundredth_are_decided_by_length():
    ready = [as_it_is("MARSH-500", length=31.0), as_it_is("MARSH-400")]
    assert first(ready, {"MARSH-500": 0.701, "MARSH-400": 0.704}).shaft == "MARSH-500"


@pytest.mark.parametrize(
    ("points", "taken"),
    [
        ([as_it_is(point="P125", inside=0.3), as_it_is(point="P200", inside=0.6)], "P200"),
        ([as_it_is(point="P125", inside=0.3), as_it_is(point="P200", inside=0.6, buy=("P200",))], "P125"),
        ([as_it_is(point="P200", inside=0.503), as_it_is(point="P125", inside=0.501)], "P125"),
        ([as_it_is(point="P200", inside=0.52), as_it_is(point="P125", inside=0.5)], "P200"),
    ],
)  # fmt: skip
def test_of_each_shaft_one_point_fewest_to_buy_then_likeliest_then_lightest(points, taken):
    for order in (points, points[::-1]):
        (found,) = start._likeliest_point(order)
        assert found.idea.spec.point == taken
    other = as_it_is("MARSH-400")
    assert len(start._likeliest_point([*points, other, as_it_is(length=30.0)])) == 3


# ---------------------------------------------------------------- nothing may be shot as it is


def nothing(monkeypatch, looks, chances=None):
    where = where_of(stock=owning(MARSH_500=1, MARSH_600=1))
    fair = (piece(), piece("MARSH-600"))
    where.__dict__["makeable"] = Some(
        fair=fair, ready=lambda pieces: [], shorter=lambda pieces: ["ideas"], far_too_weak=lambda pieces: ["REED-900"],
        chance=lambda look: (chances or {}).get(look.idea.spec.shaft, 0.5),
    )  # fmt: skip
    monkeypatch.setattr(start, "outlooks", lambda of, ideas: looks)
    monkeypatch.setattr(start, "buy_kit", lambda where, why: why)
    return start.first_end(where)


def cut(shaft_="MARSH-500", length=31.0, inside=0.5, **more):
    return look_of(
        -4.0, spec=named(shaft_, length), piece=piece(shaft_), kind="cut", inside=inside, **more
    )


def test_what_is_too_weak_as_it_came_is_cut_first(monkeypatch):
    step = nothing(monkeypatch, [cut()])
    assert (step.stage, step.kind, step.distance_yd, step.piece) == ("tune", "cut", 10, 1)
    assert (
        step.do
        == "Cut one MARSH-500 to 31 in and shoot it bare at 10 yd: 175 gr point, 3 fletched and 3 bare."
    )
    assert step.why == (
        "As long as it is now it may be far too weak for this bow; at 31 in it may be shot."
    )
    assert step.then == "Near the fletched ones: the same at 20 yd next."
    assert step.expect.low_in < 2 < step.expect.high_in


def test_of_the_likeliest_shaft_the_longest_safe_one_is_cut(monkeypatch):
    """Length cannot be put back; of one length the likeliest point."""
    both = {"MARSH-500": 0.5, "MARSH-600": 0.7}
    assert nothing(monkeypatch, [cut(), cut("MARSH-600", 30.0)], both).shaft == "MARSH-600"
    assert (
        nothing(
            monkeypatch, [cut(length=30.5), cut(length=31.0), cut(length=30.0, inside=0.9)]
        ).length_in
        == 31
    )
    alike = {"MARSH-500": 0.701, "MARSH-600": 0.704}
    assert nothing(monkeypatch, [cut("MARSH-600", 30.0), cut()], alike).shaft == "MARSH-500"
    light = look_of(
        -4.0, spec=named(length=31.0, point="P125"), piece=piece(), kind="cut", inside=0.6
    )
    assert nothing(monkeypatch, [cut(), light]).point == "P125"
    alike = look_of(
        -4.0, spec=named(length=31.0, point="P125"), piece=piece(), kind="cut", inside=0.504
    )
    assert nothing(monkeypatch, [cut(inside=0.501), alike]).point == "P175"  # to a hundredth


@pytest.mark.parametrize("look", [cut(long=False), cut(per_lb=12.0)])
def test_with_no_safe_cut_others_are_bought(monkeypatch, look):
    assert nothing(monkeypatch, [look]) == (
        "None of the shafts you have may be shot as it is: too weak or too light. "
        "Not to be shot, far too weak on paper: REED-900."
    )


def test_what_was_shot_already_is_not_called_too_weak_on_paper():
    asked = []

    def weak(pieces):
        asked.extend(pieces)
        return []

    where = where_of()
    where.__dict__["makeable"] = Some(far_too_weak=weak)
    where.scenario.__dict__["held"] = Some(pieces=(piece(), piece(number=2, shot=True)))
    assert start._not_to_be_shot(where) == ""
    assert asked == [piece()]


def test_a_left_hander_may_set_up_too():
    assert start.set_up(where_of(rig=rig_with(hand="left"))) is None


@pytest.mark.parametrize("purpose", ["practice", "hunting"])
def test_what_is_bought_for_the_first_end_is_of_the_test_kit(purpose):
    owned = owning(MARSH_400=1, MARSH_500=2)
    bare = [
        i.model_copy(update={"in_hand": 0}) if i.kind in ("point", "insert") else i
        for i in owned.items
    ]
    asked = scenario(rig_with(purpose), stock=Stock(tuple(bare), owned.name))
    then = asked.plan.next
    assert then.kind == "shoot"
    assert {b.item for b in then.buy} <= {p.item for p in kit.kit_for(asked).parts}
