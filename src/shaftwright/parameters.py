"""Every number of rules/, with its range, reason and basis: `setting("plan.first_yd")` reads one.

Constants of tables/ are read by `resources.constant`.
"""

import functools
from dataclasses import replace
from typing import Any, Literal, Self, TypeVar

from pydantic import model_validator

from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import Document, load_yaml
from shaftwright.records.fields import Format, Record
from shaftwright.resources import rules_dir

Basis = Literal["published", "common_practice", "calculated", "fitted", "recalled"]
M = TypeVar("M", bound=Record)


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


def has_source(told: Any) -> Any:
    """Refuse what says it is published or fitted, and not where."""
    if told.basis in ("published", "fitted") and not told.source:
        raise ValueError(f"basis {told.basis} needs a source: a list of keys of bibliography.yaml")
    return told


class Sourced(Record):
    """What a statement rests on."""

    basis: Basis
    source: tuple[str, ...]

    _sourced = model_validator(mode="after")(has_source)


class Setting(Sourced, Range):
    """One number with its range and reason."""

    why: str


class Section(Record):
    """The head of a file of rules/; what else it holds beside its numbers, a class of its own says."""

    format: Format


class _Numbers(Section):
    topic: str = ""
    settings: dict[str, Setting]


@functools.cache
def _document(file: str) -> Document:
    return load_yaml(rules_dir() / f"{file}.yaml")


def section(file: str, model: type[M]) -> M:
    """What one file of rules/ holds beside its numbers."""
    document = _document(file)
    beside = {key: held for key, held in document.data.items() if key not in ("topic", "settings")}
    return validated(model, replace(document, data=beside))


@functools.cache
def parameters(file: str) -> dict[str, Setting]:
    """The numbers of one file of rules/, loaded once."""
    document = _document(file)
    own = {key: held for key, held in document.data.items() if key in _Numbers.model_fields}
    return validated(_Numbers, replace(document, data=own)).settings


@functools.cache
def setting(name: str) -> float:
    """One number by file and key, such as `plan.first_yd`.

    Examples
    --------
    >>> setting("plan.first_yd")
    10.0
    """
    file, _, key = name.partition(".")
    return parameters(file)[key].value
