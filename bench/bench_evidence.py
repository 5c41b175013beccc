"""Speed of learning from a notebook: `pytest bench/bench_evidence.py -s` prints the figures.

CPU seconds, not wall time, are held against the limits, so that a busy machine does not fail them;
the best of six warm runs counts.
"""

import resource

import numpy as np
import pytest

from shaftwright.inference.belief import prior_belief
from shaftwright.inference.evidence.learn import learn
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig
from shaftwright.rules.load import rulebook

RIG = Rig.model_validate(
    {"format": 1, "rig": "bench", "archer": {"hand": "right", "release": "split", "draw_length": 28},
     "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 48, "at": "own_draw"},
             "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf",
             "plate": {"thickness": 0, "material": "leather"}},
     "string": {"material": "polyester", "mass": 110, "silencers": 0}}
)  # fmt: skip
FLETCHED = [[0.5, 0.0], [-1.5, 1.0], [1.0, -1.0]]


def notebook(builds, entries=50):
    """Three fletched and three bare shafts with their tails, over and over, on so many builds."""
    random = np.random.default_rng(1)
    specs = [
        {"spine": float(random.choice([400, 500, 600, 700])), "diameter": 0.276, "gr_per_in": 8,
         "length": 27.5 + 0.25 * int(random.integers(0, 9)),
         "front": 100 + 25 * int(random.integers(0, 6)) + 0.5 * i}
        for i in range(builds)
    ]  # fmt: skip
    found = []
    for i in range(entries):
        spec = specs[i % builds]
        wanted = 52 + 5 * (spec["length"] - 28) + 0.08 * (spec["front"] - 125)
        off = wanted - 31499.2 / spec["spine"] + random.normal(0, 1)
        tail = {"side": "left" if off > 0 else "right", "seen": "in_flight"}
        shots = random.normal([off, 0], [3, 2], (3, 2)).tolist()
        bare = [{"at": at, "tail": tail} for at in shots]
        found.append(ENTRY.validate_python(
            {"kind": "bareshaft", "build": spec, "distance": 20, "bare": bare, "taped": True,
             "fletched": FLETCHED, "marks": "none"}
        ))  # fmt: skip
    return found


def cpu():
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


@pytest.mark.parametrize("builds", [1, 4, 10, 20, 50])
def test_50_entries_are_learned_from_in_under_300_ms_of_cpu(benchmark, builds):
    book, entries = rulebook(), notebook(builds)
    prior = prior_belief(book)
    seen = []

    def run():
        before = cpu()
        learn(RIG, book, prior, entries, None)
        seen.append(cpu() - before)

    benchmark.pedantic(run, rounds=6, warmup_rounds=1)
    best = min(seen)
    benchmark.extra_info["cpu_s"] = best
    print(f"50 entries on {builds} builds: {best:.3f} s of CPU")
    assert best < 0.3
