"""While nothing is straight: which arrow to go on from, and safety, fair shots, marks and height before left and right."""

from types import SimpleNamespace as Some

import numpy as np
import pytest
from plan_ends import owning
from plan_fakes import DRAWS, ONE, arrow_of, end_of, look_of, named, numbered, where_of

from shaftwright.answers.plan import tune
from shaftwright.answers.plan.change import Case
from shaftwright.answers.plan.result import Next
from shaftwright.parameters import setting

TWO = owning(MARSH_500=1, MARSH_400=1)
MARKS_IN = setting("diagnosis.look_for_marks_in")
WEAK_CHANCE = setting("matching.far_too_weak_chance")
PATIENT = int(setting("plan.patient_ends"))


def case_of(
    *sides, looks=None, stock=ONE, others=(), purpose="practice", entries=(), given=None, **more
):
    arrow = arrow_of(*sides, stock=stock, **more)
    looks = {arrow: looks} if looks is not None else None
    where = where_of(
        arrow, *others, looks=looks, stock=stock, purpose=purpose, entries=entries, **(given or {})
    )
    return Case(where, arrow)


def step_of(kind):
    return Next("tune", kind, f"{kind}.", "Why.")


# ---------------------------------------------------------------- which arrow


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [("none", "cut", "cut"), ("buy", "point", "point"), ("cut", "point", "cut"), ("shoot", "cut", "shoot"),
     ("none", "shoot", "none"), ("buy", "look_for_marks", "buy"), ("buy", "buy", "buy"), ("none", "none", "none")],
)  # fmt: skip
def test_before_a_shaft_is_bought_another_in_hand_is_mended(monkeypatch, first, second, told):
    one, other = arrow_of(5, 5), arrow_of(-5, -5, spec=named("MARSH-400"))
    where = where_of(one, other, stock=TWO)
    kinds = {one: first, other: second}
    monkeypatch.setattr(tune, "to_go_on_from", lambda w: [Case(w, one), Case(w, other)])
    monkeypatch.setattr(tune, "_decide", lambda case: step_of(kinds[case.arrow]))
    assert tune.tune(where).kind == told


def test_where_nothing_is_sure_the_likeliest_in_hand_is_tried_then_what_is_sold():
    """A dead end only where nothing has the least chance."""
    least = setting("plan.last_chance")

    def case(name, in_hand, sold, stock=True):
        looks = [[Some(chance_inside=c) for c in chances] for chances in (in_hand, sold)]
        return Some(
            arrow=name, words=Some(seen=lambda arrow: f"{arrow} seen"), where=Some(scenario=Some(stock=stock or None)),
            levers=Some(untried=looks[0], shafts_to_buy=lambda: looks[1]),
            change=lambda look, why: (look.chance_inside, why),
        )  # fmt: skip

    told = tune._unsure([case("one", [least, 0.2], [0.9]), case("other", [0.3], [])])
    assert told == (0.3, "Other seen. Nothing is sure to mend it; this may (30 in 100).")
    assert tune._unsure([case("one", [least - 0.01], [0.4])])[0] == 0.4
    assert tune._unsure([case("one", [], [0.4], stock=False)]) is None
    assert tune._unsure([case("one", [least - 0.01], [least - 0.01])]) is None


@pytest.mark.parametrize(
    "other", [arrow_of(-5, -5, spec=named("MARSH-600")), arrow_of(1, spec=named("MARSH-400"))]
)
def test_another_is_mended_only_where_it_is_in_hand_and_surely_off(monkeypatch, other):
    one = arrow_of(5, 5)
    where = where_of(one, other, stock=TWO)
    monkeypatch.setattr(tune, "to_go_on_from", lambda w: [Case(w, one), Case(w, other)])
    monkeypatch.setattr(
        tune, "_decide", lambda case: step_of("buy" if case.arrow is one else "cut")
    )
    assert tune.tune(where).kind == "buy"


