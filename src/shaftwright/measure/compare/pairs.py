"""Groups held against each other: every pair judged, guarded and told in plain words."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np

from shaftwright.measure.compare.anytime import Array, Evidence, weigh, weigh_pairs
from shaftwright.measure.compare.plan import Plan, alternating, settle
from shaftwright.measure.compare.readings import Sorted
from shaftwright.measure.compare.welch import Difference, holm, paired, welch
from shaftwright.measure.values import Spread, number, spread

ALPHA = 0.05
MOST_PAIRED_GROUPS = 12  # beyond these, pairs outnumber what anyone reads


@dataclass(frozen=True)
class Scale:
    """What the comparison of one quantity takes from the table.

    Parameters
    ----------
    unit : str
        `fps` or `dB`; the table's names end in it.
    more, less : str
        What the group with the higher reading is: faster, louder.
    nothing : str
        Said of a difference too small to matter.
    """

    unit: str
    more: str
    nothing: str

    @property
    def noise(self) -> Spread:
        """Doubt of the shot-to-shot spread."""
        return spread(f"shot_sd_{self.unit.lower()}")

    @property
    def restringing(self) -> Spread:
        """Doubt of the spread between stringings."""
        return spread(f"restringing_sd_{self.unit.lower()}")

    @property
    def tuned(self) -> float:
        """Spread of differences the guard is tuned to."""
        return number(f"difference_scale_{self.unit.lower()}")

    @property
    def worth(self) -> float:
        """The smallest difference worth having."""
        return number(f"worth_{self.unit.lower()}")


SPEED = Scale("fps", "faster", "no difference you could shoot")
LEVEL = Scale("dB", "louder", "no difference you could plainly hear")


@dataclass(frozen=True)
class Pair:
    """Two groups held against each other, first minus second."""

    a: str
    b: str
    welch: Difference
    paired: Difference | None
    once: tuple[float, float]
    anytime: tuple[float, float]
    p_anytime: float
    p_holm: float | None
    p_anytime_holm: float
    stringings: tuple[int, int]
    restringing_sd: float
    plan: Plan
    settled: bool
    verdict: str

    def document(self, unit: str) -> dict[str, Any]:
        """Ready for JSON; keys end in the unit."""
        suffix = unit.lower()
        mid = self.welch.mid
        return {
            "a": self.a,
            "b": self.b,
            f"difference_{suffix}": self.welch.document(),
            "p_value": self.welch.p_value,
            "p_holm": self.p_holm,
            f"difference_restrung_{suffix}": {"mid": mid, "low": self.once[0], "high": self.once[1]},
            f"difference_anytime_{suffix}": {
                "mid": mid, "low": self.anytime[0], "high": self.anytime[1],
            },
            "p_anytime": self.p_anytime_holm,
            "paired": None
            if self.paired is None
            else {**self.paired.document(), "p_value": self.paired.p_value},
            "stringings": list(self.stringings),
            f"restringing_sd_{suffix}": self.restringing_sd,
            "settled": self.settled,
            "verdict": self.verdict,
            "shots_to_settle": self.plan.shots_each,
            "plan": {
                "shots_each": self.plan.shots_each,
                "restringings_each": self.plan.restringings_each,
                f"settles_{suffix}": self.plan.settles,
                "order": self.plan.order,
                f"next_settles_{suffix}": self.plan.next_settles,
            },
        }  # fmt: skip


def _amount(value: float) -> str:
    size = abs(value)
    return f"{size:.0f}" if size >= 0.95 else f"{size:.1f}"


def _between(low: float, high: float, unit: str) -> str:
    small, large = sorted((abs(low), abs(high)))
    # Never a bare "0 to": the smaller end is known not to be nothing.
    return f"{_amount(small) if small >= 0.05 else 'a trace'} to {_amount(large)} {unit}"


def plain_verdict(
    names: tuple[str, str], interval: tuple[float, float], real: bool, plan: Plan, scale: Scale
) -> tuple[bool, str]:
    """The answer in the archer's words.

    Parameters
    ----------
    names : tuple of str
        The two groups.
    interval : tuple of float
        Always-valid interval of first minus second [unit of the scale].
    real : bool
        Whether the guarded chance is below 5 %.
    plan : Plan
        What would settle it.
    scale : Scale
        The quantity.

    Returns
    -------
    settled : bool
        Whether nothing more need be shot.
    verdict : str
        One sentence.
    """
    low, high = interval
    small = max(abs(low), abs(high)) < scale.worth
    if real and low * high > 0:
        which = names[0] if low > 0 else names[1]
        told = f"{which} is {scale.more} by {_between(low, high, scale.unit)}"
        return True, f"{told}: {scale.nothing}" if small else told
    if small:
        return True, f"{scale.nothing} (under {scale.worth:g} {scale.unit} either way)"
    aim = f"{plan.settles:g} {scale.unit}"
    if plan.shots_each is not None and not plan.restringings_each:
        shots = "1 more shot" if plan.shots_each == 1 else f"{plan.shots_each} more shots"
        return False, f"not settled: {shots} each would settle {aim}"
    # Restringing is the unit: the cheap next step first, then what the whole answer costs.
    per = int(number("shots_per_stringing"))
    told = (
        f"not settled: restringing scatters too much; string each again twice, {per} shots a time "
        f"({alternating(*names, 2)}), to settle {plan.next_settles:.1f} {scale.unit}"
    )
    if plan.shots_each is None:
        return False, f"{told}; {aim} is out of reach even with {plan.restringings_each} times"
    if plan.restringings_each <= 2:
        told = (
            f"not settled: restringing scatters too much; {plan.shots_each} more shots each, strung "
            f"again each time after {per} ({plan.order}), would settle {aim}"
        )
        return False, told
    return False, f"{told}; {plan.restringings_each} times would settle {aim}"


def _evidence(
    data: Sorted, a: int, b: int, scale: Scale, systematic: float
) -> tuple[Evidence, Array | None]:
    differences = data.alternates(a, b)
    if differences is not None:
        return weigh_pairs(differences, scale.noise, scale.tuned, systematic), differences
    cells = data.pair(a, b)
    return weigh(cells, scale.noise, scale.restringing, scale.tuned, systematic), None


def compare_pairs(
    data: Sorted, scale: Scale, error_of: Callable[[int, int], float] = lambda a, b: 0.0
) -> tuple[Pair, ...]:
    """Hold the groups against each other, guarded against many questions and many looks.

    Parameters
    ----------
    data : Sorted
        Readings in groups and stringings.
    scale : Scale
        The quantity.
    error_of : callable
        For two groups, the standard deviation of an error of their difference that shots do not
        lessen [unit of the scale].

    Returns
    -------
    tuple of Pair
        All pairs; with more than twelve groups only those with the first.
    """
    count = len(data.names)
    pairs = list(combinations(range(count), 2)) if count <= MOST_PAIRED_GROUPS else [
        (0, other) for other in range(1, count)
    ]  # fmt: skip
    n = np.bincount(data.group, minlength=count)
    mean = [float(data.of(g).mean()) for g in range(count)]
    sd = [float(data.of(g).std(ddof=1)) if n[g] > 1 else math.nan for g in range(count)]
    found = []
    for a, b in pairs:
        error = error_of(a, b)
        evidence, differences = _evidence(data, a, b, scale, error)
        found.append((a, b, error, evidence, differences, welch(
            (int(n[a]), int(n[b])), (mean[a], mean[b]), (sd[a], sd[b]))))  # fmt: skip
    looks = [item[3].p_anytime() for item in found]
    guarded = holm(looks)
    rank = np.argsort(np.argsort(looks, kind="stable"), kind="stable")
    tests = [item[5].p_value for item in found]
    textbook = holm([1.0 if p is None else p for p in tests])
    fewest = int(number("fewest_shots"))
    result = []
    for k, (a, b, error, evidence, differences, test) in enumerate(found):
        names = (data.names[a], data.names[b])
        # The level at which Holm's step judges this pair: interval and chance then never disagree.
        alpha = ALPHA / (len(found) - rank[k])
        interval = evidence.interval(alpha)
        cells = data.pair(a, b)
        enough = min(n[a], n[b]) >= fewest
        plan = settle(
            cells, evidence, scale.noise, scale.restringing, scale.worth, names, alpha, error
        )
        if not enough:
            needed = int(fewest - min(n[a], n[b]))
            plan = replace(plan, shots_each=max(plan.shots_each or needed, needed))
        settled, verdict = plain_verdict(
            names, interval, enough and guarded[k] < ALPHA, plan, scale
        ) if enough else (False, f"not settled: {fewest} shots of each at least")  # fmt: skip
        if settled:
            plan = replace(plan, shots_each=0, restringings_each=0)
        result.append(
            Pair(
                *names, test, None if differences is None else paired(differences),
                evidence.once(), interval, evidence.p_anytime(),
                None if tests[k] is None else textbook[k], guarded[k],
                (int((cells.n_a > 0).sum()), int((cells.n_b > 0).sum())),
                evidence.restringing, plan, settled, verdict,
            )
        )  # fmt: skip
    return tuple(result)


def told_pair(pairs: Sequence[Pair]) -> Pair:
    """The pair told first: the two groups furthest apart."""
    return max(pairs, key=lambda pair: abs(pair.welch.mid))
