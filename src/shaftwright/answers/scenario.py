"""Rig, stock and notebook together, and what they come to: each worked out once and kept."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from shlex import quote
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np

from shaftwright.answers.arrows.pieces import InHand, in_hand, taken_along
from shaftwright.answers.choose.candidates import usual_stock, with_points
from shaftwright.errors import InputError
from shaftwright.inference.band import Band, spine_band
from shaftwright.inference.belief import Belief, prior_belief
from shaftwright.inference.demand import Demand, demand_of
from shaftwright.inference.evidence.learn import Learned, learn
from shaftwright.inference.evidence.periods import in_order
from shaftwright.inference.notebook_rig import rig_now
from shaftwright.inference.resolve import resolve_build, usual_tail_gr
from shaftwright.inference.rig_facts import SpeedReading, rig_facts, shortest_safe_length_in
from shaftwright.inference.speed import speed_model, speed_reading
from shaftwright.limits import BASES, PURPOSES, refuse, word
from shaftwright.parameters import setting
from shaftwright.physics.bow_speed import SpeedModel
from shaftwright.physics.spine import pounds_from_mils
from shaftwright.records.builds import Builds, builds_by_numbers
from shaftwright.records.notebook import AnyEntry, BareShaft, Broadhead, Chrono
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock, StockItem
from shaftwright.resources import table
from shaftwright.result import Result, kept
from shaftwright.rules.evaluate import interpolate
from shaftwright.rules.load import Basis, RuleBook
from shaftwright.rules.sections import PurposeRule, purposes
from shaftwright.rules.sizes import shipped
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.plan.result import Next, Plan
    from shaftwright.answers.plan.steps import Where
    from shaftwright.rules.own import OwnRule


T = TypeVar("T")
_LONGEST_FOLDER: Final = 24


def named(text: str | None, folder: str) -> Any:
    """A text with a folder in the lines to type.

    Examples
    --------
    >>> named("Then: shaftwright note undo", "my bow")
    "Then: shaftwright note 'my bow' undo"
    """
    if not text or not 0 < len(folder) <= _LONGEST_FOLDER:
        return text
    return text.replace("shaftwright note", f"shaftwright note {quote(folder)}")


@dataclass(frozen=True)
class Scenario:
    """Everything that an answer rests on; make one with `scenario`."""

    rig: Rig
    purpose: str
    book: RuleBook
    stock: Stock | None = None
    #: of the notebook, those of one period in an order of their own
    entries: tuple[AnyEntry, ...] = ()
    lines: tuple[int, ...] = ()
    #: the rig before its last change
    before: Rig | None = None
    #: where rig file and notebook differ on the bow as it stands
    remarks: tuple[str, ...] = ()
    #: instead of what the rules and the notebook come to
    given: Belief | None = field(default=None, repr=False)
    #: what is taken along of what is owned, away from saw and shop; None at home
    along: frozenset[str] | None = None
    #: the bow's folder as it was named, for the lines to type; empty for the one stood in
    folder: str = field(default="", compare=False)
    #: away, what bow and stock alone come to; another scenario of the same two may share it
    kept: dict[Any, Any] = field(default_factory=dict, init=False, repr=False, compare=False)

    def keep(self, key: Hashable, make: Callable[[], T]) -> T:
        """What bow and stock alone come to, worked out once; at home, where a shop may be long, anew."""
        if self.along is None:
            return make()
        if key not in self.kept:
            self.kept[key] = make()
        found: T = self.kept[key]
        return found

    @cached_property
    def purpose_rule(self) -> PurposeRule:
        """What the purpose asks of arrows from this bow."""
        return purposes().asked(self.purpose, self.rig.bow.kind)

    @cached_property
    def prior(self) -> Belief:
        """What the rules alone let believe."""
        return self.keep("prior", lambda: prior_belief(self.book))

    @cached_property
    def learned(self) -> Learned | None:
        """What the archer's own shots taught, when there were any."""
        if not any(isinstance(entry, BareShaft | Broadhead) for entry in self.entries):
            return None
        return learn(
            self.rig, self.book, self.prior, self.entries, self.stock, self.speed, self.before, self.lines
        )  # fmt: skip

    @cached_property
    def known(self) -> Learned:
        """What the shots taught; before any shot the slope and scatter that the rules let expect."""
        if self.learned is not None:
            return self.learned
        return learn(self.rig, self.book, self.prior, (), None)

    @cached_property
    def held(self) -> InHand:
        """What is owned now."""
        held = in_hand(self.stock, self.entries)
        return held if self.along is None else taken_along(held, self.along)

    @cached_property
    def shelf(self) -> Stock | None:
        """The stock with what is in hand now; with the usual points where it lists none."""
        return None if self.held.stock is None else with_points(self.held.stock)

    def item(self, name: str | None) -> StockItem | None:
        """A row of what is in hand or sold, by its name."""
        return self.shelf.by_name.get(name) if self.shelf is not None and name else None

    @cached_property
    def where(self) -> Where:
        """Everything the plan is decided on."""
        from shaftwright.answers.plan.steps import Where

        return Where(self)

    @cached_property
    def plan(self) -> Plan:
        """Where the archer stands, and the one next thing."""
        from shaftwright.answers.plan.plan import plan_of

        return plan_of(self)

    @property
    def now(self) -> Next:
        """The one next thing in words: a folder that was named stands in the lines to type."""
        then = self.plan.next
        told = ("do", "why", "then", "if_not", "note")
        texts = {name: named(getattr(then, name), self.folder) for name in told}
        cautions = tuple(named(one, self.folder) for one in then.cautions)
        return replace(then, **texts, cautions=cautions)

    @cached_property
    def belief(self) -> Belief:
        """What is believed, after the shots if there were any."""
        if self.given is not None:
            return self.given
        return self.prior if self.learned is None else self.learned.belief

    @cached_property
    def readings(self) -> tuple[Chrono, ...]:
        """Chronograph readings of the bow as it stands."""
        if not self.entries:
            return ()
        from shaftwright.inference.chrono import chrono_now

        return tuple(chrono_now(self.entries))

    @cached_property
    def speed(self) -> SpeedReading | None:
        """What the chronograph said, if it spoke."""
        own = self.demand_without_speed(self.reference_build()).own_lb
        return speed_reading(self.rig, own, self.readings) if self.readings else None

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What in the notebook was left out, or does not fit together."""
        if not self.entries:
            return ()
        from shaftwright.inference.chrono import left_out

        of_speed = () if self.speed is None else self.speed.warnings
        of_shots = () if self.learned is None else self.learned.warnings
        return (*self.remarks, *of_speed, *left_out(self.entries), *of_shots)

    def remarks_on(self, line: int | None) -> tuple[str, ...]:
        """What does not fit of the entry on a line of the notebook."""
        told = (one.partition(f"line {line}: ") for one in self.warnings)
        return tuple(rest for before, found, rest in told if found and not before)

    @cached_property
    def own_rules(self) -> tuple[OwnRule, ...]:
        """The archer's own rules and sizes that the answers of this bow rest on."""
        if not self.book.own:
            return ()
        from shaftwright.rules.own import own_at_work

        return own_at_work(self.book, rig_facts(self.rig, self.speed))

    def reference_build(
        self, length_in: float | None = None, front_gr: float | None = None
    ) -> Builds:
        """The build a band is stated at: the reference shaft, by default shortest and usual front.

        It is of wood where the stock has no other shafts, and has this archer's nock and fletching.
        """
        length = (
            shortest_safe_length_in(self.rig, self.purpose_rule) if length_in is None else length_in
        )
        front = self.purpose_rule.usual_front_gr if front_gr is None else front_gr
        return builds_by_numbers(None, length, front, self.tail_gr, wood=self.only_wood)

    @cached_property
    def tail_gr(self) -> float | None:
        """Mass at the nock as shot last, else as the stock has parts for it; None where nothing is told."""
        shot = next((e for e in reversed(self.entries) if isinstance(e, BareShaft)), None)
        if shot is not None:
            try:
                return float(resolve_build(shot.build, self.stock).tail_gr[0])
            except InputError:  # learning from it says what is wrong, with its line
                pass
        return self.book.usual_tail_gr

    @property
    def shop(self) -> Stock:
        """The stock, or what most shops keep."""
        return usual_stock() if self.stock is None else self.stock

    @property
    def only_wood(self) -> bool:
        """Whether the stock has shafts, and none but of wood."""
        shafts = self.stock.of_kind("shaft") if self.stock is not None else ()
        return bool(shafts) and all(item.material == "wood" for item in shafts)

    def band(self, builds: Builds | None = None, belief: Belief | None = None) -> Band:
        """The spines that suit a build, the reference one by default, by all that is known now by default."""
        at = self.reference_build() if builds is None else builds
        chance = setting("matching.band_chance")
        return spine_band(self.demand(at), at, self.belief if belief is None else belief, chance)

    def demand_without_speed(self, builds: Builds) -> Demand:
        """What is wanted of builds by the rules alone."""
        return demand_of(self.rig, builds, self.book)

    def demand(self, builds: Builds) -> Demand:
        """What is wanted of builds."""
        return demand_of(self.rig, builds, self.book, self.speed)

    @cached_property
    def own_lb(self) -> float:
        """Middle of the draw weight at the archer's own draw [lb]."""
        return self.demand(self.reference_build()).own_lb

    @cached_property
    def _speeds(self) -> SpeedModel:
        return speed_model(
            self.rig, self.demand_without_speed(self.reference_build()), self.readings
        )

    def speeds(self) -> SpeedModel:
        """Speed of any arrow from this rig."""
        return self._speeds


