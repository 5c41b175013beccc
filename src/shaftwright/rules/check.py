"""The linter: everything `load_rulebook` refuses, and every rule's own two cases, sources and notes.

A number in a note stands in the rule itself (as it is, in pounds on a bow of "about N lb", or as one
standard deviation), or its sentence says whose it is. A sentence that names another rule, a table or
the launch model holds no number but the rule's own: what stands elsewhere is read there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final, get_args

import numpy as np

from shaftwright.errors import Fault, InputError
from shaftwright.files.strict_yaml import load_yaml
from shaftwright.parameters import Basis
from shaftwright.resources import read_table
from shaftwright.rules.evaluate import evaluate
from shaftwright.rules.facts import reference_facts
from shaftwright.rules.load import RuleBook, load_rulebook
from shaftwright.rules.schema import Facts, Linear, Rule
from shaftwright.units import Z95, series

_BASES: Final = get_args(Basis)
#: words by which a sentence says that its figures are no table's of ours
_OWNED: Final = re.compile(
    r"\b(trade|pages?|practice|recalled|calculated|told|in print)\b", re.IGNORECASE
)
_ELSEWHERE: Final = r"\b[a-z_]+\.csv|\blaunch model|\bsimulat|\b[A-Z]\d\d\b"
_NUMBER: Final = re.compile(
    r"(?<![\w.])(?:(\d+) )?(\d+)/(\d+)(?![\w.])|(?<![\w./])(\d+(?:\.(\d+))?)"
)
_OTHER_TABLE: Final = re.compile(r"\b[a-z_]+\.csv")
_PLAIN: Final = re.compile(r"-?\d+(?:\.\d+)?")
_BOW: Final = re.compile(r"\babout (\d+) lb")
_KEY: Final = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def fires(rule: Rule, facts: Facts, book: RuleBook) -> bool:
    """Whether a rule fires when these facts differ from the reference conditions."""
    alone = RuleBook((rule,), tables=book.tables)
    firings = evaluate(alone, {**reference_facts(), **facts}, rule.shift).firings
    return any(np.any(np.asarray(f.amount) != 0) for f in firings)


def wrong_cases(rule: Rule, book: RuleBook) -> Iterator[tuple[str, Facts, str]]:
    """The rule's own cases that do not do as they say: label, facts and what they do instead."""
    for label, facts in (("fires", rule.fires), ("silent", rule.silent)):
        if facts is not None and fires(rule, facts, book) is not (label == "fires"):
            yield label, facts, f"{'stays silent' if label == 'fires' else 'fires'} in this case"


def check(rules: Path, tables: Path) -> tuple[RuleBook, int]:
    """A rule set that has no fault, and how many cases fire or stay silent as they say."""
    for folder in (rules, tables):
        if not folder.is_dir():
            raise InputError.of(str(folder), "is not a folder")
    book = load_rulebook(rules, tables)
    faults = [] if book.rules else [Fault(str(rules), "holds no rules")]
    for rule in book.rules:
        place, _, line = book.places[rule.code].partition(":")
        faults += [
            Fault(place, problem, int(line), f"rule {rule.code}: {label}", facts)
            for label, facts, problem in wrong_cases(rule, book)
        ]
    faults += lint(book, rules, tables)
    if faults:
        raise InputError(faults)
    return book, sum(1 + (rule.silent is not None) for rule in book.rules)


def note_faults(rule: Rule, others: Iterable[str] = (), strict: bool = True) -> list[str]:
    """What is wrong with a rule's note; `others` are names of rules, strict asks whose a figure is."""
    own = _figures(rule)
    names = [name for name in others if name != rule.name]
    elsewhere = re.compile(
        "|".join([_ELSEWHERE, *(rf"\b{re.escape(n)}(?: rule)?\b" for n in names)])
    )
    bows = [float(lb) for lb in _BOW.findall(rule.note)]
    pounds = {share * lb / 100 for lb in bows for share in own} | {*bows}
    wrong = []
    for sentence in re.split(r"(?<=[.;])\s+", rule.note.replace(rule.code, "")):
        named = elsewhere.search(sentence)
        deviation = "standard deviation" in sentence
        for shown, value, half, percent in _numbers(sentence, named.span() if named else (0, 0)):
            mine = own if percent else own | pounds | {n / Z95 for n in own if deviation}
            if any(abs(value - one) <= half for one in mine):
                continue
            if named:
                problem = f"{shown} is quoted from {named[0]}, where it may change; leave it out"
                wrong.append(problem)
            elif strict and not _OWNED.search(sentence):
                wrong.append(f"{shown} is not the rule's own; say whose it is (the trade says ...)")
    return wrong


