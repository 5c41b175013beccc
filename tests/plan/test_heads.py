"""Broadheads beside field points: bought or in hand, spun first, then height, then the bow, then another weight, then let be."""

from types import SimpleNamespace as Some

import pytest
from plan_ends import owning, rig_with
from plan_fakes import ONE, arrow_of, look_of, named, numbered, where_of

from shaftwright.answers.arrows.outlook import Idea
from shaftwright.answers.plan import heads, prove
from shaftwright.answers.plan.result import Buy
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock

BOW_ENDS, SPIN = int(setting("plan.heads_bow_ends")), int(setting("plan.spin_test_ends"))
ACCEPT = int(setting("plan.heads_accept_ends"))
STEP_GR = setting("plan.head_step_gr")
SAME_GR = setting("plan.same_front_gr")


def shot(side=6.0, up=0.0, many=1, told=True):
    """Ends of broadheads, so far from the field points; or only told to be apart."""
    return [Some(look=Some(centre=(side, up) if told else None), entry=None, line=0)] * many


def off(side=6.0, up=0.0, many=1, told=True, rig=None, others=(), given=None, hand="right"):
    arrow = arrow_of(1, 1, 1, heads=shot(side, up, many, told))
    rig = rig or rig_with("hunting", hand)
    where = where_of(arrow, *others, rig=rig, **(given or {}))
    return heads.broadheads(where, arrow)


def ready(arrow=None, stock=ONE):
    arrow = arrow or arrow_of(1, 1, 1)
    return heads.broadheads(where_of(arrow, stock=stock, purpose="hunting"), arrow)


# ---------------------------------------------------------------- the first time


def test_heads_in_hand_are_shot_fletched_beside_field_points():
    step = ready()
    assert (step.stage, step.kind, step.bare, step.expect, step.buy) == (
        "prove",
        "broadheads",
        0,
        None,
        (),
    )
    assert step.do == (
        "Shoot the 175 gr broadheads beside field points, fletched, on the MARSH-500: 30 in, 20 yd."
    )
    assert step.why == (
        "Bare shafts are proved in three ends; the last proof is the head that hunts."
    )
    assert step.note == "shaftwright note broadhead"
    assert step.cautions == (heads.HEADS,)
    assert step.then == "Within 2 1/2 in of the field points: the dozen."


def test_heads_not_in_hand_are_bought():
    step = ready(stock=owning(MARSH_500=1, B175=0))
    assert step.buy == (Buy("B175", 1),)
    assert step.do.startswith("Buy B175 and shoot the 175 gr broadheads beside field points")


def test_heads_in_hand_with_another_insert_are_named_where_that_is_cheaper(monkeypatch):
    """In hand are heads of 125 gr: with a heavier insert the front weighs what flew (50 gr on either)."""
    told = {}

    def outlooks(of, ideas):
        told["asked"] = {(i.spec.broadhead, i.spec.insert) for i in ideas}
        return [look_of(spec=i.spec, inside=told["chance"]) for i in ideas]

    monkeypatch.setattr(heads, "outlooks", outlooks)

    def why(chance, price, **counts):
        told["chance"] = chance
        stock = owning(MARSH_500=1, B175=0, **counts)
        rows = [
            i.model_copy(update={"price": price}) if i.item == "I75" else i
            for i in stock.items
            if i.kind != "insert" or i.item in ("I25", "I75")
        ]
        return ready(stock=Stock(tuple(rows), stock.name)).why

    offer = "Cheaper: B125, which you have, with I75 for 22.00 should fly as straight (90 in 100)"
    assert offer in why(0.9, 22.0, B125=3)
    assert told["asked"] == {("B125", "I75")}
    # dearer than the heads, not as likely, or none in hand
    assert "Cheaper" not in why(0.9, 500.0, B125=3)
    assert "Cheaper" not in why(setting("plan.proof_chance") - 0.01, 22.0, B125=3)
    assert "Cheaper" not in why(0.9, 22.0, B125=0)


def test_where_the_stock_has_none_they_are_told_by_weight():
    step = ready(arrow_of(1, 1, 1, spec=numbered(front=212.5)))
    assert step.do.startswith("Shoot the broadheads for 212.5 gr up front beside field points")
    assert step.buy == ()


def test_heads_that_fly_together_are_not_taken_for_apart():
    assert ready(arrow_of(1, 1, 1, heads=shot(1.0))).do.startswith("Shoot the 175 gr broadheads")


# ---------------------------------------------------------------- apart


def test_ends_of_every_setting_are_counted_and_only_of_that_arrow():
    arrow = arrow_of(1, 1, heads=shot(many=2))
    elsewhere = arrow_of(1, 1, heads=shot(many=1), setting=(("plate", "1/8 in"),))
    other = arrow_of(1, 1, heads=shot(many=4), spec=named(length=29))
    assert heads.heads_shot(where_of(arrow, elsewhere, other), arrow) == 3