def scenario(
    rig: Rig, purpose: str | None = None, stock: Stock | None = None, entries: Sequence[AnyEntry] = (),
    lines: Sequence[int] = (), before: Rig | None = None, basis: Basis = "both",
    belief: Belief | None = None, own: RuleBook | None = None, folder: str = "",
) -> Scenario:  # fmt: skip
    """A scenario with the shipped rules and the archer's own; `basis` tells whose sizes the shipped take."""
    refuse(word("purpose", purpose, PURPOSES), word("basis", basis, BASES))
    purpose = purpose or rig.purpose
    told, at = in_order(entries, lines)
    remarks: tuple[str, ...] = ()
    if told:
        now, remarks = rig_now(rig, told)
        if before is None and now.bow.draw_weight != rig.bow.draw_weight:
            before = rig  # the file still tells of the bow before its last change
        rig = now
    book = shipped(basis)
    if own is not None:
        from shaftwright.rules.own import laid_over  # most bows have none

        book = laid_over(book, own)
    if stock is not None:
        book = replace(book, usual_tail_gr=usual_tail_gr(stock))
    return Scenario(rig, purpose, book, stock, told, at, before, remarks, belief, folder=folder)


@dataclass(frozen=True)
class Answer(Result):
    """A result about a bow: its document names the bow and carries the plan."""

    question: Scenario = field(metadata=kept(json=False), repr=False)

    def to_dict(self) -> dict[str, Any]:
        """Format, bow and purpose, what was found, and the one next thing."""
        asked = self.question
        head = {"format": 2, "rig": asked.rig.name, "purpose": asked.purpose}
        return {**head, **super().to_dict(), **asked.plan.keys()}


