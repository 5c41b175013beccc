"""What the bare shafts say: arrows shot, why the one in question lands where it does, the band."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from shaftwright.answers.arrows.outlook import expect_sideways
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.result import Expect, Next
from shaftwright.answers.plan.tune import to_go_on_from
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.signs import (
    Cause,
    InQuestion,
    Signs,
    band_priors,
    causes,
    in_question,
    signs_of,
)
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import Band, stiffness_lb
from shaftwright.parameters import setting
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
    asked: InQuestion = field(metadata=kept(json=False))
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
    change = Change(then.do, then.kind, 0.0, "", True, then.expect, then.if_not)
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
    asked = in_question(learned, next(i for i, b in enumerate(learned.builds) if b is arrow.known))
    signs = signs_of(asked, learned, scenario.rig, scenario.entries)
    supply = float(stiffness_lb(asked.build.build)[0])
    band = band_priors(learned.without_own_shots(asked.index), supply)
    points = Levers(where, arrow).points()
    found = causes(signs, band, any(idea.amount < 0 for idea in points))
    dangers = where.dangers(arrow)
    distance = asked.last.look.distance_yd
    then = scenario.plan.next
    return Diagnosis(
        scenario, scenario.rig.name, *_bands(scenario), found, then.why,
        _change(arrow, then), then.kind in ("make_dozen", "finish") or bool(dangers), dangers,
        tuple(
            Reading(r.line, r.period, r.counted, r.contradicts, r.unexpected, r.seen_in, r.expected_in)
            for r in learned.readings
        ),
        scenario.warnings, then.cautions, arrow, asked, signs,
        expect_sideways(scenario, arrow.known.mismatch_lb, distance, where.bare, where.fletched),
    )  # fmt: skip


def arrow_of(scenario: Scenario) -> Arrow:
    """The arrow in question: the one `next` names where it was shot, else the one it goes on from."""
    where, then = scenario.where, scenario.plan.next
    shot = [a for a in where.here if a.ends]
    for arrow in sorted(shot, key=lambda a: (not a.now, repr(a.spec))):
        same = arrow.spec.shaft == then.shaft and arrow.spec.insert == then.insert
        length = (
            then.length_in is not None
            and abs(float(arrow.build.length_in[0]) - then.length_in) < 0.05
        )
        if same and length and then.point in (arrow.spec.point, arrow.spec.broadhead):
            return arrow
    return to_go_on_from(where)[0].arrow


def _change(arrow: Arrow, then: Next) -> Change:
    """How much the next thing changes, in its own unit."""
    amount, unit = 0.0, ""
    if then.kind == "cut" and then.length_in is not None:
        amount, unit = then.length_in - float(arrow.build.length_in[0]), "in"
    elif then.kind in ("shoot", "look_for_marks") and then.bare:
        amount, unit = float(then.bare), "bare shots"
    elif then.kind in ("plate", "nocking_point", "plunger", "brace"):
        unit = "setting"
    return Change(then.do, then.kind, amount, unit, then.kind != "cut", then.expect, then.if_not)
