"""Count how often the measuring part is wrong, on notebooks simulated from known truths.

Run `python calibrate/measure.py` for the full count (10,000 notebooks a line, about an hour) and
rewrite docs/calibration_measure.md; `--runs 500` for a quick look that only prints.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
import platform
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import scipy

import shaftwright
from shaftwright.measure.anytime import Cells, weigh, weigh_pairs
from shaftwright.measure.sound import energy_mean, level_difference
from shaftwright.measure.use import Array
from shaftwright.measure.welch import holm, settle, welch
from shaftwright.resources import measuring, spread
from shaftwright.units import Interval

PAGE = Path(__file__).resolve().parents[1] / "docs" / "calibration_measure.md"
SEED = 20_260_101
ALPHA = 0.05
NOISE, RESTRING = spread("shot_sd_fps"), spread("restringing_sd_fps")
SCALE, WORTH = measuring("difference_scale_fps"), measuring("worth_fps")
FEWEST = int(measuring("fewest_shots"))

Draw = Callable[[np.random.Generator], float]


def nested(a: list[Array], b: list[Array]) -> Cells:
    """Cells from lists of shots, one array a stringing, no stringing shared."""
    n, mean = np.zeros((2, 2, len(a) + len(b)))
    for g, (group, first) in enumerate(((a, 0), (b, len(a)))):
        n[g, first : first + len(group)] = [len(x) for x in group]
        mean[g, first : first + len(group)] = [x.mean() for x in group]
    squares = [sum(((x - x.mean()) ** 2).sum() for x in group) for group in (a, b)]
    return Cells(n, mean, np.array(squares, dtype=float))


def fixed(value: float) -> Draw:
    """A truth that is the same in every notebook."""
    return lambda rng: value


def drawn(prior: Interval) -> Draw:
    """A truth drawn anew for every notebook from the doubt the table states."""
    return lambda rng: prior.mid * math.exp(prior.log_sd * rng.standard_normal())


def strings(
    rng: np.random.Generator, count: int, tau: float, sigma: float, stringings: int, shots: int
) -> Array:
    """Shots of `count` identical strings: shape (count, stringings, shots)."""
    put_on = rng.normal(0, tau, (count, stringings, 1))
    return np.asarray(put_on + rng.normal(0, sigma, (count, stringings, shots)))


def abba(stringings: int, shots: int) -> Iterator[tuple[int, int, int]]:
    """The order shot: which string, which stringing, which shot of it."""
    for block in range(2 * stringings):
        for i in range(shots):
            yield (0, 1, 1, 0)[block % 4], block // 2, i


def looks(data: Array) -> Iterator[Cells]:
    """The notebook as it stands after every shot, once each string has its fewest shots."""
    _, stringings, shots = data.shape
    seen: list[list[int]] = [[0] * stringings, [0] * stringings]
    for which, stringing, i in abba(stringings, shots):
        seen[which][stringing] = i + 1
        if min(sum(seen[0]), sum(seen[1])) >= FEWEST:
            a, b = (
                [data[g, s, : seen[g][s]] for s in range(stringings) if seen[g][s]] for g in (0, 1)
            )
            yield nested(a, b)


def ever_called(cells: Iterator[Cells]) -> bool:
    """Whether an archer who looks after every shot ever calls the strings different."""
    return any(weigh(c, NOISE, RESTRING, SCALE).p_anytime() < ALPHA for c in cells)


def false_alarms(
    runs: int, tau: Draw, sigma: Draw, stringings: int, shots: int, seed: int = SEED
) -> float:
    """Rate at which two identical strings are called different under peeking at every shot."""
    rng = np.random.default_rng(seed)
    return float(
        np.mean(
            [
                ever_called(looks(strings(rng, 2, tau(rng), sigma(rng), stringings, shots)))
                for _ in range(runs)
            ]
        )
    )


def plain_false_alarms(runs: int, tau: float, sigma: float, shots: int, peek: bool) -> float:
    """The same for Welch's fixed-sample test on shots, one stringing each: what the guard is for."""
    rng = np.random.default_rng(SEED)
    called = 0
    for _ in range(runs):
        a, b = strings(rng, 2, tau, sigma, 1, shots)[:, 0]
        for n in range(FEWEST, shots + 1) if peek else (shots,):
            x, y = a[:n], b[:n]
            p = welch((n, n), (x.mean(), y.mean()), (x.std(ddof=1), y.std(ddof=1))).p_value
            if p is not None and p < ALPHA:
                called += 1
                break
    return called / runs


