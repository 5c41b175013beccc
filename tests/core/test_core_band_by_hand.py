"""The band and the chances against SciPy's distributions and plain loops over every draw."""

import math
from dataclasses import replace

import numpy as np
import pytest
from core_rigs import changed
from scipy import stats

from shaftwright.errors import NoAnswer
from shaftwright.inference import band, own_error
from shaftwright.inference.band import (
    _own_scores,
    _representatives,
    chance_between,
    chance_match,
    effective_weight,
    fewer_draws,
    match_limits,
    moments,
    own_sd_lb,
    spine_band,
    stiffness_lb,
    tunable_draws,
)
from shaftwright.inference.belief import OWN_SEED, Belief, latin_hypercube
from shaftwright.inference.demand import Column, Demand
from shaftwright.parameters import setting
from shaftwright.records.builds import builds_by_numbers
from shaftwright.rules.evaluate import Evaluation

NONE = Evaluation((), ())
STIFF = 31499.2  # pounds of stiffness times thousandths of an inch


def belief(draws=200, learned=False, seed=4):
    random = np.random.default_rng(seed)
    names = ("A", "B", *own_error.DRIVERS)
    return Belief({name: random.standard_normal(draws) for name in names}, learned)


def demand(builds, *columns, stated=45.0, own=47.0):
    return Demand(len(builds), stated, own, columns, NONE, NONE, changed(), builds)


def column(x, value=0.0, below=1.0, above=1.0, driver="A"):
    return Column("A01", driver, False, x, value, below, above)


def builds(spine=500.0, length=29.0, front=150.0, **more):
    return builds_by_numbers(spine, length, front, **more)


ONE = demand(builds(), column(2.0, 1.0, 1.0, 2.0))


# --- one build's band ------------------------------------------------------------------------------


@pytest.mark.parametrize("learned", [False, True])
def test_the_band_is_the_draws_own_quantiles_about_their_mean(learned):
    told = belief(learned=learned)
    draws = ONE.matched.draws(told)[0]
    middle = draws.mean() if learned else ONE.mean[0]
    # the part of its own error that no carrying arrow tells is as wide again, about the same mean
    left = ONE.matched.left_over_lb(told)[0]
    assert left > 0
    wider = np.sqrt(draws.var() + left**2) / draws.std()
    draws = draws.mean() + wider * (draws - draws.mean())
    low, high = np.quantile(draws, [0.025, 0.975])
    found = effective_weight(ONE, told)
    assert (found.mid, found.low, found.high) == pytest.approx((middle, low, high))
    within = spine_band(ONE, builds(length=29.5, front=160.0), told, 0.8)
    weak, stiff = np.quantile(draws, [0.1, 0.9])
    assert (within.low, within.mid, within.high) == pytest.approx(
        (STIFF / stiff, STIFF / middle, STIFF / weak), rel=1e-5
    )
    assert (within.chance, within.length_in, within.front_gr) == (0.8, 29.5, 160)


def test_a_band_ends_where_the_rules_leave_next_to_nothing_and_a_middle_there_is_none():
    least = setting("matching.least_share_of_weight") * 47
    wide = demand(builds(), column(1.0, 0.0, 20.0, 1.0), stated=least + 20)
    assert wide.mean[0] > least
    assert spine_band(wide, builds(), belief(), 0.95).high == pytest.approx(STIFF / least, rel=1e-5)
    exact = replace(ONE, columns=(), stated_lb=least)
    assert spine_band(exact, builds(), belief(), 0.5).mid == pytest.approx(STIFF / least, rel=1e-5)
    with pytest.raises(NoAnswer, match="a shaft of 29 in with 150 gr up front"):
        spine_band(replace(ONE, columns=(), stated_lb=least - 0.01), builds(), belief(), 0.5)


# --- what is a build's own -------------------------------------------------------------------------


MANY = builds([400.0, 500.0, 640.0], [28.0, 29.0, 31.0], [100.0, 150.0, 250.0], spine_sd_pct=3.0)


def test_a_shafts_doubt_is_its_per_cent_of_its_stiffness_beside_what_no_other_tells():
    one, told = demand(MANY), belief()
    stiff = STIFF / MANY.spine_mils
    np.testing.assert_allclose(stiffness_lb(MANY), stiff, rtol=1e-5)
    np.testing.assert_allclose(own_sd_lb(one, told), np.hypot(0.03 * stiff, one.left_over_lb(told)), rtol=1e-5)  # fmt: skip


def test_moments_before_any_shot_are_exact_and_the_shafts_doubt_joins_the_variance():
    one = demand(MANY, column(np.array([1.0, 2.0, -1.0]), 1.0, 1.0, 3.0))
    mean, sd, skew = moments(one, MANY, belief())
    variance = one.cumulants[0] + (0.03 * STIFF / MANY.spine_mils) ** 2
    np.testing.assert_allclose(mean, one.mean)
    np.testing.assert_allclose(sd, np.sqrt(variance), rtol=1e-5)
    np.testing.assert_allclose(skew, one.cumulants[1] / variance**1.5, rtol=1e-4)


