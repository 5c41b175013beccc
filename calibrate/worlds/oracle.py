"""An adviser who knows the sizes of a world, but not what archer and bow ask for themselves, nor the scatter.

Knows too what a pound of mismatch may do and how shafts differ, learns both from the same shots that the
product sees, and shoots the arrow likeliest to be straight. It bounds what better sizes could give.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import numpy as np
from archers.world import Arrow, number, shop_rows
from calibrate.worlds import tuner
from calibrate.worlds.sizes import ranges
from calibrate.worlds.world import Elsewhere
from numpy.typing import NDArray

Array = NDArray[np.float64]
DRAWS, FEW, SEED = 4096, 1024, 7
#: usual scatter of a group's centre against another's, with its fliers, and of a whole group [in at 20 yd]
GROUP_SD, T_DEGREES = 3.0, 4
SHAFT_SD, SLAPS, SLAPS_FROM, LEAST_STIFF = 0.022, 0.05, 0.17, 0.75
USUAL_T_IN = 2.6
#: an arrow is called straight after two ends, with this chance; another is taken up for so much more
ENDS, CHANCE, MORE, MOST_ENDS, MOST_CHANGES = 2, 0.9, 0.3, 30, 12
CUT_IN = 0.5


@dataclass
class Guided:
    """Every arrow shot, in order, and whether the last was called straight."""

    arrows: list[Arrow] = field(default_factory=list)
    straight: bool = False


def guide(world: Elsewhere) -> Guided:
    """One archer from the first arrow to a straight one."""
    random = np.random.default_rng([SEED, world.seed])
    low, high = ranges()["own"]
    spread = (high - low) / math.sqrt(12) * world.own_lb / 47
    unknown = spread * random.standard_normal(DRAWS)
    least, most = ranges()["inches_per_lb"]
    slope = least * (most / least) ** random.random(DRAWS)
    slaps = random.random(DRAWS) < SLAPS
    shafts = sorted({r["item"] for r in shop_rows() if r["kind"] == "shaft"})
    errors = {s: SHAFT_SD * random.standard_normal(DRAWS) for s in shafts}
    builds = candidates(world, shafts)
    known = replace(world, sizes=world.sizes | {"own": 0.0})
    wanted = np.array([known.wanted_lb(b) for b in builds])
    log_weight = np.zeros(DRAWS)

    def off_of(arrow: Arrow, middle: float, draws: slice) -> Array:
        supply = tuner_supply(arrow) * (1 + errors[arrow.shaft][draws])
        z = supply - middle - unknown[draws]
        y = 14 * np.tanh(slope[draws] * z / 14)
        touching = slaps[draws] & (z < -SLAPS_FROM * world.base_lb)
        return np.where(touching, 0.6 * np.abs(y), y)

    found = Guided()
    changes = 0
    arrow = builds[0]
    every, few = slice(None), slice(0, FEW)
    while len(found.arrows) < MOST_ENDS and changes <= MOST_CHANGES:
        weight = np.exp(log_weight - log_weight.max())
        part = weight[few] / weight[few].sum()
        inside = [
            np.abs(off_of(b, w, few)) < USUAL_T_IN for b, w in zip(builds, wanted, strict=True)
        ]
        chances = np.array(inside) @ part
        best = int(np.argmax(chances))
        same = builds.index(arrow) if found.arrows else -1
        if found.arrows and chances[best] < chances[same] + MORE:
            best = same
        changes += bool(found.arrows) and best != same
        arrow = builds[best]
        inside = float(
            weight @ (np.abs(off_of(arrow, wanted[best], every)) < USUAL_T_IN) / weight.sum()
        )
        if found.arrows.count(arrow) >= ENDS and inside >= CHANCE:
            found.straight = True
            break
        seen = tuner.stiffward(world, world.shoot(arrow))
        found.arrows.append(arrow)
        score = (seen - off_of(arrow, wanted[best], every)) / GROUP_SD
        log_weight -= (T_DEGREES + 1) / 2 * np.log1p(score**2 / T_DEGREES)
    return found


def tuner_supply(arrow: Arrow) -> float:
    """The stiffness a shaft is sold as [lb]."""
    return 31_499.2 / number(arrow.shaft, "spine_mils")


def candidates(world: Elsewhere, shafts: list[str]) -> list[Arrow]:
    """Every arrow of the shop that weighs enough, by half inches."""
    draw = world.rig["archer"]["draw_length"]
    short = math.ceil(2 * (draw + 0.5)) / 2
    points = [r["item"] for r in shop_rows() if r["kind"] == "point"]
    arrows = [
        Arrow(shaft, 1, float(length), point, "I12")
        for shaft in shafts
        for length in np.arange(short, number(shaft, "full_length_in") + 1e-9, CUT_IN)
        for point in points
    ]
    return [a for a in arrows if 7.0 <= world.gr_per_lb(a) <= 11.5]
