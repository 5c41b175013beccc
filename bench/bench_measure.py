"""How long the measuring part takes: 100,000 readings, 10,000 notebook entries."""

import numpy as np
import pandas as pd
import pytest

from shaftwright.files.notebook import parse_notebook
from shaftwright.measure.compare import compare
from shaftwright.measure.frames import frames
from shaftwright.measure.sweep import sweep


def readings(n: int, groups: int, stringings: int) -> pd.DataFrame:
    rng = np.random.default_rng(1)
    group, stringing = rng.integers(groups, size=n), rng.integers(stringings, size=n)
    put_on = rng.normal(0, 0.8, (groups, stringings))[group, stringing]
    return pd.DataFrame(
        {
            "speed_fps": 171 + group + put_on + rng.normal(0, 1.5, n),
            "arrow_mass_gr": np.where(group % 2, 505.0, 520.0),
            "string": np.array([f"S{i}" for i in range(groups)])[group],
            "stringing": stringing,
            "level_db": 84 + rng.normal(0, 1, n),
            "weighting": "A",
            "response": "max",
            "brace_in": 7 + 0.125 * stringing,
        }
    )


@pytest.mark.parametrize(("groups", "stringings"), [(2, 1), (2, 10), (2, 500), (6, 10), (50, 4)])
def test_100_000_chronograph_readings(benchmark, groups, stringings):
    frame = readings(100_000, groups, stringings)
    benchmark.pedantic(compare, args=(frame,), rounds=3)


def test_100_000_readings_with_sound(benchmark):
    frame = readings(100_000, 3, 8)
    benchmark.pedantic(compare, args=(frame,), kwargs={"sound": frame}, rounds=3)


def test_10_000_notebook_entries(benchmark):
    frame = readings(10_000, 2, 5)
    text = "".join(
        f"- {{kind: chrono, speed: {v:.1f} fps, arrow_mass: 505 gr, string: {s}, stringing: {k}}}\n"
        for v, s, k in zip(frame.speed_fps, frame.string, frame.stringing, strict=True)
    )

    def whole():
        return compare(frames(parse_notebook(text, "bench").entries).speeds)

    benchmark.pedantic(whole, rounds=2)


def test_brace_sweep(benchmark):
    frame = readings(10_000, 1, 8)
    benchmark.pedantic(sweep, args=(frame, frame), rounds=3)
