"""The sheet beside `next`: the same first arrow, the same thresholds, nothing that needs a saw or a shop."""

from __future__ import annotations

import csv
import json
import re
import shutil
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.answers.scenario import scenario
from shaftwright.answers.sheet import sheet as sheets
from shaftwright.answers.sheet.asking import Place, intervals, world_with
from shaftwright.cli.main import cli
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY
from shaftwright.resources import usual
from shaftwright.units import inches

HERON = Path(__file__).parents[2] / "examples" / "heron_marsh"
pytestmark = pytest.mark.slow
FEW = ["MARSH-400", "P125", "I25"]


@pytest.fixture(scope="module")
def few(bow):
    return bow.sheet(FEW).result


def end_of(row, aside_in):
    """An end whose bare middle lies so far right at 20 yd, as wide as a finger shooter's (common practice)."""
    right = aside_in * row.distance_yd / 20
    entry = {k: v for k, v in row.entry.items() if k != "distance_yd"} | {
        "marks": "none", "cant_deg": 0, "fletched": [[-2, 0], [2, 0], [0, 2]],
        "bare": [{"at": [right - 3, 0]}, {"at": [right + 3, 0]}, {"at": [right, 3]}],
    }  # fmt: skip
    return ENTRY.validate_python(entry)


def after(bow, brought, row, aside_in):
    """What `next` says with saw and shop at home, after such an end."""
    asked = scenario(bow.rig, None, bow.stock, [end_of(row, aside_in)], [1])
    return replace(asked, along=frozenset(brought)).plan.next


def test_the_first_row_is_what_next_names(bow, sheet):
    now, first = bow.next().result.next, sheet.rows[0]
    assert (first.shaft, first.length_in, first.point, first.distance_yd) == (
        now.shaft, now.length_in, now.point, now.distance_yd
    )  # fmt: skip


@pytest.mark.parametrize("aside", [-10.0, -8.0, 0.0, 7.0, 10.0])
def test_the_first_row_goes_where_next_goes(bow, sheet, aside):
    """Right-handed: right of the fletched is weak (common practice; no source)."""
    way = sheet.rows[0].at(abs(aside), "weak" if aside > 0 else "stiff")
    then = after(bow, sheet.brought, sheet.rows[0], aside)
    assert (way.then.shaft, way.then.point, way.then.insert, way.then.distance_yd) == (
        then.shaft, then.point, then.insert, then.distance_yd
    )  # fmt: skip


def test_rows_are_few_numbered_and_lead_only_to_rows(sheet):
    numbers = [row.number for row in sheet.rows]
    assert numbers == list(range(1, len(numbers) + 1))
    assert 2 <= len(numbers) <= setting("plan.sheet_rows")
    for row in sheet.rows:
        for side in ("stiff", "weak"):
            own = [w for w in row.ways if w.side == side]
            assert 1 <= len(own) <= 2
            edges = [row.within_in, *(w.to_in for w in own)]
            assert [w.from_in for w in own] == edges[:-1]
            assert edges[-1] == sheet.stop_in
            assert all(2 * e == round(2 * e) for e in edges)
            assert all(high - low >= 1 for low, high in pairwise(edges))
        assert all(w.row is None or w.row in numbers for w in row.ways)


def test_nothing_is_cut_or_bought_and_only_what_is_along_is_shot(few):
    assert set(few.brought) >= set(FEW)
    for row in few.rows:
        assert (row.shaft, row.point, row.insert) == ("MARSH-400", "P125", "I25")
        assert row.length_in == 32
        assert not row.then.buy
        assert row.then.kind != "cut"


def test_a_left_hander_has_the_same_rows_with_sides_changed(bow, few):
    left = bow.what_if("archer.hand=left").sheet(FEW).result
    assert (left.stiff, left.weak) == (few.weak, few.stiff) == ("right", "left")
    # a canted bow apart, the mirror image is the same bow
    assert [(r.shaft, r.point, r.distance_yd) for r in left.rows][:3] == [
        (r.shaft, r.point, r.distance_yd) for r in few.rows
    ][:3]


class Answer:
    """What `next` would say: an arrow, and which end of it."""

    def __init__(self, arrow, end=0):
        self.arrow, self.key = arrow, (arrow, end)

    like = Place.like


