"""Off to a side: which lever, in the order that costs least and can be undone, and how many ends must agree before."""

from dataclasses import replace
from types import SimpleNamespace as Some

import numpy as np
import pytest
from plan_ends import asked, change, end, owning, rig_with
from plan_fakes import DRAWS, ONE, arrow_of, end_of, look_of, named, numbered, where_of

from shaftwright.answers.plan import cut_or_buy
from shaftwright.answers.plan.change import Case
from shaftwright.inference.evidence.periods import value_told
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

PATIENT = int(setting("plan.patient_ends"))
SPRUCE = named("SPRUCE-1132-45", 28.5, "PW-1132-125", None)
PLUNGER = {"rest": "plunger", "plate": None, "plunger": {"turns": 2, "out": 0.0625}}
LOOK_FOR_MARKS = "Two changes went the wrong way: contact is likelier than the shaft."


class Told:
    """Levers that offer what they are told, and are asked for nothing else."""

    def __init__(self, stiff=False, **offers):
        self.stiff = stiff
        self.on_bow = self.points_in_hand = self.no_heavier = self.fair_pieces = ()
        self.cut, self.makeable = None, Some(pieces="all")
        self.other_pieces, self.to_buy, self.bought_points = [], [], []
        self.__dict__ |= offers

    def pieces(self, pieces):
        assert pieces == "all"
        return self.other_pieces

    def points(self, owned=True):
        return "in hand" if owned else "to buy"

    def judged(self, ideas):
        assert ideas == "to buy"
        return self.bought_points

    def shafts_to_buy(self):
        return self.to_buy


def case_of(*sides, stiff=None, stock=ONE, others=(), rig=None, entries=(), levers=None, **more):
    arrow = arrow_of(*sides, stock=stock or ONE, **more)
    where = where_of(arrow, *others, stock=stock, rig=rig, entries=entries)
    case = Case(where, arrow, stiff)
    if levers is not None:
        case.levers = Told(case.stiff, **levers)
    case.change = lambda look, why="": look
    return case


BOW, POINT, PIECE, CUT, LIGHTER = (
    look_of(n, kind=kind) for n, kind in enumerate(("plate", "point", "shaft", "cut", "point"))
)
ALL = {
    "on_bow": [BOW],
    "points_in_hand": [POINT],
    "no_heavier": [LIGHTER],
    "fair_pieces": [PIECE],
    "cut": CUT,
}


def groups(*sides, barred=(), **more):
    """What can be done with what is in hand, in its order."""
    found = cut_or_buy.changes_in_hand(case_of(*sides, levers=ALL, **more), set(barred))
    return [group[0] for group in found if group]


# ---------------------------------------------------------------- what is in hand


@pytest.mark.parametrize(
    ("off", "rig", "little"),
    [(setting("plan.little_in"), None, True), (setting("plan.little_in") + 0.1, None, False),
     (setting("plan.little_plunger_in"), rig_with(**PLUNGER), True),
     (setting("plan.little_plunger_in") + 0.1, rig_with(**PLUNGER), False)],
)  # fmt: skip
def test_a_little_off_is_mended_on_the_bow_first_and_far_off_by_another_shaft(off, rig, little):
    """Four inches with a plate, five with a plunger's spring; the cut comes last either way."""
    order = [BOW, POINT, PIECE, CUT] if little else [PIECE, POINT, CUT]
    assert groups(-off, rig=rig) == order
    assert groups(off, rig=rig) == order


def test_an_arrow_whose_ends_tell_nothing_goes_by_what_is_believed():
    assert groups(None, off=-3.0) == [BOW, POINT, PIECE, CUT]
    assert groups(None, off=-6.0) == [PIECE, POINT, CUT]


@pytest.mark.parametrize(
    ("barred", "order"),
    [
        (("plunger",), [POINT, PIECE, CUT]),
        (("point",), [BOW, PIECE, CUT]),
        (("cut",), [BOW, POINT, PIECE]),
    ],
)
def test_what_went_the_wrong_way_twice_is_left_out(barred, order):
    assert groups(-3, barred=barred) == order


@pytest.mark.parametrize(("settings", "set_again"), [(2, True), (3, False)])
def test_after_two_settings_the_arrow_is_the_matter(settings, set_again):
    """Counted with the present one; settings of another arrow are its own."""
    others = [arrow_of(-3, setting=(("plate", f"{n}/32 in"),)) for n in range(3, 2 + settings)]
    assert (BOW in groups(-3, others=others)) == set_again
    mine = [
        arrow_of(-3, setting=(("plate", f"{n}/32 in"),), spec=named(length=29)) for n in (3, 4, 5)
    ]
    assert BOW in groups(-3, others=mine)


