"""A bow is a folder, a rig file, or the folder one stands in; every command takes any of them."""

import json
import re
import shutil
from functools import cache
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from shaftwright.cli.main import COMMANDS, cli
from shaftwright.errors import InputError
from shaftwright.files.bow import bow_files

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
HERON, FEN, LARK = (
    str(ROOT / "examples" / name) for name in ("heron_marsh", "long_fen", "reed_lark")
)
NUMBERS = ["--spine", "500", "--gr-per-in", "8", "--length", "29 1/2 in", "--front", "200 gr"]
MASSES = ["--notebook", str(ROOT / "examples/heron_marsh/masses.notebook.yaml")]
#: every command of a bow, with what it needs beside one, as quick as it can be had
ASKED = {
    "next": [], "choose": ["--top", "1"], "explain": [], "build": NUMBERS, "bareshaft": [],
    "shop": ["--arrows", "0", "--must", "material=carbon"], "flight": [*NUMBERS, "--distances", "20"],
    "efficiency": MASSES, "card": ["--date", "2026-05-10"], "compare": [], "brace": [],
    "launch": [*NUMBERS, "--draws", "4"], "report": [],
}  # fmt: skip
#: a launch is the dearest: tests/interface asks the same of its one
EVERY = [name for name in ASKED if name != "launch"]
FROM = "rig.yaml, stock.csv, notebook.yaml, before.yaml."


def run(*args):
    result = CliRunner().invoke(cli, [str(a) for a in args])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def good(*args):
    result = run(*args)
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.fixture
def heron(tmp_path):
    """A folder of our own with all four files."""
    folder = tmp_path / "my-bow"
    shutil.copytree(HERON, folder)
    return folder


# ---- which files


def test_a_folders_files_are_picked_up(heron):
    files = bow_files(heron)
    assert (files.rig, files.stock) == (heron / "rig.yaml", (heron / "stock.csv",))
    assert (files.notebook, files.before) == (heron / "notebook.yaml", heron / "before.yaml")
    assert (files.folder, files.found) == (
        heron, ("rig.yaml", "stock.csv", "notebook.yaml", "before.yaml")
    )  # fmt: skip


@pytest.mark.parametrize("absent", ["stock.csv", "notebook.yaml", "before.yaml"])
def test_what_a_folder_does_not_have_is_not_used(heron, absent):
    (heron / absent).unlink()
    files = bow_files(heron)
    assert absent not in files.found
    assert len(files.found) == 3
    used = [*files.stock, files.notebook, files.before]
    assert heron / absent not in used


def test_a_rig_file_takes_only_what_is_named(heron):
    files = bow_files(heron / "rig.yaml")
    assert (files.stock, files.notebook, files.before) == ((), None, None)
    assert (files.folder, files.found) == (None, ())
    named = bow_files(heron / "rig.yaml", ["a.csv", "b.csv"], "n.yaml", "old.yaml")
    assert named.stock == (Path("a.csv"), Path("b.csv"))
    assert (named.notebook, named.before) == (Path("n.yaml"), Path("old.yaml"))


def test_nothing_is_the_folder_one_stands_in(heron, monkeypatch):
    monkeypatch.chdir(heron)
    files = bow_files()
    assert files.rig.resolve() == heron / "rig.yaml"
    assert files.found == bow_files(heron).found


def test_what_is_named_wins_over_the_folder(heron):
    files = bow_files(heron, ["shop.csv"], "n.yaml", "old.yaml")
    assert files.stock == (Path("shop.csv"),)
    assert (files.notebook, files.before) == (Path("n.yaml"), Path("old.yaml"))
    assert files.found == ("rig.yaml",)


def test_a_dash_does_without_a_folders_file(heron):
    files = bow_files(heron, ["-"], "-", "-")
    assert (files.stock, files.notebook, files.before) == ((), None, None)
    assert files.found == ("rig.yaml",)


