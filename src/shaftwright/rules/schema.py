"""What a rule is: when it applies, what it shifts, by how much, how sure, why, and who says so."""

import re
from typing import Annotated, Any, Literal, Self

from pydantic import Field, StringConstraints, model_validator

from shaftwright.records.fields import Format, Record
from shaftwright.units import UNITS, read_quantity

Basis = Literal["published", "common_practice", "calculated", "fitted", "recalled"]
Line = Annotated[str, StringConstraints(min_length=1, max_length=140, pattern=r"^[^\n]+$")]
Code = Annotated[str, StringConstraints(pattern=r"^[A-Z]\d{2}$")]
RuleName = Annotated[str, StringConstraints(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=40)]
Choices = dict[str, tuple[str, ...]]
Facts = dict[str, float | str]


class Range(Record):
    """Most likely value and a 95 % range; lopsided ranges are split normals."""

    value: float
    low: float
    high: float

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if not self.low <= self.value <= self.high:
            raise ValueError("needs low <= value <= high")
        return self


class Applies(Record):
    """When a rule speaks: to the rig alone or to each build, and under which choices."""

    to: Literal["rig", "build"] = "rig"
    when: Choices = Field(default_factory=dict)
    unless: Choices = Field(default_factory=dict)


class Linear(Record):
    """So much for every `per` of a quantity beyond `from`, until `until`."""

    per: str | float
    of: str
    start: float | str = Field(alias="from")
    until: float | None = None

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


class Step(Record):
    """A value for each case of a choice; cases that are not named shift nothing."""

    step: str


class Table(Record):
    """A factor on a column of a table in tables/, interpolated along a quantity."""

    table: str
    of: str
    x: str
    y: str


class Overlap(Record):
    """Membership of an overlap group, always or only under some choices."""

    group: RuleName
    when: Choices = Field(default_factory=dict)


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
    source: tuple[str, ...] = ()
    note: str = ""
    fires: Facts
    silent: Facts | None = None

    @model_validator(mode="before")
    @classmethod
    def _short_overlap(cls, data: Any) -> Any:
        if isinstance(data, dict) and isinstance(data.get("overlaps"), str):
            data = {**data, "overlaps": {"group": data["overlaps"]}}
        return data

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
        if self.basis in ("published", "fitted") and not self.source:
            raise ValueError(
                f"basis {self.basis} needs a source: a list of keys of bibliography.yaml"
            )
        if self.silent is None and self.form != "constant":
            raise ValueError("needs silent: a case in which the rule must stay silent")
        if re.search(r"[.!]$", self.saw):
            raise ValueError("saw is a clause; leave the full stop away")
        return self

    def range_for(self, case: str | None) -> Range | None:
        """The effect's range, for the case of a step; None where it shifts nothing."""
        if self.cases is not None:
            return self.cases.get(case or "")
        assert self.value is not None
        assert self.low is not None
        assert self.high is not None
        return Range(value=self.value, low=self.low, high=self.high)


class RuleFile(Record):
    """One file of rules on one topic; `order` places the topic among the others on screens."""

    format: Format
    topic: str
    order: int = 50
    rules: tuple[Rule, ...]
    retired: dict[Code, Code] = Field(default_factory=dict)
