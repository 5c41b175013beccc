"""The trace of a rig, at a build."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import Band, Spread, effective_weight, spine_band
from shaftwright.inference.trace import spine_trace
from shaftwright.records.builds import Builds
from shaftwright.rules.purposes import setting


@dataclass(frozen=True)
class Explained:
    """A trace with what it was asked for.

    Attributes
    ----------
    question : Scenario
        The rig and what is believed.
    builds : Builds
        The build the trace stands at.
    effective : Spread
        Effective bow weight [lb].
    band : Band
        Spine band there.
    trace : dict
        The tree, and the silent rules.
    """

    question: Scenario
    builds: Builds
    effective: Spread
    band: Band
    trace: dict[str, Any]

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `explain`."""
        return {
            "format": 1,
            "rig": self.question.rig.name,
            "purpose": self.question.purpose,
            "at": {"length_in": self.band.length_in, "front_gr": self.band.front_gr,
                   "tail_gr": float(self.builds.tail_gr[0])},
            "effective_bow_weight_lb": self.effective.__dict__,
            "spine_band_mils": {"low": self.band.low, "mid": self.band.mid, "high": self.band.high,
                                "chance": self.band.chance},
            "trace": self.trace,
            "warnings": list(self.question.warnings),
        }  # fmt: skip


def explain(asked: Scenario, builds: Builds | None = None) -> Explained:
    """Take the effective bow weight and the spine apart.

    Parameters
    ----------
    asked : Scenario
        The rig and what is believed.
    builds : Builds, optional
        Of length 1; the shortest safe build of the purpose by default.

    Returns
    -------
    Explained
        With the trace.
    """
    at = asked.reference_build() if builds is None else builds
    demand = asked.demand(at)
    effective = effective_weight(demand, asked.belief)
    band = spine_band(demand, at, asked.belief, setting("band_chance"))
    learned = effective.mid if asked.belief.learned else None
    return Explained(asked, at, effective, band, spine_trace(demand, asked.book, learned))
