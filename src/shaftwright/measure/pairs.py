"""Groups held against each other: every pair judged, guarded and told in plain words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import combinations
from typing import Any

import numpy as np

from shaftwright.measure.anytime import weigh, weigh_pairs
from shaftwright.measure.readings import Sorted
from shaftwright.measure.welch import (
    Difference,
    Plan,
    alternating,
    holm,
    mean_of,
    settle,
    welch,
)
from shaftwright.resources import measuring, spread
from shaftwright.result import Result, kept, plain
from shaftwright.units import Interval

ALPHA = 0.05
MOST_PAIRED_GROUPS = 12  # beyond these, pairs outnumber what anyone reads


@dataclass(frozen=True)
class Scale:
    """What the comparison of one quantity is told in.

    Parameters
    ----------
    unit : str
        `fps` or `dB`; the table's names end in it.
    more : str
        What the group with the higher reading is: faster, louder.
    nothing : str
        Said of a difference too small to matter.
    """

    unit: str
    more: str
    nothing: str

    @property
    def worth(self) -> float:
        """The smallest difference worth having."""
        return measuring(f"worth_{self.unit.lower()}")


SPEED = Scale("fps", "faster", "no difference you could shoot")
LEVEL = Scale("dB", "louder", "no difference you could plainly hear")


@dataclass(frozen=True)
class Pair(Result):
    """Two groups held against each other, first minus second."""

    a: str
    b: str
    #: shots alone: a fixed sample, every shot independent
    difference: Difference = field(metadata=kept(json="difference_*"))
    p_value: float | None
    p_holm: float | None
    #: restringing counted, looked at once
    restrung: Interval = field(metadata=kept(json="difference_restrung_*"))
    #: restringing counted, and looked at whenever one likes
    anytime: Interval = field(metadata=kept(json="difference_anytime_*"))
    p_anytime: float
    #: shots that alternate on one string
    paired: Difference | None
    stringings: tuple[int, int]
    restringing_sd: float = field(metadata=kept(json="restringing_sd_*"))
    settled: bool
    verdict: str
    shots_to_settle: int | None
    plan: Plan

    def to_dict(self) -> dict[str, Any]:
        """With the chance of the paired test."""
        found = super().to_dict()
        if self.paired is not None:
            found["paired"]["p_value"] = self.paired.p_value
        return found


@dataclass(frozen=True)
class Group(Result):
    """The readings of one group; an absolute mean carries the instrument's accuracy."""

    name: str
    n: int
    stringings: int | None = field(metadata=kept(optional=True))
    mean: float = field(metadata=kept(json="mean_*"))
    sd: float | None = field(metadata=kept(json="sd_*"))
    absolute: Interval | None = field(metadata=kept(json="mean_absolute_*", optional=True))


@dataclass(frozen=True)
class Compared(Result):
    """One quantity of two setups or more."""

    scale: Scale = field(metadata=kept(json=False))
    #: the readings compared, as they were compared
    data: Sorted | None = field(metadata=kept(json=False))
    groups: tuple[Group, ...]
    #: of the pair told first, shots alone
    difference: Difference | None = field(metadata=kept(json="difference_*"))
    pairs: tuple[Pair, ...] = field(metadata=kept(json=False))

    @property
    def told(self) -> Pair | None:
        """The pair told first: the two groups furthest apart."""
        return max(self.pairs, key=lambda pair: abs(pair.difference.mid), default=None)

    def to_dict(self) -> dict[str, Any]:
        """The pair told first stands for the whole; keys end in the unit."""
        found = dict.fromkeys(
            ("groups", "difference_*", "p_value", "p_anytime", "verdict", "shots_to_settle")
        )
        if self.told is not None:
            found |= self.told.to_dict()
            pair = [found.pop("a"), found.pop("b")]
            found |= {"difference_of": pair, "pairs": plain(self.pairs)}
        if self.difference is not None:
            found["p_value"] = self.difference.p_value
        told: dict[str, Any] = _in_unit(found | super().to_dict(), self.scale.unit.lower())
        return told


def _in_unit(value: Any, unit: str) -> Any:
    if isinstance(value, dict):
        return {key.replace("*", unit): _in_unit(item, unit) for key, item in value.items()}
    return [_in_unit(item, unit) for item in value] if isinstance(value, list) else value


def _amount(value: float) -> str:
    return f"{value:.0f}" if value >= 0.95 else f"{value:.1f}"


