"""The sampler's parts against numpy, SciPy and posteriors known in closed form."""

import math

import numpy as np
import pytest
from scipy import optimize, stats

from shaftwright.inference.belief import Belief, latin_hypercube
from shaftwright.inference.demand import Column
from shaftwright.inference.evidence import sampler
from shaftwright.inference.evidence.sampler import (
    Model,
    _fit,
    _Likelihood,
    _neighbours,
    _next_step,
    _shares,
    _spread,
    _Tables,
    _times,
    _weakest_safe,
    sample,
)
from shaftwright.inference.evidence.terms import BuildTerms, Z, scatter_states, slopes
from shaftwright.inference.own_error import SCORES, SIZE, sizes
from shaftwright.physics import normal

STATES = scatter_states()
J = len(STATES.log_weight)
Q = np.arange(-640, 641) / 10
RANDOM = np.random.default_rng(5)


def terms(words=None, shots=None, false=None, marks=0.0):
    """What was seen of a build, as plain functions of mismatch and offset."""
    none = np.zeros(len(Z))
    return BuildTerms(
        np.zeros((J, len(Q))) if shots is None else shots,
        none if words is None else words, none if false is None else false, marks,
    )  # fmt: skip


# --- the model -------------------------------------------------------------------------------------


def column(x, value=2.0, below=1.0, above=3.0, flip=False):
    return Column("A01", "A01", flip, x, value, below, above)


def test_what_is_wanted_lowers_the_mismatch_by_pounds_a_unit():
    model = Model(np.array([10.0, 20.0]))
    model.take(0, column(3.0), 1, "A01")
    model.take(1, column(np.array([4.0, 5.0])), 1, "A01")
    model.take(1, column(2.0, 1.0, flip=True), 0, "A01")
    # known without doubt: pounds, and no score
    model.take(0, column(0.5, 2.0, below=0.0, above=0.0), 0, "B01")
    model.add("own", 0, -7.0)
    model.add("own", 0, -1.0)
    assert model.fixed.tolist() == [10 - 3 * 2 - 0.5 * 2, 20 - 5 * 2 - 2 * 1]
    assert {k: v.tolist() for k, v in model.pounds.items()} == {
        ("A01", False, 1.0, 3.0): [-3, -5], ("A01", True, 1.0, 3.0): [0, -2], ("own", False, 1.0, 1.0): [-8, 0],
    }  # fmt: skip
    assert model.scores == ["A01", "own", "slope"]
    model.add(SCORES[3], 1, -1.0)
    assert model.scores == ["A01", "own", SCORES[3], SIZE, "slope"]


def test_prior_draws_are_the_drivers_own_and_fresh_ones_in_turn():
    model = Model(np.zeros(1))
    for name in ("new", "A01", "newer"):
        model.add(name, 0, 1.0)
    prior = Belief({"A01": np.full(4, 7.0), "B01": np.full(4, 9.0)})
    fresh = np.arange(3.0)[:, None] * np.ones(4)
    assert model.start(prior, fresh)[:, 0].tolist() == [0, 7, 1, 2]  # the slope's last


# --- tables ----------------------------------------------------------------------------------------


def test_tables_in_a_row_are_read_as_numpy_interpolates_each():
    rows = [RANDOM.standard_normal(41) for _ in range(3)]
    tables, grid = _Tables(rows, 2.0, 0.1), np.arange(-20, 21) / 10
    x = np.array([[-3.0, -2.0, -1.97, 0.0], [0.04, 1.0, 1.99, 2.0], [5.0, -0.1, 0.73, 1.96]])
    found = tables.read(x.copy(), tables.first[:, None])
    for row, at, got in zip(rows, x, found, strict=True):
        np.testing.assert_allclose(got, np.interp(at, grid, row), atol=1e-5)


