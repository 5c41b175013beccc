"""`bareshaft` by arguments, exit code and output."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli

pytestmark = pytest.mark.slow

RIG = "examples/heron_marsh/rig.yaml"
NOTEBOOK = "examples/heron_marsh/notebook.yaml"
STOCK = "examples/heron_marsh/stock.csv"
BUILD = ["--shaft", "MARSH-500", "--length", "30 in", "--point", "P125", "--insert", "I25"]


def run(*args):
    return CliRunner().invoke(cli, [str(a) for a in args])


def note(path, kind, *args):
    return run("note", path, kind, *args)


@pytest.fixture
def stiff(tmp_path):
    path = tmp_path / "n.yaml"
    for _ in range(3):
        result = note(path, "bareshaft", *BUILD, "--distance", "20 yd", "--fletched", "0.5,-1", "--fletched", "-1,0.5",
                      "--fletched", "1,0", "--bare", "-6,0.5:right", "--bare", "-8,1", "--bare", "-5,0:right+slight",
                      "--taped", "--marks", "none", "--cant-deg", "0", "--rig", RIG)  # fmt: skip
        assert result.exit_code == 0, result.output
    return path


def test_bareshaft_first_line_is_the_one_thing_to_do(stiff):
    result = run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK)
    assert result.exit_code == 0
    first = result.output.splitlines()[0]
    told = json.loads(run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK, "--json").output)
    assert " ".join(result.output.split()).startswith(told["next"]["do"])
    assert "MARSH-500" in first
    assert all(len(line) <= 80 for line in result.output.splitlines())
    # stiffness in pounds is never on the screen, nor are rule codes
    assert " lb" not in result.output
    assert "D02" not in result.output


def test_bareshaft_json_is_one_document(stiff):
    result = run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK, "--json")
    document = json.loads(result.output)
    assert document["format"] == 2
    assert document["rig"] == "heron-marsh"
    assert document["next_change"]["what"] == document["next"]["do"]
    assert document["next"]["stage"] == "tune"
    assert document["shot"][0]["standing"] == "outside"
    assert document["shot"][0]["reads"] == "slightly stiff"
    assert document["shot"][0]["groups"] == 3
    assert document["stop"] is False
    assert document["band_after"]["low"] > document["band_before"]["low"]
    assert document["cautions"] == document["next"]["cautions"]


@pytest.mark.slow
def test_bareshaft_takes_the_trades_sizes_or_the_launch_models(stiff):
    bands = {}
    for basis in ("both", "trade", "physics"):
        told = run(
            "bareshaft", RIG, "--notebook", stiff, "--stock", STOCK, "--basis", basis, "--json"
        )
        assert told.exit_code == 0, told.output
        bands[basis] = json.loads(told.output)["band_before"]["mid"]
    assert len(set(bands.values())) == 3
    plain = json.loads(
        run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK, "--json").output
    )
    chosen = json.loads(run("choose", RIG, "--stock", STOCK, "--json").output)
    assert plain["band_before"]["mid"] == bands["both"]
    assert chosen["spine_band_mils"]["mid"] == pytest.approx(bands["both"], abs=0.6)
    assert run("bareshaft", RIG, "--notebook", stiff, "--basis", "neither").exit_code == 2


def test_a_short_bare_shaft_is_a_danger_on_the_first_line_and_in_json(tmp_path):
    path = tmp_path / "n.yaml"
    note(path, "bareshaft", "--shaft", "MARSH-500", "--length", "25 in", "--point", "P125", "--insert", "I25",
         "--distance", "10 yd", "--fletched", "0,0", "--fletched", "1,0", "--bare", "-3,0:right",
         "--bare", "-3,0:right", "--taped", "--marks", "none", "--rig", RIG)  # fmt: skip
    told = run("bareshaft", RIG, "--notebook", path, "--stock", STOCK).output
    assert "25 in, 125 gr point is too short for this draw" in " ".join(told.split())
    assert "do not shoot it" in told
    assert "not to be shot" in told
    document = json.loads(
        run("bareshaft", RIG, "--notebook", path, "--stock", STOCK, "--json").output
    )
    assert document["stop"] is True
    assert document["dangers"] == ["too short for this draw", "too light for this bow"]
    assert document["shot"][0]["standing"] == "dangerous"
    assert document["next"]["length_in"] >= 28.75


@pytest.mark.slow
def test_bareshaft_draws_the_target_view(stiff, tmp_path):
    picture = tmp_path / "t.svg"
    result = run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK, "--plot", picture)
    assert result.exit_code == 0
    root = ET.parse(picture).getroot()
    ids = {element.get("id") for element in root.iter() if element.get("id")}
    for part in ("fletched-hits", "bare-hits", "fletched-centre", "bare-centre", "aim"):
        assert any(i.endswith(part) for i in ids), (part, ids)
    told = " ".join("".join(element.itertext()) for element in root.iter() if "text" in element.tag)
    assert "the aim; rings 2 in apart" in told
    assert "of the fletched" in told


def test_a_metric_rig_has_its_target_in_centimetres(stiff, tmp_path):
    rig, picture = tmp_path / "rig.yaml", tmp_path / "t.svg"
    rig.write_text("units: metric\n" + Path(RIG).read_text(encoding="utf-8"), encoding="utf-8")
    result = run("bareshaft", rig, "--notebook", stiff, "--stock", STOCK, "--plot", picture)
    assert result.exit_code == 0, result.output
    shown = [e for e in ET.parse(picture).getroot().iter() if "text" in e.tag]
    told = " ".join("".join(element.itertext()) for element in shown)
    assert "rings 5 cm apart" in told or "rings 10 cm apart" in told
    assert "18 m" in told
    assert "left or right of the aim (cm)" in told
    # the three of an end lie 5, 6 and 8 in left: past 15 cm
    assert "20" in told
    assert " in)" not in told


def test_bareshaft_without_shots_of_this_bow_says_what_to_shoot(tmp_path):
    path = tmp_path / "n.yaml"
    note(path, "brace", "--brace", "7 1/2 in")
    result = run("bareshaft", RIG, "--notebook", path, "--stock", STOCK)
    assert result.exit_code == 0, result.output
    assert "No bare shaft was shot" in result.output
    document = json.loads(
        run("bareshaft", RIG, "--notebook", path, "--stock", STOCK, "--json").output
    )
    assert " ".join(result.output.split()).startswith(document["next"]["do"])
    assert document["next"]["kind"] == "shoot"
    assert document["next"]["distance_yd"] == 10
    assert any("wide, soft butt" in c for c in document["cautions"])
    assert document["shot"] == []
    assert document["band_after"]["low"] < document["band_after"]["high"]
    assert run("bareshaft", RIG).exit_code == 2
    assert run("bareshaft", RIG, "--notebook", tmp_path / "nowhere.yaml").exit_code == 2


def test_bareshaft_with_a_torn_entry_warns_and_reads_the_rest(stiff):
    with stiff.open("a") as handle:
        handle.write("- {kind: bareshaft, build: {spine")
    result = run("bareshaft", RIG, "--notebook", stiff, "--stock", STOCK)
    assert result.exit_code == 0
    assert "n.yaml:" in result.stderr


def test_the_example_runs():
    result = run(
        "bareshaft",
        RIG,
        "--notebook",
        NOTEBOOK,
        "--stock",
        STOCK,
        "--before",
        "examples/heron_marsh/before.yaml",
    )
    assert result.exit_code == 0, result.output
