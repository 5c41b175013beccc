"""The screen of `next`: what to do, why, what to expect, what it means if it does not come; twelve lines."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from shaftwright.answers.plan.result import Expect, Next, Plan, Shot
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.cli.main import cli
from shaftwright.files.rig import load_rig
from shaftwright.render.screens.next import expect_told, lines, next_text

EXAMPLES = Path(__file__).parents[2] / "examples"
CUT = Next(
    "tune", "cut", "Cut one MARSH-500 to 31 1/2 in, half an inch off, and shoot it bare at 20 yd.",
    "It reads weak: bare 5 1/2 in right of the fletched in two ends, no marks on the plate.",
    note="shaftwright note bareshaft", expect=Expect("sideways", 1.0, 4.0, 0.8),
    then="Keep its twin long.", if_not="No change at all: powder the plate and look for marks.",
    cautions=("Flex each carbon shaft and listen, before every shot.", "A mask while you cut.", "Third.", "Fourth."),
)  # fmt: skip
SHOT = (
    Shot("MARSH-500", 32.0, "P175", "I25", 200.0, "now", 0, 2, 6, "weak", 5.5, 0.1, "outside", (3, 9)),
    Shot("SPRUCE-1132-45-1", 28.5, "PW-1132-125", None, 125.0, "plate 1/16 in", 1, 1, 0, "straight", None, 0.6,
         "straight so far", (1,)),
)  # fmt: skip


def asked(plan, units="imperial", folder=""):
    rig = load_rig(EXAMPLES / "heron_marsh/rig.yaml", [f"units={units}"])
    made = scenario(rig, folder=folder)
    made.__dict__["plan"] = plan
    return made


def test_the_order_of_the_screen():
    lines = next_text(asked(Plan(CUT, SHOT))).splitlines()
    assert lines == [
        "Cut one MARSH-500 to 31 1/2 in, half an inch off, and shoot it bare at 20 yd.",
        "",
        "  It reads weak: bare 5 1/2 in right of the fletched in two ends, no marks on",
        "  the plate.",
        "  Expect the bare ones 1 to 4 in right of the fletched. Keep its twin long.",
        "  No change at all: powder the plate and look for marks.",
        "",
        "  Note it:  shaftwright note bareshaft",
        "  ! Flex each carbon shaft and listen, before every shot.",
        "  ! A mask while you cut.",
        "  ! Third.",
    ]


def test_a_named_folder_is_named_in_every_line_to_type():
    line = "shaftwright note have MARSH-500"
    now = Next(
        "tune",
        "describe",
        "Say.",
        "",
        note=f"{line} 2",
        if_not=f"Not cut: {line} 3",
        cautions=(line,),
    )
    shown = next_text(asked(Plan(now, ()), folder="my bow"))
    assert shown.count("shaftwright note 'my bow' have") == shown.count("shaftwright note") == 3


def test_what_is_not_said_leaves_no_empty_line():
    assert next_text(asked(Plan(Next("done", "none", "Tuned.", ""), ()))) == "Tuned."
    only = replace(CUT, why="", then="", if_not="", expect=None, note=None)
    assert next_text(asked(Plan(only, ()))).splitlines()[2] == f"  ! {CUT.cautions[0]}"


@pytest.mark.parametrize(
    ("expect", "words"),
    [
        (Expect("sideways", -3.5, 5.7, 0.8), "between 3 1/2 in left and 5 1/2 in right"),
        (Expect("sideways", -6.0, -2.0, 0.8), "2 to 6 in left"),
        (Expect("vertical", -6.0, -2.0, 0.8), "2 to 6 in low"),
        (Expect("vertical", 0.0, 2.0, 0.8), "0 to 2 in high"),
        (Expect("sideways", 4.9, 5.1, 0.8), "about 5 in right"),
    ],
)
def test_where_the_next_bare_ones_land(expect, words):
    assert expect_told(expect) == f"Expect the bare ones {words} of the fletched."


def test_a_metric_rig_is_told_in_centimetres():
    # 1 in = 2.54 cm exactly (NIST SP 811): 1 in 2.5, 4 in 10, 5 1/2 in 14
    text = next_text(asked(Plan(CUT, SHOT), "metric"), full=True)
    assert "2.5 to 10 cm right" in text
    assert "14 cm right" in text
    assert "31 1/2 in, half an inch" in text  # arrow lengths stay
    assert "MARSH-500 32 P175" in text


def test_full_lists_every_arrow_shot_in_80_columns():
    text = next_text(asked(Plan(CUT, SHOT)), full=True)
    for line in text.splitlines():
        assert len(line) <= 80
    rows = text.split("What was shot\n")[1].splitlines()
    assert rows[0].split() == ["arrow", "ends", "bare", "lands", "reads", "stands"]
    assert rows[1].startswith("  MARSH-500 32 P175 I25")
    assert "5 1/2 in right" in rows[1]
    assert "outside" in rows[1]
    assert rows[2].split()[-3:] == ["straight", "so", "far"]
    assert rows[3] == "    shot before the bow's last change, with plate 1/16 in"
    assert "MARSH-500 32" not in next_text(asked(Plan(CUT, SHOT)))


def test_an_arrow_of_the_bow_as_it_was_says_so():
    """Proven from the old limbs is not proven."""
    old = tuple(replace(one, period=2, standing="proven") for one in SHOT)
    rows = next_text(asked(Plan(CUT, old)), full=True).split("What was shot\n")[1].splitlines()
    assert rows[2] == "    shot before the bow's last 2 changes"
    assert rows[4] == "    shot before the bow's last 2 changes, with plate 1/16 in"


def test_a_line_of_the_sheet_that_leads_on_as_straight_does_is_told_with_it():
    def way(side, low, high, row):
        return SimpleNamespace(side=side, from_in=low, to_in=high, row=row, do="")

    sheet = SimpleNamespace(
        question=SimpleNamespace(rig=SimpleNamespace(units="imperial")), weak="right", stiff="left",
        stop_in=12.0,
    )  # fmt: skip
    ways = [way("straight", 0, 2, 2), way("stiff", 2, 4, 2), way("weak", 2, 12, 3)]
    row = SimpleNamespace(number=1, within_in=2, ways=ways)
    told = lines(sheet, row, 20)
    assert told[0] == ("within 2 in, or up to 4 in left", "row 2")
    assert told[1] == ("2 to 12 in right", "row 3")


def test_a_name_cannot_drive_the_terminal():
    evil = replace(CUT, do="Shoot \x1b[31m it.", why="\x07", note="\x1b]0;x", cautions=("\x1b[2J",))
    for line in next_text(asked(Plan(evil, SHOT)), full=True).splitlines():
        assert line.isprintable()


@pytest.mark.parametrize("bow", ["heron_marsh", "long_fen", "reed_lark", "heron_marsh/rig.yaml"])
def test_twelve_lines_of_80_columns_on_the_examples(bow):
    done = CliRunner().invoke(cli, ["next", f"examples/{bow}"])
    assert done.exit_code == 0, done.output
    lines = done.stdout.splitlines()
    assert len(lines) <= 12, done.stdout
    assert all(len(line) <= 80 and line == line.rstrip() for line in lines)
    assert lines[0][0].isupper()


def test_json_has_the_plan_the_rig_and_the_warnings():
    done = CliRunner().invoke(cli, ["next", "examples/heron_marsh", "--json"])
    told = json.loads(done.stdout)
    assert list(told) == ["format", "next", "shot", "seed", "rig", "warnings"]
    assert (told["format"], told["rig"]) == (2, "heron-marsh")
    keys = "stage kind do why shaft piece length_in point insert setting buy bare fletched distance_yd note expect then if_not cautions"
    assert set(told["next"]) == set(keys.split())
    assert any("chronograph" in warning for warning in told["warnings"])


def test_set_and_purpose_are_heard(monkeypatch):
    seen = []

    def plan(self):
        seen.append((self.purpose, self.rig.string.material))
        return Plan(CUT, ())

    monkeypatch.setattr(Scenario, "plan", property(plan))
    done = CliRunner().invoke(
        cli,
        [
            "next",
            "examples/long_fen",
            "--set",
            "string.material=low_stretch",
            "--purpose",
            "three_d",
        ],
    )
    assert done.exit_code == 0, done.output
    assert set(seen) == {("three_d", "low_stretch")}