def test_mismatch_and_slope_are_sums_of_split_normals():
    model = Model(np.array([5.0, -3.0]))
    model.add("A", 0, 2.0, False, 1.0, 3.0)
    model.add("A", 1, -1.5, True, 2.0, 0.5)
    model.add("nothing", 0, 0.0)
    model.add(SCORES[0], 1, 4.0)
    model.terms.extend([terms(), terms()])
    names = model.scores
    scores = RANDOM.standard_normal((len(names), 50)).clip(-3, 3)
    row = dict(zip(names, scores, strict=True))
    z, slope = _Likelihood(model).mismatch(scores)
    first = 5 + 2 * normal.split_deviation(row["A"], 1.0, 3.0)
    second = -3 - 1.5 * normal.split_deviation(-row["A"], 2.0, 0.5)
    second += 4 * sizes(row[SIZE]) * row[SCORES[0]]
    np.testing.assert_allclose(z, [first, second], atol=2e-3)
    np.testing.assert_allclose(slope, slopes(row["slope"]), atol=1e-3)


def test_without_arrows_own_errors_nothing_is_sized():
    model = Model(np.array([5.0]))
    model.add("A", 0, 2.0)
    model.terms.append(terms())
    scores = np.array([[1.0, -1.0], [0.0, 0.0]])
    z, _ = _Likelihood(model).mismatch(scores)
    np.testing.assert_allclose(z, [[7, 3]], atol=1e-6)


def smooth(scale):
    """A likelihood of shots that differs by state, wide enough to read between the lines."""
    width = np.linspace(8, 14, J)[:, None]
    return -0.5 * ((Q - scale) / width) ** 2


def plain_sum(model, z, slope, state):
    """Every build's two ways to read it, added up one by one."""
    total = np.zeros(z.shape[1])
    for n in range(z.shape[1]):
        for k, t in enumerate(model.terms):
            zk, j = z[k, n], state[n]
            false = np.interp(zk, Z, t.false_stiff)
            true = np.interp(zk, Z, t.words) + np.interp(zk * slope[n], Q, t.shots[j])
            other = np.interp(-zk, Z, t.words) + np.interp(-zk * slope[n], Q, t.shots[j])
            with np.errstate(divide="ignore"):
                total[n] += np.logaddexp(math.log1p(-false) + true, np.log(false) + t.marks + other)
    return total


@pytest.mark.parametrize("builds", [1, 18])
def test_log_likelihoods_of_both_ways_to_read_every_build(builds):
    """Far too weak or not; more builds than are read in one go."""
    false = 0.4 * stats.norm.cdf(-(Z + 8) / 3)
    model = Model(np.zeros(builds))
    for k in range(builds):
        model.terms.append(terms(-0.5 * ((Z - k) / 9) ** 2, smooth(k - 4.0), false, 0.5))
    like = _Likelihood(model)
    z = RANDOM.uniform(-25, 10, (builds, 6))
    slope, state = RANDOM.uniform(0.4, 1.5, 6), RANDOM.integers(0, J, 6)
    found = like.of(z, slope, state)
    assert (z < like.weakest_safe[:, None]).any()
    np.testing.assert_allclose(found, plain_sum(model, z, slope, state), atol=0.02 * builds)
    strong = np.abs(z) + 30
    expected = plain_sum(model, strong, slope, state)
    np.testing.assert_allclose(like.of(strong, slope, state), expected, atol=0.02 * builds)


def test_where_the_false_way_never_matters():
    none = terms(false=np.full(len(Z), 0.5e-3))
    assert _weakest_safe(none) == -np.inf
    # with nothing seen, it matters wherever its chance is more than a thousandth
    false = np.where(Z <= -10.05, 0.5, 0.0)
    assert _weakest_safe(terms(false=false)) == pytest.approx(-12 + 2)
    # words that speak against the mirror image push it out; their log odds here are 2 z
    words = 1.0 * Z
    log_odds = -2 * Z  # of the mirror image, before the false way's own odds of one half
    last = Z[(false > 1e-3) & (log_odds > math.log(1e-3))].max()
    assert _weakest_safe(terms(words, false=false)) == pytest.approx(last, abs=2.1)
    assert _weakest_safe(terms(-words, false=false)) == -np.inf


