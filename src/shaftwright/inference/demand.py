"""What a bow and archer want of each build: effective bow weight as a distribution.

W_e = W + sum of coefficient x amount, over the rules. Every coefficient is a split normal driven by
one standard score. Of an overlap group the rule whose range reaches farthest counts in full and the
others at half, and all share one score, so that their doubt adds up in a straight line.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array
from shaftwright.inference import own_error
from shaftwright.inference.belief import Belief
from shaftwright.inference.own_error import OwnErrors, Traits
from shaftwright.inference.rig_facts import SpeedReading, build_facts, rig_facts, stated_weight_lb
from shaftwright.physics import normal
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Rig
from shaftwright.rules.evaluate import Evaluation, Firing, evaluate
from shaftwright.rules.load import RuleBook

_NODES = 512


@dataclass(frozen=True)
class Column:
    """One uncertain coefficient and how much of it each build takes.

    Attributes
    ----------
    code, driver : str
        The rule, and the score that drives it.
    flip : bool
        Whether a higher score means a lower coefficient.
    x : float or array (n,)
        Pounds for one unit of the coefficient [lb].
    value, below, above : float
        Most likely value and standard deviations of the split normal.
    """

    code: str
    driver: str
    flip: bool
    x: float | Array
    value: float
    below: float
    above: float

    @property
    def doubtful(self) -> bool:
        """Whether the coefficient has any doubt."""
        return self.below > 0 or self.above > 0

    @property
    def mean(self) -> float:
        """Mean of the coefficient."""
        return self.value + normal.split_mean(self.below, self.above)

    def deviations(self, scores: Array) -> Array:
        """The coefficient at standard scores, less its most likely value."""
        return normal.split_deviation(-scores if self.flip else scores, self.below, self.above)


@dataclass(frozen=True)
class Demand:
    """Effective bow weight of n builds as a sum of uncertain columns.

    Attributes
    ----------
    size : int
        Number of builds n.
    stated_lb : float
        Draw weight as stated [lb].
    own_lb : float
        Middle of the draw weight at the own draw [lb].
    columns : tuple of Column
        One to three for every rule that fired.
    weight_rules, shift_rules : Evaluation
        What the rules said, for the trace.
    rig, builds : Rig, Builds
        Of which it is the demand.
    """

    size: int
    stated_lb: float
    own_lb: float
    columns: tuple[Column, ...]
    weight_rules: Evaluation
    shift_rules: Evaluation
    rig: Rig = field(repr=False)
    builds: Builds = field(repr=False)
    _shares: dict[OwnErrors, Array] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def mean(self) -> Array:
        """Mean effective bow weight of every build (n,) [lb]."""
        total = np.full(self.size, self.stated_lb)
        for column in self.columns:
            total += column.x * column.mean
        return total

    @cached_property
    def cumulants(self) -> Array:
        """Variance and third cumulant of every build before any evidence (2, n) [lb2], [lb3]."""
        total = np.zeros((2, self.size))
        for driver in dict.fromkeys(c.driver for c in self.columns):
            members = [c for c in self.columns if c.driver == driver and c.doubtful]
            if not members:
                continue
            parts = _alone(members[0]) if len(members) == 1 else _joint(members)
            for row, part in zip(total, parts, strict=True):
                row += part
        # of every arrow's own error all is still open, whichever other arrows are like it
        total[0] += own_error.mean_square() * self.own_lb**2
        return total

    @property
    def firings(self) -> tuple[Firing, ...]:
        """Every rule at work."""
        return (*self.weight_rules.firings, *self.shift_rules.firings)

    def draws(self, belief: Belief) -> Array:
        """Joint draws of effective bow weight, one for each of the belief's D (n, D) [lb]."""
        common, amounts, coefficients = self.shared(belief)
        return amounts @ coefficients + common

    def shared(self, belief: Belief) -> tuple[Array, Array, Array]:
        """The draws taken apart: what all builds share, and what differs from build to build.

        Parameters
        ----------
        belief : Belief
            D draws.

        Returns
        -------
        tuple of array
            Common part (D,) [lb], amounts (n, k), coefficients (k, D).
        """
        common = np.full(belief.size, self.stated_lb)
        amounts, coefficients = list[Array](), list[Array]()
        for column in self.columns:
            coefficient = column.value + belief.deviations(
                column.driver, column.flip, column.below, column.above
            )
            if np.ndim(column.x) == 0:
                common += column.x * coefficient
            else:
                amounts.append(np.asarray(column.x))
                coefficients.append(coefficient)
        shares = self.shares(belief)
        sizes = self.own_lb * own_error.sizes(belief.scores[own_error.SIZE])
        coefficients += [
            sizes * belief.scores[name] for name in own_error.SCORES[: shares.shape[1]]
        ]
        table = np.concatenate([np.array(amounts).reshape(-1, self.size).T, shares], axis=1)
        return common, table, np.array(coefficients).reshape(-1, belief.size)

    @cached_property
    def _usual_errors(self) -> OwnErrors:
        """Before any shot: carried by arrows of the kinds that are usually tried."""
        return self.errors_with(None)

    def errors_with(self, shot: Traits | None) -> OwnErrors:
        """Carried by arrows that were shot, then by those usually tried with this bow."""
        return own_error.pivots_of(shot, own_error.usual_traits(self.rig, self.own_lb))

    def shares(self, belief: Belief) -> Array:
        """How much of each carrying arrow's own error every build takes (n, m)."""
        errors = belief.errors or self._usual_errors
        if errors not in self._shares:
            self._shares[errors] = errors.shares(own_error.traits_of(self.rig, self.builds))
        return self._shares[errors]

    def left_over_lb(self, belief: Belief) -> Array:
        """Of each build's own error what no carrying arrow tells, one standard deviation (n,) [lb]."""
        sd = float(np.sqrt(own_error.mean_square())) * self.own_lb
        return sd * own_error.left_over(self.shares(belief))

    def take(self, rows: NDArray[np.int_]) -> Demand:
        """What is wanted of some of the builds; what the rules said stays that of all."""
        columns = (
            c if np.ndim(c.x) == 0 else replace(c, x=np.asarray(c.x)[rows]) for c in self.columns
        )
        return replace(
            self, size=len(rows), columns=tuple(columns), builds=self.builds.take(rows), _shares={}
        )

    @cached_property
    def matched(self) -> Demand:
        """The same with every shaft of the stiffness that is wanted of it on the mean."""
        wanted = mils_from_pounds(np.maximum(self.mean, 1.0))
        return replace(self, builds=replace(self.builds, spine_mils=wanted), _shares={})


