"""Judge the product that PYTHONPATH finds in worlds that share nothing with its engine.

`bands` and `archers` print a table; `page` runs everything, for the product as it stood before too, and
writes docs/calibration_worlds.md. Seeds under 90000 are for development.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from calibrate.worlds import bands, launched, obeying, product
from calibrate.worlds.page import FINAL, PAGE, Judged, page
from calibrate.worlds.world import LAUNCHED, TRIALS, WORLDS, elsewhere

ROOT = Path(__file__).resolve().parents[2]
#: the product as it stood before it was judged in these worlds
BEFORE = "a3ef635"
MANY, FEW = 400, 150


def main() -> None:
    """Run what is asked."""
    parser = argparse.ArgumentParser(prog="python -m calibrate.worlds", description=__doc__)
    parser.add_argument("what", choices=["bands", "archers", "oracle", "launches", "page"])
    parser.add_argument("--first", type=int, help="first seed")
    parser.add_argument("--archers", type=int, help="how many in each world (page: for the bands)")
    parser.add_argument(
        "--obeying", type=int, default=FEW, help="page: how many obey `next` in each world"
    )
    parser.add_argument("--worlds", nargs="+", choices=[*WORLDS, *TRIALS], default=list(WORLDS))
    parser.add_argument(
        "--before", default=BEFORE, help="page: a commit, or a folder with its source"
    )
    parser.add_argument(
        "--rows", type=Path, help="keep every archer in this file (page: in this folder)"
    )
    given = parser.parse_args()
    usual = {"archers": (71_000, 100), "oracle": (71_000, 100), "page": (FINAL, MANY)}
    first, many = usual.get(given.what, (70_000, 200))
    first = first if given.first is None else given.first
    seeds = range(first, first + (given.archers or many))
    if given.what == "page":
        write_page(seeds, given.obeying, given.worlds, given.before, given.rows)
        return
    started = time.process_time()
    rows, told = measured(given.what, seeds, given.worlds)
    if given.rows:
        kept = {"product": product.which(), "rows": rows}
        given.rows.write_text(json.dumps(kept, default=float), encoding="utf-8")
    print(
        f"{product.which()}; seeds {seeds[0]} to {seeds[-1]}; {time.process_time() - started:.0f} s"
    )
    print(told)


def measured(what: str, seeds: Sequence[int], worlds: Sequence[str]) -> tuple[list[Any], str]:
    """Rows and a table of one measure."""
    if what == "bands":
        rows = [bands.archer(seed, worlds) for seed in seeds]
        return rows, bands.text(rows, worlds)
    if what == "launches":
        for world in (w for w in worlds if w in LAUNCHED):
            for seed in seeds:
                elsewhere(seed, world)
        return [], f"launches of {len(seeds)} archers are in {launched.KEPT.name}"
    one = obeying.obeys if what == "archers" else obeying.guided
    rows = [one(seed, world) for world in worlds for seed in seeds]
    return rows, obeying.text(rows, what, worlds)


def write_page(
    seeds: range, few: int, worlds: Sequence[str], before: str, rows: Path | None
) -> None:  # fmt: skip
    """Everything, on two cores: both products on the same archers, and the oracle once."""
    with tempfile.TemporaryDirectory() as folder:
        kept = rows or Path(folder)
        kept.mkdir(parents=True, exist_ok=True)
        old = _source(before, Path(folder))
        half = len(seeds) // 2
        at = ["--worlds", *worlds, "--first"]
        # truths first: launches of the product as it stood
        parts = (seeds[0], half), (seeds[half], len(seeds) - half)
        _together(*([old, ["launches", *at, str(n), "--archers", str(m)]] for n, m in parts))
        now = str(Path(product.shaftwright.__file__).resolve().parents[1])
        many = [*at, str(seeds[0]), "--archers", str(len(seeds)), "--rows"]
        some = [*at, str(seeds[0]), "--archers", str(few), "--rows"]
        for what, length in (("bands", many), ("archers", some)):
            _together(*([src, [what, *length, str(kept / f"{what}_{name}.json")]]
                        for name, src in (("now", now), ("before", old))))  # fmt: skip
        parts = (seeds[0], few // 2), (seeds[0] + few // 2, few - few // 2)
        _together(*([now, ["oracle", *at, str(n), "--archers", str(m), "--rows", str(kept / f"oracle_{n}")]]
                    for n, m in parts))  # fmt: skip
        files = [p for p in kept.iterdir() if p.is_file()]
        read = {p.stem: json.loads(p.read_text(encoding="utf-8")) for p in files}
    guided = [row for n, _ in parts for row in read[f"oracle_{n}"]["rows"]]
    names = {"now": product.which(), "before": f"commit {before}" if before == BEFORE else before}
    judged, stood = (
        Judged(name, read[f"bands_{n}"]["rows"], read[f"archers_{n}"]["rows"])
        for n, name in names.items()
    )
    PAGE.write_text(page(judged, stood, guided), encoding="utf-8")
    print(f"written: docs/{PAGE.name}")


def _source(before: str, folder: Path) -> str:
    """The source folder of the product as it stood: given, or taken out of the repository."""
    if Path(before).is_dir():
        return str(Path(before).resolve())
    archive = subprocess.run(
        ["git", "archive", before], cwd=ROOT, check=True, stdout=subprocess.PIPE
    ).stdout
    with tarfile.open(fileobj=io.BytesIO(archive)) as tree:
        tree.extractall(folder / "before", filter="data")
    return str(folder / "before" / "src")


def _together(*runs: list[Any]) -> None:
    """Runs of this package beside each other, each with the product of its source folder."""
    started = []
    for source, words in runs:
        env = {**os.environ, "PYTHONPATH": source, "WORLDS_KEPT": str(launched.KEPT)}
        command = [sys.executable, "-m", "calibrate.worlds", *words]
        started.append(subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL))
    failed = [run.wait() for run in started]
    if any(failed):
        sys.exit("a run failed; its words are above")


if __name__ == "__main__":
    main()
