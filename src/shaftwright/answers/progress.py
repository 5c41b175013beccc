"""How a tuning went: where the bare ones landed, end by end, and how the band narrowed with each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from shaftwright.answers.arrows.shot import End
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import Band
from shaftwright.inference.evidence.learn import Learned
from shaftwright.inference.evidence.summary import Reading
from shaftwright.physics import normal
from shaftwright.records.notebook import BareShaft, Broadhead, BuildSpec

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


def _without(asked: Scenario, later: Sequence[Reading]) -> Scenario:
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
