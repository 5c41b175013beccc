"""Chances over causes: each sign seen speaks for the causes that show it and against the others."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.diagnose.signs import Signs
from shaftwright.inference.evidence.rules import evidence_rules
from shaftwright.rules.diagnosis import Axis, Cause, diagnosis_rules
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Suspect:
    """One cause with its chance.

    Attributes
    ----------
    cause : Cause
        The rule; once marks were looked for, its check is the one still to be done.
    chance : float
        Among the causes of its axis.
    signs_for, signs_against : tuple of str
        Signs seen that make it likelier or unlikelier, such as `impact: stiff`.
    """

    cause: Cause
    chance: float
    signs_for: tuple[str, ...]
    signs_against: tuple[str, ...]


def band_priors(mismatch: Array, stiffness_lb: float) -> dict[str, float]:
    """What the band says of a build before its own shots.

    Parameters
    ----------
    mismatch : array (D,)
        Draws [lb].
    stiffness_lb : float
        Of its shaft [lb].

    Returns
    -------
    dict
        matched, stiff, weak, far_too_weak: chances that sum to 1. A far too weak shaft reads stiff
        only now and then; the rest of its chance counts as weak.
    """
    wanted = np.maximum(stiffness_lb - mismatch, 1e-6)
    tolerance = setting("tolerance_pct") / 100
    far = float(np.mean(stiffness_lb / wanted < setting("shoot_gate")))
    false = far * evidence_rules().value("false_stiff_chance")
    matched = float(np.mean(np.abs(mismatch) <= tolerance * wanted))
    stiff = float(np.mean(mismatch > tolerance * wanted))
    return {
        "matched": matched, "stiff": stiff, "far_too_weak": false,
        "weak": max(1 - matched - stiff - false, 0.0),
    }  # fmt: skip


def suspects(signs: Signs, band: dict[str, float]) -> list[Suspect]:
    """Every cause with its chance, likeliest first, sideways before vertical.

    Parameters
    ----------
    signs : dict
        Sign -> values seen.
    band : dict
        From `band_priors`.

    Returns
    -------
    list of Suspect
        Chances of each axis sum to 1.

    Notes
    -----
    Signs are taken as independent given the cause (a naive Bayes classifier); n readings of one
    sign count as n ** 0.5 of their mean, because an archer's habit repeats itself.
    """
    result: list[Suspect] = []
    axes: tuple[Axis, Axis] = ("sideways", "vertical")
    for axis in axes:
        causes = [c for c in diagnosis_rules().causes if c.axis == axis]
        fixed = sum(c.prior.chance or 0.0 for c in causes)
        left = 1 - fixed
        weights = []
        for cause in causes:
            prior = cause.prior.chance
            if prior is None:
                assert cause.prior.band is not None
                prior = left * band[cause.prior.band]
            weights.append(math.log(max(prior, 1e-9)) + sum(_speaks(cause, signs).values()))
        chances = np.exp(np.array(weights) - max(weights))
        chances /= chances.sum()
        ordered = sorted(zip(causes, chances.tolist(), strict=True), key=lambda pair: -pair[1])
        result += [_suspect(cause, chance, signs, causes) for cause, chance in ordered]
    return result


def without_lighter_front(found: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """The same suspects, none to be checked by a lighter front that is not to be had.

    Parameters
    ----------
    found : sequence of Suspect
        From `suspects`.

    Returns
    -------
    tuple of Suspect
        In the same order.
    """
    return tuple(
        replace(s, cause=s.cause.model_copy(update={"check": s.cause.check_lightest}))
        if s.cause.check_lightest
        else s
        for s in found
    )


def _speaks(cause: Cause, signs: Signs) -> dict[str, float]:
    """Log-likelihood of each sign seen, given a cause."""
    rules = diagnosis_rules()
    power = rules.value("repeat_weight")
    told: dict[str, float] = {}
    for name, values in signs.items():
        odds = cause.signs.get(name, rules.signs[name])
        logs = [math.log(max(odds[value], 1e-6)) for value in values]
        told[name] = sum(logs) / len(logs) * len(logs) ** power
    return told


def _suspect(cause: Cause, chance: float, signs: Signs, causes: list[Cause]) -> Suspect:
    """A cause with the signs that speak for and against it, against the usual odds."""
    rules = diagnosis_rules()
    speak: list[tuple[str, float]] = []
    for name, values in signs.items():
        if name not in cause.signs:
            continue
        value = max(set(values), key=values.count)
        ratio = cause.signs[name][value] / rules.signs[name][value]
        speak.append((f"{name}: {value}", ratio))
    good = tuple(text for text, ratio in speak if ratio > 1.25)
    bad = tuple(text for text, ratio in speak if ratio < 0.8)
    if "marks" in signs and cause.check_noted:
        cause = cause.model_copy(update={"check": cause.check_noted})
    return Suspect(cause, chance, good, bad)
