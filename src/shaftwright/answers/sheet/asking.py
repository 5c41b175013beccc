"""The plan, asked about ends that could come, and one side of a row cut where its answer changes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from shaftwright.answers.arrows.outlook import Idea, centres, outlooks
from shaftwright.answers.note.noting import arrow_named
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.inference.evidence.look import hand_sign
from shaftwright.records.notebook import ENTRY, AnyEntry, BareShaft, BuildSpec
from shaftwright.units import REFERENCE_YD

_SHOOTS = ("shoot", "point", "insert", "collar", "wrap", "shaft", "plunger", "plate", "brace",
           "nocking_point", "make_second")  # fmt: skip
_SETS = ("plunger", "plate", "brace", "nocking_point")
_FINE_IN, _SLIVER_IN, _FIRST_ASKED = 0.5, 1.0, (0.4, 0.7)
#: share of a side's shots that are counted as falling anywhere
_EVENLY = 0.1
#: a group whose scatter is one inch along either axis
_GROUP = 2 / np.sqrt(3) * np.array([[0.0, 1.0], [np.sqrt(3) / 2, -0.5], [-np.sqrt(3) / 2, -0.5]])


@dataclass(frozen=True)
class Place:
    """A bow after some ends: what was put into the notebook, and what the plan says then."""

    then: Next
    entries: tuple[AnyEntry, ...]
    settings: tuple[tuple[str, str], ...]
    #: every end of the afternoon: where it stands among the entries, without its hits, and its arrow
    shots: tuple[tuple[int, dict[str, Any], tuple[object, ...]], ...]
    chance: float
    #: what counts as straight once it is noted [in]
    within_in: float = 0.0

    @property
    def arrow(self) -> tuple[object, ...]:
        """The arrow, and how the bow is set for it."""
        n = self.then
        return n.shaft, n.length_in, n.point, n.insert, self.settings

    @property
    def earlier(self) -> tuple[tuple[int, dict[str, Any]], ...]:
        """Ends of the arrow shot so far from as far: they are read together."""
        return tuple(
            (at, data) for at, data, arrow in self.shots
            if arrow == self.arrow and data["distance_yd"] == self.then.distance_yd
        )  # fmt: skip

    @property
    def key(self) -> tuple[object, ...]:
        """What makes two rows one."""
        return self.arrow, self.then.piece, self.then.distance_yd, len(self.earlier)

    def like(self, other: Place) -> float:
        """How far one does for the other: all, or half where the arrow is the same."""
        return 1.0 if self.key == other.key else 0.5 if self.arrow == other.arrow else 0.0


def world_with(
    own: Scenario, entries: Sequence[AnyEntry], beside: Scenario | None = None
) -> Scenario:
    """The bow with these entries added, saw and shop at home.

    What bow and stock alone come to it shares with another, where both are the same.
    """
    beside = beside or own
    if not entries:
        return own
    everything = (*own.entries, *entries)
    lines = (*own.lines, *range(10_000, 10_000 + len(entries)))
    made = scenario(
        own.rig, own.purpose, own.stock, everything, lines, own.before, "trade", own.given
    )
    made = replace(made, book=own.book, along=own.along)
    if beside.rig != made.rig:
        return made
    made = replace(made, rig=beside.rig)
    if made.held.stock == beside.held.stock:
        vars(made)["kept"] = beside.kept
    return made


def end_at(own: Scenario, data: dict[str, Any], aside_in: float) -> BareShaft:
    """An end whose bare centre lies so far stiffward at 20 yd, as wide as this archer's."""
    scale = data["distance_yd"] / REFERENCE_YD
    sds = float(np.mean(own.known.bare_sd)), float(np.mean(own.known.fletched_sd))
    bare, fletched = (_GROUP * sd * scale for sd in sds)
    right = hand_sign(own.rig.archer.hand) * aside_in * scale
    entry = {k: v for k, v in data.items() if k != "distance_yd"} | {
        "cant_deg": 0, "marks": "none", "fletched": fletched.tolist(),
        "bare": [{"at": (p + np.array([right, 0.0])).tolist()} for p in bare],
    }  # fmt: skip
    found = ENTRY.validate_python(entry)
    assert isinstance(found, BareShaft)
    return found


def is_shot(then: Next) -> bool:
    """Whether a step is an end with what is along."""
    return then.kind in _SHOOTS and then.distance_yd is not None and not then.buy


