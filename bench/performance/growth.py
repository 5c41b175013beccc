"""One size of the ranking in a process of its own, beside a plain loop and the machine's memory.

`python -m bench.performance.growth BUILDS` prints one JSON line.
"""

from __future__ import annotations

import json
import math
import resource
import sys
import time
from bisect import bisect
from dataclasses import fields
from pathlib import Path
from types import SimpleNamespace

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from bench_choose import HERON
from bench_web import large_stock
from shaftwright.answers.choose.candidates import enumerate_builds
from shaftwright.answers.choose.rank import hard_floor_gr_per_lb, rank
from shaftwright.answers.scenario import scenario
from shaftwright.files.rig import load_rig
from shaftwright.inference.demand import demand_of
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock
from shaftwright.rules.sections import purposes

#: builds that the plain loop works out, and builds that one shaft of the stock makes
LOOPED, EACH = 2_000, 14 * 41 * 5
#: numbers whose adding up tells how fast memory is read and written
SUMMED = 4_000_000


def stock_of(builds: int) -> Stock:
    """A stock that makes about so many builds: fewer points where one shaft already makes more."""
    stock = large_stock(max(builds, EACH) + EACH)
    shafts, points = stock.of_kind("shaft"), stock.of_kind("point")
    some = points[: max(1, round(41 * builds / EACH))] if builds < EACH else points
    many = max(1, round(builds / EACH))
    return Stock((*shafts[:many], *some, *stock.of_kind("insert")), "growth")


def split_cumulants(below: float, above: float) -> tuple[float, float, float]:
    """Mean beyond the most likely value, variance and third cumulant of a split normal."""
    step, root = above - below, math.sqrt(2 / math.pi)
    variance = (1 - 2 / math.pi) * step**2 + below * above
    return root * step, variance, root * step * ((4 / math.pi - 1) * step**2 + below * above)


def read(x: list[float], y: list[float], at: float) -> float:
    """A table in straight lines, beyond its ends at the last slope."""
    i = min(max(bisect(x, at), 1), len(x) - 1)
    return y[i - 1] + (at - x[i - 1]) * (y[i] - y[i - 1]) / (x[i] - x[i - 1])


def between(mean: float, sd: float, skew: float, low: float, high: float) -> float:
    """Chance between two limits, skewness counted."""

    def below(t: float) -> float:
        bell = math.exp(-t * t / 2) / math.sqrt(2 * math.pi)
        return 0.5 * math.erfc(-t / math.sqrt(2)) - skew / 6 * (t * t - 1) * bell

    return min(max(below((high - mean) / sd) - below((low - mean) / sd), 0.0), 1.0)


