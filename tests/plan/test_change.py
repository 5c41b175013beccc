"""One change told as a step: what to do, how far from the butt, what it costs to be wrong, the new setting and the line to type."""

import pytest
from plan_ends import owning, rig_with
from plan_fakes import ONE, WITHIN, arrow_of, end_of, look_of, named, numbered, owned, where_of

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.plan.change import Case, _on_the_bow, _told
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.result import Buy
from shaftwright.answers.plan.steps import BURR, BUTT, CUT, FLEX, TUBE
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock

PLUNGER = {"rest": "plunger", "plate": None}
MARKS_IN = setting("diagnosis.look_for_marks_in")
FURTHER_IN = setting("plan.further_off_in")
SPRUCE = named("SPRUCE-1132-45", 28.5, "PW-1132-125", None)


def case_of(*sides, hand="right", stock=ONE, where=None, stiff=None, **more):
    """An arrow whose ends lay there."""
    arrow = arrow_of(*sides, stock=stock, **more)
    found = Case(where_of(arrow, hand=hand, stock=stock), arrow, stiff)
    found.levers.__dict__["_now"] = look_of(arrow.off_in, base=arrow, spec=arrow.spec, stock=stock)
    return found


def of(case, middle=0.0, **more):
    """The same arrow, changed."""
    more.setdefault("spec", case.arrow.spec)
    return look_of(middle, **({"base": case.arrow} | more))


def unexpected(case):
    """The case, where it is of no matter where the next end should lie."""
    object.__setattr__(case.where, "expect", lambda *_: None)
    return case


def test_a_point_in_hand_that_is_only_too_heavy_is_told_beside_a_purchase(monkeypatch):
    case = unexpected(case_of(9, 9))
    heavy = of(case, spec=named(point="P250"), per_lb=11.8, inside=0.4)
    monkeypatch.setattr(Levers, "only_too_heavy", lambda self, other: heavy)
    told = "Your 250 gr point may do too (40 in 100), but makes 11.8 gr/lb."
    assert told in case.change(of(case, buy=(Buy("MARSH-600", 1),), kind="buy")).why
    assert told not in case.change(of(case)).why


# ---------------------------------------------------------------- the arrow that is off


@pytest.mark.parametrize(
    ("sides", "side"),
    [((9, 9), "stiff"), ((5, 5), "slightly stiff"), ((-9, -9), "weak"), ((-5, -5), "slightly weak"),
     ((1, 1), "a little stiff"), ((-1, -1), "a little weak"), ((-6, 8), "a little stiff")],
)  # fmt: skip
def test_the_side_it_is_off_to(sides, side):
    assert case_of(*sides).side == side


def test_a_plate_that_is_marked_makes_it_weak_whatever_it_reads():
    case = case_of(5, 5)
    assert case.stiff
    case.take_as_weak()
    assert not case.stiff
    assert case.levers.arrow is case.arrow
    assert Case(case.where, case.arrow, False).stiff is False


@pytest.mark.parametrize(
    ("side", "hand", "told"),
    [(5, "right", "To the left again: stiff,"), (5, "left", "To the right again: stiff,"),
     (-5, "right", "To the right again: weak,"), (-5, "left", "To the left again: weak,")],
)  # fmt: skip
def test_shot_again_it_says_what_either_side_means(side, hand, told):
    case = case_of(side, hand=hand)
    case.where.scenario.__dict__["held"] = owned((1, 30.0))
    again = case.again("Why.")
    assert again.if_not == f"{told} and the next step mends it."
    assert again.then == "Within 2 1/2 in: straight so far."
    assert (again.stage, again.kind, again.why, again.distance_yd) == ("tune", "shoot", "Why.", 20)


def test_shot_again_near_by_half_the_inches_count():
    again = case_of(5, within=2.4).again("Why.", 10.0)
    assert again.then == "Within 1 1/4 in: straight so far."
    assert case_of(5, within=2.4).again("Why.").then == "Within 2 1/2 in: straight so far."
    assert again.distance_yd == 10


