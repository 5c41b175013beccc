"""Run the commands shown in the README (and docs) and write their real output into it.

A block is marked by a comment line before it, `<!-- run -->`; its first line is `$ command`, and
`| head -N` at the end of a command shortens what is shown. With `--check` nothing is written and a
difference is an error.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("README.md",)
BLOCK = re.compile(r"(<!-- run -->\n```console\n\$ )([^\n]+)\n(.*?)(```\n)", re.DOTALL)


def output_of(command: str) -> str:
    """What a command prints, run at the top of the checkout."""
    command, _, cut = command.partition(" | head -")
    words = shlex.split(command)
    if words[0] != "shaftwright":
        raise SystemExit(f"only shaftwright commands are run: {command}")
    run = subprocess.run(
        [sys.executable, "-m", "shaftwright", *words[1:]], cwd=ROOT, capture_output=True, text=True,
        check=False, env={**os.environ, "COLUMNS": "80", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    lines = (run.stdout + run.stderr).splitlines()
    if cut and len(lines) > int(cut):
        lines = [*lines[: int(cut)], "..."]
    return "\n".join(lines) + "\n"


def renewed(text: str) -> str:
    """A page with every marked block's output run anew."""
    return BLOCK.sub(lambda m: f"{m[1]}{m[2]}\n{output_of(m[2])}{m[4]}", text)


def main() -> int:
    """Renew or check the pages."""
    stale = []
    for name in PAGES:
        path = ROOT / name
        old = path.read_text(encoding="utf-8")
        new = renewed(old)
        if new != old:
            stale.append(name)
            if "--check" not in sys.argv:
                path.write_text(new, encoding="utf-8")
    if stale and "--check" in sys.argv:
        print(f"{', '.join(stale)} shows output that the commands no longer print; run make readme")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
