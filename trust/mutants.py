"""Small faults put into plan, inference and rules at random: do the tests of those rooms notice?

`python trust/mutants.py --many 400` draws places from a seed, changes one at a time in a copy of the tree, and
runs the fast tests that run the line (covering.py), quickest first, until one fails or their time is out.
What was tried is kept in trust/found/, so that a run goes on where it stopped; survivors get more time with `--again`,
and what they are is said by hand in judged.json.
"""

from __future__ import annotations

import argparse
import ast
import compileall
import functools
import json
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from covering import KEPT, PACKAGE, Warm, collected, running, traced, warm_up
from record import ROOT, write

ROOMS = ("answers/plan/", "inference/", "rules/")
#: the first that fits a file names its own folders of tests; all tests of all of them are looked through
TESTS = (
    ("answers/plan/", "plan stories diagnosis bow"), ("inference/evidence/", "evidence diagnosis"), ("inference/speed.py", "speed"),
    ("inference/chrono.py", "speed"), ("inference/rule_fit.py", "rule_fit clubs"), ("inference/score.py", "clubs"), ("inference/launch_rig.py", "launch_command"),
    ("inference/", "core evidence diagnosis"), ("rules/own.py", "own_rules"), ("rules/check.py", "rules own_rules"), ("rules/", "core rules own_rules"),
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


@functools.cache
def lines_of(source: str) -> list[bytes]:
    """Its lines, split once a file."""
    return source.encode().split(b"\n")


def text_of(source: str, node: Any) -> str:
    """The source of a node."""
    lines = lines_of(source)[node.lineno - 1 : node.end_lineno]
    lines[-1] = lines[-1][: node.end_col_offset]
    lines[0] = lines[0][node.col_offset :]
    return b"\n".join(lines).decode()


def faults_of(source: str, tree: ast.Module) -> Iterator[tuple[ast.AST, str, str]]:
    """Every small fault that can be put in: where, what stands there then, and its kind."""
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
            and node.lineno == node.end_lineno
            and not isinstance(node.value, ast.Constant)
        ):
            yield node, "return None", "nothing returned"
        elif isinstance(node, ast.Continue):
            yield node, "pass", "goes on"


def replaced(source: str, node: Any, text: str) -> str:
    """The source with a node written otherwise."""
    lines = list(lines_of(source))
    first, last = node.lineno - 1, node.end_lineno - 1
    lines[first : last + 1] = [
        lines[first][: node.col_offset] + text.encode() + lines[last][node.end_col_offset :]
    ]
    return b"\n".join(lines).decode()


@dataclass(frozen=True)
class Fault:
    """One change of one file."""

    file: str
    #: of the whole statement, or of the head of a longer one
    lines: range
    within: str
    #: in the body of a function, so that no import is needed to put it in
    inside: bool
    kind: str
    change: str
    node: ast.AST
    text: str

    @property
    def place(self) -> str:
        """How judged.json calls it, whatever stands above it."""
        return f"{self.file} {self.within}: {self.change}"

    def made(self) -> str | None:
        """The whole file with it; None where that is no Python."""
        source = (ROOT / PACKAGE / self.file).read_text(encoding="utf-8")
        try:
            ast.parse(made := replaced(source, self.node, self.text))
        except SyntaxError:
            return None
        return made


def whereabouts(tree: ast.Module) -> dict[int, tuple[range, str, bool]]:
    """Of every node the lines of its statement's head, the function or class around it, and whether in a body."""
    found: dict[int, tuple[range, str, bool]] = {}

    def visit(node: ast.AST, lines: range, within: str, inside: bool) -> None:
        if isinstance(node, ast.stmt):
            first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", ()))])
            body = getattr(node, "body", None)
            last = max(body[0].lineno - 1, node.lineno) if body else node.end_lineno or node.lineno
            lines = range(first, last + 1)
        found[id(node)] = (lines, within, inside)
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            within = f"{within}.{node.name}".lstrip(".")
        body = getattr(node, "body", ()) if isinstance(node, ast.FunctionDef) else ()
        for below in ast.iter_child_nodes(node):
            visit(below, lines, within, inside or below in body)

    visit(tree, range(0), "", False)
    return found


def every_fault() -> list[Fault]:
    """All that can be put in."""
    found, alike = [], Counter[str]()
    for path in sorted(p for room in ROOMS for p in (ROOT / PACKAGE / room).rglob("*.py")):
        source = path.read_text(encoding="utf-8")
        tree = ast.parse(source)
        at = whereabouts(tree)
        for node, text, kind in faults_of(source, tree):
            change = f"{text_of(source, node)[:160]} -> {text[:160]}"
            lines, within, inside = at[id(node)]
            name = str(path.relative_to(ROOT / PACKAGE))
            one = Fault(name, lines, within, inside, kind, " ".join(change.split()), node, text)
            alike[one.place] += 1
            if alike[one.place] > 1:  # the same words twice in one function
                one = replace(one, change=f"{one.change} ({alike[one.place]})")
            found.append(one)
    return found


def whole_tree(place: Path) -> Path:
    """A copy to put faults into."""
    tree = place / "tree"
    dropped = shutil.ignore_patterns(".git", "found", ".hypothesis", "node_modules", ".venv", ".*_cache", "dist", "site", "demo-out")  # fmt: skip
    shutil.copytree(ROOT, tree, ignore=dropped)
    compileall.compile_dir(tree / "src", quiet=1)
    return tree


