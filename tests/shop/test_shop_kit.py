"""The test kit on real rigs: exhaustive search, doubt, ownership, the shoot gate, packs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shop_cases import asked, doubtful, exhaustive, item, shaft, shop_stock, small_stock, unowned

from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.answers.shop_chosen import choose_kit
from shaftwright.answers.shop_kit import covered_with, kit_question
from shaftwright.answers.shop.packs import cheapest_packs, offers_of, shaft_classes
from shaftwright.answers.shop_solve import popcount, solve
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import tunable_draws
from shaftwright.inference.belief import Belief
from shaftwright.records.stock import Stock
from shaftwright.rules.purposes import setting


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("chance", [0.7, 0.95])
def test_kit_equals_exhaustive_search_on_small_stocks(seed, chance):
    stock = small_stock(np.random.default_rng(seed), shafts=4, points=3, inserts=2)
    kit = kit_question(asked("reed_lark", "practice"), stock)
    found = solve(kit.problem, kit.need(chance))
    assert (found.cost if found else None) == exhaustive(kit, kit.need(chance))
    assert found is None or found.proven


@pytest.mark.parametrize(
    "rig",
    ["reed_lark", *(pytest.param(r, marks=pytest.mark.slow) for r in ("heron_marsh", "long_fen"))],
)
def test_more_doubt_never_gives_a_smaller_kit(rig):
    stock = unowned(shop_stock())
    prices = []
    for factor in (0.5, 1.0, 1.5):
        kit = kit_question(doubtful(asked(rig), factor), stock)
        found = solve(kit.problem, kit.need(0.95))
        prices.append(found.cost if found else np.inf)
    assert prices == sorted(prices)


@settings(deadline=None, max_examples=15)
@given(st.integers(0, 10_000), st.integers(0, 4))
def test_owning_a_shaft_never_raises_the_price(seed, which):
    stock = small_stock(np.random.default_rng(seed))
    name = stock.of_kind("shaft")[which].item
    items = [i.model_copy(update={"in_hand": 2}) if i.item == name else i for i in stock.items]
    prices = []
    for one in (stock, Stock(tuple(items))):
        kit = kit_question(asked("reed_lark", "practice"), one)
        found = solve(kit.problem, kit.need(0.9))
        prices.append(found.cost if found else np.inf)
    assert prices[1] <= prices[0]


@pytest.mark.parametrize("rig", ["heron_marsh", "long_fen", "reed_lark"])
@pytest.mark.parametrize("owned", [True, False])
def test_every_test_build_passes_gate_and_floor_stiffest_first(rig, owned):
    stock = shop_stock() if owned else unowned(shop_stock())
    question = asked(rig)
    chosen = choose_kit(kit_question(question, stock), 0.95)
    assert chosen.chance >= 0.95
    spines = [t.spine_mils for t in chosen.shafts]
    assert spines == sorted(spines)
    own_lb = question.demand(question.reference_build()).own_lb
    for trial in chosen.shafts:
        row = stock.by_name[trial.shaft]
        assert trial.length_in == row.full_length_in
        assert trial.stiffness_share >= setting("shoot_gate")
        assert trial.bare_gr >= hard_floor_gr_per_lb(question.rig) * own_lb - 1e-6
        assert trial.point == trial.ladder[0]
        assert trial.chance_weak + trial.chance_match + trial.chance_stiff == pytest.approx(
            1, abs=0.01
        )


def test_the_lightest_point_that_is_heavy_enough_goes_first():
    points = [item(f"P{m}", "point", mass_gr=m, in_hand=1) for m in (20, 60, 125, 200)]
    nock = item("N", "nock", mass_gr=9.0, in_hand=1)
    stock = Stock((shaft("S", 500.0, gr_per_in=7.4, in_hand=1), nock, *points))
    question = asked("reed_lark", "practice")
    trial = choose_kit(kit_question(question, stock), 0.01).shafts[0]
    floor = hard_floor_gr_per_lb(question.rig) * question.demand(question.reference_build()).own_lb
    bare = 7.4 * 32 + 9
    want = min(p.mass_gr for p in points if bare + p.mass_gr >= floor)
    assert trial.front_gr == want


def test_a_full_length_shaft_that_is_far_too_weak_is_not_in_the_kit():
    stock = Stock((shaft("WEAK", 900.0, price=0.5), shaft("GOOD", 560.0, price=20.0),
                   item("P", "point", mass_gr=125.0, in_hand=9), item("N", "nock", mass_gr=9.0, in_hand=9)))  # fmt: skip
    chosen = choose_kit(kit_question(asked("heron_marsh", "practice"), stock), 0.2)
    assert [t.shaft for t in chosen.shafts] == ["GOOD"]


def test_cover_agrees_with_the_chance_of_tuning_that_choose_reports():
    """Two ways to the same chance: two ends of the cut against every half inch of it."""
    from dataclasses import replace

    question = asked("reed_lark", "practice")
    stock = Stock((*tuple(shaft(f"S{s}", float(s), spine_tolerance_mils=0.001) for s in (400, 500, 600, 700)), item("P", "point", mass_gr=125.0, in_hand=9), item("N", "nock", mass_gr=9.0, in_hand=9)))  # fmt: skip
    kit = kit_question(question, stock, purpose_mass=False)
    bits = covered_with(kit, frozenset(range(len(kit.parts))))
    fronts = kit.fronts
    rows, lengths = [], []
    for r in range(len(fronts.shaft)):
        some = np.arange(fronts.shortest_in[r], fronts.builds.length_in[r] + 1e-9, 0.25)
        rows += [r] * len(some)
        lengths += some.tolist()
    builds = replace(fronts.builds.take(np.array(rows)), length_in=np.array(lengths))
    belief = Belief({k: v[::2] for k, v in question.belief.scores.items()})
    _, hit = tunable_draws(
        question.demand(builds), builds, np.ones(len(rows), dtype=bool), belief, 0.07
    )
    share = popcount(bits) / kit.problem.draws
    assert share == pytest.approx(hit.mean(axis=1), abs=0.02)


def test_single_and_dozen_are_the_same_shaft():
    stock = shop_stock()
    classes = shaft_classes(stock.items)
    names = [{i.item for i in c.items} for c in classes]
    assert {"MARSH-500", "MARSH-500-12"} in names
    assert {"SPRUCE-1132-45", "SPRUCE-1132-45-1"} in names
    marsh = classes[names.index({"MARSH-500", "MARSH-500-12"})]
    assert marsh.in_hand == 2
    assert marsh.price_of(14) == (96.0, {"MARSH-500-12": 1})
    assert marsh.price_of(3) == (9.5, {"MARSH-500": 1})


@settings(deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 12), st.integers(1, 90)), min_size=1, max_size=3),
    st.integers(0, 26),
)
def test_pack_cover_equals_exhaustive_search(packs, number):
    import itertools

    rows = [
        item(f"R{i}", "nock", mass_gr=9.0, pack=p, price=float(c)) for i, (p, c) in enumerate(packs)
    ]
    price, bought = cheapest_packs(offers_of(rows), number)
    best = (
        min(
            sum(n * c for n, (_, c) in zip(counts, packs, strict=True))
            for counts in itertools.product(range(number + 1), repeat=len(packs))
            if sum(n * p for n, (p, _) in zip(counts, packs, strict=True)) >= number
        )
        if number
        else 0
    )
    assert price == best
    assert sum(bought.get(r.item, 0) * r.pack for r in rows) >= number


def test_hunting_kits_test_with_points_that_a_broadhead_replaces():
    kit = kit_question(asked("heron_marsh"), unowned(shop_stock()))
    masses = {p.mass_gr for p in kit.parts if p.kind == "point"}
    heads = {b.mass_gr for b in shop_stock().of_kind("broadhead")}
    assert masses
    assert masses <= heads
    assert not [p for p in kit.parts if p.kind == "broadhead"]


def test_unreachable_chance_says_how_far_the_stock_goes():
    stock = Stock(
        (shaft("S", 500.0), item("P", "point", mass_gr=100.0), item("N", "nock", mass_gr=9.0))
    )
    kit = kit_question(asked("reed_lark", "practice"), stock)
    with pytest.raises(NoAnswer, match="reaches a chance"):
        choose_kit(kit, 0.999)


def test_money_curve_rises_and_marginals_bracket_the_kit():
    chosen = choose_kit(kit_question(asked("long_fen"), unowned(shop_stock())), 0.95)
    assert [p.chance for p in chosen.curve] == sorted(p.chance for p in chosen.curve)
    assert [p.price for p in chosen.curve] == sorted(p.price for p in chosen.curve)
    for m in chosen.marginals:
        if m.change == "without":
            assert m.chance <= chosen.chance
            assert m.price <= chosen.price
        else:
            assert m.chance >= chosen.chance
            assert m.price >= chosen.price
