"""When the height speaks of the nocking point, and when a place was tried already."""

import pytest

from shaftwright.answers.plan.nocking import height_doubt, height_is_off, tried_by_heads
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY

HERON = "examples/heron_marsh"
BUILD = {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"}


def end(up, **more):
    return ENTRY.validate_python({
        "kind": "bareshaft", "build": BUILD, "distance": 20, "taped": True, "marks": "none",
        "bare": [[0, up]] * 3, "fletched": [[0, 0]] * 3, **more,
    })  # fmt: skip


def where(*entries, nocking="3/8 in"):
    rig = load_rig(f"{HERON}/rig.yaml", (f"bow.nocking_point.above_square={nocking}",))
    stock = load_stock(f"{HERON}/stock.csv")
    return scenario(rig, None, stock, entries, range(1, len(entries) + 1)).where


def test_a_height_within_the_groups_doubt_says_nothing():
    doubt = height_doubt(where(end(0)))
    between = (where(end(0)).within + doubt) / 2
    assert where(end(0)).within < between < doubt
    assert not height_is_off(where(end(-between)))
    assert height_is_off(where(end(-doubt - 1)))


@pytest.mark.parametrize(("up", "at", "tried"), [(4, 0.4375, True), (-4, 0.3125, True), (4, 0.3125, False), (-4, 0.4375, False),
                                                 (4, None, False)])  # fmt: skip
def test_broadheads_do_not_ask_for_a_place_that_was_tried(up, at, tried):
    before = () if at is None else (end(0, rig_state={"nocking_point": at}),)
    assert tried_by_heads(where(*before, end(0)), up) == tried