def test_with_only_broadheads_shot_the_first_bare_end_comes_first(monkeypatch):
    monkeypatch.setattr(tune, "first_end", lambda where: "first end")
    monkeypatch.setattr(tune, "_decide", lambda case: step_of("cut"))
    assert tune.tune(where_of(arrow_of())) == "first end"
    assert tune.tune(where_of(arrow_of(), arrow_of(5, 5))).kind == "cut"


def ordered(*arrows, stock=TWO, looks=None, likely=None, monkeypatch=None):
    where = where_of(*arrows, stock=stock, looks=looks)
    monkeypatch.setattr(tune, "_prospect", lambda case: (likely or {}).get(case.arrow, 0.0))
    return [case.arrow for case in tune.to_go_on_from(where)]


def test_what_can_be_made_at_the_present_setting_comes_first(monkeypatch):
    lost = arrow_of(3, spec=named("MARSH-600"))
    other_setting = arrow_of(3, setting=(("plate", "1/8 in"),))
    far = arrow_of(9, spec=named("MARSH-400"))
    order = ordered(
        lost, other_setting, far, monkeypatch=monkeypatch, likely={lost: 0.9, other_setting: 0.9}
    )
    assert order == [far, other_setting, lost]


def test_what_one_change_may_do_counts_only_for_what_can_be_shot_as_the_bow_stands(monkeypatch):
    plate = (("plate", "1/8 in"),)
    for more in ({"setting": plate, "shaft": "MARSH-500"}, {"shaft": "MARSH-600"}):
        near, far = (
            arrow_of(off, setting=more.get("setting", ()), spec=named(more["shaft"], length))
            for off, length in ((3, 29), (9, 30))
        )
        assert ordered(far, near, monkeypatch=monkeypatch, likely={near: 0.1, far: 0.9}) == [
            near,
            far,
        ]


@pytest.mark.parametrize(
    ("sides", "weak", "waits"),
    [((3, 3), 0.0, True), ((-3,), 0.0, True), ((3,), WEAK_CHANCE + 0.01, True), ((3,), 0.0, False)],
)
def test_what_touches_the_plate_comes_after_what_does_not(monkeypatch, sides, weak, waits):
    """Once, of one that reads stiff and is not far too weak by all else, it can be chance: it is shot again."""
    touches = arrow_of(*sides, marks="plate", weak=weak)
    clear = arrow_of(9, spec=named("MARSH-400"))
    likely = {touches: 0.9, clear: 0.1}
    order = [clear, touches] if waits else [touches, clear]
    assert ordered(touches, clear, monkeypatch=monkeypatch, likely=likely) == order


def test_what_is_dangerous_comes_after_what_is_not(monkeypatch):
    short, safe = arrow_of(3), arrow_of(9, spec=named("MARSH-400"))
    looks = {short: look_of(long=False)}
    assert ordered(short, safe, monkeypatch=monkeypatch, looks=looks) == [safe, short]


def test_the_likeliest_after_one_change_comes_first_to_a_tenth(monkeypatch):
    near, far = arrow_of(5), arrow_of(9, spec=named("MARSH-400"))
    assert ordered(near, far, monkeypatch=monkeypatch, likely={near: 0.3, far: 0.7}) == [far, near]
    assert ordered(far, near, monkeypatch=monkeypatch, likely={near: 0.51, far: 0.54}) == [
        near,
        far,
    ]


def test_of_equals_the_nearer_by_what_was_seen_and_what_is_believed(monkeypatch):
    """Half by each; where nothing was seen, what is believed alone."""
    one = arrow_of(-4, off=-9)  # 6.5
    other = arrow_of(-7, off=-5, spec=named("MARSH-400"))  # 6
    assert ordered(one, other, monkeypatch=monkeypatch) == [other, one]
    unseen = arrow_of(None, off=6.2, spec=named("MARSH-400", length=29))
    assert ordered(one, unseen, other, monkeypatch=monkeypatch) == [other, unseen, one]


