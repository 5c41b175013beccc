"""The matched spine, what moves it, and the trial of the trade's signs."""

import numpy as np
import pytest
from launch_rigs import arrow, bow, middle

from shaftwright.physics.launch.launch import launch
from shaftwright.physics.launch.match import (
    KINDS,
    STIFFNESS_TIMES_MILS,
    Change,
    _crossing,
    matched_draws,
    matched_spine,
    matched_together,
    moves_pct,
    standard_changes,
)
from shaftwright.physics.launch.settings import (
    draw_settings,
    middle_settings,
    random_rigs,
    setting_ranges,
)
from shaftwright.resources import table
from shaftwright.units import INCH_M, POUND_FORCE_N


def test_spine_and_stiffness_roark():
    # F L^3 / (48 d) with 1.94 lbf and 28 in; 0.500 in -> 5.0924 N m2
    assert (
        pytest.approx(1.94 * POUND_FORCE_N * (28 * INCH_M) ** 3 / 48 / (INCH_M / 1000), rel=1e-5)
        == STIFFNESS_TIMES_MILS
    )
    assert pytest.approx(5.0924, abs=5e-5) == STIFFNESS_TIMES_MILS / 500


def test_crossing_of_a_straight_line_is_exact():
    spine = np.linspace(5, 7, 9)[:, None]
    place = np.array([5.3, 6.0, 6.77])
    np.testing.assert_allclose(_crossing(spine, place - spine), place)


def test_crossing_balances_several_and_ignores_the_stiff_end():
    spine = np.arange(7.0)[:, None]
    # negative before the hump: not a root; then + - + -: 2.5 - 3.5 + 5.5 -> crossings averaged
    rate = np.array([-1.0, 5, 1, -1, 1, 1, -1])[:, None]
    assert _crossing(spine, rate)[0] == pytest.approx(2.5 - 3.5 + 5.5)
    assert np.isnan(_crossing(spine, -np.ones((7, 1)))[0])
    assert np.isnan(_crossing(spine, np.ones((7, 1)))[0])


@pytest.mark.slow
def test_matched_shaft_leaves_without_turning():
    spines = matched_spine((arrow(), bow(), middle())) * np.array([0.9, 1.0, 1.1])
    rates = launch(arrow(spines), bow(), middle()).turn_rate_rad_s
    assert rates[0] > 0.3
    assert abs(rates[1]) < 0.05
    assert rates[2] < -0.3


@pytest.mark.slow
def test_matched_spine_has_a_range_and_counts_what_it_missed():
    settings = draw_settings(24, 51 * POUND_FORCE_N)
    found = matched_spine((arrow(), bow(), settings))
    assert found.shape == (24,)
    low, mid, high = np.nanpercentile(found, [2.5, 50, 97.5])
    # wide, and around what such a bow is known to shoot (common practice, no source)
    assert 300 < mid < 650
    assert high / low > 1.15
    narrow = matched_draws((arrow(), bow(), settings), np.geomspace(150, 250, 4))
    assert np.isnan(narrow).all()


@pytest.mark.slow
def test_sensitivity_is_the_move_of_the_matched_spine():
    settings = draw_settings(12, 51 * POUND_FORCE_N, seed=4)
    heavier = next(c for c in standard_changes() if c.change == "draw_weight")
    five = Change("draw_weight", "5 lb", 5.0, "lb", 1)
    rig = (arrow(), bow(), settings)
    one, more = moves_pct(rig, [heavier, five])
    before, after = matched_spine(rig), matched_spine(five.apply(rig))
    np.testing.assert_allclose(more, 100 * (before / after - 1), atol=1.0)
    # and as `launch` finds them, all in one integration
    together = matched_together([rig, heavier.apply(rig), five.apply(rig)], whole=True)
    np.testing.assert_allclose(100 * (together[0] / together[1:] - 1), [one, more], atol=1.0)
    # common practice: a pound of bow, a pound of shaft
    assert np.median(one) == pytest.approx(100 / 51, abs=0.5)
    assert (more > 0).all()


@pytest.mark.slow
def test_nothing_changed_asks_for_nothing():
    settings = draw_settings(6, 51 * POUND_FORCE_N)
    same = Change("front_mass", "nothing", 0.0, "gr", 1)
    np.testing.assert_allclose(moves_pct((arrow(), bow(), settings), [same]), 0, atol=1e-9)