def lint(book: RuleBook, rules: Path, tables: Path) -> list[Fault]:
    """Every note that quotes, every published row without a source, every source that nothing uses."""
    faults = []
    names = [rule.name for rule in book.rules]
    for rule in book.rules:
        place, _, line = book.places[rule.code].partition(":")
        faults += [
            Fault(place, problem, int(line), f"rule {rule.code}: note")
            for problem in note_faults(rule, names)
        ]
    if not (rules / "bibliography.yaml").exists():
        return faults
    document = load_yaml(rules / "bibliography.yaml")
    seen = {key: entry["seen"] for key, entry in document.data["sources"].items()}
    used = {key for path in rules.glob("*.yaml") for key in _sources(load_yaml(path).data)}
    for path in sorted(tables.glob("*.csv")):
        for number, row in enumerate(read_table(path), 2):
            if None in row or None in row.values():
                problem = "has not as many cells as the table has columns; a comma needs quotes"
                faults.append(Fault(path.name, problem, number))
                continue
            if row.get("basis") not in _BASES:
                problem = f"is needed in every row: one of {series(_BASES)}"
                faults.append(Fault(path.name, problem, number, "basis", row.get("basis", ...)))
            keys = source_keys(row.get("source", ""))
            used |= keys & {*seen}
            faults += [Fault(path.name, problem, number, "note") for problem in _quotes(row)]
            unknown = sorted(keys - {*seen})
            if row.get("basis") not in ("published", "fitted"):
                continue
            if unknown or not keys:
                problem = "needs keys of bibliography.yaml first, then a colon and words"
            elif all(seen[key] == "recalled" for key in keys):
                problem = "is from memory; a published row needs a source that was seen"
            else:
                continue
            faults.append(Fault(path.name, problem, number, "source", row["source"]))
    for key in sorted({*seen} - used):
        problem = "is used by no rule and no table; take it out"
        faults.append(Fault(document.name, problem, document.line(("sources", key)), key))
    return faults


def _quotes(row: dict[str, str]) -> Iterator[str]:
    """What a row's words quote from another table that they name; its own numbers are free."""
    own = {abs(float(cell)) for cell in row.values() if _PLAIN.fullmatch(cell)}
    for sentence in (s for cell in row.values() for s in re.split(r"(?<=[.;])\s+", cell)):
        named = _OTHER_TABLE.search(sentence)
        for shown, value, half, _ in _numbers(sentence) if named else ():
            if named and not any(abs(value - one) <= half for one in own):
                yield f"{shown} is quoted from {named[0]}, where it may change; leave it out"


def source_keys(told: str) -> set[str]:
    """The keys that a table's source begins with: `KEY;KEY: words`; none where it is words alone."""
    keys = [key.strip() for key in told.partition(":")[0].split(";")]
    return {*keys} if all("-" in key and _KEY.fullmatch(key) for key in keys) else set()


def _figures(rule: Rule) -> set[float]:
    """Every number of a rule, without sign."""
    spans = [*rule.cases.values()] if rule.cases is not None else [rule.range_for(None)]
    held = {abs(n) for span in spans if span is not None for n in (span.value, span.low, span.high)}
    if isinstance(rule.form, Linear):
        held |= {abs(n) for n in (rule.form.per_unit, rule.form.start, rule.form.until)
                 if isinstance(n, int | float)}  # fmt: skip
    said = [n for text in (rule.saw, rule.why) for n in _numbers(text)]
    facts = (*rule.fires.values(), *(rule.silent or {}).values())
    held |= {abs(n) for n in facts if not isinstance(n, str)}
    return held | {value for _, value, *_ in said}


def _numbers(text: str, but: tuple[int, int] = (0, 0)) -> Iterator[tuple[str, float, float, bool]]:
    """Each number as written, its value, half of its last digit, and whether in percent."""
    for found in _NUMBER.finditer(text):
        whole, top, bottom, plain, decimals = found.groups()
        if but[0] <= found.start() < but[1] or not float(bottom or 1):
            continue
        if plain is None:
            yield found[0], float(whole or 0) + float(top) / float(bottom or 1), 1e-6, False
        else:
            half = 0.501 * 10.0 ** -len(decimals or "")
            percent = text[found.end() :].startswith((" %", "%"))
            yield found[0], float(plain), half, percent


def _sources(data: Any) -> Iterator[str]:
    """Every key under `source` anywhere in a document."""
    if isinstance(data, dict):
        held = data.get("source")
        yield from [held] if isinstance(held, str) else held if isinstance(held, list) else ()
        data = list(data.values())
    if isinstance(data, list):
        for one in data:
            yield from _sources(one)