@pytest.mark.parametrize("marks", [0.0, 5.5])
def test_words_marks_and_the_chance_itself_are_added_as_log_odds(marks):
    """An even chance, words of half a unit a pound: it matters up to 6.9 lb, and marks push that out by theirs."""
    one = terms(0.5 * Z, false=np.where(Z < 30, 0.5, 0.0), marks=marks)
    last = max(z for z in range(-70, 71, 2) if -z + marks > math.log(1e-3))
    assert _weakest_safe(one) == pytest.approx(last + 2)


def test_the_false_way_is_looked_for_at_every_slope_and_scatter():
    """By plain search: the last mismatch at which some slope and scatter leave it a thousandth."""
    false = 0.3 * stats.norm.cdf(-(Z + 5) / 4)
    one = terms(-0.05 * Z, smooth(2.0), false, 1.0)
    z = np.arange(-70, 71.0, 2.0)
    share = np.interp(z, Z, false)
    more = np.interp(-z, Z, one.words) - np.interp(z, Z, one.words) + 1 + np.log(share / (1 - share))  # fmt: skip
    q = np.clip(np.multiply.outer(z, np.geomspace(0.3, 2.5, 6)), -64, 64)
    more += np.max([np.interp(-q, Q, row) - np.interp(q, Q, row) for row in one.shots], axis=(0, 2))
    mattering = z[(share > 1e-3) & (more > math.log(1e-3))].max()
    assert mattering < 20
    assert _weakest_safe(one) == pytest.approx(mattering + 2)


# --- small tools -----------------------------------------------------------------------------------


def test_products_in_blocks_are_products():
    left, right = RANDOM.standard_normal((3, 4)), RANDOM.standard_normal((4, 600))
    np.testing.assert_allclose(_times(left, right), left @ right)
    weight = RANDOM.random(600)
    np.testing.assert_allclose(_spread(right, weight), (right * weight) @ right.T)


def test_systematic_resampling_takes_each_by_its_weight_rounded_either_way():
    weight = RANDOM.random(20)
    many = np.bincount(_shares(weight, 300), minlength=20)
    share = 300 * weight / weight.sum()
    assert ((many == np.floor(share)) | (many == np.ceil(share))).all()
    assert _shares(np.ones(5), 5).tolist() == [0, 1, 2, 3, 4]
    assert _shares(np.array([0.0, 1.0, 1e-9]), 4).tolist() == [1, 1, 1, 1]


def kept_alive(logs, step):
    """Kish's effective share of weighted draws (recalled)."""
    weight = np.exp(step * (logs - logs.max()))
    return weight.sum() ** 2 / (weight**2).sum() / len(logs)


def test_evidence_is_let_in_until_so_few_draws_stay_alive():
    logs = 12 * RANDOM.standard_normal(400)
    root = optimize.brentq(lambda s: kept_alive(logs, s) - 0.3, 1e-6, 1.0)
    assert _next_step(logs, 1.0) == pytest.approx(root, rel=1e-4)
    assert _next_step(logs, root / 2) == root / 2
    assert _next_step(np.zeros(10), 0.7) == 0.7
    steep = np.array([0.0, *[-1e9] * 99])
    assert _next_step(steep, 1.0) == pytest.approx(1e-4)
    assert _next_step(steep, 1e-3) == pytest.approx(1e-6)


def test_a_step_to_a_neighbouring_scatter_stays_on_the_grid():
    state = np.repeat(np.arange(21), 2000)
    moved, allowed = _neighbours(state, (7, 3), np.random.default_rng(3))
    (sigma, shift), (now, then) = np.divmod(state, 3), np.divmod(moved, 3)
    far = np.abs(now - sigma) + np.abs(then - shift)
    assert (far[allowed] == 1).all()
    assert (moved[~allowed] == state[~allowed]).all()
    inner = (sigma > 0) & (sigma < 6) & (shift == 1)
    assert allowed[inner].all()
    # six in ten of the scatter's own size, either way alike
    assert (now != sigma)[inner].mean() == pytest.approx(0.6, abs=0.02)
    assert (now > sigma)[inner].mean() == pytest.approx(0.3, abs=0.02)
    assert (then > shift)[inner].mean() == pytest.approx(0.2, abs=0.02)
    for edge in ((sigma == 0), (sigma == 6)):
        assert (~allowed)[edge & (shift == 1)].mean() == pytest.approx(0.3, abs=0.04)
    assert (~allowed)[inner | (shift == 1)].mean() < 0.1
    assert (~allowed)[(sigma == 3) & (shift != 1)].mean() == pytest.approx(0.2, abs=0.03)


