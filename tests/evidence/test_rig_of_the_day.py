"""The rig as an entry says it stood: everything that a `rig_state` may name, and nothing else."""

import pytest

from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence.periods import as_it_stood
from shaftwright.inference.rig_facts import brace_height_in, rig_facts
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import RigState
from shaftwright.records.rig import Rig
from shaftwright.rules.load import rulebook

NOW = Rig.model_validate({
    "format": 1, "rig": "now",
    "archer": {"hand": "right", "release": "split", "draw_length": 28},
    "bow": {
        "kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 45, "at": "own_draw"},
        "brace_height": 7.75, "window": {"cut": "to_centre"}, "rest": "plunger", "tiller": 0.125,
        "plunger": {"spring": "stiff", "turns": 2, "moved": 0.0625},
    },
    "string": {"material": "polyester", "mass": 120},
})  # fmt: skip


def stood(**state):
    return as_it_stood(NOW, RigState.model_validate(state))


@pytest.mark.parametrize(
    ("state", "fact", "value"),
    [
        ({"release": "three_under"}, "archer.release", "three_under"),
        ({"string_material": "low_stretch"}, "string.material", "low_stretch"),
        ({"draw_length": 27}, "draw_length_in", 27),
        ({"draw_length": 27}, "draw_beyond_marked_in", -1),
        ({"draw_length": 27, "draw_weight": 42}, "draw_beyond_marked_in", 0),
        ({"plunger": {"turns": 3}}, "plunger_turns_beyond_usual", 1),
        ({"plunger": {"turns": 3}}, "bow.plunger.spring", "stiff"),
        ({"plunger": {"spring": "soft"}}, "bow.plunger.spring", "soft"),
        ({"plunger": {"out": 0.2}}, "bow.side_position", "stated"),
    ],
)
def test_what_an_entry_names_is_what_the_rules_see(state, fact, value):
    now, then = rig_facts(NOW), rig_facts(stood(**state))
    assert then[fact] == value
    assert then[fact] != now[fact] or fact in ("bow.plunger.spring", "draw_beyond_marked_in")


def test_only_what_is_named_changes():
    assert as_it_stood(NOW, RigState()) is NOW
    assert as_it_stood(NOW, RigState(crawl_in=1.0)) is NOW  # no field of the rig
    assert stood(tiller=0.25).bow.tiller_in == 0.25
    measured = stood(plunger={"out": 0.2}).bow.plunger
    assert (measured.out_in, measured.moved_in, measured.turns) == (0.2, None, 2)
    for state in ({"release": "mechanical"}, {"tiller": 0.0}, {"string_material": "low_stretch"}):
        then = stood(**state)
        plain = then.as_written()
        for part in ("archer", "bow", "string"):
            same = plain[part] == NOW.as_written()[part]
            assert same is (
                part != {"release": "archer", "tiller": "bow"}.get(next(iter(state)), "string")
            )


def test_a_shorter_draw_holds_less_weight():
    """Common practice, no source: a bow gains 6 % (4 to 8) of its weight with an inch of draw."""
    arrow = builds_by_numbers(500, 29, 150, 25, 8, 0.15)
    held = [demand_of(rig, arrow, rulebook()).own_lb for rig in (NOW, stood(draw_length=27))]
    assert 0.92 < held[1] / held[0] < 0.96
    assert stood(draw_length=27, draw_weight=42).bow.draw_weight.lb == 42


@pytest.mark.parametrize(
    ("weight", "at"),
    [({"lb": 45, "at": "own_draw"}, "own_draw"), ({"lb": 45, "at": 28.0}, "marked"), ({"curve": [[9.5, 0], [20, 25], [28, 45]]}, "curve")],
)  # fmt: skip
def test_the_rules_see_where_the_weight_was_read(weight, at):
    written = NOW.as_written()
    rig = Rig.model_validate({**written, "bow": {**written["bow"], "draw_weight": weight}})
    assert rig_facts(rig)["bow.draw_weight.at"] == at


def test_a_brace_that_was_measured_is_taken_and_one_that_was_not_is_the_usual_of_the_kind():
    written = NOW.as_written()
    assert brace_height_in(NOW) == 7.75
    for kind, usual in (
        ("recurve", 7.75),
        ("longbow", 6.75),
    ):  # common practice, as the table has it
        bow = {**written["bow"], "kind": kind, "brace_height": "unknown", "limbs": "unknown"}
        found = brace_height_in(Rig.model_validate({**written, "bow": bow}))
        assert found == usual
