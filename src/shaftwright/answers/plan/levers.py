"""Everything that could be changed about one arrow: bow, point, length, another shaft in hand or bought."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.arrows.outlook import Idea, Outlook, outlooks
from shaftwright.answers.arrows.pieces import Piece
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.result import Buy
from shaftwright.inference.rig_facts import side_position, side_step
from shaftwright.parameters import setting
from shaftwright.records.rig import Bow, Plate, Plunger, Rig
from shaftwright.records.stock import StockItem, line_of, shaft_facts
from shaftwright.resources import table, usual
from shaftwright.rules.fits import cheapest, part_fits

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where

_APART_IN = 0.01


class Levers:
    """Everything that could be done about one arrow that is off to a side."""

    def __init__(self, where: Where, arrow: Arrow, stiff: bool | None = None) -> None:
        self.scenario, self.arrow, self.shot = where.scenario, arrow, where.here
        self.makeable, self.shortest = where.makeable, where.shortest
        self.rig, self.spec = where.scenario.rig, arrow.spec
        #: the shaft in hand that the arrow is made of, and its row in the stock
        self.piece, self.shaft = where.can_make(arrow), where.scenario.item(arrow.spec.shaft)
        self.makes = where.makes(arrow)
        reads = arrow.chance_stiff > 0.5 if arrow.side_in is None else arrow.side_in > 0
        self.stiff = reads if stiff is None else stiff
        self.tried = {a.key for a in self.shot if a.now and not a.inside}

    def _made(self, kind: str, amount: float, rig: Rig | None = None, buy: tuple[Buy, ...] = (),
              **change: Any) -> Idea:  # fmt: skip
        spec = self.spec.model_copy(update=change)
        return Idea(spec, rig or self.rig, self.arrow, self.piece, buy, kind, amount)

    def judged(self, ideas: Iterable[Idea], overshoot: bool = False) -> list[Outlook]:
        """The ideas that are safe, new, go the right way and bring it nearer; the best first."""
        found = self._passed(outlooks(self.scenario, list(ideas), self._shot), overshoot)
        found = [o for o in found if self.sure(o) or self._cheap(o)]
        # among equals to a chance in a hundred the smaller change
        return sorted(found, key=lambda o: (-round(o.chance_inside, 2), abs(o.idea.amount)))

    def _passed(self, looks: Iterable[Outlook], overshoot: bool = False) -> list[Outlook]:
        """Those that are safe, keep the weight, are new and go the right way."""
        return [
            o for o in looks
            if self._may_be_shot(o) and o.weighs(self._shot) and self._new(o)
            and self._right_way(o, overshoot)
        ]  # fmt: skip

    def _may_be_shot(self, outlook: Outlook) -> bool:
        """Whether it is safe; what was shot without marks may be shot stiffer, however weak it was."""
        stiffer = self.arrow.marks == "clean" and outlook.middle_in > self.arrow.off_in
        known = outlook.idea.base is not None and stiffer
        return outlook.safe or (known and outlook.long_enough and outlook.heavy_enough)

    @cached_property
    def _shot(self) -> tuple[float]:
        """The arrow's own grains per pound: what is new lies between them and the purpose's."""
        return (self._now.gr_per_lb,)

    @cached_property
    def _now(self) -> Outlook:
        """The arrow itself, from the bow as it is set now."""
        return outlooks(self.scenario, [Idea(self.spec, self.rig, self.arrow)])[0]

    def _new(self, outlook: Outlook) -> bool:
        """Whether it is not an arrow that lay outside already, nor at a setting it was shot at."""
        if outlook.idea.kind not in ("plunger", "plate"):
            return outlook.key not in self.tried
        at = _sideways_setting(outlook.idea.rig)
        same = [a for a in self.shot if a.key == outlook.key]
        return all(_sideways_setting(a.known.rig) != at for a in same)

    def _right_way(self, outlook: Outlook, overshoot: bool = False) -> bool:
        """Whether it moves toward the fletched ones, not as far off beyond, and no less likely inside."""
        step = outlook.middle_in - self._now.middle_in
        right = step < -_APART_IN if self.stiff else step > _APART_IN
        near = abs(outlook.middle_in) < abs(self.arrow.off_in) + self.arrow.within_in / 2
        likelier = outlook.chance_inside >= self._now.chance_inside
        return right and likelier and (near or overshoot)

    def chance_right(self, outlook: Outlook) -> float:
        """Chance that it moves the shaft the way it should at all, however far."""
        step = outlook.z_lb - self._now.z_lb
        return float(np.mean(step < 0 if self.stiff else step > 0))

    def sure(self, outlook: Outlook) -> bool:
        """Whether the way it moves the shaft is beyond doubt; another shaft's stiffness is known."""
        another = outlook.idea.kind in ("shaft", "buy")
        return another or self.chance_right(outlook) >= setting("plan.sure_way")

    @staticmethod
    def _cheap(outlook: Outlook) -> bool:
        """Whether it costs neither money nor length."""
        return outlook.idea.kind != "cut" and not outlook.idea.buy

    @cached_property
    def on_bow(self) -> list[Outlook]:
        """The best of what can be set on the bow, a plunger's spring before its side position."""
        return [*self.judged(self.on_the_bow()), *self.judged(self.side())]

    @cached_property
    def points_in_hand(self) -> list[Outlook]:
        """Points and inserts in hand that bring it nearer, the best first."""
        return self.judged(self.points())

    @property
    def no_heavier(self) -> list[Outlook]:
        """Of those the ones that add nothing up front, as long as marks were not looked for."""
        return [o for o in self.points_in_hand if o.front_gr <= self.arrow.front_gr + 1e-6]

    def only_too_heavy(self, other: Outlook) -> Outlook | None:
        """A point in hand nearly as likely to do as a purchase, but too heavy for the purpose."""
        worth = setting("plan.heavy_share") * other.chance_inside
        found = [
            o for o in outlooks(self.scenario, list(self.points()))
            if self._may_be_shot(o) and o.gr_per_lb > o.wanted_gr_per_lb[1] and not o.weighs(self._shot)
            and self._new(o) and self._right_way(o) and o.chance_inside >= worth
        ]  # fmt: skip
        return max(found, key=lambda o: o.chance_inside, default=None)

    def points(self, owned: bool = True) -> Iterator[Idea]:
        """Another point or insert of the same shaft."""
        shaft, shelf = self.shaft, self.scenario.shelf
        if self.spec.by_numbers:
            yield from self._numbers()
        if shaft is None or self.piece is None:
            return
        assert shelf is not None  # the shaft is a row of it
        for role in ("point", "broadhead", "insert"):
            now = self.scenario.item(getattr(self.spec, role))
            if now is None:
                continue
            for part in shelf.of_kind(now.kind):
                gain = part.grains - now.grains
                if gain and (part.in_hand > 0) == owned and part_fits(part, shaft):
                    buy = () if owned else (Buy(part.item, 1),)
                    kind = "insert" if role == "insert" else "point"
                    yield self._made(kind, gain, None, buy, **{role: part.item})

    def _numbers(self) -> Iterator[Idea]:
        step, most = setting("diagnosis.front_step_gr"), int(setting("diagnosis.most_front_steps"))
        front = self.arrow.front_gr
        for many in (*range(1, most + 1), *range(-1, -most - 1, -1)):
            if front + many * step >= setting("diagnosis.least_front_gr"):
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
            # where it holds the arrow's middle, outside the string's line
            if side_position(self.rig)[0] + usual("shaft_radius_in", "reference") + step >= 0:
                yield self._made("plunger", step, side_step(self.rig, step))

    def _steps(self, name: str) -> Iterator[float]:
        """One step or a few of them, toward the fletched ones."""
        step = setting(f"plan.{name}")
        for many in range(1, int(setting("plan.most_steps_at_once")) + 1):
            yield many * (-step if self.stiff else step)

    def _set(self, kind: str, amount: float, **change: Any) -> Idea:
        bow: Bow = self.rig.bow.model_copy(update=change)
        return self._made(kind, amount, self.rig.model_copy(update={"bow": bow}))

    @cached_property
    def cut(self) -> Outlook | None:
        """Off the point end of one shaft that stays long enough: as many steps as hardly ever go too far."""
        if self.stiff or (self.piece is None and not self.spec.by_numbers):
            return None
        if self.scenario.along is not None:
            return None  # the saw stays at home
        off, length = abs(self.arrow.seen_off_in), self.arrow.length_in
        step = finest = setting("plan.near_cut_step_in")
        if off > setting("plan.near_cut_in"):
            step = setting("plan.cut_step_in")
        if off > setting("plan.far_cut_in"):
            step = setting("plan.far_cut_step_in")
        if self._hopeless():
            return None  # hardly any cut would do: a stiffer shaft
        while step >= finest - 1e-9:
            many = int((length - self.shortest + 1e-9) / step)
            many = min(many, int(setting("plan.most_cut_steps")))
            if many > 0:
                first, *deeper = outlooks(
                    self.scenario,
                    [self._shortened(length - step * k, -step * k) for k in range(1, many + 1)],
                )
                some = [o for o in deeper if not self._likely_over(o)]
                return next(iter(self._passed([*some[::-1], first])), None)
            step /= 2
        return None

    def _shortened(self, length_in: float, amount: float) -> Idea:
        return self._made("cut", amount, length_in=length_in)

    def _hopeless(self) -> bool:
        """Whether even the shortest safe length would hardly bring it to the fletched ones."""
        last = self._shortened(self.shortest, self.shortest - self.arrow.length_in)
        enough = outlooks(self.scenario, [last])[0].offset_in >= -self.arrow.within_in
        return float(np.mean(enough)) < setting("plan.hopeless_cut_chance")

    def _likely_over(self, outlook: Outlook) -> bool:
        """Whether a cut may well go too far, to the stiff side: length cannot be put back."""
        return outlook.likely_over(self.arrow.within_in) > setting("plan.over_chance")

    @cached_property
    def untried(self) -> list[Outlook]:
        """All that is in hand, safe and new, whichever way it may go."""
        # the very arrow only where it can still be shot as it is
        ideas = [*self.on_the_bow(), *self.side(), *self.points()] if self.makes else []
        new = self._not_shot(self.makeable.pieces)
        ideas += self.makeable.shorter(self.makeable.pieces)
        looks = [*outlooks(self.scenario, ideas, self._shot), *self.makeable.ready(new)]
        return [
            o for o in looks
            if self._may_be_shot(o) and o.weighs(self._shot) and self._new(o) and not o.idea.buy
        ]  # fmt: skip

    @cached_property
    def fair_pieces(self) -> list[Outlook]:
        """Of the shafts in hand those with a fair chance."""
        return self.pieces(self.makeable.fair)

    def pieces(self, pieces: Sequence[Piece]) -> list[Outlook]:
        """Shafts in hand not shot as they are, on the side asked for.

        Each as long as it is; a weaker one that would be far off so, a little shorter.
        """
        new = self._not_shot(pieces)
        ready = self.makeable.ready(new, self.spec)
        found = [
            o for o in ready
            # nothing is bought for an arrow outside the purpose's weights
            if self._new(o) and self._right_way(o, True) and (not o.idea.buy or o.weighs(self._shot))
        ]  # fmt: skip
        known = {a.spec.shaft for a in self.shot if a.now}
        others = [p for p in new if p.shaft not in known and self.stiff]
        shorter = self.judged(self.makeable.shorter(others, self.spec), overshoot=True)
        cut = [o for o in shorter if not self._likely_over(o)]
        for piece in {o.idea.piece for o in cut}:
            own = [o for o in cut if o.idea.piece == piece]
            uncut = max((o.middle_in for o in found if o.idea.piece == piece), default=-np.inf)
            if uncut < -setting("plan.far_cut_in"):
                found = [o for o in found if o.idea.piece != piece] + own[:1]
        same = self.arrow.front_gr
        return sorted(
            found, key=lambda o: (len(o.idea.buy), -round(o.chance_inside, 1), abs(o.front_gr - same))
        )  # fmt: skip

    def stiffer_in_hand(self) -> list[Outlook]:
        """Shafts in hand stiffer than this one and not shot yet, however far; the nearest first."""
        ready = self.makeable.ready(self._not_shot(self.makeable.pieces), self.spec)
        found = [o for o in ready if o.spine_mils < self.arrow.spine_mils]
        return sorted(found, key=lambda o: (len(o.idea.buy), abs(o.middle_in)))

    def _not_shot(self, pieces: Sequence[Piece]) -> list[Piece]:
        """Those of which no arrow so long was shot from the bow as it stands."""
        shot, near = [a for a in self.shot if a.now], setting("plan.same_length_in")
        return [
            p for p in pieces
            if all(a.spec.shaft != p.shaft or abs(a.length_in - p.length_in) >= near for a in shot)
        ]  # fmt: skip

    def shafts_to_buy(self) -> list[Outlook]:
        """Shafts of the stock, of the same line first, on the side asked for; uncut unless that is unsafe."""
        if self.spec.by_numbers:
            return self.judged(self._usual_spines())
        found = self.judged(self._sold(), overshoot=True)
        return sorted(found, key=lambda o: self._in_line(o, -round(o.chance_inside, 1)))

    def stiffer_sold(self) -> list[Outlook]:
        """Stiffer shafts of the stock, however far the figures think them; the nearest first."""
        found = [
            o for o in outlooks(self.scenario, self._sold()) if o.long_enough and o.heavy_enough
        ]
        return sorted(found, key=lambda o: self._in_line(o, -o.spine_mils))

    def _in_line(self, look: Outlook, rank: float) -> tuple[object, ...]:
        """The same row last, another line after the same; among equals the smaller pack."""
        row = self.scenario.item(look.spec.shaft)
        assert row
        assert self.shaft
        return row.item == self.shaft.item, line_of(row) != line_of(self.shaft), rank, row.pack

    def _sold(self) -> list[Idea]:
        """Shafts of the stock of the same material, stiffer or weaker, uncut, that are not in hand."""
        shelf, now = self.scenario.shelf, self.shaft
        if now is None:
            return []
        assert shelf is not None  # the shaft is a row of it
        here = self.arrow.spine_mils
        same = setting("diagnosis.same_spine_share")
        farthest = setting("diagnosis.farthest_spine_share")
        ideas, near = list[Idea](), setting("plan.same_length_in")
        for shaft in shelf.of_kind("shaft"):
            apart = shaft_facts(shaft).spine_mils / here - 1
            full = shaft.comes_in
            again = self.stiff and full > self.arrow.length_in + near and shaft.item == now.item
            owned = any(p.length_in > full - near for p in self.scenario.held.of(shaft.item))
            if owned or shaft.material != now.material or abs(apart) > farthest:
                continue
            if again or (abs(apart) >= same and (apart > 0) == self.stiff):
                ideas += self._uncut(shaft)
        return ideas

    def new_ones(self) -> Iterator[Idea]:
        """The same shaft anew, or its like, as long as it comes."""
        shelf, now = self.scenario.shelf, self.shaft
        if now is None:
            return
        assert shelf is not None  # the shaft is a row of it
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
            found = cheapest(shelf, insert.kind, shaft)
            if found is None:
                return
            change["insert"] = found.item
            insert = found
        full, step = shaft.comes_in, setting("plan.far_cut_step_in")
        shorter = math.floor((full - self.shortest + 1e-9) / step)
        lengths = [full - step * k for k in range(shorter + 1)]
        lacking = [i.item for i in (head, insert) if i is not None and not i.in_hand]
        bought = tuple(Buy(name, 1) for name in (shaft.item, *lacking))
        ideas = [
            Idea(self.spec.model_copy(update={**change, "length_in": x}), self.rig, buy=bought,
                 kind="buy", amount=full - x)
            for x in lengths
        ]  # fmt: skip
        safe = [
            look for look in outlooks(self.scenario, ideas)
            if look.far_too_weak <= setting("matching.far_too_weak_chance")
        ]  # fmt: skip
        # as long as is safe; a weaker one no longer than leaves it a few cuts from straight, or as
        # short as it may be where that still is nearer
        far = setting("plan.far_cut_in") if self.stiff else math.inf
        near = [look.idea for look in safe if look.middle_in >= -far]
        near += [look.idea for look in safe[-1:] if look.middle_in >= -abs(self.arrow.off_in)]
        yield from near[:1]

    def _usual_spines(self) -> Iterator[Idea]:
        for row in table("usual_shafts"):
            spine = float(row["spine_mils"])
            if (spine > self.arrow.spine_mils) == self.stiff:
                spec = self.spec.model_copy(update={"spine_mils": spine, "gr_per_in": None})
                buy = (Buy(f"spine {spine:.0f}", 1),)
                yield Idea(spec, self.rig, buy=buy, kind="buy", amount=spine)


def _sideways_setting(rig: Rig) -> tuple[object, ...]:
    """Plate and plunger as they are set, to a sixty-fourth."""
    bow = rig.bow
    plunger = bow.plunger or Plunger()
    turns = usual("plunger_turns") if plunger.turns is None else plunger.turns
    plate = bow.plate.thickness_in if bow.plate else None
    lengths = plate, plunger.out_in, plunger.moved_in
    return (round(turns, 2), *(round(64 * (x or 0.0)) for x in lengths))
