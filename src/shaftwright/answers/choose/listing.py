"""Builds made ready to be shown: figures, reasons, cautions; and put in the plan's order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final

import numpy as np

from shaftwright.answers.choose.rank import Ranking, front_slope_lb_per_gr, mass_floors
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import InputError
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.speed import speeds_fps
from shaftwright.records.notebook import BareShaft
from shaftwright.records.stock import StockItem
from shaftwright.result import Result, kept
from shaftwright.units import Interval, in_100

_LEADS: Final = ("prove", "dozen", "done")
#: lengths nearer than this are one [in]
_SAME_IN: Final = 1 / 16
#: what of a build is shown as it is; and its parts, by their columns
_FIGURES: Final = ("spine_mils", "length_in", "insert_gr", "collar_gr", "front_gr", "tail_gr", "total_gr",
                   "owned")  # fmt: skip
_PARTS: Final = {"shaft": "shaft", "point": "head", "insert": "insert", "collar": "collar"}


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
    bare_gr_per_lb: float = field(metadata=kept(json=False))
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
    speed_fps: Interval
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
        return found | {key: found[key] or None for key in _PARTS}


def list_builds(
    asked: Scenario, items: Sequence[StockItem], ranking: Ranking, order: Sequence[int] = (0,),
    notes: Mapping[str, Sequence[str]] = MappingProxyType({}),
) -> tuple[ListedBuild, ...]:  # fmt: skip
    """The builds of some indices, in that order, ready to be shown; `notes` of shafts, by their names."""
    builds = ranking.builds.take(np.array(order, dtype=int))
    low, mid, high = speeds_fps(asked.speeds(), builds.total_gr)
    slope = front_slope_lb_per_gr(builds, ranking.own_lb, asked.book)
    listed = []
    for k, i in enumerate(order):
        shaft, mismatch = int(builds.shaft[k]), float(ranking.mismatch_lb[i])
        parts = {name: builds.name(int(getattr(builds, of)[k])) for name, of in _PARTS.items()}
        figures = {name: float(getattr(builds, name)[k]) for name in _FIGURES}
        item = ListedBuild(
            index=i, shaft_index=shaft, bare_gr_per_lb=float(builds.bare_gr[k]) / ranking.own_lb,
            point_gr=float(builds.head_gr[k]),
            gr_per_lb=float(ranking.gr_per_lb[i]), foc_pct=float(ranking.foc[i]),
            speed_fps=Interval(float(mid[k]), float(low[k]), float(high[k])),
            mismatch_lb=Mismatch(mismatch, float(ranking.sd_lb[i])),
            mismatch_gr=mismatch / float(slope[k]), chance_match=float(ranking.chance[i]),
            chance_tunable=ranking.tunable.get(shaft), score=float(ranking.score[i]),
            price=None if np.isnan(builds.price[k]) else float(builds.price[k]),
            wood_lb=items[shaft].wood_spine_lb if shaft >= 0 else None, rank=k + 1,
            **parts, **figures,  # type: ignore[arg-type]
        )  # fmt: skip
        cautions = _cautions(asked, item, notes.get(item.shaft, ()))
        material = (items[shaft].material if shaft >= 0 else None) or "carbon"
        listed.append(replace(item, reasons=_reasons(asked, item, material), cautions=cautions))
    return tuple(listed)


def grains_off(grains: float) -> str:
    """A mismatch as an archer would mend it, in grains at the front; + stiff.

    Examples
    --------
    >>> grains_off(27), grains_off(-61), grains_off(4)
    ('stiff by 25 gr up front', 'weak by 60 gr up front', 'right in the middle')
    """
    size = 5 * round(abs(grains) / 5)
    if size < 10:
        return "right in the middle"
    side = "stiff" if grains > 0 else "weak"
    return f"{side} by {'over 200' if size > 200 else f'{size:g}'} gr up front"


def _reasons(asked: Scenario, item: ListedBuild, material: str) -> tuple[str, ...]:
    reasons = [f"suits: {grains_off(item.mismatch_gr)}; {in_100(item.chance_match)} as it stands"]
    if item.chance_tunable is not None:
        tunable = in_100(item.chance_tunable)
        reasons.append(f"tuning: {tunable} that some cut, point or insert brings it right")
    purpose = asked.purpose_rule
    foc, span = purpose.foc_pct[material], purpose.span(material == "wood")
    reasons += [
        f"weight: {item.total_gr:.0f} gr, {item.gr_per_lb:.1f} gr/lb, "
        + _against(item.gr_per_lb, span.low, span.high),
        f"balance: {item.foc_pct:.1f} % front of centre, {_against(item.foc_pct, foc.low, foc.high)} %",
    ]
    if item.owned > 0:
        reasons.append("in hand: " + ("all of it" if item.owned == 1 else "part of it"))
    return tuple(reasons)


def _against(value: float, low: float, high: float) -> str:
    shown = round(value, 1)  # as it is shown, so that 11.0 is not "over 11"
    place = "under" if shown < low else "over" if shown > high else "inside"
    return f"{place} the usual {low:g} to {high:g}"


def _cautions(asked: Scenario, item: ListedBuild, notes: Sequence[str]) -> tuple[str, ...]:
    """Of the shaft's notes those about the parts taken; then what the bare arrow is too light for."""
    parts = (item.point, item.insert)
    cautions = [c for c in notes if "leaves a step" not in c or c.split()[0] in parts]
    cautions += [
        f"bare arrow {item.bare_gr_per_lb:.1f} gr/lb, under {floor.gr_per_lb:g}: {floor.why}"
        for floor in mass_floors(asked.rig) if not floor.limit and item.bare_gr_per_lb < floor.gr_per_lb
    ]  # fmt: skip
    if item.price is None and item.shaft:
        cautions.append("a price is missing")
    return tuple(cautions)


