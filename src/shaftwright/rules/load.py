"""Loading and linting the rule set; each failure tells the author what to type, and where."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from shaftwright.errors import Fault, InputError
from shaftwright.files.strict_yaml import Document, load_yaml
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.facts import FACTS
from shaftwright.rules.schema import Linear, Range, Rule, RuleFile, Step, Table

Basis = Literal["both", "trade", "physics"]

#: files of the rule set that hold something else than shift rules
OTHER_FILES = frozenset({"purposes.yaml", "cautions.yaml", "bibliography.yaml", "diagnosis.yaml",
                         "matching.yaml", "evidence.yaml", "plan.yaml", "setup.yaml",
                         "shopping.yaml"})  # fmt: skip


@dataclass(frozen=True)
class Sizes:
    """What the size of one effect rests on, where trade and launch model both state it.

    Attributes
    ----------
    basis : str
        Whose size is used: trade, physics or both.
    trade, physics, used : Range
        Coefficients in the rule's own unit.
    share : float
        The trade's share in what is used; the rest is the model's.
    apart : float
        How far the two are apart in their joint standard deviations.
    """

    basis: Basis
    trade: Range
    physics: Range
    used: Range
    share: float
    apart: float


@dataclass(frozen=True)
class RuleBook:
    """The shift rules in file and line order, by permanent code.

    Attributes
    ----------
    rules : tuple of Rule
        All rules.
    topics : dict
        Code -> topic.
    places : dict
        Code -> `file:line`.
    retired : dict
        Retired code -> the code that replaced it.
    tables : dict
        (table, x, y) -> two arrays, for table forms.
    basis : str
        Whose sizes the rules carry; the files hold the trade's.
    sizes : dict
        (code, case) -> what the size rests on, for rules the launch model speaks of too.
    """

    rules: tuple[Rule, ...]
    topics: dict[str, str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    retired: dict[str, str] = field(default_factory=dict)
    tables: dict[tuple[str, str, str], tuple[NDArray[np.float64], NDArray[np.float64]]] = field(
        default_factory=dict
    )
    basis: Basis = "trade"
    sizes: dict[tuple[str, str], Sizes] = field(default_factory=dict)

    def sizes_of(self, code: str, case: str | None = None) -> Sizes | None:
        """What a rule's size rests on; None where the model says nothing of it."""
        return self.sizes.get((code, case or "")) or self.sizes.get((code, ""))

    def find(self, code_or_name: str) -> Rule | None:
        """The rule of a code (also a retired one) or a name."""
        wanted = self.retired.get(code_or_name.upper(), code_or_name.upper())
        for rule in self.rules:
            if rule.code == wanted or rule.name == code_or_name.lower():
                return rule
        return None


@functools.cache
def rulebook() -> RuleBook:
    """The shipped rule set, loaded once."""
    return load_rulebook(rules_dir(), tables_dir())


def load_rulebook(rules: Path, tables: Path) -> RuleBook:
    """Load every rule file of a folder.

    Parameters
    ----------
    rules, tables : Path
        The folders of rules and tables.

    Returns
    -------
    RuleBook
        The rules.

    Raises
    ------
    InputError
        Every fault found, each with file, line and rule code.
    """
    faults: list[Fault] = []
    found: list[Rule] = []
    topics: dict[str, str] = {}
    places: dict[str, str] = {}
    retired: dict[str, str] = {}
    columns: dict[tuple[str, str, str], Any] = {}
    documents = []
    for path in sorted(rules.glob("*.yaml")):
        if path.name in OTHER_FILES:
            continue
        try:
            document = load_yaml(path)
            documents.append((document, _checked(document)))
        except InputError as error:
            faults.extend(error.faults)
    documents.sort(key=lambda pair: (pair[1].order, pair[0].name))
    sources = _bibliography(rules, faults)
    for _, rule_file in documents:
        retired.update(rule_file.retired)
    for document, rule_file in documents:
        for index, rule in enumerate(rule_file.rules):
            line = document.line(("rules", index))
            _lint(rule, document, index, sources, tables, columns, faults)
            for other in found:
                if rule.code == other.code or rule.name == other.name:
                    what = rule.code if rule.code == other.code else rule.name
                    problem = (
                        f"is used twice; first at {places[other.code]}. Codes are never reused"
                    )
                    faults.append(Fault(document.name, problem, line, f"rule {rule.code}", what))
            if rule.code in retired:
                problem = f"is retired in favour of {retired[rule.code]}; take a new code"
                faults.append(Fault(document.name, problem, line, f"rule {rule.code}", rule.code))
            found.append(rule)
            topics[rule.code] = rule_file.topic
            places.setdefault(rule.code, f"{Path(document.name).name}:{line}")
    for document, rule_file in documents:
        for old, new in rule_file.retired.items():
            if new not in places:
                problem = "is no rule; a retired code names the one that took its place"
                line = document.line(("retired", old))
                faults.append(Fault(document.name, problem, line, f"retired {old}", new))
    if faults:
        raise InputError(faults)
    return RuleBook(tuple(found), topics, places, retired, columns)


