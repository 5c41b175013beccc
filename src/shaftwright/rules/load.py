"""Loading the rule set; each failure tells the author what to type, and where."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from shaftwright.errors import Fault, InputError
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import Document, load_yaml
from shaftwright.parameters import Range
from shaftwright.resources import rules_dir, tables_dir
from shaftwright.rules.schema import Columns, Rule, RuleFile, Shelf

Basis = Literal["both", "trade", "physics"]

#: files of the rule set that hold something else than shift rules
OTHER_FILES = frozenset({"purposes.yaml", "cautions.yaml", "bibliography.yaml", "diagnosis.yaml",
                         "matching.yaml", "evidence.yaml", "own_error.yaml", "plan.yaml", "setup.yaml",
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
    by_law : dict
        The model's middle under each law of the string that has one.
    share : float
        The trade's share in the most likely value used.
    between : float
        Standard deviation between the two, added to each one's own.
    """

    basis: Basis
    trade: Range
    physics: Range
    by_law: dict[str, float]
    used: Range
    share: float
    between: float


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
    own : dict
        Code -> whether the archer's own folder gave the whole rule, or a shipped one's size.
    usual_tail_gr : float or None
        What the archer's usual nock and fletching weigh [gr]; None where nothing is known of them.
    """

    rules: tuple[Rule, ...]
    topics: dict[str, str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    retired: dict[str, str] = field(default_factory=dict)
    tables: dict[tuple[str, str, str], Columns] = field(default_factory=dict)
    basis: Basis = "trade"
    sizes: dict[tuple[str, str], Sizes] = field(default_factory=dict)
    own: dict[str, Literal["rule", "size"]] = field(default_factory=dict)
    usual_tail_gr: float | None = None

    def sizes_of(self, code: str, case: str | None = None) -> Sizes | None:
        """What a rule's size rests on; None where the model says nothing of it."""
        return self.sizes.get((code, case or "")) or self.sizes.get((code, ""))

    def at_usual(self, code: str, span: Range) -> float:
        """The size that practice knows at the usual arrow: the trade's, beside the archer's own too."""
        if self.own.get(code) == "size":
            # a size of one's own tells the way from there, as `rules fit` finds it
            trade = rulebook().find(code)
            shipped = None if trade is None else trade.range_for(None)
            return span.value if shipped is None else shipped.value
        sizes = self.sizes_of(code)
        return sizes.trade.value if sizes is not None and sizes.basis == "both" else span.value

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
    """Every rule file of a folder; InputError tells every fault with file, line and rule code."""
    faults: list[Fault] = []
    shelf = Shelf(tables, bibliography(rules, faults))
    files: list[tuple[Document, RuleFile]] = []
    for path in sorted(rules.glob("*.yaml")):
        if path.name in OTHER_FILES:
            continue
        try:
            document = load_yaml(path)
            files.append((document, _checked(document, shelf)))
        except InputError as error:
            faults.extend(error.faults)
    files.sort(key=lambda pair: (pair[1].order, pair[0].name))
    found: list[Rule] = []
    topics: dict[str, str] = {}
    places: dict[str, str] = {}
    retired = {old: new for _, held in files for old, new in held.retired.items()}
    for document, held in files:
        for index, rule in enumerate(held.rules):
            line, label = document.line(("rules", index)), f"rule {rule.code}"
            for other in found:
                if rule.code == other.code or rule.name == other.name:
                    what = rule.code if rule.code == other.code else rule.name
                    problem = (
                        f"is used twice; first at {places[other.code]}. Codes are never reused"
                    )
                    faults.append(Fault(document.name, problem, line, label, what))
            if rule.code in retired:
                problem = f"is retired in favour of {retired[rule.code]}; take a new code"
                faults.append(Fault(document.name, problem, line, label, rule.code))
            found.append(rule)
            topics[rule.code] = held.topic
            places.setdefault(rule.code, f"{Path(document.name).name}:{line}")
    for document, held in files:
        for old, new in held.retired.items():
            if new not in places:
                problem = "is no rule; a retired code names the one that took its place"
                line = document.line(("retired", old))
                faults.append(Fault(document.name, problem, line, f"retired {old}", new))
    if faults:
        raise InputError(faults)
    return RuleBook(tuple(found), topics, places, retired, shelf.columns)


def _checked(document: Document, shelf: Shelf) -> RuleFile:
    try:
        return validated(RuleFile, document, context=shelf)
    except InputError as error:
        faults = [replace(f, field=_with_code(f.field, document)) for f in error.faults]
        raise InputError(faults) from None


def _with_code(path: str, document: Document) -> str:
    """`rules.3.form` retold as `rule A03: form`."""
    parts = path.split(".")
    if parts[0] == "rules" and len(parts) > 1 and parts[1].isdigit():
        raw = document.data["rules"][int(parts[1])]
        code = raw.get("code", f"number {int(parts[1]) + 1}") if isinstance(raw, dict) else parts[1]
        return f"rule {code}" + (f": {'.'.join(parts[2:])}" if parts[2:] else "")
    return path


def bibliography(rules: Path, faults: list[Fault]) -> frozenset[str]:
    """The keys that a folder's bibliography has; none without one."""
    path = rules / "bibliography.yaml"
    try:
        return frozenset(load_yaml(path).data["sources"]) if path.exists() else frozenset()
    except InputError as error:
        faults.extend(error.faults)
    except (TypeError, KeyError):
        faults.append(Fault(str(path), "holds no sources"))
    return frozenset()
