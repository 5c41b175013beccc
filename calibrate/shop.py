"""Count how often the test kit keeps its promise, and what it costs against the habit of the shops.

Simulated archers, each with a hidden truth that the engine never sees. Run `python calibrate/shop.py`
for the full count (500 archers) and rewrite docs/calibration_shop.md; `--archers 60` for a quick look
that only prints.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
import platform
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

import shaftwright
from shaftwright.advise.choose import Question, question
from shaftwright.advise.shop_kit import KitQuestion, covered_with, kit_question
from shaftwright.advise.shop_packs import cheapest_packs, offers_of
from shaftwright.advise.shop_rules import shopping_rules
from shaftwright.advise.shop_solve import popcount, solve
from shaftwright.files.stock import load_stock
from shaftwright.match.band import stiffness_lb
from shaftwright.match.belief import Belief, drivers_of
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rulebook.purposes import setting

Array = NDArray[np.float64]
ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "calibration_shop.md"
SEED = 20_260_404
FULL = 500
CHANCES = (0.80, 0.95)
OWN = ("archer-own", "bow-own")
ARCHERS_OF_ONE_TRUTH = 5
FRESH_WORLDS = ("as the rules say", "flat, same spread", "flat", "fat tails")
FRESH_TRUTHS = 40
HABITS = (
    ("habit", "habit_worked", "habit_price"),
    ("lean habit", "lean_worked", "lean_price"),
)
WORLDS = {
    "as the rules say": "every coefficient normal about its middle, drawn anew for each archer",
    "flat": "every coefficient anywhere in its 95 % range with equal chance, and never outside",
    "fat tails": "Student's t with 4 degrees of freedom, scaled to the same spread",
    "one truth": "the trade's coefficients drawn once for five archers at a time; only archer and bow differ",
}


@dataclass(frozen=True)
class Outcome:
    """What became of one archer's kit, and of the habit with one to four packs of points."""

    world: str
    asked: float
    promised: float
    worked: bool
    price: float
    habit_price: tuple[float, ...]
    habit_worked: tuple[bool, ...]
    lean_price: tuple[float, ...]
    lean_worked: tuple[bool, ...]
    fresh: tuple[float, ...] = ()


def any_rig(rng: np.random.Generator) -> Rig:
    """A finger shooter's rig, drawn at random."""
    kind = str(rng.choice(["recurve", "longbow", "hybrid"], p=[0.6, 0.25, 0.15]))
    draw = float(rng.choice(np.arange(26, 29.6, 0.25)))
    pounds = float(rng.integers(34, 58))
    cut = str(rng.choice(["past_centre", "to_centre"])) if kind == "recurve" else "to_centre"
    at: str | float = "own_draw" if rng.random() < 0.7 else 28.0
    material = str(rng.choice(["low_stretch", "polyester"]))
    return Rig.model_validate({
        "format": 1, "rig": "simulated",
        "archer": {"hand": str(rng.choice(["right", "left"])),
                   "release": str(rng.choice(["split", "three_under"])), "draw_length": draw},
        "bow": {"kind": kind, "limbs": "standard", "draw_weight": {"lb": pounds, "at": at},
                "brace_height": 7.5 if kind == "recurve" else 6.75,
                "window": {"cut": cut, **({"by": 0.125} if cut == "past_centre" else {})},
                "rest": "shelf", "plate": {"thickness": 0.0625, "material": "leather"}},
        "string": {"material": material, **({"mass": "120 gr"} if rng.random() < 0.5 else {})},
        "purpose": str(rng.choice(["hunting", "three_d", "practice"])),
    })  # fmt: skip


def hidden_truth(world: str, question: Question, rng: np.random.Generator, shared: int) -> Belief:
    """One score for each driver, as this archer's world has it."""
    names = drivers_of(question.book)
    own = {rule.code for name in OWN if (rule := question.book.find(name)) is not None}
    if world == "flat":
        scores = rng.uniform(-1.96, 1.96, len(names))
    elif world == "flat, same spread":
        scores = rng.uniform(-math.sqrt(3), math.sqrt(3), len(names))
    elif world == "fat tails":
        scores = rng.standard_t(4, len(names)) / math.sqrt(2)
    else:
        scores = rng.standard_normal(len(names))
    if world == "one truth":
        common = np.random.default_rng((SEED, shared)).standard_normal(len(names))
        scores = np.where([n in own for n in names], scores, common)
    return Belief({n: np.array([s]) for n, s in zip(names, scores, strict=True)})


