"""The setup card: everything from which the rig can be built again, and what is missing for that."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shaftwright.answers.card_fields import arrow_values, measured_values, rig_values
from shaftwright.answers.card_proof import Proof, proofs
from shaftwright.answers.choose import choose
from shaftwright.answers.one import OneBuild, one_build
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import InputError
from shaftwright.inference.band import Band, spine_band
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.speed import speeds_fps
from shaftwright.measure.sweep import sixteenths
from shaftwright.measure.values import number
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import (
    AnyEntry,
    BareShaft,
    BraceReading,
    Broadhead,
    BuildSpec,
    Change,
)
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.resources import table
from shaftwright.rules.cautions import Caution, cautions_for
from shaftwright.rules.purposes import setting

SECTIONS = ("archer", "bow", "rest", "string", "arrow", "measured")


@dataclass(frozen=True)
class Line:
    """One fact of the card; `value` is empty where it is not known."""

    key: str
    section: str
    label: str
    value: str


@dataclass(frozen=True)
class Difference:
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
class Card:
    """One setup card.

    Attributes
    ----------
    question : Scenario
        Rig, purpose and belief.
    date : datetime.date
        Of the card.
    lines : tuple of Line
        Facts that are known, section by section.
    band : Band
        Spines that suit, at the card's own build where there is one.
    build_named : bool
        Whether the band stands at the card's build.
    one : OneBuild or None
        The card's build, looked at closely.
    broadheads : tuple of Proof
        Every broadhead test in the notebook, newest first.
    broadheads_due : bool
        Whether the purpose takes broadheads.
    missing : tuple of str
        What to measure so that the rig can be rebuilt.
    last : OldCard or None
        The card it is held against.
    differences : tuple of Difference
        Against the last card.
    cautions : tuple of Caution
        Gravest first.
    warnings : tuple of str
        What does not fit together.
    """

    question: Scenario
    date: dt.date
    lines: tuple[Line, ...]
    band: Band
    build_named: bool
    one: OneBuild | None
    broadheads: tuple[Proof, ...]
    broadheads_due: bool
    missing: tuple[str, ...]
    last: OldCard | None
    differences: tuple[Difference, ...]
    cautions: tuple[Caution, ...]
    warnings: tuple[str, ...]

    @property
    def proved(self) -> tuple[Proof, ...]:
        """The tests that prove this rig's broadheads."""
        return tuple(proof for proof in self.broadheads if proof.proved)

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `card`."""
        band = self.band
        one = self.one
        return {
            "format": 1,
            "rig": self.question.rig.name,
            "date": self.date.isoformat(),
            "purpose": self.question.purpose,
            "fields": {line.key: {"label": line.label, "value": line.value} for line in self.lines},
            "band": {
                "low": band.low, "mid": band.mid, "high": band.high, "chance": band.chance,
                "length_in": band.length_in, "front_gr": band.front_gr,
            },
            "band_at_build": self.build_named,
            "build": None if one is None else {
                "spine_mils": one.listed.spine_mils, "length_in": one.listed.length_in,
                "front_gr": one.listed.front_gr, "tail_gr": one.listed.tail_gr,
                "total_gr": one.listed.total_gr, "gr_per_lb": one.listed.gr_per_lb,
                "foc_pct": one.listed.foc_pct, "balance_in": one.mechanics.balance_in,
                "speed_fps": dict(one.listed.speed_fps.__dict__),
                "chance_match": one.listed.chance_match,
            },
            "broadheads_due": self.broadheads_due,
            "broadheads_proved": bool(self.proved),
            "broadheads": [proof.as_dict() for proof in self.broadheads],
            "missing": list(self.missing),
            "last_date": None if self.last is None else self.last.date,
            "differences": [dict(d.__dict__) for d in self.differences],
            "cautions": [c.text for c in self.cautions],
            "warnings": list(self.warnings),
        }  # fmt: skip


def card(
    asked: Scenario, date: dt.date, entries: Sequence[AnyEntry] = (), stock: Stock | None = None,
    spec: BuildSpec | None = None, last: OldCard | None = None,
) -> Card:  # fmt: skip
    """Put the setup card together.

    Parameters
    ----------
    asked : Scenario
        The rig, and what the notebook taught.
    date : datetime.date
        Of the card.
    entries : sequence
        The notebook's entries in order.
    stock : Stock, optional
        For builds by name.
    spec : BuildSpec, optional
        The arrow; that of the last bare-shaft or broadhead entry since the last change when absent.
    last : OldCard, optional
        A card saved earlier, to be held against this one.

    Returns
    -------
    Card
        Complete or not, it says what is missing.

    Raises
    ------
    InputError
        A build named on purpose that the stock does not have.
    """
    rig, warnings = asked.rig, list(asked.warnings)
    now = entries_now(entries)
    chosen = spec if spec is not None else _last_build(now)
    builds = _resolved(chosen, stock, spec is not None, warnings)
    one = one_build(asked, builds, stock) if builds is not None else None
    values = rig_values(rig) | arrow_values(chosen, one, now, stock) | measured_values(asked, now)
    values["measured.speed"] = _speed(asked, one, values.get("measured.speed", ""))
    lines = tuple(
        Line(row["key"], row["section"], row["label"], values[row["key"]])
        for row in table("card_fields") if values.get(row["key"])
    )  # fmt: skip
    if builds is not None:
        band = spine_band(asked.demand(builds), builds, asked.belief, setting("band_chance"))
        if one is not None:
            warnings += [w for w in one.question.warnings if w not in warnings]
            if one.dangers:
                warnings.insert(0, f"do not draw this arrow: {'; '.join(one.dangers)}")
    else:
        band = choose(asked).band
    warnings += _brace_moved(rig, now)
    old = {} if last is None else last.fields
    return Card(
        asked, date, lines, band, builds is not None, one, proofs(rig, entries, chosen),
        asked.purpose_rule.broadheads, _missing(rig, values, chosen), last,
        _differences(lines, old) if last is not None else (),
        tuple(cautions_for(rig, asked.purpose, _materials(chosen, stock))),
        tuple(dict.fromkeys(warnings)),
    )  # fmt: skip


def entries_now(entries: Sequence[AnyEntry]) -> tuple[AnyEntry, ...]:
    """Entries since the last change.

    Parameters
    ----------
    entries : sequence
        A notebook's entries in order.

    Returns
    -------
    tuple
        The entries that speak for the bow as it stands.
    """
    changes = [i for i, entry in enumerate(entries) if isinstance(entry, Change)]
    return tuple(entries[changes[-1] + 1 :] if changes else entries)


def _last_build(now: Sequence[AnyEntry]) -> BuildSpec | None:
    tested = [e.build for e in now if isinstance(e, BareShaft | Broadhead)]
    return tested[-1] if tested else None


def _resolved(
    spec: BuildSpec | None, stock: Stock | None, on_purpose: bool, warnings: list[str]
) -> Builds | None:  # fmt: skip
    """The build as columns; one that only the notebook names may stay unresolved."""
    if spec is None:
        return None
    try:
        return resolve_build(spec, stock, "build options")
    except InputError as error:
        if on_purpose:
            raise
        problem = error.faults[0].problem
        warnings.append(f"the notebook's last arrow has no masses here: {problem}")
        return None


def _materials(spec: BuildSpec | None, stock: Stock | None) -> set[str]:
    """Material of the card's shaft; every one that may be meant where it is not known."""
    if spec is not None and stock is not None and spec.shaft is not None:
        found = {str(i.material) for i in stock.of_kind("shaft") if i.item == spec.shaft}
        if found:
            return found
    return {"carbon", "aluminium", "wood", "fibreglass"}


