"""Frequencies and buckling: handbook values, exact roots and finite elements."""

import beam_fe
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.physics.arrow import Arrow
from shaftwright.physics.bending import critical_thrust_n, frequencies_hz
from shaftwright.units import GRAIN_KG, INCH_M

#: stands for an infinite end mass, in shaft masses
HUGE = 1e8


def roots(tail, front, n=3):
    """beta L, so that the angular frequency is (beta L)^2 sqrt(EI / (mu L^4))."""
    return np.sqrt(2 * np.pi * frequencies_hz(Arrow(1.0, 1.0, 1.0, front, tail), n))


def test_free_free_roots_blevins_handbook():
    assert roots(0.0, 0.0) == pytest.approx([4.73004, 7.85320, 10.99561], abs=5e-6)


def test_roots_with_end_masses_exact():
    assert roots(0.05, 0.5) ** 2 == pytest.approx([15.7604, 48.1835, 99.5938], abs=5e-5)


@pytest.mark.parametrize(
    ("ratio", "square"), [(0.25, 18.0537), (0.5, 17.0415), (1.0, 16.3364), (HUGE, 15.4182)]
)
def test_front_mass_ratio_exact(ratio, square):
    assert roots(0.0, ratio, 1) ** 2 == pytest.approx(square, abs=5e-5)
    # a mass on the nock instead of the tip is the same bar turned round
    assert roots(ratio, 0.0, 1) ** 2 == pytest.approx(square, abs=5e-5)


def test_two_pinned_ends_give_whole_multiples_of_pi():
    assert roots(HUGE, HUGE, 4) == pytest.approx(np.arange(1, 5) * np.pi)


def test_infinite_tip_mass_is_the_pinned_free_bar():
    # tan z = tanh z, by another solver
    from scipy.optimize import brentq

    for k, root in enumerate(roots(0.0, HUGE, 3), start=1):
        exact = brentq(lambda z: np.tan(z) - np.tanh(z), k * np.pi + 0.1, k * np.pi + 1.5)
        assert root == pytest.approx(exact, rel=1e-7)


def the_500(front=112.0, spine_in=0.5, length_in=28.0, gr_per_in=8.0, tail=10.0, **more):
    return Arrow(
        length_in * INCH_M, 2.54618 / spine_in, gr_per_in * GRAIN_KG / INCH_M,
        front * GRAIN_KG, tail * GRAIN_KG, **more,
    )  # fmt: skip


def test_frequencies_of_a_500_at_28_inches_exact():
    assert frequencies_hz(the_500()) == pytest.approx([78.878, 240.806, 497.174], abs=1e-3)
    assert beam_fe.frequencies(the_500()) == pytest.approx([78.878, 240.806, 497.174], abs=2e-3)


@pytest.mark.parametrize(
    ("unknown", "right"),
    [("spine_in", 0.5), ("front", 112.0), ("length_in", 28.0), ("gr_per_in", 8.0), ("tail", 10.0)],
)
def test_first_frequency_solved_for_each_unknown(unknown, right):
    from scipy.optimize import brentq

    def miss(x):
        return float(frequencies_hz(the_500(**{unknown: x}), 1)[0]) - 78.878

    assert brentq(miss, 0.6 * right, 1.6 * right) == pytest.approx(right, rel=2e-3)


@pytest.mark.parametrize(
    ("ratio", "coefficient"), [(0.0, 18.569), (0.5, 14.562), (1.0, 13.062), (1e12, 9.8696)]
)
def test_critical_thrust_coefficients_exact(ratio, coefficient):
    arrow = Arrow(0.7, 5.0, 0.02, 0.014 * ratio, 0.0)
    assert critical_thrust_n(arrow) * 0.7**2 / 5.0 == pytest.approx(coefficient, abs=5e-4)
    if ratio < 10:
        assert beam_fe.thrust(arrow) * 0.7**2 / 5.0 == pytest.approx(coefficient, abs=2e-3)


@pytest.mark.parametrize(("top", "load", "coefficient"), [(1.0, 0.0, 7.837), (0.0, 1.0, 2.467)])
def test_cantilever_columns_timoshenko_gere_recalled(top, load, coefficient):
    """The finite elements that check us are themselves checked against the handbook."""
    from scipy.linalg import eigh

    arrow = Arrow(1.0, 1.0, 1.0, 0.0 if top else 1e9, 0.0)
    k, _, g = beam_fe.assemble(arrow)
    keep = np.arange(2, len(k))  # clamped at the nock
    values = eigh(g[np.ix_(keep, keep)], k[np.ix_(keep, keep)], eigvals_only=True)
    assert 1 / values[-1] == pytest.approx(coefficient, abs=1e-3)


def test_tail_mass_raises_the_thrust_that_buckles():
    """Thrust that pushes the tail's own mass never enters the shaft."""
    light, heavy = the_500(tail=0.0), the_500(tail=40.0)
    assert critical_thrust_n(heavy) / critical_thrust_n(light) == pytest.approx(376 / 336)


