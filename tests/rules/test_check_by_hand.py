"""Numbers as the linter reads them, how near a figure must come, and whose figures a rule's own are."""

from pathlib import Path

import pytest

from shaftwright.errors import InputError
from shaftwright.rules.check import (
    _figures,
    _numbers,
    _quotes,
    _sources,
    check,
    fires,
    note_faults,
    source_keys,
)
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Rule


def rule(**more):
    told = {
        "code": "A01", "name": "my-rule", "applies": {"to": "build"}, "shift": "effective_bow_weight_lb",
        "form": {"per": "1 in", "of": "shaft_length_in", "from": 28.0, "until": 33.0}, "shift_unit": "lb",
        "value": -2.5, "low": -6.25, "high": 1.5, "saw": "over 41 in", "why": "of 7 %", "do": "see 99", "basis": "recalled",
        "fires": {"shaft_length_in": 30.0}, "silent": {"shaft_length_in": 28.0}, **more,
    }  # fmt: skip
    return Rule.model_validate({k: v for k, v in told.items() if v is not None})


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("2 lb", [("2", 2, 0.501, False)]), ("0.25 in", [("0.25", 0.25, 0.00501, False)]),
        ("5 % of it", [("5", 5, 0.501, True)]), ("5% of", [("5", 5, 0.501, True)]), ("5 or % no", [("5", 5, 0.501, False)]),
        ("1/4 in", [("1/4", 0.25, 1e-6, False)]), ("28 3/4 in", [("28 3/4", 28.75, 1e-6, False)]),
        ("3/8, 0.5", [("3/8", 0.375, 1e-6, False), ("0.5", 0.5, 0.0501, False)]), ("A01 x2 v1.2", []), ("4/0", []), ("", []),
    ],
)  # fmt: skip
def test_numbers_with_half_of_their_last_digit(text, numbers):
    found = list(_numbers(text))
    assert [(n[0], n[3]) for n in found] == [(n[0], n[3]) for n in numbers]
    assert [n[1:3] for n in found] == [pytest.approx(n[1:3]) for n in numbers]


def test_a_stretch_of_the_text_is_left_out():
    text = "12 and 34 and 56"
    assert [n[0] for n in _numbers(text, (7, 9))] == ["12", "56"]
    assert [n[0] for n in _numbers(text, (0, 2))] == ["34", "56"]
    assert [n[0] for n in _numbers(text, (0, 7))] == ["34", "56"]
    assert [n[0] for n in _numbers(text, (0, 8))] == ["56"]


def test_a_rules_own_figures_are_those_of_size_form_cases_and_words():
    assert _figures(rule()) == {2.5, 6.25, 1.5, 1.0, 28.0, 33.0, 41.0, 7.0, 30.0}
    without = rule(form="constant", silent=None, saw="a", why="b", fires={})
    assert _figures(without) == {2.5, 6.25, 1.5}
    cases = {
        "longbow": {"value": 3, "low": -1, "high": 5},
        "selfbow": {"value": 6, "low": 2, "high": 9},
    }
    step = rule(form={"step": "bow.kind"}, value=None, low=None, high=None, cases=cases, saw="a", why="b",
                fires={"bow.kind": "longbow"}, silent={"bow.kind": "recurve"})  # fmt: skip
    assert _figures(step) == {3, 1, 5, 6, 2, 9}


def wrong(note, strict=True, others=("other-rule",), **more):
    return note_faults(rule(note=note, **more), others, strict)


@pytest.mark.parametrize(
    ("note", "good"),
    [
        ("It is 2.5 lb.", True), ("It is 6.2 lb.", True), ("It is 6.3 lb.", True), ("It is 6.35 lb.", False), ("It is 6 lb.", True),
        ("It is 8 lb.", False), ("A 1/4 in.", False), ("33 in.", True), ("A 28 in shaft.", True), ("It is 98 lb.", False),
        # pounds on a bow of so many: 2.5, 6.25 and 1.5 in the hundred of 40 lb, and the bow itself
        ("On about 40 lb 1.00 lb.", True), ("On about 40 lb 0.6 lb.", True), ("On about 40 lb 0.8 lb.", False),
        ("On about 40 lb 0.6 %.", False), ("Of 40 lb.", False),
        # one standard deviation of 6.25 is 3.19
        ("Its standard deviation is 3.19.", True), ("It is 3.19.", False), ("Its standard deviation is 3.19 %.", False),
        ("The trade says 88 lb.", True), ("As recalled, 88 lb.", True), ("A01 stands alone.", True),
        ("A trade. It is 88.", False), ("The trade; 88 lb.", False),
    ],
)  # fmt: skip
def test_a_figure_is_the_rules_own_to_its_last_digit_or_says_whose_it_is(note, good):
    assert (wrong(note) == []) is good
    if not good:
        assert wrong(note)[0].endswith(
            "is not the rule's own; say whose it is (the trade says ...)"
        )
        assert wrong(note, strict=False) == []