def test_the_prior_over_the_approximation_is_a_ratio_of_normals():
    root = np.linalg.cholesky(np.array([[2.0, 0.5], [0.5, 1.0]]))
    mean, scores = np.array([0.3, -0.2]), RANDOM.standard_normal((2, 6))
    found = _fit(scores, scores - mean[:, None], np.linalg.inv(root))
    plain = stats.multivariate_normal.logpdf(scores.T, np.zeros(2), np.eye(2))
    about = stats.multivariate_normal.logpdf(scores.T, mean, root @ root.T)
    off = found - (plain - about)
    np.testing.assert_allclose(off, off[0])


# --- posteriors in closed form ---------------------------------------------------------------------


def start(model, draws=1024):
    return latin_hypercube(len(model.scores), draws, 77)


def test_a_normal_word_on_two_builds_is_the_conjugate_normal():
    """Prior z = A (9 lb) for both and B (6 lb) for the second; words are normals about 12 and -4 lb of 3 lb."""
    model = Model(np.array([0.0, 1.0]))
    model.add("A", 0, 9.0)
    model.add("A", 1, 9.0)
    model.add("B", 1, 6.0)
    # so unlikely in all that only the differences are numbers a computer can hold
    model.terms.extend(terms(-0.5 * ((Z - c) / 3) ** 2 - 900) for c in (12.0, -4.0))
    load = np.array([[9.0, 0.0], [9.0, 6.0]])
    precision = np.eye(2) + load.T @ load / 9
    about = np.linalg.solve(precision, load.T @ (np.array([12.0, -5.0]) / 9))
    spread = np.linalg.inv(precision)
    drawn = sample(model, start(model))
    assert drawn.scores.shape == (3, 1024)
    assert drawn.mismatch.shape == (2, 1024)
    for k in range(2):
        sd = math.sqrt(spread[k, k])
        assert drawn.scores[k].mean() == pytest.approx(about[k], abs=0.12 * sd)
        assert drawn.scores[k].std() == pytest.approx(sd, rel=0.08)
    cor = spread[0, 1] / math.sqrt(spread[0, 0] * spread[1, 1])
    assert np.corrcoef(drawn.scores[:2])[0, 1] == pytest.approx(cor, abs=0.06)
    # what nothing speaks of stays as it was
    assert drawn.scores[2].mean() == pytest.approx(0, abs=0.12)
    assert drawn.scores[2].std() == pytest.approx(1, rel=0.08)
    np.testing.assert_allclose(drawn.mismatch, load @ drawn.scores[:2] + [[0], [1]], atol=0.01)
    np.testing.assert_allclose(drawn.slope, slopes(drawn.scores[2]), atol=0.01)


def test_shots_that_tell_only_the_scatter_move_its_chances_by_bayes():
    model = Model(np.zeros(1))
    model.add("A", 0, 1.0)
    told = np.linspace(0, 3, J)
    model.terms.append(terms(shots=np.repeat(told[:, None], len(Q), axis=1)))
    drawn = sample(model, start(model, 2048))
    expected = np.exp(STATES.log_weight + told)
    expected /= expected.sum()
    found = np.bincount(drawn.state, minlength=J) / 2048
    np.testing.assert_allclose(found, expected, atol=0.035)


def test_draws_come_in_no_order():
    model = Model(np.zeros(1))
    model.add("A", 0, 9.0)
    model.terms.append(terms(-0.5 * ((Z - 12) / 3) ** 2))
    drawn = sample(model, start(model)).scores[0]
    assert abs(np.corrcoef(drawn[:-1], drawn[1:])[0, 1]) < 0.1
    assert len(np.unique(drawn)) > 900


