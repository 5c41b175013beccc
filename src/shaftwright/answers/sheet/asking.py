"""The plan, asked about ends that could come, and one side of a row cut where its answer changes."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np

from shaftwright.answers.arrows.outlook import Idea, centres, outlooks
from shaftwright.answers.noting import arrow_named
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.inference.evidence.learn import Learned
from shaftwright.inference.evidence.look import hand_sign
from shaftwright.records.notebook import ENTRY, AnyEntry, BareShaft, BuildSpec

_SHOOTS = ("shoot", "point", "insert", "collar", "wrap", "shaft", "plunger", "plate", "brace",
           "nocking_point", "make_second")  # fmt: skip
_SETS = ("plunger", "plate", "brace", "nocking_point")
_FINE_IN, _SLIVER_IN, _FIRST_ASKED = 0.5, 1.0, (0.4, 0.7)
#: a group whose scatter is one inch along either axis
_GROUP = 2 / np.sqrt(3) * np.array([[0.0, 1.0], [np.sqrt(3) / 2, -0.5], [-np.sqrt(3) / 2, -0.5]])


@dataclass(frozen=True)
class Place:
    """A bow after some ends: what was put into the notebook, and what the plan says then."""

    then: Next
    entries: tuple[AnyEntry, ...]
    settings: tuple[tuple[str, str], ...]
    again: str
    chance: float
    #: what counts as straight once it is noted [in]
    within_in: float = 0.0

    @property
    def key(self) -> tuple[object, ...]:
        """What makes two rows one."""
        n = self.then
        return (
            n.shaft,
            n.length_in,
            n.point,
            n.insert,
            n.piece,
            n.distance_yd,
            self.settings,
            self.again,
        )


class Asking:
    """The plan, asked about ends that could come."""

    def __init__(self, asked: Scenario) -> None:
        self.asked = asked

    def world(self, entries: Sequence[AnyEntry], beside: Scenario | None = None) -> Scenario:
        """The bow with these entries added, saw and shop at home.

        What bow and stock alone come to it shares with another, where both are the same.
        """
        own = self.asked
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

    @cached_property
    def _known(self) -> Learned:
        return self.asked.known

    def end(self, data: dict[str, Any], aside_in: float) -> BareShaft:
        """An end whose bare centre lies so far stiffward at 20 yd, as wide as this archer's."""
        scale = data["distance_yd"] / 20
        sds = float(np.mean(self._known.bare_sd)), float(np.mean(self._known.fletched_sd))
        bare, fletched = (_GROUP * sd * scale for sd in sds)
        right = (hand_sign(self.asked.rig.archer.hand) or -1) * aside_in * scale
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


def after(world: Scenario, place: Place, entries: tuple[AnyEntry, ...], aside: float) -> Place:
    """What the plan says after an end."""
    before = place.then
    then = world.plan.next
    settings = set_by(then, place.settings)
    again = ""
    same = (then.shaft, then.length_in, then.point, then.insert, then.distance_yd)
    was = (before.shaft, before.length_in, before.point, before.insert, before.distance_yd)
    if same == was and settings == place.settings:
        # straight: shot again as the same row; off: a row of its own, as two ends then agree or not
        straight = then.stage == "prove"
        again = place.again if straight else "stiff" if aside > 0 else "weak"
    # to the half inch that a tape tells at the butt
    within = round(world.where.within / _FINE_IN) * _FINE_IN
    return Place(then, entries, settings, again, 0.0, within)


def intervals(
    asked: Callable[[float], Place], sign: float, within: float, reach: float
) -> list[tuple[float, float]]:
    """One side cut into at most two intervals, each leading to one row."""

    def key(off: float) -> tuple[object, ...]:
        return asked(sign * off).key

    points = [within + _FINE_IN, *(within + s * (reach - within) for s in _FIRST_ASKED), reach]
    for low, high in pairwise(round(p / _FINE_IN) * _FINE_IN for p in points):
        if key(low) == key(high):
            continue
        while high - low > _FINE_IN:
            middle = round((low + high) / 2 / _FINE_IN) * _FINE_IN
            low, high = (middle, high) if key(middle) == key(low) else (low, middle)
        if low - within >= _SLIVER_IN and reach - low >= _SLIVER_IN:
            # of several the one nearest to the fletched: most shots fall there
            return [(within, low), (low, reach)]
    return [(within, reach)]


def centres_of(world: Scenario, data: dict[str, Any]) -> Array:
    """Draws of the bare centre of a row's next end, stiffward at 20 yd."""
    where = world.where
    spec = BuildSpec.model_validate(data["build"])
    look = outlooks(world, [Idea(spec, world.rig)])[0]
    same = [a for a in where.here if a.key == look.key]
    near = [a for a in where.here if a.spec.shaft == spec.shaft]
    if same:
        look = where.outlook(same[0])
    elif near:
        look = outlooks(world, [Idea(spec, world.rig, near[0])])[0]
    return centres(world, look.z_lb, where.bare, where.fletched)


def data_of(then: Next, world: Scenario) -> dict[str, Any]:
    """The entry that an end of it will be, without its hits."""
    named = arrow_named(Plan(then, ()), world.stock, world.entries)
    if named is None:
        raise NoAnswer(f"nothing can be shot yet with what is taken along. First: {then.do}")
    data: dict[str, Any] = {"kind": "bareshaft", "distance": f"{then.distance_yd:g} yd"}
    named.into(data)
    return data | {"distance_yd": float(then.distance_yd or 0)}


def change_of(then: Next) -> dict[str, Any] | None:
    """The entry of a change that a step begins with, from the line that notes it."""
    words = shlex.split(then.note or "")
    if words[:3] != ["shaftwright", "note", "change"]:
        return None
    what, options = words[3], words[4:]
    state: dict[str, Any] = {}
    for option, value in zip(options[::2], options[1::2], strict=True):
        name = option.removeprefix("--").replace("-", "_")
        if name.startswith("plunger_"):
            state["plunger"] = {name.removeprefix("plunger_"): value}
        else:
            state[name] = value
    return {"kind": "change", "what": what} | ({"rig_state": state} if state else {})
