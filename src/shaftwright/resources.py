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


def usual(fact: str, case: str = "any", column: str = "value") -> float:
    """One usual value of tables/rig_usual.csv.

    Parameters
    ----------
    fact, case : str
        Row.
    column : str
        `value`, `low` or `high`.

    Returns
    -------
    float
        In the row's unit.

    Raises
    ------
    KeyError
        No such row.
    """
    return look_up("rig_usual", "fact", fact, case, column)


def look_up(name: str, key: str, fact: str, case: str, column: str) -> float:
    """One number of a table whose rows are told by what they state and in which case.

    Parameters
    ----------
    name : str
        The table.
    key : str
        Its column of facts.
    fact, case : str
        Row.
    column : str
        Such as `value`, `low` or `high`.

    Returns
    -------
    float
        In the row's unit.

    Raises
    ------
    KeyError
        No such row.
    """
    for row in table(name):
        if row[key] == fact and row["case"] == case:
            return float(row[column])
    raise KeyError(f"{name}.csv has no row {fact}, {case}")