def plain_loop(asked, builds) -> tuple[list[float], list[float]]:
    """Chance, and score without the price, of one build after another; what all share comes ready made."""
    demand = demand_of(asked.rig, builds, asked.book, asked.speed)
    varying = {f.rule.name: c for c in demand.columns if np.ndim(c.x)
               for f in demand.firings if f.rule.code == c.code}  # fmt: skip
    assert set(varying) == {"front-mass", "insert-mass", "shaft-length"}, set(varying)
    own, tolerance = demand.own_lb, setting("matching.tolerance_pct") / 100
    tables = {name: [column.tolist() for column in asked.book.tables[key]] for name, key in
              {"front": ("front_mass", "front_gr", "shift_pct"),
               "length": ("shaft_length", "length_in", "counts_as_in")}.items()}  # fmt: skip
    coefficients = {n: (c.value, *split_cumulants(c.below, c.above)) for n, c in varying.items()}
    rows = np.stack([builds.spine_mils, builds.length_in, builds.gr_per_in, builds.head_gr, builds.insert_gr,
                     builds.tail_gr, builds.fletching_gr, builds.spine_sd_pct, builds.owned]).T.tolist()  # fmt: skip
    purpose = asked.purpose_rule
    mass, balance = purpose.gr_per_lb, purpose.foc_pct["carbon"]
    draw = sum(asked.book.find(n).value for n in ("draw-beyond-marked", "longer-draw"))
    by_draw = setting("matching.draw_varies_in") * draw * own / 100
    step = setting("matching.front_varies_gr")
    utility, floor, gate = (
        purposes().utility,
        hard_floor_gr_per_lb(asked.rig),
        setting("matching.shoot_gate"),
    )
    whole_weight = sum(u.weight for u in utility.values())

    def amounts(length: float, front: float, insert: float) -> dict[str, float]:
        at_front = read(*tables["front"], front)
        return {
            "front-mass": at_front,
            "insert-mass": at_front - read(*tables["front"], front - insert),
            "shaft-length": read(*tables["length"], length),
        }

    def moments(x: dict[str, float]) -> tuple[float, float, float]:
        mean = variance = third = 0.0
        for name, amount in x.items():
            pounds = amount * own / 100
            value, beyond, squared, cubed = coefficients[name]
            mean += pounds * (value + beyond)
            variance += pounds**2 * squared
            third += pounds**3 * cubed
        return mean, variance, third

    # what does not differ from build to build: the first one's whole less its varying parts
    _, length, _, head, insert, *_ = rows[0]
    first = moments(amounts(length, head + insert, insert))
    whole = (demand.mean[0], *demand.cumulants[:, 0])
    shared = [float(w - f) for w, f in zip(whole, first, strict=True)]
    chances, scores = [], []
    for spine, length, per_inch, head, insert, tail, fletching, doubt, owned in rows:
        front = head + insert
        total = per_inch * length + front + tail
        bare = (total - fletching) / own
        mean, variance, third = map(
            sum, zip(shared, moments(amounts(length, front, insert)), strict=True)
        )
        supply = 31499.2 / spine
        sd = math.sqrt(variance + (supply * doubt / 100) ** 2)
        skew, low, high = third / sd**3, supply / (1 + tolerance), supply / (1 - tolerance)
        chance = between(mean, sd, skew, low, high)
        slope = read(*tables["front"], front + step / 2) - read(*tables["front"], front - step / 2)
        by_front = slope * own / 100
        kept = sum(
            between(mean + by, sd, skew, low, high)
            for by in (by_draw, -by_draw, by_front, -by_front)
        )
        robust = min(1.0, kept / (4 * max(chance, 1e-6)))
        nock_to_balance = (per_inch * length * length / 2 + front * length) / total
        foc = 100 * (nock_to_balance - length / 2) / length
        off = max(mass.low - total / own, total / own - mass.high, 0.0) / utility["mass"].fades_over
        tilt = max(balance.low - foc, foc - balance.high, 0.0) / utility["foc"].fades_over
        worths = {
            "mass": max(0.0, 1 - off),
            "foc": max(0.0, 1 - tilt),
            "robustness": robust,
            "in_hand": owned,
        }
        if bare >= floor and supply / mean >= gate:
            chances.append(chance)
            scores.append(
                sum(utility[n].weight * worth for n, worth in worths.items()) / whole_weight
            )
    return chances, scores


def bandwidth_gb_s() -> float:
    """Bytes that NumPy reads and writes in a second of CPU, adding up two long columns."""
    one, two, total = (np.ones(SUMMED) for _ in range(3))
    taken = []
    for _ in range(5):
        start = time.process_time()
        np.add(one, two, out=total)
        taken.append(time.process_time() - start)
    return 3 * total.nbytes / min(taken) / 1e9


def measured(builds: int) -> dict[str, float]:
    """One size: the ranking, then the loop on its first builds, which must come to the same."""
    asked, stock = scenario(load_rig(HERON)), stock_of(builds)
    _ = asked.belief
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.process_time()
    candidates = enumerate_builds(asked.rig, stock, asked.purpose_rule, alike_once=True)
    ranking = rank(asked, candidates)
    ranking.best_of_shafts()
    cpu = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    some = next(candidates.pieces(LOOPED)).take(slice(LOOPED))
    start = time.process_time()
    chances, scores = plain_loop(asked, some)
    looped = time.process_time() - start
    few = SimpleNamespace(items=candidates.items, builds=some, count=len(some), rejected=(),
                          pieces=lambda most: iter([some]))  # fmt: skip
    held = rank(asked, few, tunable=False)
    ours = held.worths @ (held.weights * [0, 1, 1, 1, 0, 1])
    assert np.allclose(held.chance, chances, atol=1e-4), np.abs(held.chance - chances).max()
    assert np.allclose(ours, scores, atol=1e-3), np.abs(ours - scores).max()
    return {"builds": candidates.count, "held": len(ranking.builds), "cpu_s": cpu, "peak_mib": peak / 1024,
            "before_mib": before / 1024, "loop_s": looped / len(some), "gb_s": bandwidth_gb_s(),
            "bytes": sum(getattr(some, f.name).itemsize for f in fields(some) if f.name != "names")}  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(measured(int(sys.argv[1]))))
