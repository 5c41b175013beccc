"""Each word a folder of one's own may be refused with, on the line it is of; what is laid over what."""

import copy
from dataclasses import replace

import numpy as np
import pytest
from own_kit import ALWAYS, CASES, LINE, SIZE, STEP, folder_of

from shaftwright.errors import InputError
from shaftwright.rules.facts import reference_facts
from shaftwright.rules.load import RuleBook, Sizes, load_rulebook, rulebook
from shaftwright.rules.own import laid_over, load_own, own_at_work
from shaftwright.rules.schema import Rule


def told(tmp_path, *rules, **more):
    """Faults without the folder's name."""
    folder = folder_of(tmp_path, *rules, **more)
    with pytest.raises(InputError) as error:
        load_own(folder)
    return [str(f).removeprefix(f"{folder}/") for f in error.value.faults]


def changed(rule, **more):
    return {k: v for k, v in {**copy.deepcopy(rule), **more}.items() if v is not ...}


SHORT = "; only the size of a shipped rule can be your own"
FIRST = f"{SHORT}: value, low, high, cases, basis, source, note; a rule of your own takes a code like M01"


@pytest.mark.parametrize(
    ("rule", "faults"),
    [
        (changed(SIZE, code="B01", name="no-such"), ["rule B01: code: 'B01' is the code of no shipped rule"]),
        (changed(SIZE, name="string-material"), ["rule A03: name: 'string-material' is not the name of A03, which is shaft-length"]),
        (changed(ALWAYS, name="shaft-length"), ["rule M03: name: 'shaft-length' is the shipped rule A03; take another name, or code: A03"]),
        (changed(SIZE, saw="x"), [f"rule A03: saw: stays as shipped{FIRST}"]),
        (changed(SIZE, value=...), ["rule A03: value is missing; a size of your own has value, low, high, basis"]),
        (changed(SIZE, basis=...), ["rule A03: basis is missing"]),
        (changed(CASES, cases=...), ["rule S01: cases is missing; a size of your own has cases, basis"]),
        (changed(SIZE, valu=3), ["rule A03: valu: stays as shipped; did you mean value?"]),
    ],
)  # fmt: skip
def test_what_an_entry_may_not_give(tmp_path, rule, faults):
    found = told(tmp_path, rule)
    assert len(found) == len(faults)
    for one, says in zip(found, faults, strict=True):
        where, _, words = one.partition(": ")
        assert where.startswith("mine.yaml:")
        assert words.startswith(says), words


def test_the_long_hint_is_given_once(tmp_path):
    found = told(tmp_path, changed(SIZE, saw="x", do="y", value=...))
    assert [f.endswith("a rule of your own takes a code like M01") for f in found] == [
        True,
        False,
        False,
    ]
    assert found[1].endswith(SHORT)
    assert "value is missing" in found[2]


def test_a_fault_stands_on_its_own_line(tmp_path):
    """Two lines of head, the list's name, then a field a line."""
    found = told(tmp_path, changed(ALWAYS), changed(SIZE, name="wrong"))
    text = (tmp_path / "rules/mine.yaml").read_text().splitlines()
    (line,) = [n for n, words in enumerate(text, 1) if words.strip() == "name: wrong"]
    assert found[0].startswith(f"mine.yaml:{line}: rule A03: name")


def test_retired_codes_point_to_their_successor(tmp_path):
    old, new = next(iter(rulebook().retired.items()))
    found = told(tmp_path, changed(SIZE, code=old))
    assert [f"is retired in favour of {new}; use that code" in f for f in found] == [True]


def test_cases_that_do_not_hold_are_told_with_their_key(tmp_path):
    silent = told(tmp_path, changed(LINE, fires={"bow.kind": "longbow", "front_gr": 250}))
    assert len(silent) == 1
    assert "rule M01: fires" in silent[0]
    assert "stays silent in this case; write facts in which it speaks" in silent[0]
    speaks = told(tmp_path, changed(LINE, silent={"bow.kind": "recurve", "front_gr": 250}))
    assert len(speaks) == 1
    assert "rule M01: silent" in speaks[0]
    assert "fires in this case; write facts in which it has nothing to say" in speaks[0]


