"""`rules check --physics`, and the rules on the model's footing."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from shaftwright.answers.launch.against_rules import rules_against_physics
from shaftwright.cli.main import cli
from shaftwright.parameters import Range
from shaftwright.rules.load import rulebook
from shaftwright.rules.sizes import book_on, combined

RIG = "examples/heron_marsh/rig.yaml"


@pytest.fixture(scope="module")
def against():
    return rules_against_physics(rulebook(), 12, 2)


@pytest.mark.slow
def test_every_rule_is_tried_or_named_as_untried(against):
    codes = {r.code for r in against.rules} | {u.code for u in against.untried}
    assert codes - {"-"} == {rule.code for rule in rulebook().rules}


@pytest.mark.slow
def test_verdicts_follow_from_the_figures(against):
    for rule in against.rules:
        if rule.verdict == "contradicts":
            assert rule.share < 0.25
        if rule.verdict in ("agrees", "size_differs"):
            assert rule.share >= 0.75
            assert np.sign(rule.physics.mid) == np.sign(rule.trade.mid)
    assert [r.name for r in against.rules if r.verdict == "no_trade_sign"] == ["brace-height"]


@pytest.mark.slow
def test_more_bow_weight_asks_for_a_stiffer_shaft_common_practice(against):
    weight = against.rules[0]
    assert weight.code == "-"
    assert weight.share == 1.0
    assert weight.verdict == "agrees"


@pytest.mark.slow
def test_the_trades_side_is_the_rules_own_figure(against):
    """25 gr up front and 1/16 in of plate by the rule set itself, not by this comparison."""
    by_kind = {rule.kind: rule for rule in against.rules}
    plate = rulebook().find("shaft-centre-offset")
    assert by_kind["plate_offset"].trade.mid == pytest.approx(plate.value)
    assert by_kind["plate_offset"].trade.low == pytest.approx(plate.low)
    release = rulebook().find("mechanical-release")
    assert by_kind["mechanical_release"].trade.mid == pytest.approx(release.value)


@pytest.mark.slow
def test_command_says_disagreements_plainly():
    said = CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "8"])
    assert said.exit_code == 0, said.stderr
    assert max(map(len, said.stdout.splitlines())) <= 80
    assert "they disagree on the sign" in " ".join(said.stdout.split())
    found = CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "8", "--json"])
    document = json.loads(found.stdout)
    assert document["rigs"] == 8
    first = document["rules"][0]
    assert set(first["trade_pct"]) == set(first["physics_pct"]) == {"low", "mid", "high"}
    assert {"share", "verdict", "fitted_pct", "change"} <= set(first)


def test_bad_number_of_rigs_is_refused():
    assert CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "1"]).exit_code == 2


def test_weighing_by_doubt_is_the_inverse_variance_mean():
    """Two independent readings: weights 1/sd^2 (any text on least squares)."""
    one, two = Range(value=10, low=6.08, high=13.92), Range(value=12, low=8.08, high=15.92)
    found = combined(one, two)
    both, apart = found.used, found.apart
    assert both.value == pytest.approx(11)
    assert (both.high - both.low) == pytest.approx(7.84 / np.sqrt(2), rel=1e-3)
    assert apart == pytest.approx(2 / np.hypot(2, 2), rel=1e-3)


def test_quarrelling_sources_widen_the_range_birge_1932():
    one, two = Range(value=-10, low=-12, high=-8), Range(value=-50, low=-52, high=-48)
    found = combined(one, two)
    both, apart = found.used, found.apart
    assert apart > 10
    assert both.low < -50
    assert both.high > -10


def test_the_sizes_table_is_the_pages_and_names_its_basis():
    rows = list(
        csv.DictReader(Path("tables/physics_sizes.csv").read_text(encoding="utf-8").splitlines())
    )
    assert {row["basis"] for row in rows} == {"calculated"}
    codes = {rule.code for rule in rulebook().rules}
    for row in rows:
        assert row["code"] in codes
        assert float(row["low"]) <= float(row["value"]) <= float(row["high"])


def test_only_rules_with_a_size_of_the_model_change():
    book = rulebook()
    other = book_on(book, "physics")
    changed = {code for code, _ in other.sizes}
    assert changed
    for before, after in zip(book.rules, other.rules, strict=True):
        assert (before == after) is (before.code not in changed)
        if before.code in changed:
            assert after.basis == "calculated"
    assert book_on(book, "trade") is book
    assert not book.sizes


def test_explain_shows_which_basis_was_used():
    args = ["explain", RIG, "--basis"]
    found = {}
    for basis in ("trade", "physics", "both"):
        result = CliRunner().invoke(cli, [*args, basis, "--json"])
        assert result.exit_code == 0, result.stderr
        found[basis] = json.loads(result.stdout)
        assert found[basis]["basis"] == basis
    plain = json.loads(CliRunner().invoke(cli, ["explain", RIG, "--json"]).stdout)
    assert plain["effective_bow_weight_lb"] == found["both"]["effective_bow_weight_lb"]
    assert found["trade"]["sizes_used"] == []
    middles = {found[b]["effective_bow_weight_lb"]["mid"] for b in found}
    assert len(middles) == 3
    text = CliRunner().invoke(cli, [*args, "both", "--full"]).stdout
    assert "trade and launch model by their doubt" in text
    assert max(map(len, text.splitlines())) <= 80