STEPPED = {
    "insert": (0.03, 3.0, 0.003),
    "collar": (0.012, 8.0, 0.002),
    "long stiff front": (0.2, 1.5, 0.0),
}


@pytest.mark.parametrize("name", STEPPED)
def test_stepped_shafts_agree_with_finite_elements(name):
    arrow = Arrow(0.72, 5.5, 0.021, 0.011, 0.0012, *STEPPED[name])
    assert frequencies_hz(arrow) == pytest.approx(beam_fe.frequencies(arrow, elements=72), rel=3e-5)
    assert critical_thrust_n(arrow) == pytest.approx(beam_fe.thrust(arrow, elements=72), rel=3e-4)


shafts = st.tuples(
    st.floats(0.55, 0.9), st.floats(1.5, 15.0), st.floats(0.01, 0.05), st.floats(0.0, 0.04),
    st.floats(0.0, 0.005),
)  # fmt: skip


def transcendental(z, a, b):
    """Nought at the roots of a free uniform bar with end masses a and b, over cosh z."""
    s, c, th, sech = np.sin(z), np.cos(z), np.tanh(z), 1 / np.cosh(z)
    return c - sech + (a + b) * z * (c * th - s) - 2 * a * b * z**2 * s * th


@settings(max_examples=40, deadline=None)
@given(shafts)
@pytest.mark.slow
def test_frequencies_solve_the_exact_equation_and_agree_with_finite_elements(values):
    length, _, mu, front, tail = values
    arrow = Arrow(*values)
    z = np.sqrt(2 * np.pi * frequencies_hz(arrow) * np.sqrt(mu * length**4 / values[1]))
    low, high = (
        transcendental(z * k, tail / (mu * length), front / (mu * length))
        for k in (1 - 1e-7, 1 + 1e-7)
    )
    assert (low * high < 0).all()
    assert beam_fe.frequencies(arrow, elements=40) == pytest.approx(frequencies_hz(arrow), rel=2e-5)
    # a collar that does not stiffen is no collar
    collared = Arrow(*values, 0.1, 1.0, 0.0)
    assert frequencies_hz(collared) == pytest.approx(frequencies_hz(arrow), rel=1e-7)
    assert critical_thrust_n(collared) == pytest.approx(float(critical_thrust_n(arrow)), rel=1e-6)


@given(shafts, st.floats(1.01, 2.0))
def test_frequency_falls_with_mass_and_rises_with_stiffness(values, factor):
    length, ei, mu, front, tail = values
    here = frequencies_hz(Arrow(*values))
    assert np.all(frequencies_hz(Arrow(length, ei, mu, front + 0.001, tail)) < here)
    assert np.all(frequencies_hz(Arrow(length, ei, mu, front, tail + 0.001)) < here)
    stiffer = frequencies_hz(Arrow(length, ei * factor, mu, front, tail))
    assert stiffer == pytest.approx(here * np.sqrt(factor), rel=1e-12)


@given(shafts, st.floats(0.5, 2.0))
def test_frequency_scales_with_size(values, scale):
    """A copy scaled in size, of one material, rings lower by the scale."""
    length, ei, mu, front, tail = values
    copy = Arrow(length * scale, ei * scale**4, mu * scale**2, front * scale**3, tail * scale**3)
    assert frequencies_hz(copy) == pytest.approx(frequencies_hz(Arrow(*values)) / scale, rel=1e-9)


def test_finite_elements_converge_at_the_fourth_order():
    exact = frequencies_hz(the_500(), 1)[0]
    coarse = beam_fe.frequencies(the_500(), 1, elements=4)[0] / exact - 1
    fine = beam_fe.frequencies(the_500(), 1, elements=8)[0] / exact - 1
    assert np.log2(coarse / fine) == pytest.approx(4.0, abs=0.2)


def test_many_builds_equal_each_alone():
    rng = np.random.default_rng(3)
    n = 50
    columns = (
        rng.uniform(0.65, 0.8, n), rng.uniform(3, 9, n), rng.uniform(0.015, 0.03, n),
        rng.uniform(0.005, 0.02, n), rng.uniform(0.0005, 0.003, n), rng.uniform(0.0, 0.05, n),
        rng.uniform(1.0, 3.0, n),
    )  # fmt: skip
    many = Arrow(*columns)
    alone = [Arrow(*row) for row in zip(*columns, strict=True)]
    assert np.allclose(frequencies_hz(many), [frequencies_hz(a) for a in alone], rtol=1e-10)
    assert np.allclose(critical_thrust_n(many), [critical_thrust_n(a) for a in alone], rtol=1e-10)
    grid = Arrow(np.array([[0.7], [0.75]]), np.array([4.0, 5.0, 6.0]), 0.02, 0.01, 0.001, 0.04, 2.0)
    assert frequencies_hz(grid).shape == (2, 3, 3)
