"""One broken file for every kind of load error: each names file, line and rule, and says what to type."""

import shutil
from pathlib import Path

import pytest

from shaftwright.errors import InputError
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.check import check

BROKEN = Path(__file__).parent / "fixtures" / "rules_broken"
EXPECTED = {
    "format_unknown": ["format", "allowed: 1"],
    "format_missing": ["format", "is missing"],
    "yaml_torn": ["is not YAML here"],
    "key_twice": ["rules.0.low", "stands twice"],
    "anchor": ["anchors (&) are not allowed"],
    "field_unknown": ["rule Z01: wyh", "did you mean why?"],
    "why_missing": ["rule Z01: why", "is missing"],
    "code_pattern": ["rule Z1: code", "'Z1'"],
    "name_pattern": ["rule Z01: name", "'Some Rule'"],
    "code_twice": ["rule Z01", "is used twice; first at", "never reused"],
    "name_twice": ["rule Z02", "'some-rule' is used twice"],
    "code_retired": ["rule Z01", "is retired in favour of Z02"],
    "retired_to_nothing": ["retired Y01", "'Y02' is no rule"],
    "shift_unknown": ["rule Z01: shift", "allowed: effective_bow_weight_lb | draw_weight_lb"],
    "unit_unknown": ["rule Z01: shift_unit", "allowed: lb | pct_of_draw_weight"],
    "unit_missing": ["rule Z01: shift_unit", "is missing"],
    "range_missing": ["rule Z01", "needs value, low and high"],
    "range_disordered": ["rule Z01", "low <= value <= high"],
    "range_not_finite": ["rule Z01: high", "finite"],
    "basis_unknown": ["rule Z01: basis", "allowed: published | common_practice | calculated"],
    "published_without_source": ["rule Z01", "published needs a source", "bibliography.yaml"],
    "source_unknown": ["rule Z01: source", "'no-such-page' is not a key of bibliography.yaml"],
    "silent_missing": ["rule Z01", "needs silent"],
    "saw_two_lines": ["rule Z01: saw"],
    "saw_too_long": ["rule Z01: saw", "too long"],
    "saw_full_stop": ["rule Z01", "leave the full stop away"],
    "saw_blank_unknown": ["rule Z01: saw", "a blank that cannot be filled", "{fact"],
    "form_unknown": ["rule Z01: form"],
    "quantity_unknown": ["rule Z01: form", "'arrow_length' is not a quantity of the closed list"],
    "quantity_is_a_choice": ["rule Z01: form", "'bow.kind' is not a quantity"],
    "build_quantity_on_the_rig": ["rule Z01: form", "write applies: {to: build}"],
    "step_nought": ["rule Z01: form", "must not be nought"],
    "step_unit_unknown": ["rule Z01: form", "is not a step", "'stone' is not known"],
    "step_of_another_unit": ["rule Z01: form", "'10 gr' is not in the unit of shaft_length_in, which is in"],
    "step_empty": ["rule Z01: form", "is not a step"],
    "usual_of_another_kind": ["rule Z01: form", "'usual_front_gr' tells nothing usual of the same kind", "allowed: usual_length_in"],
    "usual_in_a_group": ["rule Z01", "a form with a usual is in no overlap group"],
    "start_with_unit": ["rule Z01: form", "must be a plain number in the quantity's unit"],
    "table_missing": ["rule Z01: form", "'no_such' cannot be read as a table of a and b"],
    "table_column_missing": ["rule Z01: form", "cannot be read as a table", "nothing"],
    "table_not_rising": ["rule Z01: form", "constant must rise from row to row"],
    "table_not_finite": ["rule Z01: form", "two finite numbers"],
    "step_without_cases": ["rule Z01", "a step needs cases"],
    "step_with_value": ["rule Z01", "no value of its own"],
    "step_choice_unknown": ["rule Z01: form", "'bow.colour' is not a choice of the closed list"],
    "case_unknown": ["rule Z01: cases", "'crossbow' is not a case of bow.kind; allowed: recurve"],
    "case_disordered": ["rule Z01: cases.longbow", "low <= value <= high"],
    "cases_on_a_line": ["rule Z01", "and no cases"],
    "when_fact_unknown": ["rule Z01: applies", "'bow.colour' is not a choice of the closed list"],
    "when_choice_unknown": ["rule Z01: applies", "'crossbow' is not a case of bow.kind"],
    "overlap_choice_unknown": ["rule Z01: overlaps", "'crossbow' is not a case of bow.kind"],
    "overlap_name_pattern": ["rule Z01: overlaps", "'A Group'"],
    "case_fact_unknown": ["rule Z01: fires", "'shaft_lenght_in' is not in the closed list"],
    "case_choice_unknown": ["rule Z01: fires", "'crossbow' is not a case of bow.kind"],
    "case_not_a_number": ["rule Z01: fires", "'thirty' must be a plain number"],
    "fires_stays_silent": ["rule Z01: fires", "stays silent in this case"],
    "silent_fires": ["rule Z01: silent", "fires in this case"],
    "rules_not_a_list": ["rules", "must be a list"],
    "rule_not_a_mapping": ["rule 0", "must be a mapping"],
}  # fmt: skip


