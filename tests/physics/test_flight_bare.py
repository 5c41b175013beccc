"""The bare shaft in flight: trim, turn, offset and attitude."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from shaftwright.physics.air import Air
from shaftwright.physics.arrow import Arrow, foc_pct
from shaftwright.physics.bare_flight import (
    BareShaft,
    bare_flight,
    fin_slope_per_rad,
    loads,
    trim_angle_rad,
)
from shaftwright.units import YARD_M

STANDARD = Air.at()
DISTANCES = np.array([10, 15, 20, 30]) * YARD_M


def shaft(front=0.0145, **more):
    return BareShaft.of(Arrow(0.74, 5.0, 0.0235, front, 0.0008), 0.0075, **more)


def fletched():
    slope = fin_slope_per_rad(3, 0.014, 0.10, 0.05, 0.03, 0.0075)
    return shaft(fin_slope=slope, fin_at_m=0.07)


@pytest.mark.parametrize(("foc", "degrees"), [(8, 3.1), (12, 1.9), (15, 1.4), (20, 0.9)])
def test_trim_angle_from_barrowman_constants(foc, degrees):
    """A 0.72 m, 5.2 mm shaft; calculated from the constants, no measurement found."""
    angle = trim_angle_rad(0.72, 0.0052, foc)
    assert np.degrees(angle) == pytest.approx(degrees, abs=0.05)
    # and there the loads that fly the shaft have no moment, on either side of it they have
    bare = BareShaft(0.72, 0.0052, 0.025, 0.72 * (0.5 + foc / 100), 1e-3)
    scale = float(loads(bare, STANDARD, 55.0, angle / 2)[1])
    assert float(loads(bare, STANDARD, 55.0, angle)[1]) == pytest.approx(0.0, abs=2e-3 * scale)
    assert (
        loads(bare, STANDARD, 55.0, angle * 0.9)[1]
        > 0
        > loads(bare, STANDARD, 55.0, angle * 1.1)[1]
    )


def test_unstable_at_tiny_angles_grows_at_the_linear_rate():
    """With lift on the nose alone an angle grows as cosh of distance over a length."""
    bare = BareShaft(0.74, 0.0075, 1e6, 0.45, 1.6e-3)  # so heavy that the path stays straight
    section = np.pi * 0.0075**2 / 4
    arm = 0.74 - 0.45
    damping = 1.225 * section * arm**2 / 1.6e-3 / 2  # of the nose's own angle, per metre
    stiffness = 1.225 * section * arm / 1.6e-3
    tiny = 1e-7
    at = bare_flight(bare, 55.0, 0.0, tiny, [10.0])
    roots = np.roots([1, 2 * damping, -stiffness])
    a, b = roots
    exact = tiny * (a * np.exp(b * 10) - b * np.exp(a * 10)) / (a - b)
    assert at.attack_rad[0] == pytest.approx(exact, rel=1e-4)


@pytest.mark.parametrize(("turn", "attack"), [(2.0, 0.0), (-6.0, 0.01), (0.0, 0.06), (12.0, -0.02)])
def test_bare_flight_against_scipy_in_time(turn, attack):
    bare = shaft()
    speed, mass, inertia = 52.0, float(bare.mass_kg), float(bare.inertia_kg_m2)
    length, diameter, balance = 0.74, 0.0075, float(bare.balance_m)
    x = (np.arange(400) + 0.5) / 400 * length - balance  # strips, summed by hand

    def rates(_t, state):
        _, path, angle, rate = state
        across = speed * np.sin(angle - path)
        wind = across - rate * x
        strip = 1.225 / 2 * 1.1 * diameter * wind * np.abs(wind) * length / 400
        nose = (
            1.225 / 2 * speed * np.pi * diameter**2 / 4 * 2 * (across - rate * (length - balance))
        )
        force = strip.sum() + nose
        moment = (strip * x).sum() + nose * (length - balance)
        return [speed * path, force / (mass * speed), rate, moment / inertia]

    run = solve_ivp(
        rates, [0, DISTANCES[-1] / speed], [0, 0, attack, turn], t_eval=DISTANCES / speed,
        rtol=1e-9, atol=1e-12,
    )  # fmt: skip
    at = bare_flight(bare, speed, turn, attack, DISTANCES)
    assert at.offset_m == pytest.approx(run.y[0], abs=2e-3)
    assert at.attack_rad == pytest.approx(run.y[2] - run.y[1], abs=2e-3)


def test_steps_converge_at_fourth_order():
    exact = bare_flight(shaft(), 52.0, 0.5, 0.02, [8.0], longest_step_m=0.02).offset_m
    coarse, fine = (
        float(bare_flight(shaft(), 52.0, 0.5, 0.02, [8.0], longest_step_m=h).offset_m[0] - exact[0])
        for h in (1.0, 0.5)
    )
    # a shade better than the fourth order at these steps, never worse
    assert 3.7 < np.log2(abs(coarse / fine)) < 5.0


def test_without_air_the_shaft_turns_freely_on_a_straight_path():
    at = bare_flight(shaft(), 50.0, 3.0, 0.01, DISTANCES, Air(0.0, 1.8e-5))
    assert np.all(at.offset_m == 0)
    assert at.attack_rad == pytest.approx(0.01 + 3.0 * DISTANCES / 50.0)


states = st.tuples(st.floats(-8, 8), st.floats(-0.05, 0.05))


@settings(max_examples=15, deadline=None)
@given(states)
@pytest.mark.slow
def test_the_other_hand_is_the_mirror(state):
    turn, attack = state
    one, other = (bare_flight(shaft(), 52.0, s * turn, s * attack, DISTANCES) for s in (1, -1))
    assert np.allclose(one.offset_m, -other.offset_m, atol=1e-12)
    assert np.allclose(one.attack_rad, -other.attack_rad, atol=1e-12)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.2, 4.0))
@pytest.mark.slow
def test_stiff_exit_lands_away_from_the_riser_published_signs(turn):
    """Nose away from the riser (nock right, right-handed): lands left, which is +y."""
    at = bare_flight(shaft(), 52.0, turn, 0.0, DISTANCES)
    assert np.all(at.offset_m > 0)
    assert np.all(np.diff(at.offset_m) > 0)
    assert at.attack_rad[0] > 0


def test_high_front_of_centre_calms_the_shaft():
    """Same exit, same mass of shaft: more of it in front drifts less and trims straighter."""
    fronts = np.array([0.006, 0.010, 0.016, 0.024])
    build = Arrow(0.74, 5.0, 0.0235, fronts, 0.0008)
    at = bare_flight(BareShaft.of(build, 0.0075), 52.0, 0.0, np.radians(1.0), [20 * YARD_M])
    assert np.all(np.diff(np.abs(at.offset_m[:, 0])) < 0)
    assert np.all(np.diff(trim_angle_rad(0.74, 0.0075, foc_pct(build))) < 0)
    # of the balance alone, mass and inertia kept
    balances = np.array([0.42, 0.45, 0.48, 0.51])
    same = BareShaft(0.74, 0.0075, 0.0327, balances, 1.6e-3)
    grown = bare_flight(same, 52.0, 1.0, 0.0, [20 * YARD_M])
    assert np.all(np.diff(grown.offset_m[:, 0]) < 0)


def test_fins_bring_the_shaft_back_to_its_path():
    bare = bare_flight(shaft(), 52.0, 1.5, 0.0, DISTANCES)
    with_fins = bare_flight(fletched(), 52.0, 1.5, 0.0, DISTANCES)
    assert np.all(np.abs(with_fins.offset_m[2:]) < np.abs(bare.offset_m[2:]))
    early, late = (
        np.abs(bare_flight(fletched(), 52.0, 1.5, 0.0, np.linspace(a, a + 14, 60)).attack_rad).max()
        for a in (0.1, 30.0)
    )
    assert late < early / 2


def test_fin_slope_in_the_limit_of_jones_slender_wings():
    """Four very long low fins: 2 pi s^2 of lift slope for the pair in the plane, by slender wings;
    without the body's help that is 8 (s/d)^2 on the cross-section."""
    span, diameter = 0.01, 0.006
    slope = fin_slope_per_rad(4, span, 50.0, 50.0, 0.0, diameter)
    help_of_body = 1 + diameter / 2 / (span + diameter / 2)
    assert slope / help_of_body == pytest.approx(8 * (span / diameter) ** 2, rel=1e-6)
    assert fin_slope_per_rad(3, span, 0.1, 0.05, 0.02, diameter) < slope


