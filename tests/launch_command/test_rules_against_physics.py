"""`rules check --physics`, and the rules on the model's footing."""

import csv
import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.answers.launch.against_rules import rules_against_physics
from shaftwright.cli.main import cli
from shaftwright.parameters import Range
from shaftwright.physics.launch.settings import LAWS
from shaftwright.rules.load import rulebook
from shaftwright.rules.sizes import ModelSize, book_on, combined, of_all_rigs

RIG = "examples/heron_marsh/rig.yaml"


@pytest.fixture(scope="module")
def against():
    return rules_against_physics(rulebook(), 8, 1)


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
def test_command_says_disagreements_plainly(against, monkeypatch):
    """What it shows is what was reckoned above: the command only passes the numbers on."""

    def reckoned(book, rigs):
        assert rigs == 8
        assert book.rules == rulebook().rules
        return against

    monkeypatch.setattr("shaftwright.answers.launch.against_rules.rules_against_physics", reckoned)
    said = CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "8"])
    assert said.exit_code == 0, said.stderr
    assert max(map(len, said.stdout.splitlines())) <= 80
    assert "the sign hangs on the settings" in " ".join(said.stdout.split())
    found = CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "8", "--json"])
    document = json.loads(found.stdout)
    assert document["rigs"] == 8
    first = document["rules"][0]
    assert set(first["trade_pct"]) == set(first["physics_pct"]) == {"low", "mid", "high"}
    assert {"share", "verdict", "fitted_pct", "change"} <= set(first)


def test_bad_number_of_rigs_is_refused():
    assert CliRunner().invoke(cli, ["rules", "check", "--physics", "--rigs", "1"]).exit_code == 2


def test_two_studies_that_agree_keep_their_own_ranges():
    """With no variance between studies the weights are one over variance (any text on least squares)."""
    one = Range(value=10, low=6.08, high=13.92)
    found = combined(one, ModelSize(Range(value=10, low=2.16, high=17.84), {"even": 10.0}))
    assert found.used == one
    assert found.between == 0
    assert found.share == pytest.approx(4**2 / (2**2 + 4**2), rel=1e-3)


def test_apart_they_are_weighed_with_the_variance_between_dersimonian_laird_1986():
    """Weights 1/(s^2 + tau^2); tau^2 from two readings with the divisor of one less than their number."""
    one = Range(value=-10, low=-13.92, high=-6.08)
    model = ModelSize(Range(value=-16, low=-23.84, high=-8.16), {"even": -16.0})
    found = combined(one, model)
    assert found.between == pytest.approx(np.std([-10, -16], ddof=1))
    share = (1 / (2**2 + 18)) / (1 / (2**2 + 18) + 1 / (4**2 + 18))
    assert found.used.value == pytest.approx(-10 * share - 16 * (1 - share), rel=1e-3)
    assert found.used.low == pytest.approx(found.used.value - 1.96 * np.sqrt(2**2 + 18), rel=1e-3)


@pytest.mark.slow
@settings(deadline=None)
@given(
    st.floats(-20, 20), st.floats(0.1, 10), st.floats(0.1, 10),
    st.lists(st.floats(-60, 60), min_size=1, max_size=3), st.floats(0.1, 60),
)  # fmt: skip
def test_joined_never_narrower_nor_of_a_sign_that_both_deny(value, below, above, laws, half):
    trade = Range(value=value, low=value - below, high=value + above)
    model = ModelSize(
        Range(value=laws[0], low=laws[0] - half, high=laws[0] + half),
        {str(i): law for i, law in enumerate(laws)},
    )
    used = combined(trade, model).used
    ends = sorted((value, float(np.mean(laws))))
    assert ends[0] - 1e-9 <= used.value <= ends[1] + 1e-9
    for sign, low, high in ((1, trade.low, used.low), (-1, -trade.high, -used.high)):
        # a law that says nought, to a hundredth of the trade's size, denies no sign
        if low >= 0 and all(sign * law >= -abs(value) / 100 for law in laws):
            assert high >= 0
        else:
            inner = below if sign > 0 else above
            assert sign * used.value - high >= inner - 1e-9


def test_a_model_without_an_answer_changes_nothing():
    trade = Range(value=2, low=0, high=4)
    assert combined(trade, ModelSize(Range(value=0, low=-1, high=1), {})).used == trade


def test_every_size_that_trade_and_all_laws_give_one_sign_keeps_it():
    """Shaft length, front mass: a longer shaft or a heavier point never asks for a weaker shaft."""
    book = book_on(rulebook(), "both")
    for code in ("A01", "A03"):
        assert book.sizes[code, ""].used.low >= 0
    assert book.sizes["A04", ""].used.high > 0  # the laws quarrel over mass at the nock


def test_the_sizes_table_is_the_pages_and_names_its_basis():
    rows = list(
        csv.DictReader(Path("tables/physics_sizes.csv").read_text(encoding="utf-8").splitlines())
    )
    assert {row["basis"] for row in rows} == {"calculated"}
    codes = {rule.code for rule in rulebook().rules}
    assert list(LAWS) == [name for name in rows[0] if name in LAWS]
    assert {law for size in of_all_rigs().values() for law in size.by_law} == set(LAWS)
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


@pytest.mark.slow
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
    assert "joined as two studies" in text
    alone = CliRunner().invoke(cli, [*args, "physics", "--full"]).stdout
    assert "the launch model's where it has one" in alone
    assert "front-mass" in alone.split("Sizes:")[1]
    assert max(map(len, text.splitlines())) <= 80