def works(
    kit: KitQuestion, truth: Belief, shafts: Sequence[int], off: Array, parts: Sequence[int]
) -> NDArray[np.bool_]:  # fmt: skip
    """In which hidden truths some shaft, cut by eighths of an inch, comes within tolerance.

    `off` is each shaft's own error in standard deviations (shafts, truths).
    """
    good = np.zeros(truth.size, dtype=bool)
    fronts = kit.fronts
    inside = np.isin(fronts.keys, np.array([-1, *parts])).all(axis=1)
    for shaft, error in zip(shafts, off, strict=True):
        rows = np.flatnonzero(inside & (fronts.shaft == shaft))
        if not fronts.first[rows].any():
            continue
        rows = rows[fronts.shortest_in[rows] <= fronts.builds.length_in[rows] + 1e-9]
        index, lengths = [], []
        for r in rows:
            some = np.arange(fronts.shortest_in[r], fronts.builds.length_in[r] + 1e-9, 0.125)
            index += [r] * len(some)
            lengths += some.tolist()
        if not index:
            continue
        builds = replace(fronts.builds.take(np.array(index)), length_in=np.array(lengths))
        wanted = kit.asked.demand(builds).draws(truth)
        supply = stiffness_lb(builds)[:, None] * (1 + builds.spine_sd_pct[:, None] / 100 * error)
        good |= (np.abs(supply - wanted) <= setting("tolerance_pct") / 100 * wanted).any(axis=0)
    return good


def habit(
    kit: KitQuestion, packs: int, counts: tuple[int, int], line: str = "MARSH"
) -> tuple[list[int], list[int], list[int], float]:
    """What a shop sells: so many of the likeliest spine and of each neighbour, a usual insert, some points.

    Returns shafts, how many of each, parts, price. The likeliest is the one that the engine itself holds
    likeliest to be tuned: the habit is given the engine's knowledge.
    """
    singles = [k for k, c in enumerate(kit.classes) if c.first.item.startswith(f"{line}-")]
    singles.sort(key=lambda k: kit.classes[k].facts.spine_mils)
    alone = popcount(covered_with(kit, frozenset(range(len(kit.parts)))))[singles]
    best = int(np.argmax(alone))
    chosen = [i for i in (best - 1, best, best + 1) if 0 <= i < len(singles)]
    many = [counts[0] if i == best else counts[1] for i in chosen]
    names = [p.item for p in kit.parts]
    parts = [names.index("I25"), names.index("N246")]
    target = kit.asked.purpose_rule.usual_front_gr - (kit.parts[parts[0]].mass_gr or 0)
    points = [i for i, p in enumerate(kit.parts) if p.kind == "point" and p.material is None]
    points.sort(key=lambda i: abs((kit.parts[i].mass_gr or 0) - target))
    parts += points[:packs]
    price = sum(kit.classes[singles[i]].price_of(n)[0] for i, n in zip(chosen, many, strict=True))
    price += sum(cheapest_packs(offers_of([kit.parts[p]]), 1)[0] for p in parts)
    return [singles[i] for i in chosen], many, parts, price