def paired_false_alarms(runs: int, sigma: Draw, pairs: int) -> float:
    """Two identical arrows shot in turn on one stringing, looked at after every pair."""
    rng = np.random.default_rng(SEED)
    called = 0
    for _ in range(runs):
        d = rng.normal(0, math.sqrt(2) * sigma(rng), pairs)
        called += any(
            weigh_pairs(d[:n], NOISE, SCALE).p_anytime() < ALPHA for n in range(FEWEST, pairs + 1)
        )
    return called / runs


def family_false_alarms(runs: int, groups: int, tau: Draw, stringings: int, shots: int) -> float:
    """Chance that any two of several identical strings are called different, at one look."""
    rng = np.random.default_rng(SEED)
    called = 0
    for _ in range(runs):
        data = strings(rng, groups, tau(rng), 1.5, stringings, shots)
        p = [
            weigh(nested(list(data[a]), list(data[b])), NOISE, RESTRING, SCALE).p_anytime()
            for a in range(groups)
            for b in range(a)
        ]
        called += min(holm(p)) < ALPHA
    return called / runs


def coverage_once(runs: int, tau: Draw, sigma: Draw, stringings: int, shots: int) -> float:
    """Rate at which the single-look interval with restringing holds the true difference."""
    rng = np.random.default_rng(SEED)
    held = 0
    for _ in range(runs):
        a, b = strings(rng, 2, tau(rng), sigma(rng), stringings, shots)
        once = weigh(nested(list(a), list(b)), NOISE, RESTRING, SCALE).once()
        held += once.low <= 0 <= once.high
    return held / runs


def coverage_welch(runs: int, shots: tuple[int, int], sigma: tuple[float, float]) -> float:
    """Rate at which Welch's interval holds the true difference of independent shots."""
    rng = np.random.default_rng(SEED)
    held = 0
    for _ in range(runs):
        a, b = (rng.normal(0, s, n) for s, n in zip(sigma, shots, strict=True))
        d = welch(shots, (a.mean(), b.mean()), (a.std(ddof=1), b.std(ddof=1)))
        held += d.low is not None and d.high is not None and d.low <= 0 <= d.high
    return held / runs


def coverage_level(runs: int, shots: int, sigma: tuple[float, float]) -> float:
    """Rate at which the interval of two energy means holds the true difference of energy means."""
    rng = np.random.default_rng(SEED)
    # Energy mean of levels normal in dB: mean + ln(10)/20 variance, exactly.
    truth = math.log(10) / 20 * (sigma[0] ** 2 - sigma[1] ** 2)
    held = 0
    for _ in range(runs):
        a, b = (rng.normal(85, s, shots) for s in sigma)
        d = level_difference(a, b)
        held += d.low is not None and d.high is not None and d.low <= truth <= d.high
    assert math.isclose(energy_mean([85, 85]), 85)
    return held / runs


