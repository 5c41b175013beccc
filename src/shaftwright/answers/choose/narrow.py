"""What would take most doubt away, and how much."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shaftwright.answers.result import Result
from shaftwright.inference.belief import Belief
from shaftwright.inference.demand import Demand
from shaftwright.physics.normal import Z95
from shaftwright.rules.purposes import setting


@dataclass(frozen=True)
class Narrowing(Result):
    """One thing to measure.

    Attributes
    ----------
    what : str
        What to do.
    removes_lb : float
        By how much the 95 % range of the effective bow weight shrinks on either side, at most [lb].
    share : float
        The same as a share of that range.
    """

    what: str
    removes_lb: float
    share: float


def narrowings(demand: Demand, belief: Belief) -> tuple[Narrowing, ...]:
    """Measurements that would narrow the band, the most useful first.

    Parameters
    ----------
    demand : Demand
        Of one build.
    belief : Belief
        What is believed.

    Returns
    -------
    tuple of Narrowing
        Those that remove at least a fifth of a pound. Bare shafts count as a reading of their own,
        the others as if the rules they replace were then known exactly.
    """
    common, amounts, coefficients = demand.shared(belief)
    now = common + (amounts[0] @ coefficients if len(coefficients) else 0.0)
    sd = float(np.std(now))
    grouped: dict[str, list[str]] = {}
    for firing in (*demand.weight_rules.firings, *demand.shift_rules.firings):
        cases = firing.rule.narrow_cases
        if firing.rule.narrow and (not cases or firing.case in cases):
            grouped.setdefault(firing.rule.narrow, []).append(firing.rule.code)
    found = []
    for what, codes in grouped.items():
        if {"archer-own", "bow-own"} & {f.rule.name for f in demand.shift_rules.firings
                                        if f.rule.code in codes}:  # fmt: skip
            noise = setting("two_bare_shafts_sd_lb")
            after = sd * noise / float(np.hypot(sd, noise))
        else:
            known = sum(
                np.ravel(c.x)[0] * c.deviations(belief.scores[c.driver])
                for c in demand.columns
                if c.code in codes
            )
            after = float(np.std(now - known))
        removes = Z95 * (sd - after)
        if removes >= 0.2:
            found.append(Narrowing(what, removes, 1 - after / sd))
    return tuple(sorted(found, key=lambda n: -n.removes_lb))