def test_of_two_off_alike_the_name_decides(monkeypatch):
    one, other = arrow_of(5), arrow_of(-5, spec=named(length=29))
    assert ordered(one, other, monkeypatch=monkeypatch) == [other, one]
    hair = arrow_of(5.0001, spec=named(length=29.5))
    assert ordered(one, hair, monkeypatch=monkeypatch) == [hair, one]


def test_arrows_of_broadheads_alone_are_not_gone_on_from(monkeypatch):
    seen = arrow_of(5)
    assert ordered(arrow_of(), seen, monkeypatch=monkeypatch) == [seen]


def test_the_prospect_is_the_best_chance_of_itself_or_one_change_in_hand(monkeypatch):
    case = case_of(5, draws=[0.0, 0.0, 9.0, 9.0, 9.0] * 10, off=None)
    assert case.arrow.chance_inside == pytest.approx(0.4)
    groups = [[look_of(inside=0.3)], [], [look_of(inside=0.7), look_of(inside=0.9, buy=("P125",))]]
    monkeypatch.setattr(tune, "changes_in_hand", lambda case, barred: groups)
    assert tune._prospect(case) == 0.7
    monkeypatch.setattr(tune, "changes_in_hand", lambda case, barred: [[look_of(inside=0.3)]])
    assert tune._prospect(case) == pytest.approx(0.4)


# ---------------------------------------------------------------- in which order

ORDER = (
    "_dangerous",
    "_as_set_now",
    "_fair_shots",
    "_far_and_unlooked",
    "_contact",
    "_height",
    "_clear",
    "sideways",
)


def test_safety_first_then_fair_shots_marks_height_and_the_side_last(monkeypatch):
    for name in ORDER:
        monkeypatch.setattr(tune, name, lambda case, name=name: name if name in case.says else None)
    arrow = Some()

    def decided(*says, may=True):
        return tune._decide(Some(where=Some(may_shoot=lambda a: may), arrow=arrow, says=says))

    for place, name in enumerate(ORDER):
        assert decided(*ORDER[place:]) == name
    assert decided() is None
    # what shoots it again as it is wants a shaft in hand that is not far too weak
    assert decided(*ORDER[1:], may=False) == "_far_and_unlooked"
    assert decided("_as_set_now", "_fair_shots", "_height", "_clear", may=False) is None
    assert decided("_height", "_clear", "sideways", may=False) == "sideways"
    assert decided("_contact", may=False) == "_contact"


# ---------------------------------------------------------------- safety


def test_an_arrow_that_must_not_be_drawn_is_told_so_with_what_takes_its_place(monkeypatch):
    told = look_of(long=False, heavy=False)
    case = case_of(-5, looks=told)
    monkeypatch.setattr(tune, "_made_safe", lambda case, why: why)
    assert tune._dangerous(case) == (
        "The MARSH-500 at 30 in, 175 gr point is too short for this draw and too light for this bow: do not shoot it."
    )
    monkeypatch.setattr(tune, "_made_safe", lambda case, why: None)
    step = tune._dangerous(case)
    assert step.kind == "none"
    assert step.do == (
        "Do not shoot the MARSH-500 again: it is too short for this draw and too light for this bow."
    )
    assert "Nothing in hand or in the stock takes its place:" in step.why
    assert tune._dangerous(case_of(-5)) is None


def made_safe(monkeypatch, *groups, pieces=()):
    """Which of four groups is taken: points in hand, shafts in hand, points to buy, shafts to buy."""
    case = Some(arrow=arrow_of(-5), change=lambda look, why: (look, why), levers=Some(
        points=lambda owned=True: ["in hand" if owned else "to buy"], new_ones=lambda: ["new"],
    ))  # fmt: skip
    found = dict(zip(("in hand", "shafts", "to buy", "new"), groups, strict=True))
    taken = []

    def ready(fair, spec):
        taken.extend(fair)
        return found["shafts"]

    case.where = Some(scenario=None, shortest=28.25, makeable=Some(pieces=pieces, ready=ready))
    monkeypatch.setattr(tune, "outlooks", lambda of, ideas: found[ideas[0]])
    return tune._made_safe(case, "why"), taken