def as_planned(asked: Scenario, listed: tuple[ListedBuild, ...]) -> tuple[ListedBuild, ...]:
    """The plan's arrow first where it flies straight; in tune it stands among the others, marked."""
    then = asked.plan.next
    leads = then.stage in _LEADS
    if then.shaft is None or not (leads or then.stage == "tune"):
        return listed
    at = next((i for i, build in enumerate(listed) if _is_planned(asked, build)), None)
    own = _planned_build(asked) if at is None else listed[at]
    if own is None:
        return listed
    most = max(len(listed), 1)
    if leads:
        alone = len({b.shaft for b in listed}) == len(listed)
        others = (b for b in listed if b is not own and not (alone and b.shaft == own.shaft))
        found = (own, *others)[:most]
    elif at is None:
        found = (*listed[: most - 1], replace(own, marked=True))
    else:
        found = (*listed[:at], replace(own, marked=True), *listed[at + 1 :])
    return tuple(replace(build, rank=rank) for rank, build in enumerate(found, 1))


def _is_planned(asked: Scenario, build: ListedBuild) -> bool:
    then = asked.plan.next
    named = (then.shaft, then.point or "", then.insert or "", "")
    return (
        (build.shaft, build.point, build.insert, build.collar) == named
        and then.length_in is not None
        and abs(build.length_in - then.length_in) < _SAME_IN
    )


def _planned_build(asked: Scenario) -> ListedBuild | None:
    """The plan's arrow looked at by itself; None where nothing says what its parts are."""
    from shaftwright.answers.build import listed_alone
    from shaftwright.answers.parts import of_parts

    then, stock = asked.plan.next, asked.stock
    try:
        spec = of_parts(stock, then.shaft, then.length_in, then.point, then.insert)
        if spec is None:
            noted = (e.build for e in reversed(asked.entries) if isinstance(e, BareShaft))
            alike = (b for b in noted if b.by_numbers and then.shaft == f"spine {b.spine_mils:g}")
            spec = next(alike, None)
            if spec is None:
                return None
            spec = spec.model_copy(update={"length_in": then.length_in})
        listed, _ = listed_alone(asked, resolve_build(spec, stock, "plan"), stock)
    except (ValueError, InputError):
        return None
    return listed if listed.shaft else replace(listed, shaft=then.shaft or "")
