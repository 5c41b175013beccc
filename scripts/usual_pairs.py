"""The rules against usual practice, pair by pair, in docs/usual_pairs.md.

`python scripts/usual_pairs.py` writes the page, `--check` refuses one that has drifted. The pairs are
recalled practice (tables/usual_pairs.csv): something to look at, never something to fit to.
"""

from __future__ import annotations

import functools
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from shaftwright.answers.scenario import scenario
from shaftwright.inference.band import spine_band
from shaftwright.physics.spine import mils_from_pounds, pounds_from_mils
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.rig import Rig
from shaftwright.resources import table, usual
from shaftwright.rules.load import Basis
from shaftwright.units import inches

PAGE = Path(__file__).resolve().parents[1] / "docs" / "usual_pairs.md"
CHANCE = 0.8
#: what prints as nothing [lb]
LEAST = 0.05
HEAD = """# The rules against usual practice

Written by `make pairs` (`scripts/usual_pairs.py`) from `tables/usual_pairs.csv`. The pairs are recalled
practice, without a source: what a bow is commonly matched with, by people who mostly shoot feathers, and
feathers hide an arrow that is too stiff. They show where the rules lie far from what is shot. No number of
the rules was chosen to meet them; what was mended, and why, is in `docs/decisions/usual-rig-is-zero.md`.

Pounds are wood spine (31.4992 over the deflection in inches), a bare number is mils. The band holds the
right spine with 80 in 100 by the rules alone, before any shot. *Off* is how far the middle lies outside
the usual range, from its nearer edge: minus is weak.

| pair | usual | best | band of 80 in 100 | best, lb | off, lb |
|---|---|---:|---|---:|---:|"""
MEANS = """
| mean off, lb (standard error) | wood | carbon |
|---|---:|---:|"""
SUMS = """
## Rule by rule

What each rule adds to the draw weight, the mean of its range, in pounds.
"""
WHOSE: dict[Basis, str] = {
    "both": "trade and launch model, as the commands reckon",
    "trade": "the trade's sizes alone",
}


@dataclass(frozen=True)
class Pair:
    """One bow with the shaft usually shot from it, and what the rules say of it [lb]."""

    bow: str
    wood: bool
    usual: tuple[float, float]
    weak: float
    middle: float
    stiff: float
    rules: dict[str, float]

    @property
    def meets(self) -> bool:
        """Whether the band reaches into the usual range."""
        return self.weak <= self.usual[1] and self.stiff >= self.usual[0]

    @property
    def off(self) -> float:
        """How far the middle lies outside the usual range, from its nearer edge."""
        low, high = self.usual
        return min(self.middle - low, 0.0) + max(self.middle - high, 0.0)

    def spine(self, lb: float) -> str:
        """A stiffness in the trade's unit: pounds for wood, mils for carbon."""
        return f"{lb:.0f}" if self.wood else f"{mils_from_pounds(lb):.0f}"


@functools.cache
def pairs(basis: Basis = "both") -> tuple[Pair, ...]:
    """Every row of the table, by whose sizes."""
    return tuple(_pair(row, basis) for row in table("usual_pairs"))


