"""Files of rules/ that list no rules: purposes, set-up, causes, words, small things to buy, cautions."""

import functools
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal, Self

import numpy as np
from pydantic import model_validator

from shaftwright.arrays import Array
from shaftwright.parameters import Basis, Section, Sourced, parameters, section, setting
from shaftwright.records.fields import Format, Record
from shaftwright.records.notebook import Reads
from shaftwright.records.rig import Rig
from shaftwright.resources import table, usual
from shaftwright.rules.schema import Choices, Code, Line, RuleName


class Span(Record):
    """A range without a most likely value."""

    low: float
    high: float


class PurposeRule(Sourced):
    """What one purpose asks of an arrow."""

    label: str
    gr_per_lb: Span
    foc_pct: dict[str, Span]
    shortest_shaft_beyond_draw_in: float
    usual_front_gr: float
    broadheads: bool
    why: str

    def span(self, wood: bool) -> Span:
        """The grains per pound asked of an arrow, of wood or not: wood comes heavier."""
        heaviest = setting("matching.wood_heaviest_gr_per_lb") if wood else 0.0
        return Span(low=self.gr_per_lb.low, high=max(self.gr_per_lb.high, heaviest))

    def most(self, wood: Array) -> Array:
        """The most grains per pound asked of each arrow; `wood` is 1 for one of wood, else 0."""
        return np.where(wood > 0, self.span(True).high, self.gr_per_lb.high)

    def weights(self, materials: Collection[str]) -> str:
        """The grains per pound asked of arrows of some materials, in words."""
        woods = {material == "wood" for material in materials}
        span = self.span(woods == {True})
        told, wood = f"{span.low:g} to {span.high:g} gr/lb", self.span(True).high
        return f"{told} (wood to {wood:g})" if len(woods) > 1 and wood > span.high else told


class MassFloor(Sourced):
    """Lightest arrow in grains per pound; a limit rejects, the others caution."""

    name: str
    gr_per_lb: float
    limit: bool
    applies: Choices
    why: str


class Worth(Record):
    """One part of the ranking's score."""

    weight: float
    why: str
    fades_over: float = 1.0


class Purposes(Section):
    """rules/purposes.yaml."""

    purposes: dict[str, PurposeRule]
    mass_floors: tuple[MassFloor, ...]
    utility: dict[Literal["match", "mass", "foc", "robustness", "price", "in_hand"], Worth]

    def floors(self, kind: str) -> list[MassFloor]:
        """The mass floors of bows of a kind."""
        return [f for f in self.mass_floors if kind in f.applies.get("bow.kind", (kind,))]

    def asked(self, purpose: str, kind: str) -> PurposeRule:
        """What a purpose asks of arrows from a bow of a kind, heavier where the bow wants it."""
        rule = self.purposes[purpose]
        low, high = rule.gr_per_lb.low, rule.gr_per_lb.high
        rise = max(0.0, *(f.gr_per_lb - low for f in self.floors(kind)))
        span = Span(low=low + rise, high=high + rise)
        return rule.model_copy(update={"gr_per_lb": span})


#: the shipped ones, loaded once
purposes = functools.cache(functools.partial(section, "purposes", Purposes))


class Words(Sourced):
    """A start point that is no number, in a sentence."""

    text: str
    why: str


class Setup(Section):
    """The file."""

    words: dict[str, Words]


@dataclass(frozen=True)
class StartPoints:
    """Where to start; ranges by kind of bow and by how the string is held."""

    brace_low_in: float
    brace_high_in: float
    nocking_low_in: float
    nocking_high_in: float
    nock_fit: str
    side: str


def start_points(rig: Rig) -> StartPoints:
    """Start points of a rig; fingers not stated take both ranges."""
    found, words = parameters("setup"), section("setup", Setup).words
    names = {"three_under": ["nocking_three_under_in"],
             "unknown": ["nocking_split_in", "nocking_three_under_in"]}  # fmt: skip
    nocking = [found[n] for n in names.get(rig.archer.release, ["nocking_split_in"])]
    low, high = (usual("brace_height_in", rig.bow.kind, end) for end in ("low", "high"))
    return StartPoints(
        low, high, min(s.low for s in nocking), max(s.high for s in nocking),
        words["nock_fit"].text, words["side"].text,
    )  # fmt: skip


Axis = Literal["sideways", "vertical"]
Odds = dict[str, float]


class Prior(Record):
    """A cause's chance before any sign: fixed, or what the spine band says."""

    chance: float | None = None
    band: Literal["matched", "stiff", "weak", "far_too_weak"] | None = None

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.chance is None) == (self.band is None):
            raise ValueError("needs chance or band, and only one")
        return self


class Cause(Sourced):
    """One cause with the chances of its signs, and a check."""

    code: Code
    name: RuleName
    axis: Axis
    label: Line
    prior: Prior
    signs: dict[str, Odds]
    check: Line
    #: the check once marks were looked for
    check_noted: Line | None = None
    #: the check where nothing lighter can go up front
    check_lightest: Line | None = None


