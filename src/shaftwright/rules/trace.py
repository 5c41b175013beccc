"""The trace: one tree in which every number can be taken apart and done again.

`recompute` does a node's arithmetic from its children, so that tests, and readers who doubt,
can follow each figure down to what was measured or written in the rule set.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from shaftwright.physics.arrow.spine import mils_from_pounds
from shaftwright.physics.normal import split_mean, split_sds
from shaftwright.rules.evaluate import Firing, Silence, interpolate, saw
from shaftwright.rules.load import RuleBook, Sizes
from shaftwright.rules.schema import Linear, Range, Table

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
        Whose size the rule carries, where the launch model states one too: trade, physics or both.
    model : str or None
        For `model` the formula of `MODELS`; for `lookup` the table as `table:x:y`.
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
    source: tuple[str, ...] = ()
    model: str | None = None
    low: float | None = None
    high: float | None = None
    sizes: str | None = None

    def as_dict(self) -> dict[str, Any]:
        """The node and all below it as plain data."""
        plain: dict[str, Any] = {
            "label": self.label, "op": self.op, "value": self.value, "unit": self.unit,
            "children": [child.as_dict() for child in self.children],
        }  # fmt: skip
        for name in ("rule", "reason", "basis", "sizes", "model", "low", "high"):
            if getattr(self, name) is not None:
                plain[name] = getattr(self, name)
        if self.rule is not None:
            plain["source"] = list(self.source)
        return plain


def _split_mean(value: float, low: float, high: float) -> float:
    return value + split_mean(*split_sds(value, low, high))


MODELS: Final[dict[str, Callable[..., float]]] = {
    "split_normal_mean": _split_mean,
    "spine_from_stiffness": mils_from_pounds,
    "quotient": lambda a, b: a / b,
}


def recompute(node: Node, book: RuleBook) -> float:
    """A node's value from its children's values.

    Parameters
    ----------
    node : Node
        The node.
    book : RuleBook
        For the tables behind lookups.

    Returns
    -------
    float
        What the arithmetic gives; for an `input` its own value.
    """
    values = [child.value for child in node.children]
    if node.op == "sum":
        return math.fsum(values)
    if node.op == "product":
        return math.prod(values)
    if node.op == "min":
        return min(values)
    if node.op == "max":
        return max(values)
    if node.op == "model":
        return float(MODELS[node.model or ""](*values))
    if node.op == "lookup":
        table, x, y = (node.model or "::").split(":")
        return float(interpolate(*book.tables[table, x, y], values[0]))
    return node.value


def walk(node: Node) -> Sequence[Node]:
    """The node and all below it, depth first."""
    return [node, *(below for child in node.children for below in walk(child))]


def total(label: str, children: Sequence[Node], unit: str = "lb") -> Node:
    """A sum of nodes.

    Parameters
    ----------
    label : str
        What the sum is.
    children : sequence of Node
        Its parts.
    unit : str
        Their unit.

    Returns
    -------
    Node
        The sum.
    """
    return Node(label, "sum", math.fsum(c.value for c in children), unit, tuple(children))


def _product(label: str, children: Sequence[Node], unit: str, **more: Any) -> Node:
    return Node(
        label, "product", math.prod(c.value for c in children), unit, tuple(children), **more
    )


def firing_node(firing: Firing, draw_weight_lb: float, book: RuleBook, index: int = 0) -> Node:
    """What one rule adds, taken apart: coefficient x amount x overlap share x unit.

    Parameters
    ----------
    firing : Firing
        The rule at work.
    draw_weight_lb : float
        What its percent are taken of [lb].
    book : RuleBook
        For tables.
    index : int
        Which build, where amounts are arrays.

    Returns
    -------
    Node
        A product in pounds.
    """
    rule, span = firing.rule, firing.range
    sizes = book.sizes_of(rule.code, firing.case)
    if sizes is not None and sizes.basis == "both":
        coefficient = _weighed(sizes, rule.shift_unit)
    else:
        coefficient = _mean_node("size of the effect, mean of its range", span, rule.shift_unit)
    parts = [coefficient]
    amount = _amount_node(firing, book, index)
    if amount is not None:
        parts.append(amount)
    weight = _pick(firing.weight, index)
    if weight != 1.0:
        parts.append(Node(f"share left in the group {firing.group}", "input", weight))
    if rule.shift_unit == "pct_of_draw_weight":
        of = Node("draw weight", "input", draw_weight_lb, "lb")
        parts.append(
            Node("one percent of draw weight", "model", draw_weight_lb / 100, "lb",
                 (of, Node("percent", "input", 100.0)), model="quotient")
        )  # fmt: skip
    return _product(
        rule.name, parts, "lb", rule=rule.code, reason=f"{saw(firing, index)}; {rule.why}",
        basis=rule.basis, source=rule.source, sizes="trade" if sizes is None else sizes.basis,
    )  # fmt: skip


def _mean_node(label: str, span: Range, unit: str) -> Node:
    ends = [("most likely", span.value), ("low end", span.low), ("high end", span.high)]
    return Node(
        label, "model", _split_mean(span.value, span.low, span.high), unit,
        tuple(Node(name, "input", v, unit) for name, v in ends),
        model="split_normal_mean", low=span.low, high=span.high,
    )  # fmt: skip


def _weighed(sizes: Sizes, unit: str) -> Node:
    """Trade and launch model, each with the share that its doubt leaves it."""
    trade = _mean_node("size by the trade, mean of its range", sizes.trade, unit)
    model = Node("size by the launch model, its middle", "input", sizes.physics.value, unit,
                 low=sizes.physics.low, high=sizes.physics.high)  # fmt: skip
    parts = [
        _product(f"{whose} part", (size, Node("share, by doubt", "input", share)), unit)
        for whose, size, share in (
            ("the trade's", trade, sizes.share), ("the launch model's", model, 1 - sizes.share)
        )
    ]  # fmt: skip
    return replace(
        total("size of the effect, trade and launch model by their doubt", parts, unit),
        low=sizes.used.low, high=sizes.used.high,
    )  # fmt: skip


def _amount_node(firing: Firing, book: RuleBook, index: int) -> Node | None:
    form = firing.rule.form
    if firing.fact is None:
        return None
    fact = _pick(firing.fact, index)
    if isinstance(form, Linear):
        if form.until is not None:
            bounded = min(fact, form.until)
            seen = Node(
                f"{form.of}, as far as it counts", "min", bounded, "",
                (Node(form.of, "input", fact), Node("until", "input", form.until)),
            )  # fmt: skip
        else:
            seen = Node(form.of, "input", fact)
        start = Node("less the reference", "input", -float(form.start))
        return Node(
            f"steps of {form.per}", "model", (seen.value - float(form.start)) / form.per_unit, "",
            (total("beyond the reference", (seen, start), ""), Node("one step", "input", form.per_unit)),
            model="quotient",
        )  # fmt: skip
    if isinstance(form, Table):
        return Node(
            f"read from {form.table}", "lookup", _pick(firing.amount, index), "",
            (Node(form.of, "input", fact),), model=f"{form.table}:{form.x}:{form.y}",
        )  # fmt: skip
    return None


def _pick(value: Any, index: int) -> float:
    import numpy as np

    return float(value[index]) if np.ndim(value) else float(value)


def silence_dict(silence: Silence) -> dict[str, str]:
    """A rule that did not fire as plain data: what was found, what it needs."""
    return {
        "rule": silence.rule.code,
        "name": silence.rule.name,
        "found": silence.found,
        "needs": silence.needs,
    }
