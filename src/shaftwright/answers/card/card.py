"""The setup card: everything from which the bow can be set up again, and what is missing for that."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from shaftwright.answers.build import OneBuild, one_build
from shaftwright.answers.card.fields import arrow_values, measured_values, rig_values
from shaftwright.answers.card.proof import Proof, proofs
from shaftwright.answers.note.noting import arrow_named
from shaftwright.answers.plan.prove import made_dozen, quiver_label
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.inference.band import Band
from shaftwright.inference.evidence.periods import History
from shaftwright.inference.resolve import resolve_build
from shaftwright.limits import MATERIALS
from shaftwright.records.notebook import BraceReading, BuildSpec, Dozen
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.resources import measuring, table
from shaftwright.result import Result, kept, plain
from shaftwright.rules.sections import Caution, cautions_for
from shaftwright.units import length_told

SECTIONS = ("archer", "bow", "rest", "string", "arrow", "measured")
_NAMING = ("tune", "prove", "dozen", "done")
_BUILD = ("spine_mils", "length_in", "front_gr", "tail_gr", "total_gr", "gr_per_lb", "foc_pct", "speed_fps",
          "chance_match")  # fmt: skip


@dataclass(frozen=True)
class Line(Result):
    """One fact of the card."""

    section: str = field(metadata=kept(json=False))
    label: str
    value: str


@dataclass(frozen=True)
class Difference(Result):
    """One fact that is not as on the last card; empty where it was or is not there."""

    key: str
    label: str
    was: str
    now: str


@dataclass(frozen=True)
class OldCard:
    """A card saved earlier: its date, and key -> (label, value)."""

    date: str
    fields: dict[str, tuple[str, str]]


@dataclass(frozen=True)
class Card(Answer):
    """One setup card."""

    date: dt.date
    #: what is known, by its key
    fields: dict[str, Line]
    #: spines that suit, at the card's arrow where there is one
    band: Band
    #: the card's arrow looked at closely
    one: OneBuild | None = field(metadata=kept(json=False))
    #: the dozen as noted
    dozen: Dozen | None
    #: the line that orders the arrow again, once the dozen is made
    quiver_label: str | None
    broadheads_due: bool
    #: every test in the notebook, newest first
    broadheads: tuple[Proof, ...]
    #: what to measure so that the bow can be set up again
    missing: tuple[str, ...]
    last: OldCard | None = field(metadata=kept(json=False))
    differences: tuple[Difference, ...]
    #: gravest first
    cautions: tuple[Caution, ...]
    #: of the card itself; the notebook's are the scenario's
    warnings: tuple[str, ...]

    @property
    def proved(self) -> tuple[Proof, ...]:
        """The tests that prove the broadheads."""
        return tuple(proof for proof in self.broadheads if proof.proved)

    def lines(self, section: str) -> list[Line]:
        """What is known of one part."""
        return [line for line in self.fields.values() if line.section == section]

    def to_dict(self) -> dict[str, Any]:
        """With the arrow's figures."""
        build = None
        if self.one is not None:
            figures = plain(self.one.listed) | {"balance_in": self.one.mechanics.balance_in}
            build = {name: figures[name] for name in (*_BUILD, "balance_in")}
        return super().to_dict() | {
            "build": build, "band_at_build": build is not None, "broadheads_proved": bool(self.proved),
            "last_date": None if self.last is None else self.last.date,
            "cautions": [c.text for c in self.cautions],
            "warnings": [*self.question.warnings, *self.warnings],
        }  # fmt: skip


def card(
    asked: Scenario, date: dt.date, spec: BuildSpec | None = None, last: OldCard | None = None
) -> Card:
    """The card of a bow with the plan's arrow, or with one named on purpose; InputError if it cannot be."""
    rig, warnings = asked.rig, list[str]()
    history = History(rig, asked.entries, asked.before)
    now = tuple(e for i, e in enumerate(asked.entries) if not history.period(i))
    dozen = None if spec is not None else _dozen(asked)
    chosen = spec or (dozen.build if dozen is not None else _planned(asked))
    builds = None if chosen is None else resolve_build(chosen, asked.stock, "build options")
    one = None if builds is None else one_build(asked, builds, asked.stock)
    values = rig_values(rig) | arrow_values(chosen, one, now, asked.stock, dozen)
    values |= measured_values(asked, _braces(asked, history))
    values["measured.speed"] = _speed(asked, one, values.get("measured.speed", ""))
    fields = {
        row["key"]: Line(row["section"], row["label"], values[row["key"]])
        for row in table("card_fields") if values.get(row["key"])
    }  # fmt: skip
    at = asked.reference_build() if builds is None else builds
    if one is not None:
        warnings += [f"do not draw this arrow: {danger}" for danger in one.dangers]
    warnings += _brace_moved(rig, _braces(asked, history))
    return Card(
        asked, date, fields, asked.band(at),
        one, dozen, None if dozen is None else quiver_label(asked.where, dozen.build),
        asked.purpose_rule.broadheads, proofs(asked, history, chosen),
        _missing(rig, values, chosen), last, () if last is None else _differences(fields, last.fields),
        tuple(cautions_for(rig, asked.purpose, _materials(chosen, asked.stock))), tuple(warnings),
    )  # fmt: skip


