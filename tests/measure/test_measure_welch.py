"""The textbook tests against NIST and SciPy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from shaftwright.measure.welch import holm, mean_of, stands_apart, welch

samples = (
    st.lists(st.floats(100, 300), min_size=2, max_size=30)
    .map(lambda x: np.asarray(x) + np.linspace(0, 1, len(x)))
    .filter(lambda x: np.std(x) > 1e-3)
)  # SciPy warns of readings that are all one


def test_welch_nist_auto83b():
    # NIST/SEMATECH e-Handbook 1.3.5.3, data set AUTO83B, to the printed digits.
    found = welch((249, 79), (20.14458, 30.48101), (6.41470, 6.10771))
    assert round(found.t, 4) == -12.9463  # printed -12.94627 from unrounded data
    assert found.t == pytest.approx(-12.94627, abs=2e-5)
    assert round(found.df, 3) == 136.875


@given(samples, samples)
@settings(max_examples=60, deadline=None)
def test_welch_is_scipy(a, b):
    reference = stats.ttest_ind(a, b, equal_var=False)
    low, high = reference.confidence_interval(0.95)
    found = welch((len(a), len(b)), (a.mean(), b.mean()), (a.std(ddof=1), b.std(ddof=1)))
    assert found.p_value == pytest.approx(reference.pvalue, rel=1e-6, abs=1e-300)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-6, abs=1e-9)
    assert found.df == pytest.approx(reference.df, rel=1e-6)


@given(st.lists(st.tuples(st.floats(100, 300), st.floats(100, 300)), min_size=3, max_size=20))
@settings(max_examples=60, deadline=None)
def test_paired_is_scipy(rows):
    a, b = np.asarray(rows).T
    b = b + np.linspace(0, 1, len(b))
    if np.ptp(a - b) < 1e-6:
        return
    reference = stats.ttest_rel(a, b)
    found = mean_of(a - b)
    assert found.p_value == pytest.approx(reference.pvalue, rel=1e-6, abs=1e-12)
    assert (found.low, found.high) == pytest.approx(
        tuple(reference.confidence_interval(0.95)), rel=1e-6
    )


def test_holm_wright_1992():
    # Any textbook of multiple tests: m p(1), (m-1) p(2), ... never falling. Worked by hand.
    assert holm([0.01, 0.02, 0.03, 0.005]) == pytest.approx([0.03, 0.04, 0.04, 0.02])
    assert holm([]) == []
    assert holm([0.9, 0.8]) == [1.0, 1.0]


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_holm_is_between_plain_and_bonferroni(p):
    found = holm(p)
    for plain, corrected in zip(p, found, strict=True):
        assert plain <= corrected <= min(1.0, len(p) * plain) + 1e-12 or corrected >= plain
    order = np.argsort(p, kind="stable")
    assert (np.diff(np.asarray(found)[order]) >= 0).all()


@given(samples)
def test_modified_z_is_scipy(x):
    mad = stats.median_abs_deviation(x)
    if mad > 0:
        z = 0.6745 * np.abs(x - np.median(x)) / mad
        clear = np.abs(z - 3.5) > 1e-9
        assert ((z > 3.5) == stands_apart(x))[clear].all()  # 3.5: Iglewicz and Hoaglin (1993)


def test_a_reading_that_stands_apart_is_pointed_out():
    x = np.array([171.0, 171.4, 170.8, 171.2, 171.1, 150.0])
    assert stands_apart(x).tolist() == [False] * 5 + [True]
    assert not stands_apart(np.array([171.0, 171.0, 171.0, 160.0])).any()  # MAD 0: no claim


@pytest.mark.parametrize("n", [(1, 5), (5, 1), (1, 1)])
def test_one_shot_has_no_interval(n):
    found = welch(n, (171, 170), (1, 1))
    assert found.mid == 1
    assert found.low is None
    assert found.p_value is None


def test_nothing_scatters_has_no_interval():
    assert welch((3, 3), (171, 170), (0, 0)).p_value is None
