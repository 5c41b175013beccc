"""The command line by (arguments, exit code, output)."""

import json
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from core_rigs import changed

from shaftwright.cli.main import COMMANDS, cli
from shaftwright.files.rig import dump_rig
from shaftwright.records.stock import COLUMNS

pytestmark = pytest.mark.slow

EXAMPLES = Path(__file__).parents[2] / "examples"
HERON, STOCK = str(EXAMPLES / "heron_marsh/rig.yaml"), str(EXAMPLES / "heron_marsh/stock.csv")
FEN, LARK = str(EXAMPLES / "long_fen/rig.yaml"), str(EXAMPLES / "reed_lark/rig.yaml")
NUMBERS = [
    "--spine",
    "500",
    "--gr-per-in",
    "8",
    "--diameter",
    "0.300 in",
    "--length",
    "29 1/2 in",
    "--front",
    "200 gr",
    "--tail",
    "20 gr",
]
NAMED = [
    "--stock",
    STOCK,
    "--shaft",
    "MARSH-400",
    "--length",
    "30 in",
    "--point",
    "P175",
    "--insert",
    "I25",
]


def run(*args):
    result = CliRunner().invoke(cli, [str(a) for a in args], catch_exceptions=True)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert "Traceback" not in result.output
    return result


def good(*args):
    result = run(*args)
    assert result.exit_code == 0, result.output
    return result.stdout


#: a screen of the examples, which no test changes, printed once for all that is said of it
screen = cache(good)


@pytest.fixture
def bad_files(tmp_path):
    (tmp_path / "bomb.yaml").write_text("a: &a [x]\nb: &b [*a, *a]\n")
    (tmp_path / "binary.yaml").write_bytes(b"\x89PNG\r\n\xff\0")
    (tmp_path / "short.csv").write_text(",".join(c for c in COLUMNS if c != "kind") + "\n")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "none.csv").write_text(",".join(COLUMNS) + "\n")
    return tmp_path


# ---- help


def every_command():
    import importlib

    import click

    for name in COMMANDS:
        command = importlib.import_module(f"shaftwright.cli.{name}").command
        yield [name]
        if isinstance(command, click.Group):
            for sub in command.commands:
                yield [name, sub]


@pytest.mark.parametrize("command", [[], *every_command()], ids=" ".join)
def test_help_of_every_command(command):
    text = good(*command, "--help")
    assert text.startswith("Usage: ")
    prose, _, examples = text.partition("Example")
    assert all(len(line) <= 80 for line in prose.splitlines())
    assert all(
        len(line) <= 100 for line in examples.splitlines()
    )  # a command is not broken anywhere
    if command and command not in (["rules"], ["note"]):
        assert "Example" in text or "Commands:" in text, "no example in the help"


def test_every_command_is_listed_with_what_it_does():
    text = good("--help")
    for name, line in COMMANDS.items():
        assert re.search(rf"^  {name}\s", text, re.M)
        assert len(line) < 100


