"""Files as spreadsheets and hurried hands leave them: one clear line a fault that says what to write."""

from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from shaftwright.cli.main import cli
from shaftwright.errors import InputError
from shaftwright.files.csv_rows import width_fault
from shaftwright.files.notebook import load_notebook
from shaftwright.files.readings import load_readings
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import _fits, load_stock
from shaftwright.records import notebook as notebook_records
from shaftwright.records import rig as rig_records
from shaftwright.records.fields import Record
from shaftwright.records.stock import COLUMNS

RIG = Path("examples/heron_marsh/rig.yaml")
STOCK = Path("examples/heron_marsh/stock.csv")
HEAD = ",".join(COLUMNS)


def told(load, *args):
    with pytest.raises(InputError) as caught:
        load(*args)
    lines = [str(fault) for fault in caught.value.faults]
    assert all("\n" not in line for line in lines)
    return lines


def stock(tmp_path, *rows, head=HEAD):
    path = tmp_path / "s.csv"
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


@pytest.mark.parametrize(("sign", "word"), [(";", "semicolons"), ("\t", "tabs")])
def test_stock_with_other_separators_is_one_line(tmp_path, sign, word):
    path = stock(tmp_path, "S;shaft;carbon", head=HEAD.replace(",", sign))
    lines = told(load_stock, path)
    assert len(lines) == 1
    assert lines[0].startswith(f"{path}:1: is separated by {word}; save it with commas")
    result = CliRunner().invoke(cli, ["choose", str(RIG), "--stock", str(path)])
    assert result.exit_code == 2
    assert result.stderr.splitlines() == lines


def test_rows_alone_with_semicolons_are_named(tmp_path):
    row = ";".join(["S-1", "shaft", "carbon"] + [""] * (len(COLUMNS) - 3))
    assert told(load_stock, stock(tmp_path, row)) == [
        f"{tmp_path}/s.csv:2: has 1 cells where the header has 17; it is separated by semicolons, write commas"
    ]


def test_decimal_comma_in_quotes_names_line_and_column(tmp_path):
    row = 'S-1,shaft,carbon,500,,8,"0,302",0.246,32,,"9,50",1,0,,,,'
    assert told(load_stock, stock(tmp_path, row)) == [
        f"{tmp_path}/s.csv:2: outside_diameter_in: '0,302' has a decimal comma; write 0.302; allowed: 0.1 to 0.6 in",
        f"{tmp_path}/s.csv:2: price: '9,50' has a decimal comma; write 9.50; allowed: a number, 0 to 100000",
    ]


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("S-1,shaft,carbon,500,,8,0,302,0.246,32,,9.50,1,0,,,,", ["outside_diameter_in: '0,302' has a decimal comma; write 0.302"]),
        ("S-1,shaft,carbon,500,,8,0,302,0,246,32,,9.50,1,0,,,,",
         ["outside_diameter_in: '0,302' has a decimal comma; write 0.302", "inside_diameter_in: '0,246' has a decimal comma; write 0.246"]),
        ("P-1,point,,,,,,,,6,48 g,,1,0,,,,", ["mass_gr: '6,48 g' has a decimal comma; write 6.48 g"]),
        ("P-1,point,,,,,,,,125,,1,0,,,,,,,", ["has 20 cells where the header has 17; a decimal comma makes two cells"]),
        ("P-1,point", ["has 2 cells where the header has 17"]),
    ],
)  # fmt: skip
def test_decimal_comma_that_splits_a_cell(tmp_path, row, expected):
    lines = told(load_stock, stock(tmp_path, row))
    assert len(lines) == len(expected)
    for line, words in zip(lines, expected, strict=True):
        assert line.startswith(f"{tmp_path}/s.csv:2: {words}")


@given(st.integers(0, 17), st.integers(1, 9), st.integers(1, 99))
def test_no_cell_is_named_for_a_comma_without_a_good_row(at, whole, part):
    """Whatever cell a comma splits, what is told to be written makes a row that reads."""
    row = [
        *"S-1 shaft carbon 500 - 8 0.302 0.246 32 - 9.50 1 0".replace("-", "").split(" "),
        *[""] * 4,
    ]
    cells = [*row[:at], str(whole), str(part), *row[at + 1 :]]
    header = list(COLUMNS)
    for fault in width_fault(header, cells, "s.csv", 2, lambda c: _fits(header, c)):
        if fault.field:
            column, (before, after) = header.index(fault.field), str(fault.value).split(",")
            mended = [*cells[:column], f"{before}.{after}", *cells[column + 2 :]]
            assert _fits(header, mended)


@pytest.mark.parametrize(
    ("field", "value", "form"),
    [
        ("bow.draw_weight", "50", "draw_weight: {lb: 47, at: own_draw}"),
        ("bow.window", "past_centre", "window: {cut: past_centre, by: 1/8 in}"),
        ("bow.plate", "1/16 in", "plate: {thickness: 1/16 in, material: leather}"),
        ("bow.nocking_point", "3/8 in", "nocking_point: {above_square: 3/8 in, locators: 2}"),
        ("string", "polyester", "string: {material: polyester}"),
        ("archer", "right", "archer: {hand: right, release: split, draw_length: 28 in}"),
    ],
)
def test_plain_value_in_place_of_fields_shows_the_right_form(field, value, form):
    (line,) = told(load_rig, RIG, [f"{field}={value}"])
    assert line.endswith(f"must be a mapping of fields, such as {form}")
    assert f" {field}: " in line