@pytest.mark.parametrize("columns", [(), (column(np.array([1.0, 2.0, -1.0]), 1.0, 1.0, 3.0),)])
def test_moments_after_shots_are_those_of_the_draws(columns):
    one, told = demand(MANY, column(2.0, 1.0), *columns), belief(learned=True)
    mean, sd, skew = moments(one, MANY, told)
    draws = one.draws(told)
    np.testing.assert_allclose(mean, draws.mean(axis=1))
    own = np.hypot(0.03 * STIFF / MANY.spine_mils, one.left_over_lb(told))
    np.testing.assert_allclose(sd, np.sqrt(draws.var(axis=1) + own**2), rtol=1e-5)
    assert not skew.any()


# --- chances ---------------------------------------------------------------------------------------


def edgeworth(t, skew):
    """Abramowitz and Stegun 26.2.47 (recalled), its first term, on SciPy's normal."""
    return stats.norm.cdf(t) - skew / 6 * (t**2 - 1) * stats.norm.pdf(t)


def test_chances_between_limits_are_the_edgeworth_series():
    random = np.random.default_rng(2)
    n = 30
    mean, sd, skew = random.normal(45, 3, n), random.uniform(2, 6, n), random.normal(0, 0.3, n)
    low, high = mean - random.uniform(0, 8, n), mean + random.uniform(0, 8, n)
    found = chance_between(mean, sd, skew, low, high)
    expected = edgeworth((high - mean) / sd, skew) - edgeworth((low - mean) / sd, skew)
    np.testing.assert_allclose(found, expected, atol=1e-4)


def test_chances_stay_between_nought_and_one():
    mean, sd = np.full(7, 45.0), np.linspace(1, 5, 7)
    wild = chance_between(mean[:2], np.ones(2), np.array([6.0, -9.0]), mean[:2] + 2.5, mean[:2] + 3)
    assert (wild >= 0).all()
    assert wild.min() == 0
    over = chance_between(mean[:1], sd[:1], np.array([9.0]), mean[:1] - 3, mean[:1] + 0.1)
    assert over[0] == 1


def test_a_match_is_within_the_tolerance_of_what_is_wanted():
    """|S - W| <= 0.1 W, so that W lies between S / 1.1 and S / 0.9."""
    low, high = match_limits(MANY, 0.1)
    stiff = STIFF / MANY.spine_mils
    np.testing.assert_allclose(np.abs(stiff - low) / low, 0.1, rtol=1e-3)
    np.testing.assert_allclose(np.abs(stiff - high) / high, 0.1, rtol=1e-3)
    assert (low < stiff).all()
    assert (high > stiff).all()


def test_before_shots_the_chance_of_a_match_is_by_moments():
    one, told = demand(MANY, column(1.0, 1.0, 1.0, 3.0)), belief()
    expected = chance_between(*moments(one, MANY, told), *match_limits(MANY, 0.1))
    np.testing.assert_allclose(chance_match(one, MANY, told, 0.1), expected)


def by_counting(one, own, told, tolerance):
    """Every draw of what is wanted, with a score for the shaft's own error, held against the limits."""
    draws = one.draws(told) + np.multiply.outer(own_sd_lb(one, told), own)
    low, high = match_limits(one.builds, tolerance)
    return ((draws >= low[:, None]) & (draws <= high[:, None])).mean(axis=1)


def test_after_shots_the_chance_of_a_match_is_the_share_of_draws(monkeypatch):
    told = belief(1100, learned=True)
    own = latin_hypercube(1, 1100, OWN_SEED)[0]
    one = demand(MANY, column(np.array([1.0, 2.0, 3.0]), 1.0, 4.0, 3.0))
    expected = by_counting(one, own, told, 0.1)
    assert (expected > 0.05).sum() >= 2
    np.testing.assert_array_equal(chance_match(one, MANY, told, 0.1), expected)
    monkeypatch.setattr(band, "_CHUNK", 2)
    np.testing.assert_array_equal(chance_match(one, MANY, told, 0.1), expected)
    monkeypatch.setattr(band, "_MANY", 3)
    np.testing.assert_array_equal(chance_match(one, MANY, told, 0.1), expected)
    monkeypatch.setattr(band, "_MANY", 2)
    few, own = told.some(slice(1024)), latin_hypercube(1, 1024, OWN_SEED)[0]
    np.testing.assert_array_equal(chance_match(one, MANY, told, 0.1), by_counting(one, own, few, 0.1))  # fmt: skip


def test_fewer_draws_are_the_first_thousand_and_twenty_four():
    told = belief(1025, learned=True)
    some = fewer_draws(told)
    assert some.size == 1024
    assert some.learned
    np.testing.assert_array_equal(some.scores["A"], told.scores["A"][:1024])
    assert fewer_draws(some) is some


