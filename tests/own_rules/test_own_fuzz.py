"""Every field of a rule of one's own broken in turn: refused whole, with file, line, field and what to type."""

import copy
import re
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from own_kit import ALWAYS, CASES, LINE, SIZE, STEP, folder_of, rules_text

from shaftwright.errors import InputError
from shaftwright.rules.own import load_own

sys.path.insert(0, str(Path(__file__).parents[2] / "trust"))
from broken_rules import HOW, SAYS, broken

WHOLE = {"cases": CASES, "size": SIZE, "line": LINE, "step": STEP, "always": ALWAYS}
#: breakings that leave a good rule: what is optional, and what may be any text
HARMLESS = {
    ("left out", "name"): {"cases", "size"}, ("left out", "note"): set(WHOLE), ("left out", "source"): set(WHOLE),
    ("words", "note"): set(WHOLE), ("words", "why"): {"line", "step", "always"},
    ("words", "do"): {"line", "step", "always"}, ("words", "saw"): {"line", "step", "always"},
    ("words", "narrow"): {"line"}, ("left out", "narrow"): {"line"}, ("nothing", "narrow"): {"line"},
    ("left out", "overlaps"): {"line"}, ("nothing", "overlaps"): {"line"}, ("words", "overlaps"): {"line"},
    ("left out", "narrow_cases"): {"step"}, ("empty", "narrow_cases"): {"step"},
    ("empty", "source"): set(WHOLE), ("words", "name"): {"line", "step", "always"},
    ("a number", "value"): {"size"}, ("a number", "high"): {"size", "line", "always"},
}  # fmt: skip


BROKEN = [(kind, key, how) for kind, rule in WHOLE.items() for key in rule for how in HOW]


def faults_in(folder):
    with pytest.raises(InputError) as error:
        load_own(folder)
    return [str(fault) for fault in error.value.faults]


def test_what_is_broken_below_is_good_to_begin_with(tmp_path):
    assert len(load_own(folder_of(tmp_path, *WHOLE.values())).rules) == len(WHOLE)


@pytest.mark.parametrize(("kind", "key", "how"), BROKEN, ids=str)
@pytest.mark.slow
def test_a_broken_field_is_refused_and_told(tmp_path, kind, key, how):
    """A good rule before and after it in the file: none of them is taken either."""
    before = ALWAYS | {"code": "M07", "name": "before"}
    after = ALWAYS | {"code": "M08", "name": "after"}
    folder = folder_of(tmp_path, before, broken(WHOLE[kind], key, how), after)
    if kind in HARMLESS.get((how, key), ()):
        assert len(load_own(folder).rules) == 3
        return
    told = faults_in(folder)
    lines = (folder / "mine.yaml").read_text().splitlines()
    first = next(i for i, line in enumerate(lines, 1) if "M07" in line) + 10
    last = next(i for i, line in enumerate(lines, 1) if "M08" in line or "after" in line)
    for line in told:
        assert line.isprintable()
        assert "Traceback" not in line
        place = re.match(rf"{re.escape(str(folder))}/mine.yaml:(\d+): rule ", line)
        assert place, line
        assert first <= int(place[1]) < last, (line, first, last)
        assert SAYS.search(line), line
    name = WHOLE[kind]["code"] if key != "code" else ""
    assert any(f"rule {name}" in line for line in told), told
    assert any(re.search(rf"\bx?{key}\b", line) for line in told), (key, told)


def leaves(held, path=()):
    """Every place inside a field that holds a plain value."""
    if isinstance(held, dict):
        for key, below in held.items():
            yield from leaves(below, (*path, key))
    elif isinstance(held, list):
        for i, below in enumerate(held):
            yield from leaves(below, (*path, i))
    elif len(path) > 1:
        yield path


def at(held, path):
    for part in path:
        held = held[part]
    return held


INSIDE = [(kind, path) for kind, rule in WHOLE.items() for path in leaves(rule)]
#: any name will do for a group
ANY_NAME = {("line", ("overlaps", "group"))}
#: may be left out, and are when the word is misspelt: but a field that is not known is told all the same
FREE_KEYS = {"narrow_cases"}


@pytest.mark.parametrize(("kind", "path"), INSIDE, ids=str)
def test_a_value_inside_a_field_is_refused_and_told(tmp_path, kind, path):
    rule = copy.deepcopy(WHOLE[kind])
    at(rule, path[:-1])[path[-1]] = "nonsense"
    folder = folder_of(tmp_path, rule)
    if (kind, path) in ANY_NAME or path[0] in FREE_KEYS:
        load_own(folder)
        return
    told = faults_in(folder)
    assert any(f"rule {rule['code']}: {path[0]}" in line for line in told), told
    assert all(SAYS.search(line) for line in told), told