def _dozen(asked: Scenario) -> Dozen | None:
    """The dozen that ends the plan."""
    if asked.plan.next.stage != "done":
        return None
    made = made_dozen(asked.where)
    return None if made is None else made[0]


def _planned(asked: Scenario) -> BuildSpec | None:
    """The arrow that the plan shoots or makes next, with the parts it was noted with."""
    then = asked.plan.next
    if then.stage not in _NAMING or then.shaft is None:
        return None
    named = arrow_named(asked.plan, asked.stock, asked.entries)
    if named is not None:
        return named.build
    words = asked.where.words
    shot = (a.spec for a in asked.where.here if words.shaft(a.spec) == then.shaft)
    return next((spec for spec in shot if spec.length_in == then.length_in), None)


def _materials(spec: BuildSpec | None, stock: Stock | None) -> set[str]:
    """Material of the card's shaft; every one that may be meant where it is not known."""
    if spec is not None and stock is not None and spec.shaft is not None:
        found = {str(i.material) for i in stock.of_kind("shaft") if i.item == spec.shaft}
        if found:
            return found
    return {*MATERIALS}


def _speed(asked: Scenario, one: OneBuild | None, read: str) -> str:
    """What was read, and what the card's arrow does by it."""
    if one is None or not read:
        return read
    fps = one.listed.speed_fps
    return f"{read}; the card's arrow by that {fps.mid:.0f} fps ({fps.low:.0f} to {fps.high:.0f})"


def _braces(asked: Scenario, history: History) -> list[BraceReading]:
    """Brace heights read of the string and the limbs as they stand, the last one last."""
    moved = [i for i, _, kind in history.changes if kind in ("brace", "string")]
    since = max(moved, default=-1)
    return [
        e for i, e in enumerate(asked.entries)
        if isinstance(e, BraceReading) and i > since and not history.period(i)
    ]  # fmt: skip


def _brace_moved(rig: Rig, read: list[BraceReading]) -> list[str]:
    """Whether the string stands otherwise than the rig file says."""
    stated = rig.bow.brace_height_in
    if not read or not isinstance(stated, float):
        return []
    if abs(read[-1].brace_in - stated) <= measuring("held_within_in") + 1e-9:
        return []
    return [
        f"brace height is {length_told(stated, rig.units)} in the rig file and was last read at "
        f"{length_told(read[-1].brace_in, rig.units)}: which one is right?"
    ]


def _missing(rig: Rig, values: dict[str, str], spec: BuildSpec | None) -> tuple[str, ...]:
    """What stands between the card and the same bow set up again, as things to do."""
    due = {
        "yes": True,
        "shelf": rig.bow.rest in ("shelf", "elevated", "unknown"),
        "plunger": rig.bow.rest == "plunger",
        "silencers": bool(rig.string.silencers_gr),
        "named": spec is not None and not spec.by_numbers,
    }
    # without an arrow there is one thing to do, not eight
    alone = ("arrow.shaft", "arrow.weighed")
    found = []
    for row in table("card_fields"):
        key, value = row["key"], values.get(row["key"], "")
        needless = row["section"] == "arrow" and spec is None and key not in alone
        needless |= key == "arrow.point" and bool(values.get("arrow.broadhead"))
        unknown = not value or "unknown" in value or "not named" in value
        if due.get(row["needed"], False) and unknown and not needless:
            found.append(f"{row['label']}: {row['how']}")
    return tuple(found)


def _differences(
    fields: dict[str, Line], old: dict[str, tuple[str, str]]
) -> tuple[Difference, ...]:
    """Facts that changed, came or went, in the card's order."""
    new = {key: (line.label, line.value) for key, line in fields.items()}
    keys = [row["key"] for row in table("card_fields")]
    found = []
    for key in [*keys, *(k for k in old if k not in keys)]:
        (was_label, was), (label, now) = old.get(key, ("", "")), new.get(key, ("", ""))
        if was != now:
            found.append(Difference(key, label or was_label, was, now))
    return tuple(found)
