"""An arrow that flew straight at another nocking point leads until it has spoken at the present one."""

import pytest

from shaftwright.answers.plan.prove import leading
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

HERON = "examples/heron_marsh"
BUILD = {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"}


def end(left, **more):
    return ENTRY.validate_python({
        "kind": "bareshaft", "build": BUILD, "distance": 20, "taped": True, "marks": "none",
        "bare": [[-left, 0]] * 3, "fletched": [[0, 0]] * 3, **more,
    })  # fmt: skip


@pytest.mark.parametrize(("now", "leads"), [(0, True), (1, True), (2, False)])
def test_two_fair_ends_off_to_a_side_speak(now, leads):
    assert setting("plan.straight_ends") == 2
    before = [end(0, rig_state={"nocking_point": 0.4375})] * 3
    entries = [*before, *[end(9)] * now]
    rig, stock = load_rig(f"{HERON}/rig.yaml"), load_stock(f"{HERON}/stock.csv")
    where = scenario(rig, None, stock, entries, range(1, len(entries) + 1)).where
    assert (leading(where) is not None) == leads
