"""What is known of a rig beforehand against the launch model's sizes: a table and a docs page.

Run as `python calibrate/physics_sizes.py [rigs] [draws]`; writes docs/physics_sizes_by_rig.md and
tables/physics_sizes_by_rig.csv. Linear regression quantiles, judged by rigs that were left out.
"""

from __future__ import annotations

import csv
import datetime
import platform
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.optimize import linprog

import shaftwright
from shaftwright.answers.launch.against_rules import SEED, coefficients
from shaftwright.inference.launch.sizes import FACTS
from shaftwright.physics.launch.changes import Rig, standard_changes
from shaftwright.physics.launch.match import moves_pct
from shaftwright.physics.launch.trial import random_rigs
from shaftwright.resources import table
from shaftwright.rules.load import rulebook
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "physics_sizes_by_rig.md"
TABLE = ROOT / "tables" / "physics_sizes_by_rig.csv"
QUANTILES = (0.025, 0.5, 0.975)
PARTS = ("low", "middle", "high")
FOLDS = 5
#: of the population's width and score that a rule's own may keep at most to be worth a row
WIDTH, SCORE = 0.9, 0.95

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Judged:
    """One rule: how well rigs that were left out are foretold.

    Attributes
    ----------
    code, case, change : str
    pairs : int
    between : float
        Most that could be told of a rig: share of variance between rigs, not between settings.
    r2 : float
        Share of variance told, by least squares on rigs left out.
    width, score, miss : float
        Width of the 95 % range, its interval score and the middle's absolute error, each over
        that of all rigs.
    held : float
        Share of left-out pairs inside.
    lines : array (3, 1 + facts)
        Quantile lines, facts taken from their middle.
    """

    code: str
    case: str
    change: str
    pairs: int
    between: float
    r2: float
    width: float
    score: float
    miss: float
    held: float
    lines: Array

    @property
    def pays(self) -> bool:
        """Whether it is worth a row of the table."""
        return self.width <= WIDTH and self.score <= SCORE


def facts_of(rig: Rig) -> Array:
    """The trial's rigs by what is known before choosing, of shape (rigs, facts)."""
    arrow, bow, _ = rig
    force, stroke = np.asarray(bow.draw_force_n), np.asarray(bow.power_stroke_m)
    columns = {
        "draw_weight_lb": force / POUND_FORCE_N,
        "stroke_in": stroke / INCH_M,
        "plate_offset_in": np.asarray(bow.plate_offset_m) / INCH_M,
        "brace_height_in": np.asarray(bow.brace_height_m) / INCH_M,
        "front_gr": np.asarray(arrow.front_kg) / GRAIN_KG,
        "shaft_length_in": np.asarray(arrow.length_m) / INCH_M,
        "gr_per_in": np.asarray(arrow.mass_per_length_kg_m) / GRAIN_KG * INCH_M,
        "fullness": np.asarray(bow.stored_energy_j) / (force * stroke),
    }
    return np.column_stack([np.ravel(columns[name]) for name in FACTS])


def quantile_line(told: Array, sizes: Array, quantile: float) -> Array:
    """Coefficients of a linear regression quantile, by linear programming."""
    count, terms = told.shape
    cost = np.r_[np.zeros(terms), quantile * np.ones(count), (1 - quantile) * np.ones(count)]
    made = sparse.hstack([sparse.csr_matrix(told), sparse.eye(count), -sparse.eye(count)])
    bounds = [(None, None)] * terms + [(0, None)] * (2 * count)
    return np.asarray(linprog(cost, A_eq=made, b_eq=sizes, bounds=bounds, method="highs").x[:terms])


def interval_score(sizes: Array, low: Array, high: Array) -> float:
    """Mean interval score of 95 % ranges (Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102, 359)."""
    beyond = np.maximum(low - sizes, 0) + np.maximum(sizes - high, 0)
    return float(np.mean(high - low + 2 / 0.05 * beyond))


def judged(row: dict[str, str], label: str, sizes: Array, told: Array) -> Judged:
    """Fit one rule and foretell it for rigs left out."""
    rigs, places = np.nonzero(np.isfinite(sizes))
    one, design = sizes[rigs, places], told[rigs]
    fold = np.random.default_rng(SEED).integers(0, FOLDS, len(sizes))[rigs]
    alike, own, mean = (np.zeros((one.size, 3)), np.zeros((one.size, 3)), np.zeros(one.size))
    for part in range(FOLDS):
        kept, out = fold != part, fold == part
        alike[out] = np.quantile(one[kept], QUANTILES)
        lines = np.stack([quantile_line(design[kept], one[kept], q) for q in QUANTILES])
        own[out] = np.sort(design[out] @ lines.T, axis=1)
        squares = np.clip(one[kept], *np.percentile(one[kept], [1, 99]))
        mean[out] = design[out] @ np.linalg.lstsq(design[kept], squares, rcond=None)[0]
    count = np.isfinite(sizes).sum(axis=1)
    several = count > 1
    within = (
        np.nansum(np.nanvar(sizes[several], axis=1) * count[several]) / (count[several] - 1).sum()
    )
    inside = (one >= own[:, 0]) & (one <= own[:, 2])
    return Judged(
        row["code"], row["case"], label, one.size, max(1 - within / one.var(), 0.0),
        1 - np.var(one - mean) / one.var(),
        float(np.mean(own[:, 2] - own[:, 0]) / np.mean(alike[:, 2] - alike[:, 0])),
        interval_score(one, own[:, 0], own[:, 2]) / interval_score(one, alike[:, 0], alike[:, 2]),
        float(np.mean(abs(one - own[:, 1])) / np.mean(abs(one - alike[:, 1]))), float(inside.mean()),
        np.stack([quantile_line(design, one, q) for q in QUANTILES]),
    )  # fmt: skip


