"""Moving about the map of shaft length against front mass: one build at a time, and why it changes."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shaftwright.answers.build import dangers
from shaftwright.answers.choose.candidates import Candidates
from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.choose.listing import ListedBuild, list_builds
from shaftwright.answers.choose.map import BuildMap
from shaftwright.answers.choose.rank import WORTHS, Ranking, arrows_of, front_slope_lb_per_gr
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import chance_match, moments, stiffness_lb
from shaftwright.inference.demand import Demand
from shaftwright.inference.resolve import typical_gr_per_in
from shaftwright.physics.arrow.arrow import foc_pct
from shaftwright.records.builds import Builds
from shaftwright.rules.purposes import setting
from shaftwright.units import inches

_SMALL_GR = 2.0
_NONE = np.array([-1], dtype=np.int32)


@dataclass(frozen=True)
class Seen:
    """One build at a place of the map.

    Attributes
    ----------
    build : Builds
        Of length 1.
    listed : ListedBuild
        Figures, reasons, cautions.
    dangers : tuple of str
        Why it must not be shot; mostly empty.
    """

    build: Builds
    listed: ListedBuild
    dangers: tuple[str, ...]


@dataclass(frozen=True)
class Difference:
    """One reason why one build acts otherwise than another.

    Attributes
    ----------
    name : str
        The rule, or `spine`.
    saw : str
        What is different; empty where only the rule's reason tells it.
    as_front_gr : float
        How much front mass would do the same [gr]; + acts weaker.
    why : str
        The reason.
    """

    name: str
    saw: str
    as_front_gr: float
    why: str


def base_build(choice: Choice, drawn: BuildMap, shaft: int = 0) -> Builds:
    """The build a walk over the map starts from; its point will vary, the rest stays.

    Parameters
    ----------
    choice : Choice
        An answer.
    drawn : BuildMap
        Its map, for the usual size without a stock.
    shaft : int
        Which listed build.

    Returns
    -------
    Builds
        Of length 1.
    """
    if choice.listed and choice.ranking is not None:
        return choice.ranking.builds.take([choice.listed[shaft].index])
    reference = choice.question.reference_build()
    return replace(
        reference,
        spine_mils=np.array([drawn.spine_mils]),
        gr_per_in=np.array([typical_gr_per_in(drawn.spine_mils)]),
    )


def moved(base: Builds, length_in: float, front_gr: float) -> Builds:
    """A build at another place of the map: insert and collar stay, the point makes up the rest.

    Parameters
    ----------
    base : Builds
        Of length 1.
    length_in, front_gr : float
        The place.

    Returns
    -------
    Builds
        The point is a mass, no longer an item of the stock.
    """
    point = max(front_gr - float(base.insert_gr[0]) - float(base.collar_gr[0]), 0.0)
    return replace(
        base, length_in=np.array([length_in]), head_gr=np.array([point]), head=_NONE,
        price=np.array([np.nan]), owned=np.zeros(1),
    )  # fmt: skip


def look(asked: Scenario, build: Builds, candidates: Candidates | None = None) -> Seen:
    """One build with its figures and reasons; quick enough to follow a finger.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    build : Builds
        Of length 1, from `moved` or from a ranking.
    candidates : Candidates, optional
        Where its shaft stands, for its material and notes.

    Returns
    -------
    Seen
        Without the chance of tuning, which needs many builds.
    """
    if candidates is None:
        build = replace(build, shaft=_NONE)
        candidates = Candidates(build, ())
    demand = asked.demand(build)
    mean, sd, _ = moments(demand, build, asked.belief)
    chance = chance_match(demand, build, asked.belief, setting("tolerance_pct") / 100)
    ranking = Ranking(
        build, demand.own_lb, mean, sd, chance, np.atleast_1d(foc_pct(arrows_of(build))),
        build.total_gr / demand.own_lb, np.zeros((1, len(WORTHS))), np.zeros(len(WORTHS)), np.zeros(1),
    )  # fmt: skip
    listed = list_builds(
        asked.rig, asked.purpose_rule, candidates, ranking, asked.book, asked.speeds(), [0]
    )[0]
    kept = tuple(c for c in listed.cautions if c != "a price is missing")
    listed = replace(listed, cautions=kept)
    return Seen(build, listed, dangers(asked, build, float(mean[0])))


def nearest_index(choice: Choice, shaft_index: int, length_in: float, front_gr: float) -> int:
    """The build of the stock that comes nearest to a place of the map.

    Parameters
    ----------
    choice : Choice
        An answer.
    shaft_index : int
        Only builds of this shaft.
    length_in, front_gr : float
        The place; a quarter inch counts as much as 12.5 gr.

    Returns
    -------
    int
        Index into the ranking's builds, the better scored of equals; -1 when the shaft has none.
    """
    ranking = choice.ranking
    if ranking is None or shaft_index < 0:
        return -1
    builds = ranking.builds
    # shaft by shaft, as enumerated: a slice instead of a search over all builds
    rows = np.flatnonzero(builds.shaft == shaft_index)
    if not len(rows):
        return -1
    front = builds.head_gr[rows] + builds.insert_gr[rows] + builds.collar_gr[rows]
    off = np.hypot((builds.length_in[rows] - length_in) / 0.25, (front - front_gr) / 12.5)
    near = rows[off <= off.min() + 1e-9]
    return int(near[np.argmax(ranking.score[near])])


def differences(
    asked: Scenario, before: Builds, after: Builds, names: tuple[str, str] = ("", "")
) -> tuple[Difference, ...]:
    """Why one build acts stiffer or weaker than another, rule by rule, told in front mass.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    before, after : Builds
        Of length 1 each.
    names : tuple of str
        How to call the two shafts.

    Returns
    -------
    tuple of Difference
        The largest first; those under 2 gr are left out.

    Notes
    -----
    The grains are those at the front of `after` that would shift it as much, by the slope there.
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