SAFE, LIGHT, UNSAFE = look_of(2), look_of(1, per_lb=7.0), look_of(0.5, long=False)


def test_too_light_or_short_is_mended_with_what_is_owned_first(monkeypatch):
    for place in range(4):
        groups = [[UNSAFE, LIGHT]] * place + [[SAFE]] * (4 - place)
        assert made_safe(monkeypatch, *groups)[0] == (SAFE, "why")
        only = [[SAFE] if n == place else [] for n in range(4)]
        assert made_safe(monkeypatch, *only)[0] == (SAFE, "why")
    assert made_safe(monkeypatch, [UNSAFE], [LIGHT], [], [])[0] is None


def test_of_safe_ones_the_nearest_is_taken(monkeypatch):
    looks = [look_of(-5), look_of(3), look_of(-2), UNSAFE, LIGHT]
    assert made_safe(monkeypatch, looks, [], [], [])[0][0] is looks[2]


def test_only_shafts_long_enough_take_its_place(monkeypatch):
    pieces = [Some(length_in=28.2), Some(length_in=28.25), Some(length_in=30.0)]
    assert made_safe(monkeypatch, [], [], [], [], pieces=pieces)[1] == pieces[1:]


# ---------------------------------------------------------------- shots that tell something


@pytest.mark.parametrize(
    ("at", "anew", "weak", "again"),
    [((), False, 0.0, False), ((), True, 0.0, True), ((("plate", "1/8 in"),), False, 0.0, True),
     ((("plate", "1/8 in"),), False, WEAK_CHANCE + 0.01, False), ((("plate", "1/8 in"),), False, WEAK_CHANCE, True),
     ((), True, WEAK_CHANCE + 0.01, False)],
)  # fmt: skip
def test_one_end_at_the_present_setting_before_anything_more_is_changed(at, anew, weak, again):
    step = tune._as_set_now(case_of(5, setting=at, weak=weak, given={"set_anew": anew}))
    assert (step is not None) == again
    if again:
        assert step.why == "The bow was set anew since; one end tells where it lands now."


@pytest.mark.parametrize(
    ("ends", "why"),
    [
        ([end_of(5)], None), ([], None),
        ([end_of(5, fair=False)], None),
        ([end_of(5, fair=False, void=True), end_of(5, fair=False)], None),
        ([end_of(5, fair=False, void=True), end_of(5)], None),
        ([end_of(5, fair=False, void=True)], "Too few shots to have a centre: three fletched and two bare at the least."),
        ([end_of(5, fair=False, void=True, disagree=True), end_of(5, fair=False, void=True)],
         "Impact and nock told opposite sides: contact, release or the butt's face, not the shaft."),
        ([end_of(5, fair=False, void=True), end_of(5, fair=False, void=True, scattered=True)],
         "The shots lay too wide to have a centre."),
    ],
)  # fmt: skip
def test_ends_that_tell_nothing_are_shot_again_near_by(ends, why):
    step = tune._fair_shots(case_of(ends=ends, off=5))
    assert (None if step is None else step.why) == why
    if step is not None:
        assert step.distance_yd == 10


@pytest.mark.parametrize(
    ("side", "marks", "weak", "why"),
    [
        (MARKS_IN, "not_looked", 0.0, None),
        (MARKS_IN + 0.1, "not_looked", 0.0, "So far aside that a far too weak shaft could look the same."),
        (-MARKS_IN - 0.1, "not_looked", 0.0, "It may be far too weak, and slap the plate."),
        (-5, "not_looked", WEAK_CHANCE, None),
        (-5, "not_looked", WEAK_CHANCE + 0.01, "It may be far too weak, and slap the plate."),
        (MARKS_IN + 5, "none", 0.0, None),
        (None, "not_looked", 0.0, None),
    ],
)  # fmt: skip
def test_very_far_aside_marks_are_looked_for_first(side, marks, weak, why):
    step = tune._far_and_unlooked(case_of(side, marks=marks, weak=weak))
    assert (None if step is None else step.why) == why
    assert step is None or step.kind == "look_for_marks"


