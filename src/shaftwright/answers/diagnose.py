"""Reading bare shafts: why they land where they land, and the one thing to change next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from shaftwright.answers.diagnose_causes import (
    Suspect,
    band_priors,
    suspects,
    without_lighter_front,
)
from shaftwright.answers.diagnose_change import Expect, grains_off
from shaftwright.answers.diagnose_danger import dangers_of, lighter_front_at_hand
from shaftwright.answers.diagnose_decide import decide
from shaftwright.answers.diagnose_decision import Decision
from shaftwright.answers.diagnose_signs import InQuestion, Signs, in_question, signs_of
from shaftwright.answers.scenario import rules_for
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import Band, spine_band, stiffness_lb
from shaftwright.inference.belief import prior_belief
from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence import Learned, learn
from shaftwright.inference.rig_facts import SpeedReading, shortest_safe_length_in
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import purposes, setting


@dataclass(frozen=True)
class Diagnosis:
    """What the bare shafts say.

    Attributes
    ----------
    rig : Rig
        The rig as it stands.
    learned : Learned
        Belief, readings and warnings.
    asked : InQuestion
        The build shot last.
    signs : dict
        Signs seen.
    suspects : tuple of Suspect
        Causes with chances, likeliest first, sideways before vertical.
    decision : Decision
        The one next thing.
    band_before, band_after : Band
        At the shortest safe length and the purpose's usual front mass.
    grains : tuple of float
        Middle half of how much front mass the build is off, + too stiff [gr].
    expect_now : Expect
        Where the next group of the same build should land.
    """

    rig: Rig
    learned: Learned
    asked: InQuestion
    signs: Signs
    suspects: tuple[Suspect, ...]
    decision: Decision
    band_before: Band
    band_after: Band
    grains: tuple[float, float]
    expect_now: Expect

    def as_dict(self) -> dict[str, Any]:
        """The document of `bareshaft --json`."""
        decision = self.decision
        return {
            "format": 1,
            "rig": self.rig.name,
            "band_before": _band_dict(self.band_before),
            "band_after": _band_dict(self.band_after),
            "causes": [
                {"code": s.cause.code, "label": s.cause.label, "chance": round(s.chance, 4),
                 "axis": s.cause.axis, "signs_for": list(s.signs_for),
                 "signs_against": list(s.signs_against), "check": s.cause.check}
                for s in self.suspects
            ],
            "verdict": decision.verdict,
            "next_change": {
                "what": decision.what, "amount": decision.amount, "unit": decision.unit,
                "reversible": decision.reversible, "kind": decision.kind,
                "expect": {"low_in": round(decision.expect.low_in, 2),
                           "high_in": round(decision.expect.high_in, 2),
                           "axis": decision.expect.axis,
                           "chance": decision.expect.chance,
                           "distance_yd": decision.expect.distance_yd},
                "if_wrong": decision.if_wrong,
            },
            "stop": decision.stop,
            "dangers": list(decision.dangers),
            "readings": [
                {"line": r.line, "period": r.period, "counted": r.counted,
                 "contradicts": r.contradicts, "unexpected": r.unexpected,
                 "seen_stiffward_in": r.seen_in, "expected_stiffward_in": r.expected_in}
                for r in self.learned.readings
            ],
            "warnings": list(self.learned.warnings),
            "cautions": list(decision.cautions),
        }  # fmt: skip


def _band_dict(band: Band) -> dict[str, float]:
    return {
        "low": band.low, "mid": band.mid, "high": band.high, "chance": band.chance,
        "length_in": band.length_in, "front_gr": band.front_gr,
    }  # fmt: skip


def diagnose(
    rig: Rig, entries: Sequence[AnyEntry], stock: Stock | None = None,
    before: Rig | None = None, lines: Sequence[int] = (), speed: SpeedReading | None = None,
    book: RuleBook | None = None, learned: Learned | None = None,
) -> Diagnosis:  # fmt: skip
    """Read a notebook's bare shafts.

    Parameters
    ----------
    rig : Rig
        The rig as it stands.
    entries : sequence
        The notebook's entries in file order.
    stock : Stock, optional
        Parts in hand and to be bought.
    before : Rig, optional
        The rig with the old limbs.
    lines : sequence of int
        Line of each entry.
    speed : SpeedReading, optional
        What a chronograph said.
    book : RuleBook, optional
        The shipped rules by default, trade and launch model combined.
    learned : Learned, optional
        What these entries taught, where that is known already.

    Returns
    -------
    Diagnosis
        Causes with chances, and the one next thing.

    Raises
    ------
    NoAnswer
        No bare shaft was shot with the bow as it stands.
    """
    book = book or rules_for(rig)
    prior = prior_belief(book)
    learned = learned or learn(rig, book, prior, entries, stock, speed, before, lines)
    asked = in_question(learned)
    if asked is None:
        told, rules = "; ".join(learned.warnings), diagnosis_rules()
        raise NoAnswer(
            "no bare shaft in this notebook was shot with the bow as it stands: shoot "
            f"{rules.value('fewest_fletched'):g} fletched and {rules.value('fewest_bare'):g} bare at "
            f"{rules.value('near_yd'):g} yd and note them" + (f" ({told})" if told else "")
        )
    signs = signs_of(asked, learned, rig, entries)
    own = float(stiffness_lb(asked.build.build)[0])
    band = band_priors(learned.without_own_shots(asked.index), own)
    found = tuple(suspects(signs, band))
    if not lighter_front_at_hand(asked, rig, stock, book):
        found = without_lighter_front(found)
    short, perils = dangers_of(asked, learned, rig, book)
    decision, now = decide(asked, learned, found, rig, stock, book, speed, short, perils)
    length = shortest_safe_length_in(rig, purposes().purposes[rig.purpose])
    front = purposes().purposes[rig.purpose].usual_front_gr
    reference = builds_by_numbers(None, length, front)
    demand = demand_of(rig, reference, book, speed)
    chance = setting("band_chance")
    return Diagnosis(
        rig, learned, asked, signs, found, decision, spine_band(demand, reference, prior, chance),
        spine_band(demand, reference, learned.belief, chance),
        grains_off(asked, learned, book, speed), now,
    )  # fmt: skip