def _checked(document: Document) -> RuleFile:
    try:
        return RuleFile.model_validate(document.data)
    except ValidationError as error:
        from shaftwright.files.faults import faults_of

        faults = [
            Fault(f.file, f.problem, f.line, _with_code(f.field, document), f.value)
            for f in faults_of(error, document, RuleFile)
        ]
        raise InputError(faults) from None


def _with_code(path: str, document: Document) -> str:
    """`rules.3.form` retold as `rule A03: form`."""
    parts = path.split(".")
    if parts[0] == "rules" and len(parts) > 1 and parts[1].isdigit():
        raw = document.data["rules"][int(parts[1])]
        code = raw.get("code", f"number {int(parts[1]) + 1}") if isinstance(raw, dict) else parts[1]
        return f"rule {code}" + (f": {'.'.join(parts[2:])}" if parts[2:] else "")
    return path


def _bibliography(rules: Path, faults: list[Fault]) -> set[str]:
    path = rules / "bibliography.yaml"
    if not path.exists():
        return set()
    try:
        data = load_yaml(path).data
    except InputError as error:
        faults.extend(error.faults)
        return set()
    entries = data.get("sources", data) if isinstance(data, dict) else {}
    return set(entries) if isinstance(entries, dict) else set()


def _lint(
    rule: Rule, document: Document, index: int, sources: set[str], tables: Path,
    columns: dict[tuple[str, str, str], Any], faults: list[Fault],
) -> None:  # fmt: skip
    def fault(problem: str, *path: str, value: object = ...) -> None:
        line = document.line(("rules", index, *path))
        name = f"rule {rule.code}" + (f": {'.'.join(path)}" if path else "")
        faults.append(Fault(document.name, problem, line, name, value))

    for key in rule.source:
        if key not in sources:
            fault("is not a key of bibliography.yaml", "source", value=key)
    conditions = [("applies", rule.applies.when), ("applies", rule.applies.unless)]
    if rule.overlaps is not None:
        conditions.append(("overlaps", rule.overlaps.when))
    for where, mapping in conditions:
        for name, allowed in mapping.items():
            fact = FACTS.get(name)
            if fact is None or not fact.choices:
                fault("is not a choice of the closed list", where, value=name)
            else:
                for choice in set(allowed) - set(fact.choices):
                    fault(
                        f"is not a case of {name}; allowed: {' | '.join(fact.choices)}",
                        where,
                        value=choice,
                    )
    _lint_form(rule, fault, tables, columns)
    for label, facts in (("fires", rule.fires), ("silent", rule.silent or {})):
        for name, given in facts.items():
            if name not in FACTS:
                fault("is not in the closed list of facts", label, value=name)
            elif FACTS[name].choices and given not in FACTS[name].choices:
                fault(f"is not a case of {name}", label, value=given)
            elif not FACTS[name].choices and isinstance(given, str):
                fault(f"must be a plain number for {name}", label, value=given)
    try:
        rule.saw.format(fact=0.0, excess=0.0, case="", case_words="")
    except (LookupError, ValueError, AttributeError):
        blanks = "{fact:.1f} {excess:+.1f} {case} {case_words}"
        fault(f"has a blank that cannot be filled; allowed: {blanks}", "saw", value=rule.saw)


def _lint_form(
    rule: Rule, fault: Any, tables: Path, columns: dict[tuple[str, str, str], Any]
) -> None:
    form = rule.form
    if isinstance(form, Step):
        fact = FACTS.get(form.step)
        if fact is None or not fact.choices:
            fault("is not a choice of the closed list", "form", value=form.step)
            return
        for case in set(rule.cases or {}) - set(fact.choices):
            fault(
                f"is not a case of {form.step}; allowed: {' | '.join(fact.choices)}",
                "cases",
                value=case,
            )
    elif isinstance(form, Linear | Table):
        fact = FACTS.get(form.of)
        if fact is None or fact.choices:
            fault("is not a quantity of the closed list", "form", value=form.of)
            return
        if fact.of_build and rule.applies.to != "build":
            fault("is a quantity of the build; write applies: {to: build}", "form", value=form.of)
        if isinstance(form, Table):
            try:
                columns[form.table, form.x, form.y] = _read_columns(
                    tables / f"{form.table}.csv", form
                )
            except (OSError, KeyError, ValueError) as error:
                fault(
                    f"cannot be read as a table of {form.x} and {form.y}: {error}",
                    "form",
                    value=form.table,
                )
        else:
            _lint_step(form, fact.unit, fault)
            if isinstance(form.start, str):
                fault("must be a plain number in the quantity's unit", "form", value=form.start)


def _lint_step(form: Linear, unit: str, fault: Any) -> None:
    try:
        if form.per_unit == 0:
            fault("must not be nought", "form", value=form.per)
        elif isinstance(form.per, str) and form.unit not in ("", unit):
            problem = f"is not in the unit of {form.of}, which is {unit}"
            fault(problem, "form", value=form.per)
    except ValueError as error:
        fault(f"is not a step: {error}", "form", value=form.per)


def _read_columns(path: Path, form: Table) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    import csv

    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    x = np.array([float(row[form.x]) for row in rows])
    y = np.array([float(row[form.y]) for row in rows])
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("every row must hold two finite numbers")
    if len(x) < 2 or np.any(np.diff(x) <= 0):
        raise ValueError(f"{form.x} must rise from row to row")
    return x, y
