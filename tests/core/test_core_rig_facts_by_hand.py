"""A rig told as facts: every way a side position is known, and every fact of a build, worked by hand from the tables."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from core_rigs import changed

from shaftwright.inference.rig_facts import (
    SpeedReading,
    _beyond_usual_in,
    brace_height_in,
    build_facts,
    rig_facts,
    shortest_safe_length_in,
    side_position,
    side_step,
    silencers,
    stated_weight_lb,
    string_mass_gr,
)
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.rig import Plunger
from shaftwright.rules.load import RuleBook

#: radius of the reference shaft, where a rest puts its middle, and the usual plate [in]
RADIUS, BY_REST, PLATE = 0.138, 0.08, 0.0625
NONE = {"bow__plate": None}
PLUNGER = {"bow__rest": "plunger", **NONE}


@pytest.mark.parametrize(
    ("told", "out", "case"),
    [
        ({}, PLATE, "stated"),
        ({"bow__plate": {"thickness": 0.125}}, 0.125, "stated"),
        (NONE, PLATE, "plate_not_stated"),
        ({"bow__window": {"cut": "none"}}, 0.5 + PLATE, "stated"),
        ({"bow__window": {"cut": "past_centre", "by": 0.1875}}, PLATE - 0.1875, "stated"),
        ({"bow__window": {"cut": "short_of_centre", "by": 0.1875}}, PLATE + 0.1875, "stated"),
        ({"bow__window": {"cut": "past_centre", "by": 0.25}, **NONE}, PLATE - 0.25, "plate_not_stated"),
        ({"bow__window": {"cut": "past_centre"}}, PLATE - 0.125, "by_not_stated"),
        ({"bow__window": {"cut": "short_of_centre", "by": "unknown"}}, PLATE + 0.125, "by_not_stated"),
        ({"bow__window": {"cut": "unknown"}}, PLATE, "window_unknown"),
        ({"bow__window": {"cut": "unknown"}, "bow__kind": "hybrid"}, PLATE, "window_unknown"),
        ({"bow__window": {"cut": "unknown"}, "bow__kind": "longbow"}, 0.125 + PLATE, "window_unknown_longbow"),
        ({"bow__window": {"cut": "unknown"}, "bow__kind": "selfbow"}, 0.5 + PLATE, "window_unknown_selfbow"),
        ({"bow__window": {"cut": "unknown"}, "bow__kind": "unknown"}, PLATE, "window_unknown_longbow"),
        ({"bow__rest": "elevated", **NONE}, BY_REST - RADIUS, "set_by_rest"),
        ({"bow__rest": "elevated"}, PLATE, "stated"),
        (PLUNGER, BY_REST - RADIUS, "set_by_rest"),
        ({**PLUNGER, "bow__plunger": {"moved": 0.05}}, BY_REST - RADIUS + 0.05, "set_by_rest"),
        ({**PLUNGER, "bow__plunger": {"out": 0.2}}, 0.2 - RADIUS, "stated"),
        ({**PLUNGER, "bow__plunger": {"out": 0.2, "moved": -0.05}}, 0.15 - RADIUS, "stated"),
        ({"bow__rest": "plunger", "bow__plunger": {"out": 0.2}}, 0.2 - RADIUS, "stated"),
        ({"bow__rest": "plunger", "bow__plunger": {"moved": 0.05}}, PLATE + 0.05, "stated"),
        # on a shelf no plunger says anything
        ({"bow__plunger": {"out": 0.2, "moved": 0.05}}, PLATE, "stated"),
    ],
)  # fmt: skip
def test_where_the_shaft_stands_and_how_well_that_is_known(told, out, case):
    found, word = side_position(changed(**told))
    assert found == pytest.approx(out)
    assert word == case


def test_a_plunger_is_moved_out_from_what_is_known_of_it():
    measured = side_step(changed(**PLUNGER, bow__plunger={"out": 0.2, "turns": 2}), 0.05)
    assert measured.bow.plunger == Plunger(out_in=0.25, turns=2)
    usual = side_step(changed(**PLUNGER, bow__plunger={"moved": 0.1}), -0.03)
    assert usual.bow.plunger.moved_in == pytest.approx(0.07)
    assert usual.bow.plunger.out_in is None
    untold = side_step(changed(**PLUNGER), 0.05)
    assert untold.bow.plunger == Plunger(moved_in=0.05)


@pytest.mark.parametrize(
    ("turns", "beyond"), [(None, 0), (2, 0), (3.5, 1.5), (0.5, -1.5), (9, 3), (-4, -2), (0, -2)]
)
def test_turns_beyond_the_usual_two_within_the_travel_of_five(turns, beyond):
    rig = changed(bow__rest="plunger", bow__plunger={} if turns is None else {"turns": turns})
    assert rig_facts(rig)["plunger_turns_beyond_usual"] == beyond


def test_turns_of_a_plunger_that_is_not_used_say_nothing():
    assert rig_facts(changed(bow__plunger={"turns": 5}))["plunger_turns_beyond_usual"] == 0


def test_facts_of_a_bow_all_told():
    facts = rig_facts(changed())
    assert facts == {
        "archer.release": "split", "bow.kind": "recurve", "bow.limbs": "standard", "bow.rest": "shelf",
        "bow.plunger.spring": "unknown", "bow.plate.material": "leather", "bow.side_position": "stated",
        "bow.draw_weight.at": "own_draw", "string.material": "polyester", "speed.measured": "no",
        "draw_length_in": 28, "draw_beyond_marked_in": 0, "bow.brace_height": "stated", "brace_beyond_usual_in": 0,
        "plunger_turns_beyond_usual": 0, "string_mass_gr": 145, "silencers_as_string_gr": 0, "speed_excess_fps": 0,
        "speed_doubt_fps": 0,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("told", "facts"),
    [
        ({"bow__draw_weight": {"lb": 50, "at": 26.5}}, {"bow.draw_weight.at": "marked", "draw_beyond_marked_in": 1.5}),
        ({"bow__draw_weight": {"curve": [[9, 0], [20, 30], [28, 50]]}},
         {"bow.draw_weight.at": "curve", "draw_beyond_marked_in": 0}),
        ({"bow__brace_height": 8.25}, {"brace_beyond_usual_in": 0.5, "bow.brace_height": "stated"}),
        ({"bow__brace_height": "unknown"}, {"brace_beyond_usual_in": 0, "bow.brace_height": "unknown"}),
        ({"bow__kind": "longbow", "bow__brace_height": 7.0}, {"brace_beyond_usual_in": 0.25, "bow.kind": "longbow"}),
        (NONE, {"bow.plate.material": "none"}),
        ({"string__mass": None, "string__material": "low_stretch"}, {"string_mass_gr": 110}),
        ({"bow__rest": "plunger", "bow__plunger": {"spring": "soft"}}, {"bow.plunger.spring": "soft"}),
        ({"bow__kind": "unknown"}, {"bow.kind": "unknown"}),
    ],
)  # fmt: skip
def test_a_fact_follows_what_is_told(told, facts):
    found = rig_facts(changed(**told))
    assert {name: found[name] for name in facts} == facts


def test_a_chronograph_makes_an_unknown_kind_a_recurve():
    speed = SpeedReading(3.5, 2.0)
    facts = rig_facts(changed(bow__kind="unknown"), speed)
    assert facts["bow.kind"] == "recurve"
    assert (facts["speed.measured"], facts["speed_excess_fps"], facts["speed_doubt_fps"]) == ("yes", 3.5, 2.0)  # fmt: skip
    assert rig_facts(changed(bow__kind="longbow"), speed)["bow.kind"] == "longbow"


def test_silencers_count_by_their_place_against_a_third_of_a_string():
    """At the tips they do not move, at the middle they go with the arrow; between as the square (a straight string)."""
    for place, share in ((0.0, 0.0), (0.5, 0.25), (1.0, 1.0)):
        rig = changed(string__silencers=20, string__silencer_position=place)
        assert silencers(rig) == (20, place)
        assert rig_facts(rig)["silencers_as_string_gr"] == pytest.approx(3 * 20 * share)
    assert silencers(changed(string__silencers=None)) == (0, 0.25)
    assert string_mass_gr(changed(string__mass=100)) == 100
    assert brace_height_in(changed(bow__brace_height=6)) == 6


# --- a build's facts -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "beyond"),
    [
        ({}, 0.0),
        ({"bow__plate": {"thickness": 0.125}}, 0.0625),
        ({"bow__window": {"cut": "past_centre", "by": 0.125}}, -0.125),
        # a riser further out than 5/16 in counts as there; the longbow's own figure holds half of it
        ({"bow__window": {"cut": "none"}}, 0.3125),
        ({"bow__window": {"cut": "none"}, "bow__kind": "longbow"}, 0.5 * (0.3125 - 0.125)),
        ({"bow__window": {"cut": "to_centre"}, "bow__kind": "selfbow"}, 0.5 * (0 - 0.3125)),
        ({"bow__window": {"cut": "to_centre"}, "bow__kind": "longbow", "bow__plate": {"thickness": 0.1}},
         0.5 * (0 - 0.125) + 0.1 - PLATE),
        ({**PLUNGER, "bow__plunger": {"out": 0.2, "moved": 0.05}}, 0.2 - RADIUS - PLATE + 0.05),
        ({"bow__rest": "plunger", "bow__plunger": {"moved": 0.05}}, 0.05),
    ],
)  # fmt: skip
def test_how_far_out_the_usual_shaft_would_lie(told, beyond):
    assert _beyond_usual_in(changed(**told)) == pytest.approx(beyond, abs=1e-9)


TABLE = {("front_mass", "front_gr", "shift_pct"): (np.array([100.0, 200.0, 300.0]), np.array([0.0, 10.0, 30.0]))}  # fmt: skip
BOOK = RuleBook((), tables=TABLE)


def made(**columns):
    plain = builds_by_numbers([500.0, 600.0], [28.0, 30.0], [200.0, 250.0], [20.0, 30.0], radius_in=[0.138, 0.150])  # fmt: skip
    return replace(plain, **{name: np.array(value) for name, value in columns.items()})


def test_facts_of_builds_are_their_columns():
    facts = build_facts(changed(), made(wood=[0.0, 1.0], rear_taper_in=[0.0, 5.0], stiffening_gr=[0.0, 10.0]), BOOK, 50.0)  # fmt: skip
    told = {name: np.asarray(value).tolist() for name, value in facts.items()}
    assert told.pop("shaft_centre_beyond_usual_in") == pytest.approx([0, 0.012])
    assert told == {"shaft_length_in": [28, 30], "front_gr": [200, 250], "insert_share_pct": [0, 0], "collar_gr": [0, 10],
                    "tail_gr": [20, 30], "rear_taper_in": [0, 5], "wood_shaft": [0, 1],
                    "usual_length_in": [29.5, 28.5], "usual_front_gr": [200, 125], "usual_tail_gr": 25}  # fmt: skip


@pytest.mark.parametrize(
    ("lb", "front", "beyond"), [(20, 125, 0.5), (47.5, 187.5, 1.5), (55, 225, 1.5), (80, 225, 1.5)]
)
def test_the_usual_arrow_goes_by_the_bows_weight(lb, front, beyond):
    """usual_pairs.csv, recalled: 175 gr at 45 lb, 200 at 50, 225 from 55 on; half an inch to an inch and a half."""
    facts = build_facts(
        changed(archer__draw_length=27.0), made(), replace(BOOK, usual_tail_gr=17.0), lb
    )
    assert (facts["usual_front_gr"], facts["usual_length_in"], facts["usual_tail_gr"]) == (front, 27 + beyond, 17)  # fmt: skip
    wood = build_facts(changed(archer__draw_length=27.0), made(wood=[1.0, 1.0]), BOOK, lb)
    assert (wood["usual_front_gr"], wood["usual_length_in"]) == (125, 27.5)


def test_a_fatter_shaft_is_held_against_the_usual_of_the_kind():
    longbow = changed(bow__kind="longbow", bow__window={"cut": "to_centre"})
    facts = build_facts(longbow, made(), BOOK, 50.0)
    base = _beyond_usual_in(longbow)
    np.testing.assert_allclose(facts["shaft_centre_beyond_usual_in"], base + np.array([0.138, 0.150]) - 0.172)  # fmt: skip


def test_an_inserts_share_is_what_the_front_table_gives_for_it():
    """Front of 200 and 300 gr in all, of which 50 gr inside: 10 - 5 and 30 - 20 per cent by the table above."""
    inside = made(head_gr=[150.0, 250.0], insert_gr=[50.0, 50.0])
    np.testing.assert_allclose(
        build_facts(changed(), inside, BOOK, 50.0)["insert_share_pct"], [5, 10]
    )
    # an outsert lies round the shaft, a collar too: nothing of them is inside
    outsert = made(head_gr=[150.0, 250.0], insert_gr=[50.0, 50.0], stiffening_gr=[50.0, 50.0])
    np.testing.assert_allclose(
        build_facts(changed(), outsert, BOOK, 50.0)["insert_share_pct"], [0, 0]
    )
    both = made(head_gr=[140.0, 240.0], insert_gr=[50.0, 50.0], collar_gr=[10.0, 10.0], stiffening_gr=[10.0, 10.0])  # fmt: skip
    np.testing.assert_allclose(
        build_facts(changed(), both, BOOK, 50.0)["insert_share_pct"], [5, 10]
    )
    one = made(head_gr=[200.0, 250.0], insert_gr=[0.0, 50.0])
    np.testing.assert_allclose(build_facts(changed(), one, BOOK, 50.0)["insert_share_pct"], [0, 10])


# --- weight and length -----------------------------------------------------------------------------


def test_a_weight_is_as_stated_or_read_off_its_curve():
    assert stated_weight_lb(changed(bow__draw_weight={"lb": 43, "at": 27.0})) == 43
    curve = {"curve": [[9, 0], [20, 30], [27, 44], [27.75, 47]]}
    assert stated_weight_lb(changed(bow__draw_weight=curve, archer__draw_length=26)) == 42
    # a quarter inch past its end, on its last slope of 4 lb an inch
    assert stated_weight_lb(changed(bow__draw_weight=curve)) == pytest.approx(48)


@pytest.mark.parametrize(
    ("draw", "mark", "beyond", "shortest"),
    [(28.0, None, 0.5, 28.5), (28.0625, None, 0.5, 28.75), (28.02, None, 0.5, 28.75), (28.0, 28.75, 0.5, 29.25), (28.0, 27.0, 1.0, 29.0),
     (28.25, None, 0.5, 28.75)],
)  # fmt: skip
def test_the_shortest_shaft_clears_draw_or_shelf_to_the_next_quarter_inch(draw, mark, beyond, shortest):  # fmt: skip
    rig = changed(archer__draw_length=draw, **({} if mark is None else {"archer__shelf_mark": mark}))  # fmt: skip
    purpose = SimpleNamespace(shortest_shaft_beyond_draw_in=beyond)
    assert shortest_safe_length_in(rig, purpose) == shortest