def test_nothing_is_set_for_an_arrow_that_is_gone():
    assert BOW not in groups(-3, spec=named("MARSH-400"))


def test_no_front_is_added_to_a_stiff_one_before_marks_were_looked_for():
    """Common practice, no source: a far too weak shaft that slaps reads stiff."""
    assert LIGHTER in groups(3, marks="not_looked")
    assert POINT in groups(3, marks="none")
    assert POINT in groups(-3, marks="not_looked")


def test_one_shaft_without_a_shop_and_wood_are_not_cut_with_what_is_in_hand():
    assert CUT in groups(-3)
    assert CUT not in groups(-3, stock=None, spec=numbered())
    assert CUT not in groups(-3, stock=owning(SPRUCE_1132_45=1), spec=SPRUCE)


def test_where_nothing_can_be_cut_there_is_no_cut():
    found = cut_or_buy.changes_in_hand(case_of(-3, levers=ALL | {"cut": None}), set())
    assert found[-1] == []


# ---------------------------------------------------------------- the whole turn


def turn(*sides, barred=(), back=None, monkeypatch, **more):
    case = case_of(*sides, **more)
    monkeypatch.setattr(cut_or_buy, "barred_levers", lambda where: set(barred))
    monkeypatch.setattr(cut_or_buy, "_set_back", lambda case: back)
    monkeypatch.setattr(cut_or_buy, "_are_they_cut", lambda case: "are they cut")
    monkeypatch.setattr(cut_or_buy, "_beyond_fair", lambda case, barred: ("beyond", barred))
    return cut_or_buy.sideways(case)


@pytest.mark.parametrize(
    ("side", "marks", "barred", "looks"),
    [(-5, "not_looked", ("point",), True), (-5, "none", ("point",), False), (-5, "not_looked", ("cut",), False),
     (5, "not_looked", ("point",), False)],
)  # fmt: skip
def test_points_that_went_the_wrong_way_twice_on_a_weak_one_ask_for_marks(
    monkeypatch, side, marks, barred, looks
):
    found = turn(side, side, marks=marks, barred=barred, levers={}, monkeypatch=monkeypatch)
    assert (getattr(found, "why", None) == LOOK_FOR_MARKS) == looks


def test_back_to_what_flew_then_a_question_then_the_first_lever_then_beyond(monkeypatch):
    assert turn(-5, -5, levers=ALL, back="back", monkeypatch=monkeypatch) == "back"
    assert turn(-5, -5, levers=ALL, monkeypatch=monkeypatch) is PIECE
    assert turn(5, 5, levers=ALL, monkeypatch=monkeypatch) is PIECE
    assert turn(-5, -5, levers=ALL | {"fair_pieces": []}, monkeypatch=monkeypatch) is POINT
    assert turn(-5, -5, levers={}, barred=("cut",), monkeypatch=monkeypatch) == ("beyond", {"cut"})


@pytest.mark.parametrize(("side", "asked"), [(5, True), (-5, False)])
def test_a_stiff_short_one_asks_whether_the_others_are_cut_too(monkeypatch, side, asked):
    case = case_of(side, side, levers=ALL)
    case.where.scenario.__dict__["held"] = Some(
        ask_about=("MARSH-500",), of=lambda s: (1, 2), nearest=lambda *_: 1
    )
    monkeypatch.setattr(cut_or_buy, "barred_levers", lambda where: set())
    monkeypatch.setattr(cut_or_buy, "_set_back", lambda case: None)
    monkeypatch.setattr(cut_or_buy, "_are_they_cut", lambda case: "asked")
    assert (cut_or_buy.sideways(case) == "asked") == asked


def test_the_question_names_length_count_and_the_line_to_type():
    case = case_of(5, 5, stock=owning(MARSH_500=3))
    held = case.where.scenario.held
    case.where.scenario.__dict__["held"] = replace(held, ask_about=("MARSH-500",))
    step = cut_or_buy._are_they_cut(case)
    assert step.kind == "describe"
    assert step.do == (
        "Say how long your other MARSH-500 are: only one of 30 in was noted. Are they cut too?"
    )
    assert step.why.startswith("It reads slightly stiff;")
    assert step.note == 'shaftwright note have MARSH-500 3 --length "30 in"'
    # one of 30 beside two of 32 can be said too, and is not asked for a second time
    assert step.if_not == (
        'Not cut: shaftwright note have MARSH-500 "1 at 30 in" MARSH-500 "2 at 32 in"'
    )
    assert step.cautions == ()
    assert step.distance_yd is None