@pytest.mark.parametrize("given", [True, False], ids=["named", "stood in"])
def test_a_folder_without_a_rig_is_one_clear_fault(tmp_path, monkeypatch, given):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(InputError) as told:
        bow_files(tmp_path if given else None)
    assert len(told.value.faults) == 1
    line = str(told.value)
    assert line.startswith(f"{tmp_path}: ")
    for word in ("rig.yaml", "stock.csv", "notebook.yaml", "before.yaml", "shaftwright new"):
        assert word in line


@pytest.mark.parametrize(
    "command", ["next", "choose", "explain", "card", "compare", "brace", "shop"]
)
def test_the_fault_is_a_line_and_exit_code_2(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    result = run(command)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "rig.yaml" in result.stderr
    assert result.stdout == ""


def test_names_that_are_no_path_are_a_line():
    for name in ("nowhere", "x" * 5000):
        result = run("next", name)
        assert result.exit_code == 2
        assert len(result.stderr.splitlines()) == 1


def test_a_fault_in_a_folders_file_names_the_file(heron):
    (heron / "stock.csv").write_text("item\n")
    result = run("choose", heron)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{heron / 'stock.csv'}:1: ")


# ---- every command


def bow_commands():
    import importlib

    for name in COMMANDS:
        command = importlib.import_module(f"shaftwright.cli.{name}").command
        if any(p.metavar and "BOW" in p.metavar for p in command.params) and name != "serve":
            yield name, command


def test_every_command_of_a_bow_is_tried_here():
    found = {name for name, command in bow_commands() if not isinstance(command, click.Group)}
    assert found - {"sheet"} == set(ASKED)


@pytest.mark.parametrize("command", EVERY)
@pytest.mark.slow
def test_the_last_line_says_which_files_were_picked_up(tmp_path, command):
    more = ["--html", tmp_path / "r.html"] if command == "report" else []
    folder = "examples/heron_marsh"
    last = good(command, folder, *ASKED[command], *more).splitlines()[-1]
    found = FROM.replace("notebook.yaml, ", "") if command == "efficiency" else FROM
    assert last == f"From {folder}: {found}"


@cache
def plan_of(*named):
    return json.loads(good("next", HERON, *named, "--json"))


@pytest.mark.parametrize("command", EVERY)
@pytest.mark.slow
def test_json_is_format_2_and_begins_with_the_plan_of_the_bow(command):
    told = json.loads(good(command, HERON, *ASKED[command], "--json"))
    assert list(told)[:3] == ["format", "next", "shot"]
    assert told["format"] == 2
    expected = plan_of(*(ASKED["efficiency"] if command == "efficiency" else []))
    assert (told["next"], told["shot"]) == (expected["next"], expected["shot"])
    assert told["next"]["do"]


def test_the_words_are_those_of_the_files_named_one_by_one(heron):
    by_name = good(
        "card", heron / "rig.yaml", "--stock", heron / "stock.csv", "--notebook", heron / "notebook.yaml",
        "--before", heron / "before.yaml",
    )  # fmt: skip
    assert good("card", heron).startswith(by_name.rstrip("\n"))
    assert "From " not in by_name


def test_the_folder_one_stands_in(heron, monkeypatch):
    named = good("card", heron, "--json")
    monkeypatch.chdir(heron)
    assert good("card", "--json") == named
    assert good("card").splitlines()[-1] == f"From this folder: {FROM}"
    assert good("next", ".").splitlines()[-1] == f"From this folder: {FROM}"


@pytest.mark.slow
def test_named_files_win_in_an_answer(heron):
    def band(*more):
        return json.loads(good("choose", heron, "--json", *more))["spine_band_mils"]

    bare = json.loads(good("choose", heron / "rig.yaml", "--stock", heron / "stock.csv", "--json"))
    assert band("--notebook", "-") == bare["spine_band_mils"]
    assert band() != bare["spine_band_mils"]
    assert json.loads(good("choose", heron, "--stock", "-", "--json"))["builds"] == []
    shafts = json.loads(
        good("choose", heron, "--stock", f"{FEN}/stock.csv", "--notebook", "-", "--json")
    )
    assert {build["shaft"].split("-")[0] for build in shafts["builds"]} <= {"SPRUCE", "CEDAR"}
    last = good("choose", heron, "--notebook", "-").splitlines()[-1]
    assert last.endswith("my-bow: rig.yaml, stock.csv, before.yaml.")


def test_a_long_folder_name_keeps_to_80_columns(tmp_path):
    folder = tmp_path / ("a-bow-with-a-very-long-name-" * 4)
    shutil.copytree(HERON, folder)
    for line in good("next", folder).splitlines():
        assert len(line) <= 80


# ---- readings with and without a bow


@pytest.mark.parametrize("command", ["compare", "brace"])
def test_a_notebook_by_itself_has_no_plan(command):
    told = json.loads(good(command, f"{HERON}/notebook.yaml", "--json"))
    assert list(told)[:3] == ["format", "next", "shot"]
    assert (told["format"], told["next"], told["shot"]) == (2, None, None)
    assert "From " not in good(command, f"{HERON}/notebook.yaml").splitlines()[-1]


@pytest.mark.parametrize("command", ["compare", "brace"])
def test_a_bow_without_a_notebook_says_so(command):
    result = run(command, FEN)
    assert result.exit_code == 2
    assert "--notebook" in result.stderr


def test_compare_takes_the_virtual_mass_of_the_bow():
    by_folder = json.loads(good("compare", HERON, "--json"))
    by_rig = json.loads(
        good("compare", f"{HERON}/notebook.yaml", "--rig", f"{HERON}/rig.yaml", "--json")
    )
    alone = json.loads(good("compare", f"{HERON}/notebook.yaml", "--json"))
    assert by_folder["in_use"] == by_rig["in_use"]
    assert by_rig["next"] is not None
    assert alone["in_use"] != by_rig["in_use"]


def test_a_csv_of_readings_with_a_rig_has_the_plan_of_the_rig(tmp_path):
    readings = tmp_path / "r.csv"
    rows = [f"{speed},{string}" for speed, string in zip(range(168, 176), "ABBAABBA", strict=True)]
    readings.write_text("\n".join(["speed,string", *rows, ""]))
    told = json.loads(good("compare", readings, "--rig", f"{HERON}/rig.yaml", "--json"))
    assert told["next"] == json.loads(good("next", f"{HERON}/rig.yaml", "--json"))["next"]


def test_faults_of_a_notebook_are_told_once(heron):
    with (heron / "notebook.yaml").open("a") as stream:
        stream.write("- {kind: weigh, item: x}\n")
    for command in ("compare", "brace", "next", "card"):
        result = run(command, heron)
        assert result.exit_code == 0, result.output
        assert result.stderr.count("(entry skipped)") == 1


@pytest.mark.parametrize(
    "args", [("rules", "list"), ("rules", "check"), ("explain", "--rule", "A03")]
)
def test_what_takes_no_bow_has_no_plan(args):
    told = json.loads(good(*args, "--json"))
    assert list(told)[:3] == ["format", "next", "shot"]
    assert (told["format"], told["next"], told["shot"]) == (2, None, None)


# ---- two bows in one shop


def two(*args):
    return good("shop", *args, "--arrows", "0", "--must", "material=carbon")


@pytest.mark.slow
def test_two_folders_are_served_from_the_first_ones_shop():
    lines = two(HERON, LARK, "--notebook", "-", "--notebook", "-").splitlines()
    assert lines[-2:] == [f"From {_shown(HERON)}: rig.yaml, stock.csv, before.yaml.",
                          f"From {_shown(LARK)}: rig.yaml."]  # fmt: skip
    by_name = two(f"{HERON}/rig.yaml", f"{LARK}/rig.yaml", "--stock", f"{HERON}/stock.csv")
    assert "\n".join(lines[:-3]) == by_name.rstrip("\n")


def _shown(folder):
    from shaftwright.render.words import short

    return short(folder, 40)


@pytest.mark.slow
def test_a_folder_without_a_stock_is_served_from_the_others(tmp_path):
    folder = tmp_path / "b"
    folder.mkdir()
    shutil.copy(f"{LARK}/rig.yaml", folder / "rig.yaml")
    lines = two(folder, LARK).splitlines()
    assert lines[-1] == f"From {_shown(LARK)}: rig.yaml, stock.csv."
    assert lines[-2].endswith("b: rig.yaml.")


def test_before_needs_a_notebook_which_a_folder_has(heron):
    old = heron / "before.yaml"
    result = run("shop", heron / "rig.yaml", "--stock", heron / "stock.csv", "--before", old)
    assert result.exit_code == 2
    assert "--before needs --notebook" in result.stderr
    (heron / "notebook.yaml").unlink()
    assert "--before needs --notebook" in run("shop", heron, "--before", old).stderr


# ---- what help and new say


def test_paths_in_help_are_there():
    for name, command in bow_commands():
        if isinstance(command, click.Group):
            continue
        text = good(name, "--help")
        for path in re.findall(r"\bexamples/[\w./]+", text):
            assert (ROOT / path).exists(), (name, path)


def test_next_leads_the_list_of_commands():
    assert list(COMMANDS)[:2] == ["new", "next"]


def test_new_writes_a_folder_that_works_at_once(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = good("new", "my-bow").splitlines()
    assert said[-1].strip() == "shaftwright next my-bow"
    for command in ("next", "card", "explain"):
        said = " ".join(good(command, "my-bow").split())
        assert "From my-bow: rig.yaml, stock.csv, notebook.yaml. stock.csv is the sample" in said


def test_serve_takes_a_folder_only(heron):
    for bow in (heron / "rig.yaml", heron / "nowhere"):
        result = run("serve", bow)
        assert result.exit_code == 2
        assert len(result.stderr.splitlines()) == 1


def test_a_folder_that_holds_bows_names_them():
    with pytest.raises(InputError) as caught:
        bow_files("examples")
    assert "name one that lies there: heron_marsh, long_fen, reed_lark" in str(caught.value)


def test_the_line_to_type_names_the_folder_that_was_named(heron, monkeypatch):
    monkeypatch.chdir(heron.parent)
    named = CliRunner().invoke(cli, ["next", heron.name]).stdout
    assert f"Note it:  shaftwright note {heron.name} bareshaft" in named
    monkeypatch.chdir(heron)
    assert "Note it:  shaftwright note bareshaft" in CliRunner().invoke(cli, ["next"]).stdout


def test_a_stock_as_new_wrote_it_is_called_the_sample(tmp_path):
    folder = tmp_path / "bow"
    assert CliRunner().invoke(cli, ["new", str(folder)]).exit_code == 0
    assert "is the sample still" in CliRunner().invoke(cli, ["next", str(folder)]).stdout
    with (folder / "stock.csv").open("a") as stock:
        stock.write("REED-500,shaft,carbon,500,,7.4,0.291,0.246,32,,9.00,1,0,,,,,,,\n")
    assert "is the sample still" not in CliRunner().invoke(cli, ["next", str(folder)]).stdout


def test_a_hand_not_known_is_asked_for_before_a_shot():
    said = good("next", LARK, "--set", "archer.hand=unknown").splitlines()[0]
    assert said == "Set the bow up and write it into rig.yaml: the hand that draws, right or left."


def test_all_that_is_bought_for_the_kit_is_in_the_line_to_type():
    now = json.loads(good("shop", LARK, "--json"))["next"]
    assert {"TERN-700", "N246"} < {one["item"] for one in now["buy"]}
    assert all(f" {one['item']} " in f"{now['note']} " for one in now["buy"])
