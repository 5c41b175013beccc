"""The named parts of one build: whether they go together, where they sit and how they stiffen it.

Builds by numbers have point masses at both ends and nothing more. Of a named insert, outsert or
collar the length is taken from `tables/part_lengths.csv`; it loads and stiffens the shaft's end.
Balance and front of centre keep the trade's reckoning, all front mass at the end of the shaft.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shaftwright.answers.choose.rank import arrows_of
from shaftwright.physics.arrow import Arrow
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem
from shaftwright.resources import table
from shaftwright.rules.fits import cheapest, fit
from shaftwright.units import GRAIN_KG, INCH_M


def of_parts(
    stock: Stock | None, shaft: str | None, length_in: float | None, head: str | None,
    insert: str | None,
) -> BuildSpec | None:  # fmt: skip
    """An arrow by the names of the stock, which says whether its head is a broadhead."""
    if stock is None or shaft not in stock.by_name:
        return None
    row = stock.by_name.get(head or "")
    at_front = "broadhead" if row is not None and row.kind == "broadhead" else "point"
    told = {"shaft": shaft, "length_in": length_in, at_front: head, "insert": insert}
    return BuildSpec(**{name: value for name, value in told.items() if value is not None})


def part_length(part: str, quantity: str) -> float | None:
    """Length `along` or `ahead` of the shaft's end, or `added_stiffness`, where the table knows it."""
    found = (r for r in table("part_lengths") if (r["part"], r["quantity"]) == (part, quantity))
    return next((float(row["value"]) for row in found), None)


def point_ahead_in(builds: Builds) -> float | None:
    """How far a named point usually stands ahead of the shaft's end; None by numbers."""
    if builds.head[0] < 0:
        return None
    return part_length("broadhead" if builds.is_broadhead[0] else "point", "ahead")


def bending_arrow(builds: Builds, stock: Stock | None = None) -> Arrow:
    """A build as it bends: insert, outsert and collar of finite length where they are named."""
    arrow = arrows_of(builds)
    along, spread, added = 0.0, 0.0, 0.0
    _, insert, collar = _front(builds, stock)
    for item, mass in ((insert, builds.insert_gr[0]), (collar, builds.collar_gr[0])):
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


def _front(builds: Builds, stock: Stock | None) -> tuple[StockItem | None, ...]:
    """Head, insert and collar as the stock has them."""
    known = {} if stock is None else stock.by_name
    indices = (builds.head, builds.insert, builds.collar)
    return tuple(known.get(builds.name(int(index[0]))) for index in indices)


def parts_amiss(builds: Builds, stock: Stock | None) -> tuple[str, ...]:
    """What is missing or does not fit in a build by names; by numbers the front is one mass.

    A head with no diameter of its own and not made for wood screws in: it wants an insert in a tube,
    an adapter on wood (common practice, no source).
    """
    shaft = None if stock is None else stock.by_name.get(builds.name(int(builds.shaft[0])))
    if shaft is None or stock is None:
        return ()
    head, insert, collar = _front(builds, stock)
    found = []
    if head is None:
        found.append(
            "no point is named: these figures are of an arrow without one; name it with --point or "
            "--broadhead"
        )
    for part in (head, insert, collar):
        if part is not None:
            seen = fit(part, shaft)
            if not seen.fits:
                found.append(f"{part.item} does not go on {shaft.item}: it {seen.reason}")
            elif seen.reason:
                said = seen.reason
                found.append(said if said.startswith(part.item) else f"{part.item}: {said}")
    if head is not None and insert is None and _screws_in(head):
        kind, takes = ("adapter", "wood") if shaft.material == "wood" else ("insert", "a tube")
        example = cheapest(stock, kind, shaft)
        such = "" if example is None else f", such as {example.item}"
        found.append(
            f"{head.item} screws in, and {takes} takes an {kind} for it: none is named, nor its "
            f"weight counted; name one with --insert{such}"
        )
    return tuple(found)


def _screws_in(head: StockItem) -> bool:
    own = (head.outside_diameter_in, head.inside_diameter_in)
    return head.material != "wood" and all(diameter is None for diameter in own)
