"""Small invented stocks and rigs for the tests of the shopping list."""

import itertools
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.answers.shop_kit import KitQuestion
from shaftwright.files.rig import load_rig
from shaftwright.files.stock import load_stock
from shaftwright.inference.belief import Belief
from shaftwright.records.stock import Stock, StockItem

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@cache
def asked(rig: str = "heron_marsh", purpose: str | None = None) -> Scenario:
    return scenario(load_rig(EXAMPLES / f"{rig}/rig.yaml"), purpose)


@cache
def shop_stock() -> Stock:
    return load_stock(EXAMPLES / "heron_marsh/stock.csv")


def unowned(stock: Stock) -> Stock:
    return Stock(tuple(i.model_copy(update={"in_hand": 0}) for i in stock.items), stock.name)


def item(name: str, kind: str, **fields: object) -> StockItem:
    return StockItem.model_validate({"item": name, "kind": kind, **fields})


def shaft(name: str, spine: float, price: float | None = 9.5, **fields: object) -> StockItem:
    return item(name, "shaft", **{"material": "carbon", "spine_mils": spine, "gr_per_in": 8.0,
                                  "outside_diameter_in": 0.295, "inside_diameter_in": 0.246,
                                  "full_length_in": 32.0, "price": price, **fields})  # fmt: skip


def small_stock(
    rng: np.random.Generator, shafts: int = 5, points: int = 3, inserts: int = 2
) -> Stock:
    """A stock with prices and spines drawn at random, cheap and dear mixed."""
    spines = np.sort(rng.choice([300, 340, 400, 450, 500, 560, 600, 700], shafts, replace=False))
    items = [shaft(f"S{s}", float(s), round(float(rng.uniform(4, 20)), 2)) for s in spines]
    masses = np.sort(rng.choice([100, 125, 150, 175, 200, 250, 300], points, replace=False))
    items += [item(f"P{m}", "point", mass_gr=float(m), price=round(float(rng.uniform(3, 16)), 2), pack=6)
              for m in masses]  # fmt: skip
    items += [item(f"I{m}", "insert", mass_gr=float(m), inside_diameter_in=0.246, pack=12,
                   price=round(float(rng.uniform(5, 30)), 2)) for m in (12, 50, 100)[:inserts]]  # fmt: skip
    items.append(item("N", "nock", mass_gr=9.0, price=6.0, pack=12))
    return Stock(tuple(items))


def doubtful(asked: Scenario, factor: float) -> Scenario:
    """The same question with every score spread by a factor."""
    scores = {k: v * factor for k, v in asked.belief.scores.items()}
    return replace(asked, given=Belief(scores, asked.belief.learned))


def exhaustive(kit: KitQuestion, need: int) -> int | None:
    """Price of the cheapest kit by trying every set of shafts and parts."""
    problem = kit.problem
    best: int | None = None
    places = range(len(problem.part_cost))
    for size in range(len(problem.part_cost) + 1):
        for parts in itertools.combinations(places, size):
            base = int(problem.part_cost[list(parts)].sum())
            for count in range(len(problem.shaft_cost) + 1):
                for shafts in itertools.combinations(range(len(problem.shaft_cost)), count):
                    cost = base + int(problem.shaft_cost[list(shafts)].sum())
                    if (best is None or cost < best) and problem.covered(shafts, parts) >= need:
                        best = cost
    return best


@cache
def carbon_stock() -> Stock:
    """One line of carbon shafts of the invented shop with all its parts, nothing in hand."""
    whole = unowned(shop_stock())
    kept = [i for i in whole.items if i.kind != "shaft" or i.item.startswith("MARSH")]
    return Stock(tuple(kept), whole.name)