class Counted(_Likelihood):
    """A likelihood that writes down how many draws it was asked for."""

    asked: list[int]

    def of(self, mismatch, slope, state):
        self.asked.append(mismatch.shape[1])
        return super().of(mismatch, slope, state)


@pytest.mark.parametrize(("builds", "first"), [(8, 400), (9, 200)])
def test_with_more_than_eight_builds_half_of_the_draws_find_the_way(monkeypatch, builds, first):
    Counted.asked = []
    monkeypatch.setattr(sampler, "_Likelihood", Counted)
    model = Model(np.zeros(builds))
    for k in range(builds):
        model.add("A", k, 9.0)
        model.terms.append(terms(-0.5 * ((Z - 12) / 3) ** 2))
    drawn = sample(model, start(model, 400))
    assert Counted.asked[0] == first
    assert Counted.asked[-1] == 400
    assert drawn.scores.shape[1] == len(drawn.slope) == len(drawn.state) == 400


def test_moves_end_when_a_draw_has_forgotten_where_it_was(monkeypatch):
    """Nothing seen: every step is taken, of which each leaves sqrt(1 - 0.95^2) of the old place (an
    autoregression); one part in twenty is left after three. Each has a step of the scatter beside it."""
    Counted.asked = []
    monkeypatch.setattr(sampler, "_Likelihood", Counted)
    model = Model(np.zeros(1))
    model.add("A", 0, 9.0)
    model.terms.append(terms())
    sample(model, start(model, 400))
    moves = math.ceil(math.log(0.05) / math.log(math.sqrt(1 - 0.95**2)))
    assert Counted.asked == [400] * (1 + 2 * moves)


def test_moves_that_fail_end_after_fourteen(monkeypatch):
    """A likelihood as jagged as a saw: hardly a step is taken."""
    Counted.asked = []
    monkeypatch.setattr(sampler, "_Likelihood", Counted)
    model = Model(np.zeros(1))
    for k in range(6):
        model.add(f"A{k}", 0, 9.0)
    saw = np.where(np.arange(len(Z)) % 40 < 2, 0.0, -60.0)
    model.terms.append(terms(saw))
    sample(model, start(model, 400))
    last = Counted.asked[::-1]
    assert last[:28] == [400] * 28
    # stages before it: three moves at most, and a step of the scatter with the first in every second stage
    assert len(last) > 29


class Refusing(_Likelihood):
    """A likelihood that lets nobody go from where they began, and writes down where they would have gone."""

    tried: list[np.ndarray]
    begun: bool

    def mismatch(self, scores):
        self.tried.append(scores.copy())
        return super().mismatch(scores)

    def of(self, mismatch, slope, state):
        began, Refusing.begun = Refusing.begun, True
        return np.full(mismatch.shape[1], -1e9 if began else 0.0)


def test_steps_that_fail_grow_shorter_and_every_second_one_is_half_as_long(monkeypatch):
    """Each is a share of the old place and a fresh normal a tenth wider than the prior: its size by least squares."""
    Refusing.tried, Refusing.begun = [], False
    monkeypatch.setattr(sampler, "_Likelihood", Refusing)
    model = Model(np.zeros(1))
    model.add("A", 0, 9.0)
    model.terms.append(terms())
    sample(model, start(model, 4000))
    old, *new = Refusing.tried
    expected, shorter = [], 1.0
    for move in range(14):
        expected.append(shorter * (0.5 if move % 2 else 0.95))
        shorter = max(shorter / 1.7, 0.15)
    assert len(new) == 14
    for scores, stride in zip(new, expected, strict=True):
        share = (scores * old).sum() / (old * old).sum()
        assert share == pytest.approx(math.sqrt(1 - stride**2), abs=0.04)
        fresh = (scores - share * old).std()
        assert fresh == pytest.approx(stride * math.sqrt(1.1), rel=0.04)
