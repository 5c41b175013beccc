"""Rules of one's own laid over the shipped ones: what they change, what they leave, what never leaks."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from own_kit import ALWAYS, CASES, LINE, SIZE, STEP, bow_with, folder_of

import shaftwright
from shaftwright.errors import InputError
from shaftwright.files.bow import own_rules_of
from shaftwright.parameters import Range
from shaftwright.rules.load import rulebook
from shaftwright.rules.own import laid_over, load_own
from shaftwright.rules.sizes import shipped

EXAMPLE = "examples/heron_marsh"
STARTER = Path(shaftwright.__file__).parent / "starter" / "rules.yaml"


def band_of(bow, **how):
    asked = shaftwright.open(bow, notebook_file="-", **how).scenario
    demand = asked.demand(asked.reference_build())
    return float(demand.mean[0]), float(demand.cumulants[0, 0])


def test_every_form_of_rule_loads_and_is_marked(tmp_path):
    book = laid_over(shipped(), load_own(folder_of(tmp_path, CASES, SIZE, LINE, STEP, ALWAYS)))
    assert book.own == {"S01": "size", "A03": "size", "M01": "rule", "M02": "rule", "M03": "rule"}
    assert {r.code for r in book.rules} == {r.code for r in rulebook().rules} | {
        "M01",
        "M02",
        "M03",
    }
    assert all(book.places[code].startswith("rules/mine.yaml:") for code in book.own)
    line = int(book.places["M01"].rpartition(":")[2])
    assert "code: M01" in (tmp_path / "rules/mine.yaml").read_text().splitlines()[line - 1]


SPAN = st.tuples(*[st.floats(-20, 20).map(lambda x: round(x, 3))] * 3).map(sorted)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(span=SPAN, basis=st.sampled_from(["both", "trade", "physics"]))
def test_a_size_of_ones_own_stands_as_written_whosever_is_taken(tmp_path, span, basis):
    low, value, high = span
    own = load_own(folder_of(tmp_path, SIZE | {"value": value, "low": low, "high": high}))
    book, before = laid_over(shipped(basis), own), shipped(basis)
    assert book.find("A03").range_for(None) == Range(value=value, low=low, high=high)
    assert book.sizes_of("A03") is None
    for rule in before.rules:
        if rule.code != "A03":
            assert book.find(rule.code) == rule
            assert book.sizes_of(rule.code) == before.sizes_of(rule.code)
    kept = before.find("A03").model_dump(
        exclude={"value", "low", "high", "basis", "source", "note"}
    )
    assert (
        book.find("A03").model_dump(exclude={"value", "low", "high", "basis", "source", "note"})
        == kept
    )


def test_the_shipped_size_written_out_changes_nothing(tmp_path):
    """Every shipped rule, its size copied into a file of one's own, by the trade."""
    sizes = []
    for rule in rulebook().rules:
        plain = rule.model_dump(mode="json", exclude_none=True)
        sizes.append({k: plain[k] for k in ("code", "name", "value", "low", "high", "cases", "basis", "source")
                      if k in plain})  # fmt: skip
    own = folder_of(tmp_path, *sizes)
    plain, with_own = (
        band_of(EXAMPLE, basis="trade", rules_folder=where) for where in ("-", str(own))
    )
    assert with_own == plain
    assert len(load_own(own).rules) == len(rulebook().rules)


def test_cases_that_are_not_named_stay(tmp_path):
    book = laid_over(rulebook(), load_own(folder_of(tmp_path, CASES)))
    before = rulebook().find("S01").cases
    assert book.find("S01").cases == before | {"low_stretch": Range(value=4, low=1, high=8)}


def test_a_constant_rule_moves_the_weight_by_its_mean(tmp_path):
    """-1 lb (-2 to 0): the mean of an even range is its middle, its variance (1 / 1.96)^2."""
    bow = bow_with(tmp_path, ALWAYS)
    (mean, variance), (plain, of_plain) = band_of(bow), band_of(bow, rules_folder="-")
    assert mean - plain == pytest.approx(-1, abs=1e-9)
    assert variance - of_plain == pytest.approx((1 / 1.959964) ** 2, rel=1e-4)


def test_one_folder_never_shows_in_another(tmp_path):
    plain = band_of(EXAMPLE)
    book = rulebook()
    one = bow_with(tmp_path / "one", ALWAYS)
    two = bow_with(tmp_path / "two", ALWAYS | {"value": 3, "low": 2, "high": 4})
    first, second = band_of(one), band_of(two)
    assert second[0] - first[0] == pytest.approx(4, abs=1e-9)
    assert band_of(EXAMPLE) == plain
    assert rulebook() is book
    assert not shipped().own
    assert shipped().find("M03") is None
    assert shaftwright.open(EXAMPLE).rule_book.find("M03") is None