def set_by(then: Next, settings: tuple[tuple[str, str], ...] = ()) -> tuple[tuple[str, str], ...]:
    """What is set on the bow once a step is done."""
    if then.kind not in _SETS or not then.setting:
        return settings
    return (*(s for s in settings if s[0] != then.kind), (then.kind, then.setting))


def after(
    world: Scenario, place: Place, entries: tuple[AnyEntry, ...], data: dict[str, Any]
) -> Place:  # fmt: skip
    """What the plan says after an end."""
    then = world.plan.next
    shots = (*place.shots, (len(entries) - 1, data, place.arrow))
    # to the half inch that a tape tells at the butt
    within = round(world.where.within / _FINE_IN) * _FINE_IN
    return Place(then, entries, set_by(then, place.settings), shots, 0.0, within)


def intervals(
    asked: Callable[[float], Place], sign: float, within: float, reach: float, draws: Array
) -> list[tuple[float, float, Place]]:
    """One side cut into at most two intervals, each with the step that most of its shots would ask for.

    Draws of the bare centre, away to this side, say how likely a shot is to fall where.
    """
    points = [within + _FINE_IN, *(within + s * (reach - within) for s in _FIRST_ASKED), reach]
    told = {off: asked(sign * off) for off in (round(p / _FINE_IN) * _FINE_IN for p in points)}

    def refine(low: float, high: float) -> None:
        if told[low].key == told[high].key or high - low <= _FINE_IN:
            return
        middle = round((low + high) / 2 / _FINE_IN) * _FINE_IN
        told[middle] = asked(sign * middle)
        refine(low, middle)
        refine(middle, high)

    for low, high in pairwise(sorted(told)):
        refine(low, high)
    # what lies between two that are asked goes with the nearer to the fletched; past the last, with the last
    ends = sorted(told)
    edges = np.array([within, *ends[1:], np.inf])
    likely = np.histogram(draws, edges)[0] / max(len(draws), 1)
    # some evenly: one may have come to the row by another way than the likeliest
    even = np.diff([*edges[:-1], reach + _SLIVER_IN]) / (reach + _SLIVER_IN - within)
    likely = (1 - _EVENLY) * likely + _EVENLY * even
    places = [told[end] for end in ends]

    def best(cells: slice) -> tuple[float, Place]:
        of, weight = places[cells], likely[cells]
        scores = [sum(w * p.like(q) for q, w in zip(of, weight, strict=True)) for p in of]
        at = int(np.argmax(scores))
        return scores[at], of[at]

    score, place = best(slice(None))
    found = [(within, reach, place)]
    for cell in range(1, len(ends)):
        cut = float(edges[cell])
        if places[cell].key == places[cell - 1].key or min(cut - within, reach - cut) < _SLIVER_IN:
            continue
        (near, before), (far, beyond) = best(slice(cell)), best(slice(cell, None))
        if near + far > score + 1e-9 and before.key != beyond.key:
            score, found = near + far, [(within, cut, before), (cut, reach, beyond)]
    return found


def centres_of(world: Scenario, data: dict[str, Any], ends: int) -> Array:
    """Draws of the middle of so many ends of an arrow not shot yet, stiffward at 20 yd."""
    where = world.where
    spec = BuildSpec.model_validate(data["build"])
    look = outlooks(world, [Idea(spec, world.rig)])[0]
    same = [a for a in where.here if a.key == look.key]
    near = [a for a in where.here if a.spec.shaft == spec.shaft]
    if same:
        look = where.outlook(same[0])
    elif near:
        look = outlooks(world, [Idea(spec, world.rig, near[0])])[0]
    true = look.z_lb * world.known.slope
    seen: Array = true + (centres(world, look.z_lb, where.bare, where.fletched) - true) / np.sqrt(
        ends
    )
    return seen


def data_of(then: Next, world: Scenario) -> dict[str, Any]:
    """The entry that an end of it will be, without its hits."""
    named = arrow_named(Plan(then, ()), world.stock, world.entries)
    if named is None:
        raise NoAnswer(f"nothing can be shot yet with what is taken along. First: {then.do}")
    data: dict[str, Any] = {"kind": "bareshaft", "distance": f"{then.distance_yd:g} yd"}
    named.into(data)
    return data | {"distance_yd": float(then.distance_yd or 0)}
