"""A rig file, and setup cards saved as JSON, read back."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import yaml

from shaftwright.errors import InputError
from shaftwright.files.faults import validated
from shaftwright.files.strict_yaml import (
    LONGEST_KEY,
    Document,
    StrictDumper,
    load_yaml,
    parse_yaml,
    read_text,
)
from shaftwright.records.rig import Rig


def load_rig(path: Path | str, changes: Sequence[str] = ()) -> Rig:
    """Read one rig file, with any `field=value` changes of `--set` laid over it."""
    document = load_yaml(path)
    for change in changes:
        _apply(document, change)
    return rig_from(document)


def rig_from(document: Document) -> Rig:
    """A rig from plain data with lines; see `load_rig`."""
    if not isinstance(document.data, dict):
        raise InputError.of(document.name, "is not a rig: it must begin with format: 1")
    return validated(Rig, document)


def _apply(document: Document, change: str) -> None:
    name, sign, text = change.partition("=")
    label = f"--set {change[:60]}"
    if not sign or not name.strip() or len(name) > LONGEST_KEY:
        raise InputError.of(label, "write it as field=value, such as string.material=polyester")
    keys = name.strip().split(".")
    value: Any = parse_yaml(text, label).data
    if not isinstance(document.data, dict):
        return
    data = document.data
    for key in keys[:-1]:
        below = data.get(key)
        if below is None:
            below = data[key] = {}
        if not isinstance(below, dict):
            raise InputError.of(label, f"{key} has no fields of its own")
        data = below
    names = Rig.spellings(keys)
    data[next((name for name in names if name in data), names[0])] = value


def dump_rig(rig: Rig) -> str:
    """A rig as YAML text that reads back to the same record."""
    return yaml.dump(
        rig.as_written(), Dumper=StrictDumper, sort_keys=False, allow_unicode=True, width=100
    )


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
