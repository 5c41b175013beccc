"""Forty random bow folders, five of them through every command: one mind, and nothing told that cannot be done.

What must hold is worked out from the folder alone in plan_checks.py (contract: the plan's own rules);
5,000 more go through the one function in `make calibrate` (calibrate/notebooks.py).
"""

from __future__ import annotations

import html
import json
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parent))
from plan_checks import faults_of, is_mixed, scenario_of, without_lines
from random_notebooks import Bow, permuted, random_bow

from shaftwright.answers.note.noting import arrow_named, refused
from shaftwright.answers.scenario import Scenario
from shaftwright.cli.main import cli
from shaftwright.errors import Fault
from shaftwright.records.notebook import ENTRY

FIRST, MANY, LOTS = 0, 40, 10
#: a launch takes as long as all the others together
LAUNCHED = (FIRST,)
NUMBERS = ("--spine", "500", "--length", "30 in", "--front", "200 gr")
#: what each command is given beside the bow
COMMANDS: dict[str, tuple[str, ...]] = {
    "next": (), "choose": (), "explain": (), "bareshaft": (), "shop": (), "card": (), "compare": (),
    "brace": (), "efficiency": (), "build": NUMBERS, "flight": NUMBERS,
    "launch": (*NUMBERS, "--draws", "4"),
}  # fmt: skip
PER_LOT = MANY // LOTS


def run(*words: str) -> tuple[int, str]:
    """Exit code and stdout; a command ends well or says why in a line a fault."""
    done = CliRunner().invoke(cli, list(words))
    told = f"{words}: {done.exception!r}\n{done.stderr[:500]}"
    assert done.exception is None or isinstance(done.exception, SystemExit), told
    assert done.exit_code in (0, 1), told
    assert "Traceback" not in done.stderr, told
    return done.exit_code, done.stdout


@pytest.mark.slow
@pytest.mark.parametrize("lot", range(0, LOTS, 2))
def test_every_command_carries_the_same_next(lot, tmp_path):
    seed = FIRST + lot * PER_LOT
    bow = random_bow(seed)
    folder = str(bow.write(tmp_path / "bow"))
    plan = scenario_of(bow).plan.to_dict()
    carried = 0
    for name, more in COMMANDS.items():
        if name == "launch" and seed not in LAUNCHED:
            continue
        code, told = run(name, folder, *more, "--json")
        if code == 0:
            document = json.loads(told)
            assert document["format"] == 2, name
            assert {key: document[key] for key in ("next", "shot")} == plan, name
            carried += 1
        assert code == 0 or name != "next"
    assert carried >= 5
    page = tmp_path / "page.html"
    code, _ = run("report", folder, "--html", str(page))
    assert code == 0
    assert plan["next"]["do"] in html.unescape(page.read_text())


def noted_as_printed(asked: Scenario) -> list[Fault]:
    """What is wrong with the end that `next` asks for, noted on a later day as the line says."""
    then, arrow = asked.plan.next, arrow_named(asked.plan, asked.stock, asked.entries)
    if arrow is None or then.distance_yd is None:
        return []
    data: dict[str, Any] = {"kind": "bareshaft", "date": "2030-01-01", "reads": "straight"}
    arrow.into(data)
    entry = ENTRY.validate_python(data | {"distance": then.distance_yd})
    return refused(entry, asked.stock, asked.entries)


@pytest.mark.slow
@pytest.mark.parametrize("lot", range(LOTS))
def test_what_is_told_can_be_done_whatever_the_order_of_entries(lot):
    mixed = 0
    for seed in range(FIRST + lot * PER_LOT, FIRST + (lot + 1) * PER_LOT):
        bow = random_bow(seed)
        asked = scenario_of(bow)
        plan = asked.plan.to_dict()
        assert not faults_of(bow, plan, asked), seed
        assert not noted_as_printed(asked), seed
        mixed += is_mixed(bow.entries)
        other = scenario_of(bow, permuted(bow.entries, seed)).plan.to_dict()
        assert without_lines(other) == without_lines(plan), seed
    assert mixed


@pytest.mark.parametrize(
    "seed",
    [14_986,  # a wood shaft of 14 gr/lb, for which a point was bought
     10_807, 12_171,  # plate and plunger set for an arrow whose shaft was cut since
     30_808,  # no heavier than an arrow by numbers that was shot
     31_223],  # proved anew since its dozen lay outside
)  # fmt: skip
def test_what_the_full_run_found(seed):
    """By calibrate/notebooks.py."""
    bow = random_bow(seed)
    asked = scenario_of(bow)
    assert not faults_of(bow, asked.plan.to_dict(), asked)


@cache
def _named(*kinds: str) -> tuple[Bow, dict]:
    """The first random bow whose plan names an arrow of a stock in hand, in one of these kinds."""
    for seed in range(FIRST, FIRST + 400):
        bow = random_bow(seed)
        plan = scenario_of(bow).plan.to_dict()
        then = plan["next"]
        if then["kind"] in kinds and bow.row(then["shaft"]) and not then["buy"]:
            return bow, plan
    raise AssertionError("no such bow among four hundred")


@pytest.mark.slow
@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"length_in": 40.0}, "is sold"),
        ({"length_in": 20.0}, "shortest safe"),
        ({"shaft": "HEATH-1"}, "nobody has"),
        ({"point": "P9999"}, "nobody sells"),
        ({"stage": "dozen", "length_in": 29.4}, "never shot"),
        ({"do": "None"}, "not for archers"),
        ({"do": "Shoot it again."}, "does not name"),
    ],
    ids=[
        "grows",
        "too short",
        "unknown shaft",
        "unknown point",
        "dozen unshot",
        "no sentence",
        "from nowhere",
    ],
)
def test_the_checks_can_fail(change, told):
    """A good plan with one thing wrong is found out."""
    bow, plan = _named("shoot")
    asked = scenario_of(bow)
    assert not faults_of(bow, plan, asked)
    wrong = {**plan, "next": {**plan["next"], **change}}
    assert any(told in fault for fault in faults_of(bow, wrong, asked))


def test_notebooks_follow_from_their_seed():
    assert random_bow(7) == random_bow(7)
    assert random_bow(7) != random_bow(8)
