"""The trace of one build's effective bow weight and spine."""

from __future__ import annotations

from typing import Any

from shaftwright.inference.demand import Demand
from shaftwright.physics.arrow.spine import mils_from_pounds
from shaftwright.rules.load import RuleBook
from shaftwright.rules.trace import TRACE_FORMAT, Node, firing_node, silence_dict, total


def weight_node(
    demand: Demand, book: RuleBook, learned_lb: float | None = None, index: int = 0
) -> Node:
    """Effective bow weight of one build as a sum over draw weight and rules.

    Parameters
    ----------
    demand : Demand
        Of the build, or of many.
    book : RuleBook
        For tables.
    learned_lb : float, optional
        Middle after the archer's own shots [lb]; what they added becomes a node of its own.
    index : int
        Which build.

    Returns
    -------
    Node
        A sum in pounds.
    """
    stated = Node("draw weight as stated", "input", demand.stated_lb, "lb")
    own = [firing_node(f, demand.stated_lb, book, index) for f in demand.weight_rules.firings]
    weight = total("draw weight at the own draw", (stated, *own))
    rules = [firing_node(f, demand.own_lb, book, index) for f in demand.shift_rules.firings]
    before = total("effective bow weight before any shot", (weight, *rules))
    if learned_lb is None:
        return Node("effective bow weight", "sum", before.value, "lb", before.children)
    shots = Node("what your own shots say", "input", learned_lb - before.value, "lb")
    return total("effective bow weight", (before, shots))


def spine_trace(demand: Demand, book: RuleBook, learned_lb: float | None = None) -> dict[str, Any]:
    """The whole trace of a single build as plain data.

    Parameters
    ----------
    demand : Demand
        Of one build.
    book : RuleBook
        For tables.
    learned_lb : float, optional
        Middle after the archer's own shots [lb].

    Returns
    -------
    dict
        `trace_format`, `basis` (whose sizes), `root` (spine wanted) and `silent` (rules that did
        not fire).
    """
    root = spine_node(weight_node(demand, book, learned_lb))
    silences = (*demand.weight_rules.silences, *demand.shift_rules.silences)
    return {
        "trace_format": TRACE_FORMAT,
        "basis": book.basis,
        "root": root.as_dict(),
        "silent": [silence_dict(s) for s in silences],
    }


def spine_node(weight: Node) -> Node:
    """The static spine that has this stiffness.

    Parameters
    ----------
    weight : Node
        Effective bow weight [lb].

    Returns
    -------
    Node
        [mils].
    """
    return Node(
        "static spine wanted", "model", mils_from_pounds(weight.value), "mils", (weight,),
        model="spine_from_stiffness",
    )  # fmt: skip
