"""The public interface says what the commands say."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from functools import cache

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.cli.main import cli
from shaftwright.errors import InputError

pytestmark = pytest.mark.slow

MASSES = "examples/heron_marsh/masses.notebook.yaml"
DAY = date(2026, 5, 31)
ARROW = {"shaft": "MARSH-500", "length": "29 1/2 in", "point": "P175", "insert": "I25"}
OPTIONS = [word for key, value in ARROW.items() for word in (f"--{key}", value)]


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree("examples/heron_marsh", tmp_path / "heron_marsh")


def printed(*args):
    result = CliRunner().invoke(cli, [str(a) for a in args])
    assert result.exit_code == 0, result.output
    return result.stdout


ASKED = {
    "choose": (lambda bow: bow.choose(), []),
    "explain": (lambda bow: bow.explain(), []),
    "bareshaft": (lambda bow: bow.bareshaft(), []),
    "shop": (lambda bow: bow.shop(), []),
    "build": (lambda bow: bow.build(ARROW), OPTIONS),
    "launch": (lambda bow: bow.launch(ARROW, draws=4), [*OPTIONS, "--draws", "4"]),
    "flight": (lambda bow: bow.flight(ARROW, (20, 40)), [*OPTIONS, "--distances", "20,40"]),
    "efficiency": (
        lambda bow: replace(bow, notebook_file=MASSES).efficiency(),
        ["--notebook", MASSES],
    ),
    "card": (lambda bow: bow.card(day=DAY), ["--date", "2026-05-31"]),
}


@cache
def answer_of(command):
    """Each is worked out once."""
    return ASKED[command][0](shaftwright.open("examples/heron_marsh"))


UNNAMED = {
    "build": (lambda bow: bow.build(), lambda bow, arrow: bow.build(arrow), []),
    "flight": (lambda bow: bow.flight(None, (20,)), lambda bow, arrow: bow.flight(arrow, (20,)),
               ["--distances", "20"]),
    "launch": (lambda bow: bow.launch(draws=4), lambda bow, arrow: bow.launch(arrow, 4), ["--draws", "4"]),
}  # fmt: skip


@pytest.mark.parametrize("command", UNNAMED)
@pytest.mark.slow
def test_without_an_arrow_it_is_the_one_that_next_names_and_it_says_so(command):
    """The arrow is that of `next`, with the parts it was last noted with; named, nothing is said of next."""
    bow = shaftwright.open("examples/heron_marsh")
    then, (unnamed, named, options) = bow.next().result.next, UNNAMED[command]
    noted = [e.build for e in bow.entries if e.kind == "bareshaft"][-1]
    assert (noted.shaft, noted.length_in, noted.point) == (then.shaft, then.length_in, then.point)
    answer = unnamed(bow)
    assert answer.to_dict() == named(bow, noted).to_dict()
    assert "heron-marsh: the arrow that next names." in " ".join(str(answer).split())
    assert "next names" not in str(named(bow, noted))
    assert printed(command, "examples/heron_marsh", *options).startswith(str(answer))


@pytest.mark.parametrize("command", ASKED)
@pytest.mark.slow
def test_an_answer_is_the_commands_answer(command):
    folder, (_, options), answer = "examples/heron_marsh", ASKED[command], answer_of(command)
    document = json.loads(printed(command, folder, *options, "--json"))
    assert json.loads(json.dumps(answer.to_dict())) == document
    assert list(document)[:3] == ["format", "next", "shot"]
    text = printed(command, folder, *options)
    assert text.startswith(str(answer))
    assert text.splitlines()[-1].startswith(f"From {folder}: rig.yaml, stock.csv, ")
    if command in ("choose", "explain", "bareshaft", "build", "launch", "flight"):
        assert len(answer.full()) > len(str(answer))


def test_next_prints_as_in_the_terminal_and_in_a_page(folder):
    answer = shaftwright.open(folder).next()
    assert printed("next", folder).startswith(str(answer))
    assert str(answer).splitlines()[0] in answer._repr_html_()
    assert answer._repr_html_().startswith("<pre>")
    assert answer.to_dict()["next"] == json.loads(printed("next", folder, "--json"))["next"]


#: how many rows the command's own table has, and columns that it must have
TABLES = {
    "choose": (
        lambda found: len(found["builds"]),
        {"length_in", "speed_fps", "speed_low_fps", "mismatch_sd_lb"},
    ),
    "explain": (lambda found: 13, {"rule", "saw", "adds_lb", "adds_low_lb", "adds_high_lb"}),
    "bareshaft": (lambda found: len(found["causes"]), {"label", "chance"}),
    "shop": (lambda found: len(found["test_kit"]) + len(found["list"]), {"part", "item", "price"}),
    "build": (lambda found: 1, {"total_gr", "speed_fps", "mechanics.balance_in"}),
    "launch": (lambda found: len(found["sensitivities"]), {"change", "stiffness_low_pct"}),
    "flight": (lambda found: 2, {"distance_yd", "drop_low_in", "speed_fps"}),
    "efficiency": (lambda found: len(found["predictions"]), {"mass_gr", "usual_low_fps"}),
    "card": (lambda found: len(found["fields"]), {"label", "value"}),
}


@pytest.mark.parametrize("command", ASKED)
@pytest.mark.slow
def test_the_table_is_the_commands_with_a_unit_in_each_name(command):
    answer, (rows, columns) = answer_of(command), TABLES[command]
    table = answer.to_frame()
    assert len(table) == rows(answer.to_dict()) > 0
    assert columns <= set(table.columns)
    plan = {"format", "next", "shot"}
    assert not [
        c for c in table if c in plan or c.startswith("next.") or c.endswith((".mid", ".low"))
    ]


def test_what_the_rules_add_is_what_the_bow_asks_for():
    answer = answer_of("explain")
    asked = answer.to_dict()["effective_bow_weight_lb"]["mid"]
    assert answer.to_frame().adds_lb.sum() == pytest.approx(asked, abs=0.05)


@pytest.mark.slow
def test_the_report_lists_the_arrows_of_choose_and_the_sheet_its_lines():
    bow = shaftwright.open("examples/heron_marsh")
    told = bow.report(DAY).to_frame()
    assert list(told.shaft) == list(bow.choose().to_frame().shaft)
    # few things along, so that it is quickly made
    made = shaftwright.open("examples/heron_marsh", notebook_file="-").sheet(
        ["MARSH-400", "P125", "I25"]
    )
    sheet = made.to_frame()
    assert len(sheet) == sum(len(row.ways) for row in made.result.rows)
    assert {"side", "from_in", "to_in", "leads_to"} <= set(sheet.columns)


def test_a_sweep_is_a_row_a_brace_height():
    readings = "examples/heron_marsh/brace.notebook.yaml"
    table = shaftwright.open("examples/heron_marsh", notebook_file=readings).brace().to_frame()
    assert list(table.brace_in) == [7, 7.25, 7.5, 7.75, 8]
    assert list(table.columns) == [
        "brace_in",
        "speed_shots",
        "speed_fps",
        "sound_shots",
        "level_db",
    ]
    assert (table.speed_fps[2], table.level_db[2]) == pytest.approx((173.675, 83.3))


@pytest.mark.parametrize("asked", ["choose", "shop", "bareshaft", "card", "explain", "next"])
def test_the_folder_that_was_named_stands_in_every_line_to_type(tmp_path, monkeypatch, asked):
    """Typed as printed, a line goes into the notebook that was asked about; Python prints it too."""
    shutil.copytree("examples/heron_marsh", tmp_path / "heron")
    monkeypatch.chdir(tmp_path)
    bow = shaftwright.open("heron")
    plan = bow.scenario.plan
    then = replace(plan.next, do="Say so: shaftwright note have MARSH-400 2.")
    monkeypatch.setattr("shaftwright.answers.plan.plan.plan_of", lambda _: replace(plan, next=then))
    text = str(getattr(shaftwright.open("heron"), asked)())
    assert text.startswith("Say so: shaftwright note heron have MARSH-400 2.")
    assert printed(asked, "heron").startswith(text)
    monkeypatch.chdir("heron")
    assert printed(asked).startswith("Say so: shaftwright note have MARSH-400 2.")


def test_units_stand_in_the_names_of_the_columns(folder):
    table = shaftwright.open(folder).choose(top=3).to_frame()
    assert {"length_in", "front_gr", "total_gr", "spine_mils", "speed_fps"} <= set(table.columns)
    assert table.total_gr.between(200, 900).all()


def test_what_if_changes_nothing_on_disk(folder):
    bow = shaftwright.open(folder)
    before = (folder / "rig.yaml").read_bytes()
    other = bow.what_if("string.material=polyester")
    assert other.rig.string.material == "polyester" != bow.rig.string.material
    assert other.choose().to_dict() != bow.choose().to_dict()
    assert (folder / "rig.yaml").read_bytes() == before


def test_a_note_is_appended_and_the_bow_read_anew(folder):
    bow = shaftwright.open(folder)
    after = bow.note_bareshaft(fletched=[[0, 0], [1, -1], [-1, 1]], bare=[[0.5, 0], [-0.5, 1]])
    assert len(after.entries) == len(bow.entries) + 1
    last = after.entries[-1]
    assert last.build.shaft == bow.next().result.next.shaft
    assert last.distance_yd == bow.next().result.next.distance_yd
    assert after.next().to_dict() != bow.next().to_dict()
    assert after.note("have", item="MARSH-400", count=2).entries[-1].count == 2


def test_what_cannot_be_is_refused_and_nothing_written(folder):
    bow = shaftwright.open(folder)
    before = (folder / "notebook.yaml").read_bytes()
    with pytest.raises(InputError, match="distance"):
        bow.note_bareshaft(distance="20 horses", reads="weak")
    with pytest.raises(InputError, match="NOBODY"):
        bow.note("bareshaft", build={"shaft": "NOBODY", "length": 30}, distance=20, reads="weak")
    assert (folder / "notebook.yaml").read_bytes() == before


@pytest.mark.slow
def test_the_report_is_written(folder, tmp_path):
    shaftwright.open(folder).write_report(tmp_path / "page.html", DAY)
    assert "MARSH-500" in (tmp_path / "page.html").read_text(encoding="utf-8")


@pytest.mark.slow
def test_readings_are_compared_as_the_commands_compare_them(folder):
    """`compare` and `brace` read the notebook that is named, with the bow's next thing before."""
    shutil.copy(folder / "brace.notebook.yaml", folder / "notebook.yaml")
    bow = shaftwright.open(folder)
    for answer, words in ((bow.compare(["brace"]), ["compare", folder, "--by", "brace"]),
                          (bow.brace(), ["brace", folder])):  # fmt: skip
        assert json.loads(json.dumps(answer.to_dict())) == json.loads(printed(*words, "--json"))
        assert printed(*words).startswith(str(answer))
        assert len(answer.to_frame()) > 0


def test_a_list_for_two_purposes(folder):
    answer = shaftwright.open(folder).shop(also="target")
    words = ["shop", folder, "--purpose", "hunting", "--purpose", "target"]
    assert printed(*words).startswith(str(answer))


def test_opening_costs_nothing_until_something_is_asked():
    assert shaftwright.open("no such folder").path == "no such folder"
    with pytest.raises(AttributeError):
        _ = shaftwright.closed
