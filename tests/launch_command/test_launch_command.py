"""`shaftwright launch`: by arguments, exit code and output; the chain from rig to offset."""

import json
import re
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.answers.launch.seen import agreement
from shaftwright.answers.scenario import scenario
from shaftwright.cli.main import cli
from shaftwright.physics.bow import arrow_speed
from shaftwright.units import FPS_M_S

RIG = "examples/heron_marsh/rig.yaml"
NUMBERS = ["--spine", "500", "--gr-per-in", "8", "--length", "29 1/2 in", "--front", "200 gr"]
ARROW = {"spine": 500, "gr_per_in": 8, "length": 29.5, "front": 200}
FEW = ["--draws", "6"]


def run(*args, build=NUMBERS, rig=RIG):
    return CliRunner().invoke(cli, ["launch", rig, *build, *FEW, *args])


@cache
def launched(spine=500, *changes):
    """As the command has it (tests/interface); each arrow is launched once for all that is asked of it."""
    return shaftwright.open(RIG).what_if(*changes).launch(ARROW | {"spine": spine}, draws=6)


def document(*args):
    return json.loads(json.dumps(launched(*args).to_dict()))


@pytest.fixture(scope="module")
def right():
    return document()


@pytest.fixture(scope="module")
def left():
    return document(500, "archer.hand=left")


@pytest.mark.slow
def test_json_has_the_keys_of_the_contract(right):
    assert right["format"] == 2
    assert set(right["exit"]) == {
        "turn_rate_rad_s", "attack_deg", "direction_deg", "speed_fps", "time_ms", "plate_left_ms"
    }  # fmt: skip
    assert set(right["exit_range"]) == set(right["exit"])
    matched = right["matched_spine_mils"]
    assert matched["low"] <= matched["mid"] <= matched["high"]
    kinds = [s["kind"] for s in right["sensitivities"]]
    assert sorted(kinds) == [
        "brace_height", "draw_weight", "front_mass", "plate_offset", "shaft_length"
    ]  # fmt: skip
    for one in right["sensitivities"]:
        assert {"change", "stiffness_pct", "offset_in_at_20yd"} <= set(one)
        assert set(one["stiffness_pct"]) == {"low", "mid", "high"}
    assert [o["distance_yd"] for o in right["offsets"]] == [10, 15, 20, 25, 30]
    frame = right["frames"][0]
    assert len(frame["station_in"]) == len(frame["sideways_in"])
    assert frame["station_in"][-1] == pytest.approx(29.5)
    assert isinstance(right["warnings"], list)


@pytest.mark.slow
def test_every_middle_lies_in_its_range(right):
    for key, span in right["exit_range"].items():
        assert span["low"] <= right["exit"][key] <= span["high"]
    for offset in right["offsets"]:
        for key in ("offset_in", "nock_deg"):
            assert offset[key]["low"] <= offset[key]["mid"] <= offset[key]["high"]


@pytest.mark.slow
def test_left_handed_is_the_exact_mirror(right, left):
    for key, value in right["exit"].items():
        sided = key in ("turn_rate_rad_s", "attack_deg", "direction_deg")
        assert left["exit"][key] == (-value if sided else value)
        span, other = right["exit_range"][key], left["exit_range"][key]
        wanted = (-span["high"], -span["low"]) if sided else (span["low"], span["high"])
        assert (other["low"], other["high"]) == wanted
    assert left["matched_spine_mils"] == right["matched_spine_mils"]
    assert left["contacts"] == right["contacts"]
    assert left["stiff_share"] == right["stiff_share"]
    for one, other in zip(right["sensitivities"], left["sensitivities"], strict=True):
        assert other["stiffness_pct"] == one["stiffness_pct"]
        assert other["offset_in_at_20yd"] == -one["offset_in_at_20yd"]
    for one, other in zip(right["offsets"], left["offsets"], strict=True):
        for key in ("offset_in", "nock_deg"):
            assert other[key]["mid"] == -one[key]["mid"]
            assert other[key]["low"] == -one[key]["high"]
    for one, other in zip(right["frames"], left["frames"], strict=True):
        assert other["sideways_in"] == [-v for v in one["sideways_in"]]


@pytest.mark.slow
def test_speed_is_that_of_the_energy_balance(right):
    """v = sqrt(2 E / (m + K)): the definition of virtual mass, Klopsteg 1943."""
    from shaftwright.files.rig import load_rig
    from shaftwright.units import GRAIN_KG

    model = scenario(load_rig(RIG, ())).speeds()
    mass = (29.5 * 8 + 200 + 25) * GRAIN_KG
    wanted = float(arrow_speed(model.energy_j, mass, model.virtual_kg)) / FPS_M_S
    assert right["exit"]["speed_fps"] == pytest.approx(wanted, rel=2e-3)


@pytest.mark.slow
def test_the_arrow_leaves_the_plate_before_the_string_kooi_1998(right):
    """Kooi, J. Sports Sci. 16 (1998) 721: a clean launch clears the plate first."""
    assert right["exit"]["plate_left_ms"] < right["exit"]["time_ms"]


