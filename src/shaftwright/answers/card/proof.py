"""Broadheads: which tests in a notebook prove them for the rig as it stands."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.prove import STRAIGHT
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.evidence.periods import History
from shaftwright.records.notebook import Broadhead, BuildSpec
from shaftwright.records.rig import Rig
from shaftwright.result import Result
from shaftwright.units import inches

_SAME_IN = 1 / 16
_SAME_GR = 5.0


@dataclass(frozen=True)
class Proof(Result):
    """One test of broadheads against field points."""

    date: dt.date | None
    distance_yd: float
    #: the arrow in a line
    arrow: str
    #: all tests of this arrow together, as the plan takes them; None where nothing tells
    together: bool | None
    #: centre of the broadheads less that of the field points, right and up
    offset_in: tuple[float, float] | None
    #: for the bow as it stands, with the card's arrow
    proved: bool
    #: why not, where it does not
    why: str


def proofs(asked: Scenario, history: History, spec: BuildSpec | None) -> tuple[Proof, ...]:
    """Every broadhead test, newest first, and whether it still holds.

    `spec` is the card's arrow. Whether they land together is the plan's word, all tests of an arrow put
    together; only of a test that it knows nothing of the archer's own is taken.
    """
    told = [(a, [r.entry for r in a.heads]) for a in asked.where.here if a.now and a.heads]
    found = []
    for index, entry in reversed(tuple(enumerate(asked.entries))):
        if isinstance(entry, Broadhead):
            changed = bool(history.period(index) or history.setting(index))
            of = next((arrow for arrow, heads in told if entry in heads), None)
            together = entry.together if of is None else of.heads_together
            many = 1 if of is None else len(of.heads)
            why = _why_not(asked.rig, entry, spec, changed, together, many) or _why_not_bare(
                asked, of
            )
            found.append(Proof(
                entry.date, entry.distance_yd, _arrow(entry.build), together, _offset(entry), not why, why
            ))  # fmt: skip
    return tuple(found)


def _why_not(
    rig: Rig, entry: Broadhead, spec: BuildSpec | None, changed: bool, together: bool | None, many: int
) -> str:  # fmt: skip
    """Why a test does not prove the bow; empty when it does."""
    state = entry.rig_state
    other = state is not None and state.limbs_id is not None and state.limbs_id != rig.bow.limbs_id
    if changed or (other and rig.bow.limbs_id is not None):
        return "before the bow was changed"
    if together is False:
        taken = f"all {many} tests taken together " if many > 1 else ""
        return f"{taken}they landed apart"
    if spec is not None and not _same(spec, entry.build):
        return "with another arrow"
    if together is None:
        return "write together: true if they land near enough"
    return ""


def _why_not_bare(asked: Scenario, arrow: Arrow | None) -> str:
    """Why broadheads prove nothing of an arrow by its bare shafts; empty when those lie straight."""
    standing = None if arrow is None else asked.where.standing(arrow)
    if arrow is None or standing in STRAIGHT:
        return ""
    if not arrow.ends:
        return "no bare shaft of it was shot"
    if standing == "dangerous":
        return "it must not be drawn"
    touched = "mark the bow" if standing == "contact" else "do not lie straight"
    return f"its bare shafts {touched}"


def _same(a: BuildSpec, b: BuildSpec) -> bool:
    """Whether two are the same arrow but for a field point in place of a broadhead."""
    return (
        (a.shaft, a.spine_mils, a.insert, a.collar) == (b.shaft, b.spine_mils, b.insert, b.collar)
        and len({a.broadhead, b.broadhead} - {None}) < 2
        and _near(a.length_in, b.length_in, _SAME_IN) and _near(a.front_gr, b.front_gr, _SAME_GR)
    )  # fmt: skip


def _near(a: float | None, b: float | None, within: float) -> bool:
    return a == b if a is None or b is None else abs(a - b) <= within + 1e-9


def _offset(entry: Broadhead) -> tuple[float, float] | None:
    if not (entry.broadhead and entry.fletched):
        return None
    away = np.mean(entry.broadhead, axis=0) - np.mean(entry.fletched, axis=0)
    return float(away[0]), float(away[1])


def _arrow(spec: BuildSpec) -> str:
    """A build in a line, by its names or its numbers."""
    if spec.by_numbers:
        length = inches(spec.length_in or 0.0)
        return f"spine {spec.spine_mils:g}, {length}, {spec.front_gr:g} gr up front"
    cut = None if spec.length_in is None else inches(spec.length_in)
    names = (spec.shaft, cut, spec.point, spec.broadhead, spec.insert, spec.collar)
    return ", ".join(part for part in names if part)