class DiagnosisRules(Section):
    """The file, its numbers aside."""

    signs: dict[str, Odds]
    causes: tuple[Cause, ...]

    @model_validator(mode="after")
    def _closed(self) -> Self:
        for name, odds in self.signs.items():
            if abs(sum(odds.values()) - 1) > 1e-9:
                raise ValueError(f"needs chances of {name} that sum to 1")
        for cause in self.causes:
            for name, odds in cause.signs.items():
                if name not in self.signs or set(odds) != set(self.signs[name]):
                    raise ValueError(
                        f"{cause.code}: {name} is not a sign of the list, or its values differ"
                    )
                if abs(sum(odds.values()) - 1) > 1e-9:
                    raise ValueError(f"{cause.code}: the chances of {name} do not sum to 1")
        return self


#: the shipped ones, loaded once
diagnosis_rules = functools.cache(functools.partial(section, "diagnosis", DiagnosisRules))


class Sundry(Sourced):
    """A small thing that belongs to the list."""

    name: str
    words: tuple[str, ...]
    quantity: int
    when: Choices
    why: str


class ShoppingRules(Record):
    """rules/shopping.yaml, its numbers aside."""

    format: Format
    strings: dict[Literal["low_stretch", "polyester"], tuple[str, ...]]
    numbered: tuple[str, ...]
    sundries: tuple[Sundry, ...]


#: the shipped ones, loaded once
shopping_rules = functools.cache(functools.partial(section, "shopping", ShoppingRules))


@functools.cache
def usual_price(kind: str) -> float:
    """Middle of the usual price of one pack of a kind: a stand-in for choosing, never shown as a price."""
    for row in table("price_classes"):
        single = kind != "shaft" or row["class"] == "single"
        if row["item"] == kind and single:
            return (float(row["low"]) + float(row["high"])) / 2
    return usual_price("insert")


Edge = float | Literal["tolerance", "-tolerance"] | None


class Word(Record):
    """Pounds of mismatch that a word spans; an open end is null."""

    low: Edge
    high: Edge

    def limits(self, tolerance_lb: float) -> tuple[float, float]:
        """Both ends in pounds, open ones infinite."""
        named = {"tolerance": tolerance_lb, "-tolerance": -tolerance_lb}
        low = -float("inf") if self.low is None else named.get(str(self.low), self.low)
        high = float("inf") if self.high is None else named.get(str(self.high), self.high)
        return float(low), float(high)


class WordSpans(Sourced):
    """What archers mean by their words."""

    why: str
    spans: dict[Reads, Word]


class Anew(Sourced):
    """Rules whose doubt starts anew: with any change, with other limbs too, with another rig too."""

    why: str
    any_change: tuple[Code, ...]
    limbs: tuple[Code, ...]
    another_rig: tuple[Code, ...]


class EvidenceRules(Section):
    """The file, its numbers aside."""

    words: WordSpans
    anew: Anew


#: the shipped ones, loaded once
evidence_rules = functools.cache(functools.partial(section, "evidence", EvidenceRules))


SEVERITIES = ("danger", "caution", "info")


class Caution(Record):
    """One caution: when it is due, what it says, why, and what to do."""

    code: Code
    name: RuleName
    severity: Literal["danger", "caution", "info"]
    when: Literal["always"] | Choices
    text: Line
    why: str
    do: str
    basis: Basis
    source: tuple[str, ...]


class CautionFile(Section):
    """rules/cautions.yaml."""

    cautions: tuple[Caution, ...]


@functools.cache
def all_cautions() -> tuple[Caution, ...]:
    """The shipped cautions, loaded once."""
    return section("cautions", CautionFile).cautions


def cautions_for(rig: Rig, purpose: str, materials: Collection[str]) -> list[Caution]:
    """The cautions due for a rig, a purpose and the materials of its shafts, gravest first.

    Parameters
    ----------
    rig : Rig
        The rig.
    purpose : str
        Key of rules/purposes.yaml.
    materials : collection of str
        Materials of the shafts in question.

    Returns
    -------
    list of Caution
        In order of severity, then as written.
    """
    found = [
        c for c in all_cautions() if c.when == "always" or due(c.when, rig, purpose, materials)
    ]
    return sorted(found, key=lambda c: SEVERITIES.index(c.severity))


def due(when: Choices, rig: Rig, purpose: str, materials: Collection[str]) -> bool:
    """Whether all choices of rig, purpose and shafts hold under which something is due."""
    values = {"purpose": {purpose}, "shaft.material": {*materials}}
    return all(
        not values.get(name, {str(rig.at(name))}).isdisjoint(allowed)
        for name, allowed in when.items()
    )


def cautions_naming(field: str, value: str) -> list[Caution]:
    """The cautions due for one value of one field, whatever the rest of the rig.

    Parameters
    ----------
    field : str
        A field of the rig, such as `string.material`.
    value : str
        One of its choices; `unknown` where it was not told.

    Returns
    -------
    list of Caution
        Those that hang on this field alone, as written.

    Examples
    --------
    >>> [c.name for c in cautions_naming("string.material", "unknown")]
    ['low-stretch-string']
    """
    return [
        c
        for c in all_cautions()
        if c.when != "always" and set(c.when) == {field} and value in c.when[field]
    ]
