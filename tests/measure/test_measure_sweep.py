"""Brace swept and creep followed, on simulated bows whose truth is known."""

import json

import numpy as np
import pandas as pd
import pytest

from shaftwright.measure import brace as settling
from shaftwright.measure import sweep as swept
from shaftwright.measure.curve import fit_curve
from shaftwright.measure.sweep import sixteenths, twist_hint
from shaftwright.resources import spread
from shaftwright.units import Interval


def sweep(*given, **more):
    return swept.sweep(*given, **more).to_dict()


def creep(*given):
    return settling.creep(*given).to_dict()


BRACES = np.arange(6.75, 8.01, 0.25)


def readings(seed, value, sigma, put_on, column, per=6, braces=BRACES):
    rng = np.random.default_rng(seed)
    return pd.DataFrame(
        [
            {"brace_in": b, column: value(b) + shift + rng.normal(0, sigma), "stringing": k}
            for k, b in enumerate(braces)
            for shift in [rng.normal(0, put_on)]
            for _ in range(per)
        ]
    )


def quiet_at(best):
    return lambda b: 80 + 20 * (b - best) ** 2


def test_parabola_without_scatter_is_numpy_polyfit():
    x = np.array([6.5, 7.0, 7.25, 8.0])
    y = 80 + 3 * (x - 7.3) ** 2
    curve = fit_curve(x, y, np.full(4, 1e-8), Interval(1e-5, 0.9e-5, 1.1e-5))
    reference = np.polyval(np.polyfit(x, y, 2), curve.grid)
    assert curve.band()[1] == pytest.approx(reference, abs=1e-3)


def test_quiet_range_holds_the_quietest_brace():
    levels = readings(1, quiet_at(7.4), 1.0, 0.4, "level_db")
    found = sweep(levels=levels.assign(weighting="A", response="max"))["sound"]
    assert found["range_in"]["low"] <= 7.4 <= found["range_in"]["high"]
    assert found["best_in"]["mid"] == pytest.approx(7.4, abs=0.13)
    assert found["verdict"].startswith("quiet from 7")
    assert found["go_on"] is None


@pytest.mark.parametrize(("best", "go"), [(6.2, "lower"), (8.6, "higher")])
def test_a_quiet_point_not_passed_says_go_on(best, go):
    levels = readings(2, quiet_at(best), 0.7, 0.3, "level_db")
    found = sweep(levels=levels)["sound"]
    assert found["go_on"] == go
    assert "not yet passed" in found["verdict"]


def test_lower_brace_is_faster():
    # Hickman via Klopsteg: some 7 fps per inch of power stroke.
    speeds = readings(3, lambda b: 171 - 7 * (b - 7.5), 1.2, 0.4, "speed_fps")
    found = sweep(speeds)
    quarter = found["fps_per_quarter_in"]
    assert quarter["low"] < -1.75 < quarter["high"]
    assert found["speed"]["best_in"]["mid"] == 6.75
    assert found["speed"]["go_on"] == "lower"


def test_flat_is_said_to_be_flat():
    levels = readings(4, lambda b: 80.0, 0.5, 0.05, "level_db", per=20)
    found = sweep(levels=levels)["sound"]
    assert found["verdict"] == "brace changes the sound by less than can be heard"


def test_two_braces_tell_a_direction_only():
    speeds = readings(5, lambda b: 171 - 7 * (b - 7.5), 1.0, 0.3, "speed_fps", braces=(7.0, 8.0))
    found = sweep(speeds)["speed"]
    assert found["degree"] == 1
    assert "direction" in found["verdict"]


def test_one_brace_is_not_fitted():
    found = sweep(readings(5, lambda b: 171.0, 1.0, 0.3, "speed_fps", braces=(7.5,)))["speed"]
    assert found["curve"] == []
    assert "one brace" in found["verdict"]


def test_restringing_widens_the_band_beyond_shots():
    """A thousand shots at each brace do not make the curve sure: every brace is one stringing."""
    speeds = readings(6, lambda b: 171 - 7 * (b - 7.5), 1.0, 0.0, "speed_fps", per=1000)
    rows = sweep(speeds)["speed"]["curve"]
    widths = [row["high"] - row["low"] for row in rows]
    assert min(widths) > 0.3