@pytest.mark.parametrize(
    ("side", "however"),
    [
        (5.0, ", however stiff it reads"),
        (0.5, ", however stiff it reads"),
        (0.0, ""),
        (-5.0, ""),
        (None, ""),
    ],
)
def test_marks_are_looked_for_with_powder_and_two_shots_near_by(side, however):
    step = case_of(side).look_for_marks("Why.")
    assert step.do == (
        "Powder plate and shaft, shoot the MARSH-500 bare at 10 yd, look for marks: 30 in, 175 gr point."
    )
    assert (step.kind, step.bare, step.distance_yd, step.expect) == ("look_for_marks", 2, 10, None)
    assert step.if_not == f"Marks on plate or tail: it is too weak{however}."


def test_marks_are_looked_for_on_the_arrow_that_is_named():
    case = case_of(-5)
    other = arrow_of(5, spec=named(length=29))
    case.where._looks[other] = look_of(5)
    step = case.look_for_marks("Why.", other)
    assert "29 in" in step.do
    assert "however stiff" in step.if_not


# ---------------------------------------------------------------- how far from the butt


@pytest.mark.parametrize(
    ("off", "middle", "shaft", "base", "yd"),
    [
        (-5, -5 - FURTHER_IN, "MARSH-400", False, 20),
        (-5, -5 - FURTHER_IN - 0.1, "MARSH-400", False, 10),
        (-5, MARKS_IN, "MARSH-400", False, 20),
        (-5, MARKS_IN + 0.1, "MARSH-400", False, 10),
        (-5, -MARKS_IN - 0.1, "MARSH-400", False, 10),
        (-5, MARKS_IN + 0.1, "MARSH-500", False, 20),
        (-5, MARKS_IN + 0.1, "MARSH-400", True, 20),
    ],
)  # fmt: skip
def test_a_shaft_not_shot_yet_that_may_land_far_out_is_first_shot_near(
    off, middle, shaft, base, yd
):
    """Common practice, no source: the first end of an unknown shaft is shot near, for safety."""
    case = case_of(off)
    step = case.change(
        of(case, middle, spec=named(shaft), kind="shaft", base=case.arrow if base else None)
    )
    assert step.distance_yd == yd
    assert f"at {yd} yd" in step.do
    within = "2 1/2 in" if yd == 20 else "1 1/4 in"
    assert step.then == f"Within {within}: straight so far, shoot it again."


def test_a_shaft_shot_at_another_length_is_no_unknown_one():
    case = case_of(-5)
    known = arrow_of(-3, spec=named("MARSH-400", 29))
    where = where_of(case.arrow, known, stock=owning(MARSH_500=1, MARSH_400=1))
    case.where = where
    look = of(case, MARKS_IN + 0.1, spec=named("MARSH-400"), kind="shaft", base=None)
    assert case.change(look).distance_yd == 20


# ---------------------------------------------------------------- why


def test_the_reason_is_what_was_seen():
    case = case_of(-9, -9)
    told = "MARSH-500 reads weak: bare 9 in right of the fletched in two ends, no marks."
    assert case.change(of(case, -5)).why == told
    assert case.change(of(case, -5), "Own.").why == "Own."
    marked = arrow_of(ends=[end_of(-9), end_of(-9), end_of(-9, fair=False, marks="plate")])
    case = Case(where_of(marked), marked)
    of_three = "; it marked the plate in one of three ends"
    assert case.change(of(case, -5)).why == told.replace(", no marks", of_three)
    unlooked = case_of(-9, -9, marks="not_looked")
    assert unlooked.change(of(unlooked, -5)).why == told.replace(", no marks", "")