# ---------------------------------------------------------------- how many ends must agree


def with_ends(look, *sides, **more):
    """The change, or why it is shot again first."""
    found = cut_or_buy._with_ends_enough(case_of(*sides, **more), look)
    return found if found is look else found.why


FAR = setting("plan.far_cut_in")


@pytest.mark.parametrize("look", [POINT, PIECE, BOW])
def test_a_small_matter_wants_two_ends_that_agree(look):
    why = "Bare 4 in right of the fletched in one end. Two ends must agree before anything is changed."
    assert with_ends(look, -4) == why
    assert with_ends(look, -4, -4) is look
    assert with_ends(look, -FAR) is look
    assert with_ends(look, 0.1 - FAR) is not look
    assert with_ends(look, 0.1 - FAR, 0.1 - FAR) is look
    assert with_ends(look, FAR - 0.1) is not look


@pytest.mark.parametrize(
    "look", [CUT, look_of(kind="point", buy=("P125",)), look_of(kind="buy", buy=("MARSH-400",))]
)
def test_a_cut_or_a_purchase_wants_two_ends_however_far_off(look):
    why = "Bare 9 in right of the fletched in one end. Two ends must agree before a shaft is cut or bought."
    assert with_ends(look, -9) == why
    assert with_ends(look, -9, -9) is look
    assert with_ends(look, -9, -9, -1) is look


LOOK = setting("diagnosis.look_for_marks_in")
BOUGHT = look_of(kind="shaft", buy=("MARSH-400",))


def test_far_off_another_shaft_in_hand_is_shot_before_the_same_one_again():
    """Common practice, no source: uncut, it costs nothing and tells more."""
    off = case_of(LOOK + 0.1)
    assert cut_or_buy._with_ends_enough(off, CUT, BOUGHT, POINT, PIECE) is PIECE
    assert cut_or_buy._with_ends_enough(case_of(LOOK + 0.1, LOOK + 0.1), CUT, PIECE) is CUT
    assert "Two ends" in cut_or_buy._with_ends_enough(case_of(LOOK - 0.1), CUT, PIECE).why


@pytest.mark.parametrize("side", [1, -1])
def test_what_lies_far_off_from_near_is_shot_again_from_near(side):
    def yards(off, fair=False):
        return cut_or_buy._with_ends_enough(case_of(side * off, fair=fair), CUT, BOUGHT).distance_yd

    assert yards(LOOK + 0.1) < yards(LOOK - 0.1) == 20
    # a far end counts by itself: only another far one can agree with it
    assert yards(LOOK + 0.1, fair=True) == 20


def test_what_is_gone_or_far_too_weak_is_not_shot_again_for_it():
    assert with_ends(CUT, -9, spec=named("MARSH-400")) is CUT
    assert with_ends(CUT, -9, weak=0.9) is CUT


def test_after_six_ends_it_is_changed_whether_they_agree_or_not():
    """Ends on both sides: one lies outside on the side of the centre."""
    ends = [end_of(-9)] + [end_of(-2.4)] * (PATIENT - 1)
    assert with_ends(POINT, ends=ends) is POINT
    assert with_ends(POINT, ends=ends[:-1]) is not POINT


def test_a_reading_in_words_is_the_archers_own_judgement_of_more_than_one_shot():
    in_words = [end_of(-4, shots=0)]
    assert with_ends(POINT, ends=in_words) is POINT
    assert with_ends(CUT, ends=in_words) is not CUT
    assert with_ends(POINT, ends=[end_of(-4), end_of(-1, shots=0)]) is POINT


# ---------------------------------------------------------------- nothing fair in hand

MORE = look_of(1, inside=setting("plan.straight_chance"))
LESS = look_of(2, inside=setting("plan.straight_chance") - 0.01)
OTHER, BOUGHT = look_of(3, kind="shaft"), look_of(4, kind="buy")
OFFERS = {"other_pieces": [OTHER], "bought_points": [LESS, MORE], "to_buy": [BOUGHT], "cut": CUT}


def in_turn(side, barred=(), stock=ONE, offers=OFFERS, **more):
    case = case_of(side, side, levers=offers, stock=stock, **more)
    return list(cut_or_buy._in_turn(case, set(barred)))


def test_a_weak_one_takes_other_shafts_then_one_bought_then_points_of_the_shop():
    assert in_turn(-9) == [OTHER, BOUGHT, LESS, MORE]


