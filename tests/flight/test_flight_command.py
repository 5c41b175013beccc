"""`shaftwright flight`: by arguments, exit code and output; physics end to end."""

import json
import math
import re
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from shaftwright.answers.flight import Conditions, flight
from shaftwright.answers.scenario import scenario
from shaftwright.cli.main import cli
from shaftwright.files.rig import load_rig
from shaftwright.physics.air import Air
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY

pytestmark = pytest.mark.slow

RIG = "examples/heron_marsh/rig.yaml"
NUMBERS = ["--spine", "500", "--gr-per-in", "8", "--length", "29 1/2 in", "--front", "200 gr"]
NAMED = ["--stock", "examples/heron_marsh/stock.csv", "--shaft", "MARSH-500", "--length", "30 in", "--point",
         "P175", "--insert", "I25"]  # fmt: skip
ROW = {"distance_yd", "time_s", "drop_in", "speed_fps", "energy_ftlb", "momentum_slug_fps",
       "wind_drift_in"}  # fmt: skip


def run(*args, build=NUMBERS):
    return CliRunner().invoke(cli, ["flight", RIG, *build, *args])


def document(*args, build=NUMBERS):
    return json.loads(_printed(*build, *args, "--json"))


@cache
def _printed(*words):
    result = run(build=words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


def column(found, key):
    return np.array([row[key] for row in found["rows"]], float)


# --- the document and the text -------------------------------------------------------------------


@pytest.mark.parametrize("build", [NUMBERS, NAMED])
def test_json_has_the_agreed_keys(build):
    found = document(build=build)
    assert {"format", "air_density_kg_m3", "rows", "point_on_yd", "warnings"} <= set(found)
    assert all(set(row) >= ROW for row in found["rows"])
    assert [row["distance_yd"] for row in found["rows"]] == [10, 15, 20, 25, 30, 40, 50, 60]


@pytest.mark.parametrize("build", [NUMBERS, NAMED])
@pytest.mark.parametrize("args", [[], ["--wind", "-10 fps", "--distances", "5,18 m,33.3 yd,300"]])
@pytest.mark.slow
def test_text_fits_a_terminal(build, args):
    result = run(*args, "--full", build=build)
    short = run(*args, build=build).output
    assert result.exit_code == 0
    assert "slug" not in short
    assert max(map(len, short.splitlines())) <= 80
    assert max(len(line) for line in result.output.splitlines()) <= 80
    for word in ("drop in", "slug ft/s", "hold", "point covers the mark", "prove each distance"):
        assert word in result.output
    assert ("drift in" in result.output) == bool(args)


def test_ranges_hold_the_middle():
    found = document("--wind", "10 fps")
    for name, unit in (("drop", "in"), ("speed", "fps"), ("hold", "in"), ("wind_drift", "in")):
        low, mid, high = (column(found, f"{name}{end}_{unit}") for end in ("_low", "", "_high"))
        assert np.all(low < mid)
        assert np.all(mid < high)
    on = found["point_on_range_yd"]
    assert on["low"] < found["point_on_yd"] < on["high"]


@pytest.mark.parametrize("suffix", ["svg", "png", "pdf"])
@pytest.mark.slow
def test_plot(tmp_path, suffix):
    file = tmp_path / f"f.{suffix}"
    result = run("--plot", str(file))
    assert result.exit_code == 0
    head = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}[suffix]
    assert file.read_bytes().startswith(head)
    if suffix == "svg":
        text = file.read_text()
        assert 'id="flight"' in text
        for label in ("distance (yd)", "path (in)", "hold the point (in)"):
            assert label in text


def test_plot_beyond_reach(tmp_path):
    result = run("--plot", str(tmp_path / "f.svg"), "--distances", "20,300")
    assert result.exit_code == 0
    assert "out of reach: 300 yd" in result.output
    found = document("--distances", "20,300")
    assert found["rows"][1]["drop_in"] is None
    assert found["rows"][0]["drop_in"] > 0


