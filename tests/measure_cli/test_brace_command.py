"""`brace` by arguments, exit code and output."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli

pytestmark = pytest.mark.slow

SWEEP = "examples/heron_marsh/brace.notebook.yaml"
SETTLING = "examples/heron_marsh/notebook.yaml"


def run(*args):
    return CliRunner().invoke(cli, ["brace", *map(str, args)])


def document(*args):
    result = run(*args, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_json_has_sweep_and_settling():
    told = document(SWEEP)
    assert told["format"] == 2
    for key in (
        "speed",
        "sound",
        "both_in",
        "twists_per_step",
        "twists",
        "creep",
        "verdict",
        "warnings",
    ):
        assert told[key] is not None
    assert told["string"] == "A"


def test_quiet_and_fast_ranges_lie_where_the_readings_say():
    told = document(SWEEP)
    # the readings themselves: quietest at 7 1/2 in, fastest at the lowest brace
    assert told["sound"]["range_in"]["low"] <= 7.5 <= told["sound"]["range_in"]["high"]
    assert told["speed"]["best_in"]["mid"] == 7.0
    # by hand: 7 in is 4 dB louder than 7 1/2; 7 3/4 is over 1 dB louder and 3 fps slower than 7 1/4
    assert told["target_in"] == {"low": 7.25, "high": 7.5}


def test_slope_agrees_with_numpy_polyfit():
    told = document(SWEEP)
    rows = told["speed"]["settings"]
    slope = np.polyfit([r["brace_in"] for r in rows], [r["speed_fps"] for r in rows], 1)[0] / 4
    assert told["fps_per_quarter_in"]["low"] < slope < told["fps_per_quarter_in"]["high"]
    assert told["fps_per_quarter_in"]["mid"] == pytest.approx(slope, abs=0.15)


#: a tuner reads 7 3/4 to 8 in at a glance: brace, speed, sound (an invented sweep, one shot a height)
GLANCE = [(7.25, 175.4, 87.2), (7.75, 176.2, 84.6), (8, 175.6, 84.1), (8.25, 174.3, 85.2)]


def swept(path, rows):
    """A notebook of a sweep with one chronograph and one sound reading at every height."""
    path.write_text(
        "".join(
            f"- {{kind: chrono, speed: {fps} fps, brace: {b} in}}\n"
            f"- {{kind: sound, level: {db} dB, brace: {b} in}}\n"
            for b, fps, db in rows
        )
    )
    return path


def test_what_a_tuner_reads_at_a_glance_is_the_first_line(tmp_path):
    path = swept(tmp_path / "n.yaml", GLANCE)
    lines = run(path).output.splitlines()
    assert lines[0].startswith("Brace 7 3/4 to 8 in: quiet there")
    assert lines[0].endswith("likely, not sure yet.")
    assert len(lines) <= 25
    best = document(path)["optimum"]
    assert (best["low_in"], best["high_in"]) == (7.75, 8)
    assert best["why"]


def test_a_sweep_where_nothing_changes_says_that_any_height_will_do(tmp_path):
    path = swept(tmp_path / "n.yaml", [(b, 175, 85) for b in (7.25, 7.75, 8, 8.25)])
    first = " ".join(run(path).output.split())
    assert first.startswith(
        "Any brace height from 7 1/4 to 8 1/4 in will do: sound and speed change"
    )
    told = document(path)
    assert told["optimum"]["kind"] == "any"
    assert told["target_in"] is None
    assert told["twists"] is None


def test_two_heights_name_no_best(tmp_path):
    path = swept(tmp_path / "n.yaml", GLANCE[:2])
    assert run(path).output.startswith("No best brace height yet: two braces tell only a direction")
    assert document(path)["optimum"] is None


def test_a_long_sweep_of_many_strings_keeps_to_a_screen(tmp_path):
    rows = [(6 + k / 8, 175 - k / 4, 80 + 3 * (k / 8 - 1) ** 2) for k in range(20)]
    path = swept(tmp_path / "n.yaml", rows)
    with path.open("a") as file:
        for k in range(12):
            file.write(f"- {{kind: brace, brace: 7 {k % 7 + 1}/8 in, shots_on: 9, string: S{k}}}\n")
    lines = run(path).output.splitlines()
    assert lines[0].startswith("Brace ")
    assert len(lines) <= 25
    assert max(map(len, lines)) <= 80


BARE = (
    "- {kind: bareshaft, rig_state: {brace: 7 7/8 in}, build: {shaft: REED-500, length: 30, point: P100},"
    " distance: 20 yd, fletched: [[0, 0]], bare: [[1, 0], [-1, 1], [2, -1]]}\n"
)
NEW = "- {kind: change, what: string, rig_state: {string: B}}\n"
READ = "- {kind: brace, brace: 7 5/8 in, shots_on: 0, string: B}\n"


def test_shots_before_a_new_string_are_none_of_its_own(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(BARE + NEW + READ)
    told, text = document(path), run(path).output
    assert (told["string"], told["bare"]) == ("B", None)
    assert "3 bare shafts of another string, or from before a change" in " ".join(text.split())
    assert "Read at each brace height" not in text
    path.write_text(NEW + READ + BARE.replace("rig_state: {", "rig_state: {string: B, "))
    assert [row["n"] for row in document(path)["bare"]["settings"]] == [3]
    assert "bare spread, in" in run(path).output


def test_a_metric_rig_is_told_in_centimetres(tmp_path):
    folder = tmp_path / "bow"
    folder.mkdir()
    rig = Path("examples/heron_marsh/rig.yaml").read_text()
    (folder / "rig.yaml").write_text(rig + "\nunits: metric\n")
    (folder / "notebook.yaml").write_text(Path(SWEEP).read_text())
    text = run(folder).output
    # 7 1/4 to 7 1/2 in, and 8 in, at 2.54 cm each
    assert "Brace 18.4 to 19.1 cm: quiet and fast together" in text
    assert "It stands at 20.3 cm" in text
    assert "within 1.6 mm" in text
    assert not re.search(r"\d in\b", text.split("Brace ", 1)[1].replace("chances in 5", ""))
    (folder / "notebook.yaml").write_text(BARE + READ.replace(", string: B", ""))
    # their spread in inches: the root mean square of the two directions
    spread = 2.54 * np.sqrt(np.var([[1, 0], [-1, 1], [2, -1]], axis=0, ddof=1).mean())
    assert re.search(rf"bare spread, cm shots\n +20 cm +{spread:.1f} ", run(folder).output)


def test_twists_by_own_readings_are_change_over_gain():
    # 4 twists lifted this string a quarter inch each time: 5/8 in down is ten twists out
    told = document(SWEEP)
    assert told["brace_now_in"] == 8.0
    assert told["twists"]["way"] == "out"
    assert told["twists"]["by_own_readings"] == pytest.approx(
        abs(told["twists"]["change_in"]) / (1 / 16)
    )
    assert "take out some 10 twists by your own readings" in " ".join(run(SWEEP).output.split())


def test_text_says_where_first_and_keeps_to_80_columns():
    lines = run(SWEEP).output.splitlines()
    assert lines[0] == "Brace 7 1/4 to 7 1/2 in: quiet and fast together; sure."
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 25
    assert any("maker's range" in line for line in lines)


def test_a_string_that_held_brace_is_worth_tuning():
    told = document(SETTLING, "--material", "low_stretch")
    assert told["worth_tuning"] is True
    assert told["creep"][0]["settled"] is True
    assert run(SETTLING).output.startswith("Settled")


def test_a_falling_brace_is_not_settled(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(
        "- {kind: brace, date: 2026-05-01, brace: 8 in, shots_on: 0, string: A}\n"
        "- {kind: brace, date: 2026-05-02, brace: 7 3/4 in, shots_on: 30, string: A}\n"
    )
    told = document(path)
    assert told["worth_tuning"] is False
    assert told["creep"][0]["shots_to_settle"]["high"] > 0
    assert "not settled: brace fell 1/4 in" in told["verdict"]


def test_strings_and_periods_are_not_mixed(tmp_path):
    rows = [("A", b, 170 - 4 * (b - 7)) for b in (7, 7.5, 8)] + [("B", b, 200) for b in (7, 7.5)]
    path = tmp_path / "n.yaml"
    path.write_text(
        "- {kind: chrono, speed: 300 fps, string: A, brace: 7 in}\n- {kind: change, what: limbs}\n"
        + "".join(
            f"- {{kind: chrono, speed: {v + d} fps, string: {s}, brace: {b} in, stringing: {b}}}\n"
            for s, b, v in rows for d in (-1, 0, 1)
        )
    )  # fmt: skip
    told = document(path)
    assert told["string"] == "A"
    assert max(r["speed_fps"] for r in told["speed"]["settings"]) < 175
    assert any("7 speeds of another string" in w for w in told["warnings"])


@pytest.mark.slow
def test_bare_shafts_at_two_distances_are_not_mixed(tmp_path):
    rng = np.random.default_rng(2)
    rows = []
    for brace, spread in ((7, 3.0), (7.5, 1.0), (8, 3.0)):
        hits = [[round(float(x), 2) for x in rng.normal(0, spread, 2)] for _ in range(12)]
        rows.append(
            "- kind: bareshaft\n  build: {spine: 500, length: 29 in, front: 200 gr}\n  distance: 20 yd\n"
            f"  bare: {hits}\n  rig_state: {{brace: {brace} in, string: A}}\n"
        )
    rows.append(rows[0].replace("20 yd", "30 yd"))
    path = tmp_path / "n.yaml"
    path.write_text("".join(rows))
    told = document(path)
    assert told["bare"]["best_in"]["mid"] == pytest.approx(7.5, abs=0.2)
    assert any("12 bare shafts of another shaft or distance" in w for w in told["warnings"])
    assert "Bare shafts" in run(path, "--plot", tmp_path / "b.png").output


@pytest.mark.parametrize(
    "text",
    ["", "- {kind: chrono, speed: 170 fps, string: A}\n", "- {kind: chrono, speed: 170 fps, brace: 7 in}\n",
     "- {kind: weigh, item: a, mass: 400 gr}\n"],
)  # fmt: skip
def test_nothing_to_answer_exits_1_with_the_reason(tmp_path, text):
    path = tmp_path / "n.yaml"
    path.write_text(text)
    result = run(path)
    assert result.exit_code == 1
    assert "nothing here tells about brace height" in result.stderr
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("args", "said"), [(("--plot", "b.bmp"), "must end in"), (("--material", "silk"), "silk")]
)
def test_bad_usage(args, said):
    result = run(SWEEP, *args)
    assert result.exit_code == 2
    assert said in result.stderr


@pytest.mark.parametrize("notebook", [SWEEP, SETTLING])
@pytest.mark.slow
def test_plot_is_written_with_units(tmp_path, notebook):
    picture = tmp_path / "b.svg"
    assert run(notebook, "--plot", picture).exit_code == 0
    text = picture.read_text()
    assert "brace height (in)" in text
    assert "shots on the string" in text


def test_one_brace_reading_without_shots_still_draws_and_answers(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text('- {kind: brace, brace: 7 1/2 in, string: "<b>\\u001b[1m"}\n')
    result = run(path, "--plot", tmp_path / "b.png")
    assert result.exit_code == 0, result.output
    assert "Not known yet" in " ".join(result.output.split())
    assert "\x1b" not in result.output


def test_bad_entries_are_a_line_each(tmp_path):
    path = tmp_path / "n.yaml"
    path.write_text(Path(SWEEP).read_text() + "- {kind: brace, brace: high}\n- {kind: brase}\n")
    result = run(path)
    assert result.exit_code == 0
    assert len(result.stderr.splitlines()) == 2
