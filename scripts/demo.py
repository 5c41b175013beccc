"""The main job on the examples, one command after the other, as an archer would run them."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
RIG = "examples/heron_marsh.yaml"
STOCK = "--stock examples/stock.csv"
STEPS = (
    ("Which shaft do I buy, at what length, with what up front?", f"choose {RIG} {STOCK}"),
    ("Why? Every number taken apart.", f"explain {RIG}"),
    ("One build looked at closely.",
     f"build {RIG} {STOCK} --shaft MARSH-400 --length '30 1/2 in' --point P175 --insert I25"),
    ("A longbow and wood shafts.", f"choose examples/long_fen.yaml {STOCK} --material wood"),
    ("A left-handed 3-D barebow.", f"choose examples/reed_lark.yaml {STOCK}"),
)  # fmt: skip


def main() -> int:
    """Run every step; stop at the first that fails."""
    (ROOT / "demo-out").mkdir(exist_ok=True)
    for title, command in STEPS:
        print(f"\n=== {title}\n$ shaftwright {command}\n", flush=True)
        words = [sys.executable, "-m", "shaftwright", *shlex.split(command)]
        run = subprocess.run(words, cwd=ROOT, check=False, env={**os.environ, "COLUMNS": "80"})
        if run.returncode:
            return run.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