def test_a_bare_number_is_in_the_rig_s_unit():
    metric = ["--set", "units=metric"]
    told = document("--point-on", "40", "--distances", "18, 30 yd", *metric)
    # the yard is 0.9144 m (NIST SP 811)
    assert told["point_on_yd"] == pytest.approx(40 / 0.9144)
    assert column(told, "distance_yd") == pytest.approx([18 / 0.9144, 30])
    assert document("--point-on", "40")["point_on_yd"] == pytest.approx(40)
    assert document("--point-on", "40 yards")["point_on_yd"] == pytest.approx(40)
    eye = run("--eye-height", "10 cm", *metric).output
    assert "with the eye 10 cm above the nock" in " ".join(eye.split())


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--distances", ""], "needs 1 to 60 distances"),
        (["--distances", "10,abc"], "abc"),
        (["--distances", ",".join(str(i) for i in range(1, 99))], "1 to 60"),
        (["--distances", "0.5"], "1 to 300 yd"),
        (["--wind", "10 mph"], "--wind"),
        (["--wind", "nan"], "--wind"),
        (["--slope", "90"], "-60 to 60"),
        (["--slope", "nan"], "--slope"),
        (["--temperature", "warm"], "--temperature"),
        (["--temperature", "300 C"], "--temperature"),
        (["--pressure", "1"], "300 to 1100 hPa"),
        (["--humidity", "120"], "0 to 100 %"),
        (["--altitude", "9000 m"], "--altitude"),
        (["--altitude", "100 m", "--pressure", "900"], "give one"),
        (["--head", "spoon"], "broadhead_2_blade"),
        (["--point", "spoon"], "broadhead_2_blade"),
        (["--fletching", "spoon"], "feathers_4in"),
        (["--fletch-size", "spoon"], "feathers_4in"),
        (["--eye-height", "3 gr"], "--eye-height"),
        (["--eye-height", "0"], "--eye-height"),
        (["--point-on", "500 yd"], "--point-on"),
        (["--plot", "x.gif"], ".svg, .png, .pdf"),
        (["--plot", "/no/such/place/x.svg"], "no such file"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(args, words):
    result = run(*args)
    assert result.exit_code == 2
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert "Traceback" not in result.stderr
    assert result.stdout == ""


def test_no_build_is_told():
    result = run(build=[])
    assert result.exit_code == 2
    assert "name one (shaft)" in result.stderr


@pytest.mark.slow
def test_a_point_on_beyond_the_bow_is_a_fault():
    result = run("--point-on", "200 yd")
    assert result.exit_code == 2
    assert "--point-on" in result.stderr


def test_dangers_of_the_build_are_told():
    result = run(build=["--spine", "900", "--gr-per-in", "5", "--length", "32", "--front", "200"])
    told = " ".join(result.output.split())
    assert result.output.split("\n\n")[1].startswith("! Do not draw this arrow:")
    assert "far too weak" in told


# --- physics, end to end -------------------------------------------------------------------------


def test_scipy_flies_the_same_arrow():
    """Drop, time and drift by SciPy's integrator on plain equations in two planes."""
    found = document("--wind", "12 fps", "--distances", "60", "--fletching", "feathers_4in")
    row, speed, mass = found["rows"][0], found["speed_fps"]["mid"] * 0.3048, found["total_gr"]
    mass *= 64.79891e-6
    diameter = 2 * 0.138 * 0.0254
    area = 2.6 * math.pi * diameter**2 / 4 + 42e-6  # turbulent, 4 in feathers: tables/drag.csv
    wind, reach = 12 * 0.3048, 60 * 0.9144

    def rates(_, s):
        through = np.array([s[3], s[4], s[5] - wind])
        pull = -1.225 * area / (2 * mass) * np.linalg.norm(through) * through
        return [*s[3:], pull[0], pull[1] - 9.80665, pull[2]]

    def there(_, s):
        return s[0] - reach

    there.terminal = True
    angle = 0.0
    for _ in range(20):
        start = [0, 0, 0, speed * math.cos(angle), speed * math.sin(angle), 0]
        done = solve_ivp(rates, (0, 5), start, events=there, rtol=1e-10, atol=1e-10)
        angle -= done.y[1, -1] / reach
    assert row["time_s"] == pytest.approx(done.t[-1], rel=1e-5)
    assert row["drop_in"] == pytest.approx(reach * math.tan(angle) / 0.0254, rel=1e-4)
    assert row["wind_drift_in"] == pytest.approx(done.y[2, -1] / 0.0254, rel=1e-4)
    assert row["speed_fps"] == pytest.approx(np.linalg.norm(done.y[3:, -1]) / 0.3048, rel=1e-5)


def test_energy_and_momentum_by_the_trades_constants():
    """gr fps^2 / 450,436.7 and gr fps / 225,218: exact from definitions."""
    found = document()
    speed, mass = column(found, "speed_fps"), found["total_gr"]
    assert column(found, "energy_ftlb") == pytest.approx(mass * speed**2 / 450436.7, rel=1e-6)
    assert column(found, "momentum_slug_fps") == pytest.approx(mass * speed / 225218, rel=1e-5)


def test_no_wind_no_drift_and_wind_is_mirrored():
    assert np.all(column(document(), "wind_drift_in") == 0)
    right = column(document("--wind", "4 m/s"), "wind_drift_in")
    left = column(document("--wind", "-4 m/s"), "wind_drift_in")
    assert np.all(right > 0)
    assert right == pytest.approx(-left)
    assert np.all(np.diff(right) > 0)


def test_a_heavier_arrow_drops_more_but_carries_more():
    light = document()
    heavy = document(build=[*NUMBERS[:-1], "400 gr"])
    assert np.all(column(heavy, "drop_in") > column(light, "drop_in"))
    for key in ("momentum_slug_fps", "energy_ftlb"):
        assert np.all(column(heavy, key) > column(light, key))
    assert heavy["point_on_yd"] < light["point_on_yd"]


@pytest.mark.parametrize(
    "args",
    [["--altitude", "3000 m"], ["--temperature", "35 C"], ["--temperature", "95 F"],
     ["--pressure", "800"], ["--humidity", "100"]],
)  # fmt: skip
@pytest.mark.slow
def test_thinner_air_flies_flatter(args):
    standard, thin = document(), document(*args)
    assert thin["air_density_kg_m3"] < standard["air_density_kg_m3"]
    assert np.all(column(thin, "drop_in") < column(standard, "drop_in"))
    assert np.all(column(thin, "speed_fps") > column(standard, "speed_fps"))


def test_standard_air_iso_2533():
    assert document()["air_density_kg_m3"] == pytest.approx(1.225, abs=5e-5)
    assert document("--temperature", "59 F")["air_density_kg_m3"] == pytest.approx(1.225, abs=5e-5)
    # 1,000 m of the standard atmosphere: 8.5 deg C, 1.1117 kg/m3 (ISO 2533, recalled)
    high = document("--altitude", "1000 m", "--temperature", "8.5 C")
    assert high["air_density_kg_m3"] == pytest.approx(1.1117, abs=2e-4)


def test_uphill_and_downhill_drop_less_square_to_the_sight_line():
    flat, steep = document(), document("--slope", "40")
    assert np.all(column(steep, "drop_in") < column(flat, "drop_in"))
    down = document("--slope", "-40")
    assert np.all(column(down, "drop_in") < column(flat, "drop_in"))
    assert np.all(column(down, "speed_fps") > column(steep, "speed_fps"))


@pytest.mark.slow
def test_more_drag_more_drop():
    drops = [
        column(document("--fletching", size), "drop_in")[-1]
        for size in ("none", "short_vanes", "feathers_3in", "feathers_4in", "feathers_5in")
    ]
    assert drops == sorted(drops)
    assert (
        document("--point", "broadhead")["rows"][-1]["drop_in"] > document()["rows"][-1]["drop_in"]
    )
    assert document("--head", "broadhead")["head"] == "broadhead"
    named = [*NAMED[:6], "--broadhead", "B175", "--insert", "I25"]
    assert document(build=named)["head"] == "broadhead"


def test_the_point_on_distance_calibrates_the_eye():
    found = document("--point-on", "40 yd", "--distances", "20,30,40,50")
    assert found["point_on_yd"] == pytest.approx(40, abs=1e-3)
    hold = column(found, "hold_in")
    assert hold[2] == pytest.approx(0, abs=0.01)
    assert hold[1] < 0 < hold[3]
    assert column(found, "hold_high_in")[2] == pytest.approx(0, abs=0.01)
    again = document("--eye-height", str(found["eye_above_nock_in"]["mid"]))
    assert again["point_on_yd"] == pytest.approx(40, abs=0.01)
    # less is known without it
    wide = document("--distances", "20,30,40,50")
    assert np.all(
        column(wide, "hold_high_in") - column(wide, "hold_low_in")
        > column(found, "hold_high_in") - column(found, "hold_low_in")
    )


def test_three_fingers_under_brings_the_point_on_nearer():
    """Common practice, no source: an anchor nearer the eye shortens the point-on distance."""
    split = document("--set", "archer.release=split")
    under = document("--set", "archer.release=three_under")
    assert under["point_on_yd"] < split["point_on_yd"]


def test_a_chronograph_narrows_the_flight():
    with_it = document("--notebook", "examples/heron_marsh/notebook.yaml",
                       "--stock", "examples/heron_marsh/stock.csv", "--distances", "40")  # fmt: skip
    without = document("--distances", "40")

    def width(found):
        row = found["rows"][0]
        return row["drop_high_in"] - row["drop_low_in"]

    assert with_it["speed_from"] == "chronograph"
    assert without["speed_from"] == "usual"
    assert width(with_it) < width(without)


@settings(max_examples=20, deadline=None)
@given(st.floats(140, 220), st.floats(0.5, 30), st.floats(-20, 20))
@pytest.mark.slow
def test_a_faster_arrow_drops_less_and_drifts_less(speed, gain, wind):
    rig = load_rig(RIG)
    build = builds_by_numbers(500.0, 29.5, 200.0)
    conditions = Conditions((10.0, 30.0, 60.0), Air.at(), wind_fps=wind)

    def at(fps):
        reading = ENTRY.validate_python({"kind": "chrono", "speed": fps, "arrow_mass": 461})
        return flight(scenario(rig, entries=[reading]), build, conditions)

    slow, fast = at(speed), at(speed + gain)
    for far, near in zip(fast.rows, slow.rows, strict=True):
        assert far.drop_in.mid < near.drop_in.mid
        assert far.time_s < near.time_s
        assert abs(far.wind_drift_in.mid) <= abs(near.wind_drift_in.mid) + 1e-9
    assert fast.rows[-1].hold_in.mid < slow.rows[-1].hold_in.mid


def test_the_archers_hand_does_not_move_the_wind():
    right = column(document("--wind", "10 fps"), "wind_drift_in")
    left = column(document("--wind", "10 fps", "--set", "archer.hand=left"), "wind_drift_in")
    assert right == pytest.approx(left)


def test_help_has_an_example_that_runs():
    text = CliRunner().invoke(cli, ["flight", "--help"]).output
    assert "shaftwright flight examples/heron_marsh " in text
    assert not re.search(r"\b(TODO|FIXME)\b", text)
