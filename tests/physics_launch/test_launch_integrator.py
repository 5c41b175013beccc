"""The time integrator: order, steps, modes, energy, and a second method."""

import numpy as np
import pytest
from launch_rigs import arrow, bow, contact_count, many, middle
from scipy.integrate import solve_ivp
from scipy.linalg import eigh
from test_launch_beam import finite_elements

from shaftwright.physics.launch.launch import launch


def exits(left):
    return np.stack(
        [left.turn_rate_rad_s, np.degrees(left.attack_rad), np.degrees(left.direction_rad)]
    )


@pytest.mark.slow
def test_fourth_order_without_contact():
    # a smooth draw curve (exponent 1) and no plate: halving the step divides the error by 16
    straight = bow().changed(
        stored_energy_j=0.5 * bow().draw_force_n * bow().power_stroke_m, hysteresis=0
    )
    free = middle(plate_stiffness_n_m=0, plate_damping_n_s_m=0)
    rates = [
        float(launch(arrow(), straight, free, steps=n).turn_rate_rad_s)
        for n in (160, 320, 640, 2560)
    ]
    errors = np.abs(np.array(rates[:3]) - rates[3])
    order = np.log2(errors[:-1] / errors[1:])
    np.testing.assert_allclose(order, 4, atol=0.4)


@pytest.mark.slow
def test_order_survives_contact():
    rigs = many(60)
    fine = exits(launch(*rigs, steps=1920))[0]
    errors = [np.median(np.abs(exits(launch(*rigs, steps=n))[0] - fine)) for n in (120, 240, 480)]
    assert np.log2(errors[0] / errors[2]) / 2 > 3.3


@pytest.mark.slow
def test_halving_the_step_changes_nothing_that_matters():
    # the larger of 0.5 % and 0.01 rad/s, 0.005 deg
    rigs = many(1000)
    coarse, fine = exits(launch(*rigs)), exits(launch(*rigs, steps=480))
    allowed = np.maximum(0.005 * np.abs(fine), np.array([0.01, 0.005, 0.005])[:, None])
    assert (np.abs(coarse - fine) <= allowed).all()


@pytest.mark.slow
@pytest.mark.parametrize(("steps", "part"), [(240, 2e-4), (960, 2e-6)])
def test_energy_is_accounted_for(steps, part):
    left = launch(*many(200), steps=steps)
    assert (left.energy_j > 0).all()
    assert np.abs(left.energy_j / left.work_j - 1).max() < part


def test_contacts_are_in_order_and_inside_the_launch():
    left = launch(*many(200))
    counts = contact_count(left)
    assert 2 < counts.mean() < 4
    for times, count, end in zip(left.contacts_s, counts, left.time_s, strict=True):
        flat = times[:count].ravel()
        assert (np.diff(flat) >= 0).all()
        assert (flat >= 0).all()
        assert (flat <= end).all()
        assert np.isnan(times[count:]).all()


@pytest.mark.slow
def test_four_bending_modes_are_enough():
    # more modes move the exit far less than any setting nobody measures
    rigs = many(300)
    four, ten = exits(launch(*rigs)), exits(launch(*rigs, bending_modes=10))
    two, six = exits(launch(*rigs, bending_modes=2)), exits(launch(*rigs, bending_modes=6))

    def change(x):
        return np.median(np.abs(x - ten), axis=1)

    assert (change(two) > change(four)).all()
    assert (change(four) > change(six)).all()
    assert (change(four) < np.array([0.15, 0.02, 0.01])).all()