def power_of_plans(
    runs: int, tau: float, sigma: float, stringings: int, shots: int, shared: bool = False
) -> tuple[float, float, float]:
    """Rate at which a true difference of `worth` is called after the shots a plan asks for.

    Returns the rate, the middle number of further shots each, and the share of pilots for which a
    plan existed. `shared`: both groups on one stringing.
    """
    rng = np.random.default_rng(SEED)
    called, asked = 0, []
    for _ in range(runs):
        if shared:
            both = rng.normal(0, sigma, (2, shots)) + np.array([[WORTH], [0.0]])
            cells = one_stringing(both)
        else:
            data = strings(rng, 2, tau, sigma, stringings, shots)
            data[0] += WORTH
            cells = nested(list(data[0]), list(data[1]))
        now = weigh(cells, NOISE, RESTRING, SCALE)
        plan = settle(cells, now, lambda c: weigh(c, NOISE, RESTRING, SCALE), WORTH, ("A", "B"))
        if plan.shots_each is None:
            continue
        asked.append(plan.shots_each)
        if shared:
            more = rng.normal(0, sigma, (2, plan.shots_each)) + np.array([[WORTH], [0.0]])
            cells = one_stringing(np.concatenate([both, more], axis=1))
        elif plan.restringings_each:
            per = plan.shots_each // plan.restringings_each
            more = strings(rng, 2, tau, sigma, plan.restringings_each, per)
            more[0] += WORTH
            cells = nested([*data[0], *more[0]], [*data[1], *more[1]])
        else:
            groups = []
            for g in (0, 1):
                # The newest stringing goes on: the same put-on, more shots of it. The simulated
                # put-on is not kept, so draw the shots about its truth given the shots seen.
                last = data[g, -1]
                weight = tau**2 / (tau**2 + sigma**2 / shots)
                centre = WORTH * (1 - g)
                mean = centre + weight * (last.mean() - centre)
                truth = rng.normal(mean, tau * math.sqrt(1 - weight))
                groups.append(
                    [*data[g, :-1], np.r_[last, rng.normal(truth, sigma, plan.shots_each)]]
                )
            cells = nested(groups[0], groups[1])
        called += weigh(cells, NOISE, RESTRING, SCALE).p_anytime() < ALPHA
    return called / max(len(asked), 1), float(np.median(asked)), len(asked) / runs


def one_stringing(shots: Array) -> Cells:
    """Cells of two groups on one shared stringing; shots of shape (2, n)."""
    n, mean = shots.shape[1], shots.mean(axis=1, keepdims=True)
    return Cells(np.full((2, 1), float(n)), mean, ((shots - mean) ** 2).sum(axis=1))


