"""Time of 10,000 launches, eigenproblems included; the aim is under 5 s on one core."""

import numpy as np
import pytest

from shaftwright.physics.launch.launch import launch
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow
from shaftwright.physics.launch.settings import draw_settings
from shaftwright.units import FOOT_POUND_J, GRAIN_KG, INCH_M, POUND_FORCE_N

COUNT = 10_000


@pytest.fixture(scope="module")
def rigs():
    rng = np.random.default_rng(1)
    arrow = LaunchArrow(
        length_m=rng.uniform(28.5, 31, COUNT) * INCH_M,
        stiffness_n_m2=2546.18 / rng.uniform(250, 900, COUNT),
        mass_per_length_kg_m=rng.uniform(6, 11, COUNT) * GRAIN_KG / INCH_M,
        front_kg=rng.uniform(100, 300, COUNT) * GRAIN_KG,
        tail_kg=10 * GRAIN_KG,
        fletching_kg=15 * GRAIN_KG,
        radius_m=0.15 * INCH_M,
    )
    draw = rng.uniform(35, 65, COUNT)
    bow = LaunchBow(
        draw_force_n=draw * POUND_FORCE_N,
        power_stroke_m=19.5 * INCH_M,
        stored_energy_j=0.95 * draw * FOOT_POUND_J,
        virtual_mass_kg=240 * GRAIN_KG,
        brace_height_m=7 * INCH_M,
        string_mass_kg=110 * GRAIN_KG,
    )
    return arrow, bow, draw_settings(COUNT, bow.draw_force_n)


def test_ten_thousand_launches(benchmark, rigs):
    left = benchmark.pedantic(launch, rigs, rounds=1)
    assert left.turn_rate_rad_s.shape == (COUNT,)