def test_marks_are_not_looked_for_on_a_shaft_that_is_gone():
    assert tune._far_and_unlooked(case_of(12, marks="not_looked", spec=named("MARSH-600"))) is None


def slapping(*, shaft="MARSH-400", marks="not_looked", look=None, stiffer=5.0):
    """A stiffer arrow lands weak; a weaker one lands stiff, and may slap the plate."""
    stiff = arrow_of(-4, -4, before=stiffer)
    weak = arrow_of(5, marks=marks, spec=named(shaft))
    where = where_of(stiff, weak, stock=TWO, looks=None if look is None else {weak: look})
    return tune._far_and_unlooked(Case(where, stiff))


def test_a_weaker_arrow_further_to_the_stiff_side_is_powdered_first():
    step = slapping()
    assert step.kind == "look_for_marks"
    assert step.shaft == "MARSH-400"
    assert step.why == (
        "The weaker MARSH-400 landed further to the stiff side: it may be far too weak and slap the plate."
    )


@pytest.mark.parametrize(
    "told", [{"shaft": "MARSH-600"}, {"marks": "none"}, {"look": look_of(long=False)}, {"stiffer": 1.0}],
)  # fmt: skip
def test_it_is_not_powdered_where_it_is_gone_was_looked_at_must_not_be_drawn_or_is_no_weaker(told):
    assert slapping(**told) is None


# ---------------------------------------------------------------- contact


def test_marks_on_the_shelf_are_a_matter_of_nocking_point(monkeypatch):
    case = case_of(-5, marks="shelf")
    monkeypatch.setattr(tune, "nocking_point", lambda where, arrow, stage, why: (arrow, stage, why))
    arrow, stage, why = tune._contact(case)
    assert (arrow, stage) == (case.arrow, "tune")
    assert why == "The shaft touches the shelf: nock fit and nocking point first."
    assert tune._contact(case_of(-5, marks="shelf", spec=named("MARSH-600"))) is None


@pytest.mark.parametrize("marks", ["none", "not_looked"])
def test_without_marks_there_is_no_contact(marks):
    assert tune._contact(case_of(-5, marks=marks)) is None


def test_straight_yet_marked_it_is_the_plates_edge():
    step = tune._contact(case_of(1, 1, marks="plate"))
    assert (step.kind, step.expect, step.distance_yd) == ("plate", None, 20)
    assert (
        step.do
        == "Ease the edge of the strike plate, then shoot the MARSH-500 again at 20 yd: 30 in, 175 gr point."
    )


def test_straight_but_off_where_it_marked_the_plate_the_nock_is_looked_at_too():
    ends = [end_of(1), end_of(6, fair=False, marks="plate")]
    step = tune._contact(case_of(ends=ends))
    assert step.do.startswith(
        "See that the nock fits, ease the edge of the strike plate, then shoot"
    )
    assert step.why == "It flew straight, but lay 6 in left where it marked the plate."


@pytest.mark.parametrize(
    ("ends", "weak", "doubted"),
    [([end_of(1), end_of(9, fair=False, marks="plate")], 0.0, True),
     ([end_of(5, marks="plate")], 0.0, True), ([end_of(5, marks="plate")], WEAK_CHANCE + 0.01, False),
     ([end_of(-5, marks="plate")], 0.0, False), ([end_of(5, marks="plate")] * 2, 0.0, False), ([end_of(5)], 0.0, False)],
)  # fmt: skip
def test_marks_of_one_end_are_doubted_where_nothing_else_calls_it_weak(ends, weak, doubted):
    assert tune._marks_in_doubt(case_of(ends=ends, weak=weak)) is doubted


