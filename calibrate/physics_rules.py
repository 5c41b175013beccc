"""The rules against the launch model over random rigs: a docs page and a table of the model's sizes.

Run as `python calibrate/physics_rules.py [rigs] [draws]`; writes docs/physics_against_rules.md and
tables/physics_sizes.csv.
"""

from __future__ import annotations

import csv
import datetime
import platform
import sys
from pathlib import Path

import numpy as np

import shaftwright
from shaftwright.answers.launch.against_rules import SEED, Against, rules_against_physics
from shaftwright.render.screens.rules import sentence, share_told, span_told
from shaftwright.rules.load import rulebook

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "physics_against_rules.md"
SIZES = ROOT / "tables" / "physics_sizes.csv"
#: of two changes tried for one rule, the one whose size goes into the table
SECOND = ("fletching_mass",)


VERDICTS = {
    "agrees": "agree",
    "size_differs": "same sign, other size",
    "sign_unsure": "sign unsure",
    "contradicts": "they disagree",
    "no_trade_sign": "trade has no sign",
}


def against_rows(found: Against) -> list[str]:
    """The comparison as lines of a Markdown table."""
    lines = [
        "| rule | change tried | trade % | trade range | model % | model range | even, late, computed "
        "| fitted data | trade's sign, % | pairs | verdict |",
        "|---|---|---:|---|---:|---|---|---|---:|---:|---|",
    ]
    lines += [
        f"| {rule.name} | {rule.change} | {rule.trade.mid:+.1f} | {span_told(rule.trade)} "
        f"| {rule.physics.mid:+.1f} | {span_told(rule.physics)} "
        f"| {', '.join('none' if m is None else f'{m:+.1f}' for m in rule.by_law.values())} "
        f"| none | {share_told(rule)} "
        f"| {rule.pairs} | {VERDICTS[rule.verdict]} |"
        for rule in found.rules
    ]
    return lines


def page(found: Against) -> list[str]:
    """The page's lines."""
    told = [f"* {sentence(rule)}." for rule in found.rules if rule.verdict != "agrees"]
    untried = [f"* **{rule.name}**: {rule.why}." for rule in found.untried]
    return [
        "# The rules of the trade against the launch model",
        "",
        f"Written by `calibrate/physics_rules.py` on {datetime.date.today().isoformat()}, "
        f"shaftwright {shaftwright.__version__}, Python {platform.python_version()}, NumPy "
        f"{np.__version__}: {found.rigs} random plausible rigs, {found.draws} draws of the unmeasured "
        f"settings each, seed {SEED}. What stands for which rule: `tables/physics_rules.csv`.",
        "",
        "Per cent of stiffness asked for; + is a stiffer shaft. The trade's figures are the rule's "
        "most likely value and 95 % range for the change tried, at the middle of the rigs; the "
        "model's are the middle and 95 % over rigs, settings and three laws of how the string's "
        "sideways stiffness grows, counting alike, each pair its own control: even (the model as first "
        "written), late (with the square of the travel) and computed (two limbs and an elastic string). "
        "No turning is the mark of a match; `docs/launch_signs.md` shows what other choices do. A law "
        "that finds a match in under a third of the pairs has no say. It was fitted to no rule. No set "
        "of tuned rigs is fitted here, so the column of fitted data is empty.",
        "",
        *against_rows(found),
        "",
        "## Where they differ",
        "",
        *told,
        "",
        "Read with care: 95 % over rigs is how rigs differ, not how well the model knows one rig; a "
        "share near 50 % means that the sign hangs on settings and laws nobody knows. The mechanical "
        "release's size is the model's plainest failure against practice, and was not tuned away.",
        "",
        "## Rules in which the model has no say",
        "",
        *untried,
        "",
        "The model's sizes in each rule's own unit are in `tables/physics_sizes.csv`. Answers "
        "join them with the trade's as two studies of one thing "
        "(`docs/decisions/whose-sizes.md`); `--basis trade` or `physics` takes one alone.",
        "",
    ]


def sizes(found: Against) -> list[dict[str, str]]:
    """The model's sizes in the rules' own units, of every rule tried."""
    rows = []
    for rule in found.rules:
        if rule.code == "-" or rule.kind in SECOND:
            continue
        spread = rule.physics
        ends = sorted((spread.low / rule.per_unit_pct, spread.high / rule.per_unit_pct))
        rows.append({
            "code": rule.code, "case": rule.case, "value": f"{spread.mid / rule.per_unit_pct:.3g}",
            "low": f"{ends[0]:.3g}", "high": f"{ends[1]:.3g}",
            **{law: "" if m is None else f"{m / rule.per_unit_pct:.3g}" for law, m in rule.by_law.items()},
            "basis": "calculated",
            "source": "launch model, docs/physics_against_rules.md", "note": rule.change,
        })  # fmt: skip
    return rows


def main(rigs: int = 90, draws: int = 2) -> None:
    """Run the trial and write page and table."""
    found = rules_against_physics(rulebook(), rigs, draws)
    PAGE.write_text("\n".join(page(found)), encoding="utf-8")
    rows = sizes(found)
    with SIZES.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