#: to what spines and weights up front, and whole arrows' weights, are told
_FIVES, _TENS = 5, 10


def what_to_look_for(scenario: Scenario) -> str:
    """Spines, length, what goes up front and the weight of the whole arrow; no full stop."""
    build, usual_gr = scenario.reference_build(), scenario.purpose_rule.usual_front_gr
    asked = scenario.purpose_rule.span(scenario.only_wood)
    own_lb, wood = scenario.own_lb, scenario.only_wood
    # no more up front than the weight leaves beside a usual shaft, no less than usual points weigh
    rest = _usual_shaft_gr(scenario.band(build), wood) + float(build.tail_gr[0])
    front = min(max(asked.high * own_lb - rest, _lightest_front_gr(wood)), usual_gr)
    build = scenario.reference_build(front_gr=_FIVES * round(front / _FIVES))
    band = scenario.band(build)
    low, high = (_FIVES * round(x / _FIVES) for x in (band.low, band.high))
    rest = _usual_shaft_gr(band, wood) + float(build.tail_gr[0])
    least = max(asked.low * own_lb, rest + _lightest_front_gr(wood))
    most = max(asked.high * own_lb, rest + band.front_gr)
    light, heavy = (_TENS * round(x / _TENS) for x in (least, most))
    weight = f"{light} to {heavy}" if light < heavy else f"about {heavy}"
    habit = f"{scenario.purpose_rule.label}: {asked.low:g} to {asked.high:g} gr/lb"
    if most > asked.high * own_lb + _TENS:
        habit += "; so light a bow shoots heavier ones"
    return (
        f"look for spines {low} to {high} (wood {pounds_from_mils(high):.0f} to "
        f"{pounds_from_mils(low):.0f} lb) to cut to {inches(band.length_in)}, stiffer if left longer, with "
        f"about {band.front_gr:.0f} gr up front, {weight} gr in all ({habit})"
    )


def _usual_shaft_gr(band: Band, wood: bool) -> float:
    """What a usual shaft of the middle of a band weighs, as long as the band's."""
    if wood:
        return band.length_in * min(float(row["gr_per_in_low"]) for row in table("wood_masses"))
    rows = table("usual_shafts")
    spines, per_inch = (
        np.array([float(row[name]) for row in rows]) for name in ("spine_mils", "gr_per_in")
    )
    return band.length_in * float(interpolate(spines, per_inch, band.mid))


def _lightest_front_gr(wood: bool) -> float:
    """The lightest point usually stocked, with the lightest insert where the shaft is a tube."""
    usual = usual_stock()
    point = min(i.grains for i in usual.of_kind("point") if (i.material == "wood") == wood)
    return point + (0.0 if wood else min(i.grains for i in usual.of_kind("insert")))
