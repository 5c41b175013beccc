"""What would take most doubt away, and how much."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shaftwright.inference.belief import Belief
from shaftwright.inference.demand import Demand
from shaftwright.parameters import setting
from shaftwright.physics.normal import Z95
from shaftwright.result import Result


@dataclass(frozen=True)
class Narrowing(Result):
    """One thing to measure."""

    #: what to do
    what: str
    #: by how much the 95 % range of the effective bow weight shrinks on either side, at most
    removes_lb: float
    #: the same as a share of that range
    share: float


def narrowings(demand: Demand, belief: Belief) -> tuple[Narrowing, ...]:
    """Measurements that would narrow the band, the most useful first.

    Those that remove at least a fifth of a pound. Bare shafts count as a reading of their own, the
    others as if the rules they replace were then known exactly.
    """
    common, amounts, coefficients = demand.shared(belief)
    now = common + (amounts[0] @ coefficients if len(coefficients) else 0.0)
    sd = float(np.std(now))
    grouped: dict[str, dict[str, str]] = {}
    for firing in (*demand.weight_rules.firings, *demand.shift_rules.firings):
        rule = firing.rule
        if rule.narrow and (not rule.narrow_cases or firing.case in rule.narrow_cases):
            grouped.setdefault(rule.narrow, {})[rule.code] = rule.name
    found = []
    for what, rules in grouped.items():
        if {"archer-own", "bow-own"} & set(rules.values()):
            noise = setting("matching.two_bare_shafts_sd_lb")
            after = sd * noise / float(np.hypot(sd, noise))
        else:
            known = sum(
                np.ravel(c.x)[0] * c.deviations(belief.scores[c.driver])
                for c in demand.columns if c.code in rules
            )  # fmt: skip
            after = float(np.std(now - known))
        removes = Z95 * (sd - after)
        if removes >= 0.2:
            found.append(Narrowing(what, removes, 1 - after / sd))
    return tuple(sorted(found, key=lambda n: -n.removes_lb))