def _verdict(
    names: tuple[str, str], interval: Interval, real: bool, plan: Plan, scale: Scale
) -> tuple[bool, str]:
    """Whether nothing more need be shot, and the answer in the archer's words."""
    small, large = sorted((abs(interval.low), abs(interval.high)))
    if real and interval.low * interval.high > 0:
        which = names[0] if interval.low > 0 else names[1]
        # Never a bare "0 to": the smaller end is known not to be nothing.
        least = _amount(small) if small >= 0.05 else "a trace"
        told = f"{which} is {scale.more} by {least} to {_amount(large)} {scale.unit}"
        return True, f"{told}: {scale.nothing}" if large < scale.worth else told
    if large < scale.worth:
        return True, f"{scale.nothing} (under {scale.worth:g} {scale.unit} either way)"
    aim, times = f"{plan.settles:g} {scale.unit}", plan.restringings_each
    if plan.shots_each is not None and not times:
        shots = "1 more shot" if plan.shots_each == 1 else f"{plan.shots_each} more shots"
        return False, f"not settled: {shots} each would settle {aim}"
    # Restringing is the unit: the cheap next step first, then what the whole answer costs.
    per = int(measuring("shots_per_stringing"))
    told = "not settled: restringing scatters too much; "
    if plan.shots_each is not None and times <= 2:
        return False, (
            f"{told}{plan.shots_each} more shots each, strung again each time after {per} "
            f"({plan.order}), would settle {aim}"
        )
    told += (
        f"string each again twice, {per} shots a time ({alternating(*names, 2)}), to settle "
        f"{plan.next_settles:.1f} {scale.unit}; "
    )
    if plan.shots_each is None:
        return False, f"{told}{aim} is out of reach even with {times} times"
    return False, f"{told}{times} times would settle {aim}"


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
    count, unit = len(data.names), scale.unit.lower()
    pairs = [p for p in combinations(range(count), 2) if count <= MOST_PAIRED_GROUPS or p[0] == 0]
    noise, tuned = spread(f"shot_sd_{unit}"), measuring(f"difference_scale_{unit}")
    weighed = partial(weigh, noise=noise, restringing=spread(f"restringing_sd_{unit}"), scale=tuned)
    n = [len(values) for values in data.values]
    mean = [float(values.mean()) for values in data.values]
    sd = [float(values.std(ddof=1)) if len(values) > 1 else 0.0 for values in data.values]
    turns = [data.alternates(a, b) for a, b in pairs]
    found = [
        weighed(data.pair(a, b), systematic=error_of(a, b)) if by_turns is None
        else weigh_pairs(by_turns, noise, tuned, error_of(a, b))
        for (a, b), by_turns in zip(pairs, turns, strict=True)
    ]  # fmt: skip
    looks = [evidence.p_anytime() for evidence in found]
    guarded = holm(looks)
    rank = np.argsort(np.argsort(looks, kind="stable"), kind="stable")
    tests = [welch((n[a], n[b]), (mean[a], mean[b]), (sd[a], sd[b])) for a, b in pairs]
    textbook = holm([1.0 if test.p_value is None else test.p_value for test in tests])
    fewest = int(measuring("fewest_shots"))
    result = []
    for k, ((a, b), evidence, by_turns, test) in enumerate(
        zip(pairs, found, turns, tests, strict=True)
    ):
        names, cells = (data.names[a], data.names[b]), data.pair(a, b)
        # The level at which Holm's step judges this pair: interval and chance then never disagree.
        alpha = ALPHA / (len(pairs) - int(rank[k]))
        interval = evidence.interval(alpha)
        again = partial(weighed, systematic=error_of(a, b))
        plan = settle(cells, evidence, again, scale.worth, names, alpha)
        missing = fewest - min(n[a], n[b])
        if missing > 0:
            plan = replace(plan, shots_each=max(plan.shots_each or missing, missing))
            settled, verdict = False, f"not settled: {fewest} shots of each at least"
        else:
            settled, verdict = _verdict(names, interval, guarded[k] < ALPHA, plan, scale)
        if settled:
            plan = replace(plan, shots_each=0, restringings_each=0)
        strung_a, strung_b = (int(strung) for strung in (cells.n > 0).sum(axis=1))
        result.append(
            Pair(
                *names, test, test.p_value, None if test.p_value is None else textbook[k],
                replace(evidence.once(), mid=test.mid), replace(interval, mid=test.mid), guarded[k],
                None if by_turns is None else mean_of(by_turns), (strung_a, strung_b),
                evidence.restringing, settled, verdict, plan.shots_each, plan,
            )
        )  # fmt: skip
    return tuple(result)
