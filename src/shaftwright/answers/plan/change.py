"""One arrow that is off, and a change of it as a step: what to do, the new setting, the line to type."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.arrows.outlook import Outlook
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.result import Kind, Next, set_as
from shaftwright.answers.plan.steps import Where, listed
from shaftwright.parameters import setting
from shaftwright.units import REFERENCE_YD, in_100, inches, length_told


class Case:
    """One arrow that is off to a side, with what could be done about it."""

    def __init__(self, where: Where, arrow: Arrow, stiff: bool | None = None) -> None:
        self.where, self.arrow, self.words = where, arrow, where.words
        self.levers = Levers(where, arrow, stiff)
        self.name = self.words.shaft(arrow.spec)

    @property
    def stiff(self) -> bool:
        """Whether it is taken for stiff rather than weak."""
        return self.levers.stiff

    def take_as_weak(self) -> None:
        """Whatever it reads, it is treated as too weak from here on."""
        self.levers = Levers(self.where, self.arrow, False)

    @property
    def side(self) -> str:
        """In a word."""
        if self.arrow.reads not in ("straight", "not clear"):
            return self.arrow.reads
        return "a little stiff" if self.stiff else "a little weak"

    def again(self, why: str, distance: float | None = None) -> Next:
        """The same arrow once more."""
        where, words, side = self.where, self.words, "stiff" if self.stiff else "weak"
        within = self.arrow.within_in * (distance or where.far_yd) / REFERENCE_YD
        return where.again(
            "tune", self.arrow, why, f"Within {words.off(within)}: straight so far.",
            f"To the {words.side(self.stiff)} again: {side}, and the next step mends it.", distance,
        )  # fmt: skip

    def look_for_marks(self, why: str, arrow: Arrow | None = None) -> Next:
        """Powder and two or three shots near by."""
        arrow, words, near = arrow or self.arrow, self.words, self.where.near_yd
        however = ", however stiff it reads" if (arrow.side_in or 0.0) > 0 else ""
        return self.where.shoot(
            "tune", "look_for_marks",
            f"Powder plate and shaft, shoot the {words.shaft(arrow.spec)} bare at {words.yd(near)}, look for "
            f"marks: {words.arrow(arrow.spec)}.",
            why, arrow, near, bare=int(setting("diagnosis.check_bare")), expect=None,
            then="No marks: the shafts may be believed, and the next step goes by them.",
            if_not=f"Marks on plate or tail: it is too weak{however}.",
        )  # fmt: skip

    def change(self, look: Outlook, why: str = "") -> Next:
        """Make this one change and shoot."""
        where, arrow, words, idea = self.where, self.arrow, self.words, look.idea
        new = idea.base is None and all(a.spec.shaft != idea.spec.shaft for a in where.here)
        far_off = abs(look.middle_in) > setting("diagnosis.look_for_marks_in")
        unsure = look.middle_in < arrow.off_in - setting("plan.further_off_in") or far_off
        distance = where.near_yd if new and unsure else where.far_yd
        if not why:
            marks = ", no marks" if arrow.never_marked else ""
            why = f"{self.name} reads {self.side}: {words.seen(arrow)}{marks}."
        if idea.kind == "cut" and -idea.amount > setting("plan.far_cut_step_in"):
            over = max(round(100 * look.likely_over(where.within)), 1)
            why += f" Such a cut goes too far in {over} of 100."
        if not self.levers.sure(look):
            other = max(round(100 * (1 - self.levers.chance_right(look))), 1)
            why += f" Which way this moves it is not sure: in {other} of 100 bows the other."
        heavy = self.levers.only_too_heavy(look) if idea.buy else None
        if heavy is not None:
            why += (
                f" Your {words.front(heavy.spec)} may do too ({in_100(heavy.chance_inside)}), "
                f"but makes {heavy.gr_per_lb:.1f} gr/lb."
            )
        kind, do = _told(where, look, words.yd(distance))
        own = where.bought(idea.spec) if kind == "buy" else where.can_make(arrow)
        within = where.within * distance / REFERENCE_YD
        set_now = kind in ("plunger", "plate")
        _, anew, noted = _on_the_bow(where, look) if set_now else (None, None, {})
        return where.step(
            "tune", kind, do, why, idea.spec, idea.piece or own, distance,
            cautions=where.when_cut(idea.spec) if kind == "cut" else (), buy=idea.buy, setting=anew,
            expect=where.expect(look, distance), **noted,
            then=f"Within {words.off(within)}: straight so far, shoot it again.",
            if_not=self._if_change_fails(look),
        )  # fmt: skip

    def _if_change_fails(self, look: Outlook) -> str:
        """What the other outcome means."""
        stiff, weak = self.words.side(True), self.words.side(False)
        if look.middle_in < self.arrow.off_in:
            return f"Further {stiff} than before: it was false stiff; stop and look for marks."
        if look.idea.kind == "cut" and self.arrow.marks == "plate":
            return "No change at all: the nock may be tight, or the feathers touch."
        if look.idea.kind == "cut":
            return "No change at all: powder the plate and look for marks before the next cut."
        return f"Still {weak}: the next step goes further. Far {stiff}: too much."


def _told(where: Where, look: Outlook, yd: str) -> tuple[Kind, str]:
    """What to do, in one sentence."""
    words, idea, spec = where.words, look.idea, look.idea.spec
    shaft, length, front = words.shaft(spec), words.length(spec), words.front(spec)
    if idea.kind == "cut":
        twin = " Keep its twin long." if len(where.scenario.held.of(shaft)) > 1 else ""
        if idea.base is None:
            return (
                "cut",
                f"Cut one {shaft} you have to {length}, and shoot it bare at {yd}: {front}.{twin}",
            )
        off = inches(-idea.amount, 32)
        return (
            "cut",
            f"Cut one {shaft} to {length}, {off} off, and shoot it bare at {yd}, {front}.{twin}",
        )
    if idea.kind in ("point", "insert"):
        kind: Kind = "insert" if idea.kind == "insert" else "point"
        with_it = front if spec.by_numbers else f"the {front}"
        if kind == "insert":
            with_it = f"insert {spec.insert}"
        do = f"{'Buy' if idea.buy else 'Take'} {with_it} for the {shaft} and shoot it bare at {yd}: {length}."
        return kind, do
    if idea.kind in ("plunger", "plate"):
        how = _on_the_bow(where, look)[0]
        do = f"{how}, and shoot the {shaft} again at {yd}: {length}, {front}."
        return "plunger" if idea.kind == "plunger" else "plate", do
    if idea.kind == "buy":
        uncut = spec.by_numbers or not idea.amount
        cut = "" if uncut else f", cut it to {length}"
        return "buy", f"Buy one {shaft}{cut} and shoot it bare at {yd}: {length}, {front}."
    first = f"With the {listed(idea.buy)} bought, shoot" if idea.buy else "Shoot"
    return "shaft", f"{first} the {shaft} you have, bare at {yd}: {length}, {front}."


def _on_the_bow(where: Where, look: Outlook) -> tuple[str, str, dict[str, Any]]:
    """How to set plate or plunger, the new setting in words, and what is noted of it."""
    amount, bow, now = look.idea.amount, look.idea.rig.bow, where.scenario.rig.bow.plunger
    units = where.scenario.rig.units
    step = length_told(abs(amount), units)
    if look.idea.kind == "plate":
        assert bow.plate is not None
        to, way = length_told(bow.plate.thickness_in, units), "thicker" if amount > 0 else "thinner"
        return f"Make the strike plate {step} {way}", f"plate {to}", set_as("plate", plate=to)
    plunger = bow.plunger
    assert plunger is not None
    if plunger.turns is not None and (now is None or plunger.turns != now.turns):
        half = abs(amount) <= setting("plan.plunger_turns")
        turn, way = "half a" if half else f"{abs(amount):g}", "stiffer" if amount > 0 else "softer"
        to = f"{plunger.turns:g}"
        do = f"Turn the plunger's spring {turn} turn {way}"
        return do, f"plunger {to} turns", set_as("plunger", plunger={"turns": to})
    do = f"Move the plunger {step} {'out' if amount > 0 else 'in'}"
    if plunger.out_in is None:
        assert plunger.moved_in is not None
        to = length_told(plunger.moved_in, units)
        return do, f"plunger moved {to}", set_as("plunger", plunger={"moved": to})
    to = length_told(plunger.out_in, units)
    return do, f"plunger {to} out", set_as("plunger", plunger={"out": to})
