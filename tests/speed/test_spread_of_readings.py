"""Single readings scatter about the mean of their own mass: the pooled standard deviation of statistics books."""

import numpy as np
import pytest

from shaftwright.inference.chrono import Brought


def test_readings_of_two_masses_are_pooled_each_about_its_own_mean():
    masses = np.array([400.0] * 4 + [600.0] * 3)
    speeds = np.array([180, 182, 181, 183, 150, 153, 151.0])
    sd, freedom = Brought(masses, speeds, 0.0, ()).spread()
    one, other = speeds[:4], speeds[4:]
    assert freedom == 5  # 3 + 2
    assert sd == pytest.approx(np.sqrt((3 * one.var(ddof=1) + 2 * other.var(ddof=1)) / 5))
