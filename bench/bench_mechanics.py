"""Speed of the mechanics: `pytest bench/bench_mechanics.py` prints the times.

The limits are what an interactive ranking needs; they are asserted on the best round, so that a
busy machine does not fail them.
"""

import numpy as np
import pytest

from shaftwright.physics.arrow import Arrow, foc_pct, moment_of_inertia_kg_m2, total_mass_kg
from shaftwright.physics.bare_flight import BareShaft, bare_flight
from shaftwright.physics.bending import critical_thrust_n, frequencies_hz
from shaftwright.physics.bow_speed import typical_speed_model
from shaftwright.physics.flight import Shot, aimed, drag_of


def builds(count, *, collared=False):
    rng = np.random.default_rng(7)
    return Arrow(
        rng.uniform(0.66, 0.82, count), rng.uniform(3, 10, count), rng.uniform(0.014, 0.03, count),
        rng.uniform(0.006, 0.03, count), rng.uniform(0.0005, 0.003, count),
        *((rng.uniform(0.01, 0.05, count), rng.uniform(1.2, 4, count), 0.001) if collared else ()),
    )  # fmt: skip


def best(benchmark, call, limit):
    benchmark.pedantic(call, rounds=5, warmup_rounds=1)
    if benchmark.stats is not None:
        assert benchmark.stats.stats.min < limit


def test_masses_foc_and_speed_of_100_000_builds(benchmark):
    arrow = builds(100_000)
    bow = typical_speed_model("recurve", "standard", 209.0, 0.48)
    best(benchmark, lambda: (foc_pct(arrow), bow.speed(total_mass_kg(arrow))), 0.2)


def test_inertia_of_100_000_builds(benchmark):
    arrow = builds(100_000)
    best(benchmark, lambda: moment_of_inertia_kg_m2(arrow), 0.2)


@pytest.mark.parametrize("collared", [False, True], ids=["parallel", "collared"])
def test_three_frequencies_of_10_000_builds(benchmark, collared):
    arrow = builds(10_000, collared=collared)
    best(benchmark, lambda: frequencies_hz(arrow), 2.0)


@pytest.mark.parametrize("collared", [False, True], ids=["parallel", "collared"])
def test_critical_thrust_of_10_000_builds(benchmark, collared):
    arrow = builds(10_000, collared=collared)
    best(benchmark, lambda: critical_thrust_n(arrow), 2.0)


def test_flight_of_1_000_builds_to_six_distances(benchmark):
    speed, mass = np.linspace(45, 60, 1000)[:, None], np.linspace(0.025, 0.045, 1000)[:, None]
    shot = Shot(speed, mass, drag_of(0.0075))
    best(benchmark, lambda: aimed(shot, np.arange(10, 61, 10.0)), 2.0)


def test_bare_flight_of_10_000_exits(benchmark):
    shaft = BareShaft.of(Arrow(0.74, 5.0, 0.0235, 0.0145, 0.0008), 0.0075)
    turns = np.linspace(-10, 10, 10_000)
    best(benchmark, lambda: bare_flight(shaft, 52.0, turns, 0.0, [9.0, 18.0, 27.0]), 2.0)