def test_apart_once_the_heads_are_spun():
    """Common practice, no source: a head out of true lands apart before the tune does."""
    step = off(many=SPIN - 1)
    assert step.kind == "broadheads"
    assert step.do == (
        "Spin-test every broadhead on the MARSH-500, set the true ones, and shoot them again: 30 in, 20 yd."
    )
    assert step.note == "shaftwright note broadhead"
    assert (step.bare, step.expect, step.cautions) == (0, None, (heads.HEADS,))


def test_only_told_to_be_apart_the_hits_are_asked_for():
    arrow = arrow_of(1, 1, 1, heads=shot(many=SPIN, told=False))
    step = heads._heads_off(where_of(arrow, purpose="hunting"), arrow)
    assert step.do == (
        "Shoot the broadheads beside field points once more on the MARSH-500, and note every hit: 30 in, 20 yd."
    )
    assert step.note == 'shaftwright note broadhead --fletched 0,0 --hit "3l 1h"'


@pytest.mark.parametrize(
    ("side", "up", "told"),
    [(3.0, 4.0, "True broadheads land 4 in high: the nocking point."),
     (-3.0, -4.0, "True broadheads land 4 in low: the nocking point.")],
)  # fmt: skip
def test_more_high_or_low_than_aside_is_the_nocking_point(side, up, told):
    step = off(side, up, SPIN)
    assert (step.stage, step.kind, step.why) == ("prove", "nocking_point", told)
    assert step.do.startswith("Raise" if up > 0 else "Lower")


@pytest.mark.parametrize(
    ("side", "up", "times", "tried"), [(4.0, 4.0, 0, False), (5.0, -4.0, 0, False), (3.0, 4.0, BOW_ENDS, False),
                                       (3.0, 4.0, 0, True)],
)  # fmt: skip
def test_aside_or_tried_in_height_it_is_something_else_on_the_bow(
    monkeypatch, side, up, times, tried
):
    monkeypatch.setattr(heads, "tried_by_heads", lambda where, height: tried and height == up)
    monkeypatch.setattr(
        heads.Where, "set_times", lambda where, name: times if name == "nocking_point" else 0
    )
    assert off(side, up, SPIN).kind == "plate"
    monkeypatch.setattr(heads, "tried_by_heads", lambda where, height: False)
    monkeypatch.setattr(heads.Where, "set_times", lambda where, name: BOW_ENDS - 1)
    assert off(3.0, 4.0, SPIN).kind == "nocking_point"


@pytest.mark.parametrize(
    ("side", "hand", "way", "lands"),
    [(6.0, "right", "thinner", "left"), (-6.0, "right", "thicker", "right"), (6.0, "left", "thinner", "right")],
)  # fmt: skip
def test_to_the_stiff_side_the_plate_gets_thinner_to_the_weak_thicker(side, hand, way, lands):
    """As for bare shafts: stiff in, weak out."""
    step = off(side, many=SPIN, hand=hand)
    assert (step.stage, step.kind, step.expect) == ("prove", "plate", None)
    assert step.do.startswith(f"Make the strike plate 1/32 in {way},")
    assert step.why.startswith(f"True broadheads land 6 in {lands} of the field points.")
    assert step.then == "Broadheads with the field points: the dozen."
    assert step.if_not == "Still aside: another weight of head and point comes next."


def test_hardly_aside_it_still_has_a_side(monkeypatch):
    """High, and the nocking point was tried: what is left is sideways."""
    monkeypatch.setattr(heads, "tried_by_heads", lambda where, height: True)
    assert off(0.8, 4.0, SPIN).do.startswith("Make the strike plate 1/32 in thinner,")


def test_a_plungers_spring_comes_before_its_place():
    rig = rig_with("hunting", rest="plunger", plate=None, plunger={"turns": 2, "out": 0.0625})
    assert off(many=SPIN, rig=rig).do.startswith("Turn the plunger's spring half a turn softer")


OTHER = look_of(1.0, spec=named(point="P200"), kind="point", amount=25.0)


@pytest.mark.parametrize("many", [BOW_ENDS, BOW_ENDS + 1])
def test_after_the_bow_another_weight_of_head_and_point(monkeypatch, many):
    monkeypatch.setattr(heads, "_other_heads", lambda where, arrow, side: OTHER)
    step = off(9.0, many=many)
    assert (step.stage, step.kind, step.point) == ("prove", "point", "P200")
    assert step.then == "Straight bare too: the broadheads of that weight beside it."
    assert step.if_not == "Off: back to the old heads."
    assert step.expect is not None


def test_a_bow_with_nothing_to_set_goes_on_to_the_weight(monkeypatch):
    monkeypatch.setattr(heads, "_other_heads", lambda where, arrow, side: OTHER)
    assert off(many=SPIN, rig=rig_with("hunting", plate=None)).kind == "point"


