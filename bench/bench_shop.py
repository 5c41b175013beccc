"""How long the shopping list takes: 200 shafts and 60 parts on one core, and the invented shop.

Run with `pytest bench/bench_shop.py`. The promise is 2.5 s on one core: the best of a few runs is held
against it in processor seconds, so that a busy machine is no fault.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

from shaftwright.answers.scenario import scenario
from shaftwright.answers.shop.kit import kit_for
from shaftwright.answers.shop.shopping import shopping
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.records.stock import Stock, StockItem

EXAMPLES = Path(__file__).resolve().parents[1] / "examples"
LIMIT_S = 2.5
RUNS = 3


def large_stock(lines: int = 4, spines: int = 50, seed: int = 1) -> Stock:
    """A large shop: lines of shafts in four bores, 36 heads, 12 inserts, 4 collars, nocks, feathers."""
    rng = np.random.default_rng(seed)
    bores = (0.246, 0.204, 0.165, 0.230)
    rows: list[dict[str, object]] = []
    for i in range(lines * spines):
        bore = bores[i % lines % 4]
        rows.append({"item": f"SHAFT-{i}", "kind": "shaft", "material": "carbon", "line": f"LINE{i % lines}",
                     "spine_mils": round(float(rng.uniform(280, 950))), "full_length_in": 32.0,
                     "gr_per_in": round(float(rng.uniform(6, 11)), 1), "inside_diameter_in": bore,
                     "outside_diameter_in": round(bore + 0.05, 3),
                     "price": round(float(rng.uniform(5, 16)), 2)})  # fmt: skip
    for i in range(18):
        mass = float(75 + 14 * i)
        rows.append({"item": f"P{i}", "kind": "point", "mass_gr": mass, "pack": 6,
                     "price": round(float(rng.uniform(7, 16)), 2)})  # fmt: skip
        rows.append({"item": f"B{i}", "kind": "broadhead", "mass_gr": mass, "pack": 3,
                     "price": round(float(rng.uniform(30, 60)), 2)})  # fmt: skip
    for i in range(12):
        rows.append({"item": f"I{i}", "kind": "insert", "mass_gr": float(12 + 8 * i), "pack": 12,
                     "inside_diameter_in": bores[i % 4],
                     "price": round(float(rng.uniform(9, 30)), 2)})  # fmt: skip
    for i in range(4):
        rows.append({"item": f"C{i}", "kind": "collar", "mass_gr": 10.0 + 5 * i, "pack": 12, "price": 18.0,
                     "outside_diameter_in": round(bores[i] + 0.05, 3)})  # fmt: skip
        rows.append({"item": f"N{i}", "kind": "nock", "mass_gr": 9.0, "pack": 12, "price": 9.0,
                     "inside_diameter_in": bores[i]})  # fmt: skip
        rows.append(
            {"item": f"F{i}", "kind": "fletching", "mass_gr": 8.0 + i, "pack": 12, "price": 27.0}
        )
    return Stock(tuple(StockItem.model_validate(row) for row in rows))


def best_cpu_s(work):
    """Fewest processor seconds of several runs."""
    taken = []
    for _ in range(RUNS):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


def asked_of(rig, stock):
    return scenario(load_rig(EXAMPLES / rig / "rig.yaml"), stock=stock)


@pytest.mark.parametrize("lines", [4, 40])
@pytest.mark.parametrize("rig", ["heron_marsh", "reed_lark", "long_fen"])
def test_kit_of_200_shafts_and_60_parts(benchmark, rig, lines):
    stock = large_stock(lines, 200 // lines)
    assert len(stock.items) - 200 >= 60
    work = lambda: kit_for(asked_of(rig, stock))  # noqa: E731
    kit = benchmark.pedantic(work, rounds=1, iterations=1)
    assert kit.chance > 0.8
    assert best_cpu_s(work) < LIMIT_S


@pytest.mark.parametrize("rig", ["heron_marsh", "reed_lark", "long_fen"])
def test_whole_list_of_200_shafts_and_60_parts(benchmark, rig):
    stock = large_stock()
    work = lambda: shopping(asked_of(rig, stock))  # noqa: E731
    answer = benchmark.pedantic(work, rounds=1, iterations=1)
    assert answer.lines
    assert best_cpu_s(work) < LIMIT_S


def test_invented_shop(benchmark):
    stock = load_stock(EXAMPLES / "heron_marsh" / "stock.csv")
    benchmark.pedantic(lambda: shopping(asked_of("heron_marsh", stock)), rounds=2, iterations=1)