@pytest.mark.slow
@pytest.mark.parametrize(("spine", "bend"), [(350.0, 1.0), (500.0, 1.0), (650.0, 1.6)])
def test_launch_against_finite_elements_and_scipy(spine, bend):
    """A second method: Hermite elements, six of their modes, SciPy's DOP853, no event search."""
    a, b, c = arrow(spine), bow(offset_in=0.03), middle(side_fraction=0.065 * bend)
    values = {k: float(v) for part in (a, b, c) for k, v in vars(part).items() if v is not None}
    length, stroke, brace = values["length_m"], values["power_stroke_m"], values["brace_height_m"]
    station = values["fletching_station_m"]
    nodes, mass, stiffness, thrust = finite_elements(
        length,
        values["stiffness_n_m2"],
        values["mass_per_length_kg_m"],
        values["front_kg"],
        values["tail_kg"],
        values["fletching_kg"],
        station,
    )
    # modes of the beam alone: two rigid ones and four of bending
    squares, modes = eigh(stiffness, mass, subset_by_index=[0, 5])
    g = modes.T @ thrust @ modes
    total = np.zeros(len(mass))
    total[::2] = 1
    whole = float(total @ mass @ total)
    moved = whole + values["virtual_mass_kg"]
    force_full = values["draw_force_n"]
    exponent = force_full * stroke / (values["stored_energy_j"] * (1 - values["hysteresis"])) - 1
    inertia = np.eye(6) + values["string_lateral_mass"] * values["string_mass_kg"] * np.outer(
        modes[0], modes[0]
    )
    gap = values["plate_offset_m"] + values["radius_m"]

    def at(x):
        i = min(np.searchsorted(nodes, x, side="right") - 1, len(nodes) - 2)
        h = nodes[i + 1] - nodes[i]
        r = (x - nodes[i]) / h
        n = [
            1 - 3 * r**2 + 2 * r**3,
            h * (r - 2 * r**2 + r**3),
            3 * r**2 - 2 * r**3,
            h * (r**3 - r**2),
        ]
        return n @ modes[2 * i : 2 * i + 4]

    def rates(_, state):
        q, p, s, v = state[:6], state[6:12], state[12], state[13]
        push = force_full * max(s / stroke, 0.0) ** exponent
        hold = (
            values["string_stiffness_brace_n_m"]
            + (values["string_stiffness_full_n_m"] - values["string_stiffness_brace_n_m"])
            * s
            / stroke
        )
        travel = stroke - s
        aside = (
            values["side_fraction"] * push * np.cos(np.pi * travel / (2 * values["side_travel_m"]))
            if travel < values["side_travel_m"]
            else 0.0
        )
        here = at(brace + s)
        depth = gap - here @ q
        plate = (
            max(
                values["plate_stiffness_n_m"] * depth - values["plate_damping_n_s_m"] * (here @ p),
                0.0,
            )
            if depth > 0
            else 0.0
        )
        load = (
            push / moved * g @ q
            - squares * q
            + modes[0] * (aside - hold * (modes[0] @ q))
            + here * plate
        )
        return np.concatenate([p, np.linalg.solve(inertia, load), [v, -push / moved]])

    straight = np.zeros(len(mass))
    slope = gap / (brace + stroke)
    straight[::2], straight[1::2] = slope * nodes, slope
    start = np.concatenate([modes.T @ mass @ straight, np.zeros(6), [stroke, 0.0]])

    def stopped(_, state):
        return state[12]

    stopped.terminal = True
    end = solve_ivp(
        rates,
        (0, 0.05),
        start,
        method="DOP853",
        max_step=2e-5,
        rtol=1e-7,
        atol=1e-10,
        events=stopped,
    ).y_events[0][0]
    sideways, rate = modes @ end[:6], modes @ end[6:12]
    lever = np.zeros(len(mass))
    balance = float(total @ mass @ (np.repeat(nodes, 2) * total + (1 - total))) / whole
    lever[::2], lever[1::2] = nodes - balance, 1
    moment = float(lever @ mass @ lever)
    turn = lever @ mass @ rate / moment
    angle = lever @ mass @ sideways / moment
    direction = total @ mass @ rate / whole / -end[13]
    left = launch(a, b, c)
    assert left.speed_m_s == pytest.approx(-end[13], rel=1e-5)
    assert left.turn_rate_rad_s == pytest.approx(turn, rel=2e-3, abs=0.01)
    assert left.attack_rad == pytest.approx(angle - direction, rel=2e-3, abs=1e-4)
