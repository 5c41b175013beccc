"""The linter: everything `load_rulebook` refuses, and every rule's own two cases."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from shaftwright.errors import Fault, InputError
from shaftwright.rules.evaluate import evaluate
from shaftwright.rules.facts import reference_facts
from shaftwright.rules.load import RuleBook, load_rulebook
from shaftwright.rules.schema import Facts, Rule


@dataclass(frozen=True)
class Report:
    """What the linter found."""

    rules: int
    cases: int
    faults: list[Fault]


def fires(rule: Rule, facts: Facts, book: RuleBook) -> bool:
    """Whether a rule fires when these facts differ from the reference conditions.

    Parameters
    ----------
    rule : Rule
        The rule.
    facts : dict
        Fact name -> value.
    book : RuleBook
        For tables.

    Returns
    -------
    bool
        True when it is among the firings.
    """
    alone = RuleBook((rule,), {}, {}, {}, book.tables)
    all_facts = reference_facts()
    all_facts.update(
        {
            k: float(v) if isinstance(v, int | float) and not isinstance(v, bool) else v
            for k, v in facts.items()
        }
    )
    firings = evaluate(alone, all_facts, rule.shift).firings
    return any(np.any(np.asarray(f.amount) != 0) for f in firings)


def check(rules: Path, tables: Path) -> Report:
    """Lint a rule set.

    Parameters
    ----------
    rules, tables : Path
        Its folders.

    Returns
    -------
    Report
        Faults are empty for a good rule set.
    """
    for folder in (rules, tables):
        if not folder.is_dir():
            return Report(0, 0, [Fault(str(folder), "is not a folder")])
    try:
        book = load_rulebook(rules, tables)
    except InputError as error:
        return Report(0, 0, error.faults)
    faults = [] if book.rules else [Fault(str(rules), "holds no rules")]
    cases = 0
    for rule in book.rules:
        place, _, line = book.places[rule.code].partition(":")
        for facts, wanted, label in ((rule.fires, True, "fires"), (rule.silent, False, "silent")):
            if facts is None:
                continue
            cases += 1
            if fires(rule, facts, book) is not wanted:
                problem = "stays silent in this case" if wanted else "fires in this case"
                faults.append(
                    Fault(place, problem, int(line or 0), f"rule {rule.code}: {label}", facts)
                )
    return Report(len(book.rules), cases, faults)
