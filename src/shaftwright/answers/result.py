"""What every answer is: a frozen dataclass whose document follows from its fields."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, is_dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


def kept(**told: Any) -> dict[str, Any]:
    """Metadata of a field: `json` is its key (False leaves it out), `digits` how many decimals it shows.

    `ends` is the key of a range's two ends; its middle then stands by itself. The keys of a `flat`
    one stand among those of the whole.
    """
    return told


class Result:
    """A dataclass with a document."""

    def to_dict(self) -> dict[str, Any]:
        """Plain data by the fields' names, for JSON."""
        found: dict[str, Any] = {}
        for one in fields(self):  # type: ignore[arg-type]
            key = one.metadata.get("json", one.name)
            value, ends = getattr(self, one.name), one.metadata.get("ends")
            if one.metadata.get("flat"):
                found |= plain(value)
            elif key is not False:
                found[key] = plain(value, one.metadata.get("digits"))
            if ends is not None:
                found[key] = None if value is None else value.mid
                found[ends] = None if value is None else {"low": value.low, "high": value.high}
        return found


@dataclass(frozen=True)
class Answer(Result):
    """A result about a bow: its document names the bow and carries the plan."""

    question: Scenario = field(metadata=kept(json=False), repr=False)

    def to_dict(self) -> dict[str, Any]:
        """Format, bow and purpose, what was found, and the one next thing."""
        asked = self.question
        head = {"format": 2, "rig": asked.rig.name, "purpose": asked.purpose}
        return {**head, **super().to_dict(), **asked.plan.keys()}


def plain(value: Any, digits: int | None = None) -> Any:
    """A value as JSON has it."""
    if isinstance(value, Result):
        return value.to_dict()
    if hasattr(value, "model_dump"):
        return value.model_dump(mode="json")
    if is_dataclass(value) and not isinstance(value, type):
        return {one.name: plain(getattr(value, one.name), digits) for one in fields(value)}
    if isinstance(value, dict):
        return {str(key): plain(item, digits) for key, item in value.items()}
    if hasattr(value, "_asdict"):
        return plain(value._asdict(), digits)
    if isinstance(value, list | tuple):
        return [plain(item, digits) for item in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and digits is not None:
        return round(value, digits)
    return value