def test_bare_shafts_group_tightest_where_they_do():
    rng = np.random.default_rng(8)
    rows = [
        {"brace_in": b, "x_in": rng.normal(0, s), "y_in": rng.normal(0, s)}
        for b in BRACES
        for s in [1.5 + 6 * (b - 7.4) ** 2]
        for _ in range(12)
    ]
    found = sweep(bare=pd.DataFrame(rows))["bare"]
    assert found["range_in"]["low"] <= 7.4 <= found["range_in"]["high"]
    assert found["best_in"]["low"] <= 7.4 <= found["best_in"]["high"]
    assert all(0 < row["low"] < row["mid"] < row["high"] for row in found["curve"])


def test_bare_spread_is_numpy():
    x, y = np.array([1.0, 2.0, 4.0]), np.array([0.0, 1.0, -1.0])
    rows = {"brace_in": [7.0] * 3 + [8.0], "x_in": [*x, 9.0], "y_in": [*y, 9.0]}
    (told,) = sweep(bare=rows)["bare"]["settings"]  # one shaft alone has no spread
    expected = np.sqrt((np.var(x, ddof=1) + np.var(y, ddof=1)) / 2)
    assert told == {"brace_in": 7.0, "n": 3, "spread_in": pytest.approx(expected)}


def test_speeds_of_two_masses_are_turned_to_one():
    speeds = readings(3, lambda b: 171 - 7 * (b - 7.5), 1.2, 0.4, "speed_fps")
    mixed = speeds.assign(arrow_mass_gr=np.where(speeds.index % 2, 500.0, 540.0))
    found = sweep(mixed)
    assert any("one arrow mass" in w for w in found["warnings"])


def test_quiet_and_fast_meet_or_not():
    levels = readings(1, quiet_at(7.0), 0.8, 0.3, "level_db", per=10)
    speeds = readings(3, lambda b: 171 - 7 * (b - 7.5), 1.0, 0.3, "speed_fps")
    both = sweep(speeds, levels)["both_in"]
    assert both["low"] <= 6.9 <= both["high"] + 0.1
    assert (
        sweep(speeds, readings(1, quiet_at(7.9), 0.8, 0.3, "level_db", per=10))["both_in"] is None
    )


def test_document_is_json():
    levels = readings(1, quiet_at(7.4), 1.0, 0.4, "level_db")
    json.dumps(sweep(levels=levels), allow_nan=False)
    json.dumps(creep(pd.DataFrame({"brace_in": [7.5, 7.4], "shots_on": [0, 50]})), allow_nan=False)


@pytest.mark.slow
def test_bands_hold_the_truth_19_times_in_20():
    """Simulated bows: the band at a brace holds the true curve about as often as it says.

    The readings are summed up here, in arrays, as the first bow shows that a sweep sums them up.
    """
    rng = np.random.default_rng(11)
    prior, shot = spread("restringing_sd_fps"), spread("shot_sd_fps")
    held = []
    for i in range(400):
        tau = prior.mid * np.exp(prior.log_sd * rng.standard_normal())
        frame = readings(i, lambda b: 171 - 7 * (b - 7.5), 2.0, tau, "speed_fps")
        shots = frame["speed_fps"].to_numpy().reshape(len(BRACES), -1)
        squares = ((shots - shots.mean(axis=1, keepdims=True)) ** 2).sum()
        # the table's spread counts as four shots
        variance = (squares + 4 * shot.mid**2) / (shots.size - len(BRACES) + 4)
        means, n = shots.mean(axis=1), shots.shape[1]
        curve = fit_curve(BRACES, means, np.full(len(BRACES), variance / n), prior)
        at = len(curve.grid) // 2
        low, high = np.percentile(curve.draws[:, at], [2.5, 97.5])
        held.append(low <= 171 - 7 * (curve.grid[at] - 7.5) <= high)
        if i == 0:
            row = sweep(frame)["speed"]["curve"][at]
            assert (row["brace_in"], row["low"], row["high"]) == pytest.approx(
                (curve.grid[at], low, high), rel=1e-9
            )
    assert 0.92 < np.mean(held) <= 0.99