def test_a_form_that_is_none_is_one_fault_of_whichever_part(tmp_path):
    found = told(tmp_path, changed(LINE, form={"per": "25 gr"}))
    assert len([f for f in found if "form" in f]) == 1
    assert "is none of the forms; write constant" in found[0]
    one = told(
        tmp_path, changed(LINE, form={"per": "25 gr", "of": "front_gr", "from": 125, "til": 400})
    )
    assert len(one) == 1


def test_every_fault_of_a_rule_is_told_beside_its_form(tmp_path):
    found = told(tmp_path, changed(ALWAYS, shift="up", shift_unit="stone"))
    assert [f.split(": ")[1:3] for f in found] == [
        ["rule M03", "shift"],
        ["rule M03", "shift_unit"],
    ]
    with_form = told(
        tmp_path, changed(ALWAYS, form={"per": "25 gr"}, shift="up", shift_unit="stone")
    )
    assert sorted(f.split(": ")[2] for f in with_form) == ["form", "shift", "shift_unit"]


def test_a_case_with_a_word_too_many_says_what_is_allowed(tmp_path):
    cases = {"standard": {"value": 1, "low": -1, "high": 3, "middle": 2}}
    (found,) = told(tmp_path, changed(STEP, cases=cases))
    assert (
        "rule M02: cases.standard.middle: is not a known field; allowed here: value, low, high"
        in found
    )


def test_an_entry_that_is_no_mapping_is_called_by_its_number(tmp_path):
    folder = folder_of(tmp_path, ALWAYS)
    (folder / "mine.yaml").write_text(
        "format: 1\ntopic: t\nrules:\n  - just words\n  - {name: x}\n"
    )
    with pytest.raises(InputError) as error:
        load_own(folder)
    found = [str(f) for f in error.value.faults]
    assert any(":4: rule 1" in f for f in found)
    assert any(":5: rule number 2" in f for f in found)
    assert not any(": rule 2" in f for f in found)


def test_files_that_are_none_of_ours_are_passed_over(tmp_path):
    folder = folder_of(tmp_path, ALWAYS)
    for name in (".hidden.yaml", "notes.txt", "bibliography.yaml"):
        (folder / name).write_text("sources: {}\n")
    (folder / "sub.yaml").mkdir()
    assert [r.code for r in load_own(folder).rules] == ["M03"]
    (folder / "more.yml").write_text("")
    with pytest.raises(InputError, match=r"would not be read; name it more\.yaml"):
        load_own(folder)


@pytest.mark.parametrize("name", ["plan.yaml", "matching.yaml"])
def test_names_of_shipped_files_without_rules_are_refused(tmp_path, name):
    assert [
        "is the name of a shipped file that holds no rules" in f
        for f in told(tmp_path, ALWAYS, name=name)
    ] == [True]


def test_no_folder_and_a_head_that_is_for_shipped_files(tmp_path):
    with pytest.raises(InputError, match="is no folder of rules"):
        load_own(tmp_path / "none")
    (found,) = told(tmp_path, ALWAYS, retired={"M09": "M03"})
    assert "mine.yaml:3: retired: is not for rules of your own" in found


def test_the_same_rule_twice_keeps_neither(tmp_path):
    for other in (changed(ALWAYS, name="else"), changed(ALWAYS, code="M09")):
        (found,) = told(tmp_path, ALWAYS, other)
        assert (
            f"rule {other['code']}: is there already, at rules/mine.yaml:4; keep one of them"
            in found
        )


