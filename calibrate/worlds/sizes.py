"""What is true of one bow: sizes drawn from the trade's own ranges, not from the product's rules."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.random import Generator

HERE = Path(__file__).parent
#: the trade's table of front mass: grains, and pounds on a bow of about 50 lb
FRONT_GR = (75.0, 100.0, 125.0, 150.0, 200.0, 250.0, 300.0, 350.0)
FRONT_LB = (-6.0, -3.0, 0.0, 2.7, 7.0, 10.0, 12.5, 14.5)
SIXTEENTH, USUAL_OFFSET_IN = 1 / 16, 0.138
#: fat tails: Student's t of four degrees of freedom, whose 95 % lie within this
T_DEGREES, T_95 = 4, 2.776
WIDER = 1.5


@cache
def ranges(table: str = "sizes") -> dict[str, tuple[float, float]]:
    """Lowest and highest of every row of a table."""
    with (HERE / f"{table}.csv").open(newline="", encoding="utf-8") as file:
        return {r[next(iter(r))]: (float(r["low"]), float(r["high"])) for r in csv.DictReader(file)}


def drawn(random: Generator, wide: bool) -> dict[str, float]:
    """One size of each: anywhere in its range, or half as wide again with fat tails.

    Both use the same two numbers for a size, so that an archer's worlds are alike.
    """
    sizes = {}
    for name, (low, high) in ranges().items():
        place, tail = random.random(), random.standard_t(T_DEGREES)
        if wide and name != "inches_per_lb":
            middle, half = (low + high) / 2, (high - low) / 2
            sizes[name] = middle + WIDER * half * tail / T_95
        elif name == "inches_per_lb":
            sizes[name] = float(low * (high / low) ** place)
        else:
            sizes[name] = low + (high - low) * place
    #: how much of the smaller of two that partly measure the same counts; how effects grow with the bow
    sizes["counts_beside"], sizes["grows"] = random.random(), random.random()
    return {name: float(value) for name, value in sizes.items()}


@dataclass(frozen=True)
class Numbers:
    """An arrow as the truth sees it."""

    length_in: float
    front_gr: float
    tail_gr: float
    radius_in: float
    collar_gr: float = 0.0


@dataclass(frozen=True)
class Bow:
    """A bow and archer as the truth sees them."""

    own_lb: float
    draw_in: float
    kind: str
    limbs: str
    low_stretch: bool
    three_under: bool
    string_gr: float


def usual_arrow(bow: Bow) -> Numbers:
    """The arrow usually shot from such a bow, about which practice knows most.

    Recalled practice, no source: an inch and a half beyond the draw, 125 gr up front at 35 lb to 225 at 55.
    """
    front = float(np.clip(125 + 5 * (bow.own_lb - 35), 125, 225))
    return Numbers(bow.draw_in + 1.5, front, 25.0, 0.147)


def front_lb(front_gr: float) -> float:
    """The trade's table, in a straight line beyond its ends."""
    if front_gr > FRONT_GR[-1]:
        return FRONT_LB[-1] + (front_gr - FRONT_GR[-1]) * 0.04
    if front_gr < FRONT_GR[0]:
        return FRONT_LB[0] + (front_gr - FRONT_GR[0]) * 0.12
    return float(np.interp(front_gr, FRONT_GR, FRONT_LB))


def trade_lb(
    bow: Bow, sizes: dict[str, float], arrow: Numbers, side_in: float, brace_in: float,
    sign: float = 1.0, about: Numbers | None = None,
) -> float:  # fmt: skip
    """The stiffness that a bow truly wants: its weight, and each factor at its true size.

    `side_in` is where the shaft's side lies outside the string's plane. `sign` -1 turns the effects of
    front and tail round, about an arrow.
    """
    grown = (bow.own_lb / 50) ** sizes["grows"]
    out = (side_in + arrow.radius_in - USUAL_OFFSET_IN) / SIXTEENTH
    place = sizes["plate_out"] * max(out, 0.0) + sizes["past_centre"] * max(-out, 0.0)
    limbs = sizes.get(bow.limbs, 0.0) + sizes.get(bow.kind, 0.0)
    string = sizes["low_stretch"] if bow.low_stretch else 0.0
    fast = sizes["high_performance"] if bow.limbs == "high_performance" else 0.0
    slow = sizes["longbow"] if bow.kind == "longbow" else 0.0
    twice = 0.0
    if fast > 0 and string > 0:
        twice += min(fast, string)
    if slow < 0 and place < 0:
        twice += max(slow, place)
    total = limbs + string + place - (1 - sizes["counts_beside"]) * twice
    total += sizes["longer_draw"] * (bow.draw_in - 28) + sizes["brace"] * (brace_in - 7.5) / 0.5
    total += sizes["string_mass"] * (bow.string_gr - 110) / 10
    total += sizes["three_under"] * bow.three_under
    total += sizes["length"] * (arrow.length_in - 28) + sizes["collar"] * arrow.collar_gr / 10

    def ends(one: Numbers) -> float:
        return sizes["front"] * front_lb(one.front_gr) + sizes["tail"] * (one.tail_gr - 25) / 10

    total += ends(arrow) if about is None else ends(about) + sign * (ends(arrow) - ends(about))
    return bow.own_lb + grown * total + sizes["own"] * bow.own_lb / 47
