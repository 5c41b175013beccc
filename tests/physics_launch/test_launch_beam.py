"""The Ritz beam against published frequencies and buckling loads, and by a second method."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.linalg import eigh, null_space

from shaftwright.physics.launch.beam import free_free_beam, modes_at


def unit_beam(front=0.0, rear=0.0, fletching=0.0, station=0.1, bending_modes=4):
    one = np.ones(1)
    return free_free_beam(
        one,
        one,
        one,
        front * one,
        rear * one,
        fletching * one,
        station * one,
        bending_modes=bending_modes,
    )


def test_free_free_bar_blevins_1979():
    # numbers seen in secondary pages; the third differs from the Ritz value by 1e-5
    beta = unit_beam().omega_squared[0, 2:5] ** 0.25
    np.testing.assert_allclose(beta, [4.73004, 7.85320, 10.99561], rtol=2e-5)


def test_first_mode_nodes_blevins_1979():
    shape = modes_at(unit_beam().coefficients, np.array([[0.2242, 0.7758, 0.5]]), np.ones(1))[
        0, :, 2
    ]
    assert abs(shape[:2] / shape[2]).max() < 3e-4


def test_end_masses_exact_transcendental_equation():
    # rear 0.05 and front 0.5 of the shaft's mass; front alone 0.25, 0.5, 1: (beta L)^2
    np.testing.assert_allclose(
        np.sqrt(unit_beam(0.5, 0.05).omega_squared[0, 2:5]), [15.7604, 48.1835, 99.5938], rtol=5e-6
    )
    firsts = [float(np.sqrt(unit_beam(r).omega_squared[0, 2])) for r in (0.25, 0.5, 1.0, 1e7)]
    np.testing.assert_allclose(firsts, [18.0537, 17.0415, 16.3364, 15.4182], atol=6e-5)


def test_worked_arrow_exact():
    # 0.500 spine, 28 in, 8 gr/in, 112 gr front, 10 gr rear: 78.878, 240.806, 497.174 Hz, FOC 14.74 %
    grain, inch = 64.79891e-6, 0.0254
    args = (28 * inch, 5.0924, 8 * grain / inch, 112 * grain, 10 * grain, 0.0, 3 * inch)
    beam = free_free_beam(*(np.array([x]) for x in args))
    np.testing.assert_allclose(
        np.sqrt(beam.omega_squared[0, 2:5]) / (2 * np.pi), [78.878, 240.806, 497.174], rtol=1e-5
    )
    foc = 100 * (beam.balance[0] - 14 * inch) / (28 * inch)
    assert foc == pytest.approx(14.74, abs=0.005)


def critical_thrust(beam, constraints):
    """Smallest thrust at which the beam's stiffness under a steady push becomes singular."""
    free = null_space(constraints)
    stiffness = free.T @ np.diag(beam.omega_squared[0]) @ free
    thrust = free.T @ beam.thrust[0] @ free
    return beam.mass[0] / eigh(thrust, stiffness, eigvals_only=True)[-1], free


@pytest.mark.parametrize(
    ("front", "c"), [(0.0, 18.569), (0.5, 14.562), (1.0, 13.062), (1e6, 9.8696)]
)
def test_buckling_pinned_ends_exact_euler(front, c):
    # thrust at the nock, both ends held sideways: F = c EI / L^2; the last is Euler's column
    beam = unit_beam(front, bending_modes=10)
    ends = modes_at(beam.coefficients, np.array([[0.0, 1.0]]), np.ones(1))[0]
    # with an enormous tip mass, the acceleration is the thrust over that mass
    assert critical_thrust(beam, ends)[0] == pytest.approx(c, rel=2e-4)


@pytest.mark.parametrize(("front", "c"), [(0.0, 7.837), (1e6, 2.467)])
def test_buckling_cantilever_timoshenko_gere_recalled(front, c):
    # clamped at the nock, own weight and tip load
    beam = unit_beam(front, bending_modes=10)
    near = modes_at(beam.coefficients, np.array([[0.0, 1e-5]]), np.ones(1))[0]
    clamp = np.stack([near[0], (near[1] - near[0]) / 1e-5])
    assert critical_thrust(beam, clamp)[0] == pytest.approx(c, rel=1e-3)


