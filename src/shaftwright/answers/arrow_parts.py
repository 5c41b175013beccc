"""Where the parts at the front sit, and how they stiffen it: named parts of usual lengths.

Builds by numbers have point masses at both ends and nothing more. Of a named insert, outsert or
collar the length is taken from `tables/part_lengths.csv`; it loads and stiffens the shaft's end.
Balance and front of centre keep the trade's reckoning, all front mass at the end of the shaft.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shaftwright.answers.choose.rank import arrows_of
from shaftwright.physics.arrow.arrow import Arrow
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M


def part_length(part: str, quantity: str, column: str = "value") -> float | None:
    """One value of `tables/part_lengths.csv`.

    Parameters
    ----------
    part : str
        Kind of part, as in a stock.
    quantity : str
        along, ahead or added_stiffness.
    column : str
        `value`, `low` or `high`.

    Returns
    -------
    float or None
        In the row's unit; None where the table knows nothing of such a part.
    """
    for row in table("part_lengths"):
        if row["part"] == part and row["quantity"] == quantity:
            return float(row[column])
    return None


def point_ahead_in(builds: Builds) -> float | None:
    """How far a named point usually stands ahead of the shaft's end [in]; None by numbers.

    Parameters
    ----------
    builds : Builds
        Of length 1.

    Returns
    -------
    float or None
        [in].
    """
    if builds.head[0] < 0:
        return None
    return part_length("broadhead" if builds.is_broadhead[0] else "point", "ahead")


def bending_arrow(builds: Builds, stock: Stock | None = None) -> Arrow:
    """A build as it bends: insert, outsert and collar of finite length where they are named.

    Parameters
    ----------
    builds : Builds
        Of length 1.
    stock : Stock, optional
        What its names are.

    Returns
    -------
    Arrow
        With a stiffened, loaded front; of point masses when nothing is named.
    """
    arrow = arrows_of(builds)
    if stock is None:
        return arrow
    along, spread, added = 0.0, 0.0, 0.0
    for index, mass in (
        (builds.insert[0], builds.insert_gr[0]),
        (builds.collar[0], builds.collar_gr[0]),
    ):
        item = stock.by_name.get(builds.name(int(index)))
        length = None if item is None else part_length(item.kind, "along")
        if item is None or length is None:
            continue
        along, spread = max(along, length), spread + float(mass)
        added += part_length(item.kind, "added_stiffness") or 0.0
    if along == 0.0:
        return arrow
    return replace(
        arrow,
        front_kg=(builds.front_gr - spread) * GRAIN_KG,
        front_length_m=along * INCH_M,
        front_stiffness_ratio=1 + added / np.asarray(arrow.stiffness_n_m2),
        front_spread_kg=spread * GRAIN_KG,
    )
