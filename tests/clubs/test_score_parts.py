"""What is foretold of one arrow, and the figures made of it, on arrows made for the purpose."""

from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

from shaftwright.inference import score
from shaftwright.inference.evidence.terms import Z
from shaftwright.inference.score import (
    _best_spread,
    _by_rules,
    _density,
    _normal,
    _score,
    _weight_lb,
    _with_length_lb,
    score_rules,
)
from shaftwright.rules.load import RuleBook


def of_normal(mean, sd):
    weight = stats.norm.pdf((Z - mean) / sd)
    return weight / weight.sum()


def arrow(supply=50.0, own=45.0, said=None, reads="straight", sd=0.0):
    return SimpleNamespace(supply_lb=supply, shaft_sd_lb=sd, said=np.ones(len(Z)) if said is None else said,
                           demand=SimpleNamespace(own_lb=own), arrow=SimpleNamespace(reads=reads))  # fmt: skip


def test_a_density_is_a_normals_and_an_edgeworth_term():
    np.testing.assert_allclose(_density(5.0, 4.0, 0.0), of_normal(5, 4))
    t = (Z - 5) / 4
    bent = np.maximum(stats.norm.pdf(t) * (1 + 0.6 / 6 * (t**3 - 3 * t)), 0)
    np.testing.assert_allclose(_density(5.0, 4.0, 0.6), bent / bent.sum(), atol=1e-12)
    many = _density(5.0, np.array([[4.0], [8.0]]), 0.0)
    np.testing.assert_allclose(many, [of_normal(5, 4), of_normal(5, 8)])


@pytest.mark.parametrize(("mean", "end"), [(90.0, 70.0), (-90.0, -70.0)])
def test_a_mismatch_past_the_grid_stays_at_its_end(mean, end):
    np.testing.assert_allclose(_density(mean, 4.0, 0.0), of_normal(end, 4))


def test_spreads_are_shares_of_the_weight_beside_the_shafts_doubt():
    found = _normal(arrow(sd=3.0), 44.0, np.array([0.1, 0.2]))
    np.testing.assert_allclose(
        found, [of_normal(6, np.hypot(4.5, 3)), of_normal(6, np.hypot(9, 3))]
    )


def test_the_best_spread_is_that_of_the_highest_chance():
    """Words as narrow as a line, 4.5 lb off on either side of 45 lb: a tenth is the normal's own spread of them."""
    words = [arrow(45.0, said=(np.abs(Z - off) < 0.06).astype(float)) for off in (-4.5, 4.5)]
    found = _best_spread(words, _weight_lb)
    assert found == min(score._SHARES, key=lambda s: abs(np.log(s / 0.1)))
    assert (score._SHARES[0], score._SHARES[-1], len(score._SHARES)) == pytest.approx(
        (0.02, 0.6, 40)
    )


def test_the_length_rule_alone_adds_its_most_likely_size():
    def column(code, x):
        return SimpleNamespace(code=code, x=x, value=2.0)

    fired = [
        SimpleNamespace(rule=SimpleNamespace(code=c, name=n))
        for c, n in (("A03", "shaft-length"), ("B01", "other"))
    ]
    demand = SimpleNamespace(
        own_lb=45.0,
        firings=fired,
        columns=(column("A03", np.array([1.5])), column("B01", 9.0), column("A03", 0.5)),
    )
    assert _with_length_lb(SimpleNamespace(demand=demand)) == 45 + 3 + 1


def test_rules_foretell_by_their_moments(monkeypatch):
    monkeypatch.setattr(
        score, "moments", lambda *a: (np.array([44.0]), np.array([5.0]), np.array([0.4]))
    )
    one = arrow(50.0)
    one.build = None
    mean, chance = _by_rules(one, None)
    assert mean == 44
    # what is wanted leans up, so that what a shaft is off leans down
    np.testing.assert_allclose(chance, _density(6.0, 5.0, -0.4))


