"""Every shaft of a shop with every point and insert: how long it is first shot, how short it may end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.choose.candidates import enumerate_builds, with_points
from shaftwright.answers.choose.rank import hard_floor_gr_per_lb
from shaftwright.answers.scenario import what_to_look_for
from shaftwright.answers.shop.chance import Bits, Ints, Side, tunable
from shaftwright.answers.shop.lines import Line, Option, heads_alike, lines_of, twin_head
from shaftwright.answers.shop.musts import Must
from shaftwright.arrays import Array, Bools
from shaftwright.errors import TooMany
from shaftwright.inference.band import chance_between, moments, stiffness_lb
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock, StockItem

#: how far `chance_between` may be off, so that a count of draws finds the first shot safe too
_SERIES_ERROR = 0.012
#: test arrows that a kit is looked for among
_MOST = 60_000
_CARRIERS = ("insert", "outsert", "adapter")


@dataclass(frozen=True)
class Fronts:
    """Rows of option, point and insert, line by line, insert by insert, stiffest and lightest first."""

    sides: tuple[Side, ...]
    shortest_in: float
    lines: tuple[Line, ...]
    options: tuple[Option, ...]
    items: tuple[StockItem, ...]
    builds: Builds
    line: Ints
    option: Ints
    #: longest first shot that passes the gate [in]; NaN where none does
    first_in: Array
    #: chance that it is far too weak there
    weak: Array
    least_gr_per_lb: float
    notes: tuple[str, ...]

    def part(self, index: int) -> StockItem | None:
        """A part behind an index of the builds."""
        return self.items[index] if index >= 0 else None

    def covers(
        self, groups: Sequence[tuple[Ints, Array, Array]], fresh: bool = False
    ) -> list[Bits]:
        """Of groups of rows and the lengths they may end at, the draws in which each row can be tuned."""
        rows, short, long = (np.concatenate(part) for part in zip(*groups, strict=True))
        places = np.array([o.place for o in self.options], dtype=np.int64)[self.option[rows]]
        bits = tunable(self.sides, self.builds.take(rows), (short, long), places, fresh)
        return np.split(bits, np.cumsum([len(group[0]) for group in groups])[:-1])

    def first_shots(self) -> tuple[Bools, Array, Array]:
        """Which rows may be shot first, and the shortest and longest length they may end at [in]."""
        b, fixed = self.builds, self.builds.front_gr + self.builds.tail_gr
        short, long = np.full(len(b), self.shortest_in), np.full(len(b), np.inf)
        for side in self.sides:
            asked = side.scenario.purpose_rule
            floor = hard_floor_gr_per_lb(side.scenario.rig) * side.scenario.own_lb
            least = max(asked.gr_per_lb.low, self.least_gr_per_lb) * side.scenario.own_lb
            most = np.maximum(asked.most(b.wood), self.least_gr_per_lb) * side.scenario.own_lb
            need = np.maximum(floor + b.fletching_gr, least) - fixed
            short = np.maximum(short, need / b.gr_per_in)
            long = np.minimum(long, (most - fixed) / b.gr_per_in)
        return self.first_in >= short - 1e-9, short, long


def fronts_of(
    sides: tuple[Side, ...], stock: Stock, pieces: Sequence[Piece], any_line: bool = False,
    musts: Sequence[Must] = (), own: str | None = None,
) -> Fronts:  # fmt: skip
    """Set up the rows of a shop for one bow, or for two that one arrow must serve."""
    shortest = max(shortest_safe_length_in(s.scenario.rig, s.scenario.purpose_rule) for s in sides)
    lines = lines_of(stock, pieces, shortest, any_line, own)
    options = tuple(option for line in lines for option in line.options)
    of_line = np.repeat(np.arange(len(lines)), np.array([len(x.options) for x in lines], dtype=int))
    asked = sides[0].scenario
    hunts = any(s.scenario.purpose_rule.broadheads for s in sides)
    if own is not None:
        stock = _there(stock)
    points, notes = _points(stock, hunts)
    named = {o.first.item: o for o in options}
    shafts = (
        o.first.model_copy(update={"full_length_in": shortest, "gr_per_in": o.facts.gr_per_in})
        for o in named.values()
    )  # fmt: skip
    parts = stock.of_kind(*_CARRIERS, "nock", "fletching")
    plain = asked.purpose_rule.model_copy(update={"broadheads": False})
    found = enumerate_builds(asked.rig, Stock((*shafts, *points, *parts), stock.name), plain)
    if found.count > _MOST:
        raise TooMany(
            f"this stock makes {found.count:,} test arrows, more than the {_MOST:,} that can be "
            f"compared: keep in it what you would buy; {what_to_look_for(asked)}"
        )
    builds = found.builds
    rows = [np.flatnonzero(builds.shaft == found.stock.places[o.first.item]) for o in options]
    at = np.concatenate([np.zeros(0, dtype=np.int64), *rows])
    option = np.repeat(np.arange(len(options)), np.array([len(x) for x in rows], dtype=int))
    kept = _nearest(asked.purpose_rule.usual_front_gr, builds, at, of_line[option])
    at, option = at[kept], option[kept]
    order = np.lexsort((builds.head_gr[at], option, builds.insert[at], of_line[option]))
    at, option = at[order], option[order]
    builds = builds.take(at)
    first, weak = _first_lengths(sides, builds, option, options, shortest)
    least = max((m.number for m in musts if m.key == "gr_per_lb"), default=0.0)
    told = (*notes, *(c for c in found.cautions if "insert" in c))
    return Fronts(
        sides, shortest, tuple(lines), options, found.items, builds, of_line[option], option,
        first, weak, least, told,
    )  # fmt: skip


def _there(stock: Stock) -> Stock:
    """The stock with only those points and inserts that are in hand, where some of the kind are."""
    kinds = {i.kind for i in stock.items if i.in_hand and i.kind in ("point", *_CARRIERS)}
    return Stock(tuple(i for i in stock.items if i.in_hand or i.kind not in kinds), stock.name)


def _points(stock: Stock, hunts: bool) -> tuple[list[StockItem], list[str]]:
    """Field points to test with; for hunting those that a broadhead of the same mass replaces later."""
    points, notes = with_points(stock).of_kind("point"), []
    if not stock.of_kind("point"):
        notes.append("the shop has no points: usual masses are taken, buy them elsewhere")
    heads = stock.of_kind("broadhead") if hunts else []
    if heads:
        paired = [p for p in points if twin_head(p, heads) is not None]
        fixings = {(p.material, p.outside_diameter_in) for p in paired}
        # where no broadhead goes on a shaft, any point does
        alone = [p for p in points if (p.material, p.outside_diameter_in) not in fixings]
        points = [*paired, *alone]
    return heads_alike(points), notes


def _nearest(usual_gr: float, builds: Builds, at: Ints, line: Ints) -> Ints:
    """Of each line and insert the points nearest to the usual front."""
    most = round(setting("shopping.masses_tried"))
    group = line * (builds.insert.max(initial=0) + 2) + builds.insert[at]
    kept = []
    for value in np.unique(group):
        rows = np.flatnonzero(group == value)
        heads, where = np.unique(builds.head[at[rows]], return_index=True)
        off = np.abs(builds.front_gr[at[rows[where]]] - usual_gr)
        near = heads[np.argsort(off, kind="stable")[:most]]
        kept.append(rows[np.isin(builds.head[at[rows]], near)])
    return np.concatenate(kept) if kept else np.zeros(0, dtype=np.int64)


def _first_lengths(
    sides: Sequence[Side], builds: Builds, option: Ints, options: Sequence[Option], shortest: float
) -> tuple[Array, Array]:
    """Of each row the longest first shot neither far too weak nor too heavy, and its chance of the former."""
    step = setting("shopping.safe_cut_step_in")
    start = np.array([o.length_in for o in options])[option]
    first, weak = np.full(len(option), np.nan), np.full(len(option), np.nan)
    todo = np.arange(len(option))
    while len(todo):
        some = replace(builds.take(todo), length_in=start[todo])
        risk = _far_too_weak(sides, some)
        safe = (risk <= setting("matching.far_too_weak_chance") - _SERIES_ERROR) & ~too_heavy(
            sides, some
        )
        first[todo[safe]], weak[todo[safe]] = start[todo[safe]], risk[safe]
        todo = todo[~safe]
        start[todo] -= step
        todo = todo[start[todo] >= shortest - 1e-9]
    return first, weak


def too_heavy(sides: Sequence[Side], builds: Builds) -> Bools:
    """Whether a first shot is heavier than one of the purposes asks; a cut brings it down."""
    heavy = np.zeros(len(builds), dtype=bool)
    for side in sides:
        most = side.scenario.purpose_rule.most(builds.wood) * side.scenario.own_lb
        heavy |= builds.total_gr > most + 1e-9
    return heavy


def _far_too_weak(sides: Sequence[Side], builds: Builds) -> Array:
    """Chance that a first shot is far too weak for one of the bows; 1 where its middle is."""
    gate = setting("matching.shoot_gate")
    risk = np.zeros(len(builds))
    supply = stiffness_lb(builds)
    for side in sides:
        asked = side.scenario
        mean, sd, skew = moments(asked.demand(builds), builds, asked.belief)
        chance = chance_between(mean, sd, skew, supply / gate, np.full(len(builds), 1e9))
        risk = np.maximum(risk, np.where(supply < gate * mean, 1.0, chance))
    return risk