EVENLY = np.linspace(3.01, 13, 1000)


def cut(one, sign=1.0, draws=EVENLY):
    found = intervals(one, sign, 3.0, 12.0, draws)
    return [(low, high, place.arrow) for low, high, place in found]


def test_a_side_is_cut_where_the_answer_changes():
    # to the half inch, and what lies between two that were asked goes with the nearer
    assert cut(lambda off: Answer("a" if off < 6.5 else "b")) == [(3, 6.5, "a"), (6.5, 12, "b")]
    assert cut(lambda off: Answer("a" if off > -6 else "b"), -1) == [(3, 6, "a"), (6, 12, "b")]
    # under an inch is no interval of its own
    assert cut(lambda off: Answer(off >= 11.25)) == [(3, 12, False)]


def test_of_three_answers_those_stay_that_most_shots_would_ask_for():
    def one(off):
        return Answer("again" if off < 5 else "point" if off < 6 else "shaft")

    assert cut(one) == [(3, 5, "again"), (5, 12, "shaft")]
    near = np.linspace(3.01, 6.5, 1000)
    assert cut(one, draws=near) == [(3, 5, "again"), (5, 12, "point")]
    # the same arrow once more is half as good as the very row
    ends = cut(lambda off: Answer("a", off > 5) if off < 8 else Answer("b"))
    assert ends == [(3, 8, "a"), (8, 12, "b")]


def test_a_line_says_what_of_the_arrow_changes(sheet):
    numbers = {r.number: r for r in sheet.rows}
    seen = set()
    for row in sheet.rows:
        for way in row.ways:
            to = numbers.get(way.row)
            if to is None:
                assert way.do
            elif to.shaft != row.shaft:
                assert way.do == to.shaft
                seen.add("shaft")
            elif to.own == row.own:
                assert way.do == ""
                seen.add("again")
    assert seen == {"shaft", "again"}


def test_an_arrow_shot_again_is_read_at_the_middle_of_its_ends(bow, sheet):
    """As `next` has it: two ends that lie a little off alike ask for what their middle asks for."""
    again = next(r for r in sheet.rows if r.ends_before == 1)
    first = next(r for r in sheet.rows if r.own == again.own and not r.ends_before)
    numbers = {r.number: r for r in sheet.rows}
    for row in sheet.rows:
        for way in row.ways:
            to = numbers.get(way.row)
            if to is not None and to.own == row.own:
                # on by one end; where that has no row of its own, this row again
                assert to.ends_before == row.ends_before + 1 or to.number == row.number
    for aside in (-5.0, 8.0):
        way = again.at(abs(aside), "weak" if aside > 0 else "stiff")
        entries = [end_of(first, aside), end_of(again, aside)]
        asked = replace(
            scenario(bow.rig, None, bow.stock, entries, [1, 2]), along=frozenset(sheet.brought)
        )
        then = asked.plan.next
        assert (way.then.shaft, way.then.point, way.then.insert) == (
            then.shaft, then.point, then.insert
        )  # fmt: skip


def test_what_bow_and_stock_alone_come_to_is_worked_out_once(counted):
    """The plan is asked a hundred times; what is wanted of an arrow is the same each time."""
    _, made, asked = counted
    assert 40 < asked < 125
    assert made < asked


def test_only_the_same_bow_and_stock_share(bow):
    away = replace(bow.scenario, along=frozenset(["MARSH-400", "P175", "I25"]))
    end = shot("MARSH-400")
    here = world_with(away, [end])
    assert here.kept is away.kept
    set_anew = ENTRY.validate_python(
        {"kind": "change", "what": "plate", "rig_state": {"plate": "1/8 in"}}
    )
    changed = world_with(away, [set_anew, end])
    assert changed.kept is not away.kept
    assert world_with(away, [set_anew, end, end], changed).kept is changed.kept
    # a part shot that the stock did not have in hand
    gone = ENTRY.validate_python({"kind": "have", "item": "MARSH-400", "count": 1})
    other = world_with(away, [end, gone])
    assert other.kept is not away.kept


