"""The test kit as a problem of covering joint draws: every shaft, point, insert and nock of a stock.

A kit succeeds in a draw when it holds a shaft, a point and what carries it for which some cut, from
full length to the shortest safe one, brings the arrow within tolerance. Cuts cost nothing, and the
effective bow weight rises with length, so that the two ends of the allowed lengths tell whether a
length between them matches.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.candidates import enumerate_builds, generic_points
from shaftwright.answers.rank import hard_floor_gr_per_lb
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.packs import ShaftClass, cheapest_packs, offers_of, shaft_classes
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_draws import tunable, two_sets, wider
from shaftwright.answers.shop_solve import Bits, Key, KitProblem, popcount
from shaftwright.inference.band import moments, stiffness_lb
from shaftwright.inference.belief import Belief
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.records.builds import Builds
from shaftwright.records.fit import cheapest
from shaftwright.records.stock import Stock, StockItem
from shaftwright.rules.fits import fit_limits
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]
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
    asked : Scenario
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
    fresh : Belief
        Draws that have no part in the choosing: chances are stated on them.
    others : tuple of (Scenario, Belief)
        Other rigs that the same arrow must suit, with their fresh draws.
    """

    asked: Scenario
    classes: tuple[ShaftClass, ...]
    parts: tuple[StockItem, ...]
    paid: tuple[int, ...]
    fronts: Fronts
    problem: KitProblem
    each: int
    cautions: tuple[str, ...]
    too_short: int
    fresh: Belief
    others: tuple[tuple[Scenario, Belief], ...] = ()
    _stated: dict[int, Bits] = field(default_factory=dict, repr=False, compare=False)

    def need(self, chance: float) -> int:
        """Draws that must be covered when a kit is chosen for a chance, a margin for luck on top."""
        draws = self.problem.draws
        least = int(np.ceil(chance * draws - 1e-6))
        wanted = int(np.ceil((chance + shop_setting("choosing_margin")) * draws - 1e-6))
        return max(least, min(wanted, self.problem.most()))

    def chance(self, covered: int) -> float:
        """Share of the draws of the choosing: for weighing kits, not for stating a chance."""
        return covered / self.problem.draws

    def stated(self, shafts: Iterable[int], parts: Iterable[int]) -> float:
        """Chance that one of these shafts can be tuned with these parts, counted on fresh draws.

        Parameters
        ----------
        shafts, parts : iterable of int
            Indices of shaft classes and of parts; shafts without a first test that may be shot
            count for nothing.

        Returns
        -------
        float
            Between 0 and 1.
        """
        return self.stated_rows(self._rows_of(shafts, parts))

    def stated_were_wider(self, shafts: Iterable[int], parts: Iterable[int]) -> float:
        """The same chance were every doubt of the rules larger than they state."""
        rows = self._rows_of(shafts, parts)
        sides = [(q, wider(b)) for q, b in self._sides]
        union = np.bitwise_or.reduce(self._packed(rows, sides), axis=0) if len(rows) else None
        return 0.0 if union is None else int(popcount(union)) / self.fresh.size

    def stated_rows(self, rows: NDArray[np.intp]) -> float:
        """Chance that one of these rows of `fronts` can be tuned, counted on fresh draws."""
        if not len(rows):
            return 0.0
        missing = np.array([r for r in rows.tolist() if r not in self._stated], dtype=np.intp)
        if len(missing):
            packed = self._packed(missing, self._sides)
            self._stated.update(zip(missing.tolist(), packed, strict=True))
        union = np.bitwise_or.reduce(np.stack([self._stated[r] for r in rows.tolist()]), axis=0)
        return int(popcount(union)) / self.fresh.size

    @property
    def _sides(self) -> list[tuple[Scenario, Belief]]:
        return [(self.asked, self.fresh), *self.others]

    def _packed(self, rows: NDArray[np.intp], sides: list[tuple[Scenario, Belief]]) -> Bits:
        f = self.fronts
        return tunable(sides, f.builds.take(rows), f.shortest_in[rows], f.shaft[rows], fresh=True)

    def _rows_of(self, shafts: Iterable[int], parts: Iterable[int]) -> NDArray[np.intp]:
        """Rows of these shafts with these parts, of shafts that have a first test that may be shot."""
        fronts = self.fronts
        inside = np.isin(fronts.keys, np.array([-1, *parts])).all(axis=1)
        gated = np.unique(fronts.shaft[inside & fronts.first])
        return np.flatnonzero(inside & np.isin(fronts.shaft, np.intersect1d(gated, list(shafts))))

    @property
    def reachable(self) -> float:
        """Chance that some shaft can be tuned were the whole stock bought; nothing is chosen there."""
        return self.chance(self.problem.most())

    def shaft_price(self, index: int) -> tuple[float, dict[str, int]]:
        """What the test shafts of one kind cost, and the packs."""
        return self.classes[index].price_of(self.each)

    def part_price(self, part: int) -> tuple[float, dict[str, int]]:
        """What a part costs that must be bought, and the packs."""
        item = self.parts[part]
        return cheapest_packs(offers_of([item]), self.each - item.in_hand)


