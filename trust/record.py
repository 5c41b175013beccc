"""What every program here writes: one JSON line of counts, from which docs/trust.md is made."""

from __future__ import annotations

import datetime as dt
import json
import os
import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
OWN = Path(__file__).resolve().parent / "counts"
#: elsewhere for a short run, which is no result
COUNTS = Path(os.environ.get("TRUST_COUNTS", OWN))
EXAMPLES = ROOT / "examples"


def machine() -> str:
    """What it ran on, without a name."""
    return f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores"


def versions(*names: str) -> dict[str, str]:
    """Versions of the packages named, Python first."""
    found = {"Python": platform.python_version()}
    for name in names:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "none"
    return found


def write(name: str, counts: dict[str, Any], *packages: str) -> None:
    """Put the counts of one program into its line."""
    COUNTS.mkdir(exist_ok=True, parents=True)
    whole = {"what": name, "date": dt.datetime.now(dt.UTC).date().isoformat(), "machine": machine(),
             "versions": versions(*packages), **counts}  # fmt: skip
    (COUNTS / f"{name}.json").write_text(json.dumps(whole) + "\n", encoding="utf-8")


def earlier(name: str, wanted: bool) -> dict[str, Any]:
    """What an earlier run with other seeds counted, to go on from; nothing where it is not wanted."""
    path = COUNTS / f"{name}.json"
    if not (wanted and path.exists()):
        return {}
    found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return found
