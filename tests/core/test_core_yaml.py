"""Strict YAML: every bad rig file is one clear line with file and line, never a traceback."""

import os
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from shaftwright.errors import Fault, InputError, echo
from shaftwright.files.rig import load_rig
from shaftwright.files.strict_yaml import StrictDumper, parse_yaml

GOOD = """\
format: 1
rig: reed
archer: {hand: right, release: split, draw_length: 28 in}
bow:
  kind: recurve
  limbs: standard
  draw_weight: {lb: 47, at: own_draw}
  brace_height: 7 1/2 in
  window: {cut: to_centre}
  rest: shelf
string: {material: polyester}
purpose: hunting
"""


def faults_of(tmp_path, text, changes=()):
    path = tmp_path / "rig.yaml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError) as caught:
        load_rig(path, changes)
    lines = [str(f).removeprefix(f"{path.parent}{os.sep}") for f in caught.value.faults]
    assert all("\n" not in line and line.isprintable() for line in lines)
    return lines


def test_the_good_file_is_good(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_text(GOOD)
    assert load_rig(path).bow.brace_height_in == 7.5


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("rig: reed", "rig: reed\nrig: fen", ("rig.yaml:3:", "rig: stands twice")),
        ("  kind: recurve", "  kind: recurve\n  kind: longbow", ("rig.yaml:6:", "bow.kind: stands twice")),
        ("  rest: shelf", "  rset: shelf", ("rig.yaml:10:", "bow.rset: is not a known field; did you mean rest?")),
        ("purpose: hunting", "porpoise: hunting", ("rig.yaml:12:", "did you mean purpose?")),
        ("purpose: hunting", "purpose: fishing", ("rig.yaml:12:", "purpose: 'fishing' is not allowed; allowed: hunting |")),
        ("rig: reed", "rig: &a reed", ("rig.yaml:2:", "anchors (&) are not allowed")),
        ("rig: reed", "rig: *a", ("rig.yaml:2:", "aliases (*) are not allowed")),
        ("rig: reed", "rig: !!python/object/apply:os.system [ls]", ("rig.yaml:2:", "tags (!) are not allowed")),
        ("rig: reed", "rig: !!str reed", ("rig.yaml:2:", "tags (!) are not allowed")),
        ("string: {material: polyester}", "string: {<<: {material: polyester}}", ("rig.yaml:11:", "merge keys (<<)")),
        ("purpose: hunting", "---\npurpose: hunting", ("rig.yaml:12:", "second document")),
        ("rig: reed", "? [a, b]\n: 1\nrig: reed", ("rig.yaml:2:", "a key must be plain text")),
        ("rig: reed", "rig: [reed", ("rig.yaml:", "is not YAML here")),
        ("rig: reed", "rig: \t@reed", ("rig.yaml:2", "is not YAML here")),
        ("archer:", "\tarcher:", ("rig.yaml:3: has a tab here; write blanks",)),
        ("rig: reed", "rig: " + "[" * 40 + "]" * 40, ("rig.yaml:2:", "nested deeper than 12")),
        ("rig: reed", "rig: " + "x" * 5000, ("rig.yaml:2:", "longer than 4000 characters", "…'")),
        ("rig: reed", "k" * 300 + ": 1", ("rig.yaml:2:", "too long for a key|is not YAML here")),
        ("draw_length: 28 in", "draw_length: .nan", ("rig.yaml:3: archer.draw_length: nan", "not a finite number")),
        ("draw_length: 28 in", "draw_length: .inf", ("rig.yaml:3: archer.draw_length: inf", "not a finite number")),
        ("draw_length: 28 in", "draw_length: -.Inf", ("rig.yaml:3: archer.draw_length: -inf", "not a finite number")),
        ("draw_length: 28 in", "draw_length: 280 in", ("rig.yaml:3:", "'280 in' is out of range; allowed: 18 to 36 in")),
        ("draw_length: 28 in", "draw_length: 28 furlong", ("rig.yaml:3:", "'furlong' is not known; use mm or cm")),
        ("draw_length: 28 in", "draw_length: 28 lb", ("rig.yaml:3:", "lb measures force; use mm or cm")),
        ("draw_length: 28 in", "draw_length: true", ("rig.yaml:3:", "yes/no")),
        ("draw_length: 28 in", "draw_length: " + "9" * 400, ("rig.yaml:3:", "allowed: 18 to 36 in")),
        ("draw_length: 28 in", "draw_length: 1e308 m", ("rig.yaml:3:", "allowed: 18 to 36 in")),
        ("draw_length: 28 in", "draw_length: [28, 29]", ("rig.yaml:3:", "a list of 2 is not a quantity")),
        ("draw_length: 28 in", "draw_length:", ("rig.yaml:3:", "nothing is not a quantity|is not YAML")),
        ("{lb: 47, at: own_draw}", "{lb: -47, at: own_draw}", ("rig.yaml:7: bow.draw_weight.lb: -47", "allowed: 5 to 200 lb")),
        ("{lb: 47, at: own_draw}", "{lb: 47}", ("rig.yaml:7:", "needs both lb and at")),
        ("{lb: 47, at: own_draw}", "{curve: [[10, 1], [20, 30], [19, 40]]}", ("rig.yaml:7:", "rise from point to point")),
        ("{lb: 47, at: own_draw}", "{curve: [[10, 1], [20, 30], [24, 40]]}", ("does not reach the draw length of 28 in",)),
        ("{lb: 47, at: own_draw}", "{lb: 47, at: sometimes}", ("rig.yaml:7: bow.draw_weight.at: 'sometimes'", "own_draw")),
        ("brace_height: 7 1/2 in", "brace_height: 11 in\n  cant_deg: 1e999999999", ("rig.yaml:9: bow.cant_deg",)),
        ("format: 1\n", "", ("format: is missing",)),
        ("format: 1", "format: 2", ("rig.yaml:1: format: 2 is not allowed; allowed: 1",)),
        ("rig: reed", "rig: ''", ("rig.yaml:2: rig: '' must not be empty",)),
        ("rig: reed", "rig: " + "r" * 100, ("rig.yaml:2:", "is too long")),
        ("string: {material: polyester}", "string: polyester", ("rig.yaml:11: string: 'polyester' must be a mapping",)),
    ],
)  # fmt: skip
def test_one_clear_line(tmp_path, old, new, expected):
    assert old in GOOD
    lines = faults_of(tmp_path, GOOD.replace(old, new, 1))
    for words in expected:
        assert any(any(w in line for w in words.split("|")) for line in lines), (words, lines)
    assert all(len(line) < 400 for line in lines)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"\xff\xfe\x00\x01\x02", "UTF-8"), (b"\x89PNG\r\n\x1a\n\0\0\0", "UTF-8"), ("format: 1\nrig: a\0b\n", "rig.yaml:2: is not a text file"),
        ("format: 1\nrig: é\n".encode("latin-1"), "rig.yaml:2: is not a UTF-8 text file"),
        ("format: 1\nrig: a\x07b\n", "control character|is not YAML here"), (b"", "format: 1"), ("- 1\n- 2\n", "is not a rig"),
        ("reed", "is not a rig"), ("# only a remark\n", "is not a rig"), ("%YAML 1.1\n%TAG ! tag:x,2000:\n---\n!a b\n", "tags (!)"),
    ],
)  # fmt: skip
def test_files_that_are_no_rig(tmp_path, content, words):
    (line,) = faults_of(tmp_path, content)
    assert any(w in line for w in words.split("|")), line


