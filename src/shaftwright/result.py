"""What every result is: a frozen dataclass whose document follows from its fields."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any


def kept(**told: Any) -> dict[str, Any]:
    """Metadata of a field.

    `json` is its key (False leaves it out), `digits` how many decimals it shows; `optional` leaves it
    out where it is None, `flat` puts its own keys in its place. `ends` is the key of a range's two ends;
    its middle then stands by itself.
    """
    return told


class Result:
    """A dataclass with a document."""

    def to_dict(self) -> dict[str, Any]:
        """Plain data by the fields' names, for JSON."""
        found: dict[str, Any] = {}
        for one in fields(self):  # type: ignore[arg-type]
            told, value = one.metadata, getattr(self, one.name)
            key = told.get("json", one.name)
            if key is False or (value is None and told.get("optional")):
                continue
            if told.get("flat"):
                found |= plain(value)
            elif "ends" in told:
                found[key] = None if value is None else value.mid
                found[told["ends"]] = (
                    None if value is None else {"low": value.low, "high": value.high}
                )
            else:
                found[key] = plain(value, told.get("digits"))
        return found


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


def document(plan: dict[str, Any], found: dict[str, Any]) -> dict[str, Any]:
    """A whole document, the plan first."""
    first = {"format": 2, **plan}
    whole: dict[str, Any] = finite(first | {k: v for k, v in found.items() if k not in first})
    return whole


def finite(value: Any) -> Any:
    """Plain data for JSON: NaN and infinities become null, numpy numbers plain ones.

    Examples
    --------
    >>> finite({"a": (1.0, float("nan"))})
    {'a': [1.0, None]}
    """
    if isinstance(value, dict):
        return {str(key): finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [finite(item) for item in value]
    if hasattr(value, "item") and getattr(value, "ndim", 1) == 0:
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
