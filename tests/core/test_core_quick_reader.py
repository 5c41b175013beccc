"""The quick ways of reading long notebooks and CSV files tell just what the careful ways tell."""

from unittest.mock import patch

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shaftwright.errors import InputError
from shaftwright.files import notebook as notebooks
from shaftwright.files import readings as csv_readings
from shaftwright.files.notebook import parse_notebook
from shaftwright.files.readings import load_readings
from shaftwright.files.strict_yaml import NotPlainError, parse_yaml, quick_items

CHRONO = "- {kind: chrono, speed: 171 fps, arrow_mass: 505 gr, string: A, stringing: 1}\n"
BLOCK = "- kind: weigh\n  item: arrow 3\n  mass: 32.4 g\n  remark: 'two: words'\n\n# between\n"
ODD = [
    "- {kind: chrono, speed: 171 fps, speed: 170}\n", "- {kind: chrono, spede: 171}\n", "- {kind: chrono, speed: 9}\n",
    "- {kind: chrono, speed: [171\n", "- kind: chrono\n  speed: &a 171\n", "- {kind: chrono, speed: *a}\n",
    "- {kind: chrono, speed: !!str 171}\n", "- text\n", "-\n  kind: chrono\n  speed: 171\n", "- - kind: chrono\n",
    '- kind: change\n  what: "a\n- b"\n', "- kind: change\n  what: |\n    a\n    - b\n", "---\n", "...\n",
    "- {kind: change, what: 1e5}\n", "- {kind: change, what: '1'}\n", "-\n", "- ? {a: b}\n  : c\n",
    "- {kind: change, what: x, <<: {note: y}}\n", "[{kind: change, what: x},\n", "- {kind: sound, level: .nan dB}\n",
    "- " + "[" * 15 + "]" * 15 + "\n", "format: 1\n", "- {kind: change, what: null}\n", "\t\n", "- kind: change\r\n  what: x\r\n",
]  # fmt: skip


def slowly(text):
    """What the strict reader alone makes of a notebook, entry by entry."""

    def refuse(_):
        raise NotPlainError

    with patch.object(notebooks, "quick_items", refuse):
        return outcome(text)


def outcome(text):
    try:
        return parse_notebook(text, "n.yaml")
    except InputError as error:
        return [str(fault) for fault in error.faults]


pieces = st.lists(st.sampled_from([CHRONO, CHRONO, BLOCK, *ODD]), max_size=6).map("".join)


@settings(max_examples=300)
@given(pieces)
@example(CHRONO * 3 + ODD[3])
@example("---\n" + CHRONO + BLOCK)
@example(ODD[10] + CHRONO)
def test_notebook_read_quickly_is_the_notebook_read_strictly(text):
    assert outcome(text) == slowly(text)


@settings(max_examples=200)
@given(st.text("-: {}[],#'\"\n abk1.", max_size=60))
def test_any_text_reads_the_same_both_ways(text):
    assert outcome(text) == slowly(text)


@given(pieces)
def test_what_the_quick_reader_takes_the_strict_one_takes_alike(text):
    try:
        found = quick_items(text)
    except NotPlainError:
        return
    document = parse_yaml(text, "n.yaml")
    # NaN is not itself, so the words are held against each other
    assert repr([item for _, item in found]) == repr(document.data or [])


def test_quick_reader_is_the_one_that_reads_a_good_notebook():
    with patch.object(notebooks, "parse_yaml", side_effect=AssertionError):
        read = parse_notebook(CHRONO * 450 + BLOCK, "n.yaml")
    assert len(read.entries) == 451
    assert read.lines[:2] == (1, 2)
    assert read.lines[-1] == 451


def test_torn_entry_leaves_the_lots_before_it_quick():
    with patch.object(notebooks, "parse_yaml", wraps=parse_yaml) as strict:
        read = parse_notebook(CHRONO * 450 + "- {kind: chrono, spe", "n.yaml")
    assert len(read.entries) == 450
    assert read.faults[0].line == 451
    assert strict.call_count <= 60


def rows_slowly(path):
    with patch.object(csv_readings, "_read_clean", return_value=None):
        return rows(path)


def rows(path):
    try:
        return load_readings(path)
    except InputError as error:
        return [str(fault) for fault in error.faults]


cells = st.tuples(
    st.sampled_from(["171", " 171.5 fps ", "", "52 m/s", "9", "fast", "171"]),
    st.sampled_from(["84", "", "84.2 dB", "x"]),
    st.sampled_from(["A", "B", " ", "2"]),
    st.sampled_from(["2026-05-31", "", "yesterday"]),
)


@settings(max_examples=200)
@given(st.lists(cells, max_size=6), st.booleans())
def test_csv_read_by_columns_is_the_csv_read_by_rows(tmp_path_factory, lines, short):
    path = tmp_path_factory.mktemp("csv") / "r.csv"
    text = "speed,level,string,date\n" + "".join(",".join(line) + "\n" for line in lines)
    path.write_text(text + ("\n170\n" if short else ""))
    assert rows(path) == rows_slowly(path)


def test_clean_csv_is_read_by_columns(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("speed,level,string\n171,84,A\n,83,A\n170 fps,,B\n\n")
    with patch.object(csv_readings, "_read", side_effect=AssertionError):
        read = load_readings(path)
    assert read.chrono == {"speed_fps": [171, 170], "string": ["A", "B"]}
    assert read.sound == {"level_db": [84, 83], "string": ["A", "A"]}


@pytest.mark.parametrize("text", ["- a: 1\n- b: 2\n", "- 'x'\n"])
def test_lines_of_items_count_from_nought(text):
    assert [line for line, _ in quick_items(text)] == list(range(text.count("\n")))
