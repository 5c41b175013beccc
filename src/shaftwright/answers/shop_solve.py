"""The cheapest kit that covers enough of the draws: an exact search with a proven bound.

Parts (points, inserts, nocks) are taken from the cheapest set upwards; for each set the cheapest
shafts follow by branch and bound. A set of parts that, with the shafts needed were all parts free,
costs more than the best kit found ends the search: nothing dearer can win.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

Bits = NDArray[np.uint64]
Ints = NDArray[np.int64]
Key = tuple[int, ...]
#: a second look at a kit, shafts and bought parts, that must agree before it counts
Accept = Callable[[Key, Key], bool]
_FEW_PARTS = 6
_MOST_SETS = 40_000
_MOST_NODES = 60_000


def popcount(bits: Bits) -> Ints:
    """Number of bits set in each row.

    Parameters
    ----------
    bits : uint64 array (..., w)
        Packed draws.

    Returns
    -------
    int array (...)
        Counts.
    """
    if hasattr(np, "bitwise_count"):
        counts: Ints = np.bitwise_count(bits).sum(axis=-1, dtype=np.int64)
        return counts
    unpacked = np.unpackbits(bits.view(np.uint8), axis=-1)  # pragma: no cover - numpy before 2.0
    slow: Ints = unpacked.sum(axis=-1, dtype=np.int64)  # pragma: no cover
    return slow  # pragma: no cover


@dataclass(frozen=True)
class KitProblem:
    """What each shaft covers with each set of parts.

    Attributes
    ----------
    shaft_cost : int array (s,)
        Price of each shaft, 0 when in hand.
    part_cost : int array (p,)
        Price of each part that is not in hand; all above 0.
    hits : dict
        Parts that must be bought -> packed draws (s, w) in which each shaft can be tuned with them.
    gates : dict
        The same keys -> bool (s,): whether the shaft has a first test arrow that may be shot.
    draws : int
        Number of draws.
    """

    shaft_cost: Ints
    part_cost: Ints
    hits: dict[Key, Bits]
    gates: dict[Key, NDArray[np.bool_]]
    draws: int
    _whole: list[tuple[Bits, NDArray[np.bool_]]] = field(default_factory=list, repr=False)

    def cover(self, parts: Iterable[int]) -> tuple[Bits, NDArray[np.bool_]]:
        """What every shaft covers, and which may be tested, with these parts beside those in hand."""
        chosen = tuple(sorted(set(parts)))
        shape = next(iter(self.hits.values())).shape if self.hits else (len(self.shaft_cost), 1)
        bits = np.zeros(shape, dtype=np.uint64)
        gate = np.zeros(len(self.shaft_cost), dtype=bool)
        for key in self.keys_within(chosen):
            bits |= self.hits[key]
            gate |= self.gates[key]
        bits[~gate] = 0
        return bits, gate

    def keys_within(self, parts: Key) -> list[Key]:
        """Sets of parts with builds of their own that lie within a rising set of parts."""
        if len(parts) > _FEW_PARTS:
            return [k for k in self.hits if set(parts).issuperset(k)]
        several = (k for n in range(len(parts) + 1) for k in combinations(parts, n))
        return [k for k in several if k in self.hits]

    def whole(self) -> tuple[Bits, NDArray[np.bool_]]:
        """What every shaft covers were all parts there."""
        if not self._whole:
            self._whole.append(self.cover(range(len(self.part_cost))))
        return self._whole[0]

    def covered(self, shafts: Iterable[int], parts: Iterable[int]) -> int:
        """Number of draws in which a kit holds a shaft that can be tuned."""
        bits = self.cover(parts)[0][list(shafts)]
        return int(popcount(np.bitwise_or.reduce(bits, axis=0))) if len(bits) else 0

    def most(self) -> int:
        """Number of draws covered were everything bought."""
        bits = self.whole()[0]
        return int(popcount(np.bitwise_or.reduce(bits, axis=0))) if len(bits) else 0


@dataclass(frozen=True)
class Kit:
    """A kit: shafts and parts by index, what it costs, what it covers, and the proven bound.

    Attributes
    ----------
    shafts, parts : tuple of int
        Chosen; parts in hand are not among them.
    cost : int
        Price.
    covered : int
        Draws.
    bound : int
        No kit that covers enough costs less; equal to `cost` when proven cheapest.
    """

    shafts: tuple[int, ...]
    parts: tuple[int, ...]
    cost: int
    covered: int
    bound: int

    @property
    def proven(self) -> bool:
        """Whether it is proven cheapest."""
        return self.bound >= self.cost


def solve(
    problem: KitProblem, need: int, budget: int | None = None, accept: Accept | None = None
) -> Kit | None:  # fmt: skip
    """The cheapest kit that covers at least `need` draws; of equal prices the widest cover.

    Parameters
    ----------
    problem : KitProblem
        Costs and covers.
    need : int
        Draws.
    budget : int, optional
        Dearest price of interest.
    accept : callable, optional
        A second look: only kits it agrees to count. Owning more never changes what it says of a kit.

    Returns
    -------
    Kit or None
        None when nothing covers enough within the budget.
    """
    if problem.most() < need:
        return None
    everything = int(problem.shaft_cost.sum() + problem.part_cost.sum())
    limit = everything if budget is None else min(budget, everything)
    nodes = [_MOST_NODES]
    whole = problem.whole()[0]
    least = cheapest_cover(whole, problem.shaft_cost, need, limit, nodes, ties=False)
    if least is None and nodes[0] > 0:
        return None
    if least is None or nodes[0] <= 0:
        floor, nodes = _least_cost(whole, problem.shaft_cost, need), [_MOST_NODES]
    else:
        floor = least.cost
    # tried first, so that the bound is tight from the start
    best = _first_kit(problem, need, limit, nodes, accept)
    bound = None
    masks = {key: sum(1 << p for p in key) for key in problem.hits}
    with_part = [[m for k, m in masks.items() if p in k] for p in range(len(problem.part_cost))]
    for tried, (cost, parts) in enumerate(_sets_by_cost(problem.part_cost, limit - floor)):
        top = limit if best is None else best.cost
        if cost + floor > top:
            break
        if tried >= _MOST_SETS:
            bound = cost + floor
            break
        # a part that completes no build only adds to the price of a set already tried
        whole_set = sum(1 << p for p in parts)
        if not all(any(m | whole_set == whole_set for m in with_part[p]) for p in parts):
            continue
        look = None if accept is None else partial(_with_parts, accept, parts)
        bits = problem.cover(parts)[0]
        found = cheapest_cover(bits, problem.shaft_cost, need, top - cost, nodes, accept=look)
        if found is not None:
            total = cost + found.cost
            if best is None or (total, -found.covered) < (best.cost, -best.covered):
                best = Kit(found.shafts, parts, total, found.covered, total)
        if nodes[0] <= 0:
            bound = cost + floor
            break
    if best is None:
        return None
    return replace(best, bound=best.cost if bound is None else min(bound, best.cost))


def _with_parts(accept: Accept, parts: Key, shafts: Key) -> bool:
    return accept(shafts, parts)


def _least_cost(bits: Bits, cost: Ints, need: int) -> int:
    """A price under which no shafts cover enough, were they divisible and never overlapping."""
    gains = popcount(bits)
    deficit = need - int(gains[cost == 0].sum())
    paid = np.flatnonzero((cost > 0) & (gains > 0))
    if deficit <= 0 or not len(paid):
        return 0
    order = paid[np.argsort(-gains[paid] / cost[paid], kind="stable")]
    reached = np.cumsum(gains[order])
    spent = np.cumsum(cost[order])
    whole = int(np.searchsorted(reached, deficit))
    return int(spent[whole - 1]) if whole else 0


@dataclass(frozen=True)
class Cover:
    """Shafts that cover enough."""

    shafts: tuple[int, ...]
    cost: int
    covered: int


def cheapest_cover(
    bits: Bits, cost: Ints, need: int, budget: int, nodes: list[int] | None = None, ties: bool = True,
    accept: Callable[[Key], bool] | None = None,
) -> Cover | None:  # fmt: skip
    """The cheapest shafts that cover at least `need` draws; of equal prices the widest cover.

    Parameters
    ----------
    bits : uint64 array (s, w)
        What each shaft covers.
    cost : int array (s,)
        Prices; shafts that cost nothing are always taken.
    need : int
        Draws.
    budget : int
        Dearest price of interest.
    nodes : list of int, optional
        Counter of nodes left, lowered in place.
    ties : bool
        Whether to look among equal prices for the widest cover.
    accept : callable, optional
        A second look at shafts that cover enough.

    Returns
    -------
    Cover or None
        None when nothing within the budget covers enough.
    """
    if budget < 0:
        return None
    free = np.flatnonzero((cost == 0) & bits.any(axis=1))
    start = np.bitwise_or.reduce(bits[free], axis=0) if len(free) else np.zeros_like(bits[0])
    owned = tuple(free.tolist())
    look = None if accept is None else lambda chosen: accept((*owned, *chosen))
    search = _Search(
        bits, cost, need, budget, nodes if nodes is not None else [_MOST_NODES], ties, look
    )
    paid = np.flatnonzero((cost > 0) & (cost <= budget))
    search.visit(start, int(popcount(start)), 0, paid, ())
    if search.best is None:
        return None
    spent, covered, chosen = search.best
    return Cover((*free.tolist(), *chosen), spent, covered)


class _Search:
    """Depth-first branch and bound over shafts; the bound is a fractional knapsack of what each adds."""

    def __init__(
        self, bits: Bits, cost: Ints, need: int, budget: int, nodes: list[int], ties: bool,
        accept: Callable[[Key], bool] | None,
    ) -> None:  # fmt: skip
        self.bits, self.cost, self.need, self.limit = bits, cost, need, budget
        self.nodes, self.slack, self.accept = nodes, 0 if ties else 1, accept
        self.best: tuple[int, int, tuple[int, ...]] | None = None

    def visit(
        self, covered: Bits, count: int, spent: int, left: Ints, chosen: tuple[int, ...]
    ) -> None:
        self.nodes[0] -= 1
        if count >= self.need and self._record(spent, count, chosen):
            return
        room = self.limit - spent
        left = left[self.cost[left] <= room]
        if not len(left) or self.nodes[0] <= 0:
            return
        gains = popcount(self.bits[left] & ~covered)
        # what adds nothing here may yet satisfy the second look
        useful = gains > 0 if self.accept is None else gains >= 0
        left, gains = left[useful], gains[useful]
        if not len(left):
            return
        costs = self.cost[left]
        order = np.argsort(-gains / costs, kind="stable")
        left, gains, costs = left[order], gains[order], costs[order]
        deficit = self.need - count
        if _most_gain(gains, costs, room) < deficit:
            return
        last = np.flatnonzero(gains >= deficit)
        if len(last):
            others = gains < deficit
            # what ends the search alone is dearer in any company; refused, it may yet serve with another
            for k in last[np.lexsort((-gains[last], costs[last]))]:
                more = (*chosen, int(left[k]))
                if self._record(spent + int(costs[k]), count + int(gains[k]), more):
                    break
                others[k] = True
            left, gains, costs = left[others], gains[others], costs[others]
            if not len(left):
                return
        cheapest = int(costs.min())
        for i in range(len(left)):
            if spent + int(costs[i]) + cheapest > self.limit:
                continue
            if _most_gain(gains[i:], costs[i:], self.limit - spent) < deficit:
                break
            self.visit(
                covered | self.bits[left[i]], count + int(gains[i]), spent + int(costs[i]),
                left[i + 1 :], (*chosen, int(left[i])),
            )  # fmt: skip

    def _record(self, spent: int, count: int, chosen: tuple[int, ...]) -> bool:
        """Keep what is better; false only where the second look refused it, so that more may be added."""
        if spent > self.limit:
            return True
        if self.best is None or (spent, -count) < (self.best[0], -self.best[1]):
            if self.accept is not None and not self.accept(chosen):
                return False
            self.best = (spent, count, chosen)
            self.limit = spent - self.slack
        return True


def _most_gain(gains: Ints, costs: Ints, room: int) -> float:
    """Most that can be added for this money, were shafts divisible; ordered by gain over cost."""
    spent = np.cumsum(costs)
    whole = int(np.searchsorted(spent, room, side="right"))
    total = float(gains[:whole].sum())
    if whole < len(gains):
        before = int(spent[whole - 1]) if whole else 0
        total += float(gains[whole]) * (room - before) / float(costs[whole])
    return total


def _sets_by_cost(costs: Ints, limit: int) -> Iterator[tuple[int, Key]]:
    """Every set of parts up to a price, cheapest first."""
    yield 0, ()
    order = np.argsort(costs, kind="stable")
    ranked = [int(c) for c in costs[order]]
    if not ranked:
        return
    heap: list[tuple[int, tuple[int, ...]]] = [(ranked[0], (0,))]
    while heap:
        cost, members = heapq.heappop(heap)
        if cost > limit:
            return
        yield cost, tuple(sorted(int(order[m]) for m in members))
        last = members[-1] + 1
        if last < len(ranked):
            heapq.heappush(heap, (cost + ranked[last], (*members, last)))
            heapq.heappush(heap, (cost - ranked[members[-1]] + ranked[last], (*members[:-1], last)))


def _first_kit(
    problem: KitProblem, need: int, limit: int, nodes: list[int], accept: Accept | None
) -> Kit | None:  # fmt: skip
    """A good kit to begin with: grow the parts by what helps most for its money."""
    best: Kit | None = None
    keys = sorted(problem.hits, key=lambda k: int(problem.part_cost[list(k)].sum()))[:400]
    for key in keys:
        cost = int(problem.part_cost[list(key)].sum())
        top = limit if best is None else best.cost - 1
        if cost > top:
            break
        found = cheapest_cover(
            problem.cover(key)[0], problem.shaft_cost, need, top - cost, nodes, ties=False,
            accept=None if accept is None else partial(_with_parts, accept, key),
        )  # fmt: skip
        if found is not None:
            best = Kit(found.shafts, key, cost + found.cost, found.covered, 0)
    return best
