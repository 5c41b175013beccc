"""The main job on the examples, one command after the other, as an archer would run them."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
BOW = "examples/heron_marsh"
BUILD = "--shaft MARSH-400 --length '30 1/2 in' --point P175 --insert I25"
STEPS = (
    ("What do I do now?", f"next {BOW}"),
    ("Before any shot: which shaft do I buy, at what length, with what up front?",
     f"choose {BOW} --notebook - --plot demo-out/map.svg"),
    ("Why? Every number taken apart.", f"explain {BOW} --notebook -"),
    ("Why does my bare shaft go where it goes, and what next?", f"bareshaft {BOW}"),
    ("What the shots left of the doubt.", f"choose {BOW}"),
    ("What goes on the list: test shafts first, then the dozen.",
     "shop examples/reed_lark --csv demo-out/list.csv"),
    ("A longbow and wood shafts.", "choose examples/long_fen"),
    ("One build looked at closely.", f"build {BOW} {BUILD}"),
    ("Its flight.", f"flight {BOW} {BUILD} --plot demo-out/flight.svg"),
    ("Are two strings different?", f"compare {BOW} --by string"),
    ("Brace height swept.", f"brace {BOW}/brace.notebook.yaml"),
    ("Energy and virtual mass from measured speeds.",
     f"efficiency {BOW} --notebook {BOW}/masses.notebook.yaml"),
    ("The setup card.", f"card {BOW} {BUILD} --html demo-out/card.html"),
    ("Everything on one page.", f"report {BOW} --html demo-out/report.html"),
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
