"""A folder of rules beside the rig: laid over the shipped ones, or refused whole.

An entry with a new code is a whole rule. One with the code of a shipped rule gives that rule another
size, and nothing else. A size of one's own stands as it is written, whatever the launch model says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Literal

import numpy as np
from pydantic import ValidationError

from shaftwright.errors import Fault, InputError, did_you_mean
from shaftwright.files.faults import faults_of, validated
from shaftwright.files.strict_yaml import Document, load_yaml
from shaftwright.parameters import Range
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.result import Result
from shaftwright.rules.check import note_faults, wrong_cases
from shaftwright.rules.evaluate import evaluate
from shaftwright.rules.facts import FACTS, FactMap
from shaftwright.rules.load import OTHER_FILES, RuleBook, bibliography, rulebook
from shaftwright.rules.schema import Rule, RuleFile, Shelf

#: what of a shipped rule can be one's own
SIZE: Final = ("value", "low", "high", "cases", "basis", "source", "note")
_SHIFTS: Final = ("draw_weight_lb", "effective_bow_weight_lb")
_NEW: Final = "a rule of your own takes a code like M01"
_FORMS: Final = (
    "is none of the forms; write constant, {step: CHOICE}, {per: 1 in, of: FACT, from: 28} or "
    "{table: NAME, of: FACT, x: COLUMN, y: COLUMN}"
)


@dataclass(frozen=True)
class OwnRule(Result):
    """A rule, or the size of a shipped one, that is the archer's own and at work in an answer."""

    rule: str
    name: str
    #: rule, or size of a shipped rule
    kind: Literal["rule", "size"]
    #: folder, file and line
    place: str


def load_own(folder: Path | str) -> RuleBook:
    """The rules of a folder, each ready to be laid over the shipped ones; InputError has every fault."""
    folder = Path(folder)
    if not folder.is_dir():
        raise InputError.of(
            str(folder), "is no folder of rules; begin one with: shaftwright rules new"
        )
    faults: list[Fault] = []
    shelf = Shelf(tables_dir(), bibliography(rules_dir(), faults) | bibliography(folder, faults))
    found: list[Rule] = []
    topics, places = dict[str, str](), dict[str, str]()
    for path in sorted(folder.iterdir()):
        try:
            document = _document(path)
            if document is None:
                continue
            for rule, line in _rules(document, shelf, faults):
                twice = next((r for r in found if rule.code == r.code or rule.name == r.name), None)
                if twice is not None:
                    problem = f"is there already, at {places[twice.code]}; keep one of them"
                    faults.append(Fault(document.name, problem, line, f"rule {rule.code}"))
                    continue
                found.append(rule)
                topics[rule.code] = str(document.data["topic"])
                places[rule.code] = f"{folder.name}/{path.name}:{line}"
        except InputError as error:
            faults.extend(error.faults)
    if faults:
        raise InputError(faults)
    return RuleBook(tuple(found), topics, places, tables=shelf.columns)


def laid_over(book: RuleBook, own: RuleBook | None) -> RuleBook:
    """A rule book with the archer's own rules and sizes; those stand as written, whosever `book` takes."""
    if own is None:
        return book
    mine = {rule.code: rule for rule in own.rules}
    shipped = {rule.code for rule in book.rules}
    rules = tuple(mine.get(rule.code, rule) for rule in book.rules)
    rules += tuple(rule for rule in own.rules if rule.code not in shipped)
    kinds: dict[str, Literal["rule", "size"]] = {
        code: "size" if code in shipped else "rule" for code in mine
    }
    return replace(
        book, rules=rules, topics=own.topics | book.topics, places=book.places | own.places,
        tables=book.tables | own.tables, own=kinds,
        sizes={key: one for key, one in book.sizes.items() if key[0] not in mine},
    )  # fmt: skip


def own_at_work(book: RuleBook, facts: FactMap) -> tuple[OwnRule, ...]:
    """The archer's own rules and sizes that speak of a rig, at whatever arrow; `facts` are the rig's."""
    mine = replace(book, rules=tuple(rule for rule in book.rules if rule.code in book.own))
    # an arrow that lies at no rule's reference
    arrows = {
        n: np.array([f.reference, float(f.reference) + 1]) for n, f in FACTS.items() if f.of_build
    }
    firings = (f for shift in _SHIFTS for f in evaluate(mine, {**facts, **arrows}, shift).firings)
    told = (f.rule for f in firings)
    return tuple(OwnRule(r.code, r.name, book.own[r.code], book.places[r.code]) for r in told)


def _document(path: Path) -> Document | None:
    """A file that holds rules; None for one that is none of ours."""
    if path.name.startswith(".") or path.suffix not in (".yaml", ".yml") or not path.is_file():
        return None
    if path.suffix == ".yml":
        raise InputError.of(str(path), f"would not be read; name it {path.stem}.yaml")
    if path.name == "bibliography.yaml":
        return None
    if path.name in OTHER_FILES:
        problem = "is the name of a shipped file that holds no rules; give your rules another name"
        raise InputError.of(str(path), problem)
    document = load_yaml(path)
    head = document.data
    if isinstance(head, dict):
        if "retired" in head:
            problem = "is not for rules of your own; take it out"
            raise InputError.of(str(path), problem, document.line(("retired",)), "retired")
        if isinstance(head.get("rules"), list):
            head = head | {"rules": []}
    validated(RuleFile, replace(document, data=head))
    return document


