"""The one thing that could be changed about an arrow, in the order of a careful tuner."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.arrows.makeable import Makeable
from shaftwright.answers.arrows.outlook import Idea, Outlook, outlooks
from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.arrows.shot import Arrow, build_key
from shaftwright.answers.plan.result import Buy
from shaftwright.inference.rig_facts import shortest_safe_length_in, side_position, side_step
from shaftwright.records.fit import cheapest
from shaftwright.records.rig import Bow, Plate, Plunger, Rig
from shaftwright.records.stock import StockItem, line_of, shaft_facts
from shaftwright.resources import table, usual
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.fits import fit_limits, part_fits
from shaftwright.rules.plan import plan_setting
from shaftwright.rules.purposes import setting

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario

_APART_IN = 0.01


class Levers:
    """Everything that could be done about one arrow that is off to a side."""

    def __init__(
        self, scenario: Scenario, arrow: Arrow, shot: Sequence[Arrow], makeable: Makeable
    ) -> None:
        self.scenario, self.arrow, self.shot, self.makeable = scenario, arrow, shot, makeable
        self.rig, self.spec = scenario.rig, arrow.spec
        self.stiff = arrow.chance_stiff > 0.5 if arrow.side_in is None else arrow.side_in > 0
        self.tried = {
            build_key(a.spec, a.build)
            for a in shot
            if a.now and (a.side_in is None or not a.inside)
        }

    # what may be had

    @property
    def shaft(self) -> StockItem | None:
        """The arrow's shaft in the stock."""
        return self.scenario.item(self.spec.shaft)

    def _made(self, kind: str, amount: float, rig: Rig | None = None, buy: tuple[Buy, ...] = (),
              **change: Any) -> Idea:  # fmt: skip
        spec = self.spec.model_copy(update=change)
        return Idea(spec, rig or self.rig, self.arrow, self.piece, buy, kind, amount)

    @cached_property
    def piece(self) -> Piece | None:
        """The shaft in hand that the arrow is made of."""
        return self.scenario.held.nearest(self.spec.shaft, float(self.arrow.build.length_in[0]))

    def judged(
        self, ideas: Iterable[Idea], gated: bool = False, overshoot: bool = False
    ) -> list[Outlook]:
        """The ideas that are safe, new, go the right way and bring it nearer; the best first."""
        found = self._passed(outlooks(self.scenario, list(ideas)), overshoot)
        if gated:
            heavier = float(self.arrow.build.front_gr[0]) + 1e-6
            longer = float(self.arrow.build.length_in[0]) + 1e-6
            found = [o for o in found if o.front_gr <= heavier and o.length_in <= longer]
        # among equals to a chance in a hundred the smaller change
        return sorted(found, key=lambda o: (-round(o.chance_inside, 2), abs(o.idea.amount)))

    def _passed(self, looks: Iterable[Outlook], overshoot: bool = False) -> list[Outlook]:
        """Those that are safe, keep the weight, are new and go the right way."""
        return [
            o for o in looks
            if self._may_be_shot(o) and self._weight_kept(o) and self._new(o)
            and self._right_way(o, overshoot)
        ]  # fmt: skip

    def _may_be_shot(self, outlook: Outlook) -> bool:
        """Whether it is safe; what was shot without marks may be shot stiffer, however weak it was."""
        stiffer = self.arrow.marks == "clean" and outlook.middle_in > self.arrow.off_in
        known = outlook.idea.base is not None and stiffer
        return outlook.safe or (known and outlook.long_enough and outlook.heavy_enough)

    def _weight_kept(self, outlook: Outlook) -> bool:
        """Whether it is within the purpose's weights, or between them and the arrow's own."""
        low, high = outlook.wanted_gr_per_lb
        return outlook.weighs(min(low, self._now.gr_per_lb), max(high, self._now.gr_per_lb))

    @cached_property
    def _now(self) -> Outlook:
        """The arrow itself, from the bow as it is set now."""
        return outlooks(self.scenario, [Idea(self.spec, self.rig, self.arrow)])[0]

    def _new(self, outlook: Outlook) -> bool:
        """Whether it is not an arrow that lay outside already, nor at a setting it was shot at."""
        key = build_key(outlook.idea.spec, outlook.build)
        if outlook.idea.kind not in ("plunger", "plate"):
            return key not in self.tried
        at = _sideways_setting(outlook.idea.rig)
        same = [a for a in self.shot if build_key(a.spec, a.build) == key]
        return all(_sideways_setting(a.known.rig) != at for a in same)

    def _right_way(self, outlook: Outlook, overshoot: bool = False) -> bool:
        """Whether it moves toward the fletched ones and is not as far off on the other side."""
        step = outlook.middle_in - self._now.middle_in
        right = step < -_APART_IN if self.stiff else step > _APART_IN
        near = abs(outlook.middle_in) < abs(self.arrow.off_in) + self.arrow.within_in / 2
        return right and (near or overshoot)

    # the levers, one by one

    def points(self, owned: bool = True) -> Iterator[Idea]:
        """Another point or insert of the same shaft."""
        shaft, shelf = self.shaft, self.scenario.shelf
        if self.spec.by_numbers:
            yield from self._numbers()
        if shaft is None or shelf is None or self.piece is None:
            return
        roles = [r for r in ("point", "broadhead", "insert") if getattr(self.spec, r) is not None]
        for role in roles:
            now = self.scenario.item(getattr(self.spec, role))
            if now is None:
                continue
            for part in shelf.of_kind(now.kind):
                gain = (part.mass_gr or 0.0) - (now.mass_gr or 0.0)
                if not gain or (part.in_hand > 0) != owned or not part_fits(part, shaft):
                    continue
                buy = () if owned else (Buy(part.item, 1),)
                kind = "insert" if role == "insert" else "point"
                yield self._made(kind, gain, None, buy, **{role: part.item})

    def _numbers(self) -> Iterator[Idea]:
        rules = diagnosis_rules()
        step, most = rules.value("front_step_gr"), int(rules.value("most_front_steps"))
        front = float(self.spec.front_gr or 0.0)
        for many in (*range(1, most + 1), *range(-1, -most - 1, -1)):
            if front + many * step >= rules.value("least_front_gr"):
                yield self._made("point", many * step, front_gr=front + many * step)

    def on_the_bow(self) -> Iterator[Idea]:
        """Plunger spring, side position or plate: nothing about the arrow changes."""
        bow = self.rig.bow
        if bow.rest == "plunger":
            plunger = bow.plunger or Plunger()
            turns_now = usual("plunger_turns") if plunger.turns is None else plunger.turns
            for turn in self._steps("plunger_turns"):
                turned = plunger.model_copy(update={"turns": turns_now + turn})
                yield self._set("plunger", turn, plunger=turned)
        elif bow.rest == "shelf" and bow.plate is not None:
            for step in self._steps("side_step_in"):
                thickness = bow.plate.thickness_in + step
                if thickness > 1e-6:  # never down to the bare riser
                    plate = Plate(thickness_in=thickness, material=bow.plate.material)
                    yield self._set("plate", step, plate=plate)

    def side(self) -> Iterator[Idea]:
        """A plunger's side position, after its spring."""
        bow = self.rig.bow
        if bow.rest != "plunger":
            return
        for step in self._steps("side_step_in"):
            if _out_now(self.rig) + step >= 0:
                yield self._made("plunger", step, side_step(self.rig, step))

    def _steps(self, name: str) -> Iterator[float]:
        """One step or a few of them, toward the fletched ones."""
        for many in range(1, int(plan_setting("most_steps_at_once")) + 1):
            yield many * plan_setting(name) * (-1 if self.stiff else 1)

    def _set(self, kind: str, amount: float, **change: Any) -> Idea:
        bow: Bow = self.rig.bow.model_copy(update=change)
        return self._made(kind, amount, self.rig.model_copy(update={"bow": bow}))

    def cut(self) -> Outlook | None:
        """Off the point end of one shaft that stays long enough: as many steps as hardly ever go too far."""
        if self.stiff or (self.piece is None and not self.spec.by_numbers):
            return None
        off, length = abs(self.arrow.seen_off_in), float(self.arrow.build.length_in[0])
        name = (
            "far_cut_step_in" if off > plan_setting("far_cut_in")
            else "cut_step_in" if off > plan_setting("near_cut_in") else "near_cut_step_in"
        )  # fmt: skip
        shortest = shortest_safe_length_in(self.rig, self.scenario.purpose_rule)
        step = plan_setting(name)
        at_last = outlooks(
            self.scenario, [self._made("cut", shortest - length, length_in=shortest)]
        )[0]
        enough = float(np.mean(at_last.offset_in >= -self.arrow.within_in))
        if length > shortest and enough < plan_setting("hopeless_cut_chance"):
            return None  # hardly any cut would do: a stiffer shaft
        while step >= plan_setting("near_cut_step_in") - 1e-9:
            many = min(int((length - shortest + 1e-9) / step), int(plan_setting("most_cut_steps")))
            steps = range(1, many + 1)
            if steps:
                ideas = [self._made("cut", -step * k, length_in=length - step * k) for k in steps]
                first, *deeper = outlooks(self.scenario, ideas)
                some = [o for o in deeper if not self._likely_over(o)]
                return next(iter(self._passed([*some[::-1], first])), None)
            step /= 2
        return None

    def _likely_over(self, outlook: Outlook) -> bool:
        """Whether a cut may well go too far, to the stiff side: length cannot be put back."""
        over = float(np.mean(outlook.offset_in > self.arrow.within_in))
        return over > plan_setting("over_chance")

    def pieces(self, fair: bool = True) -> list[Outlook]:
        """Shafts in hand not shot as they are, on the side asked for; those with a fair chance.

        Each as long as it is; a weaker one that would be far off so, a little shorter.
        """
        pieces = self.makeable.fair() if fair else self.makeable.pieces
        new = [p for p in pieces if not self._same_as_shot(p)]
        ready = self.makeable.ready(new, self.spec)
        found = [o for o in ready if self._new(o) and self._right_way(o, True)]
        known = {a.spec.shaft for a in self.shot if a.now}
        others = [p for p in new if p.shaft not in known and self.stiff]
        shorter = self.judged(self.makeable.shorter(others, self.spec), overshoot=True)
        cut = [o for o in shorter if o.safe and not self._likely_over(o)]
        for piece in {o.idea.piece for o in cut}:
            own = [o for o in cut if o.idea.piece == piece]
            uncut = max((o.middle_in for o in found if o.idea.piece == piece), default=-np.inf)
            if uncut < -plan_setting("far_cut_in"):
                found = [o for o in found if o.idea.piece != piece] + own[:1]
        same = float(self.arrow.build.front_gr[0])
        return sorted(
            found, key=lambda o: (len(o.idea.buy), -round(o.chance_inside, 1), abs(o.front_gr - same))
        )  # fmt: skip

    def stiffer_in_hand(self) -> list[Outlook]:
        """Shafts in hand stiffer than this one and not shot yet, however far; the nearest first."""
        new = [p for p in self.makeable.pieces if not self._same_as_shot(p)]
        here = float(self.arrow.build.spine_mils[0])
        found = [
            o for o in self.makeable.ready(new, self.spec) if float(o.build.spine_mils[0]) < here
        ]
        return sorted(found, key=lambda o: (len(o.idea.buy), abs(o.middle_in)))

    def _same_as_shot(self, piece: Piece) -> bool:
        """Whether an arrow of this shaft and length was shot from the bow as it stands."""
        own = [a for a in self.shot if a.now and a.spec.shaft == piece.shaft]
        return any(abs(float(a.build.length_in[0]) - piece.length_in) < 0.07 for a in own)

    def shafts_to_buy(self) -> list[Outlook]:
        """Shafts of the stock, of the same line first, on the side asked for; uncut unless that is unsafe."""
        shelf, now = self.scenario.shelf, self.shaft
        if self.spec.by_numbers:
            return self.judged(self._usual_spines())
        if shelf is None or now is None:
            return []
        rules, here = diagnosis_rules(), float(self.arrow.build.spine_mils[0])
        same, farthest = rules.value("same_spine_share"), rules.value("farthest_spine_share")
        ideas: list[Idea] = []
        for shaft in shelf.of_kind("shaft"):
            facts = shaft_facts(shaft)
            apart = facts.spine_mils / here - 1
            full = shaft.full_length_in or 0.0
            longer = full > float(self.arrow.build.length_in[0]) + 0.1
            again = self.stiff and longer and shaft.item == now.item
            owned = any(p.length_in > full - 0.1 for p in self.scenario.held.of(shaft.item))
            if owned or shaft.material != now.material or abs(apart) > farthest:
                continue
            if not again and (abs(apart) < same or (apart > 0) != self.stiff):
                continue
            ideas += self._uncut(shaft)
        found = self.judged(ideas, overshoot=True)
        line = line_of(now)
        singles = {i.item: i.pack for i in shelf.of_kind("shaft")}
        return sorted(
            found,
            key=lambda o: (
                o.idea.spec.shaft == now.item,
                line_of(shelf.by_name[str(o.idea.spec.shaft)]) != line, -round(o.chance_inside, 1),
                singles[str(o.idea.spec.shaft)],
            ),
        )  # fmt: skip

    def new_ones(self) -> Iterator[Idea]:
        """The same shaft anew, or its like, as long as it comes."""
        shelf, now = self.scenario.shelf, self.shaft
        if shelf is None or now is None:
            return
        facts = shaft_facts(now)
        for shaft in shelf.of_kind("shaft"):
            if shaft.material == now.material and shaft_facts(shaft).spine_mils == facts.spine_mils:
                yield from self._uncut(shaft)

    def _uncut(self, shaft: StockItem) -> Iterator[Idea]:
        shelf = self.scenario.shelf
        assert shelf is not None
        change: dict[str, Any] = {"shaft": shaft.item, "nock": None, "collar": None, "wrap": None}
        head = self.scenario.item(self.spec.point or self.spec.broadhead)
        if head is None or not part_fits(head, shaft):
            return
        insert = self.scenario.item(self.spec.insert)
        if insert is not None and not part_fits(insert, shaft):
            found = cheapest(shelf, insert.kind, shaft, shaft_facts(shaft), fit_limits())
            if found is None:
                return
            change["insert"] = found.item
            insert = found
        full = shaft.full_length_in or 0.0
        shortest = shortest_safe_length_in(self.rig, self.scenario.purpose_rule)
        lengths = [x for k in range(17) if (x := full - 0.5 * k) >= shortest - 1e-9]
        lacking = [i.item for i in (head, insert) if i is not None and not i.in_hand]
        bought = (Buy(shaft.item, 1), *(Buy(name, 1) for name in lacking))
        ideas = [
            Idea(self.spec.model_copy(update={**change, "length_in": x}), self.rig, None, None,
                 bought, "buy", full - x)
            for x in lengths
        ]  # fmt: skip
        for look in outlooks(self.scenario, ideas):
            # as long as is safe; a weaker one no longer than leaves it a few cuts from straight
            near = not self.stiff or look.middle_in >= -plan_setting("far_cut_in")
            if near and look.far_too_weak <= setting("far_too_weak_chance"):
                yield look.idea
                return

    def _usual_spines(self) -> Iterator[Idea]:
        for row in table("usual_shafts"):
            spine = float(row["spine_mils"])
            if (spine > float(self.spec.spine_mils or 0.0)) == self.stiff:
                spec = self.spec.model_copy(update={"spine_mils": spine, "gr_per_in": None})
                yield Idea(
                    spec, self.rig, None, None, (Buy(f"spine {spine:.0f}", 1),), "buy", spine
                )


def _sideways_setting(rig: Rig) -> tuple[object, ...]:
    """Plate and plunger as they are set, to a sixty-fourth."""
    bow = rig.bow
    plunger = bow.plunger or Plunger()
    turns = usual("plunger_turns") if plunger.turns is None else plunger.turns
    lengths = (
        bow.plate.thickness_in if bow.plate else 0.0,
        plunger.out_in or 0.0,
        plunger.moved_in or 0.0,
    )
    return (round(turns, 2), *(round(64 * x) for x in lengths))


def _out_now(rig: Rig) -> float:
    """Where a plunger holds the arrow's middle, outside the string's line [in]."""
    return side_position(rig)[0] + usual("shaft_radius_in", "reference")