def contact(side=5, weak=0.0, draws=None, as_read=(), others=(), **found):
    """A marked plate and a shaft rather far too weak than stiff, with what each lever offers."""
    doubtful = np.where(np.arange(DRAWS) % 2, -1.0, 2.0 * side + 1)  # their mean is the side
    draws = doubtful if draws is None else draws
    case = case_of(side, side, marks="plate", weak=weak, draws=draws, others=others)
    offers = {"no_heavier": [], "fair_pieces": [], "cut": None, "stiffer_in_hand": list, "shafts_to_buy": list,
              "stiffer_sold": list, "piece": None} | found  # fmt: skip
    case.levers.__dict__["fair_pieces"] = list(as_read)
    taken = []

    def take_as_weak():
        case.levers = Some(stiff=False, **offers)
        taken.append("weak")

    case.take_as_weak = take_as_weak
    case.change = lambda look, why: (look, why)
    told = tune._contact(case)
    assert taken == ["weak"]
    return told


OUT, IN = look_of(6), look_of(4)


def test_one_that_all_else_calls_stiff_is_looked_at_first_and_no_money_goes_into_what_is_ruled_out():
    step = tune._contact(case_of(5, marks="plate"))
    assert (step.kind, step.distance_yd) == ("plate", 20)
    assert step.do == (
        "See that the nock fits, ease the edge of the strike plate, then shoot the MARSH-500 again at 20 yd: "
        "30 in, 175 gr point."
    )
    assert "by all else it is hardly far too weak" in step.why.lower()
    sure = {"draws": np.full(DRAWS, 5.0)}
    unlikely, fair = look_of(7, inside=0.1, kind="shaft"), look_of(7, inside=0.3, kind="shaft")
    assert contact(**sure, shafts_to_buy=lambda: [unlikely]).kind == "none"
    assert contact(**sure, shafts_to_buy=lambda: [unlikely, fair])[0] is fair
    assert contact(**sure, no_heavier=[look_of(4, inside=0.1)])[0].middle_in == 4


def test_marked_twice_and_stiff_by_all_else_another_shaft_tells_which():
    """Were the first far too weak, a weaker one would land further to the stiff side: common practice, no source."""
    sure, weaker = {"draws": np.full(DRAWS, 5.0)}, look_of(1, kind="shaft")
    look, why = contact(**sure, as_read=[weaker])
    assert look is weaker
    assert why.endswith("another shaft tells which.")
    assert contact(**sure, as_read=[look_of(1, kind="shaft", per_lb=12.0), weaker])[0] is weaker
    # what would be stiff enough and is not ruled out comes before it
    fair = look_of(7, inside=0.3, kind="shaft")
    assert contact(**sure, as_read=[weaker], shafts_to_buy=lambda: [fair])[0] is fair


def test_two_shafts_that_mark_the_plate_are_too_weak_whatever_the_figures_say():
    sure = {"draws": np.full(DRAWS, 5.0), "as_read": [look_of(1)]}
    other = arrow_of(6, 6, marks="plate", spec=named("MARSH-400"))
    elsewhere = arrow_of(
        6, 6, marks="plate", spec=named("MARSH-400"), setting=(("plate", "1/8 in"),)
    )
    same = arrow_of(6, 6, marks="plate", spec=named(point="P125"))
    sold, held = (look_of(off, inside=0.0, kind="shaft") for off in (-9, -8))
    assert contact(**sure, others=[other], stiffer_sold=lambda: [sold])[0] is sold
    both = {"stiffer_sold": lambda: [sold], "stiffer_in_hand": lambda: [held]}
    assert contact(**sure, others=[other], **both)[0] is held
    for no_other in (elsewhere, same):
        assert contact(**sure, others=[no_other], **both)[0] is sure["as_read"][0]
    # nothing stiffer anywhere: what makes this one stiffer
    assert contact(others=[other], no_heavier=[OUT])[0] is OUT
    assert contact(side=-5, others=[other], no_heavier=[OUT], **both)[0] is OUT  # it reads weak


def test_a_marked_plate_makes_it_weak_whatever_it_reads():
    assert contact(no_heavier=[OUT])[1] == (
        "It marks the plate and reads slightly stiff: too weak, however it reads."
    )
    assert contact(side=-5, no_heavier=[OUT])[1] == (
        "It marks the plate and reads slightly weak: too weak."
    )


