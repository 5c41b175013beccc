"""Only a shaft far weaker than the bow wants may read stiff, by slapping the bow; against SciPy's normal distribution."""

import numpy as np
from scipy import stats

from shaftwright.inference.evidence.terms import Z, _false_stiff
from shaftwright.parameters import setting


def test_the_chance_of_a_false_stiff_grows_as_the_shaft_gets_weaker_than_wanted():
    stiffness = 40.0
    found = _false_stiff(stiffness)
    wanted = np.maximum(stiffness - Z, 1.0)  # a mismatch is supply less what is wanted
    width = setting("evidence.false_stiff_width")
    score = (setting("evidence.false_stiff_ratio") - stiffness / wanted) / width
    expected = setting("evidence.false_stiff_chance") * stats.norm.cdf(score)
    np.testing.assert_allclose(found, expected, atol=1e-6)
    assert (np.diff(found) <= 1e-12).all()
    assert found[0] > 100 * found[Z >= 0].max()
