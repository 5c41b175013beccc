"""The JSON documents key by key, in docs/json.md: keys from commands, words from classes and json_words.yaml.

`python scripts/json_fields.py` writes the page, `--check` refuses one that has drifted.
"""

from __future__ import annotations

import ast
import json
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from click.testing import CliRunner

from shaftwright.cli.main import cli

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "shaftwright"
PAGE = ROOT / "docs" / "json.md"
EXAMPLES = ROOT / "examples"
_DAY = ["--date", "2026-05-31"]
ARROWS = {
    "heron_marsh": "--shaft MARSH-500 --length 29.5in --point P175 --insert I25",
    "long_fen": "--shaft SPRUCE-516-35 --length 30in --point PW-516-100",
    "reed_lark": "--shaft TERN-700 --length 30in --point P125 --insert I12",
}
WORDS: dict[str, str] = yaml.safe_load(
    (ROOT / "scripts" / "json_words.yaml").read_text(encoding="utf-8")
)
HEAD = """# The documents of `--json`

Written by `python scripts/json_fields.py` from what the commands print on the examples, from the words
beside the fields of the classes and from scripts/json_words.yaml. Keys end in their unit. A range is
`low, mid, high` or `low, high`; a chance is 0 to 1. Nothing that is not listed here should be relied on.

## In every document of a bow
"""
#: what every document of a bow has; told once
SHARED = ("format", "next", "shot", "seed", "own_rules", "rig", "purpose", "warnings")


def proven() -> str:
    """A copy of the first example, practised with until its arrow is proven."""
    bow = Path(tempfile.mkdtemp()) / "bow"
    shutil.copytree(EXAMPLES / "heron_marsh", bow)
    rig = (bow / "rig.yaml").read_text(encoding="utf-8")
    (bow / "rig.yaml").write_text(
        rig.replace("purpose: hunting", "purpose: practice"), encoding="utf-8"
    )
    end = {"kind": "bareshaft", "distance": "20 yd", "taped": True, "marks": "none",
           "build": {"shaft": "MARSH-500", "length": 29.5, "point": "P175", "insert": "I25"},
           "fletched": [[0.5, -0.6], [-1.0, 0.9], [0.5, -0.3]],
           "bare": [[-1, 0.7], [1, -0.7], [0, 0]]}  # fmt: skip
    (bow / "notebook.yaml").write_text(f"- {json.dumps(end)}\n" * 3, encoding="utf-8")
    return str(bow)


def commands() -> Iterator[tuple[str, list[str]]]:
    """Each command with the arguments that make its documents on the examples."""
    for bow, arrow in ARROWS.items():
        where = str(EXAMPLES / bow)
        for name in ("next", "choose", "explain", "bareshaft", "shop"):
            yield name, [name, where]
        yield "card", ["card", where, *_DAY]
        yield "build", ["build", where, *arrow.split()]
        # these are the dearest: what other bows say has the same keys
        if bow == "heron_marsh":
            yield "flight", ["flight", where, *arrow.split(), "--point-on", "30 yd"]
        if bow != "long_fen":
            yield "launch", ["launch", where, *arrow.split(), "--draws", "4"]
        yield "report", ["report", where, *_DAY]
    heron = EXAMPLES / "heron_marsh"
    yield "shop", ["shop", str(heron), "--notebook", "-"]
    yield "shop", ["shop", str(heron), str(EXAMPLES / "reed_lark")]
    few = [word for item in ("MARSH-400", "P125", "I25") for word in ("--bring", item)]
    yield "sheet", ["sheet", str(heron), "--notebook", "-", *few]
    yield "compare", ["compare", str(heron)]
    yield "brace", ["brace", str(heron / "brace.notebook.yaml")]
    masses = str(heron / "masses.notebook.yaml")
    yield "efficiency", ["efficiency", str(heron), "--notebook", masses]
    for name in ("choose", "explain"):
        yield name, [name, str(heron), "--rules", str(EXAMPLES / "own_rules" / "rules")]
    yield "rules list", ["rules", "list"]
    yield "rules check", ["rules", "check", "--rules", str(EXAMPLES / "own_rules" / "rules")]
    yield "rules fit", ["rules", "fit", str(EXAMPLES / "tuned_rigs.csv")]
    yield "rules contribute", ["rules", "contribute", proven()]
    yield "rules score", ["rules", "score", str(EXAMPLES / "tuned_rigs.csv")]


