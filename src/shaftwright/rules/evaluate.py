"""Rules applied to facts, vectorised over builds: which fire, by how much, with what doubt."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shaftwright.arrays import Array
from shaftwright.parameters import Range
from shaftwright.rules.facts import FACTS, FactMap, Signed, in_words
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Linear, Rule, Step, Table


@dataclass(frozen=True)
class Firing:
    """A rule that applies: how much of its coefficient each build takes.

    Attributes
    ----------
    rule : Rule
        The rule.
    amount : float or array (n,)
        x: how many times the coefficient counts, before overlap and unit.
    range : Range
        The coefficient's most likely value and 95 % range.
    case : str or None
        The case of a step.
    group : str or None
        Overlap group it falls into here.
    weight : float or array (n,)
        Share it keeps in its group: 1 for the largest, 1/2 for the others.
    fact : float, array or None
        The quantity it looked at.
    usual : float or array (n,)
        The amount at the usual arrow of such a bow, from where the coefficient's doubt counts.
    usual_fact : float, array or None
        That quantity of the usual arrow.
    """

    rule: Rule
    amount: float | Array
    range: Range
    case: str | None = None
    group: str | None = None
    weight: float | Array = 1.0
    fact: float | Array | None = None
    usual: float | Array = 0.0
    usual_fact: float | Array | None = None

    def unit_lb(self, draw_weight_lb: float) -> float:
        """Pounds in one unit of the rule's shift: 1, or a hundredth of the draw weight."""
        return 1.0 if self.rule.shift_unit == "lb" else draw_weight_lb / 100

    def saw(self) -> str:
        """What the rule saw, filled in for a single build: a clause."""
        form, case = self.rule.form, self.case or ""
        number = float("nan") if self.fact is None else float(np.ravel(self.fact)[0])
        start = float(form.start) if isinstance(form, Linear) else 0.0
        words = {"case": case.replace("_", " "), "case_words": in_words(case)}
        usual = float("nan") if self.usual_fact is None else float(np.ravel(self.usual_fact)[0])
        return self.rule.saw.format(
            fact=Signed(number), excess=Signed(number - start), usual=Signed(usual), **words
        )


@dataclass(frozen=True)
class Silence:
    """A rule that did not fire: what was found, what it needs."""

    rule: Rule
    found: str
    needs: str


@dataclass(frozen=True)
class Evaluation:
    """All rules of a book, fired or silent, on one set of facts."""

    firings: tuple[Firing, ...]
    silences: tuple[Silence, ...]


def evaluate(
    book: RuleBook,
    facts: FactMap,
    shift: str = "effective_bow_weight_lb",
    draw_weight_lb: float = 50.0,
) -> Evaluation:
    """Apply every rule of one shift to the facts.

    Parameters
    ----------
    book : RuleBook
        Rules and the tables they read.
    facts : dict
        Fact name -> number, array (n,) or choice; names of the closed list.
    shift : str
        Which quantity the rules shift.
    draw_weight_lb : float
        Draw weight [lb], to compare shifts in pounds and in percent within a group.

    Returns
    -------
    Evaluation
        Firings with overlap weights, and silences with their reasons.
    """
    outcomes = [_apply(rule, facts, book) for rule in book.rules if rule.shift == shift]
    firings = [one for one in outcomes if isinstance(one, Firing)]
    silences = tuple(one for one in outcomes if isinstance(one, Silence))
    return Evaluation(_weigh_groups(firings, draw_weight_lb), silences)


def _apply(rule: Rule, facts: FactMap, book: RuleBook) -> Firing | Silence:
    for name, allowed in rule.applies.when.items():
        if facts[name] not in allowed:
            return Silence(rule, f"{name} is {facts[name]}", f"{name} is {' or '.join(allowed)}")
    for name, barred in rule.applies.unless.items():
        if facts[name] in barred:
            return Silence(rule, f"{name} is {facts[name]}", f"{name} is not {' or '.join(barred)}")
    overlaps, group = rule.overlaps, None
    if overlaps and all(facts[name] in allowed for name, allowed in overlaps.when.items()):
        group = overlaps.group
    form = rule.form
    if isinstance(form, Step):
        case = str(facts[form.step])
        span = rule.range_for(case)
        if span is None:
            cases = " or ".join(rule.cases or {})
            return Silence(rule, f"{form.step} is {case}", f"{form.step} is {cases}")
        return Firing(rule, 1.0, span, case, group)
    span = rule.range_for(None)
    assert span is not None
    if not isinstance(form, Linear | Table):
        return Firing(rule, 1.0, span, None, group)
    fact = facts[form.of]
    assert not isinstance(fact, str)
    amount = _amount(form, fact, book)
    usual: float | Array = 0.0
    usual_fact: float | Array | None = None
    if form.usual is not None:
        at = facts[form.usual]
        assert not isinstance(at, str)
        usual, usual_fact = _amount(form, at, book), at
    if np.all(amount == 0) and np.all(usual == 0):
        if isinstance(form, Table):
            return Silence(
                rule, f"{form.of} is at the table's nought", f"{form.of} differs from it"
            )
        start = f"{form.start:g} {FACTS[form.of].unit}"
        return Silence(rule, f"{form.of} is {start}", f"{form.of} differs from {start}")
    return Firing(rule, amount, span, None, group, 1.0, fact, usual, usual_fact)


def _amount(form: Linear | Table, fact: float | Array, book: RuleBook) -> float | Array:
    """How many times the coefficient counts at a quantity."""
    if isinstance(form, Table):
        return interpolate(*book.tables[form.table, form.x, form.y], fact)
    reached = fact if form.until is None else np.minimum(fact, form.until)
    return (reached - float(form.start)) / form.per_unit


def interpolate(x: Array, y: Array, at: float | Array) -> float | Array:
    """A table read between its rows in straight lines, and beyond its ends at the last slope.

    Parameters
    ----------
    x, y : array (m,)
        Rising x, and y.
    at : float or array (n,)
        Where to read.

    Returns
    -------
    float or array (n,)
        y there.
    """
    total: float | Array = np.interp(at, x, y)
    # few readings lie beyond the ends
    if np.min(at, initial=x[0]) < x[0]:
        total = total + np.minimum(np.subtract(at, x[0]), 0.0) * (y[1] - y[0]) / (x[1] - x[0])
    if np.max(at, initial=x[-1]) > x[-1]:
        total = total + np.maximum(np.subtract(at, x[-1]), 0.0) * (y[-1] - y[-2]) / (x[-1] - x[-2])
    return float(total) if np.ndim(total) == 0 else total


def _weigh_groups(firings: list[Firing], draw_weight_lb: float) -> tuple[Firing, ...]:
    """In every overlap group the largest keeps its full size, the others half."""
    weighed = list(firings)
    for group in dict.fromkeys(f.group for f in firings if f.group):
        members = [i for i, f in enumerate(firings) if f.group == group]
        if len(members) < 2:
            continue
        sizes = np.broadcast_arrays(*[_size(firings[i], draw_weight_lb) for i in members])
        largest = np.argmax(np.stack(sizes), axis=0)
        for order, i in enumerate(members):
            share = np.where(largest == order, 1.0, 0.5)
            weighed[i] = replace(firings[i], weight=float(share) if share.ndim == 0 else share)
    return tuple(weighed)


def _size(firing: Firing, draw_weight_lb: float) -> float | Array:
    """How far a shift may reach [lb]: by its range, so that a case not known does not count as small."""
    reach = max(abs(firing.range.low), abs(firing.range.high))
    return reach * np.abs(firing.amount) * firing.unit_lb(draw_weight_lb)
