"""What is wanted of a build as a sum of split normals: moments by integration, draws by hand, rules made for the purpose."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from core_rigs import changed
from scipy import stats

from shaftwright.inference import own_error
from shaftwright.inference.belief import (
    DRAWS,
    OWN_SEED,
    SEED,
    Belief,
    drivers_of,
    latin_hypercube,
    prior_belief,
)
from shaftwright.inference.demand import (
    Column,
    Demand,
    _alone,
    _columns,
    _joint,
    _split_cumulants,
    demand_of,
)
from shaftwright.parameters import Range
from shaftwright.records.builds import builds_by_numbers
from shaftwright.rules.evaluate import Evaluation
from shaftwright.rules.load import RuleBook, rulebook
from shaftwright.rules.own import laid_over
from shaftwright.rules.schema import Rule
from shaftwright.rules.sizes import shipped

NONE = Evaluation((), ())
RANDOM = np.random.default_rng(11)


def split_pdf(x, below, above):
    """Two halves of normals that meet at the mode (Gibbons and Mylroie 1973, recalled)."""
    sd = np.where(x < 0, below, above)
    return np.sqrt(2 / np.pi) / (below + above) * np.exp(-0.5 * (x / sd) ** 2)


def split_ppf(p, below, above):
    """Its quantiles: below the mode lies below / (below + above) of it."""
    whole = (below + above) / 2
    low = below * stats.norm.ppf(np.minimum(p * whole / below, 0.5))
    return np.where(p * 2 * whole < below, low, above * stats.norm.isf(np.minimum((1 - p) * whole / above, 0.5)))  # fmt: skip


@pytest.mark.parametrize(("below", "above"), [(1.0, 3.0), (2.0, 0.5), (1.5, 1.5)])
def test_moments_of_a_split_normal_are_those_of_its_density(below, above):
    def moment(power, about=0.0):
        x = np.concatenate([np.linspace(-30, -1e-12, 6001), np.linspace(1e-12, 30, 6001)])
        return np.trapezoid((x - about) ** power * split_pdf(x, below, above), x)

    mean = moment(1)
    assert Column("A", "A", False, 1.0, 7.0, below, above).mean == pytest.approx(7 + mean, rel=1e-5)
    assert _split_cumulants(below, above) == pytest.approx((moment(2, mean), moment(3, mean)), abs=1e-3)  # fmt: skip


def column(x, value=0.0, below=1.0, above=1.0, flip=False, driver="A", code="A01"):
    return Column(code, driver, flip, x, value, below, above)


def test_deviations_rise_or_fall_with_the_score():
    u = np.array([-1.0, 0.0, 2.0])
    up, down = (column(1.0, 5.0, 1.0, 3.0, flip).deviations(u) for flip in (False, True))
    np.testing.assert_allclose(up, split_ppf(stats.norm.cdf(u), 1.0, 3.0), atol=0.01)
    np.testing.assert_allclose(down, split_ppf(stats.norm.cdf(-u), 1.0, 3.0), atol=0.01)


def test_a_column_alone_counts_its_square_and_cube():
    x = np.array([-2.0, 3.0])
    second, third = _split_cumulants(1.0, 3.0)
    variance, cubed = _alone(column(x, 0.0, 1.0, 3.0))
    np.testing.assert_allclose(variance, [4 * second, 9 * second])
    np.testing.assert_allclose(cubed, [-8 * third, 27 * third])


def test_columns_of_one_score_have_the_moments_of_their_sum():
    """The sum itself at the same strata of the score, one of three falling."""
    members = [column(2.0, 9.0, 1.0, 3.0), column(np.array([-1.0, 0.5]), 1.0, 2.0, 0.5, True),
               column(np.array([3.0, 1.0]), 4.0, 0.7, 1.1)]  # fmt: skip
    for few in (members[:2], members):
        variance, third = _joint(few)
        p = (np.arange(512) + 0.5) / 512
        for n in range(2):
            total = sum(
                np.broadcast_to(m.x, 2)[n] * split_ppf(1 - p if m.flip else p, m.below, m.above)
                for m in few
            )  # fmt: skip
            off = total - total.mean()
            assert variance[n] == pytest.approx((off**2).mean(), rel=1e-3)
            assert third[n] == pytest.approx((off**3).mean(), rel=1e-3, abs=1e-3)
    plain = _joint([column(2.0), column(3.0)])
    assert plain[0] == pytest.approx(25, rel=0.01)
    assert plain[1] == pytest.approx(0, abs=1e-6)


BUILDS = builds_by_numbers([400.0, 500.0, 600.0], [28.0, 29.0, 30.0], [125.0, 150.0, 200.0])


def demand(*columns, stated=45.0, own=47.0, builds=BUILDS):
    return Demand(len(builds), stated, own, columns, NONE, NONE, changed(), builds)


X = np.array([1.0, -2.0, 0.5])
COLUMNS = (
    column(2.0, 1.5, 0.5, 1.0, driver="A"), column(X, 2.0, 1.0, 3.0, driver="B"),
    column(X[::-1].copy(), -1.0, 0.4, 0.2, True, "B"), column(-1.0, 0.5, 1.0, 2.0, driver="C"),
)  # fmt: skip


def test_mean_and_cumulants_are_sums_over_drivers():
    one = demand(*COLUMNS)
    a, b1, b2, c = COLUMNS
    np.testing.assert_allclose(one.mean, 45 + 2 * a.mean - c.mean + X * b1.mean + X[::-1] * b2.mean)
    joint = _joint([b1, b2])
    own = own_error.mean_square() * 47**2
    np.testing.assert_allclose(one.cumulants[0], _alone(a)[0] + _alone(c)[0] + joint[0] + own)
    np.testing.assert_allclose(one.cumulants[1], _alone(a)[1] + _alone(c)[1] + joint[1])


def test_draws_add_every_coefficient_and_shares_of_the_carrying_arrows():
    one = demand(*COLUMNS)
    names = ("A", "B", "C", *own_error.DRIVERS)
    belief = Belief({name: RANDOM.standard_normal(20) for name in names})
    expected = np.full((3, 20), 45.0)
    for c in COLUMNS:
        expected += np.multiply.outer(np.broadcast_to(c.x, 3), c.value + c.deviations(belief.scores[c.driver]))  # fmt: skip
    size = 47 * own_error.sizes(belief.scores[own_error.SIZE])
    share = one.shares(belief)
    for k in range(share.shape[1]):
        expected += np.multiply.outer(share[:, k], size * belief.scores[own_error.SCORES[k]])
    np.testing.assert_allclose(one.draws(belief), expected)
    common, amounts, coefficients = one.shared(belief)
    assert amounts.shape == (3, 2 + share.shape[1])
    assert coefficients.shape == (2 + share.shape[1], 20)
    np.testing.assert_allclose(common, 45 + 2 * (1.5 + COLUMNS[0].deviations(belief.scores["A"]))
                               - (0.5 + COLUMNS[3].deviations(belief.scores["C"])))  # fmt: skip


def test_without_a_column_that_differs_only_own_errors_do():
    one = demand(COLUMNS[0])
    belief = Belief({name: np.zeros(4) for name in ("A", *own_error.DRIVERS)})
    middle = split_ppf(0.5, 0.5, 1.0)
    np.testing.assert_allclose(one.draws(belief), 45 + 2 * (1.5 + middle), rtol=1e-4)


def test_shares_are_of_the_bows_usual_arrows_or_of_the_beliefs_own_and_kept():
    one = demand()
    belief = Belief({name: np.zeros(4) for name in own_error.DRIVERS})
    usual = one.shares(belief)
    assert one.shares(belief) is usual
    shot = own_error.traits_of(one.rig, BUILDS)
    learned = Belief(belief.scores, True, one.errors_with(shot))
    told = one.shares(learned)
    np.testing.assert_allclose(np.square(told).sum(axis=1), 1, atol=1e-6)
    assert one.left_over_lb(learned) == pytest.approx(np.zeros(3), abs=0.1)
    rest = np.sqrt(1 - np.square(usual).sum(axis=1))
    size = 47 * np.sqrt(own_error.mean_square())
    np.testing.assert_allclose(one.left_over_lb(belief), size * rest)


def test_some_of_the_builds_keep_their_own_amounts():
    some = demand(*COLUMNS).take(np.array([2, 0]))
    assert some.size == 2
    assert some.columns[0].x == 2.0
    assert some.columns[1].x.tolist() == [0.5, 1.0]
    assert some.builds.spine_mils.tolist() == [600, 400]
    np.testing.assert_allclose(some.mean, demand(*COLUMNS).mean[[2, 0]])


def test_a_matched_shaft_has_the_stiffness_that_is_wanted_of_it():
    """26 lb over the deflection in inches, at a 28 in span with 1.94 lb: 31.4992 / inches (ASTM F2031, by its own ratio)."""
    one = demand(*COLUMNS)
    np.testing.assert_allclose(one.matched.builds.spine_mils, 31499.2 / one.mean, rtol=1e-5)
    nothing = demand(stated=-5.0).matched.builds.spine_mils
    np.testing.assert_allclose(nothing, 31499.2, rtol=1e-5)


# --- columns of a rule -----------------------------------------------------------------------------


def firing(amount, weight=1.0, group=None, unit=1.0, usual=0.0):
    return SimpleNamespace(
        rule=SimpleNamespace(code="A01"), range=Range(value=2.0, low=2 - 1.959964, high=2 + 2 * 1.959964),
        amount=amount, weight=weight, group=group, unit_lb=lambda lb: unit * lb, usual=usual,
    )  # fmt: skip


def told(*args, **more):
    return [(c.driver, c.flip, np.asarray(c.x).tolist()) for c in _columns(firing(*args, **more), 50.0, BOOK)]  # fmt: skip


def test_a_rule_alone_has_one_column_by_its_own_code():
    (one,) = _columns(firing(3.0, 0.5, unit=0.01), 50.0, BOOK)
    assert (one.code, one.driver, one.flip, one.x) == ("A01", "A01", False, 3 * 0.5 * 0.5)
    assert (one.value, one.below, one.above) == pytest.approx((2, 1, 2), rel=1e-4)
    assert told(-3.0, unit=0.01) == [("A01", False, -1.5)]
    assert told(np.array([1.0, -1.0]), unit=0.02) == [("A01", False, [1, -1])]
    assert told(np.array([4.0, 4.0]), unit=0.02) == [("A01", False, 4)]
    assert told(np.array([4.0]), unit=0.02) == [("A01", False, 4)]


def test_a_slopes_doubt_counts_from_the_usual_arrow():
    """Five steps, of which three are usual: two in doubt, and three at the most likely size without."""
    doubtful, known = _columns(firing(5.0, usual=3.0, unit=0.02), 50.0, BOOK)
    assert (doubtful.x, doubtful.value) == (2.0, 2.0)
    assert (doubtful.below, doubtful.above) == pytest.approx((1, 2), rel=1e-4)
    assert (known.driver, known.x, known.value, known.below, known.above) == (
        "A01",
        3.0,
        2.0,
        0.0,
        0.0,
    )
    (one,) = _columns(firing(np.array([3.0, 4.0]), usual=0.0), 50.0, BOOK)
    assert one.x.tolist() == [150, 200]
    two, known = _columns(firing(np.array([3.0, 4.0]), usual=np.array([3.0, 1.0])), 1.0, BOOK)
    assert (two.x.tolist(), known.x.tolist()) == ([0, 3], [3, 1])


def test_what_is_known_at_the_usual_arrow_is_the_trades():
    """The model states sizes, never what a bow asks for: joined, only the way from the usual arrow is part its own."""
    doubtful, known = (
        c
        for c in demand_of(changed(), builds_by_numbers(500.0, 29.0, 200.0), shipped()).columns
        if c.code == "A03"
    )
    assert known.value == 10 != doubtful.value
    (*_, alone) = (
        c
        for c in demand_of(
            changed(), builds_by_numbers(500.0, 29.0, 200.0), shipped("physics")
        ).columns
        if c.code == "A03"
    )
    assert alone.value == shipped("physics").find("A03").value


def test_at_the_usual_arrow_a_slope_adds_no_doubt():
    rules = replace(
        rulebook(), rules=tuple(r for r in rulebook().rules if r.slope), usual_tail_gr=17.0
    )
    assert [r.name for r in rules.rules] == ["front-mass", "shaft-length", "tail-mass"]
    rig = changed(bow__draw_weight={"lb": 50, "at": "own_draw"})
    usual, other = (
        demand_of(rig, builds_by_numbers(500.0, length, front, tail), rules).cumulants[0, 0]
        - own_error.mean_square() * 50**2
        for length, front, tail in ((29.5, 200.0, 17.0), (31.0, 150.0, 30.0))
    )
    assert usual == pytest.approx(0, abs=1e-9)
    assert other > 1


def test_a_size_of_ones_own_tells_the_way_from_the_usual_arrow():
    """As `rules fit` finds it: what the usual arrow asks for is known without it."""
    book = shipped("trade")
    rule = book.find("front-mass")
    twice = {end: 2 * getattr(rule, end) for end in ("value", "low", "high")}
    own = RuleBook((rule.model_copy(update=twice),), {}, {rule.code: "own.yaml:1"})
    rig = changed(bow__draw_weight={"lb": 50, "at": "own_draw"})

    def asked(rules, front):
        demand = demand_of(rig, builds_by_numbers(500.0, 29.5, front, 25.0), rules)
        both = sorted((c for c in demand.columns if c.code == rule.code), key=lambda c: c.doubtful)
        return [float(np.ravel(c.x)[0]) * c.value for c in both]

    laid = laid_over(book, own)
    assert asked(laid, 200.0) == pytest.approx(asked(book, 200.0))
    assert asked(book, 200.0)[1] == pytest.approx(0)
    (at_usual, further), (as_laid, twice_as_far) = asked(book, 250.0), asked(laid, 250.0)
    assert as_laid == pytest.approx(at_usual)
    assert twice_as_far == pytest.approx(2 * further) != 0


def test_in_a_group_a_push_down_falls_with_the_shared_score():
    assert told(3.0, group="g", unit=0.02) == [("g", False, 3)]
    assert told(-3.0, group="g", unit=0.02) == [("g", True, -3)]
    assert told(0.0, group="g", unit=0.02) == [("g", False, 0)]
    assert told(np.array([1.0, -2.0]), group="g", unit=0.02) == [
        ("g", False, [1, 0]), ("g", True, [0, -2])]  # fmt: skip
    assert told(np.array([1.0, 2.0]), group="g", unit=0.02) == [("g", False, [1, 2])]
    assert told(np.array([-1.0, -2.0]), group="g", unit=0.02) == [("g", True, [-1, -2])]


# --- a book made for the purpose -------------------------------------------------------------------


def rule(code, shift, unit, of, reference, **more):
    return Rule.model_validate({
        "code": code, "name": f"r-{code.lower()}", "applies": {"to": more.pop("to", "rig")}, "shift": shift,
        "form": {"per": 1.0, "of": of, "from": reference}, "shift_unit": unit, "value": 2, "low": 1, "high": 4,
        "saw": "a", "why": "b", "do": "c", "basis": "recalled", "fires": {of: reference + 1}, "silent": {of: reference},
        **more,
    })  # fmt: skip


BOOK = RuleBook((
    rule("W01", "draw_weight_lb", "lb", "draw_beyond_marked_in", 0.0),
    rule("L01", "effective_bow_weight_lb", "pct_of_draw_weight", "shaft_length_in", 28.0, to="build"),
))  # fmt: skip


def test_rules_of_the_weight_come_first_and_the_others_count_from_what_they_leave():
    """Marked at 27 in: an inch beyond it, 2 lb an inch; then 2 % of that for every inch of shaft."""
    rig = changed(bow__draw_weight={"lb": 50, "at": 27.0})
    found = demand_of(rig, BUILDS, BOOK)
    mean = 2 + np.sqrt(2 / np.pi) * (2 - 1) / stats.norm.ppf(0.975)
    assert found.stated_lb == 50
    assert found.own_lb == pytest.approx(50 + mean, rel=1e-5)
    np.testing.assert_allclose(found.mean, found.own_lb * (1 + np.arange(3) * mean / 100), rtol=1e-6)  # fmt: skip
    assert [f.rule.code for f in found.firings] == ["W01", "L01"]
    assert [f.rule.code for f in found.weight_rules.firings] == ["W01"]
    assert found.size == 3
    at_home = demand_of(changed(), BUILDS, BOOK)
    assert at_home.own_lb == at_home.stated_lb == 50
    assert [s.rule.code for s in at_home.weight_rules.silences] == ["W01"]


# --- belief ----------------------------------------------------------------------------------------


def test_a_latin_hypercube_has_one_draw_in_every_stratum_and_rows_of_their_own():
    table = latin_hypercube(3, 100)
    strata = stats.norm.ppf((np.arange(100) + 0.5) / 100)
    for row in table:
        np.testing.assert_allclose(np.sort(row), strata, atol=0.01)
    assert not np.array_equal(table[0], table[1])
    assert not np.array_equal(table, latin_hypercube(3, 100, OWN_SEED))
    np.testing.assert_array_equal(table, latin_hypercube(3, 100, SEED))
    np.testing.assert_array_equal(latin_hypercube(5, 100)[:3], table)


def test_drivers_are_rules_then_groups_then_own_errors():
    grouped = BOOK.rules[0].model_copy(update={"overlaps": SimpleNamespace(group="g")})
    book = RuleBook((grouped, BOOK.rules[1], grouped))
    assert drivers_of(book) == ("W01", "L01", "W01", "g", *own_error.DRIVERS)
    prior = prior_belief(BOOK)
    assert tuple(prior.scores) == drivers_of(BOOK)
    assert prior.size == DRAWS == 2048
    assert prior.learned is False
    np.testing.assert_array_equal(prior.scores["L01"], latin_hypercube(len(prior.scores), DRAWS)[1])


def test_some_of_the_draws_stay_what_they_are():
    whole = Belief({"A": np.arange(6.0), "B": -np.arange(6.0)}, True)
    some = whole.some(slice(2, 4))
    assert {n: r.tolist() for n, r in some.scores.items()} == {"A": [2, 3], "B": [-2, -3]}
    assert some.learned
    assert some.size == 2


def test_deviations_are_worked_out_once_for_each_coefficient():
    belief = Belief({"A": np.array([-1.0, 2.0])})
    up, down = belief.deviations("A", False, 1.0, 3.0), belief.deviations("A", True, 1.0, 3.0)
    share = stats.norm.cdf([-1.0, 2.0])
    np.testing.assert_allclose(up, split_ppf(share, 1.0, 3.0), atol=0.01)
    np.testing.assert_allclose(down, split_ppf(1 - share, 1.0, 3.0), atol=0.01)
    assert belief.deviations("A", False, 1.0, 3.0) is up
    assert belief.deviations("A", False, 1.0, 4.0)[1] > up[1]
