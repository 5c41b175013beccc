"""Chances over causes: each sign seen speaks for the causes that show it and against the others."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.diagnose.signs import Signs
from shaftwright.parameters import setting
from shaftwright.result import Result, kept
from shaftwright.rules.diagnosis import Axis, diagnosis_rules
from shaftwright.rules.diagnosis import Cause as Rule

Array = NDArray[np.float64]
_AXES: Final[tuple[Axis, ...]] = ("sideways", "vertical")


@dataclass(frozen=True)
class Cause(Result):
    """One cause with its chance, among those of its axis."""

    code: str
    label: str
    chance: float = field(metadata=kept(digits=4))
    axis: str
    #: signs seen that make it likelier or unlikelier, such as `impact: stiff`
    signs_for: tuple[str, ...]
    signs_against: tuple[str, ...]
    #: what would tell; once marks were looked for, what is still to be done
    check: str


def band_priors(mismatch: Array, stiffness_lb: float) -> dict[str, float]:
    """What the band says of a build before its own shots: chances that sum to 1.

    A far too weak shaft reads stiff only now and then; the rest of its chance counts as weak.
    """
    wanted = np.maximum(stiffness_lb - mismatch, 1e-6)
    tolerance = setting("matching.tolerance_pct") / 100
    far = float(np.mean(stiffness_lb / wanted < setting("matching.shoot_gate")))
    false = far * setting("evidence.false_stiff_chance")
    matched = float(np.mean(np.abs(mismatch) <= tolerance * wanted))
    stiff = float(np.mean(mismatch > tolerance * wanted))
    return {
        "matched": matched, "stiff": stiff, "far_too_weak": false,
        "weak": max(1 - matched - stiff - false, 0.0),
    }  # fmt: skip


def causes(signs: Signs, band: dict[str, float], lighter: bool) -> tuple[Cause, ...]:
    """Every cause with its chance, likeliest first, sideways before vertical; each axis sums to 1.

    `lighter` tells whether a lighter front is to be had. Signs are taken as independent given the
    cause (a naive Bayes classifier); n readings of one sign count as n ** 0.5 of their mean, because
    an archer's habit repeats itself.
    """
    found: list[Cause] = []
    for axis in _AXES:
        rules = [c for c in diagnosis_rules().causes if c.axis == axis]
        left = 1 - sum(c.prior.chance or 0.0 for c in rules)
        weights = []
        for rule in rules:
            prior = rule.prior.chance
            if prior is None:
                assert rule.prior.band is not None
                prior = left * band[rule.prior.band]
            weights.append(math.log(max(prior, 1e-9)) + _speaks(rule, signs))
        chances = np.exp(np.array(weights) - max(weights))
        chances /= chances.sum()
        ordered = sorted(zip(rules, chances.tolist(), strict=True), key=lambda pair: -pair[1])
        found += [_cause(rule, chance, signs, lighter) for rule, chance in ordered]
    return tuple(found)


def _speaks(rule: Rule, signs: Signs) -> float:
    """Log-likelihood of the signs seen, given a cause."""
    table = diagnosis_rules()
    power, told = setting("diagnosis.repeat_weight"), 0.0
    for name, values in signs.items():
        odds = rule.signs.get(name, table.signs[name])
        logs = [math.log(max(odds[value], 1e-6)) for value in values]
        told += sum(logs) / len(logs) * len(logs) ** power
    return told


def _cause(rule: Rule, chance: float, signs: Signs, lighter: bool) -> Cause:
    """A cause with the signs that speak for and against it, against the usual odds."""
    usual, ratios = diagnosis_rules().signs, dict[str, float]()
    for name in (name for name in signs if name in rule.signs):
        # of two seen as often the one that stands first in the rules
        value = max(usual[name], key=signs[name].count)
        ratios[f"{name}: {value}"] = rule.signs[name][value] / usual[name][value]
    check = (rule.check_noted if "marks" in signs else None) or rule.check
    if rule.check_lightest and not lighter:
        check = rule.check_lightest
    return Cause(
        rule.code, rule.label, chance, rule.axis,
        tuple(text for text, ratio in ratios.items() if ratio > 1.25),
        tuple(text for text, ratio in ratios.items() if ratio < 0.8), check,
    )  # fmt: skip
