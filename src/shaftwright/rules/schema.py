"""What a rule is: when it applies, what it shifts, by how much, how sure, why, and who says so."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import (
    AfterValidator,
    Field,
    StringConstraints,
    ValidationInfo,
    field_validator,
    model_validator,
)

from shaftwright.arrays import Array
from shaftwright.errors import did_you_mean, echo
from shaftwright.parameters import Basis, Range, Section, has_source
from shaftwright.records.fields import Record
from shaftwright.resources import read_table
from shaftwright.rules.facts import FACTS, Fact, Signed
from shaftwright.units import UNITS, read_quantity

Line = Annotated[str, StringConstraints(min_length=1, max_length=140, pattern=r"^[^\n]+$")]
Code = Annotated[str, StringConstraints(pattern=r"^[A-Z]\d{2}$")]
RuleName = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
Choices = dict[str, tuple[str, ...]]
#: pounds or percent that no rule shifts by; the farthest shipped range ends at 36
LARGEST = 100
Columns = tuple[Array, Array]


def _choice_with(name: str, cases: Iterable[str]) -> None:
    fact = FACTS.get(name)
    if fact is None or not fact.choices:
        choices = [known for known, fact in FACTS.items() if fact.choices]
        hint = did_you_mean(name, choices, f"; such as {choices[0]}")
        raise ValueError(f"{echo(name)} is not a choice of the closed list{hint}")
    for case in cases:
        if case not in fact.choices:
            allowed = " | ".join(fact.choices)
            raise ValueError(f"{echo(case)} is not a case of {name}; allowed: {allowed}")


def _usual_of(name: str, of: Fact) -> None:
    fits = [n for n, one in FACTS.items() if n.startswith("usual_") and one.unit == of.unit]
    if name not in fits:
        allowed = " | ".join(fits) or "none, for nothing usual is told in its unit"
        raise ValueError(f"{echo(name)} tells nothing usual of the same kind; allowed: {allowed}")


def _known_choices(given: Choices) -> Choices:
    for name, cases in given.items():
        _choice_with(name, cases)
    return given


def _known_facts(given: dict[str, float | str]) -> dict[str, float | str]:
    for name, value in given.items():
        if name not in FACTS:
            hint = did_you_mean(name, FACTS, "; such as draw_length_in")
            raise ValueError(f"{echo(name)} is not in the closed list of facts{hint}")
        if FACTS[name].choices:
            _choice_with(name, [str(value)])
        elif isinstance(value, str):
            raise ValueError(f"{echo(value)} must be a plain number for {name}")
    return given


def _known_source(key: str, info: ValidationInfo) -> str:
    if info.context is not None and key not in info.context.sources:
        raise ValueError("is not a key of bibliography.yaml")
    return key


KnownChoices = Annotated[Choices, AfterValidator(_known_choices)]
Facts = Annotated[dict[str, float | str], AfterValidator(_known_facts)]


class Applies(Record):
    """When a rule speaks: to the rig alone or to each build, and under which choices."""

    to: Literal["rig", "build"] = "rig"
    when: KnownChoices = Field(default_factory=dict)
    unless: KnownChoices = Field(default_factory=dict)


class Linear(Record):
    """So much for every `per` of a quantity beyond `from`, until `until`; in doubt as far from `usual`."""

    per: str | float
    of: str
    start: float | str = Field(alias="from")
    until: float | None = None
    usual: str | None = None

    @property
    def unit(self) -> str:
        """The unit that the step is written in; empty where it is a plain number."""
        if not isinstance(self.per, str):
            return ""
        return next((word for word in reversed(self.per.split()) if word.isalpha()), "")

    @property
    def per_unit(self) -> float:
        """The step as a plain number in the quantity's own unit."""
        if not isinstance(self.per, str):
            return self.per
        if self.unit and self.unit not in UNITS:
            raise ValueError(f"unit {self.unit!r} is not known")
        return read_quantity(self.per, self.unit or "in")

    def check(self, unit: str) -> None:
        """Refuse a step that is none, or not in the quantity's unit."""
        try:
            step = self.per_unit
        except ValueError as error:
            raise ValueError(f"{echo(self.per)} is not a step: {error}; write 1 {unit}") from None
        if step == 0:
            raise ValueError(f"{echo(self.per)} must not be nought")
        if self.unit not in ("", unit):
            raise ValueError(f"{echo(self.per)} is not in the unit of {self.of}, which is {unit}")
        if isinstance(self.start, str):
            raise ValueError(f"{echo(self.start)} must be a plain number in the quantity's unit")


class Step(Record):
    """A value for each case of a choice; cases that are not named shift nothing."""

    step: str


class Table(Record):
    """A factor on a column of a table in tables/, along a quantity; in doubt as far from `usual`."""

    table: str
    of: str
    x: str
    y: str
    usual: str | None = None


@dataclass(frozen=True)
class Shelf:
    """What rules may point to: keys of the bibliography, and tables, of which the columns are kept."""

    tables: Path
    sources: frozenset[str]
    columns: dict[tuple[str, str, str], Columns] = field(default_factory=dict)

    def read(self, form: Table) -> None:
        """The two columns that a form names."""
        try:
            rows = read_table(self.tables / f"{form.table}.csv")
            x, y = (np.array([float(row[name]) for row in rows]) for name in (form.x, form.y))
            if not (np.isfinite(x).all() and np.isfinite(y).all()):
                raise ValueError("every row must hold two finite numbers")
            if len(x) < 2 or np.any(np.diff(x) <= 0):
                raise ValueError(f"{form.x} must rise from row to row")
        except (OSError, KeyError, ValueError) as error:
            asked = f"{echo(form.table)} cannot be read as a table of {form.x} and {form.y}"
            raise ValueError(f"{asked}: {error}") from None
        self.columns[form.table, form.x, form.y] = x, y


