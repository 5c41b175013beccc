"""`compare` by arguments, exit code and output; its figures against SciPy."""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import numpy as np
import pytest
import yaml
from click.testing import CliRunner
from scipy import stats

from shaftwright.cli.main import cli

pytestmark = pytest.mark.slow

NOTEBOOK = "examples/heron_marsh/notebook.yaml"
RIG = "examples/heron_marsh/rig.yaml"


def run(*args):
    return CliRunner().invoke(cli, ["compare", *map(str, args)])


def document(*args):
    result = run(*args, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def chrono(path, groups, mass=435, field="string"):
    """A notebook of alternating blocks: group -> list of stringings, each a list of speeds."""
    lines = []
    for name, stringings in groups.items():
        for number, speeds in enumerate(stringings):
            lines += [
                f"- {{kind: chrono, speed: {v} fps, arrow_mass: {mass} gr, {field}: {json.dumps(name)}, "
                f"stringing: {number}}}\n"
                for v in speeds
            ]
    path.write_text("".join(lines))
    return path


@pytest.fixture
def far_apart(tmp_path):
    rng = np.random.default_rng(5)
    groups = {
        "A": [(180 + rng.normal(0, 1, 5)).round(1).tolist() for _ in range(6)],
        "B": [(170 + rng.normal(0, 1, 5)).round(1).tolist() for _ in range(6)],
    }
    return chrono(tmp_path / "n.yaml", groups)


def test_json_has_the_promised_keys():
    told = document(NOTEBOOK, "--by", "string")
    assert told["format"] == 2
    for key in (
        "groups",
        "difference_fps",
        "p_value",
        "p_anytime",
        "verdict",
        "shots_to_settle",
        "sound",
    ):
        assert told[key] is not None
    assert [g["name"] for g in told["groups"]] == ["A", "B"]
    assert {"name", "n", "mean_fps", "sd_fps"} <= set(told["groups"][0])
    assert set(told["difference_fps"]) == {"mid", "low", "high"}


def test_p_value_and_interval_are_welch_s_as_scipy_has_them():
    told = document(NOTEBOOK)
    speeds = {"A": [173.7, 173.0, 172.5, 172.7, 171.4, 172.9, 174.6, 171.5, 172.6, 174.1],
              "B": [168.5, 169.3, 170.2, 168.2, 169.8, 173.0, 171.8, 171.9, 169.6, 173.1]}  # fmt: skip
    test = stats.ttest_ind(speeds["A"], speeds["B"], equal_var=False)
    ends = test.confidence_interval()
    assert told["p_value"] == pytest.approx(test.pvalue, rel=1e-6)
    assert told["difference_fps"]["low"] == pytest.approx(ends.low, rel=1e-6)
    assert told["difference_fps"]["high"] == pytest.approx(ends.high, rel=1e-6)


def test_verdict_comes_first_then_use_then_the_order_to_shoot_in():
    lines = run(NOTEBOOK).output.splitlines()
    assert lines[0].startswith("Speed: not settled")
    text = " ".join(lines)
    assert (
        text.index("In use, if that is real: 2.4 fps") < text.index("Next:") < text.index("strung")
    )
    assert "A B B A" in text
    assert "no new arrows" in text
    assert max(map(len, lines)) <= 80


def test_a_plain_difference_is_called(far_apart):
    told = document(far_apart)
    assert told["settled"]
    assert told["verdict"].startswith("A is faster by")
    assert told["shots_to_settle"] == 0
    assert run(far_apart).output.startswith("Speed: A is faster by")


def test_strings_compared_bring_the_caution_on_low_stretch(far_apart):
    """Common practice, no source of numbers: the bow maker's word comes before a faster string."""
    caution = yaml.safe_load(Path("rules/cautions.yaml").read_text())["cautions"]
    text = next(c["text"] for c in caution if c["name"] == "low-stretch-string")
    assert document(far_apart)["cautions"] == [text]
    assert text in " ".join(run(far_apart).output.replace("\n", " ").split())


def test_no_string_compared_no_caution_on_strings(tmp_path):
    path = chrono(tmp_path / "n.yaml", {"none": [[171, 172, 170]], "fur": [[170, 171, 169]]},
                  field="silencers")  # fmt: skip
    assert document(path, "--by", "silencers")["cautions"] == []


def test_two_strings_that_do_not_differ_are_not_called_different(tmp_path):
    rng = np.random.default_rng(6)
    groups = {
        name: [
            (171 + rng.normal(0, 0.8) + rng.normal(0, 1.5, 6)).round(1).tolist() for _ in range(3)
        ]
        for name in "AB"
    }
    told = document(chrono(tmp_path / "n.yaml", groups))
    assert "faster" not in told["verdict"]


def test_by_takes_several_fields_and_the_archer_s_names(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text("".join(
        f"- {{kind: chrono, speed: {v} fps, string: {s}, brace: {b} in, stringing: 1}}\n"
        for s, b, v in [("A", 7, 170), ("A", 7, 171), ("B", 8, 165), ("B", 8, 166)]
    ))  # fmt: skip
    once = document(path, "--by", "string,brace")
    again = document(path, "--by", "string", "--by", "brace")
    assert [g["name"] for g in once["groups"]] == ["A / 7", "B / 8"]
    assert once == again
    assert document(path, "--by", "brace")["by"] == ["brace_in"]


@pytest.mark.parametrize(
    ("args", "code", "said"),
    [
        (("--by", "strings"), 2, "did you mean string?"),
        (("--by", "colour"), 2, "is not a setup field"),
        (("--by", "silencers"), 1, "no reading says silencers"),
        (("--by", "shaft"), 1, "a second shaft is needed"),
        (("--distance", "0 yd"), 2, "allowed: 1 to 100 yd"),
        (("--distance", "far"), 2, "--distance"),
        (("--plot", "c.gif"), 2, "must end in"),
        (("--column", "speed=V"), 2, "goes with a CSV file"),
    ],
)
def test_what_cannot_be_answered_is_said_in_a_line(args, code, said):
    result = run(NOTEBOOK, *args)
    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.output


def test_notebook_with_bad_entries_warns_a_line_each_and_goes_on(far_apart):
    with far_apart.open("a") as out:
        out.write("- {kind: chrono, speed: fast}\n- {kind: chrono, speed: 9999 fps, string: A}\n")
    result = run(far_apart)
    assert result.exit_code == 0
    faults = result.stderr.splitlines()
    assert len(faults) == 2
    assert all(f"{far_apart}:" in fault and "entry skipped" in fault for fault in faults)


@pytest.mark.parametrize("text", ["- {kind: chrono, speed: fast}\n", "- 7\n", "\x00\x01"])
def test_notebook_with_nothing_readable_is_bad_input(tmp_path, text):
    path = tmp_path / "n.yaml"
    path.write_text(text)
    result = run(path)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert len(result.stderr.splitlines()) == 1


def test_missing_and_empty_notebooks(tmp_path):
    assert run(tmp_path / "none.yaml").exit_code == 2
    empty = tmp_path / "empty.yaml"
    empty.write_text("")
    result = run(empty)
    assert result.exit_code == 1
    assert "no speeds and no levels" in result.stderr


def test_rig_s_virtual_mass_turns_speeds_to_one_mass_hickman_1947(tmp_path):
    # 400 gr at 68 % is a virtual mass of 188 gr; the arrows differ and nothing else
    k, energy = 400 * (1 / 0.68 - 1), 155**2 * 400 / 0.68
    rows = []
    for name, mass in (("A", 400), ("B", 500)):
        v = (energy / (mass + k)) ** 0.5
        rows += [
            f"- {{kind: chrono, speed: {v + d:.2f} fps, arrow_mass: {mass} gr, string: {name}, stringing: {s}}}\n"
            for s in range(3) for d in (-0.5, 0, 0.5)
        ]  # fmt: skip
    path, rig = tmp_path / "n.yaml", tmp_path / "rig.yaml"
    path.write_text("".join(rows))
    text = Path(RIG).read_text()
    rig.write_text(text + f"launch: {{virtual_mass: {k:.2f}}}\n")
    told = document(path, "--rig", rig)
    assert told["mass_correction"]["applied"]
    assert told["mass_correction"]["virtual_mass_gr"]["mid"] == pytest.approx(k, rel=1e-3)
    assert abs(told["difference_fps"]["mid"]) < 0.05
    told = " ".join(run(path, "--rig", rig).stdout.split())
    assert (
        f"Speeds are told at one arrow weight, 450 gr; others are brought to it as if {k:.0f} gr"
        in told
    )
    assert abs(document(path)["difference_fps"]["mid"]) > 0.3  # the typical one fits this bow less


def test_rig_s_drop_has_air_in_it():
    with_air = document(NOTEBOOK, "--rig", RIG, "--distance", "40 yd")["in_use"][
        "drop_difference_in"
    ]
    without = document(NOTEBOOK, "--distance", "40 yd")["in_use"]["drop_difference_in"]
    assert without < with_air < 1.2 * without


def test_csv_of_readings_is_compared_as_a_notebook_is(tmp_path):
    csv = tmp_path / "c.csv"
    csv.write_text("Velocity;string;stringing\n170.5;A;1\n171 fps;A;1\n52 m/s;B;1\n170;B;1\n;;\n")
    # the delimiter is a comma; a semicolon file is refused with its header told
    assert run(csv).exit_code == 2
    csv.write_text(csv.read_text().replace(";", ","))
    told = document(csv, "--column", "speed=Velocity")
    assert [g["n"] for g in told["groups"]] == [2, 2]
    assert told["groups"][1]["mean_fps"] == pytest.approx((52 / 0.3048 + 170) / 2)


def test_csv_with_bad_rows_warns_by_line(tmp_path):
    csv = tmp_path / "c.csv"
    csv.write_text("speed,string\n170,A\nfast,A\n171,A\n172,B\n1e9,B\n171,B\n")
    result = run(csv)
    assert result.exit_code == 0
    assert [line.split(" ")[0] for line in result.stderr.splitlines()] == [f"{csv}:3:", f"{csv}:6:"]


@pytest.mark.parametrize(
    ("text", "args", "said"),
    [
        ("a,b\n1,2\n", (), "has no speed and no level"),
        ("", (), "has no speed and no level"),
        ("speed\nfast\n", (), "fast"),
        ("speed\n", (), "has no readings"),
        ("speed\n170\n", ("--column", "speed=V"), "has no such column"),
        ("speed\n170\n", ("--column", "sped=speed"), "did you mean speed"),
        ("speed\n170\n", ("--column", "speed"), "needs FIELD=COLUMN"),
    ],
)
def test_csv_that_cannot_be_used(tmp_path, text, args, said):
    csv = tmp_path / "c.csv"
    csv.write_text(text)
    result = run(csv, *args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert result.stdout == ""


def test_hostile_names_stay_text_and_lines_stay_short(tmp_path):
    name = "<script>alert(1)</script>" + "x" * 50
    groups = {name: [[170, 171, 172]], "$x_1$ \x1b[31m_": [[171, 172, 170]]}
    path = tmp_path / "n.yaml"
    chrono(path, groups)
    result = run(path, "--plot", tmp_path / "c.svg")
    assert result.exit_code == 0, result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "\x1b" not in result.stdout
    root = ET.fromstring((tmp_path / "c.svg").read_text())
    assert not [e for e in root.iter() if "script" in e.tag]


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
@pytest.mark.slow
def test_plot_is_written(tmp_path, suffix):
    picture = tmp_path / f"c.{suffix}"
    result = run(NOTEBOOK, "--plot", picture, "--json")
    assert result.exit_code == 0
    assert picture.stat().st_size > 5000
    json.loads(result.stdout)


@pytest.mark.slow
def test_plot_names_units_and_tells_stringings_apart_without_colour(tmp_path):
    run(NOTEBOOK, "--plot", tmp_path / "c.svg")
    text = (tmp_path / "c.svg").read_text()
    for words in ("speed (fps)", "sound (dB)", "A less B (fps)", "restringing", "at every look"):
        assert words in text


@pytest.mark.slow
def test_plot_carries_the_verdict_of_the_command(tmp_path):
    picture = tmp_path / "c.svg"
    printed = " ".join(run(NOTEBOOK, "--plot", picture).output.split())
    shown = " ".join(re.findall(r">([^<]*)</text>", picture.read_text()))
    for heading in ("Speed", "Sound"):
        verdict = re.search(rf"{heading}[^:]*: ([^.]*\.)", printed)[1]
        assert f"{heading}: {verdict}" in shown


def test_levels_alone_are_compared(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text("".join(
        f"- {{kind: sound, level: {v} dB, weighting: A, response: max, string: {s}, stringing: 1}}\n"
        for s, v in [("A", 80), ("A", 81), ("A", 82), ("B", 90), ("B", 91), ("B", 92)]
    ))  # fmt: skip
    told = document(path)
    assert told["groups"] == []
    # 10 lg of a mean of powers, IEC 61672-1
    expected = 10 * np.log10(np.mean(10 ** (np.array([80, 81, 82]) / 10)))
    assert told["sound"]["groups"][0]["mean_db"] == pytest.approx(expected)
    assert run(path, "--plot", tmp_path / "c.png").output.startswith("Sound (A weighting, max)")


def test_levels_are_compared_where_only_they_say_the_field(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(
        "- {kind: chrono, speed: 170 fps, string: A}\n"
        + "".join(
            f"- {{kind: sound, level: {v} dB, silencers: {s}, stringing: 1}}\n"
            for s, v in [("puffs", 80), ("puffs", 81), ("none", 88), ("none", 89)]
        )
    )
    told = document(path, "--by", "silencers")
    assert told["sound"]["difference_of"] == ["none", "puffs"]
    assert told["warnings"][0].startswith("speeds do not say silencers")


def test_a_picture_shows_the_levels_that_were_compared_and_no_others(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text("".join(
        f"- {{kind: sound, level: {80 + i} dB, weighting: {w}, response: max, string: {s}, stringing: 1}}\n"
        for s, w in (("first", "A"), ("second", "A"), ("third", "C")) for i in range(3)
    ))  # fmt: skip
    result = run(path, "--plot", tmp_path / "c.svg")
    assert result.exit_code == 0, result.output
    text = (tmp_path / "c.svg").read_text()
    assert "second" in text
    assert "third" not in text


@pytest.mark.slow
def test_many_groups_are_drawn_and_told_in_80_columns(tmp_path):
    groups = {f"string number {i} of many": [[170 + i % 3, 171, 172 + i % 2]] for i in range(20)}
    result = run(chrono(tmp_path / "n.yaml", groups), "--plot", tmp_path / "c.png")
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 80


def test_a_bow_opens_with_its_one_next_thing():
    result = run("examples/heron_marsh")
    found = json.loads(run("examples/heron_marsh", "--json").output)
    assert result.output.split("\n\n")[0].split() == found["next"]["do"].split()
    assert result.output.split("\n\n")[1].startswith("Speed: ")


def test_a_metric_rig_is_told_what_a_difference_is_worth_in_centimetres(tmp_path):
    rig = tmp_path / "rig.yaml"
    rig.write_text(Path(RIG).read_text() + "\nunits: metric\n")
    drop = document(NOTEBOOK, "--rig", rig)["in_use"]["drop_difference_in"]
    told = run(NOTEBOOK, "--rig", rig).stdout
    assert f"{2.54 * drop:.1f} cm at 18 m" in " ".join(told.split())
    assert " in at 20 yd" not in told
