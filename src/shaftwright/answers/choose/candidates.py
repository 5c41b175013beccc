"""Every arrow that could be built from a stock, as columns, and what was turned away and why."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

import numpy as np

from shaftwright.inference.resolve import default_tail, shaft_radius_in
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Rig
from shaftwright.records.stock import ShaftFacts, Stock, StockItem, shaft_facts
from shaftwright.resources import table
from shaftwright.result import Result
from shaftwright.rules.fits import cheapest, fit, unit_price
from shaftwright.rules.purposes import PurposeRule
from shaftwright.units import inches


@dataclass(frozen=True)
class Rejection(Result):
    """Builds or shafts turned away by one limit: what they were, and the least they had to be."""

    rule: str
    count: int
    found: str
    at_least: str


@dataclass(frozen=True)
class Candidates:
    """All builds that fit together from a stock, before any limit on mass or match."""

    #: n builds, shaft by shaft
    builds: Builds
    #: what the builds' indices point to; generic points to buy elsewhere come last
    items: tuple[StockItem, ...]
    #: shafts too short, and shafts that nothing fits
    rejected: tuple[Rejection, ...] = ()
    #: shaft name -> cautions about fit
    notes: dict[str, tuple[str, ...]] = field(default_factory=dict)
    #: kinds missing from the stock
    cautions: tuple[str, ...] = ()

    def material(self, shaft_index: int) -> str:
        """Material of a shaft; a shaft given by numbers counts as carbon."""
        return (self.items[shaft_index].material or "carbon") if shaft_index >= 0 else "carbon"


def generic_points() -> tuple[StockItem, ...]:
    """Field points that shops usually keep, for a stock that lists none; their price is unknown."""
    return tuple(
        StockItem.model_validate({
            "item": f"any {row['name']}", "kind": "point", "mass_gr": row["mass_gr"],
            "material": "wood" if row["name"].startswith("glue-on") else None,
        })
        for row in table("usual_parts") if row["kind"] == "point"
    )  # fmt: skip


def enumerate_builds(rig: Rig, stock: Stock, purpose: PurposeRule) -> Candidates:
    """Every shaft x cut length x head x insert x collar that fits, shaft by shaft.

    Lengths go from the shortest safe one to full in quarter inches.
    """
    collected = _Collector(rig, stock, purpose)
    for index, item in enumerate(collected.items):
        if item.kind == "shaft":
            collected.add_shaft(index, item)
    return collected.finish()


class _Collector:
    """Gathers index arrays shaft by shaft, then looks all masses up at once."""

    _OF_SHAFT = ("shaft", "spine", "doubt", "per_inch", "radius", "taper", "wood", "tail", "fletching",
                 "price", "owned")  # fmt: skip

    def __init__(self, rig: Rig, stock: Stock, purpose: PurposeRule) -> None:
        self.stock, self.shortest = stock, shortest_safe_length_in(rig, purpose)
        heads = stock.of_kind("broadhead") if purpose.broadheads else []
        points = stock.of_kind("point")
        extra = () if points else generic_points()
        tubes = any(shaft.material != "wood" for shaft in stock.of_kind("shaft"))
        amiss = {
            "points: usual weights are taken, to buy elsewhere": not points,
            "broadheads: field points stand in for them": purpose.broadheads and not heads,
            "inserts: tubes are counted without, buy them elsewhere":
                tubes and not stock.of_kind("insert", "outsert"),
            **{f"{kind}: a usual weight is taken, buy it elsewhere": not stock.of_kind(kind)
               for kind in ("nock", "fletching")},
        }  # fmt: skip
        self.cautions = [f"the stock has no {what}" for what, lacking in amiss.items() if lacking]
        self.items = (*stock.items, *extra)
        self.place = {item.item: i for i, item in enumerate(self.items)}
        self.broadheads, self.points = heads, points or list(extra)
        self.too_short: list[float] = []
        self.unfit: list[str] = []
        self.notes: dict[str, tuple[str, ...]] = {}
        self.lengths: list[np.ndarray] = []
        #: heads, inserts and collars of each shaft's fronts (3, m), with the shaft's row
        self.fronts: list[tuple[int, np.ndarray]] = []
        self.rows: list[dict[str, float]] = []
        self.fitting: dict[tuple[object, ...], tuple[list[int], list[str]]] = {}
        self.chosen: dict[tuple[object, ...], StockItem | None] = {}

    def add_shaft(self, index: int, shaft: StockItem) -> None:
        full = shaft.full_length_in or 0.0
        if full < self.shortest - 1e-9:
            self.too_short.append(full)
            return
        facts = shaft_facts(shaft)
        notes: list[str] = []
        heads = self._fitting(self.broadheads, shaft, facts, notes)
        if self.broadheads and not heads:
            notes.append("no broadhead of the stock fits this shaft: field points stand in")
        heads = heads or self._fitting(self.points, shaft, facts, notes)
        if not heads:
            self.unfit.append(shaft.item)
            return
        fronts = self._fronts(heads, shaft, facts, notes)
        collars = [-1, *self._fitting(self.stock.of_kind("collar"), shaft, facts, [])]
        nock = self._cheapest("nock", shaft, facts)
        fletching = self._cheapest("fletching", shaft, facts)
        if nock is None and self.stock.of_kind("nock"):
            notes.append("no nock of the stock fits this shaft: a usual weight is taken")
        nock_gr, fletching_gr = default_tail(nock, fletching)
        step = setting("matching.cut_step_in")
        lengths = self.shortest + step * np.arange(int((full - self.shortest) / step + 1e-6) + 1)
        if full - lengths[-1] > 1e-6:
            lengths = np.append(lengths, full)
        for front_heads, inserts in fronts:
            pieces = [*itertools.product(front_heads, inserts, collars)]
            self.fronts.append((len(self.rows), np.array(pieces, dtype=np.int32).T))
        self.lengths.append(lengths)
        self.rows.append(
            {
                "shaft": index, "spine": facts.spine_mils, "doubt": facts.spine_sd_pct,
                "per_inch": facts.gr_per_in, "radius": shaft_radius_in(facts.outside_in),
                "taper": shaft.rear_taper_in, "wood": float(shaft.material == "wood"),
                "tail": nock_gr + fletching_gr, "fletching": fletching_gr,
                "price": unit_price(shaft) + unit_price(nock) + unit_price(fletching),
                "owned": float(shaft.in_hand > 0),
            }
        )  # fmt: skip
        if notes:
            self.notes[shaft.item] = tuple(dict.fromkeys(notes))

    def _fitting(
        self, parts: list[StockItem], shaft: StockItem, facts: ShaftFacts, notes: list[str]
    ) -> list[int]:
        # shafts of one material and section take the same parts
        names = tuple(part.item for part in parts)
        key = (names, shaft.material, facts.outside_in, facts.inside_in)
        if key not in self.fitting:
            outcomes = [(part, fit(part, shaft)) for part in parts]
            self.fitting[key] = (
                [self.place[part.item] for part, outcome in outcomes if outcome.fits],
                [outcome.reason for _, outcome in outcomes if outcome.fits and outcome.reason],
            )
        found, reasons = self.fitting[key]
        notes += reasons
        return list(found)

    def _cheapest(self, kind: str, shaft: StockItem, facts: ShaftFacts) -> StockItem | None:
        key = (kind, shaft.material, facts.outside_in, facts.inside_in)
        if key not in self.chosen:
            self.chosen[key] = cheapest(self.stock, kind, shaft)
        return self.chosen[key]

    def _fronts(
        self, heads: list[int], shaft: StockItem, facts: ShaftFacts, notes: list[str]
    ) -> list[tuple[list[int], list[int]]]:
        """Heads with what carries them: an insert in a tube; on wood glue-on heads, or an adapter."""
        if shaft.material == "wood":
            glued, screwed = self._glued(heads), [h for h in heads if h not in self._glued(heads)]
            adapters = self._fitting(self.stock.of_kind("adapter"), shaft, facts, notes)
            fronts = [(glued, [-1])] if glued else []
            if screwed and adapters:
                fronts.append((screwed, adapters))
            if fronts:
                return fronts
            glued = self._glued(self._fitting(self.points, shaft, facts, []))
            if glued:
                notes.append("no broadhead of the stock goes on wood: glue-on points stand in")
                return [(glued, [-1])]
            missing = "no glue-on point and no adapter for wood: buy one elsewhere"
            notes.append(f"the stock has {missing}")
            return [(heads, [-1])]
        stocked = self.stock.of_kind("insert", "outsert")
        found = self._fitting(stocked, shaft, facts, notes)
        if stocked and not found:
            notes.append("no insert of the stock fits this shaft: counted without one")
        return [(heads, found or [-1])]

    def _glued(self, heads: list[int]) -> list[int]:
        """The heads made for wood; one that fits everything screws into an insert."""
        own = ((head, self.items[head]) for head in heads)
        return [h for h, i in own if i.outside_diameter_in is not None or i.material == "wood"]

    def finish(self) -> Candidates:
        rejected = []
        if self.too_short:
            found = f"longest {inches(max(self.too_short))}"
            count = len(self.too_short)
            rejected.append(Rejection("shortest-safe-length", count, found, inches(self.shortest)))
        if self.unfit:
            found = ", ".join(self.unfit[:3]) + (" ..." if len(self.unfit) > 3 else "")
            rejected.append(Rejection("parts-fit", len(self.unfit), found, "one point that fits"))
        return Candidates(
            self._builds(), self.items, tuple(rejected), self.notes, tuple(self.cautions)
        )

    def _builds(self) -> Builds:
        names = tuple(item.item for item in self.items)
        # one more row at the end answers for "none", index -1
        mass = np.array([*(item.mass_gr or 0.0 for item in self.items), 0.0])
        price = np.array([*(unit_price(item) for item in self.items), 0.0])
        owned = np.array([*(float(item.in_hand > 0) for item in self.items), 0.0])
        outsert = np.array([*(item.kind == "outsert" for item in self.items), False])
        is_broadhead = np.array([*(item.kind == "broadhead" for item in self.items), False])
        # what does not depend on the length is looked up once a front, then spread over its lengths
        pieces = [part for _, part in self.fronts]
        head, insert, collar = np.concatenate([*pieces, np.zeros((3, 0), np.int32)], axis=1)
        counts = [part.shape[1] for part in pieces]
        row = np.repeat(np.array([r for r, _ in self.fronts], dtype=int), counts)
        shafts = {k: np.array([r[k] for r in self.rows], dtype=float)[row] for k in self._OF_SHAFT}
        ends = np.cumsum([0, *counts], dtype=np.int32)
        lengths, front = [np.zeros(0)], [np.zeros(0, dtype=np.int32)]
        for (r, _), start, end in zip(self.fronts, ends[:-1], ends[1:], strict=True):
            lengths.append(np.repeat(self.lengths[r], end - start))
            front.append(np.tile(np.arange(start, end, dtype=np.int32), len(self.lengths[r])))
        of_front = np.concatenate(front)
        columns = {
            "shaft": shafts["shaft"].astype(np.int32), "head": head, "insert": insert, "collar": collar,
            "spine_mils": shafts["spine"], "spine_sd_pct": shafts["doubt"],
            "gr_per_in": shafts["per_inch"], "radius_in": shafts["radius"],
            "rear_taper_in": shafts["taper"], "wood": shafts["wood"],
            "head_gr": mass[head], "insert_gr": mass[insert],
            "collar_gr": mass[collar], "stiffening_gr": mass[collar] + mass[insert] * outsert[insert],
            "tail_gr": shafts["tail"], "fletching_gr": shafts["fletching"],
            "is_broadhead": is_broadhead[head],
            "price": shafts["price"] + price[head] + price[insert] + price[collar],
            "owned": (shafts["owned"] + owned[head] + owned[insert]) / (2.0 + (insert >= 0)),
        }  # fmt: skip
        return Builds(
            length_in=np.concatenate(lengths), names=names,
            **{name: column.take(of_front) for name, column in columns.items()},
        )  # fmt: skip
