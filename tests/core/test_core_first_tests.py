"""The first line of `choose`: which shafts to shoot first, with which point, and what comes before."""

import dataclasses
import itertools
import re

import numpy as np
import pytest
from core_rigs import changed

from shaftwright.answers.advice import advice
from shaftwright.answers.choose import _usual_inside, _wood_groups, choose
from shaftwright.answers.diagnose import diagnose
from shaftwright.answers.first_tests import stock_trials, usual_trials
from shaftwright.answers.scenario import scenario
from shaftwright.inference.band import Band, stiffness_lb
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import BareShaft, Change
from shaftwright.records.stock import Stock, StockItem

#: design of the gate: far too weak under 0.75 of the stiffness wanted, at most one chance in ten
GATE, MOST = 0.75, 0.10


def recurve(**changes):
    marsh = {
        "archer__hand": "left", "archer__release": "three_under", "archer__draw_length": 28.5,
        "bow__draw_weight": {"lb": 40, "at": "own_draw"}, "bow__brace_height": 8.5,
        "bow__window": {"cut": "past_centre", "by": 0.1875}, "bow__rest": "elevated",
        "bow__plate": None, "string": {"material": "low_stretch"}, "purpose": "target",
    }  # fmt: skip
    return changed(**(marsh | changes))


def hybrid():
    return changed(
        archer__draw_length=27.5, bow__kind="hybrid", bow__draw_weight={"lb": 52, "at": "own_draw"},
        bow__brace_height=7, bow__window={"cut": "short_of_centre", "by": 0.0625}, bow__plate=None,
        string={"material": "low_stretch"}, purpose="hunting",
    )  # fmt: skip


def shaft(spine, per_inch, in_hand=0):
    return StockItem(
        item=f"R{spine}", kind="shaft", material="carbon", spine_mils=spine, gr_per_in=per_inch,
        inside_diameter_in=0.246, outside_diameter_in=0.29, full_length_in=32, price=8.5,
        in_hand=in_hand,
    )  # fmt: skip


STOCK = Stock(
    (
        shaft(400, 8.4), shaft(500, 7.4, 2), shaft(600, 6.8), shaft(700, 6.3, 1), shaft(800, 5.9),
        StockItem(item="P100", kind="point", mass_gr=100, price=10, pack=6, in_hand=6),
        StockItem(item="P125", kind="point", mass_gr=125, price=10, pack=6),
        StockItem(item="P150", kind="point", mass_gr=150, price=10, pack=6),
        StockItem(item="I25", kind="insert", mass_gr=25, inside_diameter_in=0.246, in_hand=3, price=1),
        StockItem(item="N9", kind="nock", mass_gr=9, in_hand=12, price=1),
        StockItem(item="F6", kind="fletching", mass_gr=6, price=1),
    ),
    "stock.csv",
)  # fmt: skip


def bare(name, length, reads, **more):
    build = {"shaft": name, "length": length, "point": "P100", "insert": "I25"}
    return BareShaft(
        kind="bareshaft", build=build, distance=15, reads=reads, taped=True, marks="none", **more
    )


OLD = {"draw_weight": 40.0, "brace": 8.5}
WEAK = [bare("R700", 30.25, "weak", rig_state=OLD)] * 2
NEW_PLATE = Change(kind="change", what="plate", note="new rest", rig_state=OLD | {"plate": 0.125})


def told(rig, stock=None, entries=()):
    asked = scenario(rig)
    return choose(asked.after(entries, stock) if entries else asked, stock)


@pytest.mark.parametrize(("minimum", "point"), [(None, "P100"), (9.5, "P125"), (10, "P150")])
def test_the_point_named_is_the_lightest_that_meets_the_makers_minimum(minimum, point):
    # by hand: bare R500 uncut is 32 x 7.4 + insert 25 + nock 9 = 270.8 gr and the point, for 40 lb
    masses = {"P100": 100, "P125": 125, "P150": 150}
    least = 40 * (minimum or 5)
    assert point == next(p for p, mass in masses.items() if 270.8 + mass >= least)
    choice = told(recurve(bow__maker_minimum_gr_per_lb=minimum), STOCK)
    trial = next(t for t in stock_trials(choice) if t.name == "R500")
    assert trial.length_in == 32
    assert trial.fitted == point + ("" if point == "P100" else " (to buy)")
    assert trial.fitted in advice(choice)
    assert advice(choice).startswith("Buy nothing yet") is (point == "P100")


def test_test_shafts_of_a_hunter_carry_field_points():
    heads = (StockItem(item="B125", kind="broadhead", mass_gr=125, price=40, pack=3, in_hand=3),)
    choice = told(recurve(purpose="hunting"), Stock(STOCK.items + heads, "stock.csv"))
    assert choice.listed[0].point == "B125"
    assert "B125" not in advice(choice)
    assert "P1" in advice(choice)


