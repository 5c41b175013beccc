"""The kit search against exhaustive search and against a general-purpose integer programme (SciPy, HiGHS)."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from shaftwright.answers.shop_solve import KitProblem, cheapest_cover, popcount, solve

DRAWS = 128


def random_problem(
    seed: int, shafts: int, parts: int, density: float, free: float = 0.15
) -> KitProblem:
    rng = np.random.default_rng(seed)
    cost = rng.integers(1, 30, shafts) * 100 + 1
    cost[rng.random(shafts) < free] = 0
    part_cost = rng.integers(1, 20, parts) * 100 + 1
    hits, gates = {}, {}
    keys = [()] if rng.random() < 0.3 else []
    keys += [(p,) for p in range(parts)]
    keys += [k for k in itertools.combinations(range(parts), 2) if rng.random() < 0.5]
    for key in keys:
        hit = rng.random((shafts, DRAWS)) < density
        hits[key] = np.packbits(hit, axis=1).view(np.uint64)
        gates[key] = rng.random(shafts) < 0.8
    return KitProblem(cost.astype(np.int64), part_cost.astype(np.int64), hits, gates, DRAWS)


def by_hand(problem: KitProblem, need: int) -> int | None:
    best = None
    shafts, parts = range(len(problem.shaft_cost)), range(len(problem.part_cost))
    for chosen in itertools.chain.from_iterable(
        itertools.combinations(parts, n) for n in range(len(parts) + 1)
    ):
        bits, _ = problem.cover(chosen)
        base = int(problem.part_cost[list(chosen)].sum())
        for picked in itertools.chain.from_iterable(
            itertools.combinations(shafts, n) for n in range(len(shafts) + 1)
        ):
            cost = base + int(problem.shaft_cost[list(picked)].sum())
            union = np.bitwise_or.reduce(bits[list(picked)], axis=0) if picked else bits[0] * 0
            if int(popcount(union)) >= need and (best is None or cost < best):
                best = cost
    return best


def by_milp_highs(problem: KitProblem, need: int) -> int | None:
    """Maximum coverage as a mixed-integer programme: shafts and parts binary, draws and pairs continuous."""
    s, p = len(problem.shaft_cost), len(problem.part_cost)
    combos = [(i, key) for key in problem.hits for i in range(s)]
    q, d = len(combos), problem.draws
    size = s + p + q + d
    cost = np.concatenate([problem.shaft_cost, problem.part_cost, np.zeros(q + d)])
    rows, low = [], []
    usable = {i: [] for i in range(s)}
    for k, (i, key) in enumerate(combos):
        for place in (i, *(s + part for part in key)):
            row = np.zeros(size)
            row[place], row[s + p + k] = 1, -1
            rows.append(row)
            low.append(0.0)
        if problem.gates[key][i]:
            usable[i].append(s + p + k)
    for i in range(s):
        # a shaft counts only with a set of parts with which it may be shot first
        row = np.zeros(size)
        row[i], row[usable[i]] = -1, 1
        rows.append(row)
        low.append(0.0)
    hits = {
        key: np.unpackbits(bits.view(np.uint8), axis=1).astype(bool)
        for key, bits in problem.hits.items()
    }
    for draw in range(d):
        row = np.zeros(size)
        for k, (i, key) in enumerate(combos):
            if hits[key][i, draw]:
                row[s + p + k] = 1
        row[s + p + q + draw] = -1
        rows.append(row)
        low.append(0.0)
    row = np.zeros(size)
    row[s + p + q :] = 1
    rows.append(row)
    low.append(need)
    found = milp(cost, constraints=LinearConstraint(np.array(rows), np.array(low), np.inf),
                 integrality=np.concatenate([np.ones(s + p), np.zeros(q + d)]),
                 bounds=Bounds(0, 1), options={"mip_rel_gap": 0.0})  # fmt: skip
    return round(float(found.fun)) if found.success else None


@settings(deadline=None, max_examples=60)
@given(st.integers(0, 10**6), st.integers(1, 6), st.integers(0, 4), st.floats(0.05, 0.5),
       st.sampled_from([0.3, 0.6, 0.8, 0.95]))  # fmt: skip
def test_kit_equals_exhaustive_search(seed, shafts, parts, density, share):
    problem = random_problem(seed, shafts, parts, density)
    need = int(np.ceil(share * DRAWS))
    kit = solve(problem, need) if problem.hits else None
    best = by_hand(problem, need) if problem.hits else None
    assert (kit.cost if kit else None) == best
    if kit:
        assert kit.proven
        assert problem.covered(kit.shafts, kit.parts) == kit.covered >= need


def by_hand_twice(problem: KitProblem, need: int, other: KitProblem, also: int) -> int | None:
    """Cheapest set of shafts and parts that covers enough of two sets of draws."""
    best = None
    shafts, parts = range(len(problem.shaft_cost)), range(len(problem.part_cost))
    for n in range(len(parts) + 1):
        for chosen in itertools.combinations(parts, n):
            base = int(problem.part_cost[list(chosen)].sum())
            for m in range(len(shafts) + 1):
                for picked in itertools.combinations(shafts, m):
                    cost = base + int(problem.shaft_cost[list(picked)].sum())
                    if (
                        (best is None or cost < best)
                        and problem.covered(picked, chosen) >= need
                        and other.covered(picked, chosen) >= also
                    ):
                        best = cost
    return best


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6), st.integers(1, 5), st.integers(0, 3), st.floats(0.1, 0.5),
       st.sampled_from([0.3, 0.5, 0.7]))  # fmt: skip
def test_kit_with_a_second_look_equals_exhaustive_search(seed, shafts, parts, density, share):
    """Draws that had no part in the search must be covered too; owning more never costs more."""
    problem = random_problem(seed, shafts, parts, density)
    rng = np.random.default_rng(seed + 1)
    again = {
        key: np.packbits(rng.random((shafts, DRAWS)) < density, axis=1).view(np.uint64)
        for key in problem.hits
    }
    other = KitProblem(problem.shaft_cost, problem.part_cost, again, problem.gates, DRAWS)
    if not problem.hits:
        return
    need = int(np.ceil(share * DRAWS))
    kit = solve(problem, need, accept=lambda s, p: other.covered(s, p) >= need)
    assert (kit.cost if kit else None) == by_hand_twice(problem, need, other, need)
    cost = problem.shaft_cost.copy()
    cost[seed % shafts] = 0
    owned = KitProblem(cost, problem.part_cost, problem.hits, problem.gates, DRAWS)
    after = solve(owned, need, accept=lambda s, p: other.covered(s, p) >= need)
    if kit is not None:
        assert after is not None
        assert after.cost <= kit.cost


@pytest.mark.parametrize("seed", range(8))
def test_kit_equals_scipy_milp_highs(seed):
    problem = random_problem(seed, 5, 3, 0.25)
    need = int(0.7 * DRAWS)
    kit = solve(problem, need)
    assert (kit.cost if kit else None) == by_milp_highs(problem, need)


@pytest.mark.parametrize("seed", range(6))
def test_of_equal_prices_the_widest_cover_wins(seed):
    rng = np.random.default_rng(seed)
    bits = np.packbits(rng.random((9, DRAWS)) < 0.45, axis=1).view(np.uint64)
    cost = np.full(9, 7)
    found = cheapest_cover(bits, cost, int(0.6 * DRAWS), 63)
    pairs = [int(popcount(bits[a] | bits[b])) for a, b in itertools.combinations(range(9), 2)]
    assert len(found.shafts) == 2
    assert found.covered == max(pairs)


def test_more_draws_wanted_never_cost_less():
    problem = random_problem(3, 7, 3, 0.25, free=0.0)
    costs = [kit.cost for need in range(10, DRAWS, 6) if (kit := solve(problem, need))]
    assert costs == sorted(costs)
    assert len(costs) > 5


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6), st.data())
def test_owning_a_shaft_or_part_never_raises_the_price(seed, data):
    problem = random_problem(seed, 6, 3, 0.3, free=0.0)
    need = int(0.75 * DRAWS)
    before = solve(problem, need)
    owned = problem.shaft_cost.copy()
    owned[data.draw(st.integers(0, 5))] = 0
    after = solve(KitProblem(owned, problem.part_cost, problem.hits, problem.gates, DRAWS), need)
    if before is not None:
        assert after is not None
        assert after.cost <= before.cost


def test_a_cut_off_search_tells_a_true_lower_bound(monkeypatch):
    from shaftwright.answers import shop_solve

    problem = random_problem(11, 12, 6, 0.12, free=0.0)
    need = int(0.8 * DRAWS)
    whole = solve(problem, need)
    monkeypatch.setattr(shop_solve, "_MOST_SETS", 2)
    cut = solve(problem, need)
    assert cut.bound <= whole.cost <= cut.cost
    monkeypatch.setattr(shop_solve, "_MOST_SETS", 10**9)
    monkeypatch.setattr(shop_solve, "_MOST_NODES", 5)
    cut = solve(problem, need)
    assert cut is None or cut.bound <= whole.cost <= cut.cost
