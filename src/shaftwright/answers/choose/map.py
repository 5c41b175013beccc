"""The map of builds, and a step from one place of it to another."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np

from shaftwright.answers.build import dangers
from shaftwright.answers.choose.candidates import Candidates, usual_stock
from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.choose.listing import ListedBuild, list_builds
from shaftwright.answers.choose.rank import front_slope_lb_per_gr, hard_floor_gr_per_lb, unranked
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array
from shaftwright.inference.band import moments, stiffness_lb
from shaftwright.inference.demand import Demand
from shaftwright.inference.resolve import typical_gr_per_in
from shaftwright.inference.rig_facts import usual
from shaftwright.parameters import setting
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.builds import Builds
from shaftwright.records.stock import shaft_facts
from shaftwright.units import inches

_LENGTHS, _FRONTS = 33, 25
_WIDER = (0.5, 0.95)
_BEYOND_GR = 50.0


def _sold_by_most() -> list[float]:
    """Spines that most shops keep [mils]."""
    return sorted(shaft_facts(i).spine_mils for i in usual_stock().of_kind("shaft"))


class MapCurve(NamedTuple):
    """The front mass at which one spine is in the middle of its band, length by length."""

    #: the spine as it is sold
    label: str
    #: not-a-number where no front mass of the map does it (n,)
    front_gr: Array


@dataclass(frozen=True)
class BuildMap:
    """Shaft length against front mass for one bow."""

    #: lengths at which all curves are given (n,)
    length_in: Array
    #: the front masses the map shows
    lowest_gr: float
    highest_gr: float
    #: the build whose shaft's strip is drawn; its point varies over the map
    base: Builds
    #: chances, rising, the stated one among them
    levels: tuple[float, ...]
    chance: float
    #: least and most front mass between which the shaft's spine lies inside the band of that chance;
    #: held a little outside the map where it lies beyond it (levels, 2, n)
    strips: Array
    #: the strip's own shaft first, then the other spines worth showing
    curves: tuple[MapCurve, ...]
    #: above it the shaft is too weak to be shot; infinity where it never is (n,)
    too_weak_gr: Array
    #: below it the bare arrow is under the mass floor (n,)
    floor_gr: Array
    floor_gr_per_lb: float
    #: shortest safe length, and the shaft as it is sold
    shortest_in: float
    full_in: float
    #: the listed builds
    marks: tuple[ListedBuild, ...]

    @property
    def shaft(self) -> str:
        """The shaft whose strip is drawn; empty for a usual size."""
        return self.base.name(int(self.base.shaft[0]))

    @property
    def spine_mils(self) -> float:
        """Its static spine."""
        return float(self.base.spine_mils[0])


def build_map(choice: Choice) -> BuildMap:
    """The map of a choice, for the first of its listed shafts or, without a stock, for a usual size.

    A strip is the band turned round: all lengths and fronts at which the spine of this one shaft
    lies between the stiffest and the weakest that suit. It leaves out the shaft's own doubt, as
    the band does.
    """
    asked, base = choice.question, _base(choice)
    shortest = choice.band.length_in
    full = _full_in(choice)
    lengths = np.linspace(shortest - 0.5, full + 0.25, _LENGTHS)
    low, high = _fronts(choice)
    fronts = np.linspace(max(low - _BEYOND_GR, 1.0), high + _BEYOND_GR, _FRONTS)
    grid = moved(base, *(axis.ravel() for axis in np.meshgrid(lengths, fronts, indexing="ij")))
    demand = asked.demand(grid)
    levels = tuple(sorted({choice.band.chance, *_WIDER}))
    sides = np.array([[(1 + c) / 2, (1 - c) / 2] for c in levels])
    wanted = np.quantile(demand.draws(asked.belief), sides.ravel(), axis=1)
    wanted = _smooth(wanted, grid).reshape(-1, _LENGTHS, _FRONTS)
    supply = pounds_from_mils(float(base.spine_mils[0]))
    mean = moments(demand, grid, asked.belief)[0].reshape(1, _LENGTHS, _FRONTS)
    gate = supply / setting("matching.shoot_gate")
    floor = hard_floor_gr_per_lb(asked.rig)
    lightest = floor * demand.own_lb - (base.bare_gr[0] - base.front_gr[0])
    return BuildMap(
        length_in=lengths, lowest_gr=low, highest_gr=high, base=base, levels=levels,
        chance=choice.band.chance,
        strips=_front_where(wanted, supply, fronts).reshape(len(levels), 2, _LENGTHS),
        curves=_curves(choice, base, mean, fronts),
        too_weak_gr=_front_where(mean, gate, fronts, outside=(-np.inf, np.inf))[0],
        floor_gr=lightest - base.gr_per_in[0] * (lengths - base.length_in[0]), floor_gr_per_lb=floor,
        shortest_in=shortest, full_in=full, marks=choice.builds,
    )  # fmt: skip


def moved(base: Builds, length_in: Any, front_gr: Any) -> Builds:
    """A build at other places of the map: insert and collar stay, the point makes up the rest.

    The point is a mass then, no longer an item of the stock.
    """
    length, front = np.atleast_1d(length_in), np.atleast_1d(front_gr)
    many = base.take(np.zeros(len(length), dtype=int))
    return replace(
        many, length_in=length, head=np.full(len(length), -1, dtype=np.int32),
        head_gr=np.maximum(front - many.insert_gr - many.collar_gr, 0.0),
        price=np.full(len(length), np.nan), owned=np.zeros(len(length)),
    )  # fmt: skip


def _base(choice: Choice) -> Builds:
    """The build whose shaft gets the strip: a listed one, or the usual size nearest both bands."""
    if choice.listed and choice.ranking is not None:
        return choice.ranking.builds.take([choice.listed[0].index])
    middle = sum(pounds_from_mils(b.mid) for b in (choice.band, choice.band_uncut)) / 2
    spine = min(_sold_by_most(), key=lambda s: abs(pounds_from_mils(s) - middle))
    reference = choice.question.reference_build()
    per_inch = np.array([typical_gr_per_in(spine)])
    return replace(reference, spine_mils=np.array([spine]), gr_per_in=per_inch)


def _full_in(choice: Choice) -> float:
    first = choice.shafts[choice.listed[0].shaft] if choice.listed else None
    return max(usual("full_length_in") if first is None else first.comes_in, choice.band.length_in)


def _fronts(choice: Choice) -> tuple[float, float]:
    """Front masses worth showing: the usual one and the listed builds, with room around them."""
    shown = [choice.band.front_gr, *(b.front_gr for b in choice.listed)]
    low = 25 * np.floor((min(min(shown), choice.band.front_gr - 50) - 50) / 25)
    high = 25 * np.ceil((max(max(shown), choice.band.front_gr + 50) + 50) / 25)
    return float(max(low, 25.0)), float(high)


def _smooth(rows: Array, grid: Builds) -> Array:
    """Quantiles (k, points) without the ripple of the draws: a cubic surface over length and front."""
    across = (grid.length_in - grid.length_in.mean()) / np.ptp(grid.length_in)
    along = (grid.front_gr - grid.front_gr.mean()) / np.ptp(grid.front_gr)
    basis = np.stack([across**i * along**j for i in range(4) for j in range(4 - i)])
    surface: Array = np.linalg.lstsq(basis.T, rows.T, rcond=None)[0].T @ basis
    return surface


def _front_where(
    wanted: Array, supply: float, fronts: Array, outside: tuple[float, float] | None = None
) -> Array:
    """Front mass at which each row of what is wanted (k, n, m), rising with it, reaches a supply (k, n)."""
    left, right = (fronts[0], fronts[-1]) if outside is None else outside
    rows = np.maximum.accumulate(wanted.reshape(-1, len(fronts)), axis=1)
    found = [np.interp(supply, row, fronts, left=left, right=right) for row in rows]
    return np.array(found).reshape(wanted.shape[:2])


def _curves(choice: Choice, base: Builds, mean: Array, fronts: Array) -> tuple[MapCurve, ...]:
    """Middle curves: the strip's own shaft, the listed ones, then other sizes on sale."""
    spines = [float(base.spine_mils[0]), *(b.spine_mils for b in choice.listed)]
    if choice.listed:
        material = choice.shafts[choice.listed[0].shaft].material
        alike = (i for i in choice.shafts.values() if i.material == material)
        spines += sorted({i.spine_mils for i in alike if i.spine_mils})
    else:
        spines += _sold_by_most()
    kept: list[float] = []
    for spine in spines:
        # two lines closer than this cannot be told apart on the map
        if all(abs(spine / other - 1) > 0.05 for other in kept):
            kept.append(spine)
    none = (np.nan, np.nan)
    curves = (_front_where(mean, pounds_from_mils(s), fronts, none)[0] for s in kept)
    return tuple(MapCurve(f"{s:.0f}", curve) for s, curve in zip(kept, curves, strict=True))


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
    of = ((), {}) if candidates is None else (candidates.items, candidates.notes)
    listed = list_builds(asked, of[0], unranked(asked, build), notes=of[1])[0]
    cautions = tuple(c for c in listed.cautions if c != "a price is missing")
    return Seen(build, replace(listed, cautions=cautions), dangers(asked, build))


def nearest_index(choice: Choice, shaft_index: int, length_in: float, front_gr: float) -> int:
    """The build of one listed shaft that comes nearest to a place of the map.

    A quarter inch counts as much as 12.5 gr; of equals it is the better scored.
    """
    ranking = choice.ranking
    assert ranking is not None  # the shaft is one of its list
    builds = ranking.builds
    rows = np.flatnonzero(builds.shaft == shaft_index)
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
