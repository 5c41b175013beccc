"""Candidates, limits, ranking and the chance of tuning, each against a second way of getting it."""

import dataclasses
import itertools

import numpy as np
import pytest
from core_rigs import changed
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.answers.choose.candidates import enumerate_builds
from shaftwright.answers.choose.choose import choose
from shaftwright.answers.choose.listing import grains_off
from shaftwright.answers.choose.rank import (
    WORTHS,
    first_place,
    hard_floor_gr_per_lb,
    mass_floors,
    rank,
)
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.inference.band import match_limits, own_sd_lb, stiffness_lb, tunable_draws
from shaftwright.inference.belief import OWN_SEED, latin_hypercube, prior_belief
from shaftwright.inference.demand import demand_of
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.stock import Stock, StockItem
from shaftwright.render.screens.choose import choice_text
from shaftwright.resources import usual
from shaftwright.rules.sections import purposes
from shaftwright.rules.sizes import shipped
from shaftwright.units import read_quantity

BOOK = shipped()
BELIEF = prior_belief(BOOK)
PRACTICE = purposes().purposes["practice"]
HUNTING = purposes().purposes["hunting"]


def item(name, kind, **more):
    return StockItem(item=name, kind=kind, **more)


def shaft(name, spine=500, **more):
    given = {"material": "carbon", "spine_mils": spine, "gr_per_in": 8, "full_length_in": 30, "price": 9.0,
             "inside_diameter_in": 0.246, "outside_diameter_in": 0.295} | more  # fmt: skip
    return item(name, "shaft", **given)


def stock_of(*items):
    return Stock(items, "stock.csv")


PARTS = (
    item("P125", "point", mass_gr=125, price=1), item("P175", "point", mass_gr=175, price=2),
    item("I20", "insert", mass_gr=20, inside_diameter_in=0.246, price=1), item("N9", "nock", mass_gr=9, price=1),
    item("F9", "fletching", mass_gr=9, price=1),
)  # fmt: skip


def names(candidates, column):
    return {candidates.builds.name(int(i)) for i in getattr(candidates.builds, column)}


# ---- candidates


@pytest.mark.parametrize(
    ("draw", "purpose", "expected"),
    [(28, "practice", 28.5), (28.1, "practice", 28.75), (28.25, "hunting", 29.25), (27.99, "hunting", 29.0),
     (28, "target", 28.5), (30.5, "hunting_large_game", 31.5), (28, "three_d", 28.5)],
)  # fmt: skip
def test_shortest_safe_length_by_hand(draw, purpose, expected):
    # trade: draw + 1/2 in, + 1 in with broadheads, to the next 1/4 in (common practice, no source)
    assert (
        shortest_safe_length_in(changed(archer__draw_length=draw), purposes().purposes[purpose])
        == expected
    )


def test_the_longer_of_draw_and_shelf_mark_counts():
    rig = changed(archer__draw_length=28, archer__shelf_mark=28.6)
    assert shortest_safe_length_in(rig, PRACTICE) == 29.25
    assert shortest_safe_length_in(changed(archer__shelf_mark=27), PRACTICE) == 28.5


@settings(max_examples=60, deadline=None)
@given(st.floats(24, 32), st.floats(24, 34))
def test_every_length_is_on_the_quarter_inch_grid_or_full(draw, full):
    found = enumerate_builds(
        changed(archer__draw_length=draw),
        stock_of(shaft("S", full_length_in=full), *PARTS),
        PRACTICE,
    )
    shortest = shortest_safe_length_in(changed(archer__draw_length=draw), PRACTICE)
    lengths = np.unique(found.builds.length_in)
    if full < shortest:
        assert len(lengths) == 0
        (reject,) = found.rejected
        assert reject.rule == "shortest-safe-length"
        assert read_quantity(reject.found.removeprefix("longest "), "in") == pytest.approx(
            full, abs=1 / 64 + 1e-9
        )
        assert read_quantity(reject.at_least, "in") == pytest.approx(shortest, abs=6e-4)
        return
    grid = [shortest + k / 4 for k in range(200) if shortest + k / 4 <= full + 1e-9]
    expected = sorted({*grid, full}) if full - grid[-1] > 1e-6 else grid
    assert lengths == pytest.approx(expected)
    assert shortest - draw >= 0.5 - 1e-9