@pytest.fixture
def folders(tmp_path):
    rules, tables = tmp_path / "rules", tmp_path / "tables"
    rules.mkdir()
    tables.mkdir()
    shutil.copy(BROKEN.parent / "bibliography.yaml", rules)
    rows = (tables_dir() / "front_mass.csv").read_text().splitlines()
    extra = [
        rows[0] + ",constant,hole",
        *(row + f",1,{'nan' if i == 2 else 1}" for i, row in enumerate(rows[1:])),
    ]
    (tables / "front_mass.csv").write_text("\n".join(extra))
    return rules, tables


def faults_in(folders):
    with pytest.raises(InputError) as error:
        check(*folders)
    return error.value.faults


def test_there_is_a_case_for_every_fixture():
    assert {p.stem for p in BROKEN.glob("*.yaml")} == {*EXPECTED, "good"}


def test_the_good_file_beside_them_loads(folders):
    shutil.copy(BROKEN / "good.yaml", folders[0])
    book, cases = check(*folders)
    assert (len(book.rules), cases) == (1, 2)


@pytest.mark.parametrize("name", EXPECTED)
def test_broken_rule_file(folders, name):
    shutil.copy(BROKEN / f"{name}.yaml", folders[0])
    faults = faults_in(folders)
    lines = [str(fault) for fault in faults]
    assert all(line.isprintable() and "Traceback" not in line for line in lines)
    told = next((line for line in lines if all(words in line for words in EXPECTED[name])), None)
    assert told, lines
    place = told.partition(".yaml:")[2].split(":")[0]
    assert f"{name}.yaml" in told
    assert place.isdigit(), told
    assert 1 <= int(place) <= len((BROKEN / f"{name}.yaml").read_text().splitlines())


def test_a_code_retired_in_a_later_file_is_still_refused(folders):
    good = (BROKEN / "good.yaml").read_text()
    (folders[0] / "a.yaml").write_text(good)
    later = (
        good.replace("Z01", "Z09")
        .replace("some-rule", "later-rule")
        .replace("rules:", "retired: {Z01: Z09}\nrules:")
    )
    (folders[0] / "b.yaml").write_text(later)
    assert any("is retired in favour of Z09" in str(f) for f in faults_in(folders))


def test_every_fault_of_every_file_in_one_run(folders):
    for name in ("why_missing", "source_unknown", "yaml_torn"):
        text = (BROKEN / f"{name}.yaml").read_text()
        (folders[0] / f"{name}.yaml").write_text(text.replace("Z01", f"Z{len(name):02d}"))
    files = {f.file.rsplit("/", 1)[-1] for f in faults_in(folders)}
    assert files == {"why_missing.yaml", "source_unknown.yaml", "yaml_torn.yaml"}


def test_no_bibliography_leaves_no_source_resolved(folders):
    (folders[0] / "bibliography.yaml").unlink()
    shutil.copy(BROKEN / "source_unknown.yaml", folders[0])
    assert any("is not a key of bibliography.yaml" in str(f) for f in faults_in(folders))


def test_shipped_rules_pass_their_own_linter_and_a_retired_code_is_found():
    book, cases = check(rules_dir(), tables_dir())
    assert cases > len(book.rules)
    assert book.find("a03") is book.find("shaft-length")
    assert book.find("nothing") is None
    assert len({r.code for r in book.rules}) == len({r.name for r in book.rules}) == len(book.rules)
