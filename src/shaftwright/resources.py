"""Where the rules and tables live: inside an installed wheel, or at the top of a checkout."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    installed = _PACKAGE / "data" / name
    return installed if installed.is_dir() else _PACKAGE.parents[1] / name


def rules_dir() -> Path:
    """The folder of the shipped rule set."""
    return _folder("rules")


def tables_dir() -> Path:
    """The folder of the shipped reference tables."""
    return _folder("tables")


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one shipped reference table, each a mapping of column to text.

    Parameters
    ----------
    name : str
        File name without `.csv`.

    Returns
    -------
    tuple of dict
        The rows in file order.

    Raises
    ------
    FileNotFoundError
        No such table.
    """
    with (tables_dir() / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return tuple(csv.DictReader(handle))
