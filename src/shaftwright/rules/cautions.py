"""Cautions as data: which of them a rig, a purpose and its shafts call for."""

import functools
from collections.abc import Collection
from typing import Literal

from shaftwright.parameters import Basis, Section, section
from shaftwright.records.fields import Record
from shaftwright.records.rig import Rig
from shaftwright.rules.schema import Choices, Code, Line, RuleName

SEVERITIES = ("danger", "caution", "info")


class Caution(Record):
    """One caution: when it is due, what it says, why, and what to do."""

    code: Code
    name: RuleName
    severity: Literal["danger", "caution", "info"]
    when: Literal["always"] | Choices
    text: Line
    why: str
    do: str
    basis: Basis
    source: tuple[str, ...]


class CautionFile(Section):
    """rules/cautions.yaml."""

    cautions: tuple[Caution, ...]


@functools.cache
def all_cautions() -> tuple[Caution, ...]:
    """The shipped cautions, loaded once."""
    return section("cautions", CautionFile).cautions


def cautions_for(rig: Rig, purpose: str, materials: Collection[str]) -> list[Caution]:
    """The cautions due for a rig, a purpose and the materials of its shafts, gravest first.

    Parameters
    ----------
    rig : Rig
        The rig.
    purpose : str
        Key of rules/purposes.yaml.
    materials : collection of str
        Materials of the shafts in question.

    Returns
    -------
    list of Caution
        In order of severity, then as written.
    """
    found = [
        c for c in all_cautions() if c.when == "always" or due(c.when, rig, purpose, materials)
    ]
    return sorted(found, key=lambda c: SEVERITIES.index(c.severity))


def due(when: Choices, rig: Rig, purpose: str, materials: Collection[str]) -> bool:
    """Whether all choices of rig, purpose and shafts hold under which something is due."""
    values = {"purpose": {purpose}, "shaft.material": {*materials}}
    return all(
        not values.get(name, {str(rig.at(name))}).isdisjoint(allowed)
        for name, allowed in when.items()
    )


def cautions_naming(field: str, value: str) -> list[Caution]:
    """The cautions due for one value of one field, whatever the rest of the rig.

    Parameters
    ----------
    field : str
        A field of the rig, such as `string.material`.
    value : str
        One of its choices; `unknown` where it was not told.

    Returns
    -------
    list of Caution
        Those that hang on this field alone, as written.

    Examples
    --------
    >>> [c.name for c in cautions_naming("string.material", "unknown")]
    ['low-stretch-string']
    """
    return [
        c
        for c in all_cautions()
        if c.when != "always" and set(c.when) == {field} and value in c.when[field]
    ]
