"""Builds made ready to be shown: their figures, their reasons, their cautions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from shaftwright.answers.choose.candidates import Candidates
from shaftwright.answers.choose.rank import Ranking, front_slope_lb_per_gr, mass_floors
from shaftwright.answers.result import Result, kept
from shaftwright.inference.band import Spread
from shaftwright.inference.speed import speeds_fps
from shaftwright.physics.bow.speed import SpeedModel
from shaftwright.records.rig import Rig
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import PurposeRule
from shaftwright.units import in_100


@dataclass(frozen=True)
class Mismatch(Result):
    """How far a build's stiffness lies from what is wanted [lb], + stiff."""

    mid: float
    sd: float


@dataclass(frozen=True)
class ListedBuild(Result):
    """One build with everything that is shown of it; masses [gr], lengths [in], speed [fps]."""

    index: int = field(metadata=kept(json=False))
    shaft_index: int = field(metadata=kept(json=False))
    shaft: str
    spine_mils: float
    length_in: float
    point: str
    point_gr: float
    insert: str
    insert_gr: float
    collar: str
    collar_gr: float
    front_gr: float
    tail_gr: float
    total_gr: float
    gr_per_lb: float
    foc_pct: float
    speed_fps: Spread
    mismatch_lb: Mismatch
    mismatch_gr: float
    chance_match: float
    chance_tunable: float | None
    price: float | None
    owned: float
    score: float
    wood_lb: float | None
    reasons: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    rank: int = 1
    #: whether the plan names this arrow while nothing flies straight yet
    marked: bool = False

    def to_dict(self) -> dict[str, Any]:
        """With null for a part that is not there."""
        found = super().to_dict()
        return found | {key: found[key] or None for key in ("shaft", "point", "insert", "collar")}


def list_builds(
    rig: Rig, purpose: PurposeRule, candidates: Candidates, ranking: Ranking, book: RuleBook,
    speeds: SpeedModel, order: list[int],
) -> tuple[ListedBuild, ...]:  # fmt: skip
    """The builds of some indices, in that order, ready to be shown."""
    builds = ranking.builds.take(np.array(order, dtype=int))
    low, mid, high = speeds_fps(speeds, builds.total_gr)
    slope = front_slope_lb_per_gr(builds, ranking.own_lb, book)
    listed = []
    for k, i in enumerate(order):
        shaft = builds.name(int(builds.shaft[k]))
        mismatch = float(ranking.mismatch_lb[i])
        item = ListedBuild(
            index=i, shaft_index=int(builds.shaft[k]), shaft=shaft,
            spine_mils=float(builds.spine_mils[k]), length_in=float(builds.length_in[k]),
            point=builds.name(int(builds.head[k])), point_gr=float(builds.head_gr[k]),
            insert=builds.name(int(builds.insert[k])), insert_gr=float(builds.insert_gr[k]),
            collar=builds.name(int(builds.collar[k])), collar_gr=float(builds.collar_gr[k]),
            front_gr=float(builds.front_gr[k]), tail_gr=float(builds.tail_gr[k]),
            total_gr=float(builds.total_gr[k]), gr_per_lb=float(ranking.gr_per_lb[i]),
            foc_pct=float(ranking.foc[i]), speed_fps=Spread(float(mid[k]), float(low[k]), float(high[k])),
            mismatch_lb=Mismatch(mismatch, float(ranking.sd_lb[i])),
            mismatch_gr=mismatch / float(slope[k]), chance_match=float(ranking.chance[i]),
            chance_tunable=ranking.tunable.get(int(builds.shaft[k])),
            price=None if np.isnan(builds.price[k]) else float(builds.price[k]),
            owned=float(builds.owned[k]), score=float(ranking.score[i]),
            wood_lb=candidates.items[int(builds.shaft[k])].wood_spine_lb if builds.shaft[k] >= 0 else None,
            rank=k + 1,
        )  # fmt: skip
        reasons = _reasons(item, purpose, candidates)
        cautions = _cautions(item, rig, ranking, candidates, float(builds.bare_gr[k]))
        listed.append(replace(item, reasons=tuple(reasons), cautions=tuple(cautions)))
    return tuple(listed)


def grains_off(grains: float) -> str:
    """A mismatch as an archer would mend it, in grains at the front; + stiff.

    Examples
    --------
    >>> grains_off(27), grains_off(-61), grains_off(4)
    ('25 gr stiff of the middle', '60 gr weak of the middle', 'right in the middle')
    """
    size = 5 * round(abs(grains) / 5)
    if size < 10:
        return "right in the middle"
    side = "stiff" if grains > 0 else "weak"
    if size > 200:
        return f"over 200 gr {side} of the middle"
    return f"{size:g} gr {side} of the middle"


def _reasons(item: ListedBuild, purpose: PurposeRule, candidates: Candidates) -> list[str]:
    suits = in_100(item.chance_match)
    reasons = [f"suits: {grains_off(item.mismatch_gr)}; {suits} as it stands"]
    if item.chance_tunable is not None:
        tunable = in_100(item.chance_tunable)
        reasons.append(f"tuning: {tunable} that some cut, point or insert brings it right")
    reasons.append(_against("weight", f"{item.total_gr:.0f} gr, {item.gr_per_lb:.1f} gr/lb", item.gr_per_lb,
                            purpose.gr_per_lb.low, purpose.gr_per_lb.high, ""))  # fmt: skip
    span = purpose.foc_pct[candidates.material(item.shaft_index)]
    reasons.append(_against("balance", f"{item.foc_pct:.1f} % front of centre", item.foc_pct, span.low,
                            span.high, " %"))  # fmt: skip
    if item.owned > 0:
        reasons.append("in hand: " + ("all of it" if item.owned == 1 else "part of it"))
    return reasons


def _against(name: str, words: str, value: float, low: float, high: float, unit: str) -> str:
    shown = round(value, 1)  # as it is shown, so that 11.0 is not "over 11"
    if shown < low:
        place = "under"
    elif shown > high:
        place = "over"
    else:
        place = "inside"
    return f"{name}: {words}, {place} the usual {low:g} to {high:g}{unit}"


def _cautions(
    item: ListedBuild, rig: Rig, ranking: Ranking, candidates: Candidates, bare_gr: float
) -> list[str]:
    cautions = list(candidates.notes.get(item.shaft, ()))
    cautions = [
        c for c in cautions if "leaves a step" not in c or c.split()[0] in (item.point, item.insert)
    ]
    per_lb = bare_gr / ranking.own_lb
    for floor in mass_floors(rig):
        if not floor.limit and per_lb < floor.gr_per_lb:
            cautions.append(
                f"bare arrow {per_lb:.1f} gr/lb, under {floor.gr_per_lb:g}: {floor.why}"
            )
    if item.price is None and item.shaft:
        cautions.append("a price is missing")
    return cautions