def test_what_stands_elsewhere_is_read_there():
    named = "is quoted from {}, where it may change; leave it out"
    assert wrong("By other-rule 88 lb.") == ["88 " + named.format("other-rule")]
    assert wrong("By the other-rule rule 88.") == ["88 " + named.format("other-rule rule")]
    assert wrong("B07 has 88; so 2.5.") == ["88 " + named.format("B07")]
    assert wrong("By front.csv 88, the trade says.") == ["88 " + named.format("front.csv")]
    assert wrong("The launch model has 88.", strict=False) == ["88 " + named.format("launch model")]
    assert wrong("By other-rule 2.5 lb.") == []
    assert wrong("By my-rule 88 lb.", others=("my-rule",)) == [
        "88 is not the rule's own; say whose it is (the trade says ...)"
    ]
    assert wrong("It is 88 and 89 by B07.") == [
        "88 " + named.format("B07"),
        "89 " + named.format("B07"),
    ]


def test_a_row_quotes_only_where_another_table_is_named_in_the_same_sentence():
    def quoted(note, **more):
        return list(_quotes({"value": "12", "low": "-3.5", "note": note, **more}))

    assert quoted("As other.csv has 44.") == [
        "44 is quoted from other.csv, where it may change; leave it out"
    ]
    assert quoted("As other.csv has it. It is 44.") == []
    assert quoted("As other.csv has it; 44.") == []
    assert quoted("As other.csv has 12 and 3.5.") == []
    assert quoted("It is 44.") == []


def test_keys_are_words_joined_by_hyphens_before_a_colon():
    assert source_keys("a-b;c-d: words; more: e-f") == {"a-b", "c-d"}
    assert source_keys("a-b") == {"a-b"}
    assert source_keys("a-b;plain: words") == source_keys("A-b: words") == source_keys("") == set()


def test_sources_are_found_anywhere_in_a_document():
    told = {
        "source": "a-b",
        "rules": [{"source": ["c-d", "e-f"], "form": {"source": None}}, 3, "source"],
        "x": {"y": {"source": "g-h"}},
    }
    assert sorted(_sources(told)) == ["a-b", "c-d", "e-f", "g-h"]
    assert list(_sources("a-b")) == []


def test_a_rule_fires_alone_from_the_reference_conditions():
    book, one = RuleBook(()), rule()
    assert fires(one, {"shaft_length_in": 30.0}, book)
    assert not fires(one, {"shaft_length_in": 28.0}, book)
    weight = rule(form={"per": 1.0, "of": "draw_beyond_marked_in", "from": 0.0}, shift="draw_weight_lb",
                  fires={"draw_beyond_marked_in": 1.0}, silent={})  # fmt: skip
    assert fires(weight, {"draw_beyond_marked_in": 1.0}, book)
    assert not fires(weight, {}, book)


def test_a_folder_that_is_none_and_one_without_rules(tmp_path):
    with pytest.raises(InputError, match="is not a folder"):
        check(tmp_path / "none", tmp_path)
    with pytest.raises(InputError, match="is not a folder"):
        check(tmp_path, tmp_path / "none")
    with pytest.raises(InputError, match="holds no rules"):
        check(tmp_path, tmp_path)


RULE = """format: 1
topic: t
rules:
  - code: A01
    name: my-rule
    applies: {to: build}
    shift: effective_bow_weight_lb
    form: {per: 1 in, of: shaft_length_in, from: 28}
    shift_unit: lb
    value: 2
    low: 1
    high: 4
    saw: a
    why: b
    do: c
    basis: recalled
    fires: {shaft_length_in: FIRES}
    silent: {shaft_length_in: SILENT}
  - code: A02
    name: always
    shift: effective_bow_weight_lb
    form: constant
    shift_unit: lb
    value: 2
    low: 1
    high: 4
    saw: a
    why: b
    do: c
    basis: recalled
    fires: {}
"""


def folder(tmp_path, fires=30, silent=28):
    (tmp_path / "own.yaml").write_text(
        RULE.replace("FIRES", str(fires)).replace("SILENT", str(silent))
    )
    return tmp_path


def test_every_case_is_counted_and_a_false_one_named_with_its_line(tmp_path: Path):
    book, cases = check(folder(tmp_path), tmp_path)
    assert cases == 3
    assert [r.code for r in book.rules] == ["A01", "A02"]
    for told, says in (({"fires": 28}, "rule A01: fires"), ({"silent": 30}, "rule A01: silent")):
        with pytest.raises(InputError) as error:
            check(folder(tmp_path, **told), tmp_path)
        (fault,) = error.value.faults
        assert f"own.yaml:4: {says}" in str(fault)
        assert ("stays silent in this case" if "fires" in told else "fires in this case") in str(
            fault
        )