def test_with_no_other_weight_they_are_shot_once_more_then_let_be(monkeypatch):
    monkeypatch.setattr(heads, "_other_heads", lambda where, arrow, side: None)
    monkeypatch.setattr(prove, "dozen", lambda where, arrow: "dozen")
    step = off(9.0, many=2 * ACCEPT)
    assert step.kind == "broadheads"
    assert step.do.startswith(
        "Shoot the broadheads beside field points once more on the MARSH-500:"
    )
    assert step.why.endswith("of the field points. No other weight of head is left to try.")
    assert off(9.0, many=2 * ACCEPT + 1) == "dozen"


# ---------------------------------------------------------------- another weight


def weights(monkeypatch, *ideas, side=6.0, shot=(), looks=None, stock=ONE):
    """What is taken of ideas given as (point, gain, kind, in hand)."""
    made = {
        Idea(named(point=point), rig_with(), None, None, () if owned else (Buy(point, 1),), kind, float(gain)): owned
        for point, gain, kind, owned in ideas
    }  # fmt: skip
    monkeypatch.setattr(heads, "Levers", lambda where, arrow: Some(
        points=lambda owned=True: [idea for idea, has in made.items() if has == owned]))  # fmt: skip

    def outlooks(of, some):
        return [
            look_of(spec=i.spec, kind=i.kind, amount=i.amount, buy=i.buy, **(looks or {}).get(i.spec.point, {}))
            for i in some
        ]  # fmt: skip

    monkeypatch.setattr(heads, "outlooks", outlooks)
    arrow = arrow_of(1, 1, 1)
    found = heads._other_heads(where_of(arrow, *shot, stock=stock), arrow, side)
    return None if found is None else found.idea.spec.point


def point(gain, owned=True, kind="point", name=None):
    return (name or f"P{175 + gain:g}", gain, kind, owned)


def test_stiff_heads_take_a_heavier_weight_and_weak_ones_a_lighter(monkeypatch):
    """More weight up front weakens."""
    both = point(25), point(-25)
    assert weights(monkeypatch, *both) == "P200"
    assert weights(monkeypatch, *both, side=-6.0) == "P150"
    assert weights(monkeypatch, point(-25)) is None
    assert weights(monkeypatch, point(25), side=-6.0) is None
    assert weights(monkeypatch, point(25), side=0.8) == "P200"


def test_one_step_is_taken_before_two_and_never_three(monkeypatch):
    assert weights(monkeypatch, point(50), point(25)) == "P200"
    assert weights(monkeypatch, point(50)) == "P225"
    assert weights(monkeypatch, point(75)) is None
    assert weights(monkeypatch, point(24, name="P225"), point(25)) == "P200"
    assert STEP_GR == 25


def test_of_one_weight_what_is_in_hand_comes_first_then_the_name(monkeypatch):
    assert (
        weights(monkeypatch, point(25, owned=False, name="P200"), point(25, name="P225")) == "P225"
    )
    assert weights(monkeypatch, point(25, name="P225"), point(25, name="P200")) == "P200"
    assert weights(monkeypatch, point(50), point(25, owned=False)) == "P200"


def test_there_must_be_a_broadhead_of_that_weight(monkeypatch):
    """The shop has heads of 150, 175, 200, 225 and 250 gr; points of one kind differ by two grains."""
    assert weights(monkeypatch, point(37, name="P225")) is None
    assert weights(monkeypatch, point(25 + SAME_GR, name="P200")) == "P200"
    assert weights(monkeypatch, point(25 + SAME_GR + 0.1, name="P200")) is None
    assert weights(monkeypatch, point(25 - SAME_GR, name="P200")) == "P200"
    for name, taken in (("B150", "P200"), ("B200", None)):
        rest = Stock(tuple(i for i in ONE.items if i.item != name))
        assert weights(monkeypatch, point(25), stock=rest) == taken
    headless = Stock(tuple(i for i in ONE.items if i.kind != "broadhead"))
    assert weights(monkeypatch, point(25), stock=headless) is None


def test_inserts_unsafe_ones_and_what_was_shot_are_left_out(monkeypatch):
    assert weights(monkeypatch, point(25, kind="insert")) is None
    assert weights(monkeypatch, point(25), looks={"P200": {"long": False}}) is None
    assert weights(monkeypatch, point(25), looks={"P200": {"per_lb": 12.0}}) is None
    assert weights(monkeypatch, point(25), shot=[arrow_of(1, spec=named(point="P200"))]) is None


def test_without_a_stock_there_is_no_other_weight():
    arrow = arrow_of(1, 1, spec=numbered())
    where = where_of(arrow, stock=None)
    assert heads._other_heads(where, arrow, 6.0) is None


@pytest.mark.parametrize(
    ("gain", "taken"), [(2 * STEP_GR + 0.9, "P225"), (2 * STEP_GR + 1.0, None)]
)
def test_two_steps_and_a_grain_are_the_most(monkeypatch, gain, taken):
    assert weights(monkeypatch, point(gain, name="P225")) == taken


def test_a_gain_of_nothing_is_no_other_weight(monkeypatch):
    assert weights(monkeypatch, point(0.0, name="P175")) is None
    assert weights(monkeypatch, point(0.5, name="P200")) == "P200"
