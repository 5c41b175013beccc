"""A little of trust/kills.py: what was said to be saved is there once, whatever ends the writer."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

pytest.importorskip("fcntl")
sys.path.insert(0, str(Path(__file__).parents[2] / "trust"))
import kills

NONE = dict.fromkeys(("lost", "twice", "of nobody", "torn", "torn readings", "file touched", "not kept to the letter", "new entry lost",
                      "fault without the file's name", "litter after the next save"), 0)  # fmt: skip


def clean(counts):
    return {key: counts[key] for key in NONE if key in counts} == {
        key: 0 for key in NONE if key in counts
    }


@pytest.mark.slow
@pytest.mark.parametrize(
    "trial",
    [lambda rng: kills.kills_of_notes(kills.by_append, 12, 0.02, rng), lambda rng: kills.full(12, rng), lambda rng: kills.two_writers(8),
     lambda rng: kills.torn(300)],
)  # fmt: skip
def test_nothing_is_lost(trial):
    counts = trial(random.Random(1))
    assert clean(counts), counts
    assert sum(counts.values()) > 10


def test_a_loss_is_seen(tmp_path):
    folder = kills.fresh()
    kills.by_append(folder, 1)
    found = kills.judged(folder, {1, 2}, {1, 2})
    assert (found["lost"], found["twice"]) == (1, 0)
    kills.by_append(folder, 1)
    assert kills.judged(folder, {1}, {1})["twice"] == 1
    assert not clean(found)
