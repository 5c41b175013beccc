"""A reduced run of calibrate/bareshaft.py: archers whose world differs from the engine's."""

import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

PATH = Path(__file__).resolve().parents[2] / "calibrate" / "bareshaft.py"


@pytest.fixture(scope="module")
def runs():
    spec = importlib.util.spec_from_file_location("calibrate_bareshaft", PATH)
    module = importlib.util.module_from_spec(spec)
    sys.modules["calibrate_bareshaft"] = module
    spec.loader.exec_module(module)
    # seeds apart from those of the full run
    return [module.tune(seed) for seed in range(50_000, 50_024)]


@pytest.mark.slow
def test_archers_end_inside_their_own_groups(runs):
    """Aimed at: a median of 3 changes, 90 % within 6; 24 rigs can show 75 % for the same truth."""
    changes = np.array([run.changes if run.inside else 99 for run in runs])
    assert np.median(changes) <= 3
    assert np.mean(changes <= 6) >= 0.75


@pytest.mark.slow
def test_stated_ranges_hold_about_as_often_as_stated(runs):
    """Stated 80 %; some 40 ranges can miss that by 14 in either direction."""
    ranges = [pair for run in runs for pair in run.ranges]
    held = np.mean([low <= seen <= high for low, high, seen in ranges])
    assert len(ranges) > 20
    assert 0.66 <= held <= 0.94


@pytest.mark.slow
def test_nobody_shoots_for_ever(runs):
    assert max(run.groups for run in runs) < 40
    assert np.mean([run.groups for run in runs]) < 12
