"""`rules score`: calibrated where the rules are right, against quadrature by hand, and able to find fault."""

import dataclasses
import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from club_kit import FIRST, HEADER, table_of
from scipy import integrate, stats

from shaftwright.cli.main import cli
from shaftwright.errors import NoAnswer
from shaftwright.files.tuned import load_tuned
from shaftwright.inference.band import own_sd_lb
from shaftwright.inference.belief import prior_belief
from shaftwright.inference.evidence.terms import Z
from shaftwright.inference.rule_fit import rows_of
from shaftwright.inference.score import LENGTH, RULES, WEIGHT, score_rules
from shaftwright.parameters import setting
from shaftwright.rules.sizes import shipped

pytestmark = pytest.mark.slow

PATH = Path(__file__).resolve().parents[2] / "calibrate" / "clubs.py"


@pytest.fixture(scope="module")
def clubs():
    spec = importlib.util.spec_from_file_location("calibrate_clubs", PATH)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def reports(clubs):
    """160 rigs, each of a club of its own, so that no two share a truth; nobody's word is wrong."""
    book, rng = shipped(), np.random.default_rng(5)
    drivers = sorted(
        {r.code for r in book.rules} | {r.overlaps.group for r in book.rules if r.overlaps}
    )
    patch = pytest.MonkeyPatch()
    real = clubs.setting
    patch.setattr(
        clubs, "setting", lambda name: 0.0 if name == "evidence.word_misread" else real(name)
    )
    made = []
    for i in range(160):
        club = clubs.Club(book, {d: float(rng.standard_normal()) for d in drivers}, 1.0)
        made.append(clubs.report(club, rng, f"r{i}"))
    patch.undo()
    return made


def of(arrows, book=None):
    return {way.way: way for way in score_rules(book or shipped(), arrows)[0].ways}


def narrowed(book, share):
    """The same rules, every range this share as wide."""

    def cut(span):
        return span.model_copy(
            update={
                e: span.value + share * (getattr(span, e) - span.value) for e in ("low", "high")
            }
        )

    rules = []
    for rule in book.rules:
        if rule.cases:
            rules.append(
                rule.model_copy(update={"cases": {k: cut(v) for k, v in rule.cases.items()}})
            )
        else:
            span = cut(rule.range_for(None))
            rules.append(rule.model_copy(update={"low": span.low, "high": span.high}))
    return dataclasses.replace(book, rules=tuple(rules))


@pytest.mark.slow
def test_where_the_rules_are_right_the_ranges_hold_what_they_say(reports):
    ours = of(reports)[RULES]
    for share, inside in zip((0.5, 0.8, 0.95), ours.inside, strict=True):
        assert inside == pytest.approx(share, abs=3 * np.sqrt(share * (1 - share) / len(reports)))


@pytest.mark.slow
def test_rules_that_are_too_sure_are_found_out(reports):
    """A sixth of the doubt: the share inside falls, and so does the score."""
    right, sure = of(reports)[RULES], of(reports, narrowed(shipped(), 1 / 6))[RULES]
    assert sure.inside[1] < 0.7 < right.inside[1]
    assert sure.log_score < right.log_score - 0.01  # an arrow's own error stays in doubt
    timid = of(reports, narrowed(shipped(), 2.5))[RULES]
    assert timid.inside[1] > 0.9
    assert timid.log_score < right.log_score


@pytest.mark.slow
def test_the_rules_beat_the_two_simple_ways_where_they_are_right(reports):
    """And more knowledge does better than less: weight alone, with the length rule, all rules."""
    ways = of(reports)
    assert ways[RULES].log_score > ways[LENGTH].log_score > ways[WEIGHT].log_score
    assert ways[RULES].off_pct < ways[LENGTH].off_pct < ways[WEIGHT].off_pct
    assert ways[RULES].spread_pct is None


@pytest.mark.slow
def test_false_reports_are_seen_in_every_figure(clubs, reports):
    spoilt = of(clubs.falsified(reports, np.random.default_rng(1)))[RULES]
    right = of(reports)[RULES]
    assert spoilt.inside[1] < right.inside[1] - 0.04
    assert spoilt.log_score < right.log_score - 0.05


