"""What one entry says before it is set against others: how tails are read, which groups count, which two contradict."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from shaftwright.files.rig import load_rig
from shaftwright.inference.evidence.look import _tail_vector, look_at
from shaftwright.inference.evidence.summary import _apart
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY, Tail

LOOK = look_at(
    ENTRY.validate_python({
        "kind": "bareshaft", "build": {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}, "distance": 20,
        "bare": [[-3, 0]] * 3, "fletched": [[0, 0]] * 3,
    }),
    load_rig("examples/heron_marsh/rig.yaml"),
)  # fmt: skip


@pytest.mark.parametrize(
    ("void", "tail", "counts"),
    [("", None, True), ("", LOOK.side, True), ("too few", None, False),
     ("", {"stiff": "weak", "weak": "stiff"}[LOOK.side], False)],
)  # fmt: skip
def test_a_group_counts_unless_it_is_void_or_tells_opposite_sides(void, tail, counts):
    assert replace(LOOK, void=void, tail=tail).counts is counts


@pytest.mark.parametrize(
    ("told", "right", "up"),
    [({"side": "right"}, 1, 0), ({"side": "left", "up": "high"}, -1, 1), ({"up": "low"}, 0, -1)],
)
def test_a_tail_points_where_it_was_said_to(told, right, up):
    assert _tail_vector(Tail(**told)) == (right, up, 1.0)
    slight = setting("evidence.slight_share")
    found = _tail_vector(Tail(**told, how="slight", seen="in_butt"))
    assert found == (right * slight, up * slight, 0.0)


def reading(seen_in, counted=True, side=None, reads=None):
    return SimpleNamespace(seen_in=seen_in, doubt_in=1.0, counted=counted,
                           look=replace(LOOK, side=side, tail=None, reads=reads))  # fmt: skip


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [(reading(8.0), reading(1.0), True), (reading(2.0), reading(1.0), False), (reading(8.0, False), reading(1.0), False),
     (reading(None, reads="stiff"), reading(None, reads="weak"), True), (reading(None, reads="stiff"), reading(None, reads="stiff"), False),
     (reading(8.0, side="stiff"), reading(None, reads="weak"), True), (reading(8.0, side="stiff"), reading(None, reads="stiff"), False)],
)  # fmt: skip
def test_two_readings_contradict_by_size_where_both_were_measured_else_by_their_words(
    one, other, apart
):
    """Seven inches between two of one inch's doubt are five times their joint doubt."""
    assert _apart(one, other, 3.0) is apart
    assert _apart(other, one, 3.0) is apart


def test_shots_from_half_the_distance_stand_twice_as_far_at_twenty_yards():
    """An angle is an angle: three inches at ten yards are six at twenty."""
    near = {"kind": "bareshaft", "build": {"spine": 500, "length": 29.5, "front": 200, "gr_per_in": 8}, "distance": 10,
            "bare": [[-3, 0]] * 3, "fletched": [[0, 0]] * 3}  # fmt: skip
    rig = load_rig("examples/heron_marsh/rig.yaml")
    found = look_at(ENTRY.validate_python(near), rig)
    np.testing.assert_allclose(found.bare, 2 * LOOK.bare)