@pytest.mark.slow
def test_stiff_and_weak_builds_go_the_trades_ways():
    """A stiff shaft of a right-handed archer leaves nock right and lands left (common practice)."""
    stiff, weak = document(300), document(700)
    assert stiff["exit"]["turn_rate_rad_s"] > 0 > weak["exit"]["turn_rate_rad_s"]
    at_20 = [d["offsets"][2]["offset_in"]["mid"] for d in (stiff, weak)]
    assert at_20[0] < 0 < at_20[1]
    assert "leaves nock right, nose left, the stiff side" in str(launched(300))


@pytest.mark.slow
def test_the_rigs_launch_block_is_used(tmp_path):
    text = Path(RIG).read_text(encoding="utf-8")
    file = tmp_path / "rig.yaml"
    file.write_text(
        text + "launch: {virtual_mass: 200, string_stiffness_brace_n_m: 1200}\n",
        encoding="utf-8",
    )
    one, other = (
        shaftwright.open(rig).explain(ARROW).to_dict()["launch"]["exit"] for rig in (RIG, file)
    )
    assert other["turn_rate_rad_s"] != one["turn_rate_rad_s"]
    assert other["speed_fps"] != one["speed_fps"]


@pytest.mark.parametrize(
    ("share", "told"),
    [
        (0.999, "Over 99 in 100 guesses"),
        (0.001, "Under 1 in 100 guesses"),
        (0.8, "80 in 100 guesses"),
    ],
)
def test_how_far_guesses_agree_begins_a_sentence(share, told):
    assert agreement(SimpleNamespace(stiff=1.0), share).startswith(told)


@pytest.mark.slow
def test_text_fits_80_columns_and_says_its_doubt():
    said = launched().full()
    assert max(map(len, [*said.splitlines(), *str(launched()).splitlines()])) <= 80
    assert "guesses at what nobody" in said
    assert "Computed, not shot" in said
    for line in said.splitlines():
        if line.startswith(("turn rate", "shaft against", "path against", "speed", "release")):
            assert " to " in line, line


@pytest.mark.slow
def test_pictures_are_whole_and_hold_no_script(tmp_path):
    plot, moving = tmp_path / "f.svg", tmp_path / "m.svg"
    result = run("--plot", str(plot), "--animate", str(moving))
    assert result.exit_code == 0, result.stderr
    assert ET.parse(plot).getroot().attrib["id"] == "launch"
    text = moving.read_text(encoding="utf-8")
    root = ET.fromstring(text)
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert "script" not in names
    assert "animate" in names
    assert "prefers-reduced-motion" in text
    assert not re.search(r"href|url\(|@import", text)
    assert "times exaggerated" in text
    assert "string" in text
    assert "plate" in text
    shaft = next(e for e in root.iter() if e.tag.endswith("polyline") and len(e))
    animate = shaft[0].attrib
    times = [float(t) for t in animate["keyTimes"].split(";")]
    assert len(times) == len(animate["values"].split(";"))
    assert times[0] == 0
    assert times[-1] == 1
    assert bool(np.all(np.diff(times) > 0))


def test_a_name_that_is_markup_stays_text():
    from shaftwright.render.pictures.launch import _text

    assert "<b>" not in _text(0, 0, "<b>&amp;", 10)
    assert "&lt;b&gt;&amp;#60;" in _text(0, 0, "<b>&#60;", 10)


@pytest.mark.parametrize(
    ("args", "build", "rig", "code", "words"),
    [
        ([], [], RIG, 2, "build options"),
        (["--animate", "x.png"], NUMBERS, RIG, 2, "must end in .svg"),
        (["--plot", "x.txt"], NUMBERS, RIG, 2, "--plot"),
        (["--draws", "1"], NUMBERS, RIG, 2, "draws"),
        ([], ["--spine", "500", "--gr-per-in", "8", "--length", "20 in", "--front", "200"], RIG, 1,
         "shorter than nock to plate"),
        (["--set", "bow.window.cut=none"], NUMBERS, RIG, 1, "short_of_centre"),
    ],
)  # fmt: skip
def test_what_has_no_answer_says_why(args, build, rig, code, words):
    result = run(*args, build=build, rig=rig)
    assert result.exit_code == code
    assert words in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.slow
def test_explain_tells_where_the_shaft_touches_and_why_the_nock_goes_right():
    args = ["explain", RIG, "--spine", "300", *NUMBERS[2:]]
    said = CliRunner().invoke(cli, [*args, "--full"])
    assert said.exit_code == 0, said.stderr
    text = " ".join(said.stdout.split())
    assert "It presses the plate from" in text
    assert "from the nock" in text
    assert "It leaves nock right, nose left:" in text
    assert max(map(len, said.stdout.splitlines())) <= 80
    found = json.loads(CliRunner().invoke(cli, [*args, "--json"]).stdout)["launch"]
    assert found["contacts"]
    left = CliRunner().invoke(cli, [*args, "--json", "--set", "archer.hand=left"])
    mirrored = json.loads(left.stdout)["launch"]
    assert mirrored["exit"]["turn_rate_rad_s"] == -found["exit"]["turn_rate_rad_s"]
    assert mirrored["story"][-1].startswith("It leaves nock left, nose right:")


def test_explain_of_what_cannot_be_launched_still_explains():
    said = CliRunner().invoke(
        cli, ["explain", RIG, *NUMBERS, "--set", "bow.window.cut=none"]
    )  # fmt: skip
    assert said.exit_code == 0, said.stderr
    assert "must know how far the plate stands" in " ".join(said.stdout.split())