def page(runs: int) -> str:
    """All counts as one page of Markdown."""
    lines: list[str] = []

    def say(text: str) -> None:
        lines.append(text)
        print(text, flush=True)

    def row(*cells: object) -> None:
        say("| " + " | ".join(f"{c:.2%}" if isinstance(c, float) else str(c) for c in cells) + " |")

    r = RESTRING
    say("# How often the measuring part is wrong")
    say("")
    say(
        f"Counted on {dt.date.today():%Y-%m-%d} with shaftwright {shaftwright.__version__}, "
        f"Python {platform.python_version()}, NumPy {np.__version__}, SciPy {scipy.__version__}; "
        f"seed {SEED}; {runs:,} simulated notebooks a line (a tenth of it for plans), so a rate of "
        f"5 % is known to {1.96 * math.sqrt(0.05 * 0.95 / runs):.1%}. Written by "
        "`python calibrate/measure.py`."
    )
    say("")
    say("## Identical strings called different, the archer looking after every shot")
    say("")
    say(
        "Order A B B A, so many stringings of each string, so many shots a stringing; looked at after "
        f"every shot from the {FEWEST}rd of each on. Promised: at most 5 %, averaged over the doubt "
        f"about restringing scatter that the table states ({r.mid:g} fps, 95 % within {r.low:g} to "
        f"{r.high:g}), and at any fixed scatter up to 1.3 fps. Beyond that the table is wrong for this "
        "archer, and the count shows by how much the promise then fails."
    )
    say("")
    row("restringing, fps", "shot to shot, fps", "stringings x shots", "called different")
    row("---", "---", "---", "---")
    for tau, sigma, k, n in (
        ("as stated", "as stated", 3, 6),
        ("as stated", "as stated", 1, 12),
        (0.0, 1.5, 1, 12),
        (0.8, 1.5, 3, 6),
        (1.3, 1.5, 3, 6),
        (1.3, 0.5, 6, 3),
        (1.3, 4.0, 3, 6),
        (1.6, 1.5, 3, 6),
    ):
        rate = false_alarms(
            runs,
            drawn(RESTRING) if isinstance(tau, str) else fixed(tau),
            drawn(NOISE) if isinstance(sigma, str) else fixed(sigma),
            k,
            n,
        )
        row(str(tau), str(sigma), f"{k} x {n}", rate)
    say("")
    say("Two arrows in turn on one stringing, looked at after every pair, 30 pairs:")
    say("")
    row("shot to shot, fps", "called different")
    row("---", "---")
    row("as stated", paired_false_alarms(runs, drawn(NOISE), 30))
    for sigma in (0.5, 1.5, 4.0):
        row(str(sigma), paired_false_alarms(runs, fixed(sigma), 30))
    say("")
    say("Any two of four identical strings, 3 stringings of 6, one look, Holm's guard:")
    say("")
    row("restringing, fps", "called different")
    row("---", "---")
    row("as stated", family_false_alarms(runs, 4, drawn(RESTRING), 3, 6))
    say("")
    say("## What the guard is for: Welch's plain test on shots, one stringing each, 20 shots")
    say("")
    row("restringing, fps", "looks", "called different")
    row("---", "---", "---")
    for tau, peek in ((0.0, False), (0.0, True), (0.8, False), (0.8, True)):
        row(str(tau), "after every shot" if peek else "one",
            plain_false_alarms(runs, tau, 1.5, 20, peek))  # fmt: skip
    say("")
    say("## Intervals: how often the stated 95 % hold the truth (one look)")
    say("")
    row("interval", "truth", "held")
    row("---", "---", "---")
    row(
        "Welch, shots independent",
        "sd 1.5 and 1.5, 6 and 6 shots",
        coverage_welch(runs, (6, 6), (1.5, 1.5)),
    )
    row(
        "Welch, shots independent",
        "sd 1 and 3, 10 and 4 shots",
        coverage_welch(runs, (10, 4), (1, 3)),
    )
    for tau in ("as stated", 0.4, 0.8, 1.3):
        draw = drawn(RESTRING) if isinstance(tau, str) else fixed(tau)
        for k, n in ((1, 10), (4, 6)):
            row(
                "with restringing",
                f"restringing {tau}, {k} x {n}",
                coverage_once(runs, draw, fixed(1.5), k, n),
            )
    for n, sd in ((5, (1.0, 1.0)), (10, (1.0, 2.0)), (10, (3.0, 3.0))):
        row(
            "energy means",
            f"sd {sd[0]:g} and {sd[1]:g} dB, {n} shots each",
            coverage_level(runs, n, sd),
        )
    say("")
    say("## Plans: a true difference of 2 fps called after the further shots asked for (aim: 80 %)")
    say("")
    row("truth", "pilot", "further shots each (middle)", "pilots with a plan", "called")
    row("---", "---", "---", "---", "---")
    few = max(runs // 10, 20)
    for tau, sigma, k, n, shared in (
        (0.0, 1.5, 1, 6, True),
        (0.0, 2.5, 1, 6, True),
        (0.5, 1.5, 3, 6, False),
        (0.8, 1.5, 2, 6, False),
        (0.8, 1.5, 4, 6, False),
    ):
        rate, middle, share = power_of_plans(few, tau, sigma, k, n, shared)
        row(
            f"sd {sigma:g}, " + ("one shared stringing" if shared else f"restringing {tau:g}"),
            f"{k} x {n}", f"{middle:g}", share, rate,
        )  # fmt: skip
    say("")
    say(
        "A plan knows the spreads only as well as the pilot told them; pilots that came out quiet ask "
        "for too few shots, loud ones for too many."
    )
    return "\n".join(lines) + "\n"


def main() -> None:
    """Count, print, and write the page after a full count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=10_000)
    runs = parser.parse_args().runs
    text = page(runs)
    if runs >= 10_000:
        PAGE.write_text(text, encoding="utf-8")
    else:
        print(f"only a full count is written to {PAGE.name}", file=sys.stderr)


if __name__ == "__main__":
    main()