def _split_cumulants(below: float, above: float) -> tuple[float, float]:
    """Variance and third cumulant of a split normal, in closed form."""
    step = above - below
    root = np.sqrt(2 / np.pi)
    variance = (1 - 2 / np.pi) * step**2 + below * above
    third = root * step * ((4 / np.pi - 1) * step**2 + below * above)
    return float(variance), float(third)


def _alone(one: Column) -> tuple[float | Array, float | Array]:
    """Variance and third cumulant of a column whose score drives no other."""
    second, cubed = _split_cumulants(one.below, one.above)
    square = one.x * one.x
    return square * second, square * one.x * cubed


def _joint(members: list[Column]) -> tuple[float | Array, float | Array]:
    """Variance and third cumulant of columns that share one score."""
    nodes = normal.quantile((np.arange(_NODES) + 0.5) / _NODES)
    table = np.stack([c.deviations(nodes) for c in members])
    table -= table.mean(axis=1, keepdims=True)
    covariance = table @ table.T / _NODES
    skew = np.einsum("iq,jq,kq->ijk", table, table, table) / _NODES
    variance: float | Array = 0.0
    third: float | Array = 0.0
    # every unordered pair and triple once, counted as often as it can be ordered
    for i, j in itertools.combinations_with_replacement(range(len(members)), 2):
        product = members[i].x * members[j].x
        variance = variance + product * ((1 + (i != j)) * covariance[i, j])
        for k in range(j, len(members)):
            orders = (1, 3, 6)[len({i, j, k}) - 1]
            third = third + product * members[k].x * (orders * skew[i, j, k])
    return variance, third


def demand_of(
    rig: Rig, builds: Builds, book: RuleBook, speed: SpeedReading | None = None
) -> Demand:
    """Effective bow weight of every build of a rig.

    Parameters
    ----------
    rig, builds : Rig, Builds
        The bow, and n arrows.
    book : RuleBook
        With the sizes that rules take for this bow.
    speed : SpeedReading, optional
        A chronograph's word; replaces the limb and string rules.

    Returns
    -------
    Demand
        For the n builds.
    """
    facts = rig_facts(rig, speed)
    stated = stated_weight_lb(rig)
    weight_rules = evaluate(book, facts, "draw_weight_lb", stated)
    columns: list[Column] = []
    for firing in weight_rules.firings:
        columns += _columns(firing, stated, book)
    own = stated + sum(float(c.x) * c.mean for c in columns)
    facts |= build_facts(rig, builds, book, own)
    shift_rules = evaluate(book, facts, "effective_bow_weight_lb", own)
    for firing in shift_rules.firings:
        columns += _columns(firing, own, book)
    return Demand(
        len(builds), stated, own, tuple(columns), weight_rules, shift_rules, rig, builds
    )  # fmt: skip


def _columns(firing: Firing, draw_weight_lb: float, book: RuleBook) -> list[Column]:
    """The columns of one rule: two where, in a group, it pushes some builds up and others down.

    Where practice knows what suits at the usual arrow, what the rule adds there is the trade's and
    without doubt: the doubt is of the way from there.
    """
    rule, unit = firing.rule, firing.unit_lb(draw_weight_lb)
    value = firing.range.value
    below, above = normal.split_sds(value, firing.range.low, firing.range.high)
    x = _one(np.subtract(firing.amount, firing.usual) * firing.weight * unit)
    if firing.group is None:
        parts = [(False, x)]
    elif np.ndim(x) == 0:
        parts = [(bool(x < 0), x)]
    else:
        signs = [(False, np.maximum(x, 0.0)), (True, np.minimum(x, 0.0))]
        parts = [(flip, part) for flip, part in signs if np.any(part)]
    driver = firing.group or rule.code
    columns = [Column(rule.code, driver, flip, part, value, below, above) for flip, part in parts]
    if np.any(firing.usual):
        known, size = _one(np.multiply(firing.usual, firing.weight * unit)), firing.range
        columns.append(
            Column(rule.code, driver, False, known, book.at_usual(rule.code, size), 0.0, 0.0)
        )
    return columns


def _one(x: Array) -> float | Array:
    """A single number where all are the same."""
    return float(np.ravel(x)[0]) if np.size(x) and np.ptp(x) == 0 else x
