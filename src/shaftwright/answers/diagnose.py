"""What the bare shafts say: why the one in question lands where it does, and how the tuning went."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np

from shaftwright.answers.arrows.outlook import expect_sideways
from shaftwright.answers.arrows.shot import Arrow, End
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.result import Expect, Next
from shaftwright.answers.plan.tune import to_go_on_from
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.signs import Cause, Signs, band_priors, causes, signs_of
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import Band, stiffness_lb
from shaftwright.inference.evidence import summary
from shaftwright.inference.evidence.learn import Learned
from shaftwright.parameters import setting
from shaftwright.physics import normal
from shaftwright.records.notebook import BareShaft, Broadhead, BuildSpec
from shaftwright.result import Result, kept


@dataclass(frozen=True)
class Reading(Result):
    """One entry held against what all of them together let expect, stiffward at 20 yd [in]."""

    line: int
    period: int
    counted: bool
    contradicts: bool
    unexpected: bool
    seen_stiffward_in: float | None = field(metadata=kept(digits=2))
    expected_stiffward_in: float = field(metadata=kept(digits=2))


@dataclass(frozen=True)
class Change(Result):
    """The one next thing as a change of the arrow in question."""

    what: str
    kind: str
    amount: float = field(metadata=kept(digits=4))
    unit: str
    reversible: bool
    expect: Expect | None
    if_wrong: str


@dataclass(frozen=True)
class NothingShot(Result):
    """A bow from which no bare shaft was shot yet: the band as it stands, and nothing to read."""

    scenario: Scenario = field(metadata=kept(json=False))
    rig: str
    band_before: Band
    band_after: Band
    causes: tuple[Cause, ...]
    verdict: str
    next_change: Change
    #: whether this arrow is not to be changed any more, or not to be drawn any more
    stop: bool
    dangers: tuple[str, ...]
    readings: tuple[Reading, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Diagnosis(NothingShot):
    """What the bare shafts say."""

    #: the arrow in question, which `next` goes on from
    arrow: Arrow = field(metadata=kept(json=False))
    #: of it those of one make, taped or not
    ends: tuple[End, ...] = field(metadata=kept(json=False))
    signs: Signs = field(metadata=kept(json=False))
    #: where the next end of the same arrow should land
    expect_now: Expect = field(metadata=kept(json=False))

    @property
    def plan(self) -> Any:
        """The plan behind it."""
        return self.scenario.plan


def nothing_shot(scenario: Scenario) -> NothingShot:
    """The answer before the first bare shaft."""
    then = scenario.plan.next
    change = Change(then.do, then.kind, 0.0, "", then.kind != "cut", then.expect, then.if_not)
    return NothingShot(
        scenario, scenario.rig.name, *_bands(scenario), (), then.why, change, False, (), (),
        scenario.warnings, then.cautions,
    )  # fmt: skip


def _bands(scenario: Scenario) -> tuple[Band, Band]:
    """By the rules alone, and with all that was learned."""
    return scenario.band(belief=scenario.prior), scenario.band()


def diagnose(scenario: Scenario) -> Diagnosis:
    """Read a notebook's bare shafts; NoAnswer where none was shot with the bow as it stands."""
    where = scenario.where
    learned = scenario.learned
    shot = tuple(a for a in where.here if a.ends)
    if learned is None or not shot:
        told = "; ".join(scenario.warnings)
        raise NoAnswer(
            "no bare shaft in this notebook was shot with the bow as it stands: shoot "
            f"{setting('diagnosis.fewest_fletched'):g} fletched and "
            f"{setting('diagnosis.fewest_bare'):g} bare at "
            f"{setting('diagnosis.near_yd'):g} yd and note them" + (f" ({told})" if told else "")
        )
    arrow = arrow_of(scenario)
    index = next(i for i, build in enumerate(learned.builds) if build is arrow.known)
    ends = tuple(e for e in arrow.ends if e.reading.build == index)
    signs = signs_of(scenario, arrow, ends)
    supply = float(stiffness_lb(arrow.known.build)[0])
    band = band_priors(learned.without_own_shots(index), supply)
    points = Levers(where, arrow).points()
    found = causes(signs, band, any(idea.amount < 0 for idea in points))
    dangers = where.dangers(arrow)
    then, distance = scenario.plan.next, ends[-1].entry.distance_yd
    return Diagnosis(
        scenario, scenario.rig.name, *_bands(scenario), found, then.why,
        _change(scenario, arrow, then), then.kind in ("make_dozen", "finish") or bool(dangers), dangers,
        tuple(
            Reading(r.line, r.period, r.counted, r.contradicts, r.unexpected, r.seen_in, r.expected_in)
            for r in learned.readings
        ),
        scenario.warnings, then.cautions, arrow, ends, signs,
        expect_sideways(scenario, arrow.known.mismatch_lb, distance, where.bare, where.fletched),
    )  # fmt: skip