def _pair(row: dict[str, str], basis: Basis) -> Pair:
    kind, draw = row["bow"], float(row["draw_in"])
    window = {"cut": row["cut"]} | ({"by": float(row["by_in"])} if row["by_in"] else {})
    rig = Rig.model_validate({
        "format": 1, "rig": kind, "purpose": "practice",
        "archer": {"hand": "right", "release": "split", "draw_length": draw},
        "bow": {"kind": kind, "limbs": "standard", "rest": "shelf", "window": window,
                "draw_weight": {"lb": float(row["draw_lb"]), "at": "own_draw"},
                "brace_height": usual("brace_height_in", kind),
                "plate": {"thickness": usual("plate_thickness_in"), "material": "leather"}},
        "string": {"material": row["string"], "silencers": 0},
    })  # fmt: skip
    asked = scenario(rig, basis=basis)
    length, front = float(row["length_in"]), float(row["front_gr"])
    wood, radius = row["shaft"] == "wood", float(row["outside_in"]) / 2
    build = builds_by_numbers(None, length, front, radius_in=radius, wood=wood)
    demand = asked.demand(build)
    band = spine_band(demand, build, asked.belief, CHANCE)
    names = {rule.code: rule.name for rule in asked.book.rules}
    rules: dict[str, float] = {}
    for column in demand.columns:
        name = names[column.code]
        rules[name] = rules.get(name, 0.0) + float(np.ravel(column.x)[0]) * column.mean
    ends = [float(row["usual_low"]), float(row["usual_high"])]
    low, high = ends if wood else sorted(float(pounds_from_mils(end)) for end in ends)
    cut = "handle not cut" if row["cut"] == "none" else row["cut"].replace("_", " ")
    riser = cut + (f" {inches(float(row['by_in']))}" if row["by_in"] else "")
    return Pair(
        f"{kind}, {row['draw_lb']} lb at {inches(draw)}, {riser}; "
        f"{row['shaft']}, {inches(length)}, {front:.0f} gr",
        wood, (low, high),
        *(float(pounds_from_mils(mils)) for mils in (band.high, band.mid, band.low)), rules,
    )  # fmt: skip


def mean_off(found: tuple[Pair, ...], wood: bool) -> tuple[float, float]:
    """Mean distance outside the usual range and its standard error, wood or carbon [lb]."""
    off = np.array([pair.off for pair in found if pair.wood is wood])
    return float(off.mean()), float(off.std(ddof=1) / np.sqrt(len(off)))


def page() -> str:
    """The page."""
    found = pairs()
    lines = [HEAD]
    for pair in found:
        low, high = pair.usual if pair.wood else pair.usual[::-1]
        shot = dict.fromkeys(pair.spine(end) for end in (low, high))
        ends = (pair.weak, pair.stiff) if pair.wood else (pair.stiff, pair.weak)
        band = " to ".join(pair.spine(end) for end in ends) + ("" if pair.meets else " (misses)")
        lines.append(
            f"| {pair.bow} | {' to '.join(shot)}{' lb' if pair.wood else ''} | {pair.spine(pair.middle)} | "
            f"{band} | {pair.middle:.1f} | {pair.off:+.1f} |"
        )
    met = sum(pair.meets for pair in found)
    lines += ["", f"{met} of {len(found)} usual ranges meet the band.", MEANS]
    for basis, words in WHOSE.items():
        means = [mean_off(pairs(basis), wood) for wood in (True, False)]
        lines.append(f"| {words} | " + " | ".join(f"{m:+.1f} ({se:.1f})" for m, se in means) + " |")
    return "\n".join([*lines, SUMS, *_sums(found)]) + "\n"


def _sums(found: tuple[Pair, ...]) -> Iterator[str]:
    """The table of what each rule adds, of rules that add anything."""
    names = dict.fromkeys(name for p in found for name, lb in p.rules.items() if abs(lb) >= LEAST)
    yield f"| pair | draw weight | {' | '.join(names)} | best |"
    yield "|---|---:|" + "---:|" * (len(names) + 1)
    for pair in found:
        weight = pair.middle - sum(pair.rules.values())
        sums = [pair.rules.get(name, 0.0) for name in names]
        parts = " | ".join(f"{lb:+.1f}" if abs(lb) >= LEAST else "" for lb in sums)
        yield f"| {pair.bow.split(';')[0]} | {weight:.0f} | {parts} | {pair.middle:.1f} |"


def main() -> None:
    """Write the page, or check it."""
    written = page()
    if "--check" not in sys.argv:
        PAGE.write_text(written, encoding="utf-8")
    elif PAGE.read_text(encoding="utf-8") != written:
        sys.exit(f"{PAGE.name} has drifted from the rules; run make pairs")


if __name__ == "__main__":
    main()
