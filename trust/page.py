"""docs/trust.md, made of the counts that the programs here wrote, and of what was found and is accepted (words.md)."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent))
from record import COUNTS, OWN, ROOT

PAGE = ROOT / "docs" / "trust.md" if COUNTS == OWN else COUNTS / "trust.md"
#: survivor -> what it is, by whoever looked at it: begins with "alike" or "killed", or says what is missing
JUDGED = Path(__file__).resolve().parent / "judged.json"
WORDS = Path(__file__).resolve().parent / "words.md"
HEAD = """# What was tried against it

Written by `make trust` from the counts that the programs in `trust/` left; every number below is one of
theirs, with the day, the machine and the versions. `make fuzz` fuzzes, `make lowest` tries the versions.
"""


def counts(name: str) -> dict[str, Any] | None:
    """The line of one program; None where it has not run."""
    path = COUNTS / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else None


def when(held: dict[str, Any]) -> str:
    """Day, machine and versions."""
    told = ", ".join(f"{name} {version}" for name, version in held["versions"].items())
    return f"{held['date']}, {held['machine']}; {told}."


def rows(head: str, lines: Iterator[str] | list[str]) -> str:
    """A table."""
    columns = head.count("|") + 1
    return "\n".join([f"| {head} |", "|" + "---|" * columns, *(f"| {line} |" for line in lines)])


def readers(held: dict[str, Any]) -> str:
    every = held["readers"]
    table = rows(
        "reader | inputs | read | refused | crashes or nonsense | slowest",
        [f"{name.replace('_', ' ')} | {c['inputs']:,} | {c['read']:,} | {c['inputs'] - min(c['read'], c['inputs']):,} | "
         f"{len(c['finds'])} | {c.get('slowest_s', 0):.3f} s" for name, c in every.items()],
    )  # fmt: skip
    finds = sum(len(c["finds"]) for c in every.values())
    return (
        f"{held['inputs']:,} inputs, guided {held['guided']}, seed {held['seed']}: {finds} finds. Each begins from a good file with\n"
        "something put wrong in its data, its rows or its bytes; what is refused must be a fault in a line, what is read must hold no\n"
        f"infinite number and be the same when it is written out and read again. {when(held)}\n\n{table}"
    )


def commands(held: dict[str, Any]) -> str:
    by: dict[str, list[int]] = {}
    for ended, many in held["ended"].items():
        name, code = ended.rsplit(" ", 1)
        by.setdefault(name, [0, 0, 0])[int(code)] += many
    finds = ", ".join(f"{many} x {what}" for what, many in held["finds"].items()) or "none"
    table = rows(
        "command | answers | no answer, and why | refused",
        [f"`{n}` | {a:,} | {b:,} | {c:,}" for n, (a, b, c) in by.items()],
    )
    return (
        f"{held['calls']:,} calls in process, seeds {held['seeds']}, {held['seconds'] // 60} minutes. Finds: {finds}. Options come from the\n"
        "commands themselves, bows are drawn at random and four in ten have something wrong in a file. Every JSON answer is searched for\n"
        "figures that mean nothing (trust/nonsense.py): a mass below nought, a chance over 1, a range that falls, more energy than was\n"
        f"stored, more up front than in all. {when(held)}\n\n{table}"
    )


def page_fuzz(held: dict[str, Any]) -> str:
    ended = ", ".join(f"{many:,} x {code}" for code, many in held["ended"].items())
    return (f"{held['requests']:,} requests over {held['routes']} methods and paths, seed {held['seed']}: {ended}. "
            f"Finds: {held['finds'] or 'none'}. {when(held)}")  # fmt: skip


def kills(held: dict[str, Any]) -> str:
    table = rows(
        "trial | counts",
        [
            f"{name} | {', '.join(f'{k} {v}' for k, v in c.items())}"
            for name, c in held["trials"].items()
        ],
    )
    bad = (
        "lost",
        "twice",
        "torn",
        "of nobody",
        "file touched",
        "torn readings",
        "new entry lost",
        "not kept to the letter",
    )
    lost = {name: sum(c.get(name, 0) for c in held["trials"].values()) for name in bad}
    return (f"{held['kills']} kills (SIGKILL at a random moment), seed {held['seed']}. Over all trials: "
            f"{', '.join(f'{k} {v}' for k, v in lost.items())}.\n*Cut off yet whole* are entries that were saved although the kill came before "
            f"the writer said so.\n{when(held)}\n\n{table}")  # fmt: skip


def versions(held: dict[str, Any]) -> str:
    lines = []
    for name, c in held["environments"].items():
        if c.get("missing"):
            lines.append(f"{name} | not there | |")
            continue
        said = ", ".join(f"{package} {v}" for package, v in c.get("versions", {}).items())
        lines.append(
            f"{name} | {c.get('commands', 0)} commands, {c.get('routes', 0)} requests | {len(c['wrong'])} | {said}"
        )
    figures = {
        json.dumps(c.get("figures")) for c in held["environments"].values() if not c.get("missing")
    }
    same = (
        "the same to six places in all of them"
        if len(figures) == 1
        else f"{len(figures)} different sets of figures"
    )
    return (f"The wheel with its extra `web`, the command line and the served page; a warning counts as wrong. The answers of five commands are "
            f"{same}. {held['date']}, {held['machine']}.\n\n{rows('environment | tried | wrong | versions', lines)}")  # fmt: skip


def mutants(held: dict[str, Any]) -> str:
    rate = 100 * held["killed"] / max(held["drawn"], 1)
    judged = json.loads(JUDGED.read_text(encoding="utf-8"))
    for s in held["survivors"]:
        s["judged"] = judged.get(s["place"], "not looked at")
    told = [f"`{s['place'].replace('|', '/')}` | {s['judged']}" for s in held["survivors"]]
    alike = sum(s["judged"].startswith("alike") for s in held["survivors"])
    now = sum(s["judged"].startswith("killed") for s in held["survivors"])
    real = max(held["drawn"] - alike, 1)
    before, since = 100 * held["killed"] / real, 100 * (held["killed"] + now) / real
    open_ = [s for s in held["survivors"] if not s["judged"].startswith(("alike", "killed"))]
    low, high = held["seconds"]
    return (
        f"{held['drawn']} small faults drawn at random (seed {held['seed']}; 400 are aimed at) from {held['places']:,} places in plan, inference and rules, each\n"
        f"against those of {held['tests']:,} fast tests of these rooms that run its line, quickest first, until their time is out: {low:g} to {high:g} s of CPU.\n"
        f"{held['killed']} noticed ({rate:.0f} %; {held['hung']} by hanging). Of the {len(held['survivors'])} others {alike} change nothing that can be seen, so {before:.0f} % of those that change\n"
        f"something were noticed; {held['cut short']} of the others had tests left when their time was out. {now} are noticed by tests written on sight of\n"
        f"them or by an example in the code: {since:.0f} %, which says nothing of faults not drawn. {len(open_)} are open. Aimed at are 85 %.\n"
        f"{when(held)}\n\n{rows('survivor | what it is', told)}"
    )


def rules(held: dict[str, Any]) -> str:
    left = ", ".join(f"{what} ({many})" for what, many in held["not told by field"].items())
    return (
        f"{held['broken']:,} breakings of every field of {held['rules']} rules (left out, misspelt, words, nothing, numbers, lists): {held['told']:,} refused, all of\n"
        f"them with what to type ({held['without what to type']} without). {held['not told']} leave a good rule: what may be left out, words in place of words, a size that\n"
        f"another rule could have: {left}. {when(held)}"
    )


def same(held: dict[str, Any]) -> str:
    return (f"{held['lines']} questions, each asked in {len(held['ways'])} ways ({'; '.join(held['ways'])}), what is printed and what is written: "
            f"{len(held['differ'])} differ{': ' + ', '.join(held['differ']) if held['differ'] else ''}. Answers that draw at random tell `seed`. {when(held)}")  # fmt: skip


PARTS = (
    ("Files fuzzed", "fuzz_readers", readers), ("Commands fuzzed", "fuzz_commands", commands), ("The page fuzzed", "fuzz_page", page_fuzz),
    ("Saves killed, starved and met by others", "kills", kills), ("Lowest and newest versions", "versions", versions),
    ("Faults put into the code", "mutants", mutants), ("Faults put into the rules", "broken_rules", rules),
    ("The same bytes", "same_bytes", same),
)  # fmt: skip


def page() -> str:
    """The whole page."""
    told = [HEAD]
    for title, name, part in PARTS:
        held = counts(name)
        told.append(f"## {title}\n\n{part(held) if held is not None else 'Not run yet.'}\n")
    told.append(WORDS.read_text(encoding="utf-8").rstrip() + "\n")
    return "\n".join(told)


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
