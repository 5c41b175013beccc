"""Small faults put into plan, inference and rules at random: do the tests of those rooms notice?

`python trust/mutants.py --many 400` draws places from a seed, changes one at a time in a copy of the tree, and
runs the fast tests of the room's own folders until one fails. Tests that fail without a fault are left out.

"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from record import ROOT, write

PACKAGE = Path("src/shaftwright")
ROOMS = ("answers/plan", "inference", "rules")
#: the first that fits a file names the folders of its tests, those that notice most first
TESTS = (
    ("answers/plan/heads.py", "plan stories note"), ("answers/plan/nocking.py", "stories plan diagnosis"), ("answers/plan/", "stories plan diagnosis"),
    ("inference/evidence/", "evidence diagnosis core"), ("inference/speed.py", "speed core flight"), ("inference/chrono.py", "speed core"),
    ("inference/rule_fit.py", "rule_fit clubs"), ("inference/score.py", "clubs"), ("inference/own_error.py", "core evidence"),
    ("inference/", "core evidence diagnosis"), ("rules/own/", "own_rules"),
    ("rules/check.py", "rules own_rules"), ("rules/diagnosis.py", "diagnosis"), ("rules/setup.py", "diagnosis core"), ("rules/", "core rules own_rules"),
)  # fmt: skip
COMPARED = {ast.Lt: "<=", ast.LtE: "<", ast.Gt: ">=", ast.GtE: ">", ast.Eq: "!=", ast.NotEq: "==", ast.Is: "is not", ast.IsNot: "is",
            ast.In: "not in", ast.NotIn: "in"}  # fmt: skip
SUMMED = {
    ast.Add: "-",
    ast.Sub: "+",
    ast.Mult: "/",
    ast.Div: "*",
    ast.BitAnd: "|",
    ast.BitOr: "&",
    ast.Pow: "*",
}
CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
LONGEST_S = 240


def text_of(source: str, node: ast.AST) -> str:
    """The source of a node."""
    return ast.get_source_segment(source, node) or ""


def faults_of(source: str) -> Iterator[tuple[ast.AST, str, str]]:
    """Every small fault that can be put in: where, what stands there then, and its kind."""
    tree = ast.parse(source)
    skipped: set[int] = set()
    for node in ast.walk(tree):
        below: list[ast.AST] = []
        if isinstance(node, ast.AnnAssign):
            below = [node.annotation]
        elif isinstance(node, ast.FunctionDef):
            below = [
                a.annotation for a in (*node.args.args, *node.args.kwonlyargs) if a.annotation
            ] + ([node.returns] if node.returns else [])
            below += node.decorator_list
        elif (isinstance(node, ast.JoinedStr | ast.Raise | ast.Assert)) or (
            isinstance(node, ast.If) and text_of(source, node.test) == "TYPE_CHECKING"
        ):
            below = [node]
        for one in below:
            skipped |= {id(n) for n in ast.walk(one)}
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        whole = text_of(source, node)
        if isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARED:
            yield (
                node,
                f"{text_of(source, node.left)} {COMPARED[type(node.ops[0])]} {text_of(source, node.comparators[0])}",
                "comparison",
            )
        elif (
            isinstance(node, ast.BinOp)
            and type(node.op) in SUMMED
            and not isinstance(node.left, ast.Constant | ast.JoinedStr)
        ):
            yield (
                node,
                f"({text_of(source, node.left)}) {SUMMED[type(node.op)]} ({text_of(source, node.right)})",
                "sum",
            )
        elif isinstance(node, ast.BoolOp):
            word = " or " if isinstance(node.op, ast.And) else " and "
            yield (
                node,
                "(" + word.join(f"({text_of(source, v)})" for v in node.values) + ")",
                "and/or",
            )
            yield node, f"({text_of(source, node.values[0])})", "condition dropped"
        elif (
            isinstance(node, ast.UnaryOp)
            and isinstance(node.op, ast.Not | ast.USub)
            and not isinstance(node.operand, ast.Constant)
        ):
            yield node, f"({text_of(source, node.operand)})", "sign or not"
        elif isinstance(node, ast.If | ast.IfExp):
            yield node.test, f"(not ({text_of(source, node.test)}))", "condition turned round"
        elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield (
                node,
                repr(node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + 0.1),
                "number",
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield node, repr(not node.value), "truth"
        elif (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in CALLED
        ):
            yield node.func, CALLED[node.func.id], "min/max, any/all"
        elif (
            isinstance(node, ast.Return)
            and node.value is not None
            and whole.count("\n") == 0
            and not isinstance(node.value, ast.Constant)
        ):
            yield node, "return None", "nothing returned"
        elif isinstance(node, ast.Continue):
            yield node, "pass", "goes on"


def replaced(source: str, node: Any, text: str) -> str:
    """The source with a node written otherwise."""
    lines = source.split("\n")
    first, last = node.lineno - 1, node.end_lineno - 1
    before = lines[first].encode()[: node.col_offset].decode()
    after = lines[last].encode()[node.end_col_offset :].decode()
    return "\n".join([*lines[:first], before + text + after, *lines[last + 1 :]])


def every_fault() -> list[tuple[str, int, str, str, str, str]]:
    """File, line, kind, what stood, what stands, whole text; what does not compile falls out."""
    found = []
    for room in ROOMS:
        for path in sorted((ROOT / PACKAGE / room).rglob("*.py")):
            source = path.read_text(encoding="utf-8")
            for node, text, kind in faults_of(source):
                made = replaced(source, node, text)
                try:
                    ast.parse(made)
                except SyntaxError:
                    continue
                name = str(path.relative_to(ROOT / PACKAGE))
                found.append(
                    (name, node.lineno, kind, text_of(source, node)[:160], text[:160], made)
                )  # type: ignore[attr-defined]
    return found


def run_tests(
    room: Path, folders: str, left_out: list[str] | None, seconds: float = LONGEST_S
) -> tuple[str, list[str]]:
    """`passes`, `fails` or `hangs`, and the tests that failed."""
    env = {
        **os.environ,
        "PYTHONPATH": str(room / "src"),
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    stop = ["-x"] if left_out is not None else []
    for folder in folders.split():
        words = [sys.executable, "-m", "pytest", "-q", *stop, "-p", "no:cacheprovider", "-m", "not slow and not browser", "--no-header", "--tb=no",
                 f"tests/{folder}", *(f"--deselect={name}" for name in left_out or () if name.startswith(f"tests/{folder}/"))]  # fmt: skip
        try:
            done = subprocess.run(
                words,
                cwd=room,
                env=env,
                capture_output=True,
                text=True,
                timeout=seconds,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return "hangs", []
        if done.returncode not in (0, 5):
            return "fails", re.findall(
                r"^(?:FAILED|ERROR) (.+?)(?: - .*)?$", done.stdout, re.MULTILINE
            )
    return "passes", []


def whole_tree(place: Path) -> Path:
    """A copy to put faults into."""
    room = place / "tree"
    room.mkdir()
    for name in (
        "src",
        "rules",
        "tables",
        "examples",
        "tests",
        "docs",
        "scripts",
        "calibrate",
        "trust",
    ):
        shutil.copytree(
            ROOT / name,
            room / name,
            ignore=shutil.ignore_patterns("__pycache__", "found", ".hypothesis"),
        )
    for name in (
        "pyproject.toml",
        "README.md",
        "CHANGELOG.md",
        "DEVELOPERS.md",
        "Makefile",
        "LICENSE",
    ):
        shutil.copy(ROOT / name, room)
    return room


def main() -> None:
    """Draw, break, test, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=400)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--minutes", type=float, default=1e9, help="stop drawing after so many")
    parser.add_argument(
        "--add", action="store_true", help="to the counts of an earlier run, with another seed"
    )
    parser.add_argument("--again", action="store_true", help="only the survivors of the last run")
    given = parser.parse_args()
    every = every_fault()
    drawn = random.Random(given.seed).sample(range(len(every)), given.many)
    kept = ROOT / "trust" / "counts" / "mutants.json"
    old = json.loads(kept.read_text(encoding="utf-8")) if given.again or given.add else {}
    earlier = {one["place"] for one in old.get("survivors", ())}
    began, killed, survived, hung = time.monotonic(), 0, list[dict[str, Any]](), 0
    with tempfile.TemporaryDirectory(prefix="trust-") as place:
        room = whole_tree(Path(place))
        left_out: dict[str, list[str]] = old.get("left_out", {})
        for n, at in enumerate(drawn):
            name, line, kind, stood, stands, made = every[at]
            where = f"{name}:{line}: {stood} -> {stands}"
            if (given.again and where not in earlier) or (
                time.monotonic() - began > given.minutes * 60
            ):
                continue
            folders = next(to for begins, to in TESTS if name.startswith(begins))
            for folder in folders.split():
                if folder not in left_out:
                    left_out[folder] = run_tests(room, folder, None, 900)[1]
                    sys.stdout.write(f"{folder}: fails without a fault: {left_out[folder]}\n")
            path = room / PACKAGE / name
            whole = path.read_text(encoding="utf-8")
            path.write_text(made, encoding="utf-8")
            ended, by = run_tests(
                room, folders, [one for f in folders.split() for one in left_out[f]]
            )
            path.write_text(whole, encoding="utf-8")
            killed += ended != "passes"
            hung += ended == "hangs"
            if ended == "passes":
                survived.append({"place": where, "kind": kind, "tests": folders})
            sys.stdout.write(f"{n}: {ended} {where} {by[:1]}\n")
            sys.stdout.flush()
    tried = killed + len(survived)
    counts = {"seed": given.seed, "places": len(every), "drawn": tried, "killed": killed, "hung": hung, "survivors": survived,
              "minutes": round((time.monotonic() - began) / 60)}  # fmt: skip
    sys.stdout.write(json.dumps(counts) + "\n")
    counts["left_out"] = left_out
    if given.add:
        for name in ("drawn", "killed", "hung", "minutes"):
            counts[name] += old[name]
        counts["survivors"] = old["survivors"] + survived
        counts["seed"] = f"{old['seed']}, {given.seed}"
    if not given.again:
        write("mutants", counts, "pytest", "hypothesis")


if __name__ == "__main__":
    main()
