"""What every answer is: a result about a bow, its document carrying the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from shaftwright.result import Result, kept

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


@dataclass(frozen=True)
class Answer(Result):
    """A result about a bow: its document names the bow and carries the plan."""

    question: Scenario = field(metadata=kept(json=False), repr=False)

    def to_dict(self) -> dict[str, Any]:
        """Format, bow and purpose, what was found, and the one next thing."""
        asked = self.question
        head = {"format": 2, "rig": asked.rig.name, "purpose": asked.purpose}
        return {**head, **super().to_dict(), **asked.plan.keys()}
