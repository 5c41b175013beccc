"""How long the sheet takes: with what the invented archer has, and with all of the invented shop in hand.

Run with `pytest bench/bench_sheet.py`. The promise is 20 s of CPU on one core.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest

from shaftwright.answers.scenario import scenario
from shaftwright.answers.sheet.sheet import sheet
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock

HERON = Path(__file__).resolve().parents[1] / "examples" / "heron_marsh"
LIMIT_S = 20.0


@pytest.mark.parametrize("everything", [False, True])
def test_a_sheet_takes_no_longer_than_was_promised(benchmark, everything):
    stock = load_stock(HERON / "stock.csv")
    if everything:
        items = (i.model_copy(update={"in_hand": max(i.in_hand, 1)}) for i in stock.items)
        stock = replace(stock, items=tuple(items))
    rig, took = load_rig(HERON / "rig.yaml"), []

    def work():
        began = time.process_time()
        sheet(scenario(rig, None, stock))
        took.append(time.process_time() - began)

    benchmark.pedantic(work, rounds=1)
    assert min(took) < LIMIT_S
