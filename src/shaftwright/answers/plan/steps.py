"""What every step needs: everything known, and how a step is put together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.arrows.makeable import Makeable
from shaftwright.answers.arrows.outlook import Idea, Outlook, expect_sideways, outlooks
from shaftwright.answers.arrows.pieces import Piece, arrows_shot
from shaftwright.answers.arrows.shot import Arrow, within_in
from shaftwright.answers.plan.result import Buy, Expect, Kind, Next, Stage, Standing
from shaftwright.inference.evidence.periods import History
from shaftwright.inference.rig_facts import shortest_safe_length_in
from shaftwright.parameters import setting
from shaftwright.records.notebook import BareShaft, Broadhead, BuildSpec, Change
from shaftwright.rules.fits import part_fits
from shaftwright.units import REFERENCE_YD, aside_told, distance_told, inches, offset_told, series

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


class Words:
    """How things are called on this archer's screens."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.units = scenario.rig.units
        self.left_handed = scenario.rig.archer.hand == "left"

    def yd(self, yards: float) -> str:
        """A distance."""
        return distance_told(yards, self.units)

    def off(self, inches_off: float) -> str:
        """How far apart groups lie."""
        return offset_told(abs(inches_off), self.units)

    def up(self, inches_up: float) -> str:
        """How high or low they land."""
        return aside_told(inches_up, self.units, ("low", "high"))

    def side(self, stiff: bool) -> str:
        """Where a stiff or weak bare shaft lands."""
        return "left" if stiff != self.left_handed else "right"

    def shaft(self, spec: BuildSpec) -> str:
        """What the shaft is called."""
        return spec.shaft or f"spine {spec.spine_mils:g}"

    def front(self, spec: BuildSpec) -> str:
        """Point and insert, by weight where the stock knows it."""
        if spec.by_numbers:
            return f"{spec.front_gr:g} gr up front"
        name, kind = spec.point or spec.broadhead, "point" if spec.point else "broadhead"
        if name is None:
            return "no point"
        item = self.scenario.item(name)
        return f"{item.mass_gr:g} gr {kind}" if item and item.mass_gr else f"{kind} {name}"

    def length(self, spec: BuildSpec) -> str:
        """How long it is."""
        if spec.length_in is None:
            item = self.scenario.item(spec.shaft)
            return inches(item.full_length_in, 32) if item and item.full_length_in else "uncut"
        return inches(spec.length_in, 32)

    def arrow(self, spec: BuildSpec) -> str:
        """Length and point."""
        return f"{self.length(spec)}, {self.front(spec)}"

    def seen(self, arrow: Arrow) -> str:
        """What the ends of an arrow showed, and what of it does not count, in half a sentence."""
        told, fliers = self._landed(arrow), sum(e.fliers for e in arrow.counting)
        wide = sum(bool(e.reading.look.void) for e in arrow.ends) if arrow.counting else 0
        few = sum(e.too_few for e in arrow.ends) if arrow.counting else 0
        out = [f"{counted(fliers)} flier{'s' * (fliers > 1)}"] if fliers else []
        if wide:
            out.append(f"{ends_told(wide)} that {'do' if wide > 1 else 'does'} not group")
        if few:
            least = (
                counted(int(setting("plan.fair_fletched"))),
                counted(int(setting("plan.fair_bare"))),
            )
            out.append(f"{ends_told(few)} of fewer than {least[0]} fletched and {least[1]} bare")
        told += f", {series(out)} left out" if out else ""
        looked = [e.entry.marks for e in arrow.ends if e.entry.marks != "not_looked"]
        if marked := sorted({*looked} - {"none"}):
            many = sum(m != "none" for m in looked)
            told += f"; it marked the {' and the '.join(marked)}"
            told += f" in {counted(many)} of {ends_told(len(looked))}" if many < len(looked) else ""
        return told

    def _landed(self, arrow: Arrow) -> str:
        ends = len(arrow.counting)
        if not ends:
            return "its ends cannot be read"
        if arrow.offset_in is None:
            many = {1: "once", 2: "twice"}.get(ends, f"{ends} times")
            return f"it read {arrow.reads} {many}"
        where = f"{'right' if arrow.offset_in > 0 else 'left'} of the fletched"
        far = REFERENCE_YD
        if any(abs(e.entry.distance_yd - far) >= 1 for e in arrow.counting):
            where += f", as at {self.yd(far)},"
        if arrow.inside:
            mean = f"{ends_told(ends)} together" if ends > 1 else "once"
            if abs(arrow.offset_in) < setting("plan.on_it_in"):
                return f"bare on the fletched, {mean}"
            return f"bare {self.off(arrow.offset_in)} {where.removesuffix(',')}, {mean}"
        at = f" at {self.yd(far)}" if arrow.nearer_left_out else ""
        return f"bare {self.off(arrow.offset_in)} {where} in {ends_told(ends)}{at}"