@pytest.mark.parametrize(
    "args",
    [["--help"], ["choose", "--help"], ["rules", "--help"], ["--version"], ["new", "--help"]],
)
def test_help_imports_neither_numpy_nor_pandas_nor_pydantic(args):
    code = (
        "import sys\nfrom shaftwright.cli.main import cli\n"
        f"try:\n    cli({args!r}, prog_name='shaftwright')\nexcept SystemExit:\n    pass\n"
        "print(sorted({'numpy', 'pandas', 'scipy', 'pydantic', 'matplotlib', 'yaml'} & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


@pytest.mark.slow
def test_choose_imports_nothing_that_it_does_not_use():
    code = (
        "import sys\nfrom shaftwright.cli.main import cli\n"
        f"try:\n    cli(['choose', {HERON!r}, '--stock', {STOCK!r}], prog_name='shaftwright')\nexcept SystemExit:\n    pass\n"
        "unwanted = {'pandas', 'scipy', 'matplotlib', 'tabulate', 'statistics', 'shaftwright.files.notebook',\n"
        "            'shaftwright.physics.bow_fit', 'shaftwright.physics.launch.launch', 'numpy.ma', 'numpy.polynomial'}\n"
        "print(sorted(unwanted & set(sys.modules)), file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_module_and_entry_point_run():
    done = subprocess.run(
        [sys.executable, "-m", "shaftwright", "rules", "check"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "fire and stay silent" in done.stdout


# ---- text


TEXTS = [
    ["choose", HERON], ["choose", HERON, "--stock", STOCK], ["choose", FEN, "--stock", STOCK], ["choose", LARK, "--stock", STOCK],
    ["choose", FEN], ["choose", LARK, "--stock", STOCK, "--all-builds", "--top", "12"],
    ["choose", HERON, "--stock", STOCK, "--material", "wood"], ["choose", HERON, "--stock", STOCK, "--material", "aluminium"],
    ["choose", HERON, "--stock", STOCK, "--purpose", "three_d", "--chance", "0.9"], ["explain", HERON], ["explain", HERON, *NUMBERS],
    ["explain", "--rule", "shaft-length"], ["explain", "--rule", "L01"], ["explain", "--rule", "front-mass"],
    ["build", HERON, *NAMED], ["build", HERON, *NUMBERS], ["rules", "list"], ["rules", "check"],
]  # fmt: skip


def short(args):
    return " ".join(Path(a).name if "/" in a else a for a in args)[:70]


@pytest.mark.parametrize("args", TEXTS, ids=short)
@pytest.mark.slow
def test_text_is_80_columns_of_printable_characters(args):
    text = screen(*args)
    for line in text.splitlines():
        assert len(line) <= 80, line
        assert line.isprintable(), line
        assert line == line.rstrip()


@pytest.mark.parametrize("rig", [HERON, FEN, LARK])
@pytest.mark.parametrize("stock", [[], ["--stock", STOCK]])
@pytest.mark.slow
def test_first_line_is_the_one_next_thing_and_the_spines_follow(rig, stock):
    text = screen("choose", rig, *stock)
    answer = document("choose", rig, *stock)
    assert text.split("\n\n")[0].split() == answer["next"]["do"].split()
    row = re.search(r"cut to .* up front +(\d+) +(\d+) +(\d+)\n", text)
    band = answer["spine_band_mils"]
    shown = [float(size) for size in row.groups()]
    assert shown == pytest.approx([band["mid"], band["low"], band["high"]], abs=2.5)
    assert "All cautions: shaftwright explain --cautions" in text.splitlines()[-1]


@pytest.mark.parametrize("args", [a for a in TEXTS if a[0] in ("choose", "build")], ids=short)
@pytest.mark.slow
def test_no_pound_figure_of_a_builds_stiffness_on_screen(args):
    text = screen(*args)
    allowed = r"wood|draw|gr/lb|ft-lb|slug"
    if (
        "wood" in args
    ):  # wood is sold by pounds: there the spines that suit are figures of their own
        text = text.partition("Spine that suits")[2].partition("  arrow ")[2]
    for match in re.finditer(r"\d+(?:\.\d+)? lb\b", re.sub(r"\s+", " ", text)):
        around = re.sub(r"\s+", " ", text)[max(0, match.start() - 60) : match.end() + 40]
        assert re.search(allowed, around), around


def test_choose_without_a_stock_names_usual_sizes_and_what_small_changes_do():
    text = good("choose", HERON)
    assert "Usual sizes among them" in text
    nudged = re.search(
        r"Half an inch longer asks for (\d+) less; 25 gr more up front for (\d+) less", text
    )
    answer = document("choose", HERON)
    moved = {
        n["change"]: n["mid_mils"] - answer["spine_band_mils"]["mid"] for n in answer["nudges"]
    }
    by = [-moved["0.5 in longer"], -moved["25 gr more up front"]]
    assert [float(size) for size in nudged.groups()] == pytest.approx(by, abs=2.5)


def test_rule_names_not_codes_on_screens():
    codes = re.compile(r"\b[A-Z]\d{2}\b")
    text = good("choose", HERON)
    assert not codes.search(text)
    assert not codes.search(good("explain", HERON))


# ---- JSON


def document(*args):
    text = good(*args, "--json")
    return json.loads(text, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))


def assert_numbers(mapping, *keys):
    for key in keys:
        assert isinstance(mapping[key], int | float), key
        assert not isinstance(mapping[key], bool)


BUILD_NUMBERS = (
    "spine_mils",
    "length_in",
    "point_gr",
    "insert_gr",
    "front_gr",
    "total_gr",
    "gr_per_lb",
    "foc_pct",
    "chance_match",
)


def test_choose_json_keys_and_types():
    answer = document("choose", HERON, "--stock", STOCK)
    assert answer["format"] == 2
    assert (answer["rig"], answer["purpose"]) == ("heron-marsh", "hunting")
    assert_numbers(answer["effective_bow_weight_lb"], "mid", "low", "high")
    assert_numbers(answer["spine_band_mils"], "low", "mid", "high", "chance")
    assert_numbers(answer["band_at"], "length_in", "front_gr")
    assert_numbers(answer["band_uncut"], "low", "mid", "high", "chance", "length_in", "front_gr")
    for rank, one in enumerate(answer["builds"], 1):
        assert one["rank"] == rank
        assert_numbers(one, *BUILD_NUMBERS)
        assert_numbers(one["speed_fps"], "mid", "low", "high")
        assert_numbers(one["mismatch_lb"], "mid", "sd")
        assert 0 <= one["chance_match"] <= 1
        assert 0 <= one["chance_tunable"] <= 1
        assert all(isinstance(one[k], str) for k in ("shaft", "point"))
        assert one["insert"] is None or isinstance(one["insert"], str)
        assert one["price"] is None or one["price"] >= 0
        assert all(isinstance(line, str) for line in [*one["reasons"], *one["cautions"]])
        assert one["speed_fps"]["low"] < one["speed_fps"]["mid"] < one["speed_fps"]["high"]
    for reject in answer["rejected"]:
        assert {"count", "rule", "found", "at_least"} <= set(reject)
        assert isinstance(reject["count"], int)
    assert answer["runner_up"]["shaft"] in {b["shaft"] for b in answer["builds"]}
    assert_numbers(answer["runner_up"], "margin")
    assert answer["trace"]["trace_format"] == 1
    assert answer["cautions"]
    band = answer["spine_band_mils"]
    assert band["low"] < band["mid"] < band["high"]


def test_build_json_keys_and_figures_by_hand():
    answer = document("build", HERON, *NUMBERS)
    assert_numbers(answer, *BUILD_NUMBERS, "momentum_slug_fps", "energy_ftlb")
    mechanics = answer["mechanics"]
    assert_numbers(
        mechanics,
        "balance_in",
        "foc_pct",
        "critical_thrust_n",
        "moment_of_inertia_kg_m2",
        "bending_stiffness_n_m2",
    )
    assert len(mechanics["frequencies_hz"]) == 3
    assert answer["total_gr"] == pytest.approx(8 * 29.5 + 200 + 20)
    balance = (8 * 29.5 * 29.5 / 2 + 200 * 29.5) / answer["total_gr"]
    assert mechanics["balance_in"] == pytest.approx(balance, abs=1e-6)
    # AMO formula: 100 (B - L/2) / L
    assert mechanics["foc_pct"] == pytest.approx(100 * (balance - 29.5 / 2) / 29.5, abs=1e-6)
    assert mechanics["bending_stiffness_n_m2"] == pytest.approx(5.0924, abs=1e-4)
    speed = answer["speed_fps"]["mid"]
    assert answer["energy_ftlb"] == pytest.approx(
        answer["total_gr"] * speed**2 / 450_436.7, rel=1e-6
    )
    assert answer["momentum_slug_fps"] == pytest.approx(
        answer["total_gr"] * speed / 225_218, rel=1e-5
    )


def test_build_by_numbers_beam_of_the_check_list_exact():
    # 0.500 spine, 28 in, 8 gr/in, 112 gr front, 10 gr rear: 78.878, 240.806, 497.174 Hz; FOC 14.74 % (exact)
    answer = document(
        "build",
        HERON,
        "--spine",
        500,
        "--gr-per-in",
        8,
        "--length",
        "28 in",
        "--front",
        "112 gr",
        "--tail",
        "10 gr",
    )
    assert answer["mechanics"]["frequencies_hz"] == pytest.approx(
        [78.878, 240.806, 497.174], abs=6e-4
    )
    assert answer["mechanics"]["foc_pct"] == pytest.approx(14.74, abs=5e-3)


def test_rules_and_explain_json():
    rules = document("rules", "list")["rules"]
    assert {"code", "name", "shift", "form", "basis", "source", "saw", "why", "do"} <= set(rules[0])
    one = document("explain", "--rule", "A03")
    assert one["name"] == "shaft-length"
    explained = document("explain", HERON)
    assert explained["trace"]["root"]["unit"] == "mils"
    assert document("rules", "check")["faults"] == []


def test_json_is_one_document_and_nothing_else():
    for args in (
        ["choose", HERON],
        ["build", HERON, *NUMBERS],
        ["explain", HERON],
        ["rules", "list"],
    ):
        result = run(*args, "--json")
        json.loads(result.stdout)
        assert result.stderr == ""


@pytest.mark.slow
def test_the_same_answer_every_time_and_for_either_hand():
    args = ["choose", HERON, "--stock", STOCK]
    assert good(*args, "--json") == good(*args, "--json")
    right, left = document(*args), document(*args, "--set", "archer.hand=left")
    side = right.pop("next"), left.pop("next")  # where the shots should lie is mirrored
    assert right == left
    assert side[0]["do"] == side[1]["do"]


# ---- options


def test_set_answers_what_if():
    as_is = document("choose", HERON)["spine_band_mils"]["mid"]
    heavier = document("choose", HERON, "--set", "bow.draw_weight.lb=55")["spine_band_mils"]["mid"]
    assert heavier < as_is
    assert (
        document("choose", HERON, "--set", "string.material=polyester")["spine_band_mils"]["mid"]
        > as_is
    )
    both = document(
        "choose", HERON, "--set", "bow.draw_weight.lb=55", "--set", "archer.draw_length=74 cm"
    )
    assert both["band_at"]["length_in"] == pytest.approx(30.25)


def test_purpose_and_chance_and_material_and_top():
    answer = document(
        "choose",
        HERON,
        "--stock",
        STOCK,
        "--purpose",
        "three_d",
        "--chance",
        "0.95",
        "--material",
        "carbon",
        "--top",
        "3",
    )
    assert answer["purpose"] == "three_d"
    assert answer["spine_band_mils"]["chance"] == 0.95
    assert len(answer["builds"]) == 3
    wide, usual = (
        answer["spine_band_mils"],
        document("choose", HERON, "--purpose", "three_d")["spine_band_mils"],
    )
    assert wide["low"] < usual["low"] < usual["high"] < wide["high"]


def test_all_builds_lists_several_of_one_shaft():
    shafts = [
        b["shaft"]
        for b in document("choose", HERON, "--stock", STOCK, "--all-builds", "--top", "10")[
            "builds"
        ]
    ]
    assert len(shafts) == 10
    assert len(set(shafts)) < 10
    once = document("choose", HERON, "--stock", STOCK, "--top", "10")["builds"]
    assert len(once) == 10
    ranked = [
        b["shaft"] for b in once if not b["marked"]
    ]  # the arrow to shoot now stands beside them
    assert len(set(ranked)) == len(ranked) >= 9


# ---- exit codes


@pytest.mark.parametrize(
    ("args", "words"),
    [
        ([], "Usage"), (["chose", HERON], "Did you mean choose?"), (["choose"], "is not a bow: it has no rig.yaml"), (["choose", HERON, "--no-such"], "No such option"),
        (["choose", HERON, "--purpose", "fishing"], "is not one of"), (["choose", HERON, "--chance", "2"], "2.0 is not in the range"),
        (["choose", HERON, "--top", "0"], "not in the range"), (["choose", HERON, "--material", "steel"], "is not one of"),
        (["choose", "none.yaml"], "none.yaml: cannot be read: no such file"), (["choose", str(EXAMPLES)], "is not a bow: it has no rig.yaml"),
        (["choose", HERON, "--stock", "none.csv"], "no such file"), (["choose", HERON, "--stock", HERON], "column is missing|is not CSV|is not a known column"),
        (["choose", STOCK], "is not YAML here|is not a rig|longer than 4000"), (["choose", HERON, "--set", "bow"], "field=value"),
        (["choose", HERON, "--set", "archer.draw_length=280 in"], "'280 in' is out of range; allowed: 18 to 36 in"),
        (["choose", HERON, "--set", "archer.draw_length=28 furlong"], "'furlong' is not known"),
        (["build", HERON], "name one (shaft)"), (["build", HERON, "--spine", "500"], "needs spine, length and front"),
        (["build", HERON, "--shaft", "MARSH-400"], "--stock"), (["build", HERON, "--stock", STOCK, "--shaft", "MARSH-40"], "did you mean MARSH-400?"),
        (["build", HERON, "--stock", STOCK, "--shaft", "P175"], "is a point in the stock, not a shaft"),
        (["build", HERON, "--spine", "500", "--length", "28 in", "--front", "-5 gr"], "--front"),
        (["build", HERON, "--spine", "500", "--length", "28 lb", "--front", "100"], "lb measures force"),
        (["explain"], "is not a bow: it has no rig.yaml"), (["explain", "--rule", "shaft-lenght"], "did you mean shaft-length?"),
        (["rules", "check", "--rules", "nowhere"], "nowhere|no rule"),
    ],
    ids=lambda a: short(a) if isinstance(a, list) else None,
)  # fmt: skip
def test_bad_usage_and_bad_input_is_exit_code_2(args, words):
    result = run(*args)
    assert result.exit_code == 2, result.output
    assert any(w in result.output for w in words.split("|")), result.output
    if args:
        assert result.stdout == ""


@pytest.mark.parametrize(
    ("name", "words"),
    [("bomb.yaml", "anchors"), ("binary.yaml", "UTF-8"), ("short.csv", "kind: column is missing"), ("empty.csv", "is empty"),
     ("none.csv", "the stock is empty")],
)  # fmt: skip
def test_hostile_files_are_one_line_and_exit_code_2(bad_files, name, words):
    path = bad_files / name
    result = run("choose", path) if name.endswith("yaml") else run("choose", HERON, "--stock", path)
    assert result.exit_code == 2
    assert words in result.stderr
    assert len(result.stderr.splitlines()) == 1


def test_a_stock_that_is_of_no_use_says_why_and_no_answer_is_exit_code_1(tmp_path):
    head = ",".join(COLUMNS)
    (tmp_path / "weak.csv").write_text(f"{head}\nW,shaft,carbon,2000,,8,,,32,,,,,,,,\n")
    (tmp_path / "short.csv").write_text(f"{head}\nS,shaft,carbon,500,,8,,,25,,,,,,,,\n")
    (tmp_path / "points.csv").write_text(f"{head}\nP,point,,,,,,,,125,,,,,,,\n")
    for name, words in [
        ("weak", "far too weak to be shot"),
        ("short", "1 shaft too short for your draw: longest 25 in; at least 28 3/4 in"),
    ]:
        text = good("choose", HERON, "--stock", tmp_path / f"{name}.csv")
        assert "Nothing in this stock can be made up" in text
        assert words in " ".join(text.split())
        assert document("choose", HERON, "--stock", tmp_path / f"{name}.csv")["builds"] == []
    text = good("choose", HERON, "--stock", tmp_path / "points.csv")
    assert "The stock has no shafts: add some of the spines that suit." in text
    assert "no shafts of fibreglass" in good(
        "choose", HERON, "--stock", STOCK, "--material", "fibreglass"
    )
    result = run("choose", HERON, "--set", "archer.draw_length=18 in", "--set", "bow.draw_weight.lb=10", "--set", "bow.kind=selfbow",
                 "--set", "archer.release=mechanical", "--set", "purpose=target", "--set", "bow.plate.thickness=1/4 in")  # fmt: skip
    assert result.exit_code == 1
    assert "made for draws near 28 in" in result.stderr


def test_every_fault_on_its_own_line(tmp_path):
    rig = tmp_path / "rig.yaml"
    rig.write_text(
        Path(HERON)
        .read_text()
        .replace("27 3/4 in", "280 in")
        .replace("kind: recurve", "kind: crossbow")
    )
    result = run("choose", rig)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 2


# ---- hostile names


def test_hostile_names_do_not_reach_the_terminal(tmp_path):
    evil = "fen\x1b[31m\x9bevil\u202e"
    rig, stock = tmp_path / "rig.yaml", tmp_path / "stock.csv"
    rig.write_text(dump_rig(changed(rig=evil, bow__limbs_id=evil)))
    head = ",".join(COLUMNS)
    stock.write_text(
        f"{head}\n{evil},shaft,carbon,500,,8,,,32,,9,,,,,,\n{evil}p,point,,,,,,,,125,,,,,,,\n{evil}i,insert,,,,,,,,20,1,,,,,,\n"
    )
    for args in (["choose", rig], ["choose", rig, "--stock", stock], ["explain", rig], ["build", rig, *NUMBERS],
                 ["build", rig, "--stock", stock, "--shaft", evil], ["build", rig, "--stock", stock, "--shaft", evil + "x"],
                 ["choose", rig, "--set", f"{evil}=1"], ["choose", tmp_path / evil], ["explain", "--rule", evil],
                 ["choose", rig, "--stock", stock, "--json"], ["new", rig / evil]):  # fmt: skip
        result = run(*args)
        for line in (result.stdout + result.stderr).splitlines():
            assert line.isprintable(), (args[0], line)
    again = json.loads(run("choose", rig, "--json").stdout)
    assert again["rig"] == evil


# ---- new


def test_new_writes_a_starter_that_runs_and_never_overwrites(tmp_path):
    folder = tmp_path / "deep" / "my-bow"
    text = good("new", folder)
    assert "rig.yaml" in text
    assert {p.name for p in folder.iterdir()} >= {"rig.yaml", "stock.csv", "notebook.yaml"}
    assert text.splitlines()[-1] == f"  shaftwright next {folder}"
    good("next", folder)
    good("choose", folder / "rig.yaml", "--stock", folder / "stock.csv")
    (folder / "rig.yaml").write_text("mine")
    (folder / "stock.csv").unlink()
    result = run("new", folder)
    assert result.exit_code == 2
    assert "not overwritten" in result.stderr
    assert (folder / "rig.yaml").read_text() == "mine"
    assert not (folder / "stock.csv").exists()


def test_new_where_a_file_stands_is_one_line(tmp_path):
    (tmp_path / "there").write_text("x")
    result = run("new", tmp_path / "there")
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert (tmp_path / "there").read_text() == "x"


@pytest.mark.slow
def test_a_closed_pipe_is_no_traceback():
    done = subprocess.run(
        f"{sys.executable} -m shaftwright rules list | head -1",
        shell=True,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "Traceback" not in done.stderr
    assert done.stdout


@pytest.mark.parametrize(
    "typed",
    [["choose", "--top", "3", "--top", "4"], ["note", "chrono", "--speed", "160", "--speed", "161"],
     ["rules", "list", "--rules", "a", "--rules", "b"]],
)  # fmt: skip
def test_an_option_given_twice_is_refused_for_one_value_would_be_lost(tmp_path, typed):
    run = CliRunner().invoke(cli, typed)
    assert run.exit_code == 2
    assert "is given 2 times; it takes one value" in run.stderr
    # several of one that takes several are fine
    assert "times" not in CliRunner().invoke(cli, ["choose", "--set", "a=1", "--set", "b=2"]).stderr
