"""Where the rules and tables live, in an installed wheel or a checkout, and the constants of tables."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from shaftwright.units import Interval

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


def is_whole_set(rules: Path) -> bool:
    """Whether a folder is a rule set with all that belongs to one, not a few rules of an archer's own."""
    return all((rules / name).exists() for name in ("matching.yaml", "purposes.yaml"))


@cache
def table(name: str) -> tuple[dict[str, str], ...]:
    """The rows of one shipped reference table in file order, each a mapping of column to text."""
    return read_table(tables_dir() / f"{name}.csv")


def read_table(path: Path) -> tuple[dict[str, str], ...]:
    """The rows of any table."""
    with path.open(encoding="utf-8", newline="") as handle:
        return tuple(csv.DictReader(handle))


@cache
def constant(name: str, *keys: str, column: str = "value") -> float:
    """One number of a table, by the leading columns of its first such row; KeyError where there is none.

    Examples
    --------
    >>> constant("measuring", "worth_fps"), constant("rig_usual", "brace_height_in", "selfbow")
    (2.0, 6.25)
    """
    for row in table(name):
        if tuple(row.values())[: len(keys)] == keys:
            return float(row[column])
    raise KeyError(f"{name}.csv has no row {', '.join(keys)}")


def interval(name: str, *keys: str) -> Interval:
    """One row of a table with its 95 % range."""
    return Interval(*(constant(name, *keys, column=end) for end in ("value", "low", "high")))


def measuring(name: str) -> float:
    """One number of the measuring trade, of tables/measuring.csv, in its row's unit."""
    return constant("measuring", name)


def spread(name: str) -> Interval:
    """The same with its 95 % range."""
    return interval("measuring", name)


def usual(fact: str, case: str = "any", column: str = "value") -> float:
    """One usual value of tables/rig_usual.csv, in its row's unit."""
    return constant("rig_usual", fact, case, column=column)
