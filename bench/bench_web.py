"""How long a move on the map takes with 300,000 builds, and the first page; figures only, never a test."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shaftwright.answers.choose.choose import choose
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.records.stock import Stock, StockItem
from shaftwright.web.answers import Answer, Papers
from shaftwright.web.app import templates
from shaftwright.web.pages import here_given

ROOT = Path(__file__).parents[1]
BUILDS = 300_000


def large_stock(builds: int) -> Stock:
    """Enough carbon shafts, points and inserts for so many builds within the limits."""
    parts = [
        {"item": f"P{m}", "kind": "point", "mass_gr": m, "price": 10, "pack": 6}
        for m in range(100, 301, 5)
    ]
    parts += [
        {
            "item": f"I{m}",
            "kind": "insert",
            "mass_gr": m,
            "inside_diameter_in": 0.246,
            "price": 10,
            "pack": 12,
        }
        for m in (16, 27, 53, 79, 100)  # no two fronts weigh the same
    ]
    # lengths from 29 1/4 to 32 in in quarter inches: 12, times points and inserts
    each = 12 * 41 * 5
    shafts = [
        {"item": f"S{i}", "kind": "shaft", "material": "carbon", "spine_mils": float(s), "gr_per_in": 8.0,
         "outside_diameter_in": 0.295, "inside_diameter_in": 0.246, "full_length_in": 32, "price": 9}
        for i, s in enumerate(np.linspace(340, 560, int(1.3 * builds / each)))
    ]  # fmt: skip
    return Stock(tuple(StockItem.model_validate(row) for row in (*shafts, *parts)), "large")


@pytest.fixture(scope="module")
def answer() -> Answer:
    rig = load_rig(ROOT / "examples" / "heron_marsh/rig.yaml")
    choice = choose(scenario(rig), large_stock(BUILDS), top=500)
    assert choice.ranking is not None
    assert len(choice.ranking.builds) >= BUILDS, len(choice.ranking.builds)
    return Answer(Papers({}, rig, None, None, {}), choice)


def test_move_on_the_map(benchmark, answer):
    answer.map(0)
    kept = answer.seen(0, None, None)
    places = iter(np.random.default_rng(1).uniform((29.25, 110), (32, 290), (100_000, 2)))

    def move() -> str:
        length, front = next(places)
        here = answer.seen(0, float(length), float(front))
        return templates().get_template("here.html").render(here_given(answer, 0, here, kept))

    assert "up front" in benchmark(move)


def test_strip_of_another_shaft(benchmark, answer):
    places = iter(range(1, 60))
    benchmark.pedantic(lambda: answer.map(next(places)), rounds=8)


def test_first_page(benchmark, tmp_path):
    from starlette.testclient import TestClient

    from shaftwright.web.app import create_app

    client = TestClient(create_app(tmp_path), base_url="http://127.0.0.1")
    assert benchmark(lambda: client.get("/")).status_code == 200