def page(found: list[Judged], rigs: int, draws: int) -> list[str]:
    """The page's lines."""
    lines = [
        "# The launch model's sizes, rig by rig",
        "",
        f"Written by `calibrate/physics_sizes.py` on {datetime.date.today().isoformat()}, shaftwright "
        f"{shaftwright.__version__}, Python {platform.python_version()}, NumPy {np.__version__}, SciPy "
        f"{scipy.__version__}: {rigs} random plausible rigs, {draws} draws of the unmeasured settings "
        f"each, seed {SEED}, the same as in `docs/physics_against_rules.md`.",
        "",
        "A real launch of every change takes seconds for each rig. What is known of a rig beforehand "
        f"({', '.join(FACTS)}) tells part of its sizes at once: linear regression quantiles at 2.5, 50 and "
        "97.5 %. Every figure below is for rigs that were left out of the fit (a fifth at a time); "
        "width, score and miss are shares of what one range for all rigs gives, so under 100 is better.",
        "",
        "| rule | change tried | pairs | could be told at most, R2 | told, R2 | width % | interval score % "
        "| middle's miss % | inside the 95 % | used |",
        "|---|---|---:|---:|---:|---:|---:|---:|---:|---|",
    ]
    lines += [
        f"| {one.code} {one.case} | {one.change} | {one.pairs} | {one.between:.2f} | {one.r2:.2f} "
        f"| {100 * one.width:.0f} | {100 * one.score:.0f} | {100 * one.miss:.0f} | {100 * one.held:.0f} "
        f"| {'own' if one.pays else 'all rigs'} |"
        for one in found
    ]
    return [
        *lines,
        "",
        f"A rule gets a size of its own where that narrows the range to {100 * WIDTH:.0f} % or less and "
        f"the interval score to {100 * SCORE:.0f} % or less; the others keep the size of all rigs. \"At "
        "most\" is what the best of all tables could tell: the rest differs by settings that nobody "
        "measures, on one and the same rig. So the gain is small, and it is real; the way to "
        "a rig's own sizes stays a launch (`shaftwright launch`), and the surest its own bare shafts.",
        "",
        "The lines are in `tables/physics_sizes_by_rig.csv`: value at the trial's middle, then the "
        "slope for each fact; beyond the trial's ranges a fact counts as at their edge. Where no draw "
        "curve was measured the doubt of its fullness widens the range further.",
        "",
    ]  # fmt: skip


def rows_of(found: list[Judged], told: Array) -> list[dict[str, str]]:
    """The table's rows: the trial's facts, then three lines for each rule that pays."""
    source = "launch model, docs/physics_sizes_by_rig.md"
    rows = []
    for part, values in (
        ("least", told.min(axis=0)), ("middle", told.mean(axis=0)), ("most", told.max(axis=0)),
    ):  # fmt: skip
        facts = {name: f"{value:.6g}" for name, value in zip(FACTS, values, strict=True)}
        rows.append({"code": "-", "case": "", "part": part, "at_middle": "", **facts,
                     "basis": "calculated", "source": source, "note": "facts of the trial"})  # fmt: skip
    for one in found:
        if not one.pays:
            continue
        for part, line in zip(PARTS, one.lines, strict=True):
            slopes = {name: f"{value:.6g}" for name, value in zip(FACTS, line[1:], strict=True)}
            rows.append({"code": one.code, "case": one.case, "part": part,
                         "at_middle": f"{line[0]:.6g}", **slopes, "basis": "calculated",
                         "source": source, "note": one.change})  # fmt: skip
    return rows


def main(rigs: int = 500, draws: int = 4) -> None:
    """Launch, fit, judge, and write page and table."""
    book = rulebook()
    by_kind = {change.change: change for change in standard_changes()}
    # of two changes tried for one rule the first gives its size, as in tables/physics_sizes.csv
    tried = {(r["code"], r["case"]): r for r in reversed(table("physics_rules")) if r["change"]}
    wanted = [r for (code, _), r in reversed(tried.items()) if code != "-"]
    rig = random_rigs(rigs, draws, seed=SEED)
    facts = facts_of(rig)
    told = np.column_stack([np.ones(len(facts)), facts - facts.mean(axis=0)])
    found = []
    changes = [by_kind[row["change"]] for row in wanted]
    for row, change, pct in zip(wanted, changes, moves_pct(rig, changes), strict=True):
        rule = book.find(row["code"])
        assert rule is not None
        amount = coefficients(row["counts"], rule, book, change, rig)
        found.append(judged(row, change.label, pct / amount[:, None], told))
    PAGE.write_text("\n".join(page(found, rigs, draws)), encoding="utf-8")
    rows = rows_of(found, facts)
    with TABLE.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