def kit_question(
    asked: Scenario, stock: Stock, each: int | None = None, purpose_mass: bool = True,
    sets: tuple[Belief, Belief] | None = None,
    others: tuple[tuple[Scenario, tuple[Belief, Belief]], ...] = (),
) -> KitQuestion:  # fmt: skip
    """Set up the test kit of a rig and a stock.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, rules, belief.
    stock : Stock
        What could be bought and what is owned.
    each : int, optional
        Test shafts of each kind; rules/shopping.yaml by default.
    purpose_mass : bool
        Whether arrows lighter than the purpose's range count as tuned.
    sets : tuple of Belief, optional
        Draws to choose on and to state chances on; `two_sets` by default.
    others : tuple
        Other rigs, with their two sets, that the same arrow must suit.

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
    choosing, fresh = two_sets(asked) if sets is None else sets
    sides = [(asked, choosing), *((q, of_choice) for q, (of_choice, _) in others)]
    fronts = _fronts(sides, found.builds, shaft, keys, classes, purpose_mass)
    problem, paid = _problem(classes, parts, fronts, each, choosing.size)
    return KitQuestion(asked, classes, parts, paid, fronts, problem, each, (*cautions, *found.cautions),
                       len(every) - len(classes), fresh, tuple((q, f) for q, (_, f) in others))  # fmt: skip


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
    sides: list[tuple[Scenario, Belief]], builds: Builds, shaft: NDArray[np.int64],
    keys: NDArray[np.int64], classes: tuple[ShaftClass, ...], purpose_mass: bool,
) -> Fronts:  # fmt: skip
    full = np.array([c.full_length_in for c in classes])[shaft] if len(shaft) else np.zeros(0)
    shortest = builds.length_in
    builds = replace(builds, length_in=full)
    of_sides = [_heavy_and_safe(q, builds, shortest, purpose_mass) for q, _ in sides]
    lengths = np.max([lengths for lengths, _, _ in of_sides], axis=0)
    first = np.all([first for _, first, _ in of_sides], axis=0)
    packed = tunable(sides, builds, lengths, shaft)
    return Fronts(builds, lengths, shaft, keys, first, of_sides[0][2], packed)


def _heavy_and_safe(
    asked: Scenario, builds: Builds, shortest_in: Array, purpose_mass: bool
) -> tuple[Array, NDArray[np.bool_], Array]:
    """Shortest length heavy enough, whether it may be shot uncut, and the middle of what is wanted."""
    demand, full = asked.demand(builds), builds.length_in
    floor = hard_floor_gr_per_lb(asked.rig) * demand.own_lb
    wish = asked.purpose_rule.gr_per_lb.low * demand.own_lb if purpose_mass else 0.0
    # a longer shaft is a heavier one: too light at the shortest safe length may do longer
    fixed = builds.front_gr + builds.tail_gr
    wanted = np.maximum(floor + builds.fletching_gr, wish) - fixed
    step = setting("cut_step_in")
    lengths = np.ceil((wanted / builds.gr_per_in - shortest_in) / step - 1e-9) * step + shortest_in
    lengths = np.minimum(
        np.maximum(lengths, shortest_in), np.where(wanted <= builds.gr_per_in * full + 1e-9, full, np.inf)
    )  # fmt: skip
    mean = moments(demand, builds, asked.belief)[0] if len(builds) else np.zeros(0)
    heavy = builds.bare_gr >= floor - 1e-9
    first = heavy & (stiffness_lb(builds) >= setting("shoot_gate") * mean)
    return lengths, first, mean


def _problem(
    classes: tuple[ShaftClass, ...], parts: tuple[StockItem, ...], fronts: Fronts, each: int, draws: int
) -> tuple[KitProblem, tuple[int, ...]]:  # fmt: skip
    """Costs and covers, and which parts must be bought."""
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
    return KitProblem(shaft_cost, costs, hits, gates, draws), paid


def _whole(priced: tuple[float, dict[str, int]], pieces: int) -> int:
    """A price as a whole number, one more for every piece bought; 0 when in hand."""
    return 0 if pieces <= 0 else round(priced[0] * 100) * UNIT + max(pieces, 1)


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