def test_a_stiff_one_takes_a_likely_point_before_a_shaft():
    """A point costs less; only where it makes it straight more likely than not."""
    assert in_turn(9) == [OTHER, MORE, BOUGHT, LESS, MORE]


def test_wood_is_cut_only_after_everything_but_points():
    """It wants a new taper."""
    wood = {"stock": owning(SPRUCE_1132_45=1), "spec": SPRUCE}
    assert in_turn(-9, **wood) == [OTHER, MORE, BOUGHT, CUT, LESS, MORE]
    assert in_turn(-9, barred=("cut",), **wood) == [OTHER, MORE, BOUGHT, LESS, MORE]
    assert in_turn(-9, offers=OFFERS | {"cut": None}, **wood) == [OTHER, MORE, BOUGHT, LESS, MORE]


def test_without_a_shop_there_is_only_what_is_in_hand():
    assert in_turn(-9, stock=None, spec=numbered()) == [OTHER]


def beyond(*sides, barred=(), levers=None, **more):
    return cut_or_buy._beyond_fair(case_of(*sides, levers=levers or {}, **more), set(barred))


@pytest.mark.parametrize(
    ("side", "marks", "points", "looks"),
    [(9, "not_looked", [POINT], True), (9, "none", [POINT], False), (-9, "not_looked", [POINT], False),
     (9, "not_looked", [], False)],
)  # fmt: skip
def test_more_weight_up_front_waits_for_marks(side, marks, points, looks):
    found = beyond(side, side, marks=marks, levers={"points_in_hand": points, "to_buy": [BOUGHT]})
    assert (
        getattr(found, "why", "") == "More weight up front would help; marks come first."
    ) == looks
    assert looks or found is BOUGHT


def test_the_first_in_turn_is_taken():
    assert beyond(-9, -9, levers=OFFERS) is OTHER
    assert beyond(-9, levers=OFFERS) is OTHER
    assert beyond(-9, levers={"to_buy": [BOUGHT]}) is BOUGHT


def test_with_nothing_in_turn_it_is_shot_on_until_six_ends():
    few = [-9] * (PATIENT - 1)
    assert beyond(*few).why == "Bare 9 in right of the fletched in 5 ends."
    assert beyond(*few, -9) is None
    assert beyond(*few, spec=named("MARSH-400")) is None
    assert beyond(*few, weak=0.9) is None


@pytest.mark.parametrize(("inside", "shot_on"), [(0.7, True), (0.5, False)])
def test_what_is_likely_inside_is_shot_on_however_many_ends_it_takes(inside, shot_on):
    """Nothing makes it likelier yet, so nothing is left that could mend it: it may need no mending."""
    draws = np.where(np.arange(DRAWS) < inside * DRAWS, -1.0, -4.0)
    step = beyond(*[-5] * (PATIENT + 1), draws=draws)
    # the shop has none so short: it is made again, and shot as it was
    assert (step is not None and step.do.endswith("20 yd, 3 and 3.")) == shot_on
    if shot_on:
        assert step.why.endswith(
            ", yet 70 in 100 that it is straight: no change makes it likelier."
        )


# ---------------------------------------------------------------- back to what flew


def set_back(*then, now=(5, 5), spec=None, entries=(), case=None, **more):
    here = arrow_of(*now, spec=spec)
    where = where_of(here, *then, entries=entries, **more)
    return cut_or_buy._set_back(Case(where, here))


def flew(value="1/8 in", name="plate", *sides, **more):
    return arrow_of(*(sides or (0, 0)), setting=((name, value),), **more)


@pytest.mark.parametrize(
    ("name", "value", "note"),
    [("plate", "1/8 in", 'plate --plate "1/8 in"'), ("plunger", "2.5 turns", "plunger --plunger-turns 2.5"),
     ("plunger", "1/16 in out", 'plunger --plunger-out "1/16 in"'),
     ("brace", "7 1/2 in", 'brace --brace "7 1/2 in"')],
)  # fmt: skip
def test_what_flew_straight_at_another_setting_is_set_back(name, value, note):
    step = set_back(flew(value, name))
    assert (step.stage, step.kind, step.expect) == ("tune", name, None)
    assert step.do == (
        f"Set the {name} back to {value}, and shoot the MARSH-500 again at 20 yd: 30 in, 175 gr point."
    )
    assert step.why == "There it flew straight; as it is set now it reads slightly stiff."
    assert step.note == f"shaftwright note change {note}"
    (entry,) = map(ENTRY.validate_python, step.noted)
    assert (entry.kind, entry.what) == ("change", name)
    told = {n: value_told(v) for n, v in entry.rig_state.stated().items()}
    assert told == {
        name if name == "plunger" else f"{name.replace('brace', 'brace_height')}_in": value
    }
    assert step.setting == f"{name} {value}"