@settings(max_examples=20, deadline=None)
@given(st.floats(0.5, 3.0), states)
@pytest.mark.slow
def test_a_scaled_copy_flies_a_scaled_path(scale, state):
    turn, attack = state
    small = BareShaft(0.74, 0.0075, 0.03, 0.45, 1.6e-3)
    big = BareShaft(0.74 * scale, 0.0075 * scale, 0.03 * scale**3, 0.45 * scale, 1.6e-3 * scale**5)
    one = bare_flight(small, 52.0, turn, attack, [15.0])
    copy = bare_flight(big, 52.0, turn / scale, attack, [15.0 * scale], longest_step_m=0.25 * scale)
    assert copy.offset_m == pytest.approx(one.offset_m * scale, rel=1e-6, abs=1e-9)
    assert copy.attack_rad == pytest.approx(one.attack_rad, rel=1e-6, abs=1e-9)


def test_many_states_equal_each_alone():
    turns, attacks = np.array([-2.0, 0.5, 3.0]), np.array([0.01, 0.0, -0.02])
    many = bare_flight(shaft(), 52.0, turns, attacks, DISTANCES)
    assert many.offset_m.shape == (3, 4)
    for i in range(3):
        alone = bare_flight(shaft(), 52.0, turns[i], attacks[i], DISTANCES)
        assert np.allclose(many.offset_m[i], alone.offset_m)