def test_yaml_bomb_is_refused_at_its_first_anchor(tmp_path):
    bomb = "a: &a [x, x]\n" + "".join(
        f"{chr(98 + i)}: &{chr(98 + i)} [*{chr(97 + i)}, *{chr(97 + i)}]\n" for i in range(20)
    )
    (line,) = faults_of(tmp_path, bomb)
    assert line.startswith("rig.yaml:1: anchors")


def test_enormous_file_is_refused_by_size(tmp_path):
    path = tmp_path / "rig.yaml"
    with path.open("wb") as handle:
        handle.truncate(17 * 1024 * 1024)
    with pytest.raises(InputError, match="larger than 16 MiB"):
        load_rig(path)


def test_wide_and_deep_nests_do_not_exhaust_the_stack(tmp_path):
    for text in ("[" * 100_000, "{a: " * 50_000, "- " * 50_000, "? " * 50_000):
        (line,) = faults_of(tmp_path, text)
        assert "nested" in line or "is not YAML here" in line or "plain text" in line


def test_missing_file_folder_and_impossible_name(tmp_path):
    for path, words in [(tmp_path / "none.yaml", "no such file"), (tmp_path, "is a directory"),
                        (Path("a\0b"), "not a usable file name")]:  # fmt: skip
        with pytest.raises(InputError, match=words) as caught:
            load_rig(path)
        assert len(caught.value.faults) == 1
        assert str(caught.value).isprintable()