def even_book():
    """Three rules with even ranges, so that what is foretold is a normal."""
    book = shipped("trade")
    return dataclasses.replace(book, rules=tuple(r for r in book.rules if r.code in ("O01", "O02")))


@pytest.mark.parametrize(
    ("reads", "spine"), [("straight", 700), ("slightly_stiff", 640), ("stiff", 560), ("weak", 600)]
)
def test_against_quadrature(tmp_path, reads, spine):
    """One arrow, two even doubts: the word's chance and the share inside by SciPy."""
    arrows = load_tuned(table_of(tmp_path, [FIRST | {"reads": reads, "spine": str(spine)}])).arrows
    found = of(arrows, even_book())[RULES]
    supply, sd = 31499.2 / spine, np.hypot(5.88, 7.84) / stats.norm.ppf(0.975)
    # and the arrow's own error: 5 % of the weight, log-normal (3 to 8)
    log_sd = np.log(8 / 3) / (2 * stats.norm.ppf(0.975))
    sd = np.hypot(sd, 45 * 0.05 * np.exp(log_sd**2))
    tolerance = 0.07 * 45
    low, high = {"straight": (-tolerance, tolerance), "slightly_stiff": (2, 12), "stiff": (8, np.inf),
                 "weak": (-np.inf, -8)}[reads]  # fmt: skip

    def clear(z):
        return stats.norm.cdf((z - low) / 1.5) * stats.norm.cdf((high - z) / 1.5)

    foretold = stats.norm(supply - 45, sd)
    by_sight = integrate.quad(lambda z: foretold.pdf(z) * clear(z), -60, 60, limit=200)[0]
    assert found.log_score == pytest.approx(np.log(0.05 + 0.95 * by_sight), abs=3e-3)
    for share, inside in zip((0.5, 0.8, 0.95), found.inside, strict=True):
        ends = foretold.interval(share)
        within = integrate.quad(lambda z: foretold.pdf(z) * clear(z), *ends, limit=200)[0]
        assert inside == pytest.approx(within / by_sight, abs=0.02)


def test_the_distance_is_over_the_range_of_the_word(tmp_path):
    """Straight is 7 % either side (matching.tolerance_pct): 45 lb wanted, 50 lb supplied."""
    assert setting("matching.tolerance_pct") == 7
    (arrow,) = load_tuned(table_of(tmp_path, [FIRST | {"spine": str(31499.2 / 50)}])).arrows
    wanted = np.linspace(50 - 0.07 * 45, 50 + 0.07 * 45, 1001)
    by_hand = np.median(100 * np.abs(wanted - 45) / 45)
    assert of([arrow], even_book())[WEIGHT].off_pct == pytest.approx(by_hand, abs=0.4)
    one_sided = load_tuned(table_of(tmp_path, [FIRST | {"reads": "stiff"}])).arrows
    assert of(one_sided)[RULES].off_pct is None


def test_the_length_rule_alone_is_the_weight_and_the_length(tmp_path):
    """At 28 in the two are one; an inch longer asks for the rule's percent more."""
    at_28, at_29 = (
        load_tuned(table_of(tmp_path, [FIRST | {"length": x}])).arrows for x in ("28", "29")
    )
    same = of(at_28)
    assert same[LENGTH].off_pct == pytest.approx(same[WEIGHT].off_pct)
    more = of(at_29)
    assert more[LENGTH].off_pct != pytest.approx(more[WEIGHT].off_pct, abs=0.5)


def test_the_order_of_rows_does_not_matter_and_groups_are_the_kinds(reports):
    forth, back = score_rules(shipped(), reports[:40]), score_rules(shipped(), reports[39::-1])
    for one, other in zip(forth, back, strict=True):
        assert (one.kind, one.arrows, one.rigs) == (other.kind, other.arrows, other.rigs)
        for way, same in zip(one.ways, other.ways, strict=True):
            assert way.log_score == pytest.approx(same.log_score)
            assert way.inside == pytest.approx(same.inside)
    kinds = {g.kind: g.arrows for g in forth}
    assert kinds.pop("all") == sum(kinds.values()) == 40
    assert set(kinds) <= {"recurve", "longbow", "hybrid"}


