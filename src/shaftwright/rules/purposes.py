"""Purposes, mass floors, the weights of the ranking, and the settings of the match, as data."""

import functools
from pathlib import Path
from typing import Literal, TypeVar

from pydantic import ValidationError

from shaftwright.errors import InputError
from shaftwright.files.strict_yaml import load_yaml
from shaftwright.records.fields import Format, Record
from shaftwright.resources import rules_dir
from shaftwright.rules.schema import Basis, Choices

M = TypeVar("M", bound=Record)


class Span(Record):
    """A range without a most likely value."""

    low: float
    high: float


class PurposeRule(Record):
    """What one purpose asks of an arrow."""

    label: str
    gr_per_lb: Span
    foc_pct: dict[str, Span]
    shortest_shaft_beyond_draw_in: float
    usual_front_gr: float
    broadheads: bool
    why: str
    basis: Basis
    source: tuple[str, ...]


class MassFloor(Record):
    """Lightest arrow in grains per pound; a limit rejects, the others caution."""

    name: str
    gr_per_lb: float
    limit: bool
    applies: Choices
    why: str
    basis: Basis
    source: tuple[str, ...]


class Worth(Record):
    """One part of the ranking's score."""

    weight: float
    why: str
    fades_over: float = 1.0


class Purposes(Record):
    """rules/purposes.yaml."""

    format: Format
    purposes: dict[str, PurposeRule]
    mass_floors: tuple[MassFloor, ...]
    utility: dict[Literal["match", "mass", "foc", "robustness", "price", "in_hand"], Worth]


class Setting(Record):
    """One number of the match with its range and reason."""

    value: float
    low: float
    high: float
    why: str
    basis: Basis
    source: tuple[str, ...]


class Settings(Record):
    """rules/matching.yaml."""

    format: Format
    settings: dict[str, Setting]


def load_rule_file(path: Path, model: type[M]) -> M:
    """Read one file of the rule set into its model.

    Parameters
    ----------
    path : Path
        The file.
    model : type
        Its model.

    Returns
    -------
    Record
        The checked content.

    Raises
    ------
    InputError
        Every fault, with its line.
    """
    document = load_yaml(path)
    try:
        return model.model_validate(document.data)
    except ValidationError as error:
        from shaftwright.files.faults import faults_of

        raise InputError(faults_of(error, document, model)) from None


@functools.cache
def purposes() -> Purposes:
    """The shipped purposes, loaded once."""
    return load_rule_file(rules_dir() / "purposes.yaml", Purposes)


@functools.cache
def _settings() -> dict[str, Setting]:
    return load_rule_file(rules_dir() / "matching.yaml", Settings).settings


def setting(name: str) -> float:
    """One number of rules/matching.yaml.

    Parameters
    ----------
    name : str
        Its key.

    Returns
    -------
    float
        Its value.

    Raises
    ------
    KeyError
        No such setting.
    """
    return _settings()[name].value
