"""The main job on the examples, one command after the other, as an archer would run them."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
OUT = "demo-out"
BOW = f"{OUT}/heron_marsh"
END = (
    "--date 2026-05-02 --marks none --taped --fletched '1l 1h' --fletched 1r --fletched 1lo "
    "--bare '2r 1lo' --bare 1l --bare '3r 1h:straight'"
)
STEPS = (
    ("New limbs, a few shafts in hand, two of them shot. What do I do now?", f"next {BOW}"),
    ("Done: three bare shafts beside three fletched ones. Note where they hit.",
     f"note {BOW} bareshaft {END}"),
    ("And now?", f"next {BOW}"),
    ("Which shaft, at what length, with what up front?", f"choose {BOW} --plot {OUT}/map.svg --force"),
    ("Why do my bare shafts go where they go?", f"bareshaft {BOW} --plot {OUT}/target.svg --force"),
    ("What goes on the list, once it is proven?", f"shop {BOW} --csv {OUT}/list.csv --force"),
    ("Another archer, who owns nothing: test shafts first, then the dozen.", "shop examples/reed_lark"),
    ("A longbow that nobody weighed, and wood shafts.", "choose examples/long_fen"),
    ("The setup card.", f"card {BOW} --html {OUT}/card.html --force"),
    ("Everything on one page.", f"report {BOW} --html {OUT}/report.html --force"),
)  # fmt: skip
YOURS = f"""
Map, target, list, card and report are in {OUT}/. Everything in the examples is invented.

Your own bow:
  .venv/bin/shaftwright new my-bow     a folder with a rig, a stock and a notebook, each explained
  fill in my-bow/rig.yaml              `unknown` is allowed and widens the doubt
  fill in my-bow/stock.csv             what you own, and what your shop sells
  .venv/bin/shaftwright next my-bow    the one thing to do; do it, note it, ask again
Bow maker, local law and coach come before anything printed here."""


def main() -> int:
    """Run every step on a fresh copy of an example; stop at the first that fails."""
    shutil.rmtree(ROOT / BOW, ignore_errors=True)
    shutil.copytree(ROOT / "examples" / "heron_marsh", ROOT / BOW)
    for title, command in STEPS:
        print(f"\n=== {title}\n$ shaftwright {command}\n", flush=True)
        run = subprocess.run(
            [sys.executable, "-m", "shaftwright", *shlex.split(command)], cwd=ROOT, check=False,
            stdin=subprocess.DEVNULL, env={**os.environ, "COLUMNS": "80"},
        )  # fmt: skip
        if run.returncode:
            return run.returncode
    print(YOURS)
    return 0


if __name__ == "__main__":
    sys.exit(main())