def test_a_source_may_be_of_the_shipped_bibliography_or_of_ones_own(tmp_path):
    shipped = next(r.source[0] for r in rulebook().rules if r.source)
    folder = folder_of(tmp_path, changed(ALWAYS, basis="published", source=[shipped, "my-club"]))
    (folder / "bibliography.yaml").write_text("sources: {my-club: {}}\n")
    assert load_own(folder).rules[0].source == (shipped, "my-club")


# --- laid over -------------------------------------------------------------------------------------


def of(rule):
    return Rule.model_validate(rule)


def span():
    return Sizes("both", None, None, {}, None, 0.5, 1.0)


def test_ones_own_takes_the_place_of_what_it_is_called_and_comes_after_the_rest():
    shipped = RuleBook((of(ALWAYS), of(STEP)), {"M03": "a", "M02": "b"}, {"M03": "x:1", "M02": "x:2"},
                       tables={("t", "x", "y"): 1}, sizes={("M03", ""): span(), ("M02", "standard"): span()})  # fmt: skip
    mine = RuleBook((of(changed(ALWAYS, value=-1.5)), of(LINE)), {"M03": "m", "M01": "m"}, {"M03": "o:7", "M01": "o:9"},
                    tables={("u", "x", "y"): 2})  # fmt: skip
    found = laid_over(shipped, mine)
    assert [(r.code, r.value) for r in found.rules] == [("M03", -1.5), ("M02", None), ("M01", 2)]
    assert found.own == {"M03": "size", "M01": "rule"}
    assert found.topics == {"M03": "a", "M02": "b", "M01": "m"}
    assert found.places == {"M03": "o:7", "M02": "x:2", "M01": "o:9"}
    assert found.tables == {("t", "x", "y"): 1, ("u", "x", "y"): 2}
    assert set(found.sizes) == {("M02", "standard")}
    assert laid_over(shipped, None) is shipped


def test_ones_own_is_at_work_where_it_speaks_of_the_rig_at_whatever_arrow():
    weight = changed(ALWAYS, code="M05", name="w", shift="draw_weight_lb")
    mine = RuleBook(
        (of(LINE), of(STEP), of(weight)), {}, {c: f"o:{c}" for c in ("M01", "M02", "M05")}
    )
    book = laid_over(RuleBook((of(changed(ALWAYS, code="Z01")),)), mine)

    def at_work(**facts):
        found = own_at_work(
            book, {**reference_facts(), **{k.replace("__", "."): v for k, v in facts.items()}}
        )
        return [(one.rule, one.name, one.kind, one.place) for one in found]

    assert at_work() == [
        ("M05", "w", "rule", "o:M05"),
        ("M01", "heavy-head", "rule", "o:M01"),
        ("M02", "my-limbs", "rule", "o:M02"),
    ]
    assert [one[0] for one in at_work(bow__kind="longbow", bow__limbs="unknown")] == ["M05"]
    assert at_work(front_gr=np.array([125.0]))[1][0] == "M01"


def test_a_size_may_name_some_cases_and_the_others_stay(tmp_path):
    own = load_own(folder_of(tmp_path, CASES, SIZE))
    shipped = rulebook()
    one = own.find("S01")
    assert one.cases["low_stretch"].value == 4
    assert {k: v for k, v in one.cases.items() if k != "low_stretch"} == {
        k: v for k, v in shipped.find("S01").cases.items() if k != "low_stretch"}  # fmt: skip
    size = own.find("A03")
    assert (size.value, size.note, size.source, size.why) == (
        5,
        "One shaft, cut four times.",
        (),
        shipped.find("A03").why,
    )
    assert own.topics == {"S01": "my own", "A03": "my own"}
    assert replace(own, rules=()).rules == ()


# --- a whole set -----------------------------------------------------------------------------------

HEAD = "format: 1\ntopic: {}\norder: {}\nrules:\n"
ONE = """  - {{code: {0}, name: {1}, shift: draw_weight_lb, form: constant, shift_unit: lb, value: 2, low: 1, high: 4,
     saw: a, why: b, do: c, basis: recalled, fires: {{}}}}
"""


