"""The fit's own parts: blurs by NumPy's correlate, doubts of a rig's own, sizes read off draws."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from shaftwright.inference.demand import Column
from shaftwright.inference.evidence.sampler import Model
from shaftwright.inference.evidence.terms import BuildTerms, Z
from shaftwright.inference.rule_fit import Row, _agreement, _blurred, _model, _own, _range, _sizes
from shaftwright.parameters import setting
from shaftwright.records.builds import builds_by_numbers
from shaftwright.rules.load import rulebook
from shaftwright.rules.sections import evidence_rules

OWN = evidence_rules().anew.another_rig[0]
FREE = next(r.code for r in rulebook().rules if not _own(SimpleNamespace(code=r.code)))


def test_a_rigs_own_doubts_are_those_that_start_anew():
    anew = evidence_rules().anew
    for code in (*anew.any_change, *anew.limbs, *anew.another_rig):
        assert _own(SimpleNamespace(code=code))
    assert not _own(SimpleNamespace(code="Z99"))


@pytest.mark.parametrize("sd", [0.0, 0.5, 6.0])
def test_a_likelihood_is_carried_through_a_normal_doubt(sd):
    """A soft edge at 10 lb: blurred by a normal it is a wider soft edge, the root of the squares."""
    said = 0.1 + 0.9 * stats.norm.cdf((Z - 10) / 3)
    expected = 0.1 + 0.9 * stats.norm.cdf((Z - 10) / np.hypot(3, sd))
    found = _blurred(said, sd)
    assert found.shape == Z.shape
    np.testing.assert_allclose(found, expected, atol=2e-3)
    assert (found[0], found[-1]) == pytest.approx((0.1, 1.0))


def terms(words):
    return BuildTerms(np.zeros((21, 1281)), words, np.zeros(len(Z)))


def test_agreement_is_the_mean_chance_of_the_words_over_draws():
    model = Model(np.array([5.0, -5.0]))
    model.add("A", 0, 2.0)
    model.add("A", 1, -3.0, True)
    model.add("B", 1, 1.0, False, 1.0, 1.0)
    words = [np.log(0.1 + 0.8 * stats.norm.cdf(Z / w)) for w in (3.0, 6.0)]
    model.terms.extend(terms(w) for w in words)
    scores = np.random.default_rng(1).standard_normal((3, 400))
    z = [5 + 2 * scores[0], -5 + 3 * scores[0] + scores[1]]
    expected = np.mean(
        [np.exp(np.interp(one, Z, w)).mean() for one, w in zip(z, words, strict=True)]
    )
    assert _agreement(model, scores) == pytest.approx(expected, rel=1e-4)


def column(code, x, value=1.0, below=1.0, above=3.0, driver=None, flip=False):
    return Column(code, driver or code, flip, x, value, below, above)


def row(name="a", spine=500.0, columns=(), said=None, firings=(), sd_pct=0.0):
    """A row whose word and demand are given."""
    demand = SimpleNamespace(
        stated_lb=45.0, columns=columns, mean=np.array([47.0]), firings=firings
    )
    made = Row(SimpleNamespace(rig=SimpleNamespace(name=name), seen_with="bare_shaft"),
               builds_by_numbers(spine, 29.0, 150.0, spine_sd_pct=sd_pct), demand)  # fmt: skip
    made.__dict__["terms"] = terms(np.zeros(len(Z)))
    made.__dict__["said"] = 0.1 + 0.9 * stats.norm.cdf((Z - 10) / 3) if said is None else said
    return made


def test_a_rows_shaft_and_its_doubt():
    one = row(sd_pct=4.0)
    assert one.supply_lb == pytest.approx(31499.2 / 500, rel=1e-5)
    assert one.shaft_sd_lb == pytest.approx(0.04 * 31499.2 / 500, rel=1e-5)


@pytest.mark.parametrize(
    ("seen", "misread"),
    [("bare_shaft", None), ("broadheads", "broadhead"), ("fletched", "fletched")],
)
def test_a_word_seen_otherwise_than_on_a_bare_shaft_is_softened(seen, misread):
    words = np.log(0.05 + 0.95 * stats.norm.cdf(Z / 3))
    one = Row(SimpleNamespace(seen_with=seen), None, None)
    one.__dict__["terms"] = terms(words)
    wrong = 0 if misread is None else setting(f"evidence.{misread}_misread")
    np.testing.assert_allclose(one.said, wrong + (1 - wrong) * np.exp(words))


def test_of_a_lone_arrow_the_rigs_own_doubt_is_blurred_in_and_the_rules_stay_scores():
    """Own: 2 x (1 + 3) / 2 = 4 lb; beside 4 % of a shaft of 63 lb."""
    one = row(columns=(column(OWN, 2.0), column(FREE, np.array([3.0]), 2.0)), sd_pct=4.0)
    model = _model([one])
    own_mean = column(OWN, 2.0).mean
    assert model.fixed[0] == pytest.approx(one.supply_lb - 45 - 2 * own_mean - 3 * 2)
    assert {k: v.tolist() for k, v in model.pounds.items()} == {(FREE, False, 1.0, 3.0): [-3]}
    blurred = np.log(_blurred(one.said, np.hypot(4, one.shaft_sd_lb)))
    np.testing.assert_allclose(model.terms[0].words, blurred)


def test_several_arrows_of_one_rig_share_its_own_doubt_as_a_score():
    rows = [
        row("a", columns=(column(OWN, 2.0), column(OWN, 1.5))),
        row("b", columns=(column(OWN, 2.0),)),
        row("a"),
    ]
    model = _model(rows)
    pounds = {k[0]: v.tolist() for k, v in model.pounds.items()}
    assert pounds == {"rig a": [-5, 0, 0]}  # 4 and 3
    np.testing.assert_allclose(model.terms[0].words, np.log(rows[0].said), atol=1e-9)
    np.testing.assert_allclose(model.terms[1].words, np.log(_blurred(rows[1].said, 4.0)))
    assert "rig b" not in pounds


def firing(code, case=None):
    return SimpleNamespace(
        rule=SimpleNamespace(code=code, name=f"n-{code}", shift_unit="lb"), case=case
    )


def test_sizes_are_read_off_the_draws_of_rules_at_work():
    other = "Z98"
    rows = [
        row(columns=(column(FREE, 1.0), column(OWN, 1.0), column("Z97", 0.0)),
            firings=(firing(FREE), firing(OWN), firing("Z97"), firing("Z96"))),
        row(columns=(column(FREE, -2.0), column(other, 1.0, 5.0)), firings=(firing(FREE), firing(other, "longbow"))),
        row(columns=(column(other, 1.0, 7.0),), firings=(firing(other, "hybrid"),)),
    ]  # fmt: skip
    random = np.random.default_rng(2)
    start, after = random.standard_normal((2, 3000)), 0.5 * random.standard_normal((2, 3000)) + 1
    found = _sizes(rows, [FREE, other], start, after)
    assert [(s.code, s.case, s.arrows, s.name, s.unit) for s in found] == sorted([
        (FREE, "", 2, f"n-{FREE}", "lb"), (other, "hybrid", 1, f"n-{other}", "lb"), (other, "longbow", 1, f"n-{other}", "lb")])  # fmt: skip
    one = next(s for s in found if s.code == FREE)
    col = column(FREE, 1.0)
    then, now = 1 + col.deviations(start[0]), 1 + col.deviations(after[0])
    assert (one.before.value, one.after.value) == (
        pytest.approx(then.mean()),
        pytest.approx(now.mean()),
    )
    assert (one.before.low, one.before.high) == pytest.approx(
        tuple(np.quantile(then, [0.025, 0.975]))
    )
    assert one.doubt_left == pytest.approx(now.std() / then.std())
    hybrid = next(s for s in found if s.case == "hybrid")
    assert hybrid.before.value == pytest.approx(7 + col.deviations(start[1]).mean())


def test_a_size_without_doubt_keeps_all_of_it():
    sure = column(FREE, 1.0, below=0.0, above=0.0)
    (found,) = _sizes(
        [row(columns=(sure,), firings=(firing(FREE),))], [FREE], np.ones((1, 5)), np.ones((1, 5))
    )
    assert found.doubt_left == 1
    assert (_range(np.array([2.0, 2.0])).low, _range(np.array([2.0, 2.0])).high) == (2, 2)