def test_contact_takes_a_lighter_point_then_a_stiffer_shaft_in_hand_a_cut_and_what_is_bought():
    everything = {"no_heavier": [look_of(1)], "fair_pieces": [IN, OUT], "cut": look_of(2),
                  "stiffer_in_hand": lambda: [look_of(3)], "shafts_to_buy": lambda: [look_of(7)]}  # fmt: skip
    for name, taken in (
        ("no_heavier", 1),
        ("fair_pieces", 6),
        ("cut", 2),
        ("stiffer_in_hand", 3),
        ("shafts_to_buy", 7),
    ):
        assert contact(**everything)[0].middle_in == taken
        del everything[name]
    assert contact() is None
    assert contact(fair_pieces=[look_of(5)]) is None  # no stiffer than it is


def test_far_too_weak_with_nothing_to_mend_it_is_not_shot_again():
    step = contact(side=-5, weak=WEAK_CHANCE + 0.01)
    assert step.kind == "none"
    assert step.do == "Do not shoot the MARSH-500 again as it is: it is far too weak."
    assert "Nothing in hand or in the stock takes its place" in step.why
    assert contact(side=-5, weak=WEAK_CHANCE) is None


# ---------------------------------------------------------------- height, then enough shots


@pytest.mark.parametrize("off", [True, False])
def test_up_and_down_come_before_left_and_right(monkeypatch, off):
    case = case_of(5)
    monkeypatch.setattr(tune, "height_is_off", lambda where: off)
    monkeypatch.setattr(tune, "nocking_point", lambda where, arrow, stage: (where, arrow, stage))
    assert tune._height(case) == ((case.where, case.arrow, "tune") if off else None)


@pytest.mark.parametrize(
    ("ends", "why"),
    [
        ([end_of(None)], "Nothing of it can be read yet."),
        ([end_of(1, fair=False)], "It read straight near by; 20 yd tells more."),
        ([end_of(1)], "Not clear yet: bare 1 in left of the fletched, once."),
        ([end_of(5), end_of(5)], None),
        ([end_of(8), end_of(-1), end_of(-2)],
         "Not clear yet: bare 1 3/4 in left of the fletched, three ends together."),
        ([end_of(9), end_of(-1), end_of(-2), end_of(8)], "Not clear yet: bare 3 1/2 in left of the fletched in 4 ends."),
        ([end_of(9), end_of(-1), end_of(-2), end_of(12), end_of(-1), end_of(4)], None),
    ],
)  # fmt: skip
def test_it_is_shot_on_while_its_side_is_not_sure(ends, why):
    step = tune._clear(case_of(ends=ends))
    assert (None if step is None else step.why) == why


def test_after_six_ends_that_leave_it_open_it_is_not_shot_on():
    unclear = [end_of(9), end_of(-1)] * 3
    assert len(unclear) == PATIENT
    assert tune._clear(case_of(ends=unclear)) is None
    assert tune._clear(case_of(ends=unclear[1:])) is not None


# ---------------------------------------------------------------- nothing left


@pytest.mark.parametrize(
    ("sides", "weak", "stays"),
    [((5, 5), 0.0, "stays stiff"), ((-5, -5), 0.0, "stays weak"), ((-9, -9), 0.9, "is far too weak to be shot again")],
)  # fmt: skip
def test_with_every_lever_used_up_it_says_what_to_look_for(sides, weak, stays):
    step = tune._nothing_left(case_of(*sides, weak=weak))
    assert (step.stage, step.kind) == ("tune", "none")
    assert step.do.startswith(
        f"Nothing in hand or in the stock mends the MARSH-500, which {stays}: "
    )
    assert step.do.endswith(".")
    assert step.why.startswith("Bare ")


def test_an_arrow_by_numbers_is_made_safe_by_numbers():
    """Too light for the bow: more up front."""
    light = numbered(spine=400.0, front=60.0)
    case = case_of(-3, spec=light, looks=look_of(-3, spec=light, heavy=False))
    step = tune._dangerous(case)
    assert step.kind == "point"
    assert "gr up front" in step.do
