"""Stock files, rigs saved and loaded, and writes that happen whole or not at all."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from core_rigs import PLAIN, changed, rig_data
from hypothesis import given, settings
from hypothesis import strategies as st

from shaftwright.errors import Fault, InputError, told_once
from shaftwright.files.atomic import write_atomic
from shaftwright.files.rig import dump_rig, load_rig, rig_from
from shaftwright.files.stock import load_stock
from shaftwright.files.strict_yaml import parse_yaml
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.rig import Rig
from shaftwright.records.stock import COLUMNS, StockItem, shaft_facts, tube_spine_words

HEAD = ",".join(COLUMNS)


def row(**cells):
    return ",".join(str(cells.get(column, "")) for column in COLUMNS)


SHAFT = {"item": "S-500", "kind": "shaft", "material": "carbon", "spine_mils": 500, "gr_per_in": 8,
         "full_length_in": 32}  # fmt: skip


def lines_of(tmp_path, text):
    path = tmp_path / "stock.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(InputError) as caught:
        load_stock(path)
    lines = [str(f).removeprefix(f"{tmp_path}{os.sep}") for f in caught.value.faults]
    assert all(line.isprintable() for line in lines)
    return lines


def test_good_stock_reads(tmp_path):
    path = tmp_path / "stock.csv"
    text = "\r\n".join([HEAD, row(**SHAFT), "", row(item=100, kind="point", mass_gr="6.48 g"), ""])
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    stock = load_stock(path)
    assert [i.item for i in stock.items] == ["S-500", "100"]
    assert stock.items[1].mass_gr == pytest.approx(100.0016, abs=1e-3)


def test_what_a_stock_never_says_needs_no_column(tmp_path):
    """docs/reference/files.md: all of a row may be left out but its name and its kind."""
    path = tmp_path / "stock.csv"
    path.write_text(
        "item,kind,material,wood_spine_lb,gr_per_in,full_length_in,mass_gr\n"
        "PINE-40,shaft,wood,42.5,10.6,32,\nPG-100,point,,,,,100\n"
    )
    assert [(i.item, i.spine_mils, i.note, i.pack, i.in_hand) for i in load_stock(path).items] == [
        ("PINE-40", None, "", 1, 0), ("PG-100", None, "", 1, 0)
    ]  # fmt: skip
    # what a row does need is told of the row
    path.write_text("item,kind,material\nPINE-40,shaft,wood\n")
    with pytest.raises(InputError, match="needs one of spine_mils, wood_spine_lb or size_code"):
        load_stock(path)


def test_missing_and_unknown_and_double_columns_all_told(tmp_path):
    lines = lines_of(tmp_path, HEAD.replace("kind,", "").replace("note", "remarks") + ",price\n")
    assert len(lines) == 3
    assert any("kind: column is missing" in line for line in lines)
    assert any("'remarks' is not a known column; known: item, kind" in line for line in lines)
    assert any("price: column stands twice" in line for line in lines)
    assert all(line.startswith("stock.csv:1:") for line in lines)


def test_every_bad_cell_of_every_row_in_one_run(tmp_path):
    bad = [
        row(**SHAFT),
        row(**{**SHAFT, "item": "B", "spine_mils": -500}),
        row(**{**SHAFT, "item": "C", "material": "steel", "full_length_in": "320 in"}),
        row(item="D", kind="point"),
        row(item="E", kind="arrow", mass_gr=3),
        row(kind="point", mass_gr=100),
        row(**{**SHAFT, "item": "G", "gr_per_in": "nan"}),
        row(**{**SHAFT, "item": "H", "price": "1e999999999"}),
        row(**{**SHAFT, "item": "I", "pack": "1.5"}),
        row(**{**SHAFT, "item": "J", "wood_spine_lb": 50}),
        row(**{**SHAFT, "item": "K", "inside_diameter_in": 0.3, "outside_diameter_in": 0.25}),
        row(item="L", kind="point", mass_gr="-5 gr"),
        row(**SHAFT),
        "one,two",
    ]
    lines = lines_of(tmp_path, "\n".join([HEAD, *bad]) + "\n")
    expected = {
        3: "spine_mils: '-500' is out of range", 4: "material: 'steel' is not allowed", 5: "a point needs mass_gr",
        6: "kind: 'arrow' is not allowed", 7: "item: is missing", 8: "gr_per_in: 'nan'", 9: "price: '1e999999999'",
        10: "pack: '1.5' is not a whole number", 11: "only one", 12: "must be smaller than outside",
        13: "mass_gr: '-5 gr' is out of range", 14: "item: 'S-500' stands twice", 15: "has 2 cells where the header has 17",
    }  # fmt: skip
    for number, words in expected.items():
        assert any(line.startswith(f"stock.csv:{number}:") and words in line for line in lines), (
            number,
            lines,
        )
    assert any("full_length_in: '320 in'" in line for line in lines)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"), ("\n\n", "is empty"), (HEAD + "\n", "the stock is empty"), (HEAD + "\n,,,\n \n", "the stock is empty"),
        (HEAD + '\n"torn,shaft', "stock.csv:2: is not CSV here"), (HEAD + '\n"a"b,shaft' + "," * 15, "is not CSV here"),
        (b"\x89PNG\r\n\x1a\n", "UTF-8"), (b"a\0b", "is not a text file"), ("item;kind;material\n", "separated by semicolons"), ("item,price\n", "column is missing"), ("item,kind\n", "the stock is empty"),
        (HEAD + "\n" + "x" * 200_000 + "," * 16, "is not CSV here: field larger"), (HEAD + "\n" + row(item="x" * 99, kind="sundry"), "is too long"),
    ],
)  # fmt: skip
def test_files_that_are_no_stock(tmp_path, text, words):
    assert any(words in line for line in lines_of(tmp_path, text))


def test_missing_and_folder(tmp_path):
    for path, words in [(tmp_path / "no.csv", "no such file"), (tmp_path, "is a directory")]:
        with pytest.raises(InputError, match=words):
            load_stock(path)


def test_the_same_item_in_two_files_is_named_in_both(tmp_path):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text(f"{HEAD}\n{row(**SHAFT)}\n")
    with pytest.raises(
        InputError, match=r"b\.csv:2: item: 'S-500' stands twice; first at .*a\.csv:2"
    ):
        load_stock([tmp_path / "a.csv", tmp_path / "b.csv"])


def test_wood_spine_amo_half_inch_and_twenty_is_fifty_pounds():
    # AMO: pounds = 26 / deflection on 26 in with 2 lb; 0.520 in is 50 lb (seen in secondary pages)
    item = StockItem(
        item="w", kind="shaft", material="wood", wood_spine_lb=50, gr_per_in=10, full_length_in=32
    )
    facts = shaft_facts(item)
    assert facts.spine_mils * 0.8254185 / 1000 == pytest.approx(0.520, abs=1e-6)
    assert pounds_from_mils(facts.spine_mils) == pytest.approx(50)


def test_aluminium_size_code_geometry_from_memory():
    # recalled, common knowledge of the tubes: 2016 is 20/64 in with 0.016 in of wall; its static spine is told
    # as 0.531 in and its mass as about 10.5 gr/in
    item = StockItem(
        item="t", kind="shaft", material="aluminium", size_code="2016", full_length_in=32
    )
    facts = shaft_facts(item)
    assert facts.outside_in == 20 / 64
    assert facts.inside_in == pytest.approx(20 / 64 - 0.032)
    assert facts.spine_mils == 531
    assert facts.gr_per_in == pytest.approx(10.5, rel=0.03)
    assert facts.spine_sd_pct * 1.96 == pytest.approx(3, abs=0.05)
    assert "531 as usually printed (515 to 547)" in tube_spine_words(item)
    by_size = float(tube_spine_words(item).split()[-1])
    assert by_size == pytest.approx(531, rel=0.06)
    assert by_size != 531


@pytest.mark.parametrize(("code", "printed"), [("2117", 400), ("1816", 756), ("2016", 531), ("2018", 464)])  # fmt: skip
def test_a_tube_of_known_size_has_the_printed_spine(code, printed):
    """Recalled; what geometry alone gives lies within its own doubt of 6 % of it."""
    item = StockItem(
        item="t", kind="shaft", material="aluminium", size_code=code, full_length_in=32
    )
    assert shaft_facts(item).spine_mils == printed
    assert float(tube_spine_words(item).split()[-1]) == pytest.approx(printed, rel=0.06)


def test_a_tube_of_another_size_is_worked_out_and_says_so():
    item = StockItem(
        item="t", kind="shaft", material="aluminium", size_code="1916", full_length_in=32
    )
    words = tube_spine_words(item)
    assert words.startswith("611 by the tube's size alone (")
    low, high = (float(n) for n in words.partition("(")[2].rstrip(")").split(" to "))
    assert low / shaft_facts(item).spine_mils == pytest.approx(0.94, abs=2e-3)
    assert high / shaft_facts(item).spine_mils == pytest.approx(1.06, abs=2e-3)


def test_stated_tolerance_is_a_95_percent_range():
    item = StockItem.model_validate({**SHAFT, "spine_tolerance_mils": 10})
    assert shaft_facts(item).spine_sd_pct == pytest.approx(100 * 10 / 500 / 1.96)


def every_choice_unknown():
    return changed(
        archer__hand="unknown", archer__release="unknown", bow__kind="unknown", bow__limbs="unknown",
        bow__brace_height="unknown", bow__window={"cut": "unknown", "by": "unknown"}, bow__rest="unknown",
        bow__plate={"thickness": 0.1, "material": "unknown"}, bow__plunger={"spring": "unknown"},
        string__material="unknown",
    )  # fmt: skip


def test_unknown_is_legal_everywhere_and_survives(tmp_path):
    rig = every_choice_unknown()
    write_atomic(tmp_path / "rig.yaml", dump_rig(rig))
    assert load_rig(tmp_path / "rig.yaml") == rig


@pytest.mark.parametrize(
    "name", ["0E0", "1e5", "12", ".5", "true", "Null", "~", "yes", "-", "a: b", "# x", "é"]
)
def test_names_that_look_like_something_else_survive(name):
    rig = changed(rig=name, bow__limbs_id=name)
    assert rig_from(parse_yaml(dump_rig(rig), "rig.yaml")) == rig


@settings(max_examples=80, deadline=None)
@given(rig_data(shortest_draw=19))
@pytest.mark.slow
def test_rigs_save_and_load_without_loss(data):
    _round_trip(data)


def _round_trip(data):
    rig = Rig.model_validate(data)
    again = rig_from(parse_yaml(dump_rig(rig), "rig.yaml"))
    assert again == rig
    assert dump_rig(again) == dump_rig(rig)


@settings(max_examples=300, deadline=None)
@given(st.integers(18 * 64, 36 * 64))
def test_lengths_written_as_fractions_load_exactly(parts):
    whole, rest = divmod(parts, 64)
    data = {**PLAIN, "archer": {**PLAIN["archer"], "draw_length": f"{whole} {rest}/64 in"}}
    data["bow"] = {**PLAIN["bow"], "brace_height": 6}
    assert Rig.model_validate(data).archer.draw_length_in == parts / 64


@pytest.mark.parametrize("step", ["os.fsync", "os.replace", "os.chmod", "os.fdopen"])
def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path, monkeypatch, step):
    path = tmp_path / "rig.yaml"
    path.write_text("old")

    def fail(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(step, fail)
    with pytest.raises(OSError, match="No space"):
        write_atomic(path, "new")
    monkeypatch.undo()
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["rig.yaml"]


def test_a_kill_before_the_rename_leaves_the_old_file(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_text("old")
    code = (
        "import os, sys\n"
        "from shaftwright.files.atomic import write_atomic\n"
        "os.replace = lambda *a: os._exit(9)\n"
        "write_atomic(sys.argv[1], 'new' * 10000)\n"
    )
    assert subprocess.run([sys.executable, "-c", code, str(path)], check=False).returncode == 9
    assert path.read_text() == "old"


def test_write_keeps_mode_follows_links_and_needs_its_folder(tmp_path):
    path = tmp_path / "rig.yaml"
    path.write_text("old")
    path.chmod(0o600)
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    write_atomic(link, "new é\n")
    assert link.is_symlink()
    assert path.read_bytes() == "new é\n".encode()
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(OSError, match="No such file"):
        write_atomic(Path(tmp_path / "none" / "x"), "x")


# --- a fault over many rows ---


def test_a_fault_of_a_whole_column_is_told_once(tmp_path):
    """Prices with a currency sign, as a spreadsheet saves them: one line, the rows counted."""
    rows = [row(**SHAFT | {"item": f"S-{n}", "price": f"${n}.50"}) for n in range(2, 46)]
    path = tmp_path / "stock.csv"
    path.write_text("\n".join([HEAD, *rows, row(**SHAFT | {"material": "tin"})]))
    with pytest.raises(InputError) as caught:
        load_stock(path)
    told = str(caught.value).splitlines()
    assert len(caught.value.faults) == 45  # whoever leaves out bad rows has them all
    assert len(told) == 2
    assert "'$2.50' is not a number" in told[0]
    assert told[0].endswith("; the same in 43 more lines, down to 45")
    assert "material" in told[1]


def test_few_lines_with_one_fault_are_named_and_two_are_told_apart():
    three = [Fault("a.csv", "is not a number", n, "price", "x") for n in (3, 9, 4)]
    assert [f.problem for f in told_once(three)] == ["is not a number; the same in lines 4 and 9"]
    assert told_once(three[:2]) == three[:2]
    apart = [*three[:2], Fault("a.csv", "is not a number", 5, "pack", "x")]
    assert told_once(apart) == apart
