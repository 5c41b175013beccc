"""Numbers of the measuring trade, read from `tables/measuring.csv`, never written in the code."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from shaftwright.resources import table


@dataclass(frozen=True)
class Spread:
    """A positive quantity known as a log-normal: median and 95 % range.

    Parameters
    ----------
    median, low, high : float
        The median and the two ends of the central 95 % [any unit].
    """

    median: float
    low: float
    high: float

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm."""
        return math.log(self.high / self.low) / (2 * 1.959964)

    def scaled(self, factor: float) -> Spread:
        """The same doubt about a quantity `factor` times as large."""
        return Spread(self.median * factor, self.low * factor, self.high * factor)


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["name"]: row for row in table("measuring")}


def number(name: str) -> float:
    """One number of the table.

    Parameters
    ----------
    name : str
        Its name in `tables/measuring.csv`.

    Returns
    -------
    float
        The value [unit of the row].

    Raises
    ------
    KeyError
        No such row.

    Examples
    --------
    >>> number("worth_fps")
    2.0
    """
    return float(_rows()[name]["value"])


def spread(name: str) -> Spread:
    """One row of the table with its 95 % range.

    Parameters
    ----------
    name : str
        Its name in `tables/measuring.csv`.

    Returns
    -------
    Spread
        Median and range [unit of the row].

    Raises
    ------
    KeyError
        No such row.
    ValueError
        The row has no range.
    """
    row = _rows()[name]
    return Spread(float(row["value"]), float(row["low"]), float(row["high"]))


def accuracy() -> float:
    """Limit of error of a chronograph's scale, as a fraction of the speed (95 %).

    Returns
    -------
    float
        From `tables/chronograph.csv`.
    """
    rows = {row["name"]: row["value"] for row in table("chronograph")}
    return float(rows["accuracy_pct"]) / 100


@cache
def restrings(field: str) -> bool:
    """Whether a change of this setup field means stringing the bow again.

    Parameters
    ----------
    field : str
        A setup field, as in `tables/setup_fields.csv`; one that is not listed counts as yes.

    Returns
    -------
    bool
        True if shots of two groups cannot share one stringing.

    Examples
    --------
    >>> restrings("string"), restrings("shaft")
    (True, False)
    """
    return {row["field"]: row["restrings"] for row in table("setup_fields")}.get(field) != "no"
