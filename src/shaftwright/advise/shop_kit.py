"""The test kit as a problem of covering joint draws: every shaft, point, insert and nock of a stock.

A kit succeeds in a draw when it holds a shaft, a point and what carries it for which some cut, from
full length to the shortest safe one, brings the arrow within tolerance. Cuts cost nothing, and the
effective bow weight rises with length, so that the two ends of the allowed lengths tell whether a
length between them matches.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.advise.candidates import (
    enumerate_builds,
    generic_points,
    shortest_safe_length_in,
)
from shaftwright.advise.choose import Question
from shaftwright.advise.rank import hard_floor_gr_per_lb
from shaftwright.advise.shop_packs import ShaftClass, cheapest_packs, offers_of, shaft_classes
from shaftwright.advise.shop_rules import shop_setting
from shaftwright.advise.shop_solve import Bits, Key, KitProblem
from shaftwright.match.band import match_limits, moments, stiffness_lb
from shaftwright.match.belief import Belief
from shaftwright.mechanics.normal import quantile
from shaftwright.records.builds import Builds
from shaftwright.records.fit import cheapest
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rulebook.fits import fit_limits
from shaftwright.rulebook.purposes import setting

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
DRAWS = 2048
SEED = 20_260_202
#: prices as whole numbers; one more for every piece bought, so that of equal prices fewer pieces win
UNIT = 1000


@dataclass(frozen=True)
class Fronts:
    """Every shaft with every front that fits it, cuts left open.

    Attributes
    ----------
    builds : Builds
        n rows at full length.
    shortest_in : array (n,)
        Shortest allowed length of each row: safe for the draw, heavy enough for bow and purpose [in].
    shaft : int array (n,)
        Index into the shaft classes.
    keys : int array (n, 4)
        Index of head, insert, collar and nock among the parts; -1 for none.
    first : bool array (n,)
        Whether the row may be shot first: heavy enough and past the shoot gate at full length.
    mean_lb : array (n,)
        Middle of the effective bow weight at full length [lb].
    packed : uint64 array (n, w)
        Draws in which some allowed length is within tolerance.
    """

    builds: Builds
    shortest_in: Array
    shaft: NDArray[np.int64]
    keys: NDArray[np.int64]
    first: NDArray[np.bool_]
    mean_lb: Array
    packed: Bits


@dataclass(frozen=True)
class KitQuestion:
    """The whole test-kit problem of a rig and a stock.

    Attributes
    ----------
    asked : Question
        Rig, purpose, rules, belief.
    classes : tuple of ShaftClass
        Shafts long enough that something fits.
    parts : tuple of StockItem
        Heads, inserts, collars and nocks that some row uses.
    paid : tuple of int
        Which of the parts must be bought, in the order of the problem.
    fronts : Fronts
        Rows.
    problem : KitProblem
        Costs and covers.
    each : int
        Test shafts of each kind.
    cautions : tuple of str
        What is missing from the stock.
    too_short : int
        Shafts shorter than the shortest safe length.
    """

    asked: Question
    classes: tuple[ShaftClass, ...]
    parts: tuple[StockItem, ...]
    paid: tuple[int, ...]
    fronts: Fronts
    problem: KitProblem
    each: int
    cautions: tuple[str, ...]
    too_short: int

    def need(self, chance: float) -> int:
        """Draws that must be covered for a chance, the luck of choosing on them taken out."""
        return int(np.ceil((chance + shop_setting("choosing_luck")) * self.problem.draws - 1e-6))

    def chance(self, covered: int) -> float:
        """Chance that covered draws promise, the luck of choosing on them taken out."""
        return max(covered / self.problem.draws - shop_setting("choosing_luck"), 0.0)

    def shaft_price(self, index: int) -> tuple[float, dict[str, int]]:
        """What the test shafts of one kind cost, and the packs."""
        return self.classes[index].price_of(self.each)

    def part_price(self, part: int) -> tuple[float, dict[str, int]]:
        """What a part costs that must be bought, and the packs."""
        item = self.parts[part]
        return cheapest_packs(offers_of([item]), self.each - item.in_hand)


def kit_question(
    asked: Question, stock: Stock, each: int | None = None, purpose_mass: bool = True
) -> KitQuestion:
    """Set up the test kit of a rig and a stock.

    Parameters
    ----------
    asked : Question
        Rig, purpose, rules, belief.
    stock : Stock
        What could be bought and what is owned.
    each : int, optional
        Test shafts of each kind; rules/shopping.yaml by default.
    purpose_mass : bool
        Whether arrows lighter than the purpose's range count as tuned.

    Returns
    -------
    KitQuestion
        Ready for `solve`.
    """
    each = round(shop_setting("test_shafts_of_each")) if each is None else each
    shortest = shortest_safe_length_in(asked.rig, asked.purpose_rule)
    every = shaft_classes(stock.items)
    classes = tuple(c for c in every if c.full_length_in >= shortest - 1e-9)
    points, cautions = _test_points(stock, asked.purpose_rule.broadheads)
    reduced = Stock((*(_at(c, shortest) for c in classes), *points, *_others(stock)), stock.name)
    purpose = asked.purpose_rule.model_copy(update={"broadheads": False})
    found = enumerate_builds(asked.rig, reduced, purpose)
    place = {c.first.item: k for k, c in enumerate(classes)}
    shaft = np.array([place.get(found.items[i].item, -1)
                      for i in found.builds.shaft], dtype=np.int64)  # fmt: skip
    nocks = [_nock(reduced, c) for c in classes]
    keys, parts = _part_table(found.builds, found.items, shaft, nocks)
    fronts = _fronts(asked, found.builds, shaft, keys, classes, purpose_mass)
    return _problem(asked, classes, parts, fronts, each, (*cautions, *found.cautions),
                    len(every) - len(classes))  # fmt: skip


def _at(shaft: ShaftClass, length_in: float) -> StockItem:
    """The shaft as if sold at one length, so that each front is listed once."""
    first = shaft.first
    return first.model_copy(
        update={"full_length_in": length_in, "gr_per_in": shaft.facts.gr_per_in, "in_hand": shaft.in_hand}
    )  # fmt: skip


def _others(stock: Stock) -> list[StockItem]:
    return stock.of_kind("insert", "outsert", "adapter", "collar", "nock", "fletching")


def _test_points(stock: Stock, broadheads: bool) -> tuple[list[StockItem], list[str]]:
    """Field points to test with; for hunting those that a broadhead of the same mass replaces later."""
    points = stock.of_kind("point")
    heads = stock.of_kind("broadhead") if broadheads else []
    cautions = []
    if not points:
        points = list(generic_points())
        cautions.append("the stock has no points: usual masses are taken, buy them elsewhere")
    if heads:
        paired = [p for p in points if twin_head(p, heads) is not None]
        if paired:
            return paired, cautions
        cautions.append(
            "no field point weighs the same as a broadhead of the stock: test with both"
        )
    elif broadheads:
        cautions.append(
            "the stock has no broadheads: field points stand in, buy heads of their mass"
        )
    return points, cautions


def twin_head(head: StockItem, others: list[StockItem]) -> StockItem | None:
    """The cheapest head of another kind with the same mass and the same way of fixing.

    Parameters
    ----------
    head : StockItem
        A field point or broadhead.
    others : list of StockItem
        Heads of the other kind.

    Returns
    -------
    StockItem or None
        None when nothing weighs the same.
    """
    margin = shop_setting("same_mass_gr")
    same = [
        o
        for o in others
        if o.material == head.material
        and o.outside_diameter_in == head.outside_diameter_in
        and abs((o.mass_gr or 0) - (head.mass_gr or 0)) <= margin
    ]
    return min(same, key=lambda o: (o.in_hand == 0, offers_of([o])[0].price), default=None)


def _nock(stock: Stock, shaft: ShaftClass) -> StockItem | None:
    return cheapest(stock, "nock", shaft.first, shaft.facts, fit_limits())


def _part_table(
    builds: Builds, items: tuple[StockItem, ...], shaft: NDArray[np.int64], nocks: list[StockItem | None]
) -> tuple[NDArray[np.int64], tuple[StockItem, ...]]:  # fmt: skip
    """Parts in use, and for every row the places of its head, insert, collar and nock among them."""
    names: dict[str, int] = {}
    parts: list[StockItem] = []

    def number(item: StockItem | None) -> int:
        if item is None:
            return -1
        if item.item not in names:
            names[item.item] = len(parts)
            parts.append(item)
        return names[item.item]

    columns = []
    for column in (builds.head, builds.insert, builds.collar):
        used = np.unique(column)
        look = {int(i): number(items[i]) if i >= 0 else -1 for i in used}
        columns.append(np.array([look[int(i)] for i in column], dtype=np.int64))
    of_class = np.array([number(n) for n in nocks], dtype=np.int64)
    columns.append(of_class[shaft] if len(shaft) else np.zeros(0, dtype=np.int64))
    return np.stack(columns, axis=1), tuple(parts)


def _fronts(
    asked: Question, builds: Builds, shaft: NDArray[np.int64], keys: NDArray[np.int64],
    classes: tuple[ShaftClass, ...], purpose_mass: bool,
) -> Fronts:  # fmt: skip
    full = np.array([c.full_length_in for c in classes])[shaft] if len(shaft) else np.zeros(0)
    shortest = builds.length_in
    builds = replace(builds, length_in=full)
    demand = asked.demand(builds)
    floor = hard_floor_gr_per_lb(asked.rig) * demand.own_lb
    wish = asked.purpose_rule.gr_per_lb.low * demand.own_lb if purpose_mass else 0.0
    # a longer shaft is a heavier one: too light at the shortest safe length may do longer
    fixed = builds.front_gr + builds.tail_gr
    wanted = np.maximum(floor + builds.fletching_gr, wish) - fixed
    step = setting("cut_step_in")
    start = shortest
    lengths = np.ceil((wanted / builds.gr_per_in - start) / step - 1e-9) * step + start
    lengths = np.minimum(
        np.maximum(lengths, start), np.where(wanted <= builds.gr_per_in * full + 1e-9, full, np.inf)
    )
    mean = moments(demand, builds, asked.belief)[0] if len(builds) else np.zeros(0)
    heavy = builds.bare_gr >= floor - 1e-9
    first = heavy & (stiffness_lb(builds) >= setting("shoot_gate") * mean)
    return Fronts(
        builds, lengths, shaft, keys, first, mean, _tunable(asked, builds, lengths, shaft)
    )


def _problem(
    asked: Question, classes: tuple[ShaftClass, ...], parts: tuple[StockItem, ...], fronts: Fronts,
    each: int, cautions: tuple[str, ...], too_short: int,
) -> KitQuestion:  # fmt: skip
    shaft_cost = np.array(
        [_whole(c.price_of(each), each - c.in_hand) for c in classes], dtype=np.int64
    )
    part_cost = [_whole(cheapest_packs(offers_of([p]), each - p.in_hand), 1) for p in parts]
    part_cost = [0 if p.in_hand >= each else c for p, c in zip(parts, part_cost, strict=True)]
    paid = tuple(i for i, c in enumerate(part_cost) if c > 0)
    order = np.full(len(parts) + 1, -1, dtype=np.int64)
    order[list(paid)] = np.arange(len(paid))
    wanted = np.sort(order[fronts.keys], axis=1)
    hits, gates = _grouped(fronts, wanted, len(classes))
    costs = np.array([part_cost[i] for i in paid], dtype=np.int64)
    problem = KitProblem(shaft_cost, costs, hits, gates, _draws(asked.belief).size)
    return KitQuestion(asked, classes, parts, paid, fronts, problem, each, cautions, too_short)


def _whole(priced: tuple[float, dict[str, int]], pieces: int) -> int:
    """A price as a whole number, one more for every piece bought; 0 when in hand."""
    return 0 if pieces <= 0 else round(priced[0] * 100) * UNIT + max(pieces, 1)


def _draws(belief: Belief) -> Belief:
    """So many of the draws, spread evenly over them: the more, the less a kit is chosen by luck."""
    stride = max(belief.size // DRAWS, 1)
    return Belief({k: v[::stride][:DRAWS] for k, v in belief.scores.items()}, belief.learned)


def _grouped(
    fronts: Fronts, wanted: NDArray[np.int64], classes: int
) -> tuple[dict[Key, Bits], dict[Key, NDArray[np.bool_]]]:
    """Packed draws in which each shaft can be tuned, for every set of parts to be bought."""
    if not len(fronts.shaft):
        return {}, {}
    unique, group = np.unique(wanted, axis=0, return_inverse=True)
    bits = np.zeros((len(unique), classes, fronts.packed.shape[1]), dtype=np.uint64)
    gates = np.zeros((len(unique), classes), dtype=bool)
    group = group.ravel()
    gates[group[fronts.first], fronts.shaft[fronts.first]] = True
    np.bitwise_or.at(bits, (group, fronts.shaft), fronts.packed)
    hits: dict[Key, Bits] = {}
    first: dict[Key, NDArray[np.bool_]] = {}
    for row, b, g in zip(unique, bits, gates, strict=True):
        # two rows may need the same part twice: a set counts it once
        key = tuple(sorted({int(i) for i in row if i >= 0}))
        hits[key] = hits[key] | b if key in hits else b
        first[key] = first[key] | g if key in first else g
    return hits, first


def _tunable(asked: Question, builds: Builds, shortest_in: Array, shaft: NDArray[np.int64]) -> Bits:
    """For every row the packed draws in which some allowed length is within tolerance (n, w)."""
    belief = _draws(asked.belief)
    packed = np.zeros((len(shaft), -(-belief.size // 64)), dtype=np.uint64)
    rows = np.flatnonzero(shortest_in <= builds.length_in + 1e-9)
    if not len(rows):
        return packed
    full = builds.take(rows)
    short = replace(full, length_in=shortest_in[rows])
    low, high = match_limits(full, setting("tolerance_pct") / 100)
    own = _own_scores(int(shaft.max()) + 1, belief.size)
    sd = stiffness_lb(full) * full.spine_sd_pct / 100
    ends: list[tuple[Array, Singles, Singles]] = []
    for side in (short, full):
        common, amounts, coefficients = asked.demand(side).shared(belief)
        ends.append((common, amounts.astype(np.float32), coefficients.astype(np.float32)))
    of_row = shaft[rows]
    for at in np.split(np.arange(len(rows)), np.flatnonzero(np.diff(of_row)) + 1):
        doubt = sd[at[0]] * own[of_row[at[0]]]
        below = np.zeros((len(at), belief.size), dtype=bool)
        above = np.zeros_like(below)
        for shared, taken, table in ends:
            want: Singles = taken[at] @ table.reshape(-1, belief.size)
            want += (shared + doubt).astype(np.float32)
            below |= want <= high[at[0]]
            above |= want >= low[at[0]]
        packed[rows[at]] = _pack(below & above)
    return packed


def _pack(hit: NDArray[np.bool_]) -> Bits:
    """Rows of booleans as 64-bit words."""
    packed = np.packbits(hit, axis=1)
    pad = -packed.shape[1] % 8
    return np.ascontiguousarray(np.pad(packed, ((0, 0), (0, pad)))).view(np.uint64)


def _own_scores(shafts: int, draws: int) -> Array:
    """Each shaft's own doubt, drawn apart from everything else with a fixed seed."""
    strata = quantile((np.arange(draws) + 0.5) / draws)
    random = np.random.default_rng(SEED)
    return np.stack([random.permutation(strata) for _ in range(shafts)])


def covered_with(question: KitQuestion, parts: frozenset[int]) -> Bits:
    """Packed draws in which each shaft can be tuned with exactly these parts, in hand or bought.

    Parameters
    ----------
    question : KitQuestion
        The problem.
    parts : frozenset of int
        Indices into `question.parts`.

    Returns
    -------
    uint64 array (s, w)
        Nought for shafts without a first build that may be shot.
    """
    fronts = question.fronts
    allowed = np.isin(fronts.keys, np.array([-1, *parts])).all(axis=1)
    bits = np.zeros((len(question.classes), fronts.packed.shape[1]), dtype=np.uint64)
    np.bitwise_or.at(bits, fronts.shaft[allowed], fronts.packed[allowed])
    gate = np.zeros(len(question.classes), dtype=bool)
    gate[fronts.shaft[allowed & fronts.first]] = True
    bits[~gate] = 0
    return bits
