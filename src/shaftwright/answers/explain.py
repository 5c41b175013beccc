"""The trace of a rig, at a build."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import Band, effective_weight, spine_band
from shaftwright.inference.trace import spine_trace
from shaftwright.parameters import Range, setting
from shaftwright.physics.normal import split_deviation, split_sds
from shaftwright.records.builds import Builds
from shaftwright.records.rig import Rig
from shaftwright.resources import table
from shaftwright.result import Result, kept, plain
from shaftwright.rules.load import RuleBook
from shaftwright.units import Interval

if TYPE_CHECKING:
    from shaftwright.answers.launch.seen import Seen


@dataclass(frozen=True)
class SizeUsed(Result):
    """A rule's size by the trade, by the launch model, and as the answers take it; see `Sizes`."""

    rule: str
    name: str
    case: str
    #: the trade's own, in the rule's unit
    trade: Range
    #: the launch model's, over random rigs, settings and laws of the string
    physics: Range
    #: its middle under each law of the string that finds a match
    by_law: dict[str, float]
    #: what is reckoned with: both as two studies
    used: Range
    #: half of what is used lies below
    median: float
    #: the trade's share in the most likely value
    trade_share: float
    #: standard deviation between trade and model
    between_sd: float


@dataclass(frozen=True)
class Explained(Answer):
    """A trace with what it was asked for."""

    #: the build the trace stands at
    builds: Builds = field(metadata=kept(json=False))
    effective: Interval = field(metadata=kept(json="effective_bow_weight_lb"))
    band: Band = field(metadata=kept(json=False))
    #: the tree, and the silent rules
    trace: dict[str, Any]
    #: whose sizes the rules take
    basis: str
    sizes_used: tuple[SizeUsed, ...]
    #: fields of the rig that are written down and change no spine, each with what it is for
    not_reckoned: tuple[str, ...] = ()
    #: why the build must not be drawn
    dangers: tuple[str, ...] = ()
    #: its launch, where a build was asked for; or why there is none
    seen: Seen | None = field(default=None, metadata=kept(json=False))
    no_launch: str | None = field(default=None, metadata=kept(json=False))

    def to_dict(self) -> dict[str, Any]:
        """With the band taken apart, and the launch in figures and in words."""
        band = plain(self.band)
        at = {key: band.pop(key) for key in ("length_in", "front_gr")}
        at["tail_gr"] = float(self.builds.tail_gr[0])
        more = {"at": at, "spine_band_mils": band, "warnings": list(self.question.warnings)}
        return {**super().to_dict(), **more, "launch": self._launch()}

    def _launch(self) -> dict[str, Any] | None:
        from shaftwright.answers.launch.seen import story

        if self.seen is None:
            why = self.no_launch
            return None if why is None else {"exit": None, "contacts": [], "story": [why]}
        found = self.seen.to_dict()
        return {"exit": found["exit"], "contacts": found["contacts"], "story": story(self.seen)}


def explain(asked: Scenario, builds: Builds | None = None) -> Explained:
    """Take the effective bow weight and the spine apart, at a build or at the shortest safe one."""
    at = asked.reference_build() if builds is None else builds
    demand = asked.demand(at)
    effective = effective_weight(demand, asked.belief)
    band = spine_band(demand, at, asked.belief, setting("matching.band_chance"))
    learned = effective.mid if asked.belief.learned else None
    more: dict[str, Any] = {} if builds is None else _of_build(asked, builds)
    return Explained(asked, at, effective, band, spine_trace(demand, asked.book, learned),
                     asked.book.basis, _sizes(asked.book), not_reckoned(asked.rig), **more)  # fmt: skip


def not_reckoned(rig: Rig) -> tuple[str, ...]:
    """What a rig writes down that changes no spine, as `tables/rig_fields.csv` says of every field."""
    written = dict(leaves(rig.as_written()))

    def counts(row: dict[str, str]) -> bool:
        name, _, value = row["only_when"].partition("=")
        return row["counts"] == "yes" and (
            not name or (name in written and value in ("", written[name]))
        )

    return tuple(
        f"{row['field']}: {row['says']}"
        for row in table("rig_fields")
        if row["field"] in written and not counts(row)
    )


def leaves(held: dict[str, Any], at: str = "") -> Iterator[tuple[str, Any]]:
    """Every field that is written down in nested ones, by its whole name."""
    for name, value in held.items():
        if isinstance(value, dict):
            yield from leaves(value, f"{at}{name}.")
        else:
            yield at + name, value


def _sizes(book: RuleBook) -> tuple[SizeUsed, ...]:
    return tuple(
        SizeUsed(code, rule.name, case, one.trade, one.physics, one.by_law, one.used,
                 _median(one.used), one.share, one.between)
        for (code, case), one in book.sizes.items()
        if (rule := book.find(code)) is not None
    )  # fmt: skip


def _median(span: Range) -> float:
    below, above = split_sds(span.value, span.low, span.high)
    return span.value + float(split_deviation(np.zeros(1), below, above)[0])


def _of_build(asked: Scenario, builds: Builds) -> dict[str, Any]:
    """Why it must not be drawn, and what the launch model sees of it or why it sees nothing."""
    from shaftwright.answers.build import dangers
    from shaftwright.answers.launch.seen import seen

    against = dangers(asked, builds)
    try:
        return {"dangers": against, "seen": seen(asked, builds)}
    except NoAnswer as error:
        return {"dangers": against, "no_launch": str(error)}