def test_inside_is_over_what_the_word_leaves_open_weighed_by_what_was_foretold():
    """Foretold a normal about -2 lb of 5 lb; the word leaves open what is stiff, and may be wrong by a tenth."""
    said = np.where(Z > 0, 1.0, 0.1)
    found = _score("w", [arrow(said=said, reads="stiff")], [(45.0, of_normal(-2, 5))], 12.5)
    normal = stats.norm(-2, 5)
    open_ = 1 - normal.cdf(0)
    for share, inside in zip((0.5, 0.8, 0.95), found.inside, strict=True):
        low, high = normal.interval(share)
        assert inside == pytest.approx(
            (normal.cdf(high) - normal.cdf(max(low, 0))) / open_, abs=0.02
        )
    assert found.log_score == pytest.approx(np.log(open_ + 0.1 * (1 - open_)), abs=0.01)
    assert (found.way, found.off_pct, found.spread_pct) == ("w", None, 12.5)


def test_a_word_far_from_all_that_was_foretold_lies_outside():
    said = np.where(Z > 60, 1.0, 0.05)
    found = _score(
        "w", [arrow(said=said, reads="stiff")], [(45.0, np.where(Z < 0, 1.0, 0.0) / (Z < 0).sum())]
    )
    assert found.inside == (0, 0, 0)
    assert np.isfinite(found.log_score)


def test_figures_are_means_over_arrows_and_the_median_over_ranges():
    narrow = np.where(np.abs(Z - 5) <= 1.05, 1.0, 0.3)
    wide = np.where(np.abs(Z) <= 2.05, 1.0, 0.3)
    told = [
        arrow(50.0, said=narrow),
        arrow(50.0, said=wide, reads="slightly_weak"),
        arrow(50.0, said=narrow, reads="weak"),
    ]
    chance = of_normal(0, 5)
    found = _score("w", told, [(45.0, chance), (40.0, chance), (45.0, chance)])
    # what suited was 44 to 46 lb beside 45, and 48 to 52 beside 40; a word with one end has no distance
    gaps = [*np.abs(np.linspace(44, 46, 99) - 45) / 45, *np.abs(np.linspace(48, 52, 99) - 40) / 40]
    assert found.off_pct == pytest.approx(100 * np.median(gaps), abs=0.2)
    logs = [np.log(one.said @ chance) for one in told]
    assert found.log_score == pytest.approx(np.mean(logs))
    singles = [_score("w", [one], [(45.0, chance)]).inside for one in told]
    np.testing.assert_allclose(found.inside, np.mean(singles, axis=0))
    tiny = _score("w", [arrow(50.0, said=narrow)], [(0.5, chance)])
    assert tiny.off_pct == pytest.approx(100 * 44.5, rel=0.01)  # of a pound at least


def test_groups_are_all_then_each_kind_with_its_rigs(monkeypatch):
    def row(name, kind, supply):
        one = arrow(supply, said=of_normal(0, 5) * 100)
        one.arrow = SimpleNamespace(
            reads="stiff", rig=SimpleNamespace(name=name, bow=SimpleNamespace(kind=kind))
        )
        one.demand.firings, one.demand.columns = (), ()
        return one

    seen = [row("a", "recurve", 50.0), row("a", "recurve", 47.0), row("b", "longbow", 40.0)]
    monkeypatch.setattr(score, "rows_of", lambda book, arrows: seen)
    monkeypatch.setattr(
        score, "_by_rules", lambda one, belief: (44.0, of_normal(one.supply_lb - 44, 5))
    )
    found = score_rules(RuleBook(()), ["any"])
    assert [(g.kind, g.arrows, g.rigs) for g in found] == [
        ("all", 3, 2),
        ("longbow", 1, 1),
        ("recurve", 2, 1),
    ]
    for group in found:
        assert [w.way for w in group.ways] == [
            "the rules",
            "draw weight alone",
            "length rule alone",
        ]
        assert group.ways[0].spread_pct is None
        assert group.ways[1].spread_pct == 100 * _best_spread(seen, _weight_lb)
    both = found[0].ways[0].log_score * 3
    assert both == pytest.approx(found[1].ways[0].log_score + 2 * found[2].ways[0].log_score)
    by_weight = [
        np.log(r.said @ _normal(r, 45.0, np.array([_best_spread(seen, _weight_lb)]))[0])
        for r in seen
    ]
    assert found[0].ways[1].log_score == pytest.approx(np.mean(by_weight))
