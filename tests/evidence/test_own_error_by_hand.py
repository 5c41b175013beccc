"""An arrow's own error piece by piece: traits by hand, the kernel by a plain loop, pivots by a greedy search."""

import numpy as np
import pytest

from shaftwright.files.rig import load_rig
from shaftwright.inference import own_error
from shaftwright.inference.own_error import (
    OwnErrors,
    alike,
    joined,
    left_over,
    mean_square,
    pivots_of,
    size_doubt,
    sizes,
    traits_of,
    usual_traits,
)
from shaftwright.parameters import parameters, setting
from shaftwright.records.builds import builds_by_numbers

RIG = load_rig("examples/heron_marsh/rig.yaml")
RANDOM = np.random.default_rng(3)


def bow(**told):
    return RIG.model_copy(update={"bow": RIG.bow.model_copy(update=told)})


def traits(n=8, rig=RIG, wood=False):
    return traits_of(rig, builds_by_numbers(
        RANDOM.uniform(300, 900, n), RANDOM.uniform(27, 32, n), RANDOM.uniform(100, 300, n), RANDOM.uniform(10, 60, n),
        wood=wood))  # fmt: skip


def test_traits_are_over_the_distances_at_which_arrows_stop_being_alike():
    made = builds_by_numbers([500.0, 40000.0], 29.0, 200.0, 30.0, wood=True)
    found = traits_of(RIG, made)
    names = ("length_in", "front_gr", "tail_gr")
    told = [v / setting(f"own_error.{n}") for n, v in zip(names, (29, 200, 30), strict=True)]
    # a shaft weaker than a pound counts as one of a pound
    stiff = np.log([31499.2 / 500, 1.0]) / setting("own_error.log_stiffness")
    np.testing.assert_allclose(found.x[0], [*told, stiff[0]], rtol=1e-5)
    np.testing.assert_allclose(found.x[1], [*told, stiff[1]], rtol=1e-5, atol=1e-5)
    assert found.wood.tolist() == [1, 1]
    assert len(found) == 2
    wanted = found.as_stiff_as(np.array([50.0, 60.0]))
    np.testing.assert_allclose(wanted.x[:, 3], np.log([50.0, 60.0]) / setting("own_error.log_stiffness"))  # fmt: skip
    np.testing.assert_allclose(wanted.x[:, :3], found.x[:, :3])
    np.testing.assert_allclose(found.x[0, 3], stiff[0], rtol=1e-5)  # the first set stays


def test_arrows_are_alike_by_a_squared_exponential_and_a_share_for_what_differs():
    one = joined([traits(3), traits(2, bow(brace_height_in=9.0), wood=True)])
    other = joined([traits(2), traits(2, bow(limbs_id="else"))])
    found = alike(one, other)
    assert found.shape == (5, 4)
    for i in range(5):
        for k in range(4):
            expected = np.exp(-np.square(one.x[i] - other.x[k]).sum() / 2)
            if one.wood[i] != other.wood[k]:
                expected *= setting("own_error.other_wood")
            if one.setting[i] != other.setting[k]:
                expected *= setting("own_error.other_setting")
            if one.limbs[i] != other.limbs[k]:
                expected *= setting("own_error.other_limbs")
            assert found[i, k] == pytest.approx(expected)
    some = one.take(slice(1, 3))
    np.testing.assert_array_equal(some.x, one.x[1:3])
    assert len(some.wood) == len(some.setting) == len(some.limbs) == 2


def greedy(candidates, first):
    """At every turn the one of which least is known, by solving the whole kernel anew."""
    between, chosen = alike(candidates, candidates), []
    while len(chosen) < own_error.PIVOTS:
        known = np.zeros(len(candidates))
        if chosen:
            to = between[:, chosen]
            known = np.einsum("ij,ji->i", to, np.linalg.solve(between[np.ix_(chosen, chosen)], to.T))  # fmt: skip
        rest = 1 - known
        own = rest[:first] if first and rest[:first].max() > 1e-6 else rest
        at = int(np.argmax(own.round(9)))
        if rest[at] <= 1e-6:
            break
        chosen.append(at)
    return chosen, between[np.ix_(chosen, chosen)]


@pytest.mark.parametrize("shot", [0, 3, 20])
def test_pivots_are_what_was_shot_then_the_usual_always_the_least_like_those_before(shot):
    usual = usual_traits(RIG, 47.0)
    own = traits(shot) if shot else None
    candidates = usual if own is None else joined([own, usual])
    chosen, between = greedy(candidates, shot)
    found = pivots_of(own, usual)
    np.testing.assert_array_equal(found.pivots.x, candidates.x[chosen])
    np.testing.assert_allclose(found.root @ between @ found.root.T, np.eye(len(chosen)), atol=1e-6)
    assert len(chosen) == own_error.PIVOTS == 12


def test_the_same_arrow_twice_is_one_pivot_and_few_arrows_are_few():
    one = traits(1)
    found = pivots_of(joined([one, one]), one)
    assert len(found.pivots) == 1
    np.testing.assert_allclose(found.root, [[1]])


def test_shares_are_likeness_times_root():
    carried = pivots_of(None, usual_traits(RIG, 47.0))
    many = traits(7)
    whole = carried.shares(many)
    np.testing.assert_allclose(whole, alike(many, carried.pivots) @ carried.root.T)
    assert isinstance(carried, OwnErrors)


def test_what_is_left_over_is_the_rest_of_a_whole():
    assert left_over(np.array([[0.6, 0.0], [0.6, 0.8], [0.9, 0.9]])).tolist() == pytest.approx([0.8, 0, 0])  # fmt: skip


def test_usual_arrows_are_every_combination_about_draw_and_weight():
    found = usual_traits(RIG, 47.0)
    length = (RIG.archer.draw_length_in + np.array([0.75, 2.5, 4.5])) / setting("own_error.length_in")  # fmt: skip
    front = np.array([125, 200, 275]) / setting("own_error.front_gr")
    stiff = (np.log(47) + np.array([-0.3, 0.0, 0.3])) / setting("own_error.log_stiffness")
    assert len(found) == 27
    for column, values in ((0, length), (1, front), (3, stiff)):
        np.testing.assert_allclose(np.unique(found.x[:, column].round(9)), values, rtol=1e-6)
    assert len(np.unique(found.x.round(6), axis=0)) == 27


def test_sizes_are_log_normal_over_their_range():
    span = parameters("own_error")["size_pct"]
    median, doubt = size_doubt()
    assert median == span.value / 100
    assert doubt == pytest.approx(np.log(span.high / span.low) / 3.92, rel=1e-4)
    np.testing.assert_allclose(sizes(np.array([-1.0, 0.0, 2.0])), median * np.exp(doubt * np.array([-1.0, 0, 2])))  # fmt: skip
    drawn = sizes(RANDOM.standard_normal(100_000))
    assert mean_square() == pytest.approx((drawn**2).mean(), rel=0.02)
