"""Every arrow that could be built from a stock, as columns, and what was turned away and why."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from shaftwright.inference.resolve import default_tail, shaft_radius_in
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Rig
from shaftwright.records.stock import ShaftFacts, Stock, StockItem, shaft_facts
from shaftwright.resources import table
from shaftwright.result import Result
from shaftwright.rules.fits import cheapest, dearness, fit, unit_price
from shaftwright.rules.sections import PurposeRule
from shaftwright.units import inches
from shaftwright.watched import watcher


def no_shafts(stock: Stock | None, material: str | None = None) -> str:
    """That a stock has no shafts to choose from; empty where it has, or there is none."""
    if stock is None or stock.of_kind("shaft"):
        return ""
    of = f" of {material}" if material else ""
    return f"the stock has no shafts{of}: add some of the spines that suit"


@dataclass(frozen=True)
class Rejection(Result):
    """Builds or shafts turned away by one limit: what they were, and the least they had to be."""

    rule: str
    count: int
    found: str
    at_least: str


@cache
def usual_stock() -> Stock:
    """What most shops keep, for an archer who names none; prices unknown."""
    numbers = ("spine_mils", "gr_per_in", "outside_diameter_in", "full_length_in")
    shafts = [
        {"item": f"any {row['spine_mils']} {row['material']}", "kind": "shaft", "line": "any carbon",
         "material": row["material"], **{name: row[name] for name in numbers}}
        for row in table("usual_shafts") if row["kept_by"] == "most"
    ]  # fmt: skip
    parts = [
        {"item": f"any {row['name']}", "kind": row["kind"], "mass_gr": row["mass_gr"],
         "material": row["material"] or None}
        for row in table("usual_parts") if row["kind"] in ("point", "broadhead", "insert")
    ]  # fmt: skip
    items = map(StockItem.model_validate, (*shafts, *parts))
    return Stock(tuple(items), "what most shops keep")


def with_points(stock: Stock) -> Stock:
    """A stock with the points that shops usually keep where it lists none; their price is unknown."""
    if stock.of_kind("point"):
        return stock
    return Stock((*stock.items, *usual_stock().of_kind("point")), stock.name)


def _runs(counts: Sequence[int], most: int) -> Iterator[tuple[int, int]]:
    """First and last place of neighbours that together count at most so many; one alone may be more."""
    start = total = 0
    for place, count in enumerate(counts):
        if total and total + count > most:
            yield start, place
            start, total = place, 0
        total += count
    if total:
        yield start, len(counts)


def enumerate_builds(
    rig: Rig, stock: Stock, purpose: PurposeRule, alike_once: bool = False, wrap_gr: float = 0.0
) -> Candidates:
    """Every shaft x cut length x head x insert x collar that fits, shaft by shaft, made when asked for.

    Lengths go from the shortest safe one to full in quarter inches. With `alike_once` shafts of one
    make sold in several packs, and fronts of one mass, stand once: what is in hand, else the cheapest.
    """
    if alike_once:
        stock = Stock(_cheapest_of_alike(stock.items), stock.name)
    return Candidates(rig, stock, purpose, alike_once, wrap_gr)


def _cheapest_of_alike(items: Sequence[StockItem]) -> tuple[StockItem, ...]:
    """The items without shafts that differ from another only in name, price or pack."""
    best: dict[object, StockItem] = {}
    for item in items:
        own = {"item": "", "price": None, "pack": 1, "in_hand": 0, "note": ""}
        key: object = item.item if item.kind != "shaft" else item.model_copy(update=own)
        held = best.get(key)
        if held is None or dearness(item) < dearness(held):
            best[key] = item
    kept = {item.item for item in best.values()}
    return tuple(item for item in items if item.item in kept)


def _once(alike: np.ndarray, owned: np.ndarray, price: np.ndarray) -> np.ndarray:
    """Of columns that are alike the place of the one most in hand, else the cheapest; in their own order."""
    order = np.lexsort((price, -owned, *alike))
    new = np.diff(alike[:, order], axis=1, prepend=np.nan) != 0
    return np.sort(order[new.any(axis=0)])


class Candidates:
    """All builds that fit together from a stock, before any limit on mass or match.

    Index arrays are gathered shaft by shaft; masses are looked up for many builds at once.
    """

    _OF_SHAFT = ("shaft", "spine_mils", "spine_sd_pct", "gr_per_in", "radius_in", "rear_taper_in", "wood",
                 "tail_gr", "fletching_gr", "price", "owned")  # fmt: skip

    def __init__(
        self, rig: Rig, stock: Stock, purpose: PurposeRule, alike_once: bool, wrap_gr: float
    ) -> None:
        self.alike_once, self.wrap_gr = alike_once, wrap_gr
        self.shortest = shortest_safe_length_in(rig, purpose)
        self.broadheads = stock.of_kind("broadhead") if purpose.broadheads else []
        tubes = any(shaft.material != "wood" for shaft in stock.of_kind("shaft"))
        amiss = {
            "points: usual weights are taken, to buy elsewhere": not stock.of_kind("point"),
            "broadheads: field points stand in for them": purpose.broadheads and not self.broadheads,
            "inserts: tubes are counted without, buy them elsewhere":
                tubes and not stock.of_kind("insert", "outsert"),
            **{f"{kind}: a usual weight is taken, buy it elsewhere": not stock.of_kind(kind)
               for kind in ("nock", "fletching")},
        }  # fmt: skip
        #: kinds missing from the stock
        self.cautions = tuple(f"the stock has no {what}" for what, lacks in amiss.items() if lacks)
        self.stock = with_points(stock)
        #: what the builds' indices point to; generic points to buy elsewhere come last
        self.items = self.stock.items
        self.points = self.stock.of_kind("point")
        self.too_short: list[float] = []
        self.unfit: list[str] = []
        #: shaft name -> cautions about fit
        self.notes: dict[str, tuple[str, ...]] = {}
        self.lengths: list[np.ndarray] = []
        #: heads, inserts and collars of each shaft's fronts (3, m), with the shaft's row
        self.fronts: list[tuple[int, np.ndarray]] = []
        self.rows: list[dict[str, float]] = []
        self.fitting: dict[tuple[object, ...], tuple[list[int], list[str]]] = {}
        self.chosen: dict[tuple[object, ...], StockItem | None] = {}
        self.sets: dict[tuple[object, ...], np.ndarray] = {}
        # one more row at the end answers for "none", index -1
        rows = self.items
        self.mass = np.array([*(item.mass_gr or 0.0 for item in rows), 0.0])
        self.price = np.array([*(unit_price(item) for item in rows), 0.0])
        self.owned = np.array([*(float(item.in_hand > 0) for item in rows), 0.0])
        self.outsert = np.array([*(item.kind == "outsert" for item in rows), False])
        self.is_broadhead = np.array([*(item.kind == "broadhead" for item in rows), False])
        for index, item in enumerate(rows):
            if item.kind == "shaft":
                self._add_shaft(index, item)

    @cached_property
    def builds(self) -> Builds:
        """All of them at once."""
        return self._made(0, len(self.rows))

    @property
    def count(self) -> int:
        """How many there are, without making them."""
        return sum(self._counts())

    def pieces(self, most: int) -> Iterator[Builds]:
        """Whole shafts together, at most so many builds at a time: memory stays bounded."""
        runs = _runs(self._counts(), most)
        yield from watcher.get()((self._made(start, end) for start, end in runs), self.count)

    def of_shafts(self, shafts: NDArray[np.int32]) -> Iterator[Builds]:
        """The builds of each of these shafts."""
        wanted = set(shafts.tolist())
        for place, row in enumerate(self.rows):
            if row["shaft"] in wanted:
                yield self._made(place, place + 1)

    def _add_shaft(self, index: int, shaft: StockItem) -> None:
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
        fletching_gr += self.wrap_gr
        step = setting("matching.cut_step_in")
        lengths = self.shortest + step * np.arange(int((full - self.shortest) / step + 1e-6) + 1)
        if full - lengths[-1] > 1e-6:
            lengths = np.append(lengths, full)
        for front_heads, inserts in fronts:
            self.fronts.append((len(self.rows), self._set(front_heads, inserts, collars)))
        self.lengths.append(lengths)
        self.rows.append(
            {
                "shaft": index, "spine_mils": facts.spine_mils, "spine_sd_pct": facts.spine_sd_pct,
                "gr_per_in": facts.gr_per_in, "radius_in": shaft_radius_in(facts.outside_in),
                "rear_taper_in": shaft.rear_taper_in, "wood": float(shaft.material == "wood"),
                "tail_gr": nock_gr + fletching_gr, "fletching_gr": fletching_gr,
                "price": unit_price(shaft) + unit_price(nock) + unit_price(fletching),
                "owned": float(shaft.in_hand > 0),
            }
        )  # fmt: skip
        if notes:
            self.notes[shaft.item] = tuple(dict.fromkeys(notes))

    def _set(self, heads: list[int], inserts: list[int], collars: list[int]) -> np.ndarray:
        """All fronts of these parts (3, m); of those alike in mass the one in hand, else the cheapest."""
        key = (*heads, None, *inserts, None, *collars)
        if key not in self.sets:
            if self.alike_once:
                heads, inserts, collars = map(self._of_masses, (heads, inserts, collars))
            fronts = np.array([*itertools.product(heads, inserts, collars)], dtype=np.int32).T
            if self.alike_once:
                head, insert, collar = fronts
                stiffening = self.mass[collar] + self.mass[insert] * self.outsert[insert]
                alike = np.stack([
                    np.rint(10 * self.mass[fronts].sum(axis=0)), np.rint(10 * stiffening),
                    self.is_broadhead[head], insert >= 0,
                ])  # fmt: skip
                owned = self.owned[head] + self.owned[insert]
                fronts = fronts[:, _once(alike, owned, self.price[fronts].sum(axis=0))]
            self.sets[key] = fronts
        return self.sets[key]

    def _of_masses(self, parts: list[int]) -> list[int]:
        """Of parts of one kind and mass the one in hand, else the cheapest."""
        at = np.array(parts)
        kind = 2 * self.outsert[at] + self.is_broadhead[at] + 4 * (at >= 0)
        alike = np.stack([np.rint(10 * self.mass[at]), kind])
        kept: list[int] = at[_once(alike, self.owned[at], self.price[at])].tolist()
        return kept

    def _fitting(
        self, parts: list[StockItem], shaft: StockItem, facts: ShaftFacts, notes: list[str]
    ) -> list[int]:
        # shafts of one material and section take the same parts
        names = tuple(part.item for part in parts)
        key = (names, shaft.material, facts.outside_in, facts.inside_in)
        if key not in self.fitting:
            outcomes = [(part, fit(part, shaft)) for part in parts]
            self.fitting[key] = (
                [self.stock.places[part.item] for part, outcome in outcomes if outcome.fits],
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

    @property
    def rejected(self) -> tuple[Rejection, ...]:
        """Shafts too short, and shafts that nothing fits."""
        rejected = []
        if self.too_short:
            found = f"longest {inches(max(self.too_short))}"
            count = len(self.too_short)
            rejected.append(Rejection("shortest-safe-length", count, found, inches(self.shortest)))
        if self.unfit:
            found = ", ".join(self.unfit[:3]) + (" ..." if len(self.unfit) > 3 else "")
            rejected.append(Rejection("parts-fit", len(self.unfit), found, "one point that fits"))
        return tuple(rejected)

    def _counts(self) -> list[int]:
        """How many builds each shaft makes."""
        found = [0] * len(self.rows)
        for row, part in self.fronts:
            found[row] += part.shape[1] * len(self.lengths[row])
        return found

    def _made(self, start: int, end: int) -> Builds:
        """The builds of the shafts from one place to another."""
        mass, price, owned, outsert = self.mass, self.price, self.owned, self.outsert
        # what does not depend on the length is looked up once a front, then spread over its lengths
        rows = self.rows[start:end]
        here = [(r, part) for r, part in self.fronts if start <= r < end]
        pieces = [part for _, part in here]
        head, insert, collar = np.concatenate([*pieces, np.zeros((3, 0), np.int32)], axis=1)
        counts = [part.shape[1] for part in pieces]
        row = np.repeat(np.array([r - start for r, _ in here], dtype=int), counts)
        shafts = {k: np.array([r[k] for r in rows], dtype=float)[row] for k in self._OF_SHAFT}
        ends = np.cumsum([0, *counts], dtype=np.int32)
        lengths, front = [np.zeros(0)], [np.zeros(0, dtype=np.int32)]
        for (r, _), first, last in zip(here, ends[:-1], ends[1:], strict=True):
            lengths.append(np.repeat(self.lengths[r], last - first))
            front.append(np.tile(np.arange(first, last, dtype=np.int32), len(self.lengths[r])))
        of_front = np.concatenate(front)
        columns = shafts | {
            "shaft": shafts["shaft"].astype(np.int32), "head": head, "insert": insert, "collar": collar,
            "head_gr": mass[head], "insert_gr": mass[insert], "is_broadhead": self.is_broadhead[head],
            "collar_gr": mass[collar], "stiffening_gr": mass[collar] + mass[insert] * outsert[insert],
            "price": shafts["price"] + price[head] + price[insert] + price[collar],
            "owned": (shafts["owned"] + owned[head] + owned[insert]) / (2.0 + (insert >= 0)),
        }  # fmt: skip
        return Builds(
            length_in=np.concatenate(lengths), names=self.stock.names,
            **{name: column.take(of_front) for name, column in columns.items()},
        )  # fmt: skip
