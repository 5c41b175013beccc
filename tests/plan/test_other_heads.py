"""Broadheads that stay aside: another weight of head, one that was not shot yet."""

from shaftwright.answers.plan.heads import _other_heads
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY

HERON = "examples/heron_marsh"


def end(point):
    return ENTRY.validate_python({
        "kind": "bareshaft", "build": {"shaft": "MARSH-500", "length": 29.5, "point": point, "insert": "I25"}, "distance": 20,
        "bare": [[0, 0]] * 3, "fletched": [[0, 0]] * 3,
    })  # fmt: skip


def other(*points):
    stock = load_stock(f"{HERON}/stock.csv")
    entries = [end(point) for point in points]
    where = scenario(
        load_rig(f"{HERON}/rig.yaml"), None, stock, entries, range(1, len(entries) + 1)
    ).where
    arrow = next(a for a in where.here if a.spec.point == points[0])
    return _other_heads(where, arrow, 1.0)


def test_a_weight_that_was_shot_is_not_named_again():
    first = other("P175")
    assert first is not None
    assert first.idea.amount > 0
    second = other("P175", first.idea.spec.point)
    assert second is None or second.key != first.key
