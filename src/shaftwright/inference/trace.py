"""The trace: one tree in which every number can be taken apart and done again.

Each node's value follows from its children's by its `op`, down to what was measured or written in
the rule set; tests do all of it again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import numpy as np

from shaftwright.inference.demand import Demand
from shaftwright.parameters import Range
from shaftwright.physics.normal import range_mean
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.rules.evaluate import Firing
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Linear, Table

TRACE_FORMAT: Final = 1
Op = Literal["sum", "product", "min", "max", "lookup", "model", "input"]


@dataclass(frozen=True)
class Node:
    """One number and where it comes from.

    Attributes
    ----------
    label : str
        What it is, in words.
    op : str
        How it follows from its children; `input` is measured, written or learned.
    value : float
        The number.
    unit : str
        Its unit.
    children : tuple of Node
        What it follows from.
    rule, reason, basis, source : optional
        The rule behind it.
    sizes : str or None
        Whose size the rule carries: trade, physics or both where the launch model states one too, own.
    own : str or None
        Rule, or size, where that is the archer's own.
    model : str or None
        For `model` split_normal_mean (most likely, low, high), quotient or spine_from_stiffness; for
        `lookup` the table as `table:x:y`.
    low, high : float or None
        95 % range, where it has one of its own.
    """

    label: str
    op: Op
    value: float
    unit: str = ""
    children: tuple[Node, ...] = ()
    rule: str | None = None
    reason: str | None = None
    basis: str | None = None
    sizes: str | None = None
    own: str | None = None
    model: str | None = None
    low: float | None = None
    high: float | None = None
    source: list[str] | None = None

    def as_dict(self) -> dict[str, Any]:
        """The node and all below it as plain data; what it has not is left out."""
        plain = {name: value for name, value in vars(self).items() if value is not None}
        return plain | {"children": [child.as_dict() for child in self.children]}


def _total(label: str, children: Sequence[Node], unit: str = "lb") -> Node:
    """A sum of nodes, in their unit."""
    return Node(label, "sum", math.fsum(c.value for c in children), unit, tuple(children))


def _firing_node(firing: Firing, draw_weight_lb: float, book: RuleBook) -> Node:
    """What one rule adds to a single build [lb]: coefficient x amount x overlap share x unit."""
    rule, span, own = firing.rule, firing.range, book.own.get(firing.rule.code)
    sizes = book.sizes_of(rule.code, firing.case)
    label = "size of the effect, mean of its range"
    if sizes is not None and sizes.basis == "both":
        label += ", trade and launch model joined"
    parts, usual = [_mean_node(label, span, rule.shift_unit)], float(np.ravel(firing.usual)[0])
    if firing.fact is not None:
        amount = _amount_node(firing, float(np.ravel(firing.fact)[0]))
        less = Node("at the usual arrow", "input", -usual)
        parts.append(_total("from the usual arrow on", (amount, less), "") if usual else amount)
    shared = list[Node]()
    weight = float(np.ravel(firing.weight)[0])
    if weight != 1.0:
        shared.append(Node(f"share left in the group {firing.group}", "input", weight))
    if rule.shift_unit == "pct_of_draw_weight":
        of = Node("draw weight", "input", draw_weight_lb, "lb")
        shared.append(
            Node("one percent of draw weight", "model", firing.unit_lb(draw_weight_lb), "lb",
                 (of, Node("percent", "input", 100.0)), model="quotient")
        )  # fmt: skip
    others = math.prod(part.value for part in (*parts[1:], *shared))
    told = _product(rule.name, (*parts, *shared))
    known = 0.0
    if usual:
        size = Node(
            "size of the effect, the trade's" if sizes else "size of the effect, most likely",
            "input", book.at_usual(rule.code, span), rule.shift_unit,
        )  # fmt: skip
        at_usual = (size, Node("at the usual arrow", "input", usual), *shared)
        before = _product("what the usual arrow asks for", at_usual)
        told = _total(rule.name, (before, replace(told, label="the way from there")))
        known = before.value
    low, high = sorted((known + span.low * others, known + span.high * others))
    return replace(
        told, low=low, high=high, rule=rule.code, reason=f"{firing.saw()}; {rule.why}",
        basis=rule.basis, source=[*rule.source], own=own,
        sizes="own" if own else "trade" if sizes is None else sizes.basis,
    )  # fmt: skip


def _product(label: str, parts: tuple[Node, ...]) -> Node:
    """A product of nodes [lb]."""
    return Node(label, "product", math.prod(p.value for p in parts), "lb", parts)


def _mean_node(label: str, span: Range, unit: str) -> Node:
    ends = [("most likely", span.value), ("low end", span.low), ("high end", span.high)]
    mean = range_mean(span.value, span.low, span.high)
    return Node(
        label, "model", mean, unit, tuple(Node(name, "input", v, unit) for name, v in ends),
        model="split_normal_mean", low=span.low, high=span.high,
    )  # fmt: skip


def _amount_node(firing: Firing, fact: float) -> Node:
    """How many times the coefficient counts, from the quantity that the rule looked at."""
    form, amount = firing.rule.form, float(np.ravel(firing.amount)[0])
    if isinstance(form, Table):
        return Node(
            f"read from {form.table}", "lookup", amount, "", (Node(form.of, "input", fact),),
            model=f"{form.table}:{form.x}:{form.y}",
        )  # fmt: skip
    assert isinstance(form, Linear)
    seen = Node(form.of, "input", fact)
    if form.until is not None:
        label, until = f"{form.of}, as far as it counts", Node("until", "input", form.until)
        seen = Node(label, "min", min(fact, form.until), "", (seen, until))
    start = Node("less the reference", "input", -float(form.start))
    return Node(
        f"steps of {form.per}", "model", amount, "",
        (_total("beyond the reference", (seen, start), ""), Node("one step", "input", form.per_unit)),
        model="quotient",
    )  # fmt: skip


def spine_node(demand: Demand, book: RuleBook, learned_lb: float | None) -> Node:
    """The static spine that a single build wants, from its effective bow weight, a sum over the rules.

    Parameters
    ----------
    demand : Demand
        Of that build (n = 1).
    book : RuleBook
        Whose sizes were used.
    learned_lb : float or None
        Middle after the archer's own shots [lb]; what they added becomes a node of its own.

    Returns
    -------
    Node
        [mils], over the effective bow weight [lb].
    """
    stated = Node("draw weight as stated", "input", demand.stated_lb, "lb")
    own = [_firing_node(f, demand.stated_lb, book) for f in demand.weight_rules.firings]
    weight = _total("draw weight at the own draw", (stated, *own))
    rules = [_firing_node(f, demand.own_lb, book) for f in demand.shift_rules.firings]
    if learned_lb is None:
        wanted = _total("effective bow weight", (weight, *rules))
    else:
        before = _total("effective bow weight before any shot", (weight, *rules))
        shots = Node("what your own shots say", "input", learned_lb - before.value, "lb")
        wanted = _total("effective bow weight", (before, shots))
    return Node(
        "static spine wanted", "model", mils_from_pounds(wanted.value), "mils", (wanted,),
        model="spine_from_stiffness",
    )  # fmt: skip


def spine_trace(demand: Demand, book: RuleBook, learned_lb: float | None = None) -> dict[str, Any]:
    """The whole trace of a single build as plain data.

    Parameters
    ----------
    demand, book, learned_lb : Demand, RuleBook, float or None
        See `spine_node`.

    Returns
    -------
    dict
        `trace_format`, `basis` (whose sizes), `root` (spine wanted) and `silent` (rules that did
        not fire: what was found, what it needs).
    """
    silences = (*demand.weight_rules.silences, *demand.shift_rules.silences)
    return {
        "trace_format": TRACE_FORMAT,
        "basis": book.basis,
        "root": spine_node(demand, book, learned_lb).as_dict(),
        "silent": [
            {"rule": s.rule.code, "name": s.rule.name, "found": s.found, "needs": s.needs}
            | ({"own": book.own[s.rule.code]} if s.rule.code in book.own else {})
            for s in silences
        ],
    }
