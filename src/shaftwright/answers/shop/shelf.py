"""Every kit of one line of shafts with one insert: counted on joint draws, priced, the cheapest taken."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import combinations, product

import numpy as np

from shaftwright.answers.shop.chance import Bits, Ints, covered, popcount
from shaftwright.answers.shop.fronts import Fronts
from shaftwright.answers.shop.lines import Option, part_price
from shaftwright.arrays import Array, Bools
from shaftwright.parameters import setting
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.fits import cheapest as cheapest_fit

#: of shafts of one spine so many are tried in a kit
_ALIKE = 2


class Shelf:
    """The options and points of one line with one insert."""

    def __init__(self, fronts: Fronts, rows: Ints, limits: tuple[Bools, Array, Array]) -> None:
        ok, self.short, self.long = limits
        builds = fronts.builds
        self.fronts, self.line = fronts, fronts.lines[int(fronts.line[rows[0]])]
        self.insert = fronts.part(int(builds.insert[rows[0]]))
        numbers = sorted(set(fronts.option[rows].tolist()))
        masses = {int(builds.head[r]): float(builds.head_gr[r]) for r in rows}
        heads = sorted(masses, key=lambda h: (masses[h], h))
        self.options: list[Option] = [fronts.options[i] for i in numbers]
        self.points = [item for h in heads if (item := fronts.part(h)) is not None]
        #: row of each option and point; -1 where the point does not go on
        self.row = np.full((len(numbers), len(heads)), -1)
        for r in rows.tolist():
            self.row[numbers.index(int(fronts.option[r])), heads.index(int(builds.head[r]))] = r
        self.ok = ok[self.row] & (self.row >= 0)
        #: the first shots of each option that differ, and which one each point's is
        firsts = [np.unique(fronts.first_in[r[k]]) for r, k in zip(self.row, self.ok, strict=True)]
        self.which = np.zeros_like(self.row)
        for c, lengths in enumerate(firsts):
            self.which[c] = np.searchsorted(lengths, fronts.first_in[self.row[c]])
        self.firsts = firsts

    def cells(self) -> list[tuple[Ints, Array, Array]]:
        """Rows and the lengths they may end at, for every first shot of every option."""
        return [self._cell(c, x) for c, lengths in enumerate(self.firsts) for x in lengths]

    def _cell(self, option: int, first: float) -> tuple[Ints, Array, Array]:
        rows = self.row[option][self.row[option] >= 0]
        return rows, self.short[rows], np.minimum(self.long[rows], first)

    def cells_of(self, option: int, first: int, points: Sequence[int]) -> tuple[Ints, Array, Array]:
        """The same for one option, its first point and the points of a kit."""
        length = float(self.fronts.first_in[self.row[option, first]])
        rows, short, long = self._cell(option, length)
        some = np.isin(rows, self.row[option][list(points)])
        return rows[some], short[some], long[some]

    def count(self, cells: Iterator[Bits]) -> None:
        """Take in the draws that each cell covers."""
        #: (option, first shot) -> one row a point and an empty one, (p + 1, w)
        self.bits: dict[tuple[int, int], Bits] = {}
        for c, lengths in enumerate(self.firsts):
            for u in range(len(lengths)):
                bits = next(cells)
                table = np.zeros((len(self.points) + 1, bits.shape[1]), dtype=np.uint64)
                table[np.flatnonzero(self.row[c] >= 0)] = bits
                self.bits[c, u] = table
        self.total = covered(np.concatenate([*self.bits.values()])) if self.bits else 0

    @cached_property
    def every(self) -> tuple[list[tuple[int, ...]], Ints, Ints]:
        """Runs of options, and for each run with each set of points its price and the draws it covers."""
        sets = _point_sets(len(self.points))
        covers = {key: np.bitwise_or.reduce(b[sets], axis=1) for key, b in self.bits.items()}
        alone = {key: popcount(c) for key, c in covers.items()}
        runs = list(self._runs())
        cost = np.full((len(runs), len(sets)), np.iinfo(np.int64).max)
        hits = np.zeros(cost.shape, dtype=np.int64)
        for i, run in enumerate(runs):
            first, valid = self._first(run)
            some = np.flatnonzero(valid)
            if not len(some):
                continue
            union = np.zeros((len(some), covers[next(iter(covers))].shape[1]), dtype=np.uint64)
            likely = np.zeros((len(run), len(some)), dtype=np.int64)
            for k, c in enumerate(run):
                which = self.which[c][first[some]]
                for u in np.unique(which):
                    at = which == u
                    union[at] |= covers[c, int(u)][some[at]]
                    likely[k, at] = alone[c, int(u)][some[at]]
            hits[i, some] = popcount(union)
            cost[i, some] = self._cost(run, first[some], np.argmax(likely, axis=0), some)
        return runs, cost, hits

    def most(self, budget: float | None) -> int:
        """The most draws that a kit of this shelf covers for the money."""
        if not self.total:
            return 0
        _, cost, hits = self.every
        return int(hits[cost <= _limit(budget)].max(initial=0))

    def _runs(self) -> Iterator[tuple[int, ...]]:
        """Up to four neighbouring spines; of a spine that comes in several ways one."""
        alike: dict[int, list[int]] = {}
        for c, option in enumerate(self.options):
            if self.ok[c].any():
                alike.setdefault(option.place, []).append(c)
        for same in alike.values():
            if len(same) > _ALIKE:
                best = {c: self._alone(c) for c in same}
                cheap = min(same, key=lambda c: (self.options[c].packs(1)[0], -best[c]))
                same[:] = sorted({cheap, max(same, key=lambda c: best[c])})
        spines = [alike[place] for place in sorted(alike)]
        for size in range(1, round(setting("shopping.most_spines")) + 1):
            for start in range(len(spines) - size + 1):
                yield from product(*spines[start : start + size])

    def _alone(self, option: int) -> int:
        return covered(
            np.concatenate([self.bits[option, u] for u in range(len(self.firsts[option]))])
        )

    def _first(self, run: tuple[int, ...]) -> tuple[Ints, Bools]:
        """Of each set of points the lightest that every shaft may be shot with first, and whether one is."""
        sets = _point_sets(len(self.points))
        good = np.append(self.ok[list(run)].all(axis=0), False)[sets]
        at = np.argmax(good, axis=1)
        first: Ints = sets[np.arange(len(sets)), at]
        there: Bools = np.asarray(good.any(axis=1))
        return first, there

    def _cost(self, run: tuple[int, ...], first: Ints, likeliest: Ints, some: Ints) -> Ints:
        sets = _point_sets(len(self.points))
        twice = round(setting("shopping.likeliest_of"))
        pieces = len(run) - 1 + max(self.options[c].number(twice) for c in run)
        of_each = min(round(setting("shopping.points_of_each")), pieces)
        each = [_cents(part_price(p, of_each)) for p in self.points]
        cost: Ints = np.array([*each, 0])[sets[some]].sum(axis=1)
        if self.glued:
            # glued on, one for each shaft
            all_ = [_cents(part_price(p, pieces)) for p in self.points]
            cost += (np.array(all_) - np.array(each))[first]
        one, two = ([_cents(self.options[c].packs(n)[0]) for c in run] for n in (1, twice))
        shared = sum(one) + sum(_cents(part_price(p, n)) for p, n in self.small_parts(run, pieces))
        whole: Ints = cost + (np.array(two) - np.array(one))[likeliest] + shared
        return whole

    @property
    def glued(self) -> bool:
        """Whether a point goes on with glue, and stays."""
        return self.insert is None and self.line.material == "wood"

    def small_parts(self, run: Sequence[int], pieces: int) -> list[tuple[StockItem, int]]:
        """Insert and nocks for every shaft of a run, the twin's too, so many in all."""
        twin = pieces - len(run)
        parts = [] if self.insert is None else [(self.insert, pieces)]
        nocks: dict[str, tuple[StockItem, int]] = {}
        for c in run:
            option = self.options[c]
            nock = cheapest_fit(self._parts, "nock", option.first)
            if nock is not None:
                nocks[nock.item] = nock, nocks.get(nock.item, (nock, twin))[1] + 1
        return [*parts, *nocks.values()]

    @cached_property
    def _parts(self) -> Stock:
        return Stock(self.fronts.items)