@pytest.mark.parametrize(
    ("said", "lb", "at"),
    [("45# @ 28", 45, 28), ("45 lb at 28 in", 45, 28), ("47 lb at own draw", 47, "own_draw"),
     ("196 N @ 71.12 cm", pytest.approx(44.06, abs=0.01), pytest.approx(28))],
)  # fmt: skip
def test_a_draw_weight_may_be_told_as_it_stands_on_the_limb(said, lb, at):
    weight = load_rig(RIG, [f"bow.draw_weight={said}"]).bow.draw_weight
    assert (weight.lb, weight.at) == (lb, at)


def test_a_draw_weight_without_its_draw_is_refused():
    (line,) = told(load_rig, RIG, ["bow.draw_weight=45#"])
    assert "bow.draw_weight: '45#' needs both lb and at" in line


@pytest.mark.parametrize("record", Record.__subclasses__(), ids=lambda r: r.__name__)
def test_every_form_shown_is_one_that_reads(record):
    if record.__module__ in (rig_records.__name__, notebook_records.__name__) and record.written:
        record.model_validate(yaml.safe_load(record.written))


@pytest.mark.parametrize(
    ("field", "value", "meant"),
    [
        ("bow.kind", "Recurve", "recurve"), ("bow.limbs", "High Performance", "high_performance"),
        ("archer.hand", "LEFT", "left"), ("archer.release", "three-under", "three_under"),
        ("bow.brace_height", "Unknown", "unknown"), ("purpose", "Hunting", "hunting"),
        ("bow.kind", "recruve", "recurve"), ("string.material", "Low-Stretch", "low_stretch"),
    ],
)  # fmt: skip
def test_capitalised_choice_hints_the_right_one(field, value, meant):
    (line,) = told(load_rig, RIG, [f"{field}={value}"])
    assert f"{field}: '{value}' is not allowed; did you mean {meant}? allowed: " in line


def test_capitalised_material_and_kind_in_a_stock(tmp_path):
    rows = ["S-1,shaft,Carbon,500,,8,,,32,,,1,0,,,,", "P-1,Point,,,,,,,,125,,1,0,,,,"]
    lines = told(load_stock, stock(tmp_path, *rows))
    assert (
        "s.csv:2: material: 'Carbon' is not allowed; did you mean carbon? allowed: carbon |"
        in lines[0]
    )
    assert "s.csv:3: kind: 'Point' is not allowed; did you mean point?" in lines[1]


def test_capitalised_choices_in_a_notebook(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(
        "- {kind: Chrono, speed: 171}\n- {kind: sound, level: 84, weighting: a}\n"
        "- {kind: bareshaft, build: MARSH-500, distance: 20 yd, reads: Slightly Stiff}\n"
        "- {kind: chrono, speed: '171,3 fps'}\n"
    )
    lines = told(load_notebook, path)
    for words in (
        "n.yaml:1: kind: 'Chrono' is not allowed; did you mean chrono?", "n.yaml:2: weighting: 'a' is not allowed; did you mean A?",
        "n.yaml:3: reads: 'Slightly Stiff' is not allowed; did you mean slightly_stiff?",
        "such as build: {shaft: MARSH-500, length: 29 in, point: P175}",
        "n.yaml:4: speed: '171,3 fps' has a decimal comma; write 171.3",
    ):  # fmt: skip
        assert any(words in line for line in lines), words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("28,25", "has a decimal comma; write 28.25"),
        ("28,25 in", "has a decimal comma; write 28.25"),
        ("28,250 in", "has a comma; write 28.250 or 28250"),
        ("28;25", "not a quantity"),
        ("28,,25", "not a quantity"),
    ],
)
def test_decimal_comma_in_a_rig(value, words):
    (line,) = told(load_rig, RIG, [f"archer.draw_length={value}"])
    assert words in line
    assert line.endswith("allowed: 18 to 36 in")


def test_decimal_comma_inside_braces(tmp_path):
    (line,) = told(load_rig, RIG, ["bow.draw_weight={lb: 47,5, at: own_draw}"])
    assert "bow.draw_weight.5: is not a known field; if it stands after a decimal comma" in line


def marked(tmp_path, source):
    """The same file with a byte-order mark and Windows line ends."""
    path = tmp_path / Path(source).name
    text = Path(source).read_text(encoding="utf-8")
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    return path


def test_byte_order_mark_and_windows_line_ends_are_accepted(tmp_path):
    assert load_rig(marked(tmp_path, RIG)) == load_rig(RIG)
    assert load_stock(marked(tmp_path, STOCK)).items == load_stock(STOCK).items
    source = Path("examples/heron_marsh/notebook.yaml")
    assert load_notebook(marked(tmp_path, source)).entries == load_notebook(source).entries
    plain = tmp_path / "r.csv"
    plain.write_text("speed,string\n171,A\n172,B\n")
    (tmp_path / "w").mkdir()
    assert load_readings(marked(tmp_path / "w", plain)) == load_readings(plain)


def test_readings_with_semicolons_are_one_line_and_tabs_go_by_their_name(tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("Velocity;string\n171,5;A\n")
    (line,) = told(load_readings, path, {"speed": "Velocity"})
    assert line.startswith(f"{path}:1: is separated by semicolons; save it with commas")
    path = tmp_path / "r.tsv"
    path.write_text("speed\tstring\n171.5\tA\n")
    assert load_readings(path).chrono == {"speed_fps": [171.5], "string": ["A"]}


def test_text_of_another_encoding_says_what_to_do(tmp_path):
    path = tmp_path / "s.csv"
    path.write_bytes(HEAD.encode() + b"\nB\xf6,sundry" + b"," * 15)
    assert told(load_stock, path) == [f"{path}:2: is not a UTF-8 text file; save it as UTF-8"]