@pytest.mark.parametrize(
    ("bore", "fits"),
    [(0.246, True), (0.2489, True), (0.249, True), (0.2431, True), (0.2496, False), (0.204, False)],
)
def test_bores_agree_within_three_thousandths(bore, fits):
    insert = item("I", "insert", mass_gr=30, inside_diameter_in=bore)
    found = enumerate_builds(changed(), stock_of(shaft("S"), PARTS[0], insert), PRACTICE)
    assert names(found, "insert") == ({"I"} if fits else {""})
    if not fits:
        assert "no insert of the stock fits this shaft" in found.notes["S"][0]


@pytest.mark.parametrize(
    ("outside", "outcome"),
    [(0.295, "fits"), (0.304, "fits"), (0.310, "caution"), (0.324, "caution"), (0.330, "rejected")],
)
def test_outside_steps_caution_over_ten_and_reject_over_thirty_thousandths(outside, outcome):
    point = item("P", "point", mass_gr=125, outside_diameter_in=outside)
    found = enumerate_builds(changed(), stock_of(shaft("S"), point), PRACTICE)
    if outcome == "rejected":
        assert len(found.builds) == 0
        assert [(r.rule, r.count) for r in found.rejected] == [("parts-fit", 1)]
    else:
        assert names(found, "head") == {"P"}
        assert any("leaves a step" in note for note in found.notes.get("S", ())) is (
            outcome == "caution"
        )


def test_wood_takes_glued_heads_or_an_adapter_and_never_an_insert():
    wood = shaft(
        "W",
        material="wood",
        spine_mils=None,
        wood_spine_lb=50,
        inside_diameter_in=None,
        outside_diameter_in=0.344,
    )
    glue = item("G", "point", mass_gr=125, outside_diameter_in=0.344)
    screw = item("S", "point", mass_gr=125)
    adapter = item("A", "adapter", mass_gr=15, outside_diameter_in=0.344)
    insert = item("I", "insert", mass_gr=20)
    found = enumerate_builds(changed(), stock_of(wood, glue, screw, adapter, insert), PRACTICE)
    pairs = {(found.builds.name(int(h)), found.builds.name(int(i)))
             for h, i in zip(found.builds.head, found.builds.insert, strict=True)}  # fmt: skip
    assert pairs == {("G", ""), ("S", "A")}
    assert not found.builds.insert_gr[found.builds.insert < 0].any()


def test_outserts_and_collars_stiffen_the_front_and_count_as_front_mass():
    outsert = item("O", "outsert", mass_gr=40, outside_diameter_in=0.295)
    collar = item("C", "collar", mass_gr=15, outside_diameter_in=0.295)
    found = enumerate_builds(
        changed(), stock_of(shaft("S"), PARTS[0], outsert, collar), PRACTICE
    ).builds
    with_collar = found.take(found.collar >= 0)
    assert set(with_collar.stiffening_gr) == {55.0}
    assert set(with_collar.front_gr) == {180.0}
    assert set(found.take(found.collar < 0).stiffening_gr) == {40.0}


def test_hunting_takes_broadheads_and_falls_back_on_field_points():
    broadhead = item("B", "broadhead", mass_gr=150)
    assert names(
        enumerate_builds(changed(), stock_of(shaft("S"), *PARTS, broadhead), HUNTING), "head"
    ) == {"B"}
    without = enumerate_builds(changed(), stock_of(shaft("S"), *PARTS), HUNTING)
    assert names(without, "head") == {"P125", "P175"}
    assert any("no broadheads" in caution for caution in without.cautions)


def test_kinds_missing_from_the_stock_are_cautions_not_failures():
    found = enumerate_builds(changed(), stock_of(shaft("S")), PRACTICE)
    assert len(found.builds) > 0
    told = " ".join(found.cautions)
    for kind in ("points", "inserts", "nock", "fletching"):
        assert f"no {kind}" in told
    assert np.all(found.builds.tail_gr == usual("tail_gr"))


