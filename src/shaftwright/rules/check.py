"""The linter: everything `load_rulebook` refuses, and every rule's own two cases."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from shaftwright.errors import Fault, InputError
from shaftwright.rules.evaluate import evaluate
from shaftwright.rules.facts import reference_facts
from shaftwright.rules.load import RuleBook, load_rulebook
from shaftwright.rules.schema import Facts, Rule


def fires(rule: Rule, facts: Facts, book: RuleBook) -> bool:
    """Whether a rule fires when these facts differ from the reference conditions."""
    alone = RuleBook((rule,), tables=book.tables)
    firings = evaluate(alone, {**reference_facts(), **facts}, rule.shift).firings
    return any(np.any(np.asarray(f.amount) != 0) for f in firings)


def check(rules: Path, tables: Path) -> tuple[RuleBook, int]:
    """A rule set that has no fault, and how many cases fire or stay silent as they say."""
    for folder in (rules, tables):
        if not folder.is_dir():
            raise InputError([Fault(str(folder), "is not a folder")])
    book = load_rulebook(rules, tables)
    faults = [] if book.rules else [Fault(str(rules), "holds no rules")]
    cases = 0
    for rule in book.rules:
        place, _, line = book.places[rule.code].partition(":")
        for label, facts in (("fires", rule.fires), ("silent", rule.silent)):
            if facts is None:
                continue
            cases += 1
            if fires(rule, facts, book) is not (label == "fires"):
                problem = "stays silent in this case" if label == "fires" else "fires in this case"
                faults.append(Fault(place, problem, int(line), f"rule {rule.code}: {label}", facts))
    if faults:
        raise InputError(faults)
    return book, cases
