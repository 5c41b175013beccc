"""Moving about the map of shaft length against front mass: one build at a time, and why it changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, NamedTuple

import numpy as np

from shaftwright.answers.build import dangers
from shaftwright.answers.choose.candidates import Candidates
from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.choose.listing import ListedBuild, list_builds
from shaftwright.answers.choose.rank import front_slope_lb_per_gr, unranked
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.demand import Demand
from shaftwright.records.builds import Builds
from shaftwright.units import inches

_SMALL_GR: Final = 2.0


class Seen(NamedTuple):
    """One build at a place of the map, with its figures and why it must not be shot."""

    build: Builds
    listed: ListedBuild
    dangers: tuple[str, ...]


class Difference(NamedTuple):
    """One reason why one build acts otherwise than another."""

    #: the rule, or `spine`
    name: str
    #: what is different; empty where only the rule's reason tells it
    saw: str
    #: how much front mass would do the same; + acts weaker
    as_front_gr: float
    why: str


def look(asked: Scenario, build: Builds, candidates: Candidates | None = None) -> Seen:
    """One build with its figures and reasons; quick enough to follow a finger.

    `candidates` tell its shaft's material and notes. The chance of tuning, which needs many builds,
    is left out.
    """
    if candidates is None:
        build = replace(build, shaft=np.array([-1], dtype=np.int32))
        candidates = Candidates(build, ())
    listed = list_builds(asked, candidates, unranked(asked, build))[0]
    cautions = tuple(c for c in listed.cautions if c != "a price is missing")
    return Seen(build, replace(listed, cautions=cautions), dangers(asked, build))


def nearest_index(choice: Choice, shaft_index: int, length_in: float, front_gr: float) -> int:
    """The build of one shaft that comes nearest to a place of the map; -1 when it has none.

    A quarter inch counts as much as 12.5 gr; of equals it is the better scored.
    """
    ranking = choice.ranking
    if ranking is None or shaft_index < 0:
        return -1
    builds = ranking.builds
    # shaft by shaft, as enumerated: a slice instead of a search over all builds
    rows = np.flatnonzero(builds.shaft == shaft_index)
    if not len(rows):
        return -1
    there = builds.take(rows)
    off = np.hypot((there.length_in - length_in) / 0.25, (there.front_gr - front_gr) / 12.5)
    near = rows[off <= off.min() + 1e-9]
    return int(near[np.argmax(ranking.score[near])])


def differences(
    asked: Scenario, before: Builds, after: Builds, names: tuple[str, str] = ("", "")
) -> tuple[Difference, ...]:
    """Why one build acts stiffer or weaker than another, rule by rule, told in front mass.

    The largest first; those under 2 gr are left out. The grains are those at the front of `after` that
    would shift it as much, by the slope there.
    """
    was, now = asked.demand(before), asked.demand(after)
    slope = float(front_slope_lb_per_gr(after, now.own_lb, asked.book)[0])
    found: list[Difference] = []
    if before.spine_mils[0] != after.spine_mils[0]:
        softer = float(stiffness_lb(before)[0] - stiffness_lb(after)[0]) / slope
        saw = f"{names[1] or 'another shaft'} instead of {names[0] or 'the kept one'}"
        is_so = "more flexible" if softer > 0 else "stiffer"
        found.append(Difference("spine", saw, softer, f"the shaft itself is {is_so}"))
    shifts_was, shifts_now = _by_rule(asked, was), _by_rule(asked, now)
    rules = {f.rule.code: f.rule for d in (was, now) for f in d.shift_rules.firings}
    for code, rule in rules.items():
        grains = (shifts_now.get(code, 0.0) - shifts_was.get(code, 0.0)) / slope
        if abs(grains) >= _SMALL_GR:
            found.append(Difference(rule.name, _seen(rule.name, before, after), grains, rule.why))
    return tuple(sorted(found, key=lambda d: -abs(d.as_front_gr)))


def _by_rule(asked: Scenario, demand: Demand) -> dict[str, float]:
    """What each rule adds to the effective bow weight of a single build [lb]."""
    shifts: dict[str, float] = {}
    for column in demand.columns:
        mean = column.mean
        if asked.belief.learned:
            deviation = column.deviations(asked.belief.scores[column.driver])
            mean = column.value + float(np.mean(deviation))
        shifts[column.code] = shifts.get(column.code, 0.0) + float(np.ravel(column.x)[0]) * mean
    return shifts


def _seen(name: str, before: Builds, after: Builds) -> str:
    if name == "shaft-length":
        length = float(after.length_in[0] - before.length_in[0])
        return f"{inches(abs(length))} {'longer' if length > 0 else 'shorter'}"
    quantities = {
        "front-mass": ("front_gr", "up front"),
        "tail-mass": ("tail_gr", "at the tail"),
        "collar": ("stiffening_gr", "round the front end"),
    }
    if name in quantities:
        column, where = quantities[name]
        grains = float(getattr(after, column)[0] - getattr(before, column)[0])
        return f"{abs(grains):.0f} gr {'more' if grains > 0 else 'less'} {where}"
    return ""