def test_the_band_is_stated_for_the_nock_and_fletching_there_are(bow):
    """As the stock has parts for, or as shot last; only where nothing is told the usual mass."""
    assert bow.scenario.reference_build().tail_gr[0] == 9 + 8  # stock.csv: N246 and F3x4
    alone = scenario(bow.rig)
    assert alone.reference_build().tail_gr[0] == usual("tail_gr")
    numbers = {"spine": 500, "gr_per_in": 8, "length": 30, "front": 175, "tail": 41}
    shot_so = {
        "kind": "bareshaft",
        "distance": "20 yd",
        "build": numbers,
        "bare": [[1, 0]],
        "fletched": [[0, 0]],
    }
    asked = scenario(bow.rig, None, bow.stock, [ENTRY.validate_python(shot_so)], [1])
    assert asked.reference_build().tail_gr[0] == 41


def test_at_home_nothing_is_kept(bow):
    """A shop of thousands of rows must not stay in memory."""
    home = replace(bow.scenario)
    assert home.plan.next
    assert not home.kept


def shot(shaft):
    return ENTRY.validate_python({
        "kind": "bareshaft", "distance": "20 yd", "marks": "none", "fletched": [[0, 0], [1, 0], [0, 1]],
        "build": {"shaft": shaft, "length": "32 in", "point": "P175", "insert": "I25"},
        "bare": [{"at": [3, 0]}, {"at": [3.5, 0]}, {"at": [3, -0.5]}],
    })  # fmt: skip


def test_the_words_fit_80_columns_and_begin_with_the_one_thing(shown):
    out = str(shown)
    assert out.startswith("Begin with row 1: MARSH-400 32 in, 175 gr point")
    assert max(map(len, out.splitlines())) <= 80
    assert "Right is weak, left is stiff." in out


def test_what_is_not_there_is_named():
    found = CliRunner().invoke(
        cli, ["sheet", str(HERON), "--bring", "MARSH-4O0", "--bring", "MARSH-300"]
    )
    told = str(found.exception) + found.output
    assert "MARSH-400?" in told
    assert "MARSH-300" in told
    assert "not in hand" in told


# lines of the phone


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "bow"
    shutil.copytree(HERON, made)
    (made / "notebook.yaml").unlink()
    return made


def lines_of(sheet, remark):
    """As the page writes them."""
    entry = {k: v for k, v in sheet.rows[0].entry.items() if k != "distance_yd"} | {
        "date": "2026-05-31", "remark": remark, "marks": "none", "fletched": [[0, 0], [1, 0], [0, 1]],
        "bare": [{"at": [3, 0]}, {"at": [3.25, 0]}, {"at": [3, -0.5]}],
    }  # fmt: skip
    return f"- {json.dumps(entry)}\n"


def test_lines_are_taken_in_once_however_often_they_are_pasted(folder, sheet, tmp_path):
    file = tmp_path / "range.yaml"
    file.write_text(2 * lines_of(sheet, "sheet 10.00.00") + lines_of(sheet, "sheet 10.20.00"))
    first = CliRunner().invoke(cli, ["note", str(folder), "--from", str(file)])
    assert "2 entries noted, 1 there already" in first.output
    book = (folder / "notebook.yaml").read_text()
    again = CliRunner().invoke(cli, ["note", str(folder), "--from", str(file)])
    assert "Nothing new" in again.output
    assert (folder / "notebook.yaml").read_text() == book
    assert len(re.findall(r"^- kind: bareshaft", book, re.M)) == 2


def test_one_bad_line_and_nothing_is_taken_in(folder, sheet, tmp_path):
    file = tmp_path / "range.yaml"
    file.write_text(lines_of(sheet, "a") + '- {"kind": "bareshaft", "distance": "far"}\n')
    found = CliRunner().invoke(cli, ["note", str(folder), "--from", str(file)])
    assert found.exit_code != 0
    assert not (folder / "notebook.yaml").exists()


