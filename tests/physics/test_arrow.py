"""Masses, balance and front of centre against print and against plain sums."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shaftwright.physics.arrow import (
    Arrow,
    balance_point_m,
    foc_from_balance_pct,
    foc_pct,
    foc_whole_pct,
    moment_of_inertia_kg_m2,
    total_mass_kg,
)
from shaftwright.units import GRAIN_KG, INCH_M


def grains(length_in=28.0, gr_per_in=8.0, front=112.0, tail=10.0, **more):
    """An arrow in the trade's units, 0.500 in of spine."""
    return Arrow(
        length_in * INCH_M, 2.54618 / 0.5, gr_per_in * GRAIN_KG / INCH_M,
        front * GRAIN_KG, tail * GRAIN_KG, **more,
    )  # fmt: skip


@pytest.mark.parametrize(("length", "balance", "foc"), [(28.5, 18, 13.16), (30, 18, 10.0)])
def test_foc_amo_formula_seen_both_ways(length, balance, foc):
    assert foc_from_balance_pct(balance, length) == pytest.approx(foc, abs=0.005)
    # solved for the length: B = L (1/2 + FOC/100)
    assert balance / (0.5 + foc / 100) == pytest.approx(length, abs=0.003)


def test_foc_of_the_112_grain_arrow_exact():
    arrow = grains()
    assert total_mass_kg(arrow) / GRAIN_KG == pytest.approx(346)
    assert foc_pct(arrow) == pytest.approx(14.74, abs=0.005)
    # by hand: 112 gr at 28 in, 224 gr at 14 in, 10 gr at 0
    assert balance_point_m(arrow) / INCH_M == pytest.approx((112 * 28 + 224 * 14) / 346)


@pytest.mark.parametrize("unknown", ["front", "tail", "gr_per_in"])
def test_foc_solved_for_each_mass_by_brentq(unknown):
    from scipy.optimize import brentq

    given_values = {"front": 112.0, "tail": 10.0, "gr_per_in": 8.0}
    right = given_values.pop(unknown)

    def miss(x):
        return float(foc_pct(grains(**given_values, **{unknown: x}))) - 14.739884

    assert brentq(miss, right / 3, right * 3) == pytest.approx(right, rel=1e-4)


def test_uniform_rod_has_its_handbook_inertia():
    rod = Arrow(0.7, 5.0, 0.02, 0.0, 0.0)
    assert balance_point_m(rod) == pytest.approx(0.35)
    assert moment_of_inertia_kg_m2(rod) == pytest.approx(0.014 * 0.7**2 / 12)
    assert foc_pct(rod) == pytest.approx(0.0, abs=1e-12)


def test_whole_arrow_foc_is_lower_by_half_the_overhang():
    arrow = grains()
    whole = foc_whole_pct(arrow, 1.0 * INCH_M)
    balance = float(balance_point_m(arrow)) / INCH_M
    assert whole == pytest.approx(100 * (balance - 14.5) / 29)
    assert whole < foc_pct(arrow)


def _brute(arrow, cells=7_400):
    """Sum of many small pieces: another way to the same moments."""
    length = float(arrow.length_m)
    x = (np.arange(cells) + 0.5) * length / cells
    mu = np.full(cells, float(arrow.mass_per_length_kg_m))
    over = float(arrow.front_length_m)
    if over:
        mu = mu + np.where(x > length - over, float(arrow.front_spread_kg) / over, 0.0)
    piece = mu * length / cells
    masses = np.concatenate([piece, [float(arrow.front_kg), float(arrow.tail_kg)]])
    places = np.concatenate([x, [length, 0.0]])
    total = masses.sum()
    balance = (masses * places).sum() / total
    return total, balance, (masses * (places - balance) ** 2).sum()


def test_collar_against_a_sum_of_pieces():
    arrow = Arrow(0.74, 6.0, 0.022, 0.012, 0.002, 0.05, 1.8, 0.003)
    total, balance, inertia = _brute(arrow)
    assert total_mass_kg(arrow) == pytest.approx(total, rel=1e-6)
    assert balance_point_m(arrow) == pytest.approx(balance, rel=1e-5)
    assert moment_of_inertia_kg_m2(arrow) == pytest.approx(inertia, rel=1e-5)


mass = st.floats(0.0, 0.04)


@given(st.floats(0.5, 0.9), st.floats(0.005, 0.05), mass, mass, st.floats(0.5, 3.0))
def test_foc_keeps_under_a_change_of_scale(length, mu, front, tail, scale):
    one = Arrow(length, 5.0, mu, front, tail)
    big = Arrow(length * scale, 5.0, mu * scale**2, front * scale**3, tail * scale**3)
    assert foc_pct(big) == pytest.approx(float(foc_pct(one)), abs=1e-9)
    assert moment_of_inertia_kg_m2(big) == pytest.approx(
        float(moment_of_inertia_kg_m2(one)) * scale**5, rel=1e-9
    )


@given(st.floats(0.5, 0.9), mass, mass, st.floats(1e-4, 0.01))
def test_front_mass_raises_foc_and_tail_mass_lowers_it(length, front, tail, more):
    here = float(foc_pct(Arrow(length, 5.0, 0.02, front, tail)))
    assert foc_pct(Arrow(length, 5.0, 0.02, front + more, tail)) > here
    assert foc_pct(Arrow(length, 5.0, 0.02, front, tail + more)) < here


def test_an_infinitely_heavy_tip_balances_at_the_tip():
    assert foc_pct(Arrow(0.7, 5.0, 0.02, 1e9, 0.002)) == pytest.approx(50.0)


def test_importing_the_masses_brings_no_scipy_or_pandas():
    import subprocess
    import sys

    script = (
        "import sys, shaftwright.physics.arrow, shaftwright.physics.bending;"
        "bad = [m for m in ('scipy', 'pandas', 'matplotlib') if m in sys.modules];"
        "sys.exit(' '.join(bad) or 0)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