def test_words_and_twists():
    assert sixteenths(7.3749) == "7 3/8 in"
    # Common practice, no source: 3 to 5 twists are about 1/16 to 1/8 in.
    hint = twist_hint(0.125)
    assert hint.low <= 3 <= hint.mid <= 6 <= hint.high


def falling(seed, drop, pace, shots, sd=0.01, start=7.75):
    rng = np.random.default_rng(seed)
    n = np.asarray(shots, dtype=float)
    return pd.DataFrame(
        {
            "brace_in": start - drop * -np.expm1(-n / pace) + rng.normal(0, sd, len(n)),
            "shots_on": n,
            "twists": 20,
        }
    )


def test_settled_after_two_sessions_that_held():
    # Common practice, no source: tune when brace has held within 1/16 in over two sessions.
    found = creep(falling(1, 0.19, 25, [0, 30, 60, 120, 180]), "low_stretch")
    assert found["settled"] is True
    assert found["verdict"].startswith("settled: brace held within 1/16 in")
    assert found["chance_settled"] > 0.9
    assert found["remaining_in"]["high"] < 1 / 16


def test_a_falling_brace_is_not_settled():
    found = creep(falling(2, 0.5, 60, [0, 30, 60]), "polyester")
    assert found["settled"] is False
    assert "fell" in found["verdict"]
    assert found["shots_to_settle"]["high"] > found["shots_to_settle"]["low"]


def test_two_readings_of_a_new_string_tell_little():
    found = creep(falling(3, 0.0, 25, [0, 2]), "low_stretch")
    assert found["settled"] is None
    assert found["shots_to_settle"]["mid"] > 10  # what new strings of the kind do


def test_a_session_that_held_on_a_new_string_is_not_believed():
    frame = pd.DataFrame(
        {"brace_in": [7.5, 7.47], "shots_on": [2, 8], "date": ["2026-05-01", "2026-05-02"]}
    )
    found = creep(frame, "polyester")
    assert found["settled"] is False
    assert "few shots" in found["verdict"]


def test_dates_make_sessions_without_shot_counts():
    frame = pd.DataFrame({"brace_in": [7.5, 7.25], "date": ["2026-05-01", "2026-05-02"]})
    found = creep(frame)
    assert found["settled"] is False
    assert found["shots_to_settle"] is None
    same = creep(frame.assign(brace_in=[7.5, 7.5]))
    assert same["settled"] is True
    rose = creep(frame.assign(brace_in=[7.25, 7.5]))
    assert "rose" in rose["verdict"]


def test_added_twists_are_not_taken_for_creep_backwards():
    frame = falling(4, 0.19, 25, [0, 30, 60, 120, 180])
    frame.loc[3:, "brace_in"] += 0.25
    frame.loc[3:, "twists"] = 30
    found = creep(frame, "low_stretch")
    assert found["settled"] is True
    assert found["twist_gain_in"] == pytest.approx(0.025, abs=0.008)
    assert creep(frame.drop(columns="twists"))["twist_gain_in"] is None


def test_estimates_of_what_is_left_hold_the_truth_about_as_often_as_stated():
    """Readings to 0.01 in at 0, 20, 40: of 95 in 100 stated, less what three readings can hide; never far off."""
    random, off = np.random.default_rng(1), []
    for _ in range(100):
        drop, pace = random.uniform(0.1, 0.4), random.uniform(12, 50)
        left = creep(falling(int(random.integers(10_000)), drop, pace, [0, 20, 40]), "low_stretch")[
            "remaining_in"
        ]
        truth = drop * np.exp(-40 / pace)
        off.append(max(left["low"] - truth, truth - left["high"]))
    assert np.mean(np.array(off) <= 0) >= 0.85
    assert max(off) < 0.1
