"""Numbers of the measuring trade, read from the tables, never written in the code."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.resources import table
from shaftwright.result import Result

Array = NDArray[np.float64]
Rows = list[dict[Any, Any]]


@dataclass(frozen=True)
class Spread(Result):
    """A quantity with its 95 % range; as a doubt beforehand a log-normal about its median.

    Parameters
    ----------
    mid, low, high : float
        The median and the two ends of the central 95 % [any unit].
    """

    mid: float
    low: float
    high: float

    @property
    def sd(self) -> float:
        """Standard deviation, the range being a normal one."""
        return (self.high - self.low) / (2 * 1.959964)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm."""
        return math.log(self.high / self.low) / (2 * 1.959964)

    def scaled(self, factor: float) -> Spread:
        """The same doubt about a quantity `factor` times as large."""
        return Spread(self.mid * factor, self.low * factor, self.high * factor)

    def at(self, z: Array) -> Array:
        """Values so many standard deviations of the logarithm from the median."""
        return np.asarray(self.mid * np.exp(z * self.log_sd), dtype=float)


@dataclass(frozen=True)
class Between(Result):
    """A range without a middle."""

    low: float
    high: float


@cache
def _rows(name: str) -> dict[str, dict[str, str]]:
    return {row["name"]: row for row in table(name)}


def number(name: str, of: str = "measuring") -> float:
    """One number of a table.

    Parameters
    ----------
    name : str
        Its name.
    of : str
        The table.

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
    return float(_rows(of)[name]["value"])


def spread(name: str) -> Spread:
    """One row of `tables/measuring.csv` with its 95 % range.

    Parameters
    ----------
    name : str
        Its name.

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
    row = _rows("measuring")[name]
    return Spread(float(row["value"]), float(row["low"]), float(row["high"]))
