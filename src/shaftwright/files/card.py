"""Setup cards saved as JSON, read back to be held against a new one."""

from __future__ import annotations

import json
import math
from functools import partial
from pathlib import Path
from typing import Any

from shaftwright.errors import InputError
from shaftwright.files.strict_yaml import read_text

_LONGEST = 500
_MOST = 500


def load_card(path: Path | str) -> tuple[str, dict[str, tuple[str, str]]]:
    """Read a card that `card --json` printed: its date, and key -> (label, value)."""
    name, text = str(path), read_text(path)
    refuse = partial(InputError.of, name)
    try:
        data: Any = json.loads(text)
    except json.JSONDecodeError as error:
        raise refuse(f"is not JSON here: {error.msg}", error.lineno) from None
    except (RecursionError, ValueError):
        raise refuse(
            "is no setup card: it is nested too deep or has a number out of all reason"
        ) from None
    saved = "save one with: shaftwright card --json > FILE"
    if not isinstance(data, dict) or not isinstance(data.get("fields"), dict):
        raise refuse(f"is no setup card; {saved}")
    version = data.get("format")
    if version not in (1, 2) or isinstance(version, bool):
        shown = "" if isinstance(version, float) and not math.isfinite(version) else version
        raise refuse(
            f"is not a format that is known; allowed: 1 or 2; {saved}", None, "format", shown
        )
    fields: dict[str, tuple[str, str]] = {}
    if len(data["fields"]) > _MOST:
        raise refuse(f"has more than {_MOST} fields", None, "fields")
    for key, item in data["fields"].items():
        held = item if isinstance(item, dict) else {}
        label, value = held.get("label"), held.get("value")
        if not (isinstance(label, str) and isinstance(value, str)):
            raise refuse(
                f"needs a label and a value, both text; {saved}", None, f"fields.{key[:60]}"
            )
        fields[key[:_LONGEST]] = label[:_LONGEST], value[:_LONGEST]
    date = data.get("date")
    return (date[:40] if isinstance(date, str) else "without a date"), fields
