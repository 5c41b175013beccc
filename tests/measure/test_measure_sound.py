"""Levels: averaged as energy, corrected where that is honest, never mixed."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shaftwright.measure import sound as measured
from shaftwright.measure.compare import compare as compared
from shaftwright.measure.sound import (
    energy_mean,
    in_words,
    level_difference,
    usable_levels,
    without_background,
)


def compare(*given, **more):
    return compared(*given, **more).to_dict()


def compare_sound(readings, field):
    return measured.compare_sound(readings, [field]).to_dict()


levels = st.lists(st.floats(30, 140), min_size=1, max_size=20)


def shots(seed, difference=0.0, stringings=5, per=6, sigma=1.0):
    rng = np.random.default_rng(seed)
    return pd.DataFrame(
        [
            {"level_db": c + put_on + rng.normal(0, sigma), "weighting": "A", "response": "max",
             "background_db": 45.0, "string": name, "stringing": s}
            for s in range(stringings)
            for name, c in (("A", 84.0), ("B", 84.0 - difference))
            for put_on in [rng.normal(0, 0.4)]
            for _ in range(per)
        ]
    )  # fmt: skip


@pytest.mark.parametrize(("given_levels", "mean"), [([80, 90], 87.404), ([70, 72, 74], 72.302)])
def test_energy_mean_iec_time_average(given_levels, mean):
    # L = 10 lg mean 10^(L/10): IEC time-average level, worked exactly.
    assert round(energy_mean(given_levels), 3) == mean


@given(levels)
def test_energy_mean_lies_between_mean_and_loudest(values):
    mean = energy_mean(values)
    assert np.mean(values) - 1e-9 <= mean <= max(values) + 1e-9


@given(st.floats(30, 100), st.floats(3.01, 40))
def test_background_is_taken_out_as_energy(background, above):
    alone = without_background([background + above], [background])[0]
    # Put back, energies add up to what was read (two sources: 10 lg (10^a + 10^b)).
    total = 10 * math.log10(10 ** (alone / 10) + 10 ** (background / 10))
    assert total == pytest.approx(background + above, abs=1e-6)


def test_background_within_3_db_is_refused():
    # ISO 3746: no survey-grade result under 3 dB above background.
    assert np.isnan(without_background([52.9], [50.0]))[0]
    assert without_background([53.0], [50.0])[0] == pytest.approx(49.98, abs=0.01)


def test_steady_levels_are_corrected_and_impulses_are_not():
    frame = pd.DataFrame(
        {"level_db": [60.0, 52.0, 60.0, 55.0], "background_db": [50.0] * 4,
         "response": ["steady", "slow", "max", "peak"], "weighting": "A"}
    )  # fmt: skip
    usable, warnings = usable_levels(frame)
    assert usable["level_db"].tolist() == pytest.approx([59.54, 60.0, 55.0], abs=0.01)
    assert any("within 3 dB" in w for w in warnings)
    assert any("less than 10 dB" in w for w in warnings)
    assert not any("less than 10" in w for w in usable_levels(frame.iloc[[0, 2]])[1])


def test_interval_of_equal_scatter_is_near_scipy_welch_on_levels():
    # For small scatter energies are linear in levels: the two intervals meet.
    rng = np.random.default_rng(1)
    a, b = 80 + rng.normal(0, 0.1, 8), 79 + rng.normal(0, 0.2, 5)
    reference = stats.ttest_ind(a, b, equal_var=False).confidence_interval()
    found = level_difference(a, b)
    assert (found.low, found.high) == pytest.approx(tuple(reference), abs=0.02)


def test_one_shot_has_no_interval():
    assert level_difference([80.0], [70.0, 71.0]).low is None
    assert level_difference([80.0, 80.0], [70.0, 70.0]).low is None


def test_weightings_responses_and_positions_are_never_mixed():
    plain = shots(1, 4.0)
    peak = plain.assign(level_db=plain.level_db + 20, response="peak", weighting="C").iloc[:20]
    found = compare_sound(pd.concat([plain, peak]), "string")
    alone = compare_sound(plain, "string")
    assert found["weighting"] == "A"
    assert found["response"] == "max"
    assert found["left_out"] == 20
    assert found["difference_db"] == alone["difference_db"]
    assert any("not mixed" in w for w in found["warnings"])


def test_a_string_read_in_another_weighting_cannot_be_compared():
    frame = shots(1, 4.0)
    frame.loc[frame.string == "B", "weighting"] = "C"
    assert compare_sound(frame, "string")["difference_db"] is None


def test_louder_is_said_plainly_and_3_db_is_not_twice():
    found = compare_sound(shots(2, 6.0), "string")
    assert found["verdict"].startswith("A is louder by")
    json.dumps(found, allow_nan=False)
    # Sone scale (recalled): 10 dB is about twice as loud; 3 dB is twice the energy only.
    assert "twice" not in in_words(3.0).replace("far from twice", "")
    assert in_words(10.0).startswith("about twice")
    assert in_words(-0.4) == "not heard"


def test_identical_strings_are_not_called_louder():
    found = compare_sound(shots(3), "string")
    assert "louder by" not in found["verdict"]


def test_compare_carries_sound_beside_speed_or_alone():
    sound = shots(2, 6.0)
    speed = sound.assign(speed_fps=171.0 + np.arange(len(sound)) % 5)
    both = compare(speed, sound=sound)
    assert both["sound"]["verdict"].startswith("A is louder")
    assert both["difference_fps"] is not None
    alone = compare(pd.DataFrame(), sound=sound)
    assert alone["sound"]["groups"][0]["n"] == 30
    assert alone["groups"] == []


def test_nothing_usable_is_said():
    frame = pd.DataFrame(
        {"level_db": [51.0], "background_db": [50.0], "response": ["slow"], "string": ["A"]}
    )
    found = compare_sound(frame, "string")
    assert found["groups"] == []
    assert "no level can be compared" in found["warnings"]
