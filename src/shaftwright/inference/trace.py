"""The trace of one build's effective bow weight and spine."""

from __future__ import annotations

from typing import Any

from shaftwright.inference.demand import Demand
from shaftwright.physics.arrow.spine import mils_from_pounds
from shaftwright.rules.load import RuleBook
from shaftwright.rules.trace import TRACE_FORMAT, Node, firing_node, total


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
    own = [firing_node(f, demand.stated_lb, book) for f in demand.weight_rules.firings]
    weight = total("draw weight at the own draw", (stated, *own))
    rules = [firing_node(f, demand.own_lb, book) for f in demand.shift_rules.firings]
    if learned_lb is None:
        wanted = total("effective bow weight", (weight, *rules))
    else:
        before = total("effective bow weight before any shot", (weight, *rules))
        shots = Node("what your own shots say", "input", learned_lb - before.value, "lb")
        wanted = total("effective bow weight", (before, shots))
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