def written(tmp_path, **files):
    for name, text in files.items():
        (tmp_path / f"{name}.yaml").write_text(text)
    return load_rulebook(tmp_path, tmp_path)


def refused(tmp_path, **files):
    with pytest.raises(InputError) as error:
        written(tmp_path, **files)
    return [str(f).removeprefix(f"{tmp_path}/") for f in error.value.faults]


def test_files_come_by_their_order_then_by_name(tmp_path):
    book = written(
        tmp_path, b=HEAD.format("bees", 20) + ONE.format("B01", "b-one") + ONE.format("B02", "b-two"),
        c=HEAD.format("seas", 10) + ONE.format("C01", "c-one"), a=HEAD.format("ays", 20) + ONE.format("A01", "a-one"),
        plan="not: looked at", d=HEAD.format("dees", 60) + "  []\nretired: {X01: B02}\n",
    )  # fmt: skip
    assert [r.code for r in book.rules] == ["C01", "A01", "B01", "B02"]
    assert book.topics == {"C01": "seas", "A01": "ays", "B01": "bees", "B02": "bees"}
    assert book.places == {
        "C01": "c.yaml:5",
        "A01": "a.yaml:5",
        "B01": "b.yaml:5",
        "B02": "b.yaml:7",
    }
    assert book.retired == {"X01": "B02"}
    assert book.find("x01").code == "B02"


def test_what_is_used_twice_or_retired_is_told_where(tmp_path):
    head = HEAD.format("t", 1)
    assert refused(tmp_path, a=head + ONE.format("A01", "one") + ONE.format("A01", "two")) == [
        "a.yaml:7: rule A01: 'A01' is used twice; first at a.yaml:5. Codes are never reused"]  # fmt: skip
    assert refused(tmp_path, a=head + ONE.format("A01", "one") + ONE.format("A02", "one")) == [
        "a.yaml:7: rule A02: 'one' is used twice; first at a.yaml:5. Codes are never reused"]  # fmt: skip
    assert refused(tmp_path, a=head + ONE.format("A01", "one") + "retired: {A01: A09}\n") == [
        "a.yaml:5: rule A01: 'A01' is retired in favour of A09; take a new code",
        "a.yaml:7: retired A01: 'A09' is no rule; a retired code names the one that took its place"]  # fmt: skip


def test_a_field_is_told_by_its_rules_code_or_number(tmp_path):
    head = HEAD.format("t", 1)
    bad = ONE.format("A01", "one").replace("high: 4", "high: x")
    assert "rule A01: high" in refused(tmp_path, a=head + bad)[0]
    nameless = bad.replace("code: A01, ", "")
    found = refused(tmp_path, a=head + ONE.format("A05", "good") + nameless)
    assert all("rule number 2" in f for f in found)
    assert any("rule number 2: high" in f for f in found)
    assert "rule 0: " in refused(tmp_path, a=head + "  - words\n")[0]
    assert refused(tmp_path, a="format: 1\ntopic: t\n")[0].startswith("a.yaml:1: rules: is missing")


def test_a_bibliography_without_sources_is_a_fault_and_none_is_fine(tmp_path):
    good = HEAD.format("t", 1) + ONE.format("A01", "one")
    assert written(tmp_path, a=good).rules
    assert refused(tmp_path, bibliography="format: 1\n") == ["bibliography.yaml: holds no sources"]
    assert refused(tmp_path, bibliography="- 1\n") == ["bibliography.yaml: holds no sources"]
    sourced = good.replace("basis: recalled", "basis: published, source: [a-b]")
    assert (
        "'a-b' is not a key" in refused(tmp_path, bibliography="sources: {c-d: {}}\n", a=sourced)[0]
    )
    assert written(tmp_path, bibliography="sources: {a-b: {}}\n", a=sourced).rules
