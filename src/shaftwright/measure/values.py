"""Kinds of values that measuring shares."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.result import Result
from shaftwright.units import Interval

Array = NDArray[np.float64]
Rows = list[dict[Any, Any]]


@dataclass(frozen=True)
class Between(Result):
    """A range without a middle."""

    low: float
    high: float


def log_normal(doubt: Interval, z: Array) -> Array:
    """Values so many standard deviations of the logarithm from the median.

    Parameters
    ----------
    doubt : Interval
        Median and 95 % range of a positive quantity [any unit].
    z : array, shape (n,)
        Standard scores.

    Returns
    -------
    array, shape (n,)
        In the unit of the doubt.
    """
    return np.asarray(doubt.mid * np.exp(z * doubt.log_sd), dtype=float)