def test_an_arrow_far_off_every_range_is_outside_and_finite(tmp_path):
    arrows = load_tuned(
        table_of(tmp_path, [FIRST | {"spine": "150"}, FIRST | {"rig": "b", "spine": "2500"}])
    ).arrows
    found = of(arrows)[RULES]
    assert found.inside[2] < 0.05
    assert np.isfinite(found.log_score)


def test_no_row_has_no_score():
    with pytest.raises(NoAnswer):
        score_rules(shipped(), ())


def score(*args):
    return CliRunner().invoke(cli, ["rules", "score", *map(str, args)])


def test_command_on_the_example():
    said = score("examples/tuned_rigs.csv")
    assert said.exit_code == 0, said.stderr
    assert "row left out" in said.stderr
    assert max(map(len, said.stdout.splitlines())) <= 80
    assert [said.stdout.count(way) for way in (RULES, WEIGHT, LENGTH)] >= [3, 3, 3]
    found = json.loads(score("examples/tuned_rigs.csv", "--json").stdout)
    assert [g["kind"] for g in found["groups"]] == ["all", "longbow", "recurve"]
    ours = found["groups"][0]["ways"][0]
    assert {
        "way",
        "inside_50",
        "inside_80",
        "inside_95",
        "off_pct",
        "log_score",
        "spread_pct",
    } == set(ours)
    assert ours["inside_50"] < ours["inside_80"] < ours["inside_95"]


@pytest.mark.slow
def test_command_scores_sizes_of_ones_own_too(tmp_path):
    def ours(*args):
        found = json.loads(score("examples/tuned_rigs.csv", "--json", *args).stdout)
        return found["groups"][0]["ways"][0]["log_score"]

    assert ours() != ours("--rules", "examples/own_rules/rules")
    assert ours() == ours("--rules", "-")
    (tmp_path / "bad.yaml").write_text("format: 2\n")
    said = score("examples/tuned_rigs.csv", "--rules", tmp_path)
    assert (said.exit_code, said.stdout) == (2, "")


def test_command_says_when_too_few_or_too_sure(tmp_path):
    assert "Too few arrows" in score(table_of(tmp_path, [FIRST])).stdout
    off = [FIRST | {"rig": f"r{i}", "spine": "300"} for i in range(12)]
    assert "too sure" in score(table_of(tmp_path, off)).stdout


def test_command_refuses_what_is_no_table(tmp_path):
    assert score("nowhere.csv").exit_code == 2
    bad = table_of(tmp_path, [FIRST | {"reads": "perfect"}])
    said = score(bad)
    assert said.exit_code == 2
    assert "tuned.csv:2: reads" in said.stderr
    empty = table_of(tmp_path, [], HEADER)
    assert score(empty).exit_code == 1


@pytest.mark.parametrize(
    ("reads", "spine"), [("stiff", 640), ("weak", 760), ("straight", 560), ("straight", 900)]
)
def test_lopsided_rules_against_joint_draws(tmp_path, reads, spine):
    """The word's chance over draws of every rule's size, a wide rule leaning far to one side among them."""
    lean = next(r for r in shipped("trade").rules if r.code == "O02")
    leaning = lean.model_copy(update={"value": 0.0, "low": -3.0, "high": 24.0})
    book = dataclasses.replace(
        shipped("trade"),
        rules=tuple(leaning if r.code == "O02" else r for r in shipped("trade").rules),
    )
    arrows = load_tuned(table_of(tmp_path, [FIRST | {"reads": reads, "spine": str(spine)}])).arrows
    (row,) = rows_of(book, arrows)
    supply = 31499.2 / spine
    own = own_sd_lb(row.demand, prior_belief(book))[0]
    off = supply + own * np.random.default_rng(1).standard_normal(2048)
    z = off - row.demand.draws(prior_belief(book))[0]
    by_draws = np.interp(z, Z, row.said).mean()
    assert np.exp(of(arrows, book)[RULES].log_score) == pytest.approx(by_draws, abs=0.02)
