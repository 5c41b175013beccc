"""The arrows that can be made from the shafts in hand, and which of those shafts have a fair chance."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.candidates import enumerate_builds
from shaftwright.answers.plan.outlook import Idea, Outlook, outlooks
from shaftwright.answers.plan.pieces import Piece
from shaftwright.answers.plan.result import Buy
from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.inference.band import stiffness_lb, tunable_draws
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.plan import plan_setting
from shaftwright.rules.purposes import setting

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario

_PARTED = "\t"


class Makeable:
    """Arrows from shafts in hand: each as long as it is, or cut, with the points that fit."""

    def __init__(self, scenario: Scenario, pieces: Sequence[Piece] | None = None) -> None:
        self.scenario = scenario
        kept: dict[tuple[str, int], Piece] = {}
        for piece in scenario.held.pieces if pieces is None else pieces:
            # of several alike one stands for all: that which was shot
            key = piece.shaft, round(16 * piece.length_in)
            if key not in kept or (piece.shot and not kept[key].shot):
                kept[key] = piece
        self.pieces = tuple(kept.values())

    @cached_property
    def _stock(self) -> Stock:
        shelf = self.scenario.shelf
        assert shelf is not None
        shafts = [
            shelf.by_name[p.shaft].model_copy(
                update={
                    "item": f"{p.shaft}{_PARTED}{i}",
                    "full_length_in": p.length_in,
                    "in_hand": 1,
                }
            )
            for i, p in enumerate(self.pieces)
        ]
        parts = [i for i in shelf.items if i.kind not in ("shaft", "collar", "broadhead")]
        return Stock((*shafts, *parts), shelf.name)

    @cached_property
    def builds(self) -> Builds:
        """Every length down to the shortest safe one, every point and insert that fits."""
        plain = self.scenario.purpose_rule.model_copy(update={"broadheads": False})
        return enumerate_builds(self.scenario.rig, self._stock, plain).builds

    @cached_property
    def _demand(self) -> tuple[float, NDArray[np.float64], NDArray[np.bool_]]:
        """Draw weight, mean of what is wanted, and which builds keep the limits of weight."""
        demand = self.scenario.demand(self.builds)
        purpose, own = self.scenario.purpose_rule, demand.own_lb
        heavy = self.builds.bare_gr / own >= hard_floor_gr_per_lb(self.scenario.rig) - 1e-9
        per_lb = self.builds.total_gr / own
        inside = heavy & (per_lb >= purpose.gr_per_lb.low) & (per_lb <= purpose.gr_per_lb.high)
        # where nothing that is in hand comes to the purpose's weight, what the bow allows will do
        allowed = inside if inside.any() else heavy
        return own, demand.mean, allowed

    @cached_property
    def chances(self) -> dict[Piece, float]:
        """Chance of each piece that some cut, point or insert of it suits, within the limits."""
        if not self.pieces or not len(self.builds):
            return dict.fromkeys(self.pieces, 0.0)
        _, _, allowed = self._demand
        demand = self.scenario.demand(self.builds)
        index, hit = tunable_draws(
            demand, self.builds, allowed, self.scenario.belief, setting("tolerance_pct") / 100
        )
        found = dict.fromkeys(self.pieces, 0.0)
        for shaft, hits in zip(index.tolist(), hit, strict=True):
            found[self._piece(shaft)] = float(hits.mean())
        return found

    def _piece(self, shaft: int) -> Piece:
        return self.pieces[int(self.builds.names[shaft].rpartition(_PARTED)[2])]

    def fair(self) -> tuple[Piece, ...]:
        """The pieces worth shooting."""
        least = plan_setting("fair_piece_chance")
        return tuple(p for p in self.pieces if self.chances[p] >= least)

    def ready(self, pieces: Sequence[Piece], like: BuildSpec | None = None) -> list[Outlook]:
        """Each piece as long as it is, with points in hand before points to buy; safe ones only."""
        ideas: list[Idea] = []
        builds = self.builds
        for piece in pieces:
            place = self.pieces.index(piece)
            row = builds.names.index(f"{piece.shaft}{_PARTED}{place}") if len(builds) else -1
            full = np.flatnonzero(
                (builds.shaft == row) & (np.abs(builds.length_in - piece.length_in) < 1e-6)
            )  # fmt: skip
            ideas += self._with_parts(piece, full, like)
        found = [o for o in outlooks(self.scenario, ideas) if o.safe]
        return in_range_first(found)

    def far_too_weak(self, pieces: Sequence[Piece]) -> list[str]:
        """Shafts that are far too weak at the middle with every point, as long as they are."""
        builds, found = self.builds, []
        if not len(builds):
            return []
        _, mean, _ = self._demand
        share = stiffness_lb(builds) / mean
        for piece in pieces:
            if piece not in self.pieces:
                continue
            row = builds.names.index(f"{piece.shaft}{_PARTED}{self.pieces.index(piece)}")
            own = share[(builds.shaft == row) & (np.abs(builds.length_in - piece.length_in) < 1e-6)]
            if len(own) and own.max() < setting("shoot_gate"):
                found.append(piece.shaft)
        return sorted(set(found))

    def _with_parts(
        self, piece: Piece, rows: NDArray[np.intp], like: BuildSpec | None
    ) -> list[Idea]:
        """Of the parts that fit those in hand; where none is, those that may be bought."""
        builds, items = self.builds, self._stock.by_name
        specs: list[tuple[int, BuildSpec, tuple[Buy, ...]]] = []
        for i in rows:
            point, insert = (
                builds.name(int(builds.head[i])),
                builds.name(int(builds.insert[i])) or None,
            )
            lacking = [n for n in (point, insert) if n and not _in_hand(items.get(n))]
            spec = BuildSpec.model_validate(
                {"shaft": piece.shaft, "length": piece.length_in, "point": point, "insert": insert}
            )
            specs.append((len(lacking), spec, tuple(Buy(name, 1) for name in lacking)))
        least = min((lacks for lacks, _, _ in specs), default=0)
        kept = [(spec, buy) for lacks, spec, buy in specs if lacks == least]
        if like is not None and any(spec.insert == like.insert for spec, _ in kept):
            kept = [(spec, buy) for spec, buy in kept if spec.insert == like.insert]
        return [Idea(spec, self.scenario.rig, None, piece, buy, "shaft") for spec, buy in kept]


def _in_hand(item: StockItem | None) -> bool:
    return item is not None and item.in_hand > 0


def in_range_first(found: Sequence[Outlook]) -> list[Outlook]:
    """Those inside the purpose's weights; where a shaft has none, its lightest that is heavy enough.

    A shaft still long may be heavier than the purpose asks, which a cut brings down.
    """
    kept = [o for o in found if o.in_range]
    within = {o.idea.spec.shaft for o in kept}
    for shaft in {o.idea.spec.shaft for o in found} - within:
        heavy = [
            o for o in found if o.idea.spec.shaft == shaft and o.gr_per_lb > o.wanted_gr_per_lb[1]
        ]
        kept += sorted(heavy, key=lambda o: o.gr_per_lb)[:1]
    return kept