def ends_told(count: int) -> str:
    """How many ends, in words."""
    return {1: "one end", 2: "two ends", 3: "three ends"}.get(count, f"{count} ends")


def counted(number: int) -> str:
    """A small number as a word."""
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
             "eleven", "twelve")  # fmt: skip
    return words[number] if 0 <= number < len(words) else str(number)


def listed(buy: Sequence[Buy]) -> str:
    """What is bought, in words."""
    return series([b.item for b in buy])


FLEX = "Flex each carbon shaft and listen, before every shot."
BUTT = "Bare shafts only into a wide, soft butt, with nobody near it."
CUT = "Cut carbon wet or with the dust drawn off, masked."
BURR = "Cut aluminium with eyes covered, and take the burr off the cut, inside and out."
TUBE = "Look down each shaft for a bend, dents and cracked ends, before every shot."
WOOD = "Look for cracks along the grain, and flex wood gently, before every shot."


@dataclass(frozen=True)
class Where:
    """Everything known when the next thing is decided."""

    scenario: Scenario

    @cached_property
    def words(self) -> Words:
        """How things are called."""
        return Words(self.scenario)

    @property
    def near_yd(self) -> float:
        """Where a first end is shot, for safety."""
        return setting("plan.first_yd")

    @property
    def far_yd(self) -> float:
        """Where an arrow is proved, and what inches are told for."""
        return REFERENCE_YD

    @cached_property
    def arrows(self) -> tuple[Arrow, ...]:
        """All that was shot."""
        return arrows_shot(self.scenario)

    @cached_property
    def here(self) -> tuple[Arrow, ...]:
        """What was shot from the bow as it stands, at any setting."""
        return tuple(a for a in self.arrows if a.period == 0)

    @cached_property
    def makeable(self) -> Makeable:
        """What can be made of the shafts in hand."""
        return Makeable(self.scenario, [self.outlook(a).gr_per_lb for a in self.here])

    @cached_property
    def within(self) -> float:
        """What counts as straight at 20 yd [in]."""
        return within_in(self.scenario.known)

    @property
    def shortest(self) -> float:
        """Shortest safe length [in]."""
        return shortest_safe_length_in(self.scenario.rig, self.scenario.purpose_rule)

    @property
    def bare(self) -> int:
        """Bare shots of a usual end."""
        return int(setting("diagnosis.next_bare"))

    @property
    def fletched(self) -> int:
        """Fletched shots of a usual end."""
        return int(setting("diagnosis.next_fletched"))

    def material(self, spec: BuildSpec | None) -> str | None:
        """What a shaft is made of, where the stock says so."""
        item = None if spec is None else self.scenario.item(spec.shaft)
        return None if item is None else item.material

    def wood(self, spec: BuildSpec) -> bool:
        """Whether a shaft is of wood."""
        return self.material(spec) == "wood"

    @property
    def hunting(self) -> bool:
        """Whether broadheads must fly in the end."""
        return self.scenario.purpose_rule.broadheads

    def needs_second(self, spec: BuildSpec) -> bool:
        """Whether a second arrow made alike must fly too."""
        return self.hunting or self.wood(spec)

    def dangers(self, arrow: Arrow) -> tuple[str, ...]:
        """Why an arrow must not be drawn; how weak it is, marks and flight decide once it was shot."""
        look = self.outlook(arrow)
        short = () if look.long_enough else ("too short for this draw",)
        return short if look.heavy_enough else (*short, "too light for this bow")

    @cached_property
    def _looks(self) -> dict[Arrow, Outlook]:
        return {}

    def outlook(self, arrow: Arrow) -> Outlook:
        """What an arrow should do when it is shot again from the bow as it stands."""
        if arrow not in self._looks:
            base = arrow if arrow.period == 0 else None
            found = outlooks(self.scenario, [Idea(arrow.spec, self.scenario.rig, base)])[0]
            if arrow.now:  # nothing is changed, so nothing is added to what is known
                far = arrow.known.far_too_weak
                found = replace(found, z_lb=arrow.known.mismatch_lb, far_too_weak=far)
            self._looks[arrow] = found
        return self._looks[arrow]

    def standing(self, arrow: Arrow) -> Standing:
        """Where an arrow stands; false stiff shown by another arrow is contact."""
        second, danger = self.needs_second(arrow.spec), bool(self.dangers(arrow))
        found = arrow.standing(second, self.hunting, danger)
        unclear = found in ("outside", "not clear yet") and arrow.marks != "clean"
        return "contact" if unclear and self.false_stiff(arrow) else found

    def false_stiff(self, arrow: Arrow) -> bool:
        """Whether a clearly stiffer arrow landed less stiff than this one, beyond the groups' doubt."""
        side, least = arrow.side_in, setting("diagnosis.stiffer_by_lb")
        if side is None or side < arrow.within_in / 2:
            return False
        return any(
            float(np.mean(other.known.before_lb - arrow.known.before_lb)) >= least
            and other.side_in < side - self.within / 2
            for other in self.here if other is not arrow and other.side_in is not None
        )  # fmt: skip

    def can_make(self, arrow: Arrow) -> Piece | None:
        """The shaft in hand that the arrow is, or can be made of again."""
        return self.scenario.held.nearest(arrow.spec.shaft, arrow.length_in)

    def bought(self, spec: BuildSpec) -> Piece | None:
        """One more shaft of a row, as the next number after all that were shot or are in hand."""
        if spec.shaft is None:
            return None
        entries, held = self.scenario.entries, self.scenario.held.of(spec.shaft)
        shot = [e for e in entries if isinstance(e, BareShaft | Broadhead)]
        known = [e.piece or 1 for e in shot if e.build.shaft == spec.shaft]
        number = max([0, *known, *(p.number for p in held)]) + 1
        return Piece(spec.shaft, number, spec.length_in or 0.0, False) if number > 1 else None

    def makes(self, arrow: Arrow) -> bool:
        """Whether an arrow can be shot again without buying a shaft."""
        return arrow.spec.by_numbers or self.can_make(arrow) is not None

    def may_shoot(self, arrow: Arrow) -> bool:
        """Whether an arrow may be shot again as it is: it can be made, and is not far too weak."""
        return self.makes(arrow) and arrow.reads != "far too weak"

    def step(
        self, stage: Stage, kind: Kind, do: str, why: str, spec: BuildSpec | None = None,
        piece: Piece | None = None, distance: float | None = None, note: str | None = None,
        cautions: tuple[str, ...] = (), **more: Any,
    ) -> Next:  # fmt: skip
        """A step; with a distance it is shot, three fletched and three bare unless told otherwise."""
        if spec is not None:
            if distance is not None and more.get("bare") != 0:
                spec = self.with_field_point(spec)
            item = self.scenario.item(spec.shaft)
            full = item.full_length_in if item is not None else None
            more |= {
                "shaft": self.words.shaft(spec), "point": spec.point or spec.broadhead,
                "length_in": full if spec.length_in is None else spec.length_in,
                "insert": spec.insert, "piece": None if piece is None else piece.number,
            }  # fmt: skip
        if distance is not None:
            more = {"bare": self.bare, "fletched": self.fletched, **more, "distance_yd": distance}
            note = note or "shaftwright note bareshaft"
            butt = (BUTT,) if distance < setting("plan.fair_yd") else ()
            cautions = cautions or (*butt, self.look_at(spec))
        ask_about = () if kind == "describe" else self.scenario.held.ask_about
        if spec is not None and spec.shaft in ask_about:
            cautions = (
                *cautions,
                f"Are your other {spec.shaft} cut too? Then: "
                f"shaftwright note have {spec.shaft} N --length L",
            )
        for told in self.asked_about:
            line = f'Was "{told}" limbs, string or weight? Then note that.'
            cautions = (*cautions[:2], line)
        return Next(stage, kind, do, why, note=note, cautions=cautions[:3], **more)

    def shoot(
        self, stage: Stage, kind: Kind, do: str, why: str, arrow: Arrow, distance: float | None = None,
        note: str | None = None, cautions: tuple[str, ...] = (), **more: Any,
    ) -> Next:  # fmt: skip
        """An arrow that is known is shot: from far unless told, where it should land unless that is told."""
        distance = distance or self.far_yd
        if "expect" not in more:
            more["expect"] = self.expect(self.outlook(arrow), distance)
        piece = self.can_make(arrow) or self.bought(arrow.spec)
        return self.step(stage, kind, do, why, arrow.spec, piece, distance, note, cautions, **more)

    def again(
        self, stage: Stage, arrow: Arrow, why: str, then: str, if_not: str,
        distance: float | None = None, how: str = " again as it is",
    ) -> Next:  # fmt: skip
        """The same arrow once more, nothing changed; cut anew where the one that was shot is gone."""
        words, spec, piece = self.words, arrow.spec, self.can_make(arrow)
        kind: Kind = "shoot"
        do, cautions = f"Shoot the {words.shaft(spec)}{how}: {words.arrow(spec)}", tuple[str, ...]()
        if piece is not None and piece.length_in - arrow.length_in > setting("plan.same_length_in"):
            kind, cautions = "cut", self.when_cut(spec)
            do = (
                f"Cut the {words.shaft(spec)} you have to {words.length(spec)}, make it like the one that is "
                f"gone and shoot it: {words.front(spec)}"
            )
        return self.shoot(
            stage, kind, f"{do}, {words.yd(distance or self.far_yd)}, 3 and 3.",
            why, arrow, distance, cautions=cautions, then=then, if_not=if_not,
        )  # fmt: skip

    def when_cut(self, spec: BuildSpec) -> tuple[str, ...]:
        """What to heed at the saw, and with a bare shaft; wood only wants looking at."""
        material = self.material(spec)
        return () if material == "wood" else (BURR if material == "aluminium" else CUT, BUTT)

    def look_at(self, spec: BuildSpec | None) -> str:
        """What to look for on a shaft before every shot."""
        return {"wood": WOOD, "aluminium": TUBE}.get(self.material(spec) or "", FLEX)

    @cached_property
    def set_anew(self) -> bool:
        """Whether the bow was set anew and nothing was shot since."""
        told = (BareShaft, Broadhead, Change)
        last = next((e for e in reversed(self.scenario.entries) if isinstance(e, told)), None)
        return isinstance(last, Change)

    @cached_property
    def history(self) -> History:
        """The changes of the bow, and the periods they part."""
        return History(self.scenario.rig, self.scenario.entries, self.scenario.before)

    def set_times(self, name: str) -> int:
        """How often a setting was changed since the last change of the bow."""
        history = self.history
        kinds = [kind for i, _, kind in history.changes if not history.period(i)]
        return kinds.count(name.replace(" ", "_"))

    @cached_property
    def asked_about(self) -> tuple[str, ...]:
        """What was changed in free text that says nothing known."""
        history = self.history
        return tuple(
            c.what for i, c, kind in history.changes
            if kind == "other" and c.what not in ("other", "draw_weight") and not history.period(i)
        )  # fmt: skip

    def with_field_point(self, spec: BuildSpec) -> BuildSpec:
        """The same arrow with a field point in place of a broadhead: bare shafts wear no blades."""
        shelf = self.scenario.shelf
        head, shaft = self.scenario.item(spec.broadhead), self.scenario.item(spec.shaft)
        if shelf is None or head is None or shaft is None:
            return spec
        fitting = [p for p in shelf.of_kind("point") if part_fits(p, shaft)]
        point = min(fitting, key=lambda p: abs(p.grains - head.grains), default=None)
        if point is None:
            return spec
        return spec.model_copy(update={"point": point.item, "broadhead": None})

    def expect(self, look: Outlook, distance: float) -> Expect:
        """Where the next end of an arrow should lie."""
        return expect_sideways(self.scenario, look.z_lb, distance, self.bare, self.fletched)