def test_every_combination_is_there_once():
    found = enumerate_builds(
        changed(),
        stock_of(shaft("S"), shaft("T"), *PARTS, item("C", "collar", mass_gr=10)),
        PRACTICE,
    ).builds
    rows = set(
        zip(found.shaft, found.length_in, found.head, found.insert, found.collar, strict=True)
    )
    assert len(rows) == len(found) == 2 * 7 * 2 * 1 * 2


def test_masses_and_prices_add_up_and_owned_pieces_are_free():
    mine = item("P200", "point", mass_gr=200, price=3, in_hand=6)
    found = enumerate_builds(
        changed(), stock_of(shaft("S", pack=6, price=54), *PARTS[2:], mine), PRACTICE
    ).builds
    i = int(np.flatnonzero(found.length_in == 28.5)[0])
    assert found.total_gr[i] == pytest.approx(28.5 * 8 + 200 + 20 + 9 + 9)
    assert found.bare_gr[i] == pytest.approx(28.5 * 8 + 200 + 20 + 9)
    assert found.price[i] == pytest.approx(54 / 6 + 0 + 1 + 1 + 1)
    assert found.owned[i] == pytest.approx(1 / 3)


# ---- limits


def ranked(rig, stock):
    candidates = enumerate_builds(rig, stock, PRACTICE)
    return candidates, rank(Scenario(rig, "practice", BOOK), candidates)


SHELF = stock_of(
    *(shaft(f"S{s}", s, price=5 + s / 100) for s in (250, 300, 340, 400, 500, 600, 700, 900, 1200)),
    *PARTS,
)


def test_limits_reject_with_what_was_found_and_the_least_it_had_to_be():
    rig = changed(bow__maker_minimum_gr_per_lb=8)
    candidates, ranking = ranked(rig, SHELF)
    told = {r.rule: r for r in ranking.rejected}
    assert told["arrow-mass-floor"].at_least == "8 gr/lb"
    assert told["far-too-weak"].at_least == "75 %"
    assert len(candidates.builds) == len(ranking.builds) + sum(told[r].count for r in told)
    own = ranking.own_lb
    assert np.all(ranking.builds.bare_gr / own >= 8 - 1e-9)
    assert np.all(stiffness_lb(ranking.builds) / ranking.mean_lb >= 0.75)


def test_mass_floor_is_the_larger_of_five_and_the_makers_with_the_bare_arrow():
    # arrow sellers' safety pages: never under 5 gr/lb; the bow maker's own minimum comes first
    assert hard_floor_gr_per_lb(changed()) == 5
    assert hard_floor_gr_per_lb(changed(bow__maker_minimum_gr_per_lb=9)) == 9
    assert hard_floor_gr_per_lb(changed(bow__maker_minimum_gr_per_lb=3)) == 5
    assert {f.name for f in mass_floors(changed(bow__kind="selfbow"))} == {
        "never-under",
        "wooden-bow",
    }


def test_nothing_left_says_why():
    _, ranking = ranked(changed(), stock_of(shaft("S", 2000), *PARTS))
    assert len(ranking.builds) == 0
    assert {r.rule for r in ranking.rejected} == {"far-too-weak"}
    assert choose(scenario(changed()), stock_of(shaft("S", 2000), *PARTS)).listed == ()


# ---- ranking


def test_score_is_the_weighted_sum_of_worths_between_nought_and_one():
    _, ranking = ranked(changed(), SHELF)
    assert ranking.weights.sum() == pytest.approx(1)
    assert ranking.worths.min() >= 0
    assert ranking.worths.max() <= 1 + 1e-12
    assert ranking.score == pytest.approx(
        sum(ranking.worths[:, k] * ranking.weights[k] for k in range(6))
    )
    assert ranking.weights[WORTHS.index("match")] == max(ranking.weights)
    order = ranking.best_first()
    assert np.all(np.diff(ranking.score[order]) <= 0)


