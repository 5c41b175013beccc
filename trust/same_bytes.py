"""The same files give the same bytes: other thread counts, hash seeds, time zones, languages, places, and again."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path[:0] = [
    str(Path(__file__).resolve().parent),
    str(Path(__file__).resolve().parents[1] / "tests" / "plan"),
]
from random_notebooks import random_bow
from record import EXAMPLES, write

ARROW = "--shaft MARSH-500 --length 29.5 --point P175 --insert I25"
#: what is printed, and the file that is written beside it
LINES = {
    "next": "next BOW --json",
    "choose": "choose BOW --json --plot OUT.svg",
    "choose, as text": "choose BOW --full --plot OUT.png",
    "explain": "explain BOW --json",
    "build": f"build BOW {ARROW} --json",
    "bareshaft": "bareshaft BOW --json",
    "shop": "shop BOW --json --csv OUT.csv",
    "sheet": "sheet BOW --notebook - --json",
    "compare": "compare BOW --json --plot OUT.pdf",
    "brace": "brace BOW/brace.notebook.yaml --json --plot OUT.svg",
    "efficiency": "efficiency BOW --notebook BOW/masses.notebook.yaml --json",
    "flight": f"flight BOW {ARROW} --json --plot OUT.svg",
    "launch": f"launch BOW {ARROW} --draws 4 --json --plot OUT.svg",
    "card": "card BOW --date 2026-05-31 --html OUT.html",
    "report": "report BOW --date 2026-05-31 --html OUT.html",
    "rules fit": f"rules fit {EXAMPLES}/tuned_rigs.csv --json",
}
#: how many random bows are asked too
BOWS = 12
WAYS: dict[str, dict[str, str]] = {
    "once": {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "1"},
    "again": {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "1"},
    "two threads, another hash seed": {"OMP_NUM_THREADS": "2", "OPENBLAS_NUM_THREADS": "2", "PYTHONHASHSEED": "2"},
    "four threads, another zone and language": {
        "OMP_NUM_THREADS": "4", "OPENBLAS_NUM_THREADS": "4", "PYTHONHASHSEED": "777", "TZ": "Pacific/Auckland", "LC_ALL": "tr_TR.UTF-8",
        "PYTHONUTF8": "1",
    },
    "another place": {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTHONHASHSEED": "5"},
}  # fmt: skip


def told(line: str, bow: Path, way: dict[str, str]) -> str:
    """A hash of everything that a call printed and wrote."""
    out = bow.parent / "out"
    out.mkdir(exist_ok=True)
    words = [w.replace("BOW", "bow").replace("OUT", "out/made") for w in line.split()]
    env = {**os.environ, **way}
    done = subprocess.run([sys.executable, "-m", "shaftwright", *words], cwd=bow.parent, env=env, capture_output=True, check=False)  # fmt: skip
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{line}: {done.stderr.decode()[-300:]}")
    whole = hashlib.sha256(done.stdout + done.stderr)
    for path in sorted(out.iterdir()):
        whole.update(path.read_bytes())
    shutil.rmtree(out)
    return whole.hexdigest()


def main() -> None:
    """Every line in every way; exit code 1 where the bytes differ."""
    differ: list[str] = []
    counts: dict[str, Any] = {"lines": 0, "runs": 0}
    with (
        tempfile.TemporaryDirectory(prefix="trust-") as first,
        tempfile.TemporaryDirectory(prefix="elsewhere-") as second,
    ):
        for place in (first, second):
            shutil.copytree(EXAMPLES / "heron_marsh", Path(place) / "heron" / "bow")
            for seed in range(BOWS):
                random_bow(500 + seed).write(Path(place) / str(seed) / "bow")
        asked = [("heron", name, line) for name, line in LINES.items()]
        for seed in range(BOWS):
            names = ("bareshaft", ("choose", "shop", "explain")[seed % 3])
            asked += [(str(seed), name, LINES[name]) for name in names]
        for folder, name, line in asked:
            found = {
                way: told(
                    line, Path(second if way == "another place" else first) / folder / "bow", env
                )
                for way, env in WAYS.items()
            }
            counts["lines"] += 1
            counts["runs"] += len(found)
            differ += [f"{name} ({folder}): {way}" for way in found if found[way] != found["once"]]
    sys.stdout.write(f"{counts}, differ: {differ}\n")
    write(
        "same_bytes",
        {**counts, "ways": list(WAYS), "differ": differ},
        "numpy",
        "scipy",
        "matplotlib",
    )
    sys.exit(bool(differ))


if __name__ == "__main__":
    main()