def test_changes_do_what_they_say():
    rig = (arrow(), bow(), middle())
    changed = {c.change: c.apply(rig) for c in standard_changes()}
    assert set(changed) == set(KINDS)
    inch = INCH_M
    assert changed["shaft_length"][0].length_m == pytest.approx(29.0 * inch)
    brace = changed["brace_height"][1]
    assert brace.brace_height_m == pytest.approx(7.5 * inch)
    assert brace.power_stroke_m + brace.brace_height_m == pytest.approx(26.5 * inch)
    assert brace.stored_energy_j / rig[1].stored_energy_j == pytest.approx(19 / 19.5)
    heavy = changed["draw_weight"]
    for part, name in (
        (1, "draw_force_n"),
        (1, "stored_energy_j"),
        (2, "string_stiffness_brace_n_m"),
    ):
        assert getattr(heavy[part], name) / getattr(rig[part], name) == pytest.approx(52 / 51)
    assert changed["mechanical_release"][2].side_fraction == 0
    assert changed["draw_length_same_energy"][1].stored_energy_j == rig[1].stored_energy_j


def test_settings_table_tells_its_basis():
    for name in ("launch_settings", "launch_changes", "launch_trial"):
        for row in table(name):
            assert row["basis"] in {
                "published",
                "common_practice",
                "calculated",
                "fitted",
                "recalled",
            }
            assert row["source"] or row["basis"] not in {"published", "fitted"}
    for low, mid, high in setting_ranges().values():
        assert low <= mid <= high


def test_settings_scale_with_the_bow_and_stay_in_range():
    half = middle_settings(0.5 * setting_ranges()["reference_draw_force_n"][1])
    assert half.string_stiffness_full_n_m == pytest.approx(265)
    assert half.plate_stiffness_n_m == 20000
    drawn = draw_settings(500, setting_ranges()["reference_draw_force_n"][1], seed=2)
    for name, values in vars(drawn).items():
        low, mid, high = setting_ranges()[name]
        assert (values >= low).all()
        assert (values <= high).all()
        assert np.median(values) == pytest.approx(mid, abs=0.01 * (high - low) + 1e-12)
    held = draw_settings(5, 200.0, side_fraction=0.0)
    assert held.side_fraction == 0
    np.testing.assert_array_equal(
        vars(draw_settings(5, 200.0))["plate_shift_m"], vars(held)["plate_shift_m"]
    )


def test_random_rigs_are_plausible():
    a, b, c = random_rigs(200, 3)
    assert c.side_fraction.shape == (200, 3)
    draw = (b.power_stroke_m + b.brace_height_m) / INCH_M + 1.75
    assert (a.length_m / INCH_M >= draw + 0.5 - 1e-9).all()
    assert (draw >= 26).all()
    assert (draw <= 30).all()


def trade_signs(changes, **given):
    """For each change, the share of 24 rigs with 2 draws each with the trade's sign, and all moves."""
    moved = moves_pct(random_rigs(24, 2, **given), changes)
    found = {}
    for change, pct in zip(changes, moved, strict=True):
        pct = pct[np.isfinite(pct)]
        found[change.change] = ((change.trade_sign * pct > 0).mean(), pct)
    return found


@pytest.fixture(scope="module")
def signs():
    return trade_signs(standard_changes())


@pytest.mark.slow
def test_trade_signs_over_random_rigs(signs):
    """A reduced trial with loose bounds; the full one is `make calibrate`, its page in docs/.

    The bounds sit well under the shares found, and say nothing of changes the model leaves open.
    """
    agree = {kind: share for kind, (share, _) in signs.items()}
    assert agree["draw_weight"] > 0.95
    assert np.median(signs["draw_weight"][1]) == pytest.approx(2, abs=0.5)
    assert agree["shaft_length"] > 0.8
    assert agree["stored_energy"] > 0.8
    assert agree["plate_offset"] > 0.8
    assert agree["mechanical_release"] > 0.9
    assert agree["draw_and_shaft"] > 0.75
    # The known disagreement: mass at the nock. If this ever turns, the page in docs/ is out of date.
    assert agree["tail_mass"] < 0.4
    assert min(pct.size for _, pct in signs.values()) > 32


@pytest.mark.slow
def test_late_rise_of_the_string_turns_the_disputed_signs(signs):
    # own finding: how the string's tension rises towards brace decides these two
    wanted = [
        c for c in standard_changes() if c.change in ("fletching_mass", "draw_length", "front_mass")
    ]
    for kind, (share, _) in trade_signs(wanted, string_rise=2.0).items():
        assert share > signs[kind][0] + 0.1