def _speed(asked: Scenario, one: OneBuild | None, read: str) -> str:
    """What was read, and what the card's arrow does by it."""
    parts = [read] if read else []
    if one is not None and read:
        low, mid, high = (
            float(v[0]) for v in speeds_fps(asked.speeds(), np.array([one.listed.total_gr]))
        )
        parts.append(f"the card's arrow by that {mid:.0f} fps ({low:.0f} to {high:.0f})")
    return "; ".join(parts)


def _brace_moved(rig: Rig, now: Sequence[AnyEntry]) -> list[str]:
    """Whether the string stands otherwise than the rig file says."""
    stated = rig.bow.brace_height_in
    read = [e for e in now if isinstance(e, BraceReading)]
    if not read or not isinstance(stated, float):
        return []
    if abs(read[-1].brace_in - stated) <= number("held_within_in") + 1e-9:
        return []
    return [
        f"brace height is {sixteenths(stated)} in the rig file and was last read at "
        f"{sixteenths(read[-1].brace_in)}: which one is right?"
    ]


def _missing(rig: Rig, values: dict[str, str], spec: BuildSpec | None) -> tuple[str, ...]:
    """What stands between the card and the same rig built again, as things to do."""
    due = {
        "yes": True,
        "shelf": rig.bow.rest in ("shelf", "elevated", "unknown"),
        "plunger": rig.bow.rest == "plunger",
        "silencers": bool(rig.string.silencers_gr),
        "named": spec is not None and not spec.by_numbers,
    }
    found = []
    for row in table("card_fields"):
        if not due.get(row["needed"], False):
            continue
        if row["key"] == "arrow.point" and values.get("arrow.broadhead"):
            continue
        if (
            row["section"] == "arrow"
            and spec is None
            and row["key"] not in ("arrow.shaft", "arrow.weighed")
        ):
            continue  # without an arrow there is one thing to do, not eight
        value = values.get(row["key"], "")
        if not value or "unknown" in value or "not named" in value:
            found.append(f"{row['label']}: {row['how']}")
    return tuple(found)


def _differences(lines: Sequence[Line], old: dict[str, tuple[str, str]]) -> tuple[Difference, ...]:
    """Facts that changed, came or went, in the card's order."""
    new = {line.key: (line.label, line.value) for line in lines}
    keys = [row["key"] for row in table("card_fields")]
    order = [k for k in keys if k in new or k in old] + [k for k in old if k not in keys]
    found = []
    for key in order:
        was, now = old.get(key), new.get(key)
        if was is None or now is None or was[1] != now[1]:
            label = (now or was or ("", ""))[0]
            found.append(Difference(key, label, was[1] if was else "", now[1] if now else ""))
    return tuple(found)
