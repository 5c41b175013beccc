"""Archers who obey the product as it stood before the plan: the baseline that the plan is compared with.

Takes the source of COMMIT out of the repository into a temporary folder and runs driver.py inside it,
on archers of calibrate/archers/world.py. What is done is kept line by line, so that a run can be cut
and taken up again; the figures are committed as archers_ddc0948.csv, since that source does not change.

Run `python calibrate/before/run.py --first 50000 --archers 1000` (about ten minutes on one core).
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import io
import json
import os
import platform
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

COMMIT = "ddc0948"
HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
TABLE = HERE / f"archers_{COMMIT}.csv"
RUNS = HERE / f"archers_{COMMIT}.jsonl"
AT_ONCE = 20


def done() -> dict[int, dict[str, Any]]:
    """Archers already run: of the table, and of a run that was cut."""
    found: dict[int, dict[str, Any]] = {}
    if TABLE.is_file():
        with TABLE.open(newline="", encoding="utf-8") as file:
            lines = (line for line in file if not line.startswith("#"))
            found |= {int(r["seed"]): read(r) for r in csv.DictReader(lines)}
    if RUNS.is_file():
        for line in RUNS.read_text(encoding="utf-8").splitlines():
            try:
                one = json.loads(line)
            except ValueError:  # the last line of a run that was cut
                continue
            found[int(one["seed"])] = one
    return found


def read(row: dict[str, str]) -> dict[str, Any]:
    """A row of the table as the driver wrote it."""
    return {key: json.loads(value) if value else None for key, value in row.items()}


def run(seeds: Iterable[int]) -> None:
    """Run what is not done yet, in a process of the old source."""
    left = [seed for seed in seeds if seed not in done()]
    if not left:
        return
    archive = subprocess.run(
        ["git", "archive", COMMIT], cwd=ROOT, check=True, stdout=subprocess.PIPE
    ).stdout
    with tempfile.TemporaryDirectory() as folder:
        with tarfile.open(fileobj=io.BytesIO(archive)) as tree:
            tree.extractall(folder, filter="data")
        path = os.pathsep.join([f"{folder}/src", str(ROOT / "calibrate")])
        env = {**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1"}
        for start in range(0, len(left), AT_ONCE):
            part = [str(seed) for seed in left[start : start + AT_ONCE]]
            with RUNS.open("a", encoding="utf-8") as file:
                subprocess.run(
                    [sys.executable, str(HERE / "driver.py"), *part], cwd=folder, env=env, check=True,
                    stdout=file,
                )  # fmt: skip


def write_table() -> None:
    """All that is done, as committed data."""
    runs = [one for _, one in sorted(done().items())]
    head = [
        f"# Archers who obeyed the product of commit {COMMIT}, written by calibrate/before/run.py",
        f"# on {dt.date.today().isoformat()}, Python {platform.python_version()}, numpy {np.__version__};",
        f"# {len(runs)} archers, seeds {_spans([one['seed'] for one in runs])}; every cell is JSON",
    ]
    out = io.StringIO()
    columns = [key for key in runs[0] if key != "cpu_s"]
    writer = csv.DictWriter(out, columns, extrasaction="ignore", lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: json.dumps(one[key]) for key in columns} for one in runs)
    TABLE.write_text("\n".join([*head, out.getvalue()]), encoding="utf-8")
    RUNS.unlink(missing_ok=True)


def _spans(seeds: list[int]) -> str:
    spans: list[list[int]] = []
    for seed in seeds:
        if spans and seed == spans[-1][1] + 1:
            spans[-1][1] = seed
        else:
            spans.append([seed, seed])
    return ", ".join(f"{a} to {b}" for a, b in spans)


def main() -> None:
    """Run, and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first", type=int, default=50_000)
    parser.add_argument("--archers", type=int, default=1000)
    given = parser.parse_args()
    run(range(given.first, given.first + given.archers))
    write_table()


if __name__ == "__main__":
    main()
