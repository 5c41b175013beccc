"""What the notebook shows of the build in question, put into the closed list of signs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from shaftwright.answers.arrows.shot import Arrow, End
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array
from shaftwright.inference.evidence.learn import Learned
from shaftwright.inference.evidence.look import Look
from shaftwright.inference.rig_facts import usual
from shaftwright.parameters import setting
from shaftwright.records.notebook import AnyEntry, BraceReading, Change
from shaftwright.records.rig import Rig
from shaftwright.result import Result, kept
from shaftwright.rules.sections import Axis, diagnosis_rules
from shaftwright.rules.sections import Cause as Rule

Signs = dict[str, list[str]]


def signs_of(scenario: Scenario, arrow: Arrow, ends: Sequence[End]) -> Signs:
    """Every sign seen of an arrow, with one value for each of these ends that shows it."""
    learned, rig = scenario.known, scenario.rig
    found: Signs = {}

    def add(name: str, value: str | None) -> None:
        if value is not None:
            found.setdefault(name, []).append(value)

    sd, within = float(learned.bare_sd.mean()), arrow.within_in
    group = setting("diagnosis.group_bare")
    for end in ends:
        entry, look = end.entry, end.reading.look
        add("impact", _impact(look, within))
        add("tail", look.tail)
        if look.tail in ("stiff", "weak") and (
            look.disagree or look.tail in (look.side, look.reads)
        ):
            add("agreement", "disagree" if look.disagree else "agree")
        if len(look.bare) and not look.void:
            add("height", _off(look, 1, within, "high", "low"))
        add("tail_up", look.tail_up)
        add("marks", None if entry.marks == "not_looked" else entry.marks)
        add("taped", "yes" if entry.taped else "no")
        told = entry.cant_deg is not None or rig.bow.cant_deg is not None
        add("cant_told", "yes" if told else "no")
        if look.tail is not None:
            add("tail_seen", "in_flight" if look.tail_seen else "in_butt")
        if look.void or len(look.bare) >= group:
            add("groups", "scattered" if look.void else "together")
        if len(look.bare) >= group:
            apart = np.abs(look.bare[:, 0] - np.median(look.bare[:, 0])).max()
            add("odd_one", "yes" if apart > setting("diagnosis.odd_one_sd") * sd else "no")
    add("brace", _brace(rig))
    add("string", _string(scenario.entries))
    add("stiffer_lands", _stiffer_lands(scenario.where.here, arrow))
    add("nock_moved", _nock_moved(learned, arrow, ends[-1].reading.look.tail_up))
    return found


def _impact(look: Look, within: float) -> str | None:
    if look.void:
        return None
    if len(look.bare):
        return _off(look, 0, within, "stiff", "weak")
    return "inside" if look.reads == "straight" else look.reads


def _off(look: Look, axis: int, within: float, more: str, less: str) -> str:
    """Which way the bare ones lie off; `inside` where that says nothing."""
    assert look.centre is not None
    off = float(look.centre[axis])
    return "inside" if abs(off) < within else more if off > 0 else less


def _brace(rig: Rig) -> str | None:
    brace = rig.bow.brace_height_in
    if not isinstance(brace, float):
        return None
    least = usual("brace_height_in", rig.bow.kind, "low")
    return "low" if brace < least - setting("diagnosis.brace_low_in") else "usual"


def _string(entries: Sequence[AnyEntry]) -> str | None:
    """Whether the last two brace readings of the present string fell, its twists unchanged."""
    last_change = max((i for i, e in enumerate(entries) if isinstance(e, Change)), default=-1)
    readings = [e for e in entries[last_change + 1 :] if isinstance(e, BraceReading)]
    same = [
        r for r in readings if (r.string, r.twists) == (readings[-1].string, readings[-1].twists)
    ]
    if len(same) < 2:
        return None
    fell = same[-2].brace_in - same[-1].brace_in
    return "creeping" if fell >= setting("diagnosis.creep_in") - 1e-9 else "steady"


def _stiffer_lands(here: Sequence[Arrow], arrow: Arrow) -> str | None:
    """Whether the clearly stiffer of two arrows landed more to the stiff side, as it should."""
    told = None
    for other in here:
        gap = float(other.known.before_lb.mean() - arrow.known.before_lb.mean())
        seen = None not in (arrow.offset_in, other.offset_in)  # words are no inches
        if not seen or abs(gap) < setting("diagnosis.stiffer_by_lb"):
            continue
        further = (other.side_in or 0.0) - (arrow.side_in or 0.0)
        if further * math.copysign(1, gap) < -arrow.within_in:
            return "less_stiff"
        told = "more_stiff"
    return told


def _nock_moved(learned: Learned, arrow: Arrow, tail_up: str | None) -> str | None:
    """Whether moving the nocking point left the tails as high as before."""
    point = arrow.known.rig.bow.nocking_point
    if point is None or tail_up is None:
        return None
    told = None
    for reading in learned.readings:
        other = learned.builds[reading.build]
        if reading.period or repr(other.spec) != repr(arrow.known.spec):
            continue
        theirs = other.rig.bow.nocking_point
        if theirs is None or theirs.above_square_in == point.above_square_in:
            continue
        same = reading.look.tail_up == tail_up == "high"
        told = "no_change" if same else told or "changed"
    return told


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
