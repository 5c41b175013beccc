"""The one next thing, in the order of a careful tuner: safety, fair shots, height, then spine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shaftwright.answers.diagnose_causes import Suspect
from shaftwright.answers.diagnose_change import (
    Expect,
    Outlook,
    chance_inside,
    choose_change,
    expected_offset,
    next_step,
    outlooks,
)
from shaftwright.answers.diagnose_danger import (
    found_outside,
    mass_warning,
    reads_inside,
    stays_inside,
    still_marked,
    weakest_allowed_lb,
)
from shaftwright.answers.diagnose_decision import Decision, What
from shaftwright.answers.diagnose_options import options_for
from shaftwright.answers.diagnose_signs import InQuestion, moved_wrong_way
from shaftwright.inference.evidence import Learned
from shaftwright.inference.evidence_frame import side_of
from shaftwright.inference.rig_facts import SpeedReading
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import setting
from shaftwright.units import inches


def decide(
    asked: InQuestion, learned: Learned, found: Sequence[Suspect], rig: Rig, stock: Stock | None,
    book: RuleBook, speed: SpeedReading | None = None, short: str | None = None,
    perils: tuple[str, ...] = (),
) -> tuple[Decision, Expect]:  # fmt: skip
    """Pick the next thing.

    Parameters
    ----------
    asked : InQuestion
        The build shot last.
    learned : Learned
        What the shots taught.
    found : sequence of Suspect
        Causes with chances.
    rig : Rig
        The rig as it stands.
    stock : Stock or None
        Parts in hand and to be bought.
    book : RuleBook
        The rules.
    speed : SpeedReading, optional
        What a chronograph said.
    short : str, optional
        Too short for the draw: what was found, and the least it had to be.
    perils : tuple of str
        Too light or far too weak, likewise.

    Returns
    -------
    decision : Decision
        The next thing.
    now : Expect
        Where the next group of the same build should land.
    """
    judge = _Judge(asked, learned, found, rig, stock, book, speed)
    decision = judge.endangered(short, perils) if short or perils else judge.decide()
    return decision, judge.now


class _Judge:
    def __init__(
        self, asked: InQuestion, learned: Learned, found: Sequence[Suspect], rig: Rig,
        stock: Stock | None, book: RuleBook, speed: SpeedReading | None,
    ) -> None:  # fmt: skip
        self.asked, self.learned, self.found = asked, learned, found
        self.rig, self.stock, self.book, self.speed = rig, stock, book, speed
        self.rules = diagnosis_rules()
        self.hand = asked.build.rig.archer.hand
        self.now = expected_offset(asked.build.mismatch_lb, asked, learned)
        aim = self.rules.value("aim_inside") * asked.within_in
        self.inside = chance_inside(asked.build.mismatch_lb, learned.slope, aim)
        self.stiff = float(np.mean(asked.build.mismatch_lb > 0))
        self.far = asked.build.far_too_weak > setting("far_too_weak_chance")
        self.marked = still_marked(asked)
        off = max((abs(r.seen_in) for r in asked.readings if r.seen_in is not None), default=0.0)
        seen = any(
            r.entry.marks != "not_looked" for r in asked.readings if hasattr(r.entry, "marks")
        )
        self.unlooked = off > self.rules.value("look_for_marks_in") and not seen
        self.wrong_way = moved_wrong_way(asked, learned)
        self.seen_marks = seen
        self.bare, self.fletched, self.few = (
            int(self.rules.value(name)) for name in ("next_bare", "next_fletched", "check_bare")
        )
        self.cautions: list[str] = []
        if not asked.last_entry.taped:
            self.cautions.append(
                "no tape on the bare shaft: it flies a little weaker than the same shaft fletched; "
                "the reckoning counts that, tape is surer"
            )
        self.cautions += list(learned.warnings)

    @property
    def gated(self) -> bool:
        """Whether nothing may be advised that weakens the build."""
        return self.far or self.marked or self.unlooked or self.wrong_way is not None

    def decide(self) -> Decision:
        """The order of a careful tuner."""
        for step in (
            self.doubtful,
            self.fair_shots,
            self.safety,
            self.enough_shots,
            self.height,
            self.sideways,
        ):
            decision = step()
            if decision is not None:
                return decision
        raise AssertionError("sideways always decides")

    def plain(self, kind: What, verdict: str, what: str, amount: float, unit: str, if_wrong: str = "",
              stop: bool = False, expect: Expect | None = None) -> Decision:  # fmt: skip
        """A decision that needs no change of the build."""
        return Decision(kind, verdict, what, amount, unit, True, expect or self.now, if_wrong, stop,
                        tuple(self.cautions))  # fmt: skip

    def endangered(self, short: str | None, perils: tuple[str, ...]) -> Decision:
        """A build that must not be drawn: that comes first, and no change makes it safe by itself."""
        told = tuple(t for t in (short, *perils) if t)
        first = f"do not draw this arrow: {'; '.join(told)}"
        if short is None and not any("light" in t for t in perils):
            look = self.asked.last.look
            if not look.disagree and not look.void:
                away = self.stiffer()
                return replace(away, what=f"{first}; {away.what}", stop=True, dangers=told)
        verdict = (
            "This build is dangerous on this bow: do not shoot it, whatever the bare shafts say."
        )
        decision = self.plain("look", verdict, first, 0, "", stop=True)
        return replace(decision, dangers=told)

    def outlooks(self, gated: bool = False) -> list[Outlook]:
        """What every change would do, save those back to a build outside, or as weak as one with marks."""
        options = [
            option for option in options_for(self.asked, self.rig, self.stock, gated)
            if not found_outside(option, self.asked, self.learned)
        ]  # fmt: skip
        found = outlooks(options, self.asked, self.learned, self.book, self.speed)
        least = weakest_allowed_lb(self.learned)
        return [o for o in found if not o.weakens or float(o.mismatch_lb.mean()) > least]

    def doubtful(self) -> Decision | None:
        """Too likely far too weak: not to be shot further, whatever the shots look like."""
        if not self.far:
            return None
        share, most = self.asked.build.far_too_weak, setting("far_too_weak_chance")
        told = f"{min(100 * share, 99):.0f} in 100"
        first = f"do not shoot this arrow further, it may be far too weak ({told})"
        danger = f"far too weak with a chance of {told}, it must be at most {100 * most:.0f} in 100"
        look = self.asked.last.look
        if look.disagree or look.void:
            verdict = "This build may be far too weak for the bow, and these shots cannot clear it."
            away = self.plain("look", verdict, self.onward(), 0, "")
        else:
            away = self.stiffer()
        return replace(away, what=f"{first}: {away.what}", stop=True, dangers=(danger,))

    def onward(self) -> str:
        """The way out of far too weak, where no change is at hand."""
        powder = "powder plate and last shaft and look for marks; then "
        return (
            "" if self.seen_marks else powder
        ) + "go on only with a stiffer or lighter-pointed arrow"

    def fair_shots(self) -> Decision | None:
        """Void groups, and impact against nock: nothing is changed."""
        look = self.asked.last.look
        again = f"shoot {self.fletched} fletched and {self.few} bare again"
        if look.disagree:
            return self.plain(
                "look",
                "Impact and nock tell opposite sides: that is contact, release or the butt's face, "
                "not spine.",
                f"change nothing: look at nock fit, marks and the butt's face, then {again}", self.few,
                "bare shots",
                "if they still disagree, film the release and powder the plate",
            )  # fmt: skip
        if look.void:
            near = f"{self.rules.value('near_yd'):g} yd"
            return self.plain(
                "shoot", f"No reading: {look.void}, so their centre means nothing.",
                f"move to {near} and shoot {self.fletched} fletched and {self.bare} bare until both group",
                self.bare, "bare shots",
                f"if they scatter at {near} too, work on the release before the arrow",
            )  # fmt: skip
        return None

    def safety(self) -> Decision | None:
        """Far too weak, marks, or marks not looked for at a large offset."""
        if not self.gated:
            return None
        marks = [getattr(r.entry, "marks", "") for r in self.asked.readings]
        if self.marked and sum(m in ("plate", "shelf") for m in marks) >= 2:
            return self.stiffer("The marks stay: the shaft hits the bow however it reads.")
        if self.marked and self.asked.last_entry.marks == "none":
            return self.plain(
                "look", "Marks were seen before; one clean look does not prove them gone.",
                f"powder plate and shaft again, shoot {self.fletched} fletched and {self.bare} bare, note "
                "the marks; add no front mass", self.bare, "bare shots",
                "if marks come back, go to a stiffer or lighter-pointed arrow",
            )  # fmt: skip
        if self.marked:
            return self.plain(
                "look", "The shaft touches the bow: clear that before you judge the spine.",
                "powder plate and shaft, ease what it touches (nock fit, nocking point, plate edge), "
                f"then shoot {self.fletched} fletched and {self.few} bare; add no front mass", self.few,
                "bare shots",
                "if marks stay, go to a stiffer or lighter-pointed arrow",
            )  # fmt: skip
        if self.wrong_way is not None and self.seen_marks:
            sure = self.wrong_way >= self.rules.value("wrong_way_sd")
            if self.asked.groups < self.rules.value(
                "fewest_groups_to_stop" if sure else "most_groups"
            ):
                return self.again()
            if not sure:
                # no marks, and what was seen is no more than scatter: the side decides
                return None
            back = self.stiffer(
                "A weaker arrow did not come in: false stiff until shown otherwise. Go back the other way."
            )
            return back if back.option is not None else replace(back, kind="none")
        if self.wrong_way is not None:
            return self.plain(
                "look", "A weaker arrow did not come in: it may be false stiff. Look for marks first.",
                f"powder plate and shaft, shoot {self.fletched} fletched and {self.bare} bare again and note "
                "the marks; add no front mass", self.bare, "bare shots",
                "marks on the plate mean too weak, however stiff it reads",
            )  # fmt: skip
        return self.plain(
            "look", "So far aside that a far too weak shaft could look the same: look for marks first.",
            f"powder plate and shaft, shoot {self.few} bare shafts at {self.rules.value('near_yd'):g} yd, "
            "note the marks; add no front mass", self.few, "bare shots",
            "marks on plate or shaft mean too weak, however stiff it reads",
        )  # fmt: skip

    def stiffer(
        self, verdict: str = "This build may be far too weak for the bow: do not shoot it as it is."
    ) -> Decision:
        """Away from far too weak: what stiffens, by parts first, then by another shaft."""
        found = self.outlooks(gated=True)
        clear = float(self.asked.build.mismatch_lb.mean()) + self.rules.value("stiffer_by_lb")
        found = [
            o for o in found if o.option.kind != "cut" and float(o.mismatch_lb.mean()) >= clear
        ]
        best = choose_change(found, self.inside, gated=True)
        wrong = (
            "if a clearly stiffer arrow lands less to the stiff side, the old one was false stiff"
        )
        self.cautions.insert(0, "never add front mass, length or a weaker shaft here")
        if best is None:
            return self.plain("look", verdict, self.onward(), 0, "", wrong)
        return replace(
            self.change(best), verdict=verdict, if_wrong=wrong,
            what=("" if self.seen_marks else "look for marks with powder, then ") + best.option.what,
        )  # fmt: skip

    def enough_shots(self) -> Decision | None:
        """One shot proves nothing."""
        asked = self.asked
        words = any(
            getattr(r.entry, "reads", None) is not None for r in asked.readings if r.counted
        )
        if words and asked.bare == 0:
            return None
        need_bare = int(self.rules.value("fewest_bare") - asked.bare)
        need_fletched = int(self.rules.value("fewest_fletched") - asked.fletched)
        if need_bare <= 0 and need_fletched <= 0:
            return None
        bare, fletched = max(need_bare, self.few), max(need_fletched, self.fletched)
        return self.plain(
            "shoot", "Too few shots to say anything.",
            f"change nothing: shoot {bare} more bare shafts and {fletched} fletched from the same spot",
            bare, "bare shots",
        )  # fmt: skip

    def height(self) -> Decision | None:
        """Vertical before sideways."""
        top = next(s for s in self.found if s.cause.axis == "vertical")
        up, within = self.asked.up_in, self.asked.within_in
        tails = self.asked.last.look.tail_up
        backed = up is not None and abs(up) > within and tails in ("high", "low")
        far = up is not None and abs(up) > self.rules.value("height_alone_groups") * within
        far = far and self.asked.bare >= self.rules.value("height_alone_bare")
        if not (backed or far or tails in ("high", "low")) or top.cause.name in (
            "level",
            "tight-nock",
        ):
            return None
        if self.asked.last.look.disagree_up and top.cause.name != "shelf-bounce":
            return None
        if not (backed or far) and self.asked.bare:
            return None
        step, per = self.rules.value("nocking_step_in"), self.rules.settings["height_per_step_in"]
        down, small = top.cause.name == "nocking-point-high", step
        if top.cause.name == "shelf-bounce":
            step = self.rules.value("clearly_high_in")
        way = "lower" if down else "raise"
        base = up or 0.0
        scale = self.asked.last.look.distance_yd / 20
        ends = sorted(scale * (base + (1 if down else -1) * slope) for slope in (per.low, per.high))
        spread = self.rules.value("height_doubt_groups") * within * scale
        expect = Expect(
            ends[0] - spread, ends[1] + spread, self.now.chance, self.now.distance_yd, "vertical"
        )
        verdict = f"Height first: {top.cause.label} ({min(100 * top.chance, 99):.0f} in 100)."
        return self.plain(
            "nocking_point", verdict,
            f"{way} the nocking point {inches(step)}"
            + (f", then come down {inches(small)} at a time" if top.cause.name == "shelf-bounce" else ""),
            step if not down else -step, "in",
            "if the height does not follow, the shaft bounces off the shelf: powder it, raise the point "
            f"{inches(self.rules.value('clearly_high_in'))} and come down {inches(small)} at a time",
            expect=expect,
        )  # fmt: skip

    def sideways(self) -> Decision:
        """Stop, shoot once more, or change one thing."""
        asked, rules = self.asked, self.rules
        enough, most = rules.value("enough_inside_chance"), rules.value("most_groups")
        seen_inside = reads_inside(asked)
        if seen_inside and self.inside >= enough:
            few = asked.groups < rules.value("fewest_groups_to_stop")
            return self.prove() if few else self.stop()
        # what was seen of this very build outweighs what other builds let expect of it
        if stays_inside(asked):
            return self.stop()
        sure = max(self.stiff, 1 - self.stiff) >= rules.value("sure_side_chance")
        likeliest = next(s for s in self.found if s.cause.axis == "sideways").cause.name
        if asked.groups < most and (seen_inside or not sure):
            return self.again()
        if seen_inside and likeliest == "matched" and asked.groups < 2 * most:
            return self.again()
        found = self.outlooks()
        best = choose_change(found, self.inside, gated=False)
        if best is not None:
            return self.change(best)
        if asked.groups < 2 * most:
            return self.again()
        if seen_inside and self.inside >= rules.value("settle_inside_chance"):
            return self.stop()
        # every cheap way is used up: now the price of a change no longer counts
        best = choose_change(found, self.inside, gated=False, free=True)
        if best is not None:
            return self.change(best)
        if seen_inside:
            return self.stop()
        return self.plain(
            "none", self.verdict(), "no part in hand or in this stock brings them in: keep it, or bring "
            "other points, inserts or shafts into the stock", 0, "",
        )  # fmt: skip

    def verdict(self) -> str:
        """Stiff or weak, and how surely."""
        side = "stiff" if self.stiff >= 0.5 else "weak"
        sure = max(self.stiff, 1 - self.stiff)
        return f"The arrow is too {side} for this bow ({min(100 * sure, 99):.0f} in 100)."

    def stop(self) -> Decision:
        return self.plain(
            "stop", "The bare shafts land inside your own groups: an offset this small says nothing.",
            "change nothing; shoot three more groups to prove it, then fletch", 0, "", stop=True,
        )  # fmt: skip

    def prove(self) -> Decision:
        """Good so far, on one group only."""
        return self.plain(
            "shoot", "Inside your groups so far, but one group proves nothing.",
            f"change nothing: shoot {self.bare} more bare shafts and {self.fletched} fletched to prove it",
            self.bare, "bare shots",
            "a group outside means that the first was luck",
        )  # fmt: skip

    def again(self) -> Decision:
        """Another end: inside so far, the side sure but not the size, or neither."""
        wrong = "a group on the other side means release or aim, not spine"
        if reads_inside(self.asked):
            verdict = "Inside your own groups so far: an offset this small says little."
        elif max(self.stiff, 1 - self.stiff) >= self.rules.value("sure_side_chance"):
            side = "stiff" if self.stiff >= 0.5 else "weak"
            verdict = f"Clearly {side}; how much is not known yet."
            found = self.outlooks()
            best = next_step(found, weaken=side == "stiff")
            if best is not None:
                wrong = f"if they land there again: {best.option.what}; if on the other side: release or aim"
        else:
            verdict = "Not sure enough yet which side it is."
        return self.plain(
            "shoot", verdict,
            f"change nothing: shoot {self.bare} more bare shafts and {self.fletched} fletched from the same "
            "spot", self.bare, "bare shots", wrong,
        )  # fmt: skip

    def change(self, best: Outlook) -> Decision:
        """A change of the build, with what to expect."""
        option = best.option
        expect = expected_offset(best.mismatch_lb, self.asked, self.learned)
        stiff_side = side_of("stiff", self.hand)
        weak_side = "left" if stiff_side == "right" else "right"
        # a stiff shaft lands opposite to where its tail points
        if best.weakens:
            wrong = (
                f"if they move further {weak_side}, the arrow was false stiff: stop, look for marks, "
                "go stiffer"
            )
        else:
            wrong = (
                f"if they move further {stiff_side}, suspect contact or release, not spine: put the old "
                "part back"
            )
        cautions = list(self.cautions)
        if option.kind == "cut":
            cautions.append(
                "length cannot be put back: bare shafts after every cut, stop when they come in"
            )
        light = mass_warning(option, self.rig, self.book, self.speed)
        if light is not None:
            cautions.append(light)
        return Decision(
            "change", self.verdict(), option.what, option.amount, option.unit, option.reversible,
            expect, wrong, False, tuple(cautions), option,
        )  # fmt: skip