@dataclass
class Node:
    """What was seen under one key."""

    kinds: set[str] = field(default_factory=set)
    keys: dict[str, Node] = field(default_factory=dict)

    def see(self, value: Any) -> None:
        """Take one value in, with everything below it."""
        if isinstance(value, dict):
            self.kinds.add("object")
            for key, item in value.items():
                self.keys.setdefault(key, Node()).see(item)
        elif isinstance(value, list):
            self.kinds.add("list")
            for item in value:
                if isinstance(item, dict):
                    self.see(item)
                    self.kinds.discard("object")
        elif value is None:
            self.kinds.add("null")
        else:
            self.kinds.add({bool: "true or false", str: "text"}.get(type(value), "number"))


@dataclass(frozen=True)
class Told:
    """One class with the words beside its fields."""

    fields: frozenset[str]
    words: dict[str, str]


def classes() -> list[Told]:
    """Every class with fields, and the `#:` line above or the docstring of each."""
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        lines = path.read_text(encoding="utf-8").splitlines()
        for node in ast.walk(ast.parse("\n".join(lines))):
            if not isinstance(node, ast.ClassDef):
                continue
            words: dict[str, str] = {}
            names = set()
            for one in node.body:
                if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name):
                    names.add(one.target.id)
                    words |= _above(lines, one.lineno, one.target.id)
                elif isinstance(one, ast.FunctionDef) and ast.get_docstring(one):
                    names.add(one.name)
                    words[one.name] = (ast.get_docstring(one) or "").split("\n")[0]
            found.append(Told(frozenset(names), words))
    return found


def _above(lines: list[str], number: int, name: str) -> dict[str, str]:
    told: list[str] = []
    at = number - 2
    while at >= 0 and lines[at].strip().startswith("#:"):
        told.insert(0, lines[at].strip()[2:].strip())
        at -= 1
    return {name: " ".join(told)} if told else {}


def words_for(path: str, beside: set[str], known: list[Told]) -> str:
    """What is said of a path: by `json_words.yaml`, or by the class that the key's neighbours belong to."""
    parts = path.split(".")
    for ends in (parts, [*parts[:-1], "*"]):
        for start in range(len(parts) - 1):
            if (named := ".".join(ends[start:])) in WORDS:
                return WORDS[named]
    key = parts[-1]
    mine = [told for told in known if key in told.words]
    best = max(mine, key=lambda told: len(told.fields & beside), default=None)
    if best is not None and len(best.fields & beside) >= min(3, len(beside)):
        return best.words[key].rstrip(".")
    return WORDS.get(key, "")


def rows(
    node: Node, known: list[Told], told: dict[frozenset[str], str], command: str, before: str = "",
    depth: int = 3,
) -> Iterator[str]:  # fmt: skip
    """A line a key, those below it by their path; an object told before only by where that was."""
    for key, below in node.keys.items():
        kinds = " or ".join(sorted(below.kinds - {"null"}))
        kinds += (", or null" if kinds else "null in the examples") if "null" in below.kinds else ""
        path = f"{before}{key}"
        shape = frozenset(below.keys)
        words = words_for(f"{command}.{path}", set(node.keys), known)
        named = all(re.fullmatch(r"[a-z][a-z0-9_]*", name) for name in shape)
        if len(shape) > 3 and shape in told:
            words = f"{words}; as `{told[shape]}`".removeprefix("; ")
        yield f"| `{path}` | {kinds} | {words} |"
        if depth > 1 and shape and named and shape not in told:
            if len(shape) > 3:
                told[shape] = path
            yield from rows(below, known, told, command, f"{path}.", depth - 1)


def page() -> str:
    """The whole page."""
    seen: dict[str, Node] = {}
    for name, args in commands():
        result = CliRunner().invoke(cli, [*args, "--json"])
        if result.exit_code != 0:
            raise SystemExit(f"{' '.join(args)}: {result.output}")
        seen.setdefault(name, Node()).see(json.loads(result.stdout))
    known = classes()
    told = [*HEAD.split("\n"), "| key | kind | what it is |", "|---|---|---|"]
    shared = Node(keys={k: v for k, v in seen["choose"].keys.items() if k in SHARED})
    objects: dict[frozenset[str], str] = {}
    told += rows(shared, known, objects, "all")
    for name, node in seen.items():
        own = Node(keys={k: v for k, v in node.keys.items() if k not in SHARED})
        if own.keys:
            told += ["", f"## `{name}`", "", "| key | kind | what it is |", "|---|---|---|"]
            told += rows(own, known, objects, name)
    return "\n".join(told) + "\n"


def main() -> None:
    """Write the page, or refuse one that has drifted."""
    text = page()
    if "--check" in sys.argv:
        if not PAGE.exists() or PAGE.read_text(encoding="utf-8") != text:
            raise SystemExit("docs/json.md has drifted: run python scripts/json_fields.py")
        return
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
