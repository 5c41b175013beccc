"""The sheet as data: rows, and where every outcome leads."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from shaftwright.answers.plan.result import Next
from shaftwright.answers.scenario import Answer
from shaftwright.result import Result, kept

Side = Literal["stiff", "weak", "straight"]


@dataclass(frozen=True)
class Way(Result):
    """What one interval of the bare centre leads to."""

    side: Side
    #: from and to, aside of the fletched centre at 20 yd, without sign
    from_in: float = field(metadata=kept(digits=2))
    to_in: float = field(metadata=kept(digits=2))
    #: where to go on; None where the sheet ends
    row: int | None
    #: what of the arrow changes; where it ends, what to do then
    do: str
    chance: float = field(metadata=kept(digits=3))
    #: the step of the plan that it is
    then: Next = field(metadata=kept(json=False), repr=False)


@dataclass(frozen=True)
class Row(Result):
    """One arrow as it is shot, and where every outcome leads."""

    #: of the row, from 1
    number: int
    #: the arrow as it is shot
    shaft: str
    #: of the shaft
    length_in: float
    point: str | None
    insert: str | None
    front: str
    #: settings of the bow that differ from those at the start, in words
    settings: tuple[str, ...]
    distance_yd: float
    #: ends of this arrow shot before from as far: the row is read at the middle of them and this one
    ends_before: int
    #: ends of this arrow in the notebook: they count too
    ends_noted: int
    #: how likely one gets here
    chance: float = field(metadata=kept(digits=3))
    #: what counts as straight, at 20 yd
    within_in: float = field(metadata=kept(digits=2))
    #: an interval each
    ways: tuple[Way, ...]
    #: the entry of an end of it, hits left out, and the change of the bow before it
    entry: dict[str, Any] = field(metadata=kept(json=False))
    change: dict[str, Any] | None = field(metadata=kept(json=False))
    then: Next = field(metadata=kept(json=False), repr=False)

    @property
    def own(self) -> tuple[object, ...]:
        """The arrow, how far, and how the bow is set for it: its ends are read together."""
        return self.shaft, self.length_in, self.point, self.insert, self.distance_yd, *self.settings

    def at(self, right_in: float, side: str) -> Way:
        """Where a centre so far to one side leads; past the last line, once no marks were found, the last."""
        off = abs(right_in)
        if off <= self.within_in:
            side = "straight"
        own = [w for w in self.ways if w.side == side]
        return next((w for w in own if off <= w.to_in + 1e-9), own[-1])


@dataclass(frozen=True)
class Sheet(Answer):
    """The whole afternoon."""

    #: what is taken along
    brought: tuple[str, ...]
    #: the first row is number 1
    rows: tuple[Row, ...]
    #: beyond this, or sideways in the butt: stop
    stop_in: float
    #: higher or lower than this: the nocking point first
    height_in: float = field(metadata=kept(digits=2))
    ends: int
    #: where a stiff and a weak bare shaft lands: the one place where hands differ
    stiff: str
    weak: str
    #: looked at after every end, before the row is read
    gates: tuple[str, ...]
    cautions: tuple[str, ...]
