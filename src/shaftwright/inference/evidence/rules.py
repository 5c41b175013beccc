"""rules/evidence.yaml: how far an offset, a word, a tail or a mark is trusted."""

from __future__ import annotations

import functools
from typing import Literal

from shaftwright.records.fields import Format, Record
from shaftwright.records.notebook import Reads
from shaftwright.resources import rules_dir
from shaftwright.rules.purposes import Setting, load_rule_file
from shaftwright.rules.schema import Basis, Code

Edge = float | Literal["tolerance", "-tolerance"] | None


class Word(Record):
    """Pounds of mismatch that a word spans; an open end is null."""

    low: Edge
    high: Edge

    def limits(self, tolerance_lb: float) -> tuple[float, float]:
        """Both ends in pounds, open ones infinite."""
        named = {"tolerance": tolerance_lb, "-tolerance": -tolerance_lb}
        low = -float("inf") if self.low is None else named.get(str(self.low), self.low)
        high = float("inf") if self.high is None else named.get(str(self.high), self.high)
        return float(low), float(high)


class Anew(Record):
    """Rules whose doubt starts anew: with any change, with other limbs too, with another rig too."""

    any_change: tuple[Code, ...]
    limbs: tuple[Code, ...]
    another_rig: tuple[Code, ...]


class EvidenceRules(Record):
    """The whole file."""

    format: Format
    topic: str
    settings: dict[str, Setting]
    words: dict[Reads, Word]
    words_basis: Basis
    words_source: tuple[str, ...]
    words_why: str
    anew: Anew
    anew_why: str
    anew_basis: Basis
    anew_source: tuple[str, ...]

    def value(self, name: str) -> float:
        """A setting's most likely value."""
        return self.settings[name].value


@functools.cache
def evidence_rules() -> EvidenceRules:
    """The shipped file, loaded once."""
    return load_rule_file(rules_dir() / "evidence.yaml", EvidenceRules)
