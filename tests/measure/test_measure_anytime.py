"""The always-valid difference: against quadrature, against limits, against simulation."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from shaftwright.measure.anytime import Cells, weigh, weigh_pairs
from shaftwright.resources import measuring, spread
from shaftwright.units import Interval

NOISE = spread("shot_sd_fps")
RESTRING = spread("restringing_sd_fps")
SCALE = measuring("difference_scale_fps")


def nested(a, b):
    """Cells from lists of shots, one array a stringing, no stringing shared."""
    none = [[0] * len(b), [0] * len(a)]
    n, mean = ([[*map(f, a), *none[0]], [*none[1], *map(f, b)]] for f in (len, np.mean))
    squares = [sum(len(x) * np.var(x) for x in group) for group in (a, b)]
    return Cells(np.array(n), np.array(mean), np.array(squares))


def known(value):
    """A spread known almost exactly."""
    return Interval(value, value / 1.001, value * 1.001)


def ends(span):
    return span.low, span.high


def shots(seed, sizes, centre=0.0):
    rng = np.random.default_rng(seed)
    return [centre + rng.normal(0, 0.8) + rng.normal(0, 1.5, n) for n in sizes]


def test_known_spreads_give_robbins_1970_boundary():
    # Normal mixture: e = sqrt(v / (v + W)) exp(d^2 / 2 (1/v - 1/(v + W))) (Robbins 1970).
    tau, sigma, n, d = 0.8, 1.5, 10, 3.0
    # Two-point shots of the wanted variance about each mean.
    base = np.tile([-1.0, 1.0], n // 2) * sigma
    found = weigh(nested([base + d], [base]), known(sigma), known(tau), SCALE)
    v = 2 * (tau**2 + sigma**2 / n)
    wide = v + SCALE**2
    assert found.log_e(0) == pytest.approx(
        0.5 * math.log(v / wide) + d**2 / 2 * (1 / v - 1 / wide), rel=2e-3
    )
    half = math.sqrt(v * wide / SCALE**2 * (math.log(wide / v) + 2 * math.log(20)))
    assert ends(found.interval()) == pytest.approx((d - half, d + half), rel=2e-3)


@pytest.mark.parametrize("sizes", [((5,), (7,)), ((3, 4), (6, 2)), ((1, 1, 2), (3,))])
@pytest.mark.slow
def test_mixture_against_brute_force(sizes):
    """The likelihood of the difference by multivariate normals and plain quadrature."""
    a, b = shots(1, sizes[0], 2.0), shots(2, sizes[1])
    found = weigh(nested(a, b), NOISE, RESTRING, SCALE)
    grid = np.linspace(-4, 4, 19)
    tau = RESTRING.mid * np.exp(np.linspace(-4, 6, 19) * RESTRING.log_sd)
    tau_w = np.exp(-0.5 * np.linspace(-4, 6, 19) ** 2)
    sigma = NOISE.mid * np.exp(grid * NOISE.log_sd)
    sigma_w = np.exp(-0.5 * grid**2)

    def side(groups, t, s):
        # Integrate the group's mean out: a very wide normal stands for the flat prior.
        y = np.concatenate(groups)
        which = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
        cov = s**2 * np.eye(len(y)) + t**2 * (which[:, None] == which)
        inverse = np.linalg.inv(cov)
        one = np.ones(len(y))
        info = one @ inverse @ one
        mean = one @ inverse @ y / info
        rest = (y - mean) @ inverse @ (y - mean)
        return mean, 1 / info, -0.5 * (np.linalg.slogdet(cov)[1] + math.log(info) + rest)

    num = den = first = total = 0.0
    for t, tw in zip(tau, tau_w, strict=True):
        left = [side(a, t, s) for s in sigma]
        right = [side(b, t, s) for s in sigma]
        for (ma, va, la), wa in zip(left, sigma_w, strict=True):
            for (mb, vb, lb), wb in zip(right, sigma_w, strict=True):
                w = tw * wa * wb * math.exp(la + lb)
                v = va + vb
                num += w * stats.norm.pdf(0, ma - mb, math.sqrt(v + SCALE**2))
                den += w * stats.norm.pdf(0, ma - mb, math.sqrt(v))
                first += w * (ma - mb)
                total += w
    assert found.log_e(0) == pytest.approx(math.log(num / den), abs=0.02)
    assert found.centre == pytest.approx(first / total, abs=0.01)


def test_shared_stringing_cancels():
    """Both arrows on one stringing: what the stringing did falls on both, tau cannot matter."""
    x = np.array([1.0, -1.0, 0.5, -0.5, 1.5, -1.5])
    cells = Cells(np.array([[6.0], [6.0]]), np.array([[2.0], [0.0]]), np.array([x @ x, x @ x]))
    small = weigh(cells, NOISE, known(0.1), SCALE)
    large = weigh(cells, NOISE, known(10.0), SCALE)
    assert small.log_e(0) == pytest.approx(large.log_e(0), rel=1e-6)
    apart = weigh(nested([x + 2], [x]), NOISE, known(10.0), SCALE)
    assert apart.p_anytime() == 1.0


def test_pairs_against_quadrature():
    d = np.array([2.1, 1.2, 3.0, 2.4, 1.6])
    prior = NOISE.scaled(math.sqrt(2))

    def likelihood(mid, extra):
        def integrand(x):
            s = math.exp(x)
            n = len(d)
            rest = ((d - d.mean()) ** 2).sum()
            inner = s ** -(n - 1) * math.exp(-rest / (2 * s * s))
            return (
                stats.norm.pdf(x, math.log(prior.mid), prior.log_sd)
                * inner
                * stats.norm.pdf(d.mean(), mid, math.sqrt(s * s / n + extra))
            )

        return integrate.quad(integrand, -6, 6, limit=200)[0]

    expected = likelihood(0, SCALE**2) / likelihood(0, 0)
    assert weigh_pairs(d, NOISE, SCALE).log_e(0) == pytest.approx(math.log(expected), abs=0.01)


@given(st.floats(-30, 30), st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_shifting_both_or_swapping_changes_nothing(shift, seed):
    a, b = shots(seed, (4, 5), 1.0), shots(seed + 1, (6,))
    plain = weigh(nested(a, b), NOISE, RESTRING, SCALE)
    moved = weigh(nested([x + shift for x in a], [x + shift for x in b]), NOISE, RESTRING, SCALE)
    swapped = weigh(nested(b, a), NOISE, RESTRING, SCALE)
    assert moved.log_e(0) == pytest.approx(plain.log_e(0), abs=1e-6)
    assert swapped.log_e(0) == pytest.approx(plain.log_e(0), abs=1e-6)
    low, high = ends(plain.interval())
    assert ends(swapped.interval()) == pytest.approx((-high, -low), abs=1e-5)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_interval_and_chance_agree(seed):
    a, b = shots(seed, (5, 5, 5), 2.5), shots(seed + 1, (5, 5, 5))
    found = weigh(nested(a, b), NOISE, RESTRING, SCALE)
    low, high = ends(found.interval())
    assert (found.p_anytime() < 0.05) == (not low <= 0 <= high)
    once = ends(found.once())
    assert low < once[0] < found.centre < once[1] < high


def test_more_shots_of_one_stringing_do_not_outrun_restringing():
    x = np.tile([-1.0, 1.0], 5000)
    many = weigh(nested([x + 2], [x]), NOISE, RESTRING, SCALE)
    assert many.p_anytime() > 0.5
    assert many.sd > 0.8


def test_systematic_error_is_a_floor():
    x = [np.tile([-1.0, 1.0], 50)] * 20
    sure = weigh(nested([y + 2 for y in x], x), NOISE, known(0.01), SCALE)
    unsure = weigh(nested([y + 2 for y in x], x), NOISE, known(0.01), SCALE, systematic=2.0)
    assert sure.p_anytime() < 1e-6
    assert unsure.p_anytime() > 0.05


def test_extremes_stay_finite():
    same = np.full(6, 171.0)
    found = weigh(nested([same], [same]), NOISE, RESTRING, SCALE)
    assert found.p_anytime() == 1.0
    wild = weigh(nested([same], [np.array([20.0, 300.0, 90.0])]), NOISE, RESTRING, SCALE)
    assert all(math.isfinite(x) for x in ends(wild.interval()))
    far = weigh(nested([same + 200], [same]), NOISE, RESTRING, SCALE)
    assert far.p_anytime() < 1e-3