class Overlap(Record):
    """Membership of an overlap group, always or only under some choices."""

    group: RuleName
    when: KnownChoices = Field(default_factory=dict)


class Rule(Record):
    """One rule: one permanent code, one reason, one source."""

    code: Code
    name: RuleName
    applies: Applies = Field(default_factory=Applies)
    shift: Literal["effective_bow_weight_lb", "draw_weight_lb"]
    form: Linear | Step | Table | Literal["constant"]
    shift_unit: Literal["lb", "pct_of_draw_weight"]
    value: float | None = None
    low: float | None = None
    high: float | None = None
    cases: dict[str, Range] | None = None
    overlaps: Overlap | None = None
    saw: Line
    why: Line
    do: Line
    narrow: Line | None = None
    narrow_cases: tuple[str, ...] = ()
    basis: Basis
    source: tuple[Annotated[str, AfterValidator(_known_source)], ...] = ()
    note: str = ""
    fires: Facts
    silent: Facts | None = None

    _sourced = model_validator(mode="after")(has_source)

    @field_validator("form")
    @classmethod
    def _form_known(cls, form: Any, info: ValidationInfo) -> Any:
        if isinstance(form, Step):
            _choice_with(form.step, ())
        elif isinstance(form, Linear | Table):
            fact, applies = FACTS.get(form.of), info.data.get("applies")
            if fact is None or fact.choices:
                numbers = [known for known, one in FACTS.items() if not one.choices]
                hint = did_you_mean(form.of, numbers, f"; such as {numbers[0]}")
                raise ValueError(f"{echo(form.of)} is not a quantity of the closed list{hint}")
            if fact.of_build and applies is not None and applies.to != "build":
                told = "is a quantity of the build; write applies: {to: build}"
                raise ValueError(f"{echo(form.of)} {told}")
            if form.usual is not None:
                _usual_of(form.usual, fact)
            if isinstance(form, Linear):
                form.check(fact.unit)
            elif info.context is not None:
                info.context.read(form)
        return form

    @field_validator("cases")
    @classmethod
    def _cases_known(cls, cases: Any, info: ValidationInfo) -> Any:
        if isinstance(info.data.get("form"), Step):
            _choice_with(info.data["form"].step, cases or ())
        return cases

    @field_validator("overlaps", mode="before")
    @classmethod
    def _short_overlap(cls, given: Any) -> Any:
        return {"group": given} if isinstance(given, str) else given

    @field_validator("saw")
    @classmethod
    def _clause(cls, saw: str) -> str:
        if re.search(r"[.!]$", saw):
            raise ValueError("is a clause; leave the full stop away")
        try:
            nought = Signed(0.0)
            saw.format(fact=nought, excess=nought, usual=nought, case="", case_words="")
        except (LookupError, ValueError, AttributeError):
            blanks = (
                "{fact:.1f} {excess:.1f| in longer| in shorter} {usual:.1f} {case} {case_words}"
            )
            raise ValueError(f"has a blank that cannot be filled; allowed: {blanks}") from None
        return saw

    @model_validator(mode="after")
    def _whole(self) -> Self:
        numbers = (self.value, self.low, self.high)
        if isinstance(self.form, Step):
            if not self.cases or any(n is not None for n in numbers):
                raise ValueError(
                    "a step needs cases: {choice: {value, low, high}} and no value of its own"
                )
        elif any(n is None for n in numbers) or self.cases:
            raise ValueError("a numeric effect needs value, low and high, and no cases")
        else:
            Range(value=self.value, low=self.low, high=self.high)
        if self.overlaps is not None and self.slope:
            raise ValueError("a form with a usual is in no overlap group")
        ends = [("low", self.low), ("high", self.high)]
        for one in (self.cases or {}).values():
            ends += [("low", one.low), ("high", one.high)]
        for name, end in ends:
            if end is not None and abs(end) > LARGEST:
                told = f"is past any effect; allowed: {-LARGEST} to {LARGEST}"
                raise ValueError(f"{name} {echo(end)} {told}")
        if self.silent is None and self.form != "constant":
            raise ValueError("needs silent: a case in which the rule must stay silent")
        return self

    @property
    def slope(self) -> bool:
        """Whether practice knows what suits at the usual arrow: its doubt is of the way from there."""
        return isinstance(self.form, Linear | Table) and self.form.usual is not None

    def range_for(self, case: str | None) -> Range | None:
        """The effect's range, for the case of a step; None where it shifts nothing."""
        if self.cases is not None:
            return self.cases.get(case or "")
        assert self.value is not None
        assert self.low is not None
        assert self.high is not None
        return Range(value=self.value, low=self.low, high=self.high)


class RuleFile(Section):
    """One file of rules on one topic; `order` places the topic among the others on screens."""

    topic: str
    order: int = 50
    rules: tuple[Rule, ...]
    retired: dict[Code, Code] = Field(default_factory=dict)