def test_match_worth_is_highest_where_the_chance_is():
    _, ranking = ranked(changed(), SHELF)
    assert np.argmax(ranking.worths[:, 0]) == np.argmax(ranking.chance)
    best = ranking.best_of_shafts()
    assert len({int(ranking.builds.shaft[i]) for i in best}) == len(best)
    for i in best:
        same = ranking.builds.shaft == ranking.builds.shaft[i]
        assert ranking.score[i] == ranking.score[same].max()


def test_margin_is_the_sum_of_the_weighted_differences():
    _, ranking = ranked(changed(), SHELF)
    place = first_place(ranking)
    assert place.margin == pytest.approx(sum(value for _, value in place.decided_by), abs=1e-8)
    assert place.margin == pytest.approx(ranking.score[place.first] - ranking.score[place.second])
    sizes = [abs(value) for _, value in place.decided_by]
    assert sizes == sorted(sizes, reverse=True)
    assert place.tie is bool(place.margin < 0.01)


def test_stability_flag_by_trying_every_weight():
    for rig in (
        changed(),
        changed(bow__draw_weight={"lb": 44, "at": "own_draw"}),
        changed(archer__draw_length=29),
    ):
        _, ranking = ranked(rig, SHELF)
        place = first_place(ranking)
        flips = set()
        for k, factor in itertools.product(range(6), (0.8, 1.2)):
            weights = [w * (factor if i == k else 1) for i, w in enumerate(ranking.weights)]
            winner = int(np.argmax(ranking.worths @ np.array(weights)))
            if ranking.builds.shaft[winner] != ranking.builds.shaft[place.first]:
                flips.add(WORTHS[k])
        assert set(place.flips) == flips
        assert place.stable is (not flips)


def test_a_tie_between_two_of_a_kind_is_said():
    twin = stock_of(shaft("A", 500), shaft("B", 501), *PARTS)
    _, ranking = ranked(changed(), twin)
    place = first_place(ranking)
    assert place.tie
    assert place.margin < 0.01
    assert first_place(ranked(changed(), stock_of(shaft("A"), *PARTS))[1]) is None


def test_cheaper_and_owned_rank_no_lower_all_else_equal():
    dear, cheap = stock_of(shaft("A", price=20), shaft("B", 501, price=5), *PARTS), None
    _, ranking = ranked(changed(), dear)
    assert ranking.builds.name(int(ranking.builds.shaft[ranking.best_first()[0]])) == "B"
    cheap = stock_of(shaft("A", price=20, in_hand=3), shaft("B", 501, price=5), *PARTS)
    _, ranking = ranked(changed(), cheap)
    assert ranking.builds.name(int(ranking.builds.shaft[ranking.best_first()[0]])) == "A"


# ---- the chance that a shaft can be tuned


def brute_tunable(rig, candidates, allowed):
    """any() over all allowed builds of every shaft, draw by draw, by the definition of a match."""
    builds = candidates.builds
    demand = demand_of(rig, builds, BOOK)
    size = 1024
    belief = BELIEF.some(slice(size))
    draws = demand.draws(belief)
    low, high = match_limits(builds, 0.07)
    own = latin_hypercube(len(np.unique(builds.shaft[allowed])), size, OWN_SEED)
    result = {}
    for k, shaft_index in enumerate(np.unique(builds.shaft[allowed])):
        rows = np.flatnonzero((builds.shaft == shaft_index) & allowed)
        wanted = draws[rows] + own_sd_lb(demand, belief)[rows, None] * own[k]
        result[int(shaft_index)] = np.any(
            (wanted >= low[rows, None]) & (wanted <= high[rows, None]), axis=0
        ).mean()
    return result