def arrow_of(scenario: Scenario) -> Arrow:
    """The arrow in question: the one `next` names where it was shot, else the one it goes on from."""
    where, then = scenario.where, scenario.plan.next
    shot = [a for a in where.here if a.ends]
    for arrow in sorted(shot, key=lambda a: (not a.now, repr(a.spec))):
        same = arrow.spec.shaft == then.shaft and arrow.spec.insert == then.insert
        length = then.length_in is not None and abs(arrow.length_in - then.length_in) < 0.05
        if same and length and then.point in (arrow.spec.point, arrow.spec.broadhead):
            return arrow
    return to_go_on_from(where)[0].arrow


def _change(scenario: Scenario, arrow: Arrow, then: Next) -> Change:
    """How much the next thing changes, in its own unit."""
    amount, unit = 0.0, ""
    parts = [
        (scenario.item(getattr(then, role)), scenario.item(getattr(arrow.spec, role)))
        for role in ("point", "insert")
    ]
    if then.kind in ("point", "insert") and all(new and old for new, old in parts):
        amount, unit = sum(new.grains - old.grains for new, old in parts if new and old), "gr"
    elif then.kind == "cut" and then.length_in is not None:
        amount, unit = then.length_in - arrow.length_in, "in"
    elif then.kind in ("shoot", "look_for_marks") and then.bare:
        amount, unit = float(then.bare), "bare shots"
    elif then.kind in ("plate", "nocking_point", "plunger", "brace"):
        unit = "setting"
    return Change(then.do, then.kind, amount, unit, then.kind != "cut", then.expect, then.if_not)


#: every end costs a belief of its own; of more, the earlier ones are one row
MOST_ENDS = 6


@dataclass(frozen=True)
class Step:
    """One end with the bow as it stands, and what was believed once it was shot."""

    build: BuildSpec
    date: date | None
    #: the bare centre from the fletched one at 20 yd, + right, and half the range that holds it with
    #: the chance of the band; None where only words tell [in]
    offset_in: float | None
    doubt_in: float | None
    #: the archer's own word
    reads: str | None
    #: whether it can prove something: far enough, enough shots, no marks
    fair: bool
    band: Band


@dataclass(frozen=True)
class Progress:
    """A tuning from before its first shot to now."""

    before: Band
    #: shots of this bow before it was changed, or ends before those of `steps`, and the band after them
    earlier: int
    started: Band
    steps: tuple[Step, ...]
    #: what counts as straight at 20 yd [in]
    within_in: float
    units: str
    #: whether spines are told in pounds, as wood is marked
    in_pounds: bool


def progress(asked: Scenario) -> Progress | None:
    """The ends shot with the bow as it stands, in the order they were noted; None where there are none."""
    learned = asked.learned
    ends = {id(end.reading): end for arrow in asked.where.here for end in arrow.ends}
    if learned is None or not ends:
        return None
    shot = sorted((r for r in learned.readings if r.period == 0), key=lambda r: r.line)
    places = [place for place, reading in enumerate(shot) if id(reading) in ends][-MOST_ENDS:]
    began = _without(asked, shot[places[0] :])
    bands = [_without(asked, shot[place:]).band() for place in places[1:]] + [asked.band()]
    return Progress(
        asked.band(belief=asked.prior),
        sum(isinstance(e, BareShaft | Broadhead) for e in began.entries), began.band(),
        tuple(_step(ends[id(shot[p])], learned, band) for p, band in zip(places, bands, strict=True)),
        asked.where.within, asked.rig.units, asked.only_wood,
    )  # fmt: skip


def _without(asked: Scenario, later: Sequence[summary.Reading]) -> Scenario:
    """The bow as it stands, as if some of what was shot from it had not been."""
    gone = {id(reading.entry) for reading in later}
    both = zip(asked.entries, asked.lines, strict=True)
    kept = [(entry, line) for entry, line in both if id(entry) not in gone]
    return replace(asked, entries=tuple(e for e, _ in kept), lines=tuple(line for _, line in kept))


def _step(end: End, learned: Learned, band: Band) -> Step:
    look, offset, doubt = end.reading.look, end.seen_right_in, None
    if offset is not None:
        groups: Sequence[tuple[np.ndarray, int]] = (
            (learned.bare_sd, len(look.bare)), (learned.fletched_sd, max(len(look.fletched), 1)),
            (learned.shift_sd, 1),
        )  # fmt: skip
        variance = sum(float(np.square(sd).mean()) / shots for sd, shots in groups)
        doubt = float(normal.quantile((1 + band.chance) / 2)) * math.sqrt(variance)
    entry = end.entry
    return Step(entry.build, entry.date, offset, doubt, entry.reads, end.fair, band)