def test_a_shaft_to_buy_goes_by_the_name_of_its_smallest_pack_throughout():
    dozens = tuple(
        i.model_copy(update={"item": f"{i.item}-12", "pack": 12, "price": 60.0, "in_hand": 0})
        for i in STOCK.items
        if i.kind == "shaft"
    )
    singles = tuple(i.model_copy(update={"in_hand": 0}) for i in STOCK.items)
    first = advice(told(recurve(bow__maker_minimum_gr_per_lb=9.5), Stock(dozens + singles, "s")))
    assert first.startswith("Buy three test shafts")
    assert "-12" not in first


def test_usual_sizes_between_the_bands_are_reachable_by_cutting():
    # between uncut and shortest every length may be cut, so that the span has no hole
    short, uncut = Band(624, 662, 704, 0.8, 29, 110), Band(523, 557, 597, 0.8, 32, 110)
    assert _usual_inside(short, uncut) == (550, 600, 700)
    groups = _wood_groups(short, uncut)
    assert len(groups) > 1
    assert all(a[1] == b[0] for a, b in itertools.pairwise(groups))


def test_without_a_stock_no_spine_is_left_uncut_that_may_be_far_too_weak():
    choice = told(hybrid())
    asked = choice.question
    trials = sorted(usual_trials(choice), key=lambda t: t.spine_mils)

    def far(spine, length):
        # a second way: the share of draws instead of the formula for their moments
        build = builds_by_numbers(spine, length, 200)
        wanted = asked.demand(build).draws(asked.belief)[0]
        return float(np.mean(stiffness_lb(build)[0] / wanted < GATE))

    assert [t.name for t in trials] == ["400", "500"]
    assert far(400, 32) <= MOST < far(500, 32)
    for trial in trials:
        assert far(trial.spine_mils, trial.length_in) <= MOST + 0.01
    first = advice(choice)
    assert first.index("two 400") < first.index("one 500")
    assert re.search(r"cut the 500 to 31 .* in first", first)


def test_what_is_owned_and_stiffer_comes_before_what_was_noted_weak():
    choice = told(recurve(), STOCK, [*WEAK, NEW_PLATE])
    first = advice(choice)
    assert first.startswith("Shoot the R500 you own")
    assert "R700" not in first
    # before any shot nothing speaks against the weaker one in hand
    assert advice(told(recurve(), STOCK)).startswith("Buy nothing yet: shoot the R500 and R700")


def test_a_stock_without_a_decent_chance_is_said_to_have_none():
    choice = told(
        recurve(bow__draw_weight={"lb": 22, "at": "own_draw"}, purpose="hunting_large_game"), STOCK
    )
    best = max(b.chance_tunable or b.chance_match for b in choice.listed)
    assert best < 0.3
    assert advice(choice).startswith(
        f"Nothing in this stock suits well: best chance {100 * best:.0f}%"
    )


@pytest.mark.parametrize(("in_stock", "lighter"), [(["P100"], False), (["P075", "P100"], True)])
def test_a_lighter_front_is_no_check_where_there_is_none(in_stock, lighter):
    light = StockItem(item="P075", kind="point", mass_gr=75, price=10)
    stock = Stock((*STOCK.items, light), "s") if "P075" in in_stock else STOCK
    found = diagnose(recurve(), [bare("R600", 30, "weak"), bare("R600", 30, "weak")], stock)
    (check,) = [s.cause.check for s in found.suspects if s.cause.name == "too-weak"]
    assert ("off the front" in check) is lighter
    # the maker's minimum may forbid it as well
    heavy = recurve(bow__maker_minimum_gr_per_lb=8.4)
    found = diagnose(heavy, [bare("R600", 30, "weak"), bare("R600", 30, "weak")], stock)
    (check,) = [s.cause.check for s in found.suspects if s.cause.name == "too-weak"]
    assert "off the front" not in check


@pytest.mark.parametrize(
    "entries",
    [
        [bare("R600", 30, "straight")] * 2, [bare("R500", 32, "stiff")] * 2,
        [*WEAK, NEW_PLATE], [*WEAK, NEW_PLATE, bare("R600", 30, "weak")],
    ],
)  # fmt: skip
def test_the_first_line_agrees_with_what_bare_shafts_ask_for(entries):
    rig = recurve()
    choice = told(rig, STOCK, entries)
    of_this_bow = isinstance(entries[-1], BareShaft)
    kind = diagnose(rig, entries, STOCK).decision.kind if of_this_bow else "stop"
    clause = "first finish the test that bareshaft names."
    if "bareshaft says what to do" in advice(choice):
        return
    assert advice(choice).endswith(clause) is (kind != "stop")
    # what was learned already is not learned again otherwise
    again = dataclasses.replace(choice.question, notes=None)
    assert clause not in advice(dataclasses.replace(choice, question=again))