def _cents(price: float) -> int:
    return round(price * 100)


def _limit(budget: float | None) -> int:
    """The most that a kit may cost; what no kit can be shot at costs more."""
    return int(np.iinfo(np.int64).max) - 1 if budget is None else _cents(budget)


@cache
def _point_sets(points: int) -> Ints:
    """Every set of one to three points, lightest first, filled up with a place that is none."""
    most = round(setting("shopping.most_points"))
    sets = [c for size in range(1, most + 1) for c in combinations(range(points), size)]
    return np.array([(*c, *[points] * (most - len(c))) for c in sets], dtype=np.int64)


@dataclass(frozen=True)
class Found:
    """One kit: which options, which points, the first of them."""

    shelf: Shelf
    at: tuple[int, ...]
    points: tuple[int, ...]
    first: int
    likeliest: int
    #: in hundredths, a usual price where none is stated
    cost: int

    def quantity(self, option: int) -> int:
        """Two of the likeliest, one of each other."""
        wanted = round(setting("shopping.likeliest_of")) if option == self.likeliest else 1
        number: int = self.shelf.options[option].number(wanted)
        return number

    def parts(self) -> list[tuple[StockItem, int]]:
        """Points, insert and nocks, and how many."""
        pieces = sum(map(self.quantity, self.at))
        each = min(round(setting("shopping.points_of_each")), pieces)
        points = [
            (self.shelf.points[p], pieces if self.shelf.glued and p == self.first else each)
            for p in self.points
        ]
        return [*points, *self.shelf.small_parts(self.at, pieces)]