def test_the_order_and_number_of_files_do_not_matter(tmp_path):
    together = folder_of(tmp_path / "a", CASES, LINE, ALWAYS)
    apart = tmp_path / "b"
    for i, rule in enumerate((ALWAYS, LINE, CASES)):
        folder_of(apart, rule, name=f"{i}.yaml")
    means = [band_of(EXAMPLE, rules_folder=str(f))[0] for f in (together, apart / "rules")]
    assert means[0] == pytest.approx(means[1], abs=1e-9)


def test_the_bows_own_folder_wins_over_the_one_beside(tmp_path):
    one, two = bow_with(tmp_path / "x", ALWAYS), bow_with(tmp_path / "y")
    one, two = (p.rename(tmp_path / name) for p, name in ((one, "one"), (two, "two")))
    assert own_rules_of(two) is None
    beside = folder_of(tmp_path, LINE)
    assert own_rules_of(two) == beside
    assert own_rules_of(one) == one / "rules"
    assert shaftwright.open(two).files.found[-1] == "../rules"


def test_a_folder_over_a_single_bow_is_somebody_elses(tmp_path):
    bow = bow_with(tmp_path)
    folder_of(tmp_path, LINE)
    assert own_rules_of(bow) is None


def test_a_whole_rule_set_beside_bows_is_not_taken_for_ones_own(tmp_path, monkeypatch):
    """A bow begun in a checkout of this project lies beside its rules."""
    import shutil

    shutil.copytree("rules", tmp_path / "rules")
    one, two = bow_with(tmp_path / "x"), bow_with(tmp_path / "y")
    one.rename(tmp_path / "one")
    assert own_rules_of(two.rename(tmp_path / "two")) is None


def test_a_rig_file_takes_only_what_is_named(tmp_path):
    bow = bow_with(tmp_path, ALWAYS)
    assert shaftwright.open(bow / "rig.yaml").own_rules is None
    assert shaftwright.open(bow / "rig.yaml", rules_folder=str(bow / "rules")).own_rules is not None


def test_the_answer_names_what_it_rests_on_and_no_more(tmp_path):
    """The rule for longbows has no say on a recurve."""
    other = LINE | {"code": "M09", "name": "long-ones", "applies": {"to": "build", "when": {"bow.kind": ["longbow"]}},
                    "fires": LINE["silent"], "silent": LINE["fires"], "overlaps": "long-heads"}  # fmt: skip
    asked = shaftwright.open(
        bow_with(tmp_path, CASES, LINE, other, ALWAYS), notebook_file="-"
    ).scenario
    assert [(one.rule, one.kind) for one in asked.own_rules] == [
        ("S01", "size"),
        ("M01", "rule"),
        ("M03", "rule"),
    ]
    assert shaftwright.open(EXAMPLE).scenario.own_rules == ()


def test_a_measured_speed_silences_a_size_of_the_string(tmp_path):
    """The example's chronograph stands in for limbs and string."""
    asked = shaftwright.open(bow_with(tmp_path, CASES)).scenario
    assert asked.speed is not None
    assert asked.own_rules == ()


def test_the_starter_changes_nothing_and_its_examples_load(tmp_path):
    text = STARTER.read_text(encoding="utf-8")
    (tmp_path / "as_written").mkdir()
    (tmp_path / "as_written" / "mine.yaml").write_text(text, encoding="utf-8")
    assert load_own(tmp_path / "as_written").rules == ()
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("#  - code:"))
    taken = [line[1:] for line in lines[start:] if line.startswith("#  ")]
    head = [line for line in lines if not line.startswith("#")]
    folder = tmp_path / "rules"
    folder.mkdir()
    (folder / "mine.yaml").write_text(
        "\n".join(head).replace("rules: []", "rules:") + "\n" + "\n".join(taken)
    )
    own = load_own(folder)
    assert [rule.code for rule in own.rules] == ["S01", "M01"]


def test_the_codes_promised_to_archers_are_never_shipped():
    codes = {rule.code for rule in rulebook().rules} | set(rulebook().retired)
    assert not [code for code in codes if code.startswith("M")]


def test_a_source_of_ones_own(tmp_path):
    cited = SIZE | {"basis": "fitted", "source": ["my-club"]}
    folder = folder_of(tmp_path, cited)
    with pytest.raises(InputError, match="my-club"):
        load_own(folder)
    (folder / "bibliography.yaml").write_text(
        yaml.safe_dump({"sources": {"my-club": {"title": "t"}}})
    )
    assert load_own(folder).rules[0].source == ("my-club",)


def test_an_own_rule_is_learned_with_the_others(tmp_path):
    """Its score is drawn with the rest; with shots it moves as a constant of the bow would."""
    wide = ALWAYS | {"value": 0, "low": -12, "high": 12}
    known = shaftwright.open(bow_with(tmp_path, wide)).scenario
    assert known.belief.learned
    before, after = known.prior.scores["M03"], known.belief.scores["M03"]
    assert np.std(after) < 0.97 * np.std(before)


def test_a_book_without_own_rules_is_the_same_book():
    assert laid_over(rulebook(), None) is rulebook()
    assert dataclasses.replace(rulebook()).own == {}