def one_archer(number: int, stock: Stock) -> list[Outcome]:
    """All outcomes of one archer; the number picks rig, world and truth."""
    rng = np.random.default_rng((SEED, 1, number))
    world = list(WORLDS)[number % len(WORLDS)]
    asked = question(any_rig(rng))
    kit = kit_question(asked, stock)
    truth = hidden_truth(world, asked, rng, number // (len(WORLDS) * ARCHERS_OF_ONE_TRUTH))
    off = rng.standard_normal((len(kit.classes), 4))
    counts = (shopping_rules().habit.likeliest, shopping_rules().habit.neighbour)
    priced: dict[tuple[int, int], list[tuple[float, bool]]] = {counts: [], (1, 1): []}
    for many, told in priced.items():
        for packs in (1, 2, 3, 4):
            shafts, each, parts, price = habit(kit, packs, many)
            pieces = [(s, i) for s, n in zip(shafts, each, strict=True) for i in range(n)]
            own = np.array([[off[s, i]] for s, i in pieces])
            told.append((price, bool(works(kit, truth, [s for s, _ in pieces], own, parts)[0])))
    outcomes = []
    for chance in CHANCES:
        found = solve(kit.problem, kit.need(chance))
        if found is None:
            continue
        bought = [kit.paid[p] for p in found.parts]
        price = sum(kit.shaft_price(s)[0] for s in found.shafts) + sum(
            kit.part_price(p)[0] for p in bought
        )
        good = bool(works(kit, truth, found.shafts, off[list(found.shafts), :1], bought)[0])
        fresh = _fresh(kit, found.shafts, bought, number)
        outcomes.append(Outcome(
            world, chance, kit.chance(found.covered), good, price,
            tuple(p for p, _ in priced[counts]), tuple(w for _, w in priced[counts]),
            tuple(p for p, _ in priced[1, 1]), tuple(w for _, w in priced[1, 1]), fresh))  # fmt: skip
    return outcomes


def _fresh(
    kit: KitQuestion, shafts: Sequence[int], parts: Sequence[int], number: int
) -> tuple[float, ...]:
    """How often one kit works in many fresh truths of each world where archers differ in everything."""
    told = []
    for world in FRESH_WORLDS:
        rng = np.random.default_rng((SEED, 2, number))
        truths = [hidden_truth(world, kit.asked, rng, 0) for _ in range(FRESH_TRUTHS)]
        scores = {d: np.concatenate([t.scores[d] for t in truths]) for d in truths[0].scores}
        own = rng.standard_normal((len(shafts), FRESH_TRUTHS))
        told.append(float(works(kit, Belief(scores), shafts, own, parts).mean()))
    return tuple(told)


def run(archers: int) -> list[Outcome]:
    """Simulate so many archers before a shop where they own nothing yet."""
    stock = load_stock(ROOT / "examples" / "stock.csv")
    stock = Stock(tuple(i.model_copy(update={"in_hand": 0}) for i in stock.items), stock.name)
    return [outcome for n in range(archers) for outcome in one_archer(n, stock)]


def kept(outcomes: Sequence[Outcome]) -> tuple[float, float, float]:
    """Promised, kept, and the standard error of what was kept."""
    promised = float(np.mean([o.promised for o in outcomes]))
    share = float(np.mean([o.worked for o in outcomes]))
    error = math.sqrt(sum(o.promised * (1 - o.promised) for o in outcomes)) / len(outcomes)
    return promised, share, error


def page(outcomes: Sequence[Outcome], archers: int) -> str:
    """The page as Markdown, printed as it grows."""
    lines: list[str] = []

    def say(*texts: str) -> None:
        lines.append(" ".join(texts))
        print(lines[-1], flush=True)

    say("# The test kit: is its promise kept, and what does it cost?")
    say()
    say(
        f"Written by `calibrate/shop.py` on {dt.date.today().isoformat()}:",
        f"shaftwright {shaftwright.__version__}, Python {platform.python_version()},",
        f"NumPy {np.__version__}; {archers} simulated archers, seed {SEED}.",
    )
    say()
    say(
        "Each archer has a rig drawn at random (kind, draw, weight, window, release, string, purpose),",
        "owns nothing, and buys from `examples/stock.csv`. The hidden truth comes from one of four",
        "worlds, a quarter of the archers each:",
    )
    say()
    for name, told in WORLDS.items():
        say(f"- *{name}*: {told};")
    say()
    say(
        "and each shaft has its own error. A kit works when some shaft of it, with its points and",
        "inserts, cut by eighths of an inch between the allowed lengths, comes within the tolerance of",
        "the match. This tests the reckoning of the doubt; it cannot test whether the rules' ranges are",
        "right for real archers, which only shots can.",
    )
    say()
    say("## Promise and what was kept")
    say()
    say("| asked | world | archers | promised | kept | sampling error (1 sd) | difference in sd |")
    say("|---|---|---|---|---|---|---|")
    for chance in CHANCES:
        for world in ("all", *WORLDS):
            some = [o for o in outcomes if o.asked == chance and world in ("all", o.world)]
            if some:
                promised, share, error = kept(some)
                say(
                    f"| {chance:.0%} | {world} | {len(some)} | {promised:.1%} | {share:.1%} |",
                    f"{error:.1%} | {(share - promised) / max(error, 1e-9):+.1f} |",
                )
    say()
    _fresh_rows(outcomes, say)
    _against_habit(outcomes, say)
    return "\n".join(lines).rstrip() + "\n"


def _fresh_rows(outcomes: Sequence[Outcome], say: Callable[..., None]) -> None:
    """Many truths for each kit: hardly any sampling error is left."""
    archers = len([o for o in outcomes if o.asked == CHANCES[0]])
    wider = 100 * (1.96 / math.sqrt(3) - 1)
    say(
        "One truth an archer leaves much to luck, and in *one truth* five archers share theirs, so that",
        f"its error is larger than shown. The same {archers} kits in {FRESH_TRUTHS} further truths of each",
        f"world, {archers * FRESH_TRUTHS:,} in a column (sampling error about 0.2 %):",
    )
    say()
    say("| asked | promised | " + " | ".join(FRESH_WORLDS) + " |")
    say("|---|---|" + "---|" * len(FRESH_WORLDS))
    for chance in CHANCES:
        some = [o for o in outcomes if o.asked == chance and o.fresh]
        means = np.mean([o.fresh for o in some], axis=0)
        promised = np.mean([o.promised for o in some])
        say(f"| {chance:.0%} | {promised:.1%} | " + " | ".join(f"{m:.1%}" for m in means) + " |")
    say()
    say(
        "*Flat, same spread* has the rules' spread and another shape;",
        f"*flat* is {wider:.0f} % wider than the rules state, and no promise made on the stated",
        "doubt can hold there in full.",
    )
    say()


def _against_habit(outcomes: Sequence[Outcome], say: Callable[..., None]) -> None:
    rule = shopping_rules().habit
    say(
        f'## Against the habit "{rule.likeliest} of the likeliest and {rule.neighbour} of each neighbour"'
    )
    say()
    say(
        "The habit is given the engine's own word on which shaft is likeliest, a single line of carbon",
        "shafts sold singly, one usual insert, nocks, and one to four packs of points nearest to the",
        "purpose's usual front. The lean habit buys one of each shaft instead.",
    )
    say()
    say("| what is bought | works | mean price |")
    say("|---|---|---|")
    for chance in CHANCES:
        some = [o for o in outcomes if o.asked == chance]
        works_in, price = np.mean([o.worked for o in some]), np.mean([o.price for o in some])
        say(f"| kit, {chance:.0%} asked | {works_in:.1%} | {price:.2f} |")
    some = [o for o in outcomes if o.asked == CHANCES[-1]]
    for name, worked, priced in HABITS:
        for k in range(4):
            share = np.mean([getattr(o, worked)[k] for o in some])
            mean = np.mean([getattr(o, priced)[k] for o in some])
            say(f"| {name}, {k + 1} pack{'s' if k else ''} of points | {share:.1%} | {mean:.2f} |")
    say()
    kit_price = np.mean([o.price for o in some])
    for name, (k, mean) in same_success(outcomes).items():
        if k is None:
            say(
                f"With up to four packs of points the {name} never reaches the success of the 95 % kit."
            )
        else:
            say(
                f"At the success of the 95 % kit or better the {name} needs {k}",
                f"pack{'s' if k > 1 else ''} of points and costs {mean:.2f} on average against",
                f"{kit_price:.2f}: {mean / kit_price:.1f} times as much.",
            )
        say()


def same_success(outcomes: Sequence[Outcome]) -> dict[str, tuple[int | None, float]]:
    """Fewest packs of points with which each habit succeeds as often as the 95 % kit, and its price."""
    some = [o for o in outcomes if o.asked == CHANCES[-1]]
    goal = np.mean([o.worked for o in some])
    found: dict[str, tuple[int | None, float]] = {}
    for name, worked, price in HABITS:
        found[name] = (None, math.inf)
        for k in range(4):
            if np.mean([getattr(o, worked)[k] for o in some]) >= goal - 1e-9:
                found[name] = (k + 1, float(np.mean([getattr(o, price)[k] for o in some])))
                break
    return found


def main() -> None:
    """Count, print, and write the page after a full count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--archers", type=int, default=FULL)
    archers = parser.parse_args().archers
    text = page(run(archers), archers)
    if archers >= FULL:
        PAGE.write_text(text, encoding="utf-8")
    else:
        print(f"only a full count is written to {PAGE.name}", file=sys.stderr)


if __name__ == "__main__":
    main()