@pytest.mark.parametrize(
    ("kind", "path"), [(k, p) for k, p in INSIDE if isinstance(p[-1], str)], ids=str
)
def test_a_misspelt_word_inside_a_field_is_refused_and_told(tmp_path, kind, path):
    rule = copy.deepcopy(WHOLE[kind])
    held = at(rule, path[:-1])
    held[f"x{path[-1]}"] = held.pop(path[-1])
    told = faults_in(folder_of(tmp_path, rule))
    assert any(f"rule {rule['code']}: {path[0]}" in line for line in told), told
    assert all(SAYS.search(line) for line in told), told


RULE_KEYS = {"fires": {"moon": 3}, "silent": {"bow.kind": "crossbow"}, "form": {"per": "1 stone", "of": "front_gr", "from": 1},
             "applies": {"to": "build", "when": {"bow.kind": ["crossbow"]}}, "saw": "a blank {moon}",
             "basis": "published", "source": ["no-such-page"], "code": "m1", "name": "Some Name",
             "low": 9, "shift": "arrow", "shift_unit": "kg"}  # fmt: skip


@pytest.mark.parametrize("key", RULE_KEYS)
def test_a_value_that_is_wrong_in_itself(tmp_path, key):
    told = faults_in(folder_of(tmp_path, LINE | {key: RULE_KEYS[key]}))
    assert all(SAYS.search(line) or "bibliography" in line for line in told), told


def test_a_mistyped_code_is_one_line_with_the_near_one(tmp_path):
    (line,) = faults_in(folder_of(tmp_path, SIZE | {"code": "A3"}))
    assert "did you mean A03" in line
    (line,) = faults_in(folder_of(tmp_path, SIZE | {"code": "S01"}))
    assert "which is string-material" in line


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("mine.yml", "name it mine.yaml"),
        ("plan.yaml", "another name"),
        ("cautions.yaml", "another name"),
    ],
)
def test_a_file_that_would_not_be_read_is_told_not_passed_over(tmp_path, name, part):
    folder = folder_of(tmp_path, ALWAYS)
    (folder / name).write_text(rules_text(LINE))
    (line,) = faults_in(folder)
    assert part in line
    assert name in line


@pytest.mark.parametrize(
    ("text", "part"),
    [("", "must be a mapping"), ("- a\n", "mapping"), ("format: 2\ntopic: t\nrules: []\n", "allowed: 1"), ("format: 1\nrules: []\n", "topic"),
     ("format: 1\ntopic: t\nrules: {a: 1}\n", "must be a list"), ("format: 1\ntopic: t\nrules: [7]\n", "must be a mapping"),
     ("format: 1\ntopic: t\nrules:\n", "must be a list"), ("format: 1\ntopic: t\nruels: []\nrules: []\n", "did you mean rules"),
     ("format: 1\ntopic: t\nretired: {M01: M02}\nrules: []\n", "take it out"), ("a: [\n", "is not YAML")],
)  # fmt: skip
def test_a_file_that_is_no_file_of_rules(tmp_path, text, part):
    folder = folder_of(tmp_path, ALWAYS)
    (folder / "other.yaml").write_text(text)
    told = faults_in(folder)
    assert any(part in line and "other.yaml" in line for line in told), told


def test_every_fault_of_every_file_in_one_run(tmp_path):
    folder = folder_of(tmp_path, SIZE | {"basis": "guess"}, LINE | {"shift_unit": "kg"})
    folder_of(tmp_path, STEP | {"why": ""}, name="second.yaml")
    told = faults_in(folder)
    assert {line.split("/")[-1].split(":")[0] for line in told} == {"mine.yaml", "second.yaml"}
    assert len(told) == 3


def test_a_rule_that_stands_in_two_files_is_told_with_both_places(tmp_path):
    folder = folder_of(tmp_path, ALWAYS)
    folder_of(tmp_path, ALWAYS, name="second.yaml")
    (line,) = faults_in(folder)
    assert "second.yaml" in line
    assert "rules/mine.yaml:4" in line


@pytest.mark.parametrize("which", ["fires", "silent"])
def test_the_cases_of_ones_own_are_run(tmp_path, which):
    other = {"fires": "silent", "silent": "fires"}[which]
    (line,) = faults_in(folder_of(tmp_path, LINE | {which: LINE[other]}))
    assert f"rule M01: {which}" in line
    assert "write facts in which" in line


TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=60)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-100, 100) | st.floats() | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3), max_leaves=6,
)  # fmt: skip


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(kind=st.sampled_from(sorted(WHOLE)), data=st.data())
@pytest.mark.slow
def test_anything_at_all_in_a_field_is_a_good_rule_or_a_told_fault(tmp_path, kind, data):
    key = data.draw(st.sampled_from(sorted(WHOLE[kind])))
    folder = folder_of(tmp_path, WHOLE[kind] | {key: data.draw(PLAIN)})
    faults = []
    try:
        load_own(folder)
    except InputError as error:
        faults = error.faults
    assert all(str(f).isprintable() and "mine.yaml" in str(f) for f in faults)
