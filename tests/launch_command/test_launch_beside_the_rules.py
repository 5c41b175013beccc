"""`launch`, `explain` and `card` name what must not be drawn; `launch` stands beside the rules."""

import re

import pytest
from click.testing import CliRunner

import shaftwright
from shaftwright.cli.main import cli

RIG = "examples/heron_marsh/rig.yaml"
BOW = shaftwright.open(RIG)
NUMBERS = {"spine": 500, "gr_per_in": 8, "length": 29.5, "front": 200}
SHORT = ["--spine", "500", "--gr-per-in", "8", "--length", "27 in", "--front", "200 gr"]


def said(*args):
    result = CliRunner().invoke(cli, list(args))
    assert result.exit_code == 0, result.stderr
    return result.stdout


@pytest.mark.parametrize("command", ["launch", "explain", "build"])
@pytest.mark.slow
def test_a_shaft_that_is_too_short_is_named_right_after_the_next_thing(command):
    more = {"draws": 4} if command == "launch" else {}
    told = getattr(BOW, command)(NUMBERS | {"length": 27}, **more)
    text, found = str(told), told.to_dict()
    assert text.split("\n\n")[0].split() == found["next"]["do"].split()
    assert text.split("\n\n")[1].startswith("! Do not draw this arrow: too short")
    assert any("too short" in one for one in found["dangers"])


def test_a_card_of_an_arrow_that_must_not_be_drawn_says_so():
    text = " ".join(said("card", RIG, *SHORT).split())
    assert "do not draw this arrow: too short" in text


@pytest.mark.slow
def test_launch_tells_what_the_rules_say_of_the_same_arrow():
    launched = BOW.launch(NUMBERS, draws=4)
    found, band = launched.to_dict(), BOW.explain(NUMBERS).to_dict()["spine_band_mils"]
    assert found["by_rules_spine_mils"]["mid"] == pytest.approx(band["mid"])
    by_rules = int(re.search(r"the rules say (\d+)", " ".join(str(launched).split()))[1])
    assert by_rules == pytest.approx(band["mid"], abs=2.5)
    assert "The rules, by another way, say" in " ".join(launched.full().split())
    assert found["dangers"] == []
