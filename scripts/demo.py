"""The main job on the examples, one command after the other, as an archer would run them."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
RIG = "examples/heron_marsh/rig.yaml"
STOCK = "--stock examples/heron_marsh/stock.csv"
NOTEBOOK = "examples/heron_marsh/notebook.yaml"
SHOTS = f"--notebook {NOTEBOOK}"
BUILD = f"{STOCK} --shaft MARSH-400 --length '30 1/2 in' --point P175 --insert I25"
STEPS = (
    ("Which shaft do I buy, at what length, with what up front?",
     f"choose {RIG} {STOCK} --plot demo-out/map.svg"),
    ("Why? Every number taken apart.", f"explain {RIG}"),
    ("Why does my bare shaft go where it goes, and what next?",
     f"bareshaft {RIG} {SHOTS} {STOCK}"),
    ("What the shots left of the doubt.",
     f"choose {RIG} {STOCK} {SHOTS} --before examples/heron_marsh/before.yaml"),
    ("What goes on the list: test shafts first, then the dozen.",
     f"shop examples/reed_lark/rig.yaml {STOCK} --csv demo-out/list.csv"),
    ("A longbow and wood shafts.", f"choose examples/long_fen/rig.yaml {STOCK} --material wood"),
    ("One build looked at closely.", f"build {RIG} {BUILD}"),
    ("Its flight.", f"flight {RIG} {BUILD} --plot demo-out/flight.svg"),
    ("Are two strings different?", f"compare {NOTEBOOK} --by string"),
    ("Brace height swept.", "brace examples/heron_marsh/brace.notebook.yaml"),
    ("Energy and virtual mass from measured speeds.",
     f"efficiency {RIG} --notebook examples/heron_marsh/masses.notebook.yaml"),
    ("The setup card.", f"card {RIG} {SHOTS} {BUILD} --html demo-out/card.html"),
    ("Everything on one page.", f"report {RIG} {STOCK} {SHOTS} --html demo-out/report.html"),
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
    print("\nPictures, the list, the card and the report are in demo-out/.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