def test_byte_order_mark_and_windows_line_ends_are_welcome(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load_rig(path).name == "reed"


def test_line_numbers_hold_with_windows_line_ends(tmp_path):
    text = GOOD.replace("rest: shelf", "rest: knee").replace("\n", "\r\n")
    (line,) = faults_of(tmp_path, text)
    assert line.startswith("rig.yaml:10: bow.rest: 'knee'")


def test_all_faults_of_a_file_in_one_run(tmp_path):
    text = GOOD.replace("28 in", "280 in").replace("shelf", "knee").replace("polyester", "gut")
    lines = faults_of(tmp_path, text)
    assert [line.split(":")[1] for line in lines] == ["3", "10", "11"]


def test_only_true_false_null_numbers_and_text_are_values():
    data = parse_yaml(
        "[yes, no, on, off, 0x1f, 0o7, 1_000, 12:30, 2026-05-31, 010, +3, 1e3, ~, 'true']", "t"
    ).data
    assert data == ["yes", "no", "on", "off", "0x1f", "0o7", "1_000", "12:30", "2026-05-31", 10, 3, 1000.0, None, "true"]  # fmt: skip


@given(st.text(max_size=300))
def test_echo_is_short_printable_and_on_one_line(text):
    assert len(echo(text)) <= 62
    assert echo(text).isprintable()


def test_echo_expands_nothing():
    assert echo({"a": [1] * 10**6}) == "a mapping of 1"
    assert echo(10**5000) == "a number of more than 40 digits"
    assert echo("x" * 61).count("x") == 59


@given(st.text(max_size=50), st.text(max_size=50), st.text(max_size=50))
def test_faults_never_carry_control_characters(name, field, value):
    assert str(Fault(name, "is odd", 3, field, value)).isprintable()


@given(st.text(max_size=200))
def test_any_text_is_data_or_one_fault(text):
    try:
        parse_yaml(text, "t")
    except InputError as error:
        assert len(error.faults) == 1  # noqa: PT017


@pytest.mark.slow
@given(st.recursive(st.one_of(st.integers(-(10**20), 10**20), st.text(max_size=30), st.booleans(), st.none(),
                              st.floats(allow_nan=False, allow_infinity=False)),
                    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(
                        st.text(min_size=1, max_size=8).filter(lambda k: k != "<<"), inner, max_size=4)), max_leaves=12))  # fmt: skip
def test_plain_data_written_reads_back(data):
    text = yaml.dump(data, Dumper=StrictDumper, allow_unicode=True)
    if "!" in text or "&" in text:
        return
    assert parse_yaml(text, "t").data == data


def test_brace_height_that_leaves_no_power_stroke(tmp_path):
    text = GOOD.replace("28 in", "18 in").replace("7 1/2 in", "11 in")
    (line,) = faults_of(tmp_path, text)
    assert "leaves a power stroke under 6 in" in line


SET = [
    ("string.material=low_stretch", lambda r: r.string.material == "low_stretch"),
    ("bow.brace_height=7 1/4 in", lambda r: r.bow.brace_height_in == 7.25),
    ("bow.brace_height_in=7.25", lambda r: r.bow.brace_height_in == 7.25),
    ("bow.draw_weight={lb: 45, at: 28 in}", lambda r: r.bow.draw_weight.at == 28.0),
    ("bow.draw_weight.lb=50", lambda r: r.bow.draw_weight.lb == 50),
    ("bow.plate.thickness=1/8", lambda r: r.bow.plate.thickness_in == 0.125),
    ("archer.draw_length=70 cm", lambda r: r.archer.draw_length_in == pytest.approx(70 / 2.54)),
]


@pytest.mark.parametrize(("change", "holds"), SET, ids=[s[0] for s in SET])
def test_set_lays_a_field_over(tmp_path, change, holds):
    path = tmp_path / "rig.yaml"
    path.write_text(GOOD)
    assert holds(load_rig(path, [change]))


def test_set_finds_the_field_however_the_file_spells_it(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_text(GOOD.replace("draw_length: 28 in", "draw_length_in: 28"))
    assert load_rig(path, ["archer.draw_length=29 in"]).archer.draw_length_in == 29
    assert load_rig(path, ["archer.draw_length_in=29"]).archer.draw_length_in == 29


def test_set_takes_no_other_field_for_one_whose_name_begins_alike(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_text(GOOD)
    rig = load_rig(path, ["bow.limbs_id=heron-2"])
    assert (rig.bow.limbs, rig.bow.limbs_id) == ("standard", "heron-2")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("string.material", "write it as field=value"), ("=3", "write it as field=value"),
        ("string.materiel=polyester", "did you mean material?"), ("string.material.x=1", "has no fields of its own"),
        ("string.material=gut", "allowed: low_stretch"), ("rig=*a", "aliases"), ("rig=[1", "is not YAML here"),
        ("..=1", "is not a known field"), ("bow.draw_weight.lb=-3", "allowed: 5 to 200 lb"), ("a\x1b[31m.b=1", "not a known field"),
    ],
)  # fmt: skip
def test_set_refuses_in_one_line(tmp_path, change, words):
    lines = faults_of(tmp_path, GOOD, [change])
    assert any(words in line for line in lines), lines