def test_the_first_row_sets_the_bow_as_next_says(tmp_path):
    lark = shutil.copytree(HERON.parent / "reed_lark", tmp_path / "lark")
    have = "- {kind: have, item: TERN-700, count: 1, length: 31 in}\n- {kind: have, item: P100, count: 6}\n"
    end = {
        "kind": "bareshaft", "build": {"shaft": "TERN-700", "length": "31 in", "point": "P100"}, "marks": "none",
        "distance": "20 yd", "fletched": [[0, 0], [1, 1], [-1, 0]], "bare": [[-3, 0], [-4, 1], [-2, 0]],
    }  # fmt: skip
    (lark / "notebook.yaml").write_text(have + f"- {json.dumps(end)}\n" * 2, encoding="utf-8")
    bow = shaftwright.open(lark)
    now = bow.next().result.next
    assert now.kind == "plunger", now.do
    assert bow.sheet([]).result.rows[0].settings == (now.setting,)


GORSE = """\
format: 1
rig: gorse-hybrid
archer: {hand: left, release: three_under, draw_length: 29 in}
bow:
  kind: hybrid
  limbs: standard
  draw_weight: {lb: 48, at: own_draw}
  brace_height: 7 1/4 in
  window: {cut: to_centre}
  rest: shelf
  plate: {thickness: 1/8 in, material: leather}
  nocking_point: {above_square: 5/8 in, locators: 1}
string: {material: unknown}
purpose: hunting
"""
IN_HAND = {"PLAIN-400": 3, "PLAIN-500": 4, "P125": 6, "P200": 6, "I75": 12, "N246": 12}


def test_it_begins_with_the_arrow_that_next_names_though_only_a_cut_would_bring_it_in(tmp_path):
    # the stiffer one is shot first, for the weaker may be far too weak
    (tmp_path / "rig.yaml").write_text(GORSE, encoding="utf-8")
    starter = files("shaftwright") / "starter" / "stock.csv"
    rows = list(csv.DictReader(starter.read_text(encoding="utf-8").splitlines()))
    with (tmp_path / "stock.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0])
        out.writeheader()
        out.writerows(row | {"in_hand": IN_HAND.get(row["item"], row["in_hand"])} for row in rows)
    bow = shaftwright.open(tmp_path)
    then, row = bow.scenario.plan.next, bow.sheet().result.rows[0]
    assert (then.kind, then.shaft) == ("shoot", "PLAIN-400")
    assert (row.shaft, row.length_in, row.point) == (then.shaft, then.length_in, then.point)
    assert row.distance_yd == then.distance_yd == 10


@pytest.mark.parametrize(("bare", "ends", "kind", "noted"), [(9, 2, "cut", 0), (0, 1, "shoot", 1)])
def test_what_next_cuts_is_cut_at_home_and_ends_of_before_are_told(
    tmp_path, monkeypatch, bare, ends, kind, noted
):
    marsh = shutil.copytree(HERON, tmp_path / "marsh")
    (marsh / "before.yaml").unlink()
    with (marsh / "stock.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    with (marsh / "stock.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0])
        out.writeheader()
        in_hand = {"MARSH-500": 2, "P175": 6, "I25": 12, "N246": 12, "F3x4": 12}
        out.writerows(row | {"in_hand": in_hand.get(row["item"], 0)} for row in rows)
    end = {
        "kind": "bareshaft", "build": {"shaft": "MARSH-500", "length": "32 in", "point": "P175", "insert": "I25"},
        "distance": "20 yd", "fletched": [[0, 0], [1, 1], [-1, 0]], "marks": "none",
        "bare": [[bare, 0], [bare + 1, 1], [bare, 0]],
    }  # fmt: skip
    (marsh / "notebook.yaml").write_text(f"- {json.dumps(end)}\n" * ends, encoding="utf-8")
    # the first row alone is looked at
    monkeypatch.setattr(
        sheets, "setting", lambda name: 1 if name == "plan.sheet_ends" else setting(name)
    )
    bow = shaftwright.open(marsh)
    then, shown = bow.next().result.next, bow.sheet([])
    first = shown.result.rows[0]
    assert then.kind == kind
    assert (first.length_in, first.ends_noted) == (then.length_in, noted)
    told = " ".join(str(shown).split())
    begin = (
        f"Cut one MARSH-500 to {inches(first.length_in, 32)} at home, then b"
        if kind == "cut"
        else "B"
    )
    assert told.startswith(f"{begin}egin with row 1: MARSH-500 ")
    assert ("your noted end counts too" in told) == (noted == 1)
