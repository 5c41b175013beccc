"""Of several dozens noted, the plan goes by the last one."""

import pytest

from shaftwright.answers.plan.prove import made_dozen
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY

HERON = "examples/heron_marsh"
BUILD = {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"}
END = {
    "kind": "bareshaft",
    "build": BUILD,
    "distance": 20,
    "bare": [[0, 0]] * 3,
    "fletched": [[0, 0]] * 3,
}


@pytest.mark.parametrize("order", [1, -1])
def test_the_last_day_counts_whatever_its_place_in_the_file(order):
    dozens = [
        {"kind": "dozen", "build": BUILD, "made": n, "date": day}
        for n, day in ((12, "2026-05-01"), (6, "2026-06-01"))
    ]
    entries = [ENTRY.validate_python(e) for e in (END, END, *dozens[::order])]
    where = scenario(
        load_rig(f"{HERON}/rig.yaml"), None, load_stock(f"{HERON}/stock.csv"), entries, (1, 2, 3, 4)
    ).where
    dozen, arrow = made_dozen(where)
    assert (str(dozen.date), dozen.made) == ("2026-06-01", 6)
    assert arrow.spec.shaft == "MARSH-500"
