"""The plan's sentences, in an archer's words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shaftwright.answers.plan.result import Buy
from shaftwright.parameters import setting
from shaftwright.records.notebook import BuildSpec
from shaftwright.units import distance_told, inches, offset_told

if TYPE_CHECKING:
    from shaftwright.answers.arrows.shot import Arrow
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
        if fliers:
            told += f", {counted(fliers)} flier{'s' * (fliers > 1)} left out"
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
        far = setting("plan.prove_yd")
        if any(abs(e.entry.distance_yd - far) >= 1 for e in arrow.counting):
            where += f", as at {self.yd(far)},"
        if arrow.inside:
            mean = f"{ends_told(ends)} together" if ends > 1 else "once"
            if abs(arrow.offset_in) < setting("plan.on_it_in"):
                return f"bare on the fletched, {mean}"
            return f"bare {self.off(arrow.offset_in)} {where.removesuffix(',')}, {mean}"
        return f"bare {self.off(arrow.offset_in)} {where} in {ends_told(ends)}"


def ends_told(count: int) -> str:
    """How many ends, in words."""
    return {1: "one end", 2: "two ends", 3: "three ends"}.get(count, f"{count} ends")


def counted(number: int) -> str:
    """A small number as a word."""
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
             "eleven", "twelve")  # fmt: skip
    return words[number] if 0 <= number < len(words) else str(number)


def cap(text: str) -> str:
    """With a capital."""
    return text[:1].upper() + text[1:]


def listed(buy: Sequence[Buy]) -> str:
    """What is bought, in words."""
    return " and ".join(b.item for b in buy)
