"""rules/diagnosis.yaml: causes, and the signs each shows."""

import functools
from typing import Literal, Self

from pydantic import model_validator

from shaftwright.parameters import Section, Sourced, section
from shaftwright.records.fields import Record
from shaftwright.rules.schema import Code, Line, RuleName

Axis = Literal["sideways", "vertical"]
Odds = dict[str, float]


class Prior(Record):
    """A cause's chance before any sign: fixed, or what the spine band says."""

    chance: float | None = None
    band: Literal["matched", "stiff", "weak", "far_too_weak"] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.chance is None) == (self.band is None):
            raise ValueError("needs chance or band, and only one")
        return self


class Cause(Sourced):
    """One cause with the chances of its signs, and a check."""

    code: Code
    name: RuleName
    axis: Axis
    label: Line
    prior: Prior
    signs: dict[str, Odds]
    check: Line
    #: the check once marks were looked for
    check_noted: Line | None = None
    #: the check where nothing lighter can go up front
    check_lightest: Line | None = None


class DiagnosisRules(Section):
    """The file, its numbers aside."""

    signs: dict[str, Odds]
    causes: tuple[Cause, ...]

    @model_validator(mode="after")
    def _closed(self) -> Self:
        for name, odds in self.signs.items():
            if abs(sum(odds.values()) - 1) > 1e-9:
                raise ValueError(f"needs chances of {name} that sum to 1")
        for cause in self.causes:
            for name, odds in cause.signs.items():
                if name not in self.signs or set(odds) != set(self.signs[name]):
                    raise ValueError(
                        f"{cause.code}: {name} is not a sign of the list, or its values differ"
                    )
                if abs(sum(odds.values()) - 1) > 1e-9:
                    raise ValueError(f"{cause.code}: the chances of {name} do not sum to 1")
        return self


@functools.cache
def diagnosis_rules() -> DiagnosisRules:
    """The shipped file, loaded once."""
    return section("diagnosis", DiagnosisRules)