# --- what can be tuned -----------------------------------------------------------------------------


def test_a_row_of_scores_is_the_same_however_many_follow():
    np.testing.assert_array_equal(_own_scores(3, 50), _own_scores(200, 50)[:3])
    assert _own_scores(129, 50).shape == (129, 50)
    assert _own_scores(128, 50).shape == (128, 50)


def shafts(rows):
    """Builds of several shafts: shaft, spine, length, front."""
    shaft, spine, length, front = np.array(rows, dtype=float).T
    return replace(builds(spine, length, front, spine_sd_pct=2.0), shaft=shaft.astype(np.int32))


ROWS = shafts([(0, 500, 28, 100), (0, 500, 29, 150), (0, 500, 31, 250), (1, 400, 28, 100), (1, 400, 30, 200),
               (2, 700, 28, 100)])  # fmt: skip


def test_a_shaft_can_be_tuned_in_a_draw_where_some_allowed_build_of_it_matches():
    x = ROWS.front_gr / 50
    one, told = demand(ROWS, column(x, -1.0, 2.0, 2.0), stated=55.0), belief(64)
    allowed = np.array([True, True, True, False, True, False])
    found, hit = tunable_draws(one, ROWS, allowed, told, 0.08)
    assert found.tolist() == [0, 1]
    assert hit.shape == (2, 64)
    draws = one.draws(told)
    for after in (0, 3):
        _, hit = tunable_draws(one, ROWS, allowed, told, 0.08, after)
        for k, shaft in enumerate((0, 1)):
            rows = np.flatnonzero((ROWS.shaft == shaft) & allowed)
            own = np.multiply.outer(own_sd_lb(one, told)[rows], _own_scores(9, 64)[after + k])
            supply = STIFF / ROWS.spine_mils[rows[0]]
            off = draws[rows] + own
            inside = (off >= supply / 1.08) & (off <= supply / 0.92)
            np.testing.assert_array_equal(hit[k], inside.any(axis=0))
        assert 0 < hit.mean() < 1


def test_nothing_allowed_is_no_shaft_and_only_the_first_draws_are_used():
    one, told = demand(ROWS), belief(1030)
    found, hit = tunable_draws(one, ROWS, np.zeros(6, dtype=bool), told, 0.08)
    assert found.shape == (0,)
    assert hit.shape == (0, 1030)
    assert tunable_draws(one, ROWS, np.ones(6, dtype=bool), told, 0.08)[1].shape == (3, 1024)


def test_one_build_of_each_half_inch_and_ten_grains_and_the_extremes_stand_for_a_shaft():
    """By a dictionary of cells, the first of each kept, and the least and most of what is wanted."""
    random = np.random.default_rng(6)
    n = 400
    rows = replace(
        builds(500.0, random.uniform(27, 31, n), random.uniform(100, 160, n), tail_gr=random.uniform(20, 23, n)),
        shaft=random.integers(0, 3, n).astype(np.int32), stiffening_gr=random.choice([0.0, 12.0, 31.0], n),
    )  # fmt: skip
    mean = random.normal(45, 2, n)
    index = np.flatnonzero(random.random(n) < 0.8)
    kept = _representatives(rows, index, mean)
    assert [set(rows.shaft[k]) for k in kept] == [{0}, {1}, {2}]
    for shaft, found in enumerate(kept):
        its = [i for i in index if rows.shaft[i] == shaft]
        cells = {}
        for i in its:
            cell = (round(rows.length_in[i] / 0.5), round(rows.front_gr[i] / 10),
                    round(rows.stiffening_gr[i] / 10), round(rows.tail_gr[i] / 1.0))  # fmt: skip
            cells.setdefault(cell, i)
        extremes = {min(its, key=lambda i: mean[i]), max(its, key=lambda i: mean[i])}
        assert set(found.tolist()) == set(cells.values()) | extremes
        assert found.tolist() == sorted(found.tolist())


def test_of_equal_extremes_the_first_least_and_the_last_most_are_kept():
    alike = shafts([(0, 500, 29, 150)] * 4)
    assert [k.tolist() for k in _representatives(alike, np.arange(4), np.array([1.0, 2.0, 1.0, 2.0]))] == [[0, 3]]  # fmt: skip
    assert math.isclose(stiffness_lb(alike)[0], STIFF / 500, rel_tol=1e-5)


def test_more_cells_than_sixteen_bits_hold_are_told_apart():
    """Lengths, fronts, collars and tails a thousand steps apart: more combinations than 65,536."""
    rows = replace(
        shafts([(0, 500, 20, 100), (0, 500, 40, 100), (0, 500, 20, 600), (0, 500, 40, 600)] * 2),
        stiffening_gr=np.array([0.0, 0.0, 0.0, 900.0] * 2), tail_gr=np.array([10.0] * 4 + [60.0] * 4),
    )  # fmt: skip
    assert len(_representatives(rows, np.arange(8), np.arange(8.0))[0]) == 8
