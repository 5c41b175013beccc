"""An arrow's own error: alike for arrows that are alike, known best where it was shot (Kennedy & O'Hagan 2001, recalled)."""

import dataclasses
import functools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference import own_error
from shaftwright.inference.own_error import alike, joined, left_over, pivots_of, traits_of
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY

RIG = load_rig("examples/heron_marsh/rig.yaml")
SHOP = load_stock("examples/heron_marsh/stock.csv")
lengths = st.lists(st.floats(27, 33), min_size=1, max_size=20)


def traits(length, front=200.0, spine=500.0, wood=False, rig=RIG):
    return traits_of(rig, builds_by_numbers(spine, np.atleast_1d(length), front, wood=wood))


def test_as_the_kernel_says():
    """exp(-1/2 (2.5 / 2.5)^2), and so on; half for wood, nine tenths for another plate, three for other limbs."""
    one = traits(29.0)
    apart = np.exp(-0.5)
    assert alike(one, traits(31.5))[0, 0] == pytest.approx(apart)
    assert alike(one, traits(29.0, front=290.0))[0, 0] == pytest.approx(apart)
    assert alike(one, traits(29.0, spine=500 * np.exp(-0.25)))[0, 0] == pytest.approx(apart)
    assert alike(one, traits(29.0, wood=True))[0, 0] == pytest.approx(0.5)
    bow = RIG.bow.model_copy(update={"brace_height_in": 8.0})
    assert alike(one, traits(29.0, rig=RIG.model_copy(update={"bow": bow})))[0, 0] == pytest.approx(
        0.9
    )
    bow = RIG.bow.model_copy(update={"limbs_id": "others"})
    assert alike(one, traits(29.0, rig=RIG.model_copy(update={"bow": bow})))[0, 0] == pytest.approx(
        0.3
    )


@settings(max_examples=30, deadline=None)
@given(lengths, st.floats(100, 300), st.floats(300, 900))
def test_shares_give_back_how_alike_the_shot_ones_are(many, front, spine):
    """By NumPy's own Cholesky factor: shares times shares are the kernel among the pivots, and never past 1."""
    usual = own_error.usual_traits(RIG, 47.0)
    shot = traits(np.array(many), front, spine)
    errors = pivots_of(shot, usual)
    assert len(errors.pivots) <= own_error.PIVOTS
    own = errors.shares(errors.pivots)
    assert own @ own.T == pytest.approx(alike(errors.pivots, errors.pivots), abs=1e-6)
    everything = errors.shares(joined([shot, usual]))
    assert np.all(np.square(everything).sum(axis=1) <= 1 + 1e-6)
    if len(many) == 1:
        assert left_over(errors.shares(shot)) == pytest.approx(0, abs=1e-3)


def end(length, off, front=175):
    at = [[off, 0.5], [off - 1, -0.5], [off + 1, 0]]
    return ENTRY.validate_python({
        "kind": "bareshaft", "date": "2026-05-01", "distance": 20, "taped": True, "marks": "none",
        "build": {"shaft": "MARSH-500", "length": length, "point": f"P{front}", "insert": "I25", "nock": "N246",
                  "fletching": "F3x4"},
        "fletched": [[0, 0], [1, 1], [-1, -1]], "bare": [{"at": a} for a in at],
    })  # fmt: skip


@functools.cache
def after(ends, off=-5.0):
    return scenario(RIG, stock=SHOP, entries=[end(30, off)] * ends)


def spread(told, length, front=200.0, spine=500.0):
    build = builds_by_numbers(spine, length, front)
    return float(told.demand(build).draws(told.belief)[0].std())


def test_what_was_shot_is_known_best():
    """The farther an arrow is from those shot, the less is known of it, however many ends were shot."""
    told = after(8)
    widths = [
        spread(told, length, front) for length, front in ((30, 200), (31.5, 200), (31.5, 300))
    ]
    assert widths == sorted(widths)
    assert widths[2] > 1.3 * widths[0]


def test_more_ends_mend_what_the_rules_get_wrong():
    """A bow in which front mass does nothing: the rules' step of 3 lb for 25 gr is unlearned."""

    def step(ends):
        told = scenario(RIG, stock=SHOP, entries=[end(30, 0.0, 175), end(30, 0.0, 250)] * ends)
        light, heavy = (b.mismatch_lb.mean() for b in told.known.builds)
        return abs(light - heavy)

    few, many = step(1), step(8)
    assert many < 0.6 * few


def test_before_any_shot_it_widens_every_arrow_alike():
    """5 % of the draw weight (3 to 8), log-normal: E s^2 = 5^2 exp(2 x 0.25^2)."""
    told = scenario(RIG)
    builds = builds_by_numbers([400, 500, 600], [29, 30, 32], [150, 200, 250])
    demand = told.demand(builds)
    without = dataclasses.replace(demand, own_lb=0.0)
    more = demand.cumulants[0] - without.cumulants[0]
    log_sd = np.log(8 / 3) / (2 * 1.959964)
    assert more == pytest.approx((0.05 * demand.own_lb) ** 2 * np.exp(2 * log_sd**2), rel=1e-4)
    draws = demand.draws(told.belief).var(axis=1) + demand.left_over_lb(told.belief) ** 2
    assert draws == pytest.approx(demand.cumulants[0], rel=0.06)
