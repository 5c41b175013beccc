"""Every field of a rig is used or said not to be: `tables/rig_fields.csv` against the records themselves."""

import typing

import pytest
from pydantic import BaseModel, ValidationError

import shaftwright
from shaftwright.answers.explain import explain, not_reckoned
from shaftwright.inference.rig_facts import build_facts, rig_facts
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.rig import LaunchSettings, Rig
from shaftwright.render.screens.explain import explain_text
from shaftwright.resources import table
from shaftwright.rules.facts import FACTS
from shaftwright.rules.sizes import shipped

ROWS = {row["field"]: row for row in table("rig_fields")}
PLAIN = {
    "format": 1, "rig": "a bow", "archer": {"hand": "right", "release": "split", "draw_length": "28 in"},
    "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 45, "at": "own_draw"},
            "brace_height": "7 1/2 in", "window": {"cut": "to_centre"}, "rest": "shelf"},
    "string": {"material": "polyester"},
}  # fmt: skip
#: something to write into each field that is said to change nothing
SAID = {
    "bow.nocking_point.above_square": "1/2 in", "bow.nocking_point.locators": 2, "bow.tiller": "1/4 in",
    "bow.limb_bolt_turns": 3, "bow.cant_deg": 20, "string.strands": 14, "string.twists": 30,
    "string.shots_on": 500, "bow.plunger.spring": "stiff", "bow.plunger.turns": 4,
    "bow.plunger.out": "1/4 in", "bow.plunger.moved": "1/8 in", "string.silencer_position": 0.4,
}  # fmt: skip


def rig_with(**fields):
    whole = {key: dict(v) if isinstance(v, dict) else v for key, v in PLAIN.items()}
    for path, value in fields.items():
        *above, last = path.split(".")
        at = whole
        for name in above:
            at = at.setdefault(name, {})
        at[last] = value
    if "bow.nocking_point.locators" in fields:
        whole["bow"]["nocking_point"].setdefault("above_square", "3/8 in")
    return Rig.model_validate(whole)


def leaves(model, at=""):
    for name, held in model.model_fields.items():
        path = at + (held.alias or name)
        kinds = (held.annotation, *typing.get_args(held.annotation))
        below = [k for k in kinds if isinstance(k, type) and issubclass(k, BaseModel)]
        yield from leaves(below[0], path + ".") if below else [path]


def test_a_new_field_cannot_slip_in():
    assert list(ROWS) == list(leaves(Rig))


def test_every_fact_that_rules_may_speak_of_has_a_value_and_no_other_has():
    rig, arrows = rig_with(), builds_by_numbers(500.0, 29.0, 200.0)
    of_rig, of_build = rig_facts(rig), build_facts(rig, arrows, shipped(), 50.0)
    assert set(of_rig) == {name for name, fact in FACTS.items() if not fact.of_build}
    assert set(of_build) == {name for name, fact in FACTS.items() if fact.of_build}
    assert all(of_rig[name] in fact.choices for name, fact in FACTS.items() if fact.choices)


@pytest.mark.parametrize("row", ROWS.values(), ids=lambda r: r["field"])
def test_what_is_not_reckoned_with_says_what_it_is_for(row):
    assert row["counts"] in ("yes", "no")
    assert bool(row["says"]) == (row["counts"] == "no" or bool(row["only_when"]))
    assert row["only_when"].partition("=")[0] in {"", *ROWS}
    assert (row["field"] in SAID) == bool(row["says"])


@pytest.mark.parametrize("path", SAID)
def test_what_is_said_to_change_nothing_changes_no_fact_of_a_rule(path):
    rig = rig_with(**{path: SAID[path]})
    assert any(line.startswith(f"{path}: ") for line in not_reckoned(rig))
    assert rig_facts(rig) == rig_facts(rig_with())


@pytest.mark.parametrize("path", [p for p in SAID if ROWS[p]["counts"] == "yes"])
def test_what_counts_under_a_condition_counts_there_and_is_not_listed(path):
    more = {"bow.rest": "plunger"} if "plunger" in path else {"string.silencers": "40 gr"}
    without, written = rig_with(**more), rig_with(**more, **{path: SAID[path]})
    assert not not_reckoned(written)
    facts = rig_facts(written) != rig_facts(without)
    # where a plunger was moved to is a fact of the arrow beside it, not of the rig
    assert facts or path == "bow.plunger.moved"


def test_it_stands_on_the_full_screen_alone():
    asked = shaftwright.open("examples/heron_marsh", notebook_file="-").scenario
    found = explain(asked)
    words = "Written down, not used:"
    assert bool(found.not_reckoned) == (words in explain_text(found, full=True))
    assert words not in explain_text(found)


@pytest.mark.parametrize(
    ("given", "metres", "grains"),
    [({"side_travel": "12 mm", "virtual_mass": "80 gr"}, 0.012, 80),
     ({"side_travel": 0.012, "virtual_mass": "5.1839128 g"}, 0.012, 80)],
)  # fmt: skip
def test_launch_settings_take_units_as_every_other_field(given, metres, grains):
    read = LaunchSettings.model_validate(given)
    assert read.side_travel_m == pytest.approx(metres)
    assert read.virtual_mass_gr == pytest.approx(grains)


@pytest.mark.parametrize("given", [{"side_travel": "12 gr"}, {"virtual_mass": "1 in"}, {"side_travel": "2 m"}])  # fmt: skip
def test_launch_settings_refuse_the_wrong_unit(given):
    with pytest.raises(ValidationError, match=r"is not usable|not in|allowed|to"):
        LaunchSettings.model_validate(given)