@pytest.mark.parametrize(
    ("kind", "off_in", "over", "told"),
    [("cut", 0.75, 80, "Such a cut goes too far in 80 of 100."), ("cut", 0.5, 30, ""), ("point", 0.75, 30, ""),
     ("cut", 0.75, 0, "Such a cut goes too far in 1 of 100."), ("cut", 0.75, 1, "Such a cut goes too far in 1 of 100.")],
)  # fmt: skip
def test_a_deep_cut_says_how_often_it_goes_too_far(kind, off_in, over, told):
    """More than half an inch at once."""
    case = case_of(-9, -9)
    draws = [WITHIN + 1] * over + [WITHIN] * (100 - over)
    case.levers.__dict__["_now"] = look_of(draws=[-9.0] * 100)
    step = unexpected(case).change(of(case, -1, kind=kind, amount=-off_in, draws=draws))
    assert step.why.partition("no marks.")[2].strip() == told


@pytest.mark.parametrize(
    ("contrary", "told"),
    [(80, "Which way this moves it is not sure: in 80 of 100 bows the other."), (5, ""), (10, "")],
)
def test_a_change_of_unsure_effect_is_told_so(contrary, told):
    """From one bow in ten on that goes the other way."""
    case = case_of(-9, -9)
    draws = [-10.0] * contrary + [-5.0] * (100 - contrary)
    case.levers.__dict__["_now"] = look_of(draws=[-9.0] * 100)
    look = of(case, -5, draws=draws)
    step = unexpected(case).change(look)
    assert step.why.partition("no marks.")[2].strip() == told


@pytest.mark.parametrize("contrary", [1, 0])
def test_hardly_ever_is_told_as_one_of_a_hundred(monkeypatch, contrary):
    case = unexpected(case_of(-9, -9))
    case.levers.__dict__["_now"] = look_of(draws=[-9.0] * 1000)
    monkeypatch.setattr(case.levers, "sure", lambda look: False)
    look = of(case, -5, draws=[-10.0] * contrary + [-5.0] * (1000 - contrary))
    assert "in 1 of 100 bows the other" in case.change(look).why


# ---------------------------------------------------------------- the step


def test_a_change_carries_arrow_purchase_expectation_and_cautions():
    case = case_of(-9, -9)
    piece = Piece("MARSH-500", 2, 32.0, False)
    buy = (Buy("P125", 1),)
    step = case.change(of(case, -5, spec=named(point="P125"), piece=piece, buy=buy))
    assert (step.stage, step.kind, step.point, step.piece, step.buy) == (
        "tune",
        "point",
        "P125",
        2,
        buy,
    )
    assert step.setting is None
    assert step.note == "shaftwright note bareshaft"
    assert step.cautions == (FLEX,)
    assert step.expect.low_in < 5 < step.expect.high_in  # weak lies right of a right-hander
    assert case.change(of(case, -5)).piece == 1


@pytest.mark.parametrize(("shaft", "number"), [("MARSH-500", 3), ("MARSH-400", None)])
def test_one_that_is_bought_is_none_of_those_in_hand(shaft, number):
    """Two MARSH-500 are in hand: one more is the third. Noted as the first it would have to grow."""
    case = case_of(9, 9, stock=owning(MARSH_500=2))
    look = of(case, 5, spec=named(shaft, 32.0), kind="buy", buy=(Buy(shaft, 1),))
    assert case.change(look).piece == number


def test_carbon_is_cut_wet_and_masked_and_wood_as_it_comes():
    case = case_of(-9, -9)
    assert case.change(of(case, -5, kind="cut", amount=-0.5)).cautions == (CUT, BUTT)
    stock = owning(SPRUCE_1132_45=1)
    wood = case_of(-9, -9, spec=SPRUCE, stock=stock)
    cut = wood.change(of(wood, -5, kind="cut", amount=-0.5, stock=stock))
    assert CUT not in cut.cautions
    assert cut.kind == "cut"


def test_aluminium_is_told_what_aluminium_needs():
    """No carbon dust and no flexing: a bend, a dent, a cracked end, and a burr where it was cut (common practice)."""
    items = [
        i.model_copy(update={"material": "aluminium"}) if i.item == "MARSH-500" else i
        for i in ONE.items
    ]
    stock = Stock(tuple(items), ONE.name)
    case = case_of(-9, -9, stock=stock)
    assert case.change(of(case, -5, kind="cut", amount=-0.5, stock=stock)).cautions == (BURR, BUTT)
    assert case.change(of(case, -5, kind="point", stock=stock)).cautions == (TUBE,)