def shelves(fronts: Fronts) -> list[Shelf]:
    """The shelves of a shop, with the draws that each of their shafts covers."""
    limits = fronts.first_shots()
    n = len(fronts.builds)
    if not n:
        return []
    edges = np.flatnonzero((np.diff(fronts.line) != 0) | (np.diff(fronts.builds.insert) != 0)) + 1
    some = [Shelf(fronts, rows, limits) for rows in np.split(np.arange(n), edges)]
    cells = [cell for shelf in some for cell in shelf.cells()]
    bits = iter(fronts.covers(cells) if cells else ())
    for shelf in some:
        shelf.count(bits)
    return some


def cheapest(some: Sequence[Shelf], need: int, budget: float | None = None) -> Found | None:
    """The cheapest kit that covers so many draws; of equals fewer shafts, then the likelier one."""
    best: tuple[tuple[int, int, int, int], Shelf, tuple[int, ...], tuple[int, ...]] | None = None
    for shelf in some:
        if shelf.total < max(need, 1):
            continue
        runs, cost, hits = shelf.every
        sets = _point_sets(len(shelf.points))
        good = np.argwhere((hits >= need) & (cost <= _limit(budget)))
        for i, k in good[np.argsort(cost[tuple(good.T)], kind="stable")].tolist():
            points = tuple(p for p in sets[k].tolist() if p < len(shelf.points))
            key = (int(cost[i, k]), len(runs[i]), -int(hits[i, k]), len(points))
            if best is not None and key[0] > best[0][0]:
                break
            if best is None or key < best[0]:
                best = key, shelf, runs[i], points
    if best is None:
        return None
    key, shelf, run, points = best
    first = next(p for p in points if shelf.ok[list(run), p].all())
    alone = [covered(shelf.bits[c, int(shelf.which[c][first])][list(points)]) for c in run]
    return Found(shelf, run, points, first, run[int(np.argmax(alone))], key[0])
