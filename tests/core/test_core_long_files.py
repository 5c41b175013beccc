"""Long notebooks and CSV files: one bad entry or row never touches another, and none is a crash."""

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from shaftwright.errors import InputError
from shaftwright.files.notebook import parse_notebook
from shaftwright.files.readings import load_readings
from shaftwright.records.notebook import Chrono, Sound

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


# what cannot reach past its own entry, torn or not
WHOLE = [odd for odd in ODD if odd.startswith("- ") and '"' not in odd and "|" not in odd]


def outcome(text):
    try:
        return parse_notebook(text, "n.yaml")
    except InputError as error:
        return [str(fault) for fault in error.faults]


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.lists(st.sampled_from([CHRONO, CHRONO, BLOCK, *WHOLE]), max_size=6))
@example([CHRONO] * 3 + ODD[3:4])
def test_each_entry_reads_as_it_does_alone(pieces):
    alone = [outcome(piece) for piece in pieces]
    good = [one.entries[0] for one in alone if not isinstance(one, list)]
    read = outcome("".join(pieces))
    assert list(read.entries) == good if not isinstance(read, list) else not good
    told = len(read) if isinstance(read, list) else len(read.faults)
    assert told == sum(len(one) for one in alone if isinstance(one, list))


@settings(max_examples=200, deadline=None)
@given(st.text("-: {}[],#'\"\n abk1.", max_size=60))
def test_any_text_is_read_or_told_by_line(text):
    read = outcome(text)
    faults = read if isinstance(read, list) else map(str, read.faults)
    assert all(fault.startswith("n.yaml:") for fault in faults)


def test_torn_entry_leaves_the_others():
    read = parse_notebook(CHRONO * 450 + "- {kind: chrono, spe", "n.yaml")
    assert len(read.entries) == 450
    assert read.lines[-1] == 450
    assert read.faults[0].line == 451


def rows(path):
    try:
        return load_readings(path)
    except InputError as error:
        return error.faults


def alone(cells, model, quantity, names):
    """What one row comes to as a record; None where it has none of the quantity."""
    told = {name: cell.strip() for name, cell in zip(names, cells, strict=True) if cell.strip()}
    own = {n: v for n, v in told.items() if n in ("string", "date", quantity)}
    return model.model_validate(own) if quantity in told else None


cells = st.tuples(
    st.sampled_from(["171", " 171.5 fps ", "", "52 m/s", "9", "fast", "171"]),
    st.sampled_from(["84", "", "84.2 dB", "x"]),
    st.sampled_from(["A", "B", " ", "2"]),
    st.sampled_from(["2026-05-31", "", "yesterday"]),
)


@settings(max_examples=200, deadline=None)
@given(st.lists(cells, max_size=6), st.booleans())
@pytest.mark.slow
def test_csv_rows_are_the_records_they_would_be_alone(tmp_path_factory, lines, short):
    names = ("speed", "level", "string", "date")
    path = tmp_path_factory.mktemp("csv") / "r.csv"
    text = ",".join(names) + "\n" + "".join(",".join(line) + "\n" for line in lines)
    path.write_text(text + ("\n170\n" if short else ""))
    if short:
        lines = [*lines, ("170", "", "", "")]
    chrono, sound, bad = [], [], 0
    for line in lines:
        try:
            speed, level = alone(line, Chrono, "speed", names), alone(line, Sound, "level", names)
        except ValidationError:
            bad += 1
            continue
        chrono += [speed] if speed else []
        sound += [level] if level else []
    read = rows(path)
    if not chrono and not sound:
        assert isinstance(read, list)
        assert len({fault.line for fault in read}) == (bad or 1)
        return
    assert len({fault.line for fault in read.faults}) == bad
    for got, records, quantity in (
        (read.chrono, chrono, "speed_fps"),
        (read.sound, sound, "level_db"),
    ):
        for name in (quantity, "string", "date") if records else ():
            assert got[name] == [getattr(record, name) for record in records]


def test_cells_left_blank_are_none(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("speed,level,string\n171,84,A\n,83,A\n170 fps,,B\n\n")
    read = load_readings(path)
    assert read.chrono == {"speed_fps": [171, 170], "string": ["A", "B"]}
    assert read.sound == {"level_db": [84, 83], "string": ["A", "A"]}


@pytest.mark.parametrize("before", ["", "# a word\n\n", "---\n"])
def test_lines_of_entries_count_from_one(before):
    read = parse_notebook(before + CHRONO + CHRONO, "n.yaml")
    first = before.count("\n") + 1
    assert read.lines == (first, first + 1)
