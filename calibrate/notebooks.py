"""5,000 random notebooks through the one function: nothing told that cannot be done, in any order.

The notebooks and what must hold of every plan are those of tests/plan, where some of them go
through every command. Run `python calibrate/notebooks.py`; it writes docs/calibration_notebooks.md.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import platform
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "plan"))

import numpy as np
from plan_checks import faults_of, scenario_of, without_lines
from random_notebooks import permuted, random_bow

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "calibration_notebooks.md"
#: apart from those of the tests
FIRST, MANY = 10_000, 5_000


def one(seed: int) -> tuple[str, str, list[str]]:
    """Stage, kind, and whatever is wrong."""
    bow = random_bow(seed)
    try:
        asked = scenario_of(bow)
        plan = asked.plan.to_dict()
        wrong = faults_of(bow, plan, asked)
        other = scenario_of(bow, permuted(bow.entries, seed)).plan.to_dict()
        if without_lines(other) != without_lines(plan):
            wrong.append("another order of entries, another plan")
    except Exception as error:
        return "-", "-", [f"{type(error).__name__}: {error}"[:300]]
    return plan["next"]["stage"], plan["next"]["kind"], wrong


def page(
    first: int, many: int, seen: Counter[tuple[str, str]], wrong: list[str], took_s: float
) -> str:
    """What was found, for docs/."""
    commit = subprocess.run(
        ["git", "describe", "--always", "--dirty"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    ).stdout.strip()
    rows = "\n".join(f"| {stage} | {kind} | {n} |" for (stage, kind), n in sorted(seen.items()))
    faults = "\n".join(f"* {told}" for told in wrong[:50]) or "None."
    return f"""# Random notebooks through the plan

Written by `python calibrate/notebooks.py` on {dt.date.today().isoformat()}: Python
{platform.python_version()}, numpy {np.__version__}, commit {commit}; {many} notebooks, seeds {first} to
{first + many - 1}, {took_s:.0f} s on one core.

Each is a bow folder made of an example: hand, draw, weight, purpose, rest and what is known of the bow
at random; one to nine entries of every kind, in coordinates, in words, or against all reason; old limbs,
changes, shafts nobody sells, arrows by numbers, pieces cut, bought and lost. Of every plan, from the
folder alone: the arrow it names can be made from a piece in hand, or is told to be bought; it is not
longer than its piece, nor shorter than is safe, nor too light, nor far too weak on paper and never shot,
nor newly outside the weights of its purpose; in prove and dozen it was shot; its sentences are
sentences; and with the entries between two changes in another order only `lines` is another. Where a
notebook can be read two ways (a `have` of the same day as a shot), the more generous reading counts.

| stage | kind | notebooks |
|---|---|---|
{rows}

Faults found: {len(wrong)}.

{faults}
"""


def main() -> int:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument("--notebooks", type=int, default=MANY)
    parser.add_argument("--page", type=Path, help="write the page; a full run writes docs/")
    given = parser.parse_args()
    started = time.process_time()
    seen: Counter[tuple[str, str]] = Counter()
    wrong: list[str] = []
    for seed in range(given.first, given.first + given.notebooks):
        stage, kind, faults = one(seed)
        seen[stage, kind] += 1
        for told in faults:
            wrong.append(f"seed {seed}: {told}")
            print(wrong[-1], flush=True)
    took = time.process_time() - started
    whole = given.first == FIRST and given.notebooks == MANY
    target = given.page or (PAGE if whole else None)
    if target is not None:
        target.write_text(page(given.first, given.notebooks, seen, wrong, took), encoding="utf-8")
    print(f"{given.notebooks} notebooks, {len(wrong)} faults, {took:.0f} s")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