@pytest.mark.parametrize(
    ("off", "middle", "kind", "marks", "told"),
    [
        (5, 4, "point", "none", "Further left than before: it was false stiff; stop and look for marks."),
        (-5, -5, "point", "none", "Still right: the next step goes further. Far left: too much."),
        (-5, -4, "point", "none", "Still right: the next step goes further. Far left: too much."),
        (-5, -4, "cut", "none", "No change at all: powder the plate and look for marks before the next cut."),
        (-5, -4, "cut", "plate", "No change at all: the nock may be tight, or the feathers touch."),
        (-5, -4, "point", "plate", "Still right: the next step goes further. Far left: too much."),
        (-5, -6, "cut", "none", "Further left than before: it was false stiff; stop and look for marks."),
    ],
)  # fmt: skip
def test_what_the_other_outcome_means(off, middle, kind, marks, told):
    """A weaker arrow that goes on to the stiff side bounces off the plate; a cut that changes nothing hides contact."""
    case = case_of(off, off, marks=marks)
    assert case._if_change_fails(of(case, middle, kind=kind)) == told


# ---------------------------------------------------------------- in one sentence


def told(look, stock=ONE, yd="20 yd", rig=None):
    return _told(where_of(stock=stock, rig=rig), look, yd)


@pytest.mark.parametrize(("owned", "twin"), [(1, ""), (2, " Keep its twin long.")])
def test_a_cut_says_how_much_comes_off_and_keeps_the_twin(owned, twin):
    stock = owning(MARSH_500=owned)
    base = arrow_of(-9, spec=named(length=30))
    look = look_of(spec=named(length=29.96875), base=base, kind="cut", amount=-0.03125)
    assert told(look, stock) == (
        "cut",
        f"Cut one MARSH-500 to 29 31/32 in, 1/32 in off, and shoot it bare at 20 yd, 175 gr point.{twin}",
    )
    other = look_of(spec=named(length=29.5), kind="cut", amount=-0.5)
    assert told(other, stock) == (
        "cut", f"Cut one MARSH-500 you have to 29 1/2 in, and shoot it bare at 20 yd: 175 gr point.{twin}",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("look", "kind", "do"),
    [
        (look_of(kind="point"), "point", "Take the 175 gr point for the MARSH-500 and shoot it bare at 20 yd: 30 in."),
        (look_of(kind="point", buy=(Buy("P175", 1),)), "point",
         "Buy the 175 gr point for the MARSH-500 and shoot it bare at 20 yd: 30 in."),
        (look_of(kind="insert"), "insert", "Take insert I25 for the MARSH-500 and shoot it bare at 20 yd: 30 in."),
        (look_of(kind="point", spec=numbered()), "point",
         "Take 200 gr up front for the spine 500 and shoot it bare at 20 yd: 30 in."),
        (look_of(kind="shaft"), "shaft", "Shoot the MARSH-500 you have, bare at 20 yd: 30 in, 175 gr point."),
        (look_of(kind="shaft", buy=(Buy("P175", 1), Buy("I25", 1))), "shaft",
         "With the P175 and I25 bought, shoot the MARSH-500 you have, bare at 20 yd: 30 in, 175 gr point."),
        (look_of(kind="buy", amount=0.0), "buy", "Buy one MARSH-500 and shoot it bare at 20 yd: 30 in, 175 gr point."),
        (look_of(kind="buy", amount=0.5), "buy",
         "Buy one MARSH-500, cut it to 30 in and shoot it bare at 20 yd: 30 in, 175 gr point."),
        (look_of(kind="buy", amount=400, spec=numbered()), "buy",
         "Buy one spine 500 and shoot it bare at 20 yd: 30 in, 200 gr up front."),
    ],
)  # fmt: skip
def test_what_to_do_in_one_sentence(look, kind, do):
    assert told(look) == (kind, do)