@pytest.mark.parametrize(
    "then",
    [
        flew("1/2 in", "nocking point"), flew("before", "plate"), flew("2 turns, 1/16 in out", "plunger"), flew("1/8 in", "plate", 5, 5),
        flew(spec=named(length=29)), flew(period=1), arrow_of(0, 0), flew(ends=[end_of(0, fair=False)] * 2),
        flew("1/8 in", "plate", 8, -8, 0), arrow_of(0, 0, setting=(("plate", "1/8 in"), ("brace", "7 in"))),
        arrow_of(0, 0, setting=(("brace", "7 in"), ("plate", "1/8 in"))),
    ],
)  # fmt: skip
def test_it_is_not_set_back_to_what_did_not_fly_or_cannot_be_set(then):
    assert set_back(then) is None


@pytest.mark.parametrize(("nearer", "back"), [(0.9, True), (0.8, False), (0.3, False)])
def test_it_is_set_back_only_where_it_is_sure_to_lie_nearer_there(nearer, back):
    """On the same joint draws, whatever the few ends of either setting show by themselves."""
    here = np.full(DRAWS, 3.0)
    then = np.where(np.arange(DRAWS) < nearer * DRAWS, -2.0, -4.0)
    found = cut_or_buy._set_back(_both(flew(draws=then), arrow_of(5, 5, draws=here)))
    assert (found is not None) == back


def _both(then, here):
    return Case(where_of(here, then), here)


THINNER = {"rig_state": {"plate": "1/8 in"}}


def after_the_plate_was_made_thicker(before, after):
    """Ends so far to the stiff side with the plate at 1/8 in, then with 3/16 in."""
    told = [end(-side, **THINNER) for side in before]
    told += [change("plate", plate="3/16 in"), *(end(-side) for side in after)]
    thick = rig_with(plate={"thickness": "3/16 in", "material": "leather"})
    return asked(*told, rig=thick, stock=owning(MARSH_500=2)).plan.next


@pytest.mark.parametrize("bad", [(-4, -5), (-4, -4)])
def test_two_bad_ends_do_not_undo_a_change_that_eight_ends_speak_for(bad):
    """A little weak, the plate made thicker, weak twice by bad luck: a thinner plate would be weaker yet."""
    step = after_the_plate_was_made_thicker((1.5, -0.5, -1.5, -1.5, -2.5, -4), bad)
    assert "back to" not in step.do
    assert step.setting not in ("plate 1/8 in", "plate 5/32 in")


def test_what_all_ends_say_went_too_far_is_set_back():
    step = after_the_plate_was_made_thicker((0, 1, 0.5), (6, 7))
    assert (step.kind, step.setting) == ("plate", "plate 1/8 in")


def test_half_of_its_ends_must_have_lain_inside():
    assert set_back(flew("1/8 in", "plate", 5, 0, -5, 0)) is not None


def test_an_arrow_that_is_gone_is_not_set_back_for():
    gone = named("MARSH-400")
    assert set_back(flew(spec=gone), spec=gone) is None


def test_of_two_settings_the_one_with_more_straight_ends():
    """Of equals the later in name, so that the answer stands whatever the order."""
    two, three = flew("1/8 in", "plate", 0, 0), flew("3/32 in", "plate", 0, 0, 0)
    assert set_back(two, three).setting == set_back(three, two).setting == "plate 3/32 in"
    other = flew("5/32 in", "plate", 0, 0)
    assert set_back(two, other).setting == set_back(other, two).setting == "plate 5/32 in"


@pytest.mark.parametrize(("changes", "again"), [(1, True), (2, False), (3, False)])
def test_it_is_set_back_once_only(changes, again):
    """As many changes as there are settings: it was set back before."""
    told = [change("plate", plate=n / 32) for n in range(3, 3 + changes)]
    assert (set_back(flew(), entries=told) is not None) == again


def test_settings_are_counted_with_the_present_one():
    """One other setting, and nothing shot yet at the present one but another arrow's end."""
    then = flew()
    told = [change("plate", plate=n / 32) for n in (3, 4)]
    here = arrow_of(5, 5, setting=(("brace", "7 in"),))
    where = where_of(here, then, entries=told)
    assert cut_or_buy._set_back(Case(where, here)) is not None