class Trial:
    """The tests, and what became of each fault."""

    def __init__(self, warm: Warm, tests: dict[str, Any], seconds: float) -> None:
        self.warm, self.tests, self.seconds = warm, tests, seconds
        #: tests that failed with a fault and pass without one; those that fail without one too
        self.sound, self.left_out = set[str](), set[str]()

    def of(self, fault: Fault, made: str) -> dict[str, Any]:
        """How the tests took it."""
        own = next(to for begins, to in TESTS if fault.file.startswith(begins)).split()
        path = self.warm.tree / PACKAGE / fault.file
        whole = path.read_bytes()
        for old in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
            old.unlink()  # by its time and size it could pass for the changed one
        while True:
            tests = running(self.tests, fault.file, fault.lines, own)
            tests = [one for one in tests if one[0] not in self.left_out]
            if not tests:
                return {"ended": "not run", "by": "", "ran": 0, "of": 0}
            anew = not fault.inside
            path.write_text(made, encoding="utf-8")  # for programs that tests start
            try:
                ended, by, ran = self.warm.run(tests, self.seconds, path, made, anew)
                if ended == "broke":  # such as a function that needs other names than before
                    anew = True
                    ended, by, ran = self.warm.run(tests, self.seconds, path, made, anew)
            finally:
                path.write_bytes(whole)
            if ended == "fails" and by not in self.sound:
                names = [test for test, _ in tests]
                upto = names.index(by) + 1 if by in names else 1
                clean = self.warm.run(tests[:upto], 60, anew=anew)
                if clean[0] != "passes" and by in names:
                    self.left_out.add(by)
                    continue
                if clean[0] != "passes":
                    return {"ended": "broke", "by": str(clean), "ran": ran, "of": len(tests)}
                self.sound.add(by)
            return {"ended": ended, "by": by, "ran": ran, "of": len(tests)}


def counted(tried: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """What became of all of them."""
    survivors = [{"place": at} | how for at, how in tried.items() if how["ended"] in ("passes", "not run")]  # fmt: skip
    hung = sum(how["ended"] == "hangs" for how in tried.values())
    seconds = sorted({how["seconds"] for how in tried.values()})
    return {"drawn": len(tried), "killed": len(tried) - len(survivors), "hung": hung, "survivors": survivors,
            "cut short": sum(one["ran"] < one["of"] for one in survivors), "seconds": [seconds[0], seconds[-1]]}  # fmt: skip


def main() -> None:
    """Draw, break, test, count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--many", type=int, default=400)
    parser.add_argument("--seed", type=int, default=9)
    parser.add_argument(
        "--minutes", type=float, default=1e9, help="begin none after so many; 0 only counts"
    )
    parser.add_argument("--seconds", type=float, default=20, help="of CPU for the tests of a fault")
    parser.add_argument("--keep", action="store_true", help="write the counts")
    parser.add_argument("--again", action="store_true", help="the survivors, with more seconds")
    parser.add_argument("--anew", action="store_true", help="forget what was tried of this seed")
    given = parser.parse_args()
    every = every_fault()
    kept = ROOT / "trust" / "found" / f"tried-{given.seed}.json"
    tried: dict[str, dict[str, Any]] = {}
    if kept.exists() and not given.anew:
        tried = json.loads(kept.read_text(encoding="utf-8"))
    drawn = random.Random(given.seed).sample(every, given.many)
    if given.again:
        short = {at for at, how in tried.items() if how["ended"] == "passes" and how["ran"] < how["of"] and how["seconds"] < given.seconds}  # fmt: skip
        drawn = [fault for fault in drawn if fault.place in short]
    else:
        drawn = [fault for fault in drawn if fault.place not in tried]
    folders = dict.fromkeys(f for _, to in TESTS for f in to.split())

    def work(warm: Warm) -> None:
        trial, began = Trial(warm, tests, given.seconds), time.monotonic()
        for n, fault in enumerate(drawn):
            if time.monotonic() - began > given.minutes * 60:
                break
            since, made = time.monotonic(), fault.made()
            if made is None:
                continue
            how = trial.of(fault, made)
            sys.stderr.write(f"{n}: {how['ended']} {fault.place} | {how['by']} {how['ran']}/{how['of']} {time.monotonic() - since:.0f} s\n")  # fmt: skip
            if how["ended"] != "broke":  # that is a fault of ours, no result
                tried[fault.place] = how | {"line": fault.lines.start, "seconds": given.seconds}
                kept.write_text(json.dumps(tried, indent=1), encoding="utf-8")

    if given.minutes > 0:  # else only the counts are written
        with tempfile.TemporaryDirectory(prefix="trust-") as place:
            tree = whole_tree(Path(place))
            warm_up(tree)
            tests = traced(tree, folders, ROOMS)
            collected(tree, tests, work)
    counts = counted(tried)
    sys.stdout.write(f"{counts['killed']} of {counts['drawn']} noticed\n")
    if given.keep:
        held = json.loads(KEPT.read_text(encoding="utf-8"))
        many = sum(what["good"] for one in held.values() for what in one["tests"].values())
        write("mutants", {"seed": given.seed, "places": len(every), "tests": many, **counts}, "pytest", "hypothesis")  # fmt: skip


if __name__ == "__main__":
    main()