@pytest.mark.parametrize(
    "rig",
    [
        changed(),
        changed(bow__kind="longbow", string__material="unknown"),
        changed(archer__draw_length=26),
    ],
)
def test_tunable_against_any_over_all_builds(rig):
    stock = stock_of(*SHELF.of_kind("shaft"), *PARTS, item("P250", "point", mass_gr=250), item("C", "collar", mass_gr=12),
                     item("I75", "insert", mass_gr=75, inside_diameter_in=0.246))  # fmt: skip
    candidates = enumerate_builds(rig, stock, PRACTICE)
    allowed = np.ones(len(candidates.builds), dtype=bool)
    shafts, hit = tunable_draws(
        demand_of(rig, candidates.builds, BOOK), candidates.builds, allowed, BELIEF, 0.07
    )
    brute = brute_tunable(rig, candidates, allowed)
    for s, chance in zip(shafts, hit.mean(axis=1), strict=True):
        # one build every half inch and 10 gr stands for its neighbours: a few draws of a hundred
        assert chance == pytest.approx(brute[int(s)], abs=0.03)
        assert chance <= brute[int(s)] + 1e-3


def test_more_allowed_builds_never_lower_the_chance_of_tuning():
    rig = changed()
    candidates = enumerate_builds(rig, SHELF, PRACTICE)
    builds = candidates.builds
    demand = demand_of(rig, builds, BOOK)
    every = set(builds.shaft.tolist())
    rng = np.random.default_rng(5)
    allowed = np.zeros(len(builds), dtype=bool)
    allowed[[np.flatnonzero(builds.shaft == s)[0] for s in every]] = True
    before = np.zeros(len(every))
    for share in (0.1, 0.3, 0.6, 1.0):
        allowed |= rng.random(len(builds)) < share
        shafts, hit = tunable_draws(demand, builds, allowed, BELIEF, 0.07)
        assert set(shafts.tolist()) == every
        assert np.all(hit.mean(axis=1) >= before - 0.02)
        before = hit.mean(axis=1)


def test_tunable_is_never_less_than_the_best_single_match():
    _, ranking = ranked(changed(), SHELF)
    for s, chance in ranking.tunable.items():
        mine = ranking.chance[ranking.builds.shaft == s]
        if len(mine):
            assert chance >= mine.max() - 0.03


# ---- the whole answer


def test_two_bands_each_at_its_length_and_the_nudges_point_the_right_way():
    choice = choose(scenario(changed(), "hunting"))
    assert choice.band.length_in == 29
    assert choice.band.front_gr == choice.band_uncut.front_gr == 200
    assert choice.band_uncut.length_in > choice.band.length_in
    assert choice.band_uncut.mid < choice.band.mid
    longer, shorter, more, less = (n.mid_mils for n in choice.nudges)
    assert longer < choice.band.mid < shorter
    assert more < choice.band.mid < less


@pytest.mark.parametrize(
    ("grains", "words"),
    [
        (0, "right in the middle"),
        (40, "stiff"),
        (-40, "weak"),
        (5000, "stiff by over 200 gr up front"),
    ],
)
def test_mismatch_is_told_in_grains(grains, words):
    assert any(w in grains_off(grains) for w in words.split("|"))
    assert "lb" not in grains_off(grains)


def test_mismatch_in_grains_mends_the_mismatch():
    choice = choose(scenario(changed()), SHELF)
    for listed in choice.listed:
        if abs(listed.mismatch_gr) > 60:
            continue
        builds = choice.ranking.builds.take([listed.index])
        mended = dataclasses.replace(builds, head_gr=builds.head_gr + listed.mismatch_gr)
        off = stiffness_lb(mended)[0] - choice.question.demand(mended).mean[0]
        assert abs(off) < 0.3 * abs(listed.mismatch_lb.mid) + 0.2


def test_material_keeps_only_its_shafts():
    wood = shaft("W", material="wood", spine_mils=None, wood_spine_lb=60, inside_diameter_in=None)
    choice = choose(scenario(changed()), stock_of(*SHELF.items, wood), material="wood")
    assert {b.shaft for b in choice.listed} == {"W"}


