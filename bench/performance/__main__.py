"""Measures growth, cold starts, a shop of 5,000 rows and imports, and writes docs/performance.md.

`python -m bench.performance` (`make performance`) measures all; with `growth`, `shop`, `starts` or `imports` only that, with
`page` nothing; `PYTHONPATH=other/src python -m bench.performance before` growth and starts of another checkout, to stand beside.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

for folder in ("bench", "trust"):
    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / folder))
from bench.performance.page import write
from record import machine, versions
from smoke import ARROW

from bench_choose import BARE, ENV, ROOT, child
from bench_shop import large_stock

MEASURED = Path(__file__).resolve().parent / "measured.json"
SIZES = (1_000, 10_000, 100_000, 1_000_000, 3_000_000, 10_000_000)
ROUNDS = 3
#: name -> what is asked in a copy of the examples; BOW has a notebook of 49 entries
COMMANDS = {
    "--help": "--help", "new": "new fresh{round}", "next": "next BOW", "choose": "choose BOW",
    "choose, no notebook": "choose reed_lark", "explain": "explain BOW", "build": "build BOW ARROW",
    "bareshaft": "bareshaft BOW", "shop": "shop BOW", "shop, nothing shot": "shop long_fen",
    "sheet": "sheet BOW --notebook -", "note": "note BOW chrono --speed 171 --arrow-mass 505 --string A",
    "compare": "compare BOW", "brace": "brace BOW/brace.notebook.yaml",
    "efficiency": "efficiency BOW --notebook BOW/masses.notebook.yaml", "flight": "flight BOW ARROW",
    "launch": "launch BOW ARROW", "card": "card BOW", "report": "report BOW --html report.html --force",
    "rules check": "rules check",
}  # fmt: skip
BEFORE = ("--help", "next", "choose", "choose, no notebook")
IMPORTS = ("click", "numpy", "pydantic", "yaml", "jinja2", "matplotlib.figure", "scipy.stats", "pandas",
           "starlette.applications", "uvicorn", "python_multipart")  # fmt: skip
SHAFTS, POINTS, ROWS = 2_200, 700, 5_000
PARTS = ("growth", "starts", "shop", "imports")


def middle(rounds: list[tuple[float, float]]) -> dict[str, float]:
    """Median CPU seconds, and the highest peak."""
    return {"cpu_s": statistics.median(r[0] for r in rounds), "peak_mib": max(r[1] for r in rounds)}


def words(line: str, k: int) -> list[str]:
    """A command's words."""
    bow = [w.replace("BOW", "heron_marsh") for w in line.format(round=k).split()]
    return [one for w in bow for one in (ARROW if w == "ARROW" else (w,))]


def starts(
    folder: Path, env: dict[str, str], asked: tuple[str, ...]
) -> dict[str, dict[str, float]]:
    """Every command from cold; those that are told beside others several times, in turns with the bare one."""
    (folder / "bare.py").write_text(BARE)
    seen: dict[str, list[tuple[float, float]]] = {}
    for k in range(ROUNDS):
        turn = {"bare click": ("bare.py", "--help")}
        turn |= {n: ("-m", "shaftwright", *words(COMMANDS[n], k)) for n in (BEFORE if k else asked)}
        for name, line in turn.items():
            seen.setdefault(name, []).append(child(*line, env=env, cwd=folder))
    return {name: middle(rounds) for name, rounds in seen.items()}


def grown(env: dict[str, str], sizes: tuple[int, ...]) -> list[dict[str, float]]:
    """Every size in a process of its own; of the small ones the middle of three."""
    found = []
    for size in sizes:
        asked = [sys.executable, "-m", "bench.performance.growth", str(size)]
        runs = [json.loads(subprocess.run(asked, check=True, capture_output=True, text=True, env=env, cwd=ROOT).stdout)
                for _ in range(3 if size <= 100_000 else 1)]  # fmt: skip
        found.append(sorted(runs, key=lambda r: r["cpu_s"])[len(runs) // 2])
        print(found[-1], flush=True)
    return found


def shop_file(path: Path) -> None:
    """A stock of 5,000 rows: shafts of 40 lines, points, and the other parts, each sold in many packs."""
    items = large_stock(40, SHAFTS // 40).items
    shafts = [i for i in items if i.kind == "shaft"]
    points = [i for i in items if i.kind == "point"]
    others = [i for i in items if i.kind not in ("shaft", "point")]
    many = ROWS - SHAFTS - POINTS
    parts = [(points[i % len(points)], i) for i in range(POINTS)]
    parts += [(others[i % len(others)], POINTS + i) for i in range(many)]
    rows = [i.model_dump(exclude_none=True, exclude_defaults=True) for i in shafts]
    rows += [
        i.model_dump(exclude_none=True, exclude_defaults=True) | {"item": f"{i.item}-{n}"}
        for i, n in parts
    ]
    head = (
        (ROOT / "examples" / "heron_marsh" / "stock.csv")
        .read_text("utf-8")
        .split("\n", 1)[0]
        .split(",")
    )
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, head)
        out.writeheader()
        out.writerows(rows)


def shop(folder: Path, env: dict[str, str]) -> dict[str, dict[str, float]]:
    """The commands that read a stock, on the large one."""
    shop_file(folder / "large.csv")
    return {
        line: middle([child("-m", "shaftwright", *line.split(), env=env, cwd=folder)])
        for line in (
            "choose reed_lark --stock large.csv",
            "choose heron_marsh --stock large.csv",
            "shop reed_lark --stock large.csv",
        )
    }


def imports(env: dict[str, str]) -> dict[str, float]:
    """CPU seconds of every package's import alone, in a process of its own."""
    timed = "import time; t = time.process_time(); import {}; print(time.process_time() - t)"

    def one(name: str) -> float:
        run = subprocess.run(
            [sys.executable, "-c", timed.format(name)],
            check=True,
            capture_output=True,
            text=True,
            env=env,
        )
        return float(run.stdout)

    return {name: statistics.median(one(name) for _ in range(ROUNDS)) for name in IMPORTS}


def measured(part: str, before: bool) -> dict[str, object]:
    """One part of it, or of another checkout what is told beside."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made) / "bows"
        shutil.copytree(ROOT / "examples", folder)
        source = os.environ.get("PYTHONPATH", str(ROOT / "src"))
        # as installed: compiled, which is no part of a start
        subprocess.run([sys.executable, "-m", "compileall", "-q", source], check=True)
        env = {**ENV, "OMP_NUM_THREADS": "1", "PYTHONPATH": source}
        match part:
            case "starts":
                found = starts(folder, env, BEFORE if before else tuple(COMMANDS))
            case "shop":
                found = shop(folder, env)
            case "growth":
                found = grown(env, SIZES[4:5] if before else SIZES)
            case _:
                found = imports(env)
        return {part: found}


def main() -> None:
    """Measure what is named, else everything, and write the page."""
    kept = json.loads(MEASURED.read_text(encoding="utf-8")) if MEASURED.exists() else {}
    asked = sys.argv[1:]
    before = "before" in asked
    into = kept.setdefault("before", {}) if before else kept
    for part in PARTS[: 2 if before else 4]:
        if not set(asked) & {*PARTS, "page"} or part in asked:
            into |= measured(part, before)
            kept |= {"date": dt.datetime.now(dt.UTC).date().isoformat(), "machine": machine(),
                     "versions": versions("numpy", "pydantic", "click", "scipy", "pandas", "matplotlib")}  # fmt: skip
            MEASURED.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    if set(PARTS) <= set(kept):
        write(kept)


if __name__ == "__main__":
    main()