def _rules(document: Document, shelf: Shelf, faults: list[Fault]) -> list[tuple[Rule, int | None]]:
    """The rules of one file that have no fault of their own, each with its line."""
    whole = {**document.data, "rules": [*document.data["rules"]]}
    filled = replace(document, data=whole)
    found = []
    for index, given in enumerate(document.data["rules"]):
        prefix = ("rules", index)
        line = document.line(prefix)
        code = given.get("code", f"number {index + 1}") if isinstance(given, dict) else index + 1
        label = f"rule {code}"

        def told(
            problem: str, key: str = "", value: object = ..., at: Any = prefix, of: str = label
        ) -> Fault:
            where = document.line((*at, key))
            return Fault(document.name, problem, where, f"{of}: {key}" if key else of, value)

        wrong = [told(*one) for one in _misplaced(given)] if isinstance(given, dict) else []
        if wrong:
            faults += wrong
            continue
        shipped = _shipped(given)
        if shipped is not None:
            whole["rules"][index] = _with_size(shipped, given)
        try:
            rule = Rule.model_validate(whole["rules"][index], context=shelf)
        except ValidationError as error:
            faults += _of_rule(label, faults_of(error, filled, Rule, prefix))
            continue
        alone = RuleBook((rule,), tables=rulebook().tables | shelf.columns)
        for key, facts, problem in wrong_cases(rule, alone):
            wanted = "it speaks" if key == "fires" else "it has nothing to say"
            faults.append(told(f"{problem}; write facts in which {wanted}", key, facts))
        names = [one.name for one in rulebook().rules]
        faults += [told(problem, "note") for problem in note_faults(rule, names, strict=False)]
        found.append((rule, line))
    return found


def _of_rule(label: str, wrong: list[Fault]) -> list[Fault]:
    """Faults of one rule by its code; of a form that fits no kind one, not one for every kind."""
    told = dict[str, Fault]()
    for fault in wrong:
        rest = fault.field
        if rest.startswith("form") and "form" in told:
            told["form"] = replace(told["form"], problem=_FORMS, field=f"{label}: form", value=...)
        else:
            name = "form" if rest.startswith("form") else rest
            problem = fault.problem
            if rest.startswith("cases.") and problem == "is not a known field":
                problem += f"; allowed here: {', '.join(Range.model_fields)}"
            told[name] = replace(
                fault, field=f"{label}: {rest}" if rest else label, problem=problem
            )
    return list(told.values())


def _shipped(given: Any) -> Rule | None:
    code = given.get("code") if isinstance(given, dict) else None
    return next((rule for rule in rulebook().rules if rule.code == code), None)


def _misplaced(given: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    """What an entry gives that it may not, or lacks: problem, field and value of each."""
    book, code, shipped = rulebook(), given.get("code"), _shipped(given)
    if shipped is None:
        if isinstance(code, str) and code in book.retired:
            return [(f"is retired in favour of {book.retired[code]}; use that code", "code", code)]
        if isinstance(code, str) and set(given) <= {"code", "name", *SIZE}:
            close = did_you_mean(code, [rule.code for rule in book.rules], cutoff=0.6)
            problem = f"is the code of no shipped rule{close}; {_NEW} and needs all its fields"
            return [(problem, "code", code)]
        other = next((rule for rule in book.rules if rule.name == given.get("name")), None)
        if other is not None:
            problem = f"is the shipped rule {other.code}; take another name, or code: {other.code}"
            return [(f"{problem} for a size of your own", "name", other.name)]
        return []
    if given.get("name", shipped.name) != shipped.name:
        problem = f"is not the name of {code}, which is {shipped.name}; check the code"
        return [(problem, "name", given["name"])]
    faults: list[tuple[Any, ...]] = []
    for key in (key for key in given if key not in ("code", "name", *SIZE)):
        hint = "" if key in Rule.model_fields else did_you_mean(key, SIZE)
        problem = f"stays as shipped{hint}; only the size of a shipped rule can be your own"
        faults.append((problem if faults else f"{problem}: {', '.join(SIZE)}; {_NEW}", key))
    needed = ("cases", "basis") if shipped.cases is not None else ("value", "low", "high", "basis")
    for key in needed:
        if given.get(key) is None:
            faults.append((f"{key} is missing; a size of your own has {', '.join(needed)}", ""))
    return faults


def _with_size(shipped: Rule, given: Mapping[str, Any]) -> dict[str, Any]:
    """A shipped rule as its author would write it, with another size; cases not named stay."""
    plain = shipped.model_dump(mode="json", by_alias=True, exclude_none=True)
    kept = {key: held for key, held in plain.items() if key not in SIZE}
    if shipped.cases is not None and isinstance(given["cases"], dict):
        return kept | {**given, "cases": plain["cases"] | given["cases"]}
    return kept | dict(given)
