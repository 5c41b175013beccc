"""Where a bow starts, against the ranges the trade gives (common practice, no source)."""

import pytest

from shaftwright.parameters import parameters, section
from shaftwright.records.rig import Rig
from shaftwright.rules.sections import Setup, start_points


def rig(kind="recurve", release="split"):
    return Rig.model_validate({
        "format": 1, "rig": "new",
        "archer": {"hand": "right", "release": release, "draw_length": 28},
        "bow": {"kind": kind, "limbs": "unknown", "draw_weight": {"lb": 45, "at": "own_draw"},
                "brace_height": "unknown", "window": {"cut": "unknown"}, "rest": "shelf"},
        "string": {"material": "unknown"},
    })  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "low", "high"),
    [("selfbow", 5.5, 7), ("longbow", 6, 7.5), ("recurve", 7, 8.5), ("unknown", 5.5, 8.5)],
)
def test_brace_starts_in_the_usual_range_of_its_kind(kind, low, high):
    found = start_points(rig(kind))
    assert (found.brace_low_in, found.brace_high_in) == (low, high)


@pytest.mark.parametrize(
    ("release", "low", "high"),
    [("split", 3 / 8, 1 / 2), ("three_under", 1 / 2, 3 / 4), ("unknown", 3 / 8, 3 / 4),
     ("mechanical", 3 / 8, 1 / 2)],
)  # fmt: skip
def test_nocking_point_starts_by_how_the_string_is_held(release, low, high):
    found = start_points(rig(release=release))
    assert (found.nocking_low_in, found.nocking_high_in) == (low, high)


def test_the_nock_holds_and_comes_off_with_a_tap_and_the_point_stands_just_outside():
    found = start_points(rig())
    assert "tap" in found.nock_fit
    assert "just outside" in found.side


def test_every_start_point_says_why_and_on_what_basis():
    for one in (*parameters("setup").values(), *section("setup", Setup).words.values()):
        assert one.why
        assert one.basis == "common_practice"