def plunger(amount, rig=None, **to):
    return look_of(
        kind="plunger", amount=amount, rig=rig_with(**PLUNGER, plunger=to, **(rig or {}))
    )


AT_TWO = rig_with(**PLUNGER, plunger={"turns": 2, "out": 0.0625})
UNKNOWN = rig_with(**PLUNGER)


@pytest.mark.parametrize(
    ("look", "rig", "do", "setting_told", "note"),
    [
        (look_of(kind="plate", amount=0.03125, rig=rig_with(plate={"thickness": 0.09375, "material": "leather"})), None,
         "Make the strike plate 1/32 in thicker", "plate 3/32 in", 'plate --plate "3/32 in"'),
        (look_of(kind="plate", amount=-0.03125, rig=rig_with(plate={"thickness": 0.03125, "material": "leather"})), None,
         "Make the strike plate 1/32 in thinner", "plate 1/32 in", 'plate --plate "1/32 in"'),
        (plunger(0.5, turns=2.5, out=0.0625), AT_TWO,
         "Turn the plunger's spring half a turn stiffer", "plunger 2.5 turns", "plunger --plunger-turns 2.5"),
        (plunger(-1.0, turns=1, out=0.0625), AT_TWO,
         "Turn the plunger's spring 1 turn softer", "plunger 1 turns", "plunger --plunger-turns 1"),
        (plunger(0.5, turns=2.5), UNKNOWN,
         "Turn the plunger's spring half a turn stiffer", "plunger 2.5 turns", "plunger --plunger-turns 2.5"),
        (plunger(0.03125, turns=2, out=0.09375), AT_TWO,
         "Move the plunger 1/32 in out", "plunger 3/32 in out", 'plunger --plunger-out "3/32 in"'),
        (plunger(-0.03125, turns=2, out=0.03125), AT_TWO,
         "Move the plunger 1/32 in in", "plunger 1/32 in out", 'plunger --plunger-out "1/32 in"'),
        (plunger(0.03125, moved=0.03125), UNKNOWN,
         "Move the plunger 1/32 in out", "plunger moved 1/32 in", 'plunger --plunger-moved "1/32 in"'),
    ],
)  # fmt: skip
def test_how_plate_and_plunger_are_set(look, rig, do, setting_told, note):
    *found, noted = _on_the_bow(where_of(rig=rig), look)
    assert (*found, noted["note"]) == (do, setting_told, f"shaftwright note change {note}")


def test_a_plate_is_told_as_archers_measure_it():
    """2 mm and a thirty-second of an inch, 0.79375 mm (NIST SP 811), to 1/64 in or 0.1 mm."""
    thick = {"thickness": 2 / 25.4 + 1 / 32, "material": "leather"}
    look = look_of(kind="plate", amount=1 / 32, rig=rig_with(plate=thick))
    assert _on_the_bow(where_of(), look)[1] == "plate 7/64 in"
    metric = rig_with().model_copy(update={"units": "metric"})
    do, told, note = _on_the_bow(where_of(rig=metric), look)
    assert (do, told) == ("Make the strike plate 0.8 mm thicker", "plate 2.8 mm")
    assert note["note"].endswith('plate --plate "2.8 mm"')


@pytest.mark.parametrize("kind", ["plate", "plunger"])
def test_a_setting_of_the_bow_is_told_and_noted(kind):
    case = case_of(-4, -4)
    rig = rig_with() if kind == "plate" else rig_with(**PLUNGER, plunger={"turns": 2.5})
    step = case.change(of(case, -1, kind=kind, amount=0.5, rig=rig))
    assert step.kind == kind
    assert step.setting.startswith(kind)
    assert step.note.startswith(f"shaftwright note change {kind} ")
    assert step.do.startswith(("Make the strike plate", "Turn the plunger's spring"))
    assert ", and shoot the MARSH-500 again at 20 yd: 30 in, 175 gr point." in step.do
