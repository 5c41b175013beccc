"""What the shafts in hand can become, and what the stock has for an arrow that flies straight."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.arrows.outlook import Idea, Outlook, outlooks
from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.choose.candidates import enumerate_builds
from shaftwright.answers.choose.rank import heavy_enough
from shaftwright.answers.plan.result import Buy
from shaftwright.arrays import Bools
from shaftwright.inference.band import stiffness_lb, tunable_draws
from shaftwright.inference.demand import Demand
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem, line_of, shaft_facts
from shaftwright.rules.fits import part_fits

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where
    from shaftwright.answers.scenario import Scenario


T = TypeVar("T")


class Makeable:
    """Arrows from shafts in hand: each as long as it is, or cut, with the points that fit."""

    def __init__(self, scenario: Scenario, shot_gr_per_lb: Sequence[float] = ()) -> None:
        self.scenario = scenario
        #: what the arrows weigh that were shot already [gr/lb]
        self.shot = tuple(shot_gr_per_lb)
        kept: dict[tuple[str, int], Piece] = {}
        for piece in scenario.held.pieces:
            # of several alike one stands for all: that which was shot
            key = piece.shaft, round(16 * piece.length_in)
            if key not in kept or (piece.shot and not kept[key].shot):
                kept[key] = piece
        self.pieces = tuple(kept.values())
        self._ready: dict[Hashable, list[Outlook]] = {}

    @cached_property
    def _stock(self) -> Stock:
        """Every piece as a row of its own, in their order, then the parts."""
        shelf = self.scenario.shelf
        assert shelf is not None
        own = [{"full_length_in": p.length_in, "in_hand": 1} for p in self.pieces]
        rows = zip(self.pieces, own, strict=True)
        shafts = [shelf.by_name[p.shaft].model_copy(update=update) for p, update in rows]
        parts = [i for i in shelf.items if i.kind not in ("shaft", "collar", "broadhead")]
        return Stock((*shafts, *parts), shelf.name)

    @cached_property
    def builds(self) -> Builds:
        """Every length down to the shortest safe one, every point and insert that fits."""
        plain = self.scenario.purpose_rule.model_copy(update={"broadheads": False})
        rig = self.scenario.rig
        return self._keep("builds", lambda: enumerate_builds(rig, self._stock, plain).builds)

    @cached_property
    def _demand(self) -> Demand:
        return self._keep("demand", lambda: self.scenario.demand(self.builds))

    def _keep(self, what: object, make: Callable[[], T]) -> T:
        """What these pieces come to, whatever was shot."""
        lengths = tuple((p.shaft, p.length_in) for p in self.pieces)
        return self.scenario.keep(("made", what, lengths), make)

    @cached_property
    def _allowed(self) -> Bools:
        """Which builds keep the limits of weight."""
        asked = self.scenario.purpose_rule
        light = min((asked.gr_per_lb.low, *self.shot))
        most = np.maximum(asked.most(self.builds.wood), max(self.shot, default=0.0))
        per_lb = self.builds.total_gr / self.scenario.own_lb
        return heavy_enough(self.scenario, self.builds) & (per_lb >= light) & (per_lb <= most)

    @cached_property
    def chances(self) -> dict[Piece, float]:
        """Chance of each piece that some cut, point or insert of it suits, within the limits."""
        if not self.pieces or not len(self.builds):
            return dict.fromkeys(self.pieces, 0.0)
        tolerance = setting("matching.tolerance_pct") / 100
        index, hit = tunable_draws(
            self._demand, self.builds, self._allowed, self.scenario.belief, tolerance
        )
        found = dict.fromkeys(self.pieces, 0.0)
        for shaft, hits in zip(index.tolist(), hit, strict=True):
            found[self.pieces[shaft]] = float(hits.mean())
        return found

    def chance(self, look: Outlook) -> float:
        """The chance of the piece that an arrow is made of."""
        return self.chances[look.idea.piece] if look.idea.piece is not None else 0.0

    @cached_property
    def fair(self) -> tuple[Piece, ...]:
        """The pieces worth shooting."""
        least = setting("plan.fair_piece_chance")
        return tuple(p for p in self.pieces if self.chances[p] >= least)

    def ready(self, pieces: Sequence[Piece], like: BuildSpec | None = None) -> list[Outlook]:
        """Each piece as long as it is, safe ones only: with parts in hand, else with parts to buy.

        Within the purpose's weights; where no part brings a shaft there, no further outside than was shot.
        """
        kept = list[Outlook]()
        for piece in pieces:
            # all that counts of the arrow it is to be like
            key = piece, None if like is None else (like.insert,)
            if key not in self._ready:
                ideas = self._keep(("ideas", *key), partial(self._ideas, piece, like))
                self._ready[key] = self._safe(ideas)
            kept += self._ready[key]
        return kept

    def _safe(self, ideas: Sequence[Idea]) -> list[Outlook]:
        for shot in ((), self.shot):
            found = [o for o in outlooks(self.scenario, ideas, shot) if o.safe]
            if found:
                return [o for o in found if not o.idea.buy] or found
        return []

    def shorter(self, pieces: Sequence[Piece], like: BuildSpec | None = None) -> list[Idea]:
        """Each piece cut by a half inch or more, with parts in hand."""
        step = setting("plan.far_cut_step_in")
        shortest = shortest_safe_length_in(self.scenario.rig, self.scenario.purpose_rule)
        found = []
        for piece in pieces if self.scenario.along is None else ():
            for idea in self._ideas(piece, like):
                if idea.buy:
                    continue
                for k in range(1, int((piece.length_in - shortest + 1e-9) / step) + 1):
                    spec = idea.spec.model_copy(update={"length_in": piece.length_in - step * k})
                    found.append(replace(idea, spec=spec, kind="cut", amount=-step * k))
        return found

    def _ideas(self, piece: Piece, like: BuildSpec | None) -> list[Idea]:
        """The piece with every point and insert that fits."""
        builds, items = self.builds, self._stock.by_name
        ideas: list[Idea] = []
        for i in self._uncut(piece):
            point, insert = (
                builds.name(int(builds.head[i])), builds.name(int(builds.insert[i])) or None
            )  # fmt: skip
            spec = BuildSpec.model_construct(
                shaft=piece.shaft, length_in=piece.length_in, point=point, insert=insert
            )
            lacking = [n for n in (point, insert) if n and not (n in items and items[n].in_hand)]
            buy = tuple(Buy(n, 1) for n in lacking)
            ideas.append(Idea(spec, self.scenario.rig, None, piece, buy, "shaft"))
        if like is not None and any(i.spec.insert == like.insert for i in ideas):
            ideas = [i for i in ideas if i.spec.insert == like.insert]
        least = min((sum(b.item == i.spec.insert for b in i.buy) for i in ideas), default=0)
        return [i for i in ideas if sum(b.item == i.spec.insert for b in i.buy) == least]

    def _uncut(self, piece: Piece) -> NDArray[np.intp]:
        """The builds of a piece as long as it is."""
        own = self.builds.shaft == self.pieces.index(piece)
        return np.flatnonzero(own & (np.abs(self.builds.length_in - piece.length_in) < 1e-6))

    def far_too_weak(self, pieces: Sequence[Piece]) -> list[str]:
        """Shafts that are far too weak at the middle with every point, as long as they are."""
        if not self.pieces or not len(self.builds):
            return []
        share, gate = stiffness_lb(self.builds) / self._demand.mean, setting("matching.shoot_gate")
        own = [(p.shaft, share[self._uncut(p)]) for p in pieces if p in self.pieces]
        return sorted({shaft for shaft, of_it in own if len(of_it) and of_it.max() < gate})


def rows_like(stock: Stock, spec: BuildSpec) -> list[StockItem]:
    """The rows of a stock that are the named shaft, however it is sold, and long enough; its own first."""
    named = stock.by_name.get(spec.shaft) if spec.shaft else None
    if named is not None and named.kind == "shaft":
        facts = shaft_facts(named)
        spine, bore = facts.spine_mils, facts.inside_in
        per_inch: float | None = facts.gr_per_in
    elif spec.spine_mils is None:
        return []
    else:
        spine, per_inch, bore = spec.spine_mils, spec.gr_per_in, None
    found = []
    for row in stock.of_kind("shaft"):
        long = (row.full_length_in or 0.0) >= (spec.length_in or 0.0) - 1e-6
        one_make = named is None or (line_of(named), named.material) == (line_of(row), row.material)
        if not (long and one_make):
            continue
        other = shaft_facts(row)
        same = abs(other.spine_mils - spine) <= setting("plan.same_spine_mils")
        if per_inch is not None:
            same &= abs(other.gr_per_in - per_inch) <= setting("plan.same_gr_per_in")
        if bore is not None and other.inside_in is not None:
            same &= abs(bore - other.inside_in) <= setting("matching.bore_fit_in")
        if same:
            found.append(row)
    return sorted(found, key=lambda row: row is not named)


def shaft_like(where: Where, spec: BuildSpec) -> StockItem | None:
    """A row of the stock that is the same shaft: line, spine, weight and bore; singles before packs."""
    shelf = where.scenario.shelf
    mine = where.scenario.item(spec.shaft)
    if shelf is None or mine is None:
        return None
    alike = [row for row in rows_like(shelf, spec) if row.price is not None]
    return min(alike, key=lambda i: (i.pack, i.price or 0.0), default=mine)


def broadhead_for(where: Where, arrow: Arrow) -> StockItem | None:
    """The broadhead nearest in weight to the point that flew; in hand before to be bought."""
    shelf, spec = where.scenario.shelf, arrow.spec
    shaft = where.scenario.item(spec.shaft)
    if shelf is None or shaft is None:
        return None
    want = float(arrow.build.head_gr[0])
    fitting = [b for b in shelf.of_kind("broadhead") if part_fits(b, shaft)]
    return min(
        fitting, default=None,
        key=lambda b: (round(abs((b.mass_gr or 0.0) - want) / 2), not b.in_hand, b.price or 0.0, b.item),
    )  # fmt: skip
