"""Run the commands shown in the README and write their real output into it.

A block is marked by a comment line before it, `<!-- run -->`. Its lines that begin with `$ ` are commands
(a backslash at the end goes on to the next line); whatever else stands in it is written anew. `| head -N`
at the end of a command shortens what is shown. A page's commands run one after the other beside a fresh
copy of examples/, so they may note shots (`cp -r` makes a copy to do so). With `--check` nothing is
written and a difference is an error.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGES = ("README.md",)
BLOCK = re.compile(r"(<!-- run -->\n```console\n)(.*?)(```\n)", re.DOTALL)
COMMAND = re.compile(r"^\$ (?:.*\\\n)*.*\n", re.MULTILINE)


def output_of(command: str, folder: Path) -> str:
    """What a command prints, run in a folder."""
    command, _, cut = command.partition(" | head -")
    words = shlex.split(command)
    if words[:2] == ["cp", "-r"] and len(words) == 4:
        shutil.copytree(folder / words[2], folder / words[3])
        return ""
    if words[0] != "shaftwright":
        raise SystemExit(f"only shaftwright and cp -r are run: {command}")
    run = subprocess.run(
        [sys.executable, "-m", "shaftwright", *words[1:]], cwd=folder, text=True, check=False,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        env={**os.environ, "COLUMNS": "80", "OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    if run.returncode:
        raise SystemExit(f"this command fails: {command}\n{run.stdout}")
    lines = run.stdout.splitlines()
    if cut and len(lines) > int(cut):
        lines = [*lines[: int(cut)], "..."]
    return "\n".join(lines) + "\n"


def renewed(text: str) -> str:
    """A page with every marked block's output run anew."""
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "examples", Path(folder) / "examples")

        def block(found: re.Match[str]) -> str:
            shown = ""
            for command in COMMAND.findall(found[2]):
                told = command[2:].replace("\\\n", " ").strip()
                shown += command + output_of(told, Path(folder))
            return f"{found[1]}{shown}{found[3]}"

        return BLOCK.sub(block, text)


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
