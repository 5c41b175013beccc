"""Brace readings of one day stand in the order of the shots on the string, however they were noted."""

import itertools

from shaftwright.inference.evidence.periods import in_order
from shaftwright.records.notebook import ENTRY

SHOTS = (0, 5, 40, 200)


def test_brace_readings_of_a_day_go_by_the_shots_on_the_string():
    told = [ENTRY.validate_python({"kind": "brace", "date": "2026-05-01", "brace": 7.5, "shots_on": n, "string": "A"})
            for n in SHOTS]  # fmt: skip
    for order in itertools.permutations(told):
        entries, _ = in_order(order, range(1, 5))
        assert [entry.shots_on for entry in entries] == list(SHOTS)