def test_a_large_shop_ranks_the_same_in_pieces(monkeypatch):
    """However few builds are worked out together, and held, the best of every shaft stand the same."""
    rig, stock = (
        changed(),
        stock_of(*(shaft(f"S{k}", spine=400 + 25 * k) for k in range(8)), *PARTS),
    )
    _, whole = ranked(rig, stock)
    monkeypatch.setattr("shaftwright.answers.choose.rank._AT_ONCE", 40)
    _, pieces = ranked(rig, stock)
    assert np.array_equal(whole.score, pieces.score)
    assert whole.tunable == pieces.tunable
    assert whole.rejected == pieces.rejected
    monkeypatch.setattr("shaftwright.answers.choose.rank._WHOLE", 10)
    _, few = ranked(rig, stock)
    assert len(few.builds) < len(whole.builds)
    assert few.rejected == whole.rejected

    monkeypatch.setattr("shaftwright.answers.choose.rank._HELD", 50)
    _, fewest = ranked(rig, stock)
    assert 8 <= len(fewest.builds) < min(len(few.builds), 50 + 40 + 8)
    assert set(fewest.builds.shaft) == set(whole.builds.shaft)

    def tops(ranking):
        b = ranking.builds
        return [(b.shaft[i], b.length_in[i], b.head[i]) for i in ranking.best_of_shafts()[:3]]

    assert tops(few) == tops(fewest) == tops(whole)


def test_fronts_of_one_mass_and_shafts_of_one_make_stand_once():
    cheap = PARTS[0].model_copy(update={"item": "CHEAP", "price": 0.10, "pack": 1})
    dear = PARTS[0].model_copy(update={"item": "DEAR", "price": 9.0, "pack": 1})
    single = shaft("ONE").model_copy(update={"price": 10.0})
    dozen = single.model_copy(update={"item": "TWELVE", "price": 90.0, "pack": 12})
    stock = stock_of(single, dozen, dear, cheap)
    found = enumerate_builds(changed(), stock, PRACTICE, alike_once=True)
    assert {found.builds.name(int(i)) for i in found.builds.shaft} == {"TWELVE"}
    assert {found.builds.name(int(i)) for i in found.builds.head} == {"CHEAP"}
    every = enumerate_builds(changed(), stock, PRACTICE)
    assert len(every.builds) == 4 * len(found.builds)
    owned = stock_of(single, dozen, dear.model_copy(update={"in_hand": 3}), cheap)
    found = enumerate_builds(changed(), owned, PRACTICE, alike_once=True)
    assert {found.builds.name(int(i)) for i in found.builds.head} == {"DEAR"}


def test_a_shaft_outside_the_purposes_weights_is_named():
    # 30 in of 16 gr an inch are 480 gr bare: past 11 gr/lb on 47 lb with the lightest point
    heavy = stock_of(shaft("OAK-500", gr_per_in=16), shaft("FERN-500"), *PARTS)
    asked = scenario(changed(), "hunting", heavy)
    choice = choose(asked, heavy)
    assert choice.outside_weights == ("OAK-500",)
    assert [b.shaft for b in choice.listed] == ["FERN-500"]
    assert not choice.weight_notes
    none = choose(asked, stock_of(shaft("OAK-500", gr_per_in=16), *PARTS))
    assert none.outside_weights == ()
    # what is listed all the same is said to be outside, in text and in JSON
    (told,) = none.weight_notes
    most = max(round(b.gr_per_lb, 1) for b in none.builds)
    assert told.startswith("no arrow of this stock weighs the 9 to 11 gr/lb usual for hunting")
    assert told.endswith(f"to {most:g}")
    assert told in none.to_dict()["warnings"]
    assert "no arrow of this stock weighs" in choice_text(none)


def test_what_is_lighter_than_bowyers_ask_for_is_named():
    """7 grains a pound: common practice, no source."""
    light = stock_of(shaft("REED-500", gr_per_in=4), *PARTS)
    choice = choose(scenario(changed(), "hunting", light), light)
    _, told = choice.weight_notes
    assert {b.shaft for b in choice.builds if b.bare_gr_per_lb < 7} == {"REED-500"}
    assert told.startswith("REED-500: bare under 7 gr/lb; ")
