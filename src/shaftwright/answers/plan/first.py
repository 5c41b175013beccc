"""Shafts in hand and none shot yet: which to shoot first."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shaftwright.answers.arrows.outlook import Outlook, outlooks
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.result import Next
from shaftwright.answers.plan.steps import Where
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.plan import plan_setting
from shaftwright.rules.purposes import setting


def first_end(where: Where) -> Next:
    """The first bare shafts from the bow as it stands."""
    words = where.words
    old = _old_straight(where)
    distance = plan_setting("first_yd")
    if old is not None:
        arrow, look = old
        spec, piece = arrow.spec, where.can_make(arrow)
        return where.step(
            "tune", "shoot",
            f"Shoot your old {words.shaft(spec)} bare at {words.yd(distance)} first: {words.arrow(spec)}.",
            f"It flew straight from the bow as it was. {_probably(where, look)}",
            spec, piece, distance, expect=where.expect(look, distance),
            then="Straight or nearly so: shoot it at 20 yd next." if words.units == "imperial"
            else f"Straight or nearly so: shoot it at {words.yd(plan_setting('prove_yd'))} next.",
            if_not="Sideways in the butt: do not shoot it again; the next step names a safer one.",
        )  # fmt: skip
    found = _candidates(where)
    if not found:
        return nothing_ready(where)
    look = found[0]
    piece = look.idea.piece
    assert piece is not None
    return _first(where, look, len({o.idea.spec.shaft for o in found}) > 1)


def _first(where: Where, look: Outlook, several: bool) -> Next:
    words, spec = where.words, look.idea.spec
    distance = plan_setting("first_yd")
    chance = where.makeable.chances[look.idea.piece] if look.idea.piece is not None else 0.0
    why = f"{min(round(100 * chance), 99)} in 100 that some cut or point of it suits this bow."
    if several:
        why += (
            " Stiffest first."
            if _one_may_be_too_weak(where)
            else " The likeliest of those you have."
        )
    if spec.insert is not None:
        why += f" Insert: {spec.insert}."
    why += _not_to_be_shot(where)
    buy = look.idea.buy
    far = words.off(diagnosis_rules().value("look_for_marks_in") * distance / 20)
    first = f"With the {listed(buy)} bought, shoot" if buy else "Shoot"
    return where.step(
        "tune", "shoot",
        f"{first} a bare {words.shaft(spec)} at {words.yd(distance)}: {words.arrow(spec)}, 3 and 3.",
        why, spec, look.idea.piece, distance, buy=buy, expect=where.expect(look, distance),
        then=f"Near the fletched ones: the same at {words.yd(plan_setting('prove_yd'))} next.",
        if_not=f"More than {far} off, or sideways in the butt: stop and look for marks on the plate.",
    )  # fmt: skip


def _not_to_be_shot(where: Where) -> str:
    """Shafts in hand that are far too weak on paper."""
    pieces = [p for p in where.scenario.held.pieces if not p.shot]
    found = where.makeable.far_too_weak(pieces)
    if not found:
        return ""
    return f" Not to be shot, far too weak on paper: {', '.join(found)}."


def listed(buy: Sequence[object]) -> str:
    """What is bought, in words."""
    return " and ".join(getattr(b, "item", "") for b in buy)


def _candidates(where: Where) -> list[Outlook]:
    """Arrows for a first end: of each fair shaft the likeliest point, in the order to shoot them."""
    made = where.makeable
    best: dict[str, Outlook] = {}
    for look in made.ready(made.fair()):
        key = f"{look.idea.spec.shaft} {look.length_in}"
        if key not in best or _nearer(look, best[key]):
            best[key] = look
    looks = list(best.values())
    if _one_may_be_too_weak(where):
        return sorted(
            looks, key=lambda o: (len(o.idea.buy), float(o.build.spine_mils[0]), o.length_in)
        )
    return sorted(looks, key=lambda o: (len(o.idea.buy), -round(_chance(where, o), 2), o.length_in))


def _chance(where: Where, look: Outlook) -> float:
    return where.makeable.chances[look.idea.piece] if look.idea.piece is not None else 0.0


def _nearer(one: Outlook, other: Outlook) -> bool:
    """Fewer parts to buy, then likelier to fly straight, then the lighter front."""

    def order(look: Outlook) -> tuple[float, ...]:
        return len(look.idea.buy), -round(look.chance_inside, 2), look.front_gr

    return order(one) < order(other)


def _one_may_be_too_weak(where: Where) -> bool:
    """Whether one of the shafts to be shot may be far too weak for the bow as long as it is."""
    made = where.makeable
    ready = made.ready(made.fair())
    worst = max((o.far_too_weak for o in ready), default=1.0)
    limit = setting("far_too_weak_chance") / plan_setting("weak_care_times")
    return worst > limit or len({o.idea.piece for o in ready}) < len(made.fair())


def _old_straight(where: Where) -> tuple[Arrow, Outlook] | None:
    """What flew straight before the last change, if it may be drawn now."""
    old = [a for a in where.arrows if a.period > 0 and a.inside and where.makes(a)]
    found = []
    for arrow in old:
        look = where.outlook(arrow)
        if (
            look.long_enough
            and look.heavy_enough
            and look.far_too_weak <= setting("far_too_weak_chance")
        ):
            found.append((arrow, look))
    return min(
        found, key=lambda p: (p[0].period, abs(p[1].middle_in), repr(p[0].spec)), default=None
    )


def _probably(where: Where, look: Outlook) -> str:
    stiff = float(np.mean(look.z_lb > 0))
    if look.chance_inside >= 0.5:
        return "It should still fly nearly straight."
    side = "stiff" if stiff >= 0.5 else "weak"
    sure = (
        "will probably"
        if max(stiff, 1 - stiff) >= diagnosis_rules().value("sure_side_chance")
        else "may"
    )
    return f"It {sure} read {side}: {where.words.side(stiff >= 0.5)} of the fletched."


def nothing_ready(where: Where) -> Next:
    """Shafts in hand, but none that may be shot as it is: one is cut first, else others are bought."""
    from shaftwright.answers.plan.start import buy_kit

    told = "None of the shafts you have may be shot as it is: too weak or too light."
    made = where.makeable
    cut = [o for o in outlooks(where.scenario, made.shorter(made.fair())) if o.safe and o.in_range]
    if cut:
        return _cut_first(where, cut)
    return buy_kit(where, told + _not_to_be_shot(where))


def _cut_first(where: Where, cut: Sequence[Outlook]) -> Next:
    """As long as is safe, of the likeliest shaft: what the kit was sold with."""
    words = where.words
    look = min(
        cut, key=lambda o: (-round(_chance(where, o), 2), -o.length_in, -round(o.chance_inside, 2))
    )
    spec, distance = look.idea.spec, plan_setting("first_yd")
    return where.step(
        "tune", "cut",
        f"Cut one {words.shaft(spec)} to {words.length(spec)} and shoot it bare at {words.yd(distance)}: "
        f"{words.front(spec)}, 3 and 3.",
        "As long as it came it may be far too weak for this bow; so long it may be shot.",
        spec, look.idea.piece, distance, expect=where.expect(look, distance),
        then=f"Near the fletched ones: the same at {words.yd(plan_setting('prove_yd'))} next.",
        if_not="Sideways in the butt: do not shoot it again, and look for marks on the plate.",
    )  # fmt: skip
