"""rules/evidence.yaml beside its numbers: what words span, which doubts start anew."""

import functools
from typing import Literal

from shaftwright.parameters import Section, Sourced, section
from shaftwright.records.fields import Record
from shaftwright.records.notebook import Reads
from shaftwright.rules.schema import Code

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


class Words(Sourced):
    """What archers mean by their words."""

    why: str
    spans: dict[Reads, Word]


class Anew(Sourced):
    """Rules whose doubt starts anew: with any change, with other limbs too, with another rig too."""

    why: str
    any_change: tuple[Code, ...]
    limbs: tuple[Code, ...]
    another_rig: tuple[Code, ...]


class EvidenceRules(Section):
    """The file, its numbers aside."""

    words: Words
    anew: Anew


@functools.cache
def evidence_rules() -> EvidenceRules:
    """The shipped file, loaded once."""
    return section("evidence", EvidenceRules)