@pytest.mark.parametrize(("part", "diverges"), [(0.97, False), (1.03, True)])
@pytest.mark.slow
def test_thrust_beyond_buckling_diverges_exact(part, diverges):
    # pinned ends, front half the shaft's mass, c = 14.562: bounded below, growing above
    beam = unit_beam(0.5, bending_modes=6)
    ends = modes_at(beam.coefficients, np.array([[0.0, 1.0]]), np.ones(1))[0]
    free = null_space(ends)
    acceleration = part * 14.562 / beam.mass[0]
    stiffness = free.T @ (np.diag(beam.omega_squared[0]) - acceleration * beam.thrust[0]) @ free
    n = len(stiffness)
    start = np.concatenate([np.full(n, 1e-3), np.zeros(n)])

    def rates(_, state):
        return np.concatenate([state[n:], -stiffness @ state[:n]])

    largest = abs(solve_ivp(rates, (0, 4.0), start, rtol=1e-8, atol=1e-10).y[:n]).max()
    assert (largest > 0.1) == diverges


def finite_elements(length, stiffness, per_length, front, tail, fletching, station, elements=24):
    """Mass, bending and thrust matrices by Hermite elements: a second method, own code."""
    nodes = np.unique(np.append(np.linspace(0, length, elements + 1), station))
    size = 2 * len(nodes)
    mass, bend, thrust = np.zeros((size, size)), np.zeros((size, size)), np.zeros((size, size))
    x, w = np.polynomial.legendre.leggauss(5)
    for i, (left, right) in enumerate(pairwise(nodes)):
        h = right - left
        for xi, weight in zip((x + 1) / 2, w / 2, strict=True):
            n = np.array(
                [
                    1 - 3 * xi**2 + 2 * xi**3,
                    h * (xi - 2 * xi**2 + xi**3),
                    3 * xi**2 - 2 * xi**3,
                    h * (xi**3 - xi**2),
                ]
            )
            d = (
                np.array(
                    [
                        -6 * xi + 6 * xi**2,
                        h * (1 - 4 * xi + 3 * xi**2),
                        6 * xi - 6 * xi**2,
                        h * (3 * xi**2 - 2 * xi),
                    ]
                )
                / h
            )
            c = np.array([-6 + 12 * xi, h * (-4 + 6 * xi), 6 - 12 * xi, h * (6 * xi - 2)]) / h**2
            at = left + xi * h
            ahead = front + per_length * (length - at) + (fletching if at < station else 0.0)
            where = slice(2 * i, 2 * i + 4)
            mass[where, where] += weight * h * per_length * np.outer(n, n)
            bend[where, where] += weight * h * stiffness * np.outer(c, c)
            thrust[where, where] += weight * h * ahead * np.outer(d, d)
    mass[0, 0] += tail
    mass[-2, -2] += front
    k = 2 * int(np.flatnonzero(nodes == station)[0])
    mass[k, k] += fletching
    return nodes, mass, bend, thrust


@settings(max_examples=15, deadline=None)
@given(
    front=st.floats(0.1, 1.5),
    tail=st.floats(0.0, 0.2),
    fletching=st.floats(0.0, 0.1),
    station=st.floats(0.05, 0.3),
)
def test_modes_and_thrust_against_finite_elements(front, tail, fletching, station):
    assume(
        abs(24 * station - round(24 * station)) > 1e-2
    )  # a sliver of an element is ill-conditioned
    beam = unit_beam(front, tail, fletching, station)
    _, mass, bend, thrust = finite_elements(1.0, 1.0, 1.0, front, tail, fletching, station)
    values, vectors = eigh(bend, mass, subset_by_index=[2, 5])
    np.testing.assert_allclose(beam.omega_squared[0, 2:], values, rtol=1e-2)
    np.testing.assert_allclose(beam.omega_squared[0, 2:4], values[:2], rtol=1e-3)
    modal = vectors.T @ thrust @ vectors
    np.testing.assert_allclose(np.diag(beam.thrust[0])[2:4], np.diag(modal)[:2], rtol=5e-3)
    # rotation: the torque of the push is thrust times the balance point's lever
    inertia, balance = beam.inertia[0], beam.balance[0]
    assert beam.thrust[0, 1, 1] * inertia == pytest.approx(beam.mass[0] * balance)
    assert beam.thrust[0, 0] == pytest.approx(np.zeros(6), abs=1e-12)


def test_stiffness_and_length_scale_as_euler_bernoulli():
    # omega^2 ~ EI / (mu L^4), all mass ratios kept
    one = np.ones(1)
    small = free_free_beam(one, one, one, 0.4 * one, 0.1 * one, 0.05 * one, 0.1 * one)
    large = free_free_beam(2 * one, 3 * one, 5 * one, 4 * one, one, 0.5 * one, 0.2 * one)
    np.testing.assert_allclose(
        large.omega_squared, small.omega_squared * 3 / (5 * 16), rtol=1e-9, atol=1e-9
    )
    np.testing.assert_allclose(large.inertia, small.inertia * 10 * 4)
