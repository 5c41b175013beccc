"""A few of the simulated archers of `make calibrate`, who do exactly what `next` says.

Their world asks nothing of the product (calibrate/archers/world.py); the thousand, and the product as
it stood before on the same archers, are in docs/calibration_plan.md.
"""

import sys
from pathlib import Path

import pytest

CALIBRATE = Path(__file__).resolve().parents[2] / "calibrate"
#: apart from those of the full run and from those the plan was written on
SEEDS = range(60_000, 60_006)


@pytest.fixture(scope="module")
def runs():
    sys.path.insert(0, str(CALIBRATE))
    try:
        from archers.obey import obey
    finally:
        sys.path.remove(str(CALIBRATE))
    return [obey(seed) for seed in SEEDS]


@pytest.mark.slow
def test_nothing_is_told_that_cannot_be_done(runs):
    assert not [(run.seed, fault) for run in runs for fault in run.faults]


@pytest.mark.slow
def test_nobody_goes_in_circles(runs):
    assert not [run.seed for run in runs if run.third_time]
    assert not [run.seed for run in runs if run.ended in ("steps", "stuck", "ends")]


@pytest.mark.slow
def test_most_come_to_a_dozen_that_is_truly_straight(runs):
    """Of six, with nine in ten the truth, fewer than four would be seen once in sixty times."""
    good = [run for run in runs if run.dozen and abs(run.dozen.off_in) < run.t_in]
    assert len(good) >= 4


@pytest.mark.slow
def test_no_end_is_needless(runs):
    assert sum(run.needless for run in runs) <= len(runs) / 10


def test_the_world_is_the_same_whatever_is_done_with_it():
    """A bow's truth does not hang on how many shots were taken: two products meet the same archers."""
    sys.path.insert(0, str(CALIBRATE))
    try:
        from archers.world import Arrow, world_of
    finally:
        sys.path.remove(str(CALIBRATE))
    one, other = world_of(60_000), world_of(60_000)
    arrow = Arrow("MARSH-500", 1, 30.0, "P125", "I25")
    for _ in range(3):
        one.shoot(arrow)
    one.broadheads(arrow, "B125")
    assert one.mismatch_lb(arrow) == other.mismatch_lb(arrow)
    assert one.stiffward_in(arrow) == other.stiffward_in(arrow)
    stiffer, weaker = (Arrow(f"MARSH-{s}", 1, 30.0, "P125", "I25") for s in (400, 600))
    assert other.mismatch_lb(stiffer) > other.mismatch_lb(arrow) > other.mismatch_lb(weaker)
