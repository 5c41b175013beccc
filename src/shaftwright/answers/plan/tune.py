"""Shafts in hand and nothing straight yet: what a careful tuner does next."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shaftwright.answers.arrows.contrary import barred_levers
from shaftwright.answers.arrows.outlook import Outlook, outlooks
from shaftwright.answers.arrows.shot import Arrow, build_key
from shaftwright.answers.look_for import what_to_look_for
from shaftwright.answers.plan.first import first_end
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.nocking import height_is_off, nocking_point
from shaftwright.answers.plan.result import Kind, Next
from shaftwright.answers.plan.steps import BUTT, CUT, Where
from shaftwright.answers.plan.told import change_note, change_told, setting_told
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.plan import plan_setting
from shaftwright.rules.purposes import setting

Way = Callable[[], Next | None]
#: what moves the shafts sideways and can be set back, and the kind of that step
_SETTABLE: dict[str, Kind] = {"plate": "plate", "plunger": "plunger", "brace": "brace"}


def tune(where: Where) -> Next:
    """The one next thing while nothing flies straight."""
    if not any(a.ends for a in where.here):
        return first_end(where)
    arrows = to_go_on_from(where)
    first = Tuning(where, arrows[0]).decide()
    if first.kind not in ("none", "buy"):
        return first
    # before a shaft is bought, another one in hand that can be cut or mended
    for arrow in arrows[1:]:
        if where.makes(arrow) and arrow.sure_outside:
            found = Tuning(where, arrow).decide()
            if found.kind not in ("none", "buy", "shoot", "look_for_marks"):
                return found
    return first


def to_go_on_from(where: Where) -> list[Arrow]:
    """Arrows that can be made, at the present setting: likeliest to be straight after one change first."""

    def order(arrow: Arrow) -> tuple[object, ...]:
        likely = Tuning(where, arrow).prospect() if where.makes(arrow) and arrow.now else 0.0
        unclear = arrow.side_in is None
        off = abs(arrow.off_in) if unclear else (abs(arrow.off_in) + abs(arrow.side_in or 0.0)) / 2
        return (
            not where.makes(arrow), not arrow.now, where.standing(arrow) in ("contact", "dangerous"),
            -round(likely, 1), round(off, 3), repr(arrow.spec),
        )  # fmt: skip

    return sorted((a for a in where.here if a.ends), key=order)


class Tuning:
    """One arrow that does not fly straight, and what to do about it."""

    def __init__(self, where: Where, arrow: Arrow) -> None:
        self.where, self.arrow, self.words = where, arrow, where.words
        self.levers = Levers(where.scenario, arrow, where.here, where.makeable)
        self.stiff = self.levers.stiff
        self.name = f"{self.words.shaft(arrow.spec)}"

    def decide(self) -> Next:
        """Safety and fair shots first, nocking point next, sideways last."""
        steps: tuple[Way, ...] = (
            self.dangerous, self.as_set_now, self.fair_shots, self.far_and_unlooked, self.contact,
            self.height, self.clear, self.sideways,
        )  # fmt: skip
        again = (self.as_set_now, self.fair_shots, self.height, self.clear)
        makes = self.where.makes(self.arrow)
        for step in steps:
            # what shoots it again as it is wants a shaft in hand that it can be made of
            found = None if step in again and not makes else step()
            if found is not None:
                return found
        return self.nothing_left()

    def prospect(self) -> float:
        """The best chance to be inside, as it is or after one change with what is in hand."""
        looks = [o for group in self.in_hand(set()) for o in group]
        return max([self.arrow.chance_inside, *(o.chance_inside for o in looks if not o.idea.buy)])

    # safety

    def dangerous(self) -> Next | None:
        """Too short, too light or far too weak: away from it."""
        dangers = self.where.dangers(self.arrow)
        if not dangers:
            return None
        told = " and ".join(dangers)
        why = f"The {self.name} at {self.words.arrow(self.arrow.spec)} is {told}: do not shoot it."
        return self.made_safe(why) or self.where.step(
            "tune", "none", f"Do not shoot the {self.name} again: it is {told}.",
            f"Nothing in hand or in the stock takes its place: {self.look_for()}",
        )  # fmt: skip

    def made_safe(self, why: str) -> Next | None:
        """Too light: more up front; too short: a longer shaft; what is owned first."""
        levers = self.levers
        where = self.where
        fair = [p for p in where.makeable.pieces if p.length_in >= where.shortest - 1e-9]
        groups: list[list[Outlook]] = [
            outlooks(where.scenario, list(levers.points())),
            where.makeable.ready(fair, self.arrow.spec),
            outlooks(where.scenario, list(levers.points(owned=False))),
            outlooks(where.scenario, list(levers.new_ones())),
        ]
        for group in groups:
            safe = [o for o in group if o.safe and o.in_range]
            if safe:
                return self.change(min(safe, key=lambda o: abs(o.middle_in)), why)
        return None

    def away(self, why: str) -> Next | None:
        """To something stiffer: a lighter point, a stiffer shaft in hand, one to buy; never weaker."""
        self.levers.stiff = self.stiff = False
        clear = self.arrow.off_in
        for found in (
            self.levers.judged(self.levers.points(), gated=True),
            [o for o in self.levers.pieces() if o.middle_in > clear],
            self.levers.stiffer_in_hand(),
            self.levers.shafts_to_buy(),
        ):
            if found:
                return self.change(found[0], why)
        return None

    def as_set_now(self) -> Next | None:
        """Nothing is changed again before one end at the present setting."""
        if self.arrow.now and not self.where.set_anew:
            return None
        if self.arrow.known.far_too_weak > setting("far_too_weak_chance"):
            return None
        return self.again(
            plan_setting("prove_yd"),
            "The bow was set anew since; one end tells where it lands now.",
        )

    def fair_shots(self) -> Next | None:
        """Void ends, or impact against nock: nothing is changed."""
        if self.arrow.fair or not self.arrow.ends or not all(e.void for e in self.arrow.ends):
            return None
        disagree = any(e.reading.look.disagree for e in self.arrow.ends)
        why = (
            "Impact and nock told opposite sides: contact, release or the butt's face, not the shaft."
            if disagree
            else "The shots lay too wide to have a centre."
            if any(e.reading.look.void for e in self.arrow.ends)
            else "Too few shots to have a centre: three fletched and two bare at the least."
        )
        return self.again(plan_setting("first_yd"), why)

    def far_and_unlooked(self) -> Next | None:
        """Very far aside, or a weaker arrow that went the wrong way: look for marks before anything."""
        arrow = self.arrow
        far = arrow.side_in is not None and abs(arrow.side_in) > diagnosis_rules().value(
            "look_for_marks_in"
        )
        looked = {build_key(a.spec, a.build) for a in self.where.here if a.marks != "unknown"}
        wrong = next(
            (
                a for a in self.where.here
                if a.marks == "unknown" and build_key(a.spec, a.build) not in looked
                and self.where.makes(a) and not self.where.dangers(a) and self.where.false_stiff(a)
            ),
            None,
        )  # fmt: skip
        if wrong is not None:
            return self.look_for_marks(
                wrong, f"The weaker {self.words.shaft(wrong.spec)} landed further to the stiff side: it "
                "may be far too weak and slap the plate.",
            )  # fmt: skip
        if arrow.marks != "unknown" or not self.where.makes(arrow):
            return None
        if far or arrow.known.far_too_weak > setting("far_too_weak_chance"):
            return self.look_for_marks(
                arrow, "So far aside that a far too weak shaft could look the same."
            )
        return None

    def look_for_marks(self, arrow: Arrow, why: str) -> Next:
        """Powder and two or three shots near by."""
        near = plan_setting("first_yd")
        words = self.words
        return self.where.step(
            "tune", "look_for_marks",
            f"Powder plate and shaft, shoot the {words.shaft(arrow.spec)} bare at {words.yd(near)}, look for "
            f"marks: {words.arrow(arrow.spec)}.",
            why, arrow.spec, self.where.can_make(arrow), near,
            bare=int(diagnosis_rules().value("check_bare")),
            then="No marks: the shafts may be believed, and the next step goes by them.",
            if_not="Marks on plate or tail: it is too weak, however stiff it reads.",
            note="shaftwright note bareshaft",
        )  # fmt: skip

    def contact(self) -> Next | None:
        """Marks that were found: they are not asked for again."""
        arrow = self.arrow
        if arrow.marks == "shelf" and self.where.makes(arrow):
            return nocking_point(
                self.where, arrow, "tune", "The shaft touches the shelf: nock fit and nocking point first."
            )  # fmt: skip
        if arrow.marks != "plate":
            return None
        if arrow.inside:
            return self.where.step(
                "tune", "plate",
                f"Ease the edge of the strike plate, then shoot the {self.name} again: "
                f"{self.words.arrow(arrow.spec)}.",
                "It lands with the fletched ones, yet it marks the plate: the edge, not the shaft.",
                arrow.spec, self.where.can_make(arrow), plan_setting("prove_yd"),
                then="No marks and straight again: go on proving it.",
                if_not="Marks stay: the nock may be tight, or the feathers touch.",
            )  # fmt: skip
        why = (
            f"It marks the plate and reads {arrow.reads}: "
            + ("too weak, however it reads." if self.stiff else "too weak.")
        )  # fmt: skip
        self.levers.stiff = self.stiff = False
        lighter = self.levers.judged(self.levers.points(), gated=True)
        if lighter:
            return self.change(lighter[0], why)
        pieces = [o for o in self.levers.pieces() if o.middle_in > arrow.off_in]
        if pieces:
            return self.change(pieces[0], why)
        cut = self.levers.cut()
        found = self.change(cut, why) if cut is not None else self.away(why)
        if found is None and arrow.known.far_too_weak > setting("far_too_weak_chance"):
            return self.where.step(
                "tune", "none", f"Do not shoot the {self.name} again as it is: it is far too weak.",
                f"{why} Nothing in hand or in the stock takes its place: {self.look_for()}",
            )  # fmt: skip
        return found

    # height, then enough shots

    def height(self) -> Next | None:
        """Up and down before left and right."""
        arrow = self.arrow
        if not height_is_off(self.where):
            return None
        return nocking_point(self.where, arrow, "tune")

    def clear(self) -> Next | None:
        """Shoot on while it is not sure on which side it is off."""
        arrow = self.arrow
        prove = plan_setting("prove_yd")
        if arrow.side_in is None:
            return self.again(prove, "Nothing of it can be read yet.")
        if arrow.inside and not arrow.fair:
            return self.again(
                prove, f"It read straight near by; {self.words.yd(prove)} tells more."
            )
        if not arrow.sure_outside and len(arrow.counting) < plan_setting("patient_ends"):
            return self.again(prove, f"Not clear yet: {self.words.seen(arrow)}.")
        return None

    def again(self, distance: float, why: str) -> Next:
        """The same arrow once more."""
        where, arrow, words = self.where, self.arrow, self.words
        look = where.outlook(arrow)
        return where.step(
            "tune", "shoot",
            f"Shoot the {self.name} again as it is: {words.arrow(arrow.spec)}, {words.yd(distance)}, "
            "3 and 3.",
            why, arrow.spec, where.can_make(arrow), distance, expect=where.expect(look, distance),
            then=f"Within {words.off(arrow.within_in * distance / 20)}: straight so far.",
            if_not=self.if_again(),
        )  # fmt: skip

    def if_again(self) -> str:
        """What comes when it lands there again."""
        side = "stiff" if self.stiff else "weak"
        return f"To the {self.words.side(self.stiff)} again: {side}, and the next step mends it."

    # sideways

    def sideways(self) -> Next | None:
        """One lever, in the order that costs least and can be undone."""
        arrow = self.arrow
        barred = barred_levers(self.where)
        if not self.stiff and arrow.marks == "unknown" and "point" in barred:
            return self.look_for_marks(
                arrow, "Two changes went the wrong way: contact is likelier than the shaft."
            )
        back = self.set_back()
        if back is not None:
            return back
        if self.stiff and arrow.spec.shaft in self.where.scenario.held.ask_about:
            return self.are_they_cut()
        for group in self.in_hand(barred):
            if group:
                return self.with_ends_enough(group[0])
        return self.buy(barred)

    def in_hand(self, barred: set[str]) -> list[list[Outlook]]:
        """What can be done with what is in hand, each kind's best first, in a tuner's order."""
        levers, where = self.levers, self.where
        plunger = where.scenario.rig.bow.rest == "plunger"
        name = "little_plunger_in" if plunger else "little_in"
        little = abs(self.arrow.seen_off_in) <= plan_setting(name)
        bow = self.on_the_bow() if little and "plunger" not in barred else []
        points = [] if "point" in barred else levers.judged(levers.points())
        if self.stiff:
            points = self.after_marks(points)
        pieces = levers.pieces()
        # one shaft and no shop is never cut; wood is cut last, for it wants a new taper
        never = where.scenario.stock is None or where.wood(self.arrow.spec) or "cut" in barred
        cut = None if never else levers.cut()
        order = [bow, points, pieces] if little else [pieces, points, bow]
        return [*order, [] if cut is None else [cut]]

    def set_back(self) -> Next | None:
        """To the setting at which the same arrow flew straight."""
        key = build_key(self.arrow.spec, self.arrow.build)
        straight = [
            a for a in self.where.here
            if len(a.setting) == 1 and a.setting[0][0] in _SETTABLE and build_key(a.spec, a.build) == key
            and a.fair and a.inside and a.ends_inside() >= plan_setting("ends_inside_share")
        ]  # fmt: skip
        name = straight[0].setting[0][0] if straight else ""
        # set back once only: as many changes as settings means that it was set back before
        settings = {a.setting for a in self.where.here} | {()}
        if (
            not straight
            or self.where.set_times(name) >= len(settings)
            or not self.where.makes(self.arrow)
        ):
            return None
        before = max(straight, key=lambda a: (len(a.fair), repr(a.setting)))
        name, value = before.setting[0]
        if not value[0].isdigit():
            return None
        distance, words = plan_setting("prove_yd"), self.words
        kind = _SETTABLE[name]
        option = "plunger-turns" if value.endswith("turns") else name.replace(" ", "-")
        size = value.removesuffix(" turns") if kind == "plunger" else f'"{value}"'
        return self.where.step(
            "tune", kind,
            f"Set the {name} back to {value}, and shoot the {self.name} again at {words.yd(distance)}: "
            f"{words.arrow(self.arrow.spec)}.",
            f"There it flew straight; as it is set now it reads {self.side_told()}.",
            self.arrow.spec, self.where.can_make(self.arrow), distance,
            f"shaftwright note change {name.replace(' ', '_')} --{option} {size}",
            setting=f"{name} {value}", then="Straight again: it leads as before.",
            if_not="Off there too: something else on the bow has changed.",
        )  # fmt: skip

    def on_the_bow(self) -> list[Outlook]:
        """Plunger or plate, a few times at the most."""
        settings = {a.setting for a in self.where.here if a.spec == self.arrow.spec}
        if len(settings) > plan_setting("most_on_the_bow") or not self.where.makes(self.arrow):
            return []
        return [
            *self.levers.judged(self.levers.on_the_bow()),
            *self.levers.judged(self.levers.side()),
        ]

    def are_they_cut(self) -> Next:
        """Ask about the others where several are in hand and only a short one was ever noted."""
        shaft, length = self.words.shaft(self.arrow.spec), self.words.length(self.arrow.spec)
        others = len(self.where.scenario.held.of(shaft))
        return self.where.step(
            "tune", "describe",
            f"Say how long your other {shaft} are: only one of {length} was noted. Are they cut too?",
            f"It reads {self.side_told()}; what comes next hangs on a longer one being there.",
            self.arrow.spec, self.where.can_make(self.arrow), None,
            f'shaftwright note have {shaft} {others} --length "{length}"',
        )  # fmt: skip

    def after_marks(self, points: list[Outlook]) -> list[Outlook]:
        """No front is added before marks were looked for."""
        if self.arrow.marks != "unknown":
            return points
        now = float(self.arrow.build.front_gr[0])
        return [o for o in points if o.front_gr <= now + 1e-6]

    def buy(self, barred: set[str]) -> Next | None:
        """Nothing fair in hand helps: the other shafts in hand, then what is bought."""
        arrow, levers, where = self.arrow, self.levers, self.where
        if self.stiff and arrow.marks == "unknown" and levers.judged(levers.points()):
            return self.look_for_marks(arrow, "More weight up front would help; marks come first.")
        for found in self.in_turn(barred):
            return self.with_ends_enough(found)
        if len(arrow.counting) < plan_setting("patient_ends") and where.makes(arrow):
            return self.again(plan_setting("prove_yd"), f"{self.cap(self.words.seen(arrow))}.")
        return None

    def with_ends_enough(self, found: Outlook) -> Next:
        """The change; first one end more where it is small or costs a shaft's length or money."""
        arrow = self.arrow
        # a reading in words is the archer's own judgement of more than one shot
        in_words = any(not len(e.reading.look.bare) for e in arrow.counting)
        small = abs(arrow.seen_off_in) < plan_setting("far_cut_in") and not in_words
        if small or found.idea.kind == "cut" or found.idea.buy:
            few = arrow.agreeing() < plan_setting("ends_before_change") and self.where.makes(arrow)
            if few and len(arrow.counting) < plan_setting("patient_ends"):
                why = "a shaft is cut or bought" if not small else "anything is changed"
                return self.again(
                    plan_setting("prove_yd"),
                    f"{self.cap(self.words.seen(arrow))}. Two ends must agree before {why}.",
                )
        return self.change(found)

    def in_turn(self, barred: set[str]) -> Iterator[Outlook]:
        """Other shafts in hand, shafts of the shop, a wood shaft's cut, points of the shop."""
        levers = self.levers
        wood, no_shop = self.where.wood(self.arrow.spec), self.where.scenario.stock is None
        yield from levers.pieces(fair=False)
        points = [] if no_shop else levers.judged(levers.points(owned=False))
        if self.stiff or wood:
            yield from (o for o in points if o.chance_inside >= plan_setting("straight_chance"))
        if not no_shop:
            yield from levers.shafts_to_buy()
        cut = levers.cut() if wood and not no_shop and "cut" not in barred else None
        if cut is not None:
            yield cut
        yield from points

    def change(self, look: Outlook, why: str = "") -> Next:
        """Make this one change and shoot."""
        where, arrow, words, idea = self.where, self.arrow, self.words, look.idea
        prove = plan_setting("prove_yd")
        new = idea.base is None and not self.shot_shaft(idea.spec.shaft)
        unsure = look.middle_in < arrow.off_in - 1 or abs(look.middle_in) > diagnosis_rules().value(
            "look_for_marks_in"
        )
        distance = plan_setting("first_yd") if new and unsure else prove
        why = why or f"{self.name} reads {self.side_told()}: {words.seen(arrow)}{self.no_marks()}."
        if idea.kind == "cut" and -idea.amount > plan_setting("far_cut_step_in"):
            over = max(round(100 * float((look.offset_in > where.within).mean())), 1)
            why += f" Such a cut goes too far in {over} of 100."
        kind, do = change_told(where, look, self.name, distance)
        cautions: tuple[str, ...] = ()
        if kind == "cut" and not where.wood(idea.spec):
            cautions = (CUT, BUTT)
        on_bow = kind in ("plunger", "plate")
        note = change_note(where, look) if on_bow else None
        anew = setting_told(where, look) if on_bow else None
        return where.step(
            "tune", kind, do, why, idea.spec, idea.piece or where.can_make(arrow), distance, note, cautions,
            buy=idea.buy, setting=anew, expect=where.expect(look, distance),
            then=f"Within {words.off(where.within * distance / 20)}: straight so far, shoot it again.",
            if_not=self.if_change_fails(look),
        )  # fmt: skip

    def shot_shaft(self, shaft: str | None) -> bool:
        """Whether a shaft was shot from the bow as it stands."""
        return any(a.spec.shaft == shaft for a in self.where.here)

    def side_told(self) -> str:
        """In a word."""
        if self.arrow.reads not in ("straight", "not clear"):
            return self.arrow.reads
        return "a little stiff" if self.stiff else "a little weak"

    def no_marks(self) -> str:
        """That marks were looked for."""
        return ", no marks" if self.arrow.marks == "clean" else ""

    def if_change_fails(self, look: Outlook) -> str:
        """What the other outcome means."""
        stiff, weak = self.words.side(True), self.words.side(False)
        if look.middle_in < self.arrow.off_in:
            return f"Further {stiff}: it was false stiff; stop and look for marks."
        if look.idea.kind == "cut" and self.arrow.marks == "plate":
            return "No change at all: the nock may be tight, or the feathers touch."
        if look.idea.kind == "cut":
            return "No change at all: powder the plate and look for marks before the next cut."
        return f"Still {weak}: the next step goes further. Far {stiff}: too much."

    def look_for(self) -> str:
        """What would have to be found elsewhere."""
        return f"{what_to_look_for(self.where.scenario)}."

    def nothing_left(self) -> Next:
        """Every lever is used up."""
        side = "stiff" if self.stiff else "weak"
        return self.where.step(
            "tune", "none",
            f"Nothing in hand or in the stock mends the {self.name}, which stays {side}: {self.look_for()}",
            f"{self.cap(self.words.seen(self.arrow))}.",
            then="Add shafts or points to the stock, or have this one shot by a coach beside you.",
        )  # fmt: skip

    @staticmethod
    def cap(text: str) -> str:
        """With a capital."""
        return text[:1].upper() + text[1:]
