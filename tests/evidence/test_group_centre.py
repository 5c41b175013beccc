"""The doubt of a group's centre: that of the fletched centre falls as one over their number (the variance of a mean)."""

import numpy as np

from shaftwright.inference.evidence.terms import _FFT_SIZE, Q_STEP, _kernels, scatter_states


def test_three_fletched_shots_leave_a_third_of_one_shots_variance():
    (one, _), (three, _) = _kernels(1), _kernels(3)
    angle = 2 * np.pi * np.fft.rfftfreq(_FFT_SIZE, Q_STEP)[1:20]
    variance = scatter_states().fletched_sd ** 2
    gained = -2 * (np.log(one) - np.log(three))[:, 1:20] / angle**2
    np.testing.assert_allclose(gained, variance[:, None] * (1 - 1 / 3) * np.ones(19), rtol=1e-6)
