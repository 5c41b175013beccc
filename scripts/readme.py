"""Run the commands shown in the README and in docs/, and write their real output into the pages.

A block is marked by a comment line before it, `<!-- run -->`. Its lines that begin with `$ ` are commands
(a backslash at the end goes on to the next line); whatever else stands in it is written anew. `| head -N`
at the end of a command shortens what is shown. A page's commands run one after the other beside a fresh
copy of examples/, so they may note shots (`cp` makes a copy to do so). A block marked `<!-- file NAME -->`
is what the reader would write into that file: it is put there. What a command draws into pictures/ goes to
docs/pictures/. With `--check` nothing is written and a difference is an error; of a picture only its words
are compared, since its curves are figures of a machine. Names of pages limit it to those.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import sys
import tempfile
from contextlib import chdir
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from click.testing import CliRunner

from shaftwright.cli.main import cli

ROOT = Path(__file__).resolve().parents[1]
PICTURES = ROOT / "docs" / "pictures"
BLOCK = re.compile(
    r"(<!-- (?:run|file (?P<name>[\w./-]+)) -->\n```\w+\n)(?P<body>.*?)(```\n)", re.DOTALL
)
COMMAND = re.compile(r"^\$ (?:.*\\\n)*.*\n", re.MULTILINE)


def pages() -> list[str]:
    """The README and every page of docs/ that runs something."""
    docs = (p for p in (ROOT / "docs").rglob("*.md") if BLOCK.search(p.read_text(encoding="utf-8")))
    return ["README.md", *sorted(str(p.relative_to(ROOT)) for p in docs)]


def output_of(command: str, folder: Path) -> str:
    """What a command prints, run in a folder."""
    command, _, cut = command.partition(" | head -")
    words = shlex.split(command)
    if words[0] == "cp":
        come, to = (folder / word for word in words[-2:])
        shutil.copytree(come, to) if come.is_dir() else shutil.copy(come, to)
        return ""
    if words[0] != "shaftwright":
        raise SystemExit(f"only shaftwright and cp are run: {command}")
    with chdir(folder):
        run = CliRunner(env={"COLUMNS": "80"}).invoke(cli, words[1:], prog_name="shaftwright")
    if run.exit_code:
        raise SystemExit(f"this command fails: {command}\n{run.output}{run.exception!r}")
    lines = run.output.splitlines()
    if cut and len(lines) > int(cut):
        lines = [*lines[: int(cut)], "..."]
    return "\n".join(lines) + "\n" if lines else ""


def words_of(picture: Path) -> list[str]:
    """The words of a picture, in their order."""
    return re.findall(r"<(?:text|tspan)\b[^>]*>([^<]+)", picture.read_text(encoding="utf-8"))


def renewed(text: str, write: bool) -> tuple[str, list[str]]:
    """A page with every marked block run anew, and the pictures that differ."""
    stale = []
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        shutil.copytree(ROOT / "examples", folder / "examples")
        (folder / "pictures").mkdir()

        def block(found: re.Match[str]) -> str:
            if found["name"]:
                there = folder / found["name"]
                there.parent.mkdir(exist_ok=True)
                there.write_text(found["body"], encoding="utf-8")
                return found[0]
            shown = ""
            for command in COMMAND.findall(found["body"]):
                told = command[2:].replace("\\\n", " ").strip()
                shown += command + output_of(told, folder)
            return f"{found[1]}{shown}{found[4]}"

        text = BLOCK.sub(block, text)
        for new in sorted((folder / "pictures").glob("*.svg")):
            kept = PICTURES / new.name
            if not kept.exists() or words_of(kept) != words_of(new):
                stale.append(f"docs/pictures/{new.name}")
            if write:
                PICTURES.mkdir(exist_ok=True)
                shutil.copy(new, kept)
    return text, stale


def main() -> int:
    """Renew or check the pages."""
    check = "--check" in sys.argv
    stale = []
    for name in [a for a in sys.argv[1:] if a != "--check"] or pages():
        path = ROOT / name
        old = path.read_text(encoding="utf-8")
        new, pictures = renewed(old, not check)
        stale += [*([name] if new != old else []), *pictures]
        if new != old and not check:
            path.write_text(new, encoding="utf-8")
    if stale and check:
        print(f"{', '.join(stale)} shows output that the commands no longer print; run make readme")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
