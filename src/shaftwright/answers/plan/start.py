"""Nothing shot yet: set the bow up, weigh it, buy test shafts; with shafts in hand, which to shoot first."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from itertools import takewhile
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.arrows.outlook import Outlook, outlooks
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.result import Buy, Expect, Next
from shaftwright.answers.plan.steps import Where, counted, listed
from shaftwright.errors import NoAnswer, TooMany
from shaftwright.parameters import setting
from shaftwright.records.notebook import BareShaft, BraceReading, Change
from shaftwright.rules.sections import cautions_for, start_points
from shaftwright.units import REFERENCE_YD, cap, in_100, inches, length_told, series

if TYPE_CHECKING:
    from shaftwright.answers.shop.kit import Kit, KitShaft

FIT = "An arrow too light or too short can break the bow: the bow maker's minimum comes first."
OWN_DRAW = "Draw only with an arrow on the string, and never let go without one."


def set_up(where: Where) -> Next | None:
    """Hand, brace height and nocking point, while one is not known and nothing was shot."""
    rig = where.scenario.rig
    bow, hand_known = rig.bow, rig.archer.hand != "unknown"
    brace_known = isinstance(bow.brace_height_in, float)
    if hand_known and brace_known and bow.nocking_point is not None:
        return None

    def span(low: float, high: float) -> str:
        return f"{length_told(low, rig.units).rpartition(' ')[0]} to {length_told(high, rig.units)}"

    start = start_points(rig)
    brace = span(start.brace_low_in, start.brace_high_in)
    nock = span(start.nocking_low_in, start.nocking_high_in)
    wanted = [] if brace_known else [f"brace height {brace} (the bow maker's range first)"]
    if bow.nocking_point is None:
        wanted.append(f"nocking point {nock} above square")
    if not hand_known:
        wanted.append("the hand that draws, right or left")
    return where.step(
        "set_up", "set_up",
        f"Set the bow up and write it into rig.yaml: {', '.join(wanted)}.",
        f"Every later step rests on them. {start.nock_fit} {start.side}",
        cautions=(OWN_DRAW,),
        then="With that in rig.yaml: shaftwright next.",
    )  # fmt: skip


def measure(where: Where) -> Next | None:
    """Weigh the bow, while only a marked weight is known and nothing owned has a fair chance."""
    rig = where.scenario.rig
    weight = rig.bow.draw_weight
    if weight.no_scale or not isinstance(weight.at, float) or where.arrows or where.makeable.fair:
        return None
    own, at = (length_told(x, rig.units) for x in (rig.archer.draw_length_in, weight.at))
    marked = f"{{lb: {round(weight.lb or 0.0, 1):g}, at: {at}, no_scale: true}}"
    without = f"Without a scale: write draw_weight: {marked}, "
    try:
        kit = f"{without}then: {_kit(where).do}"
    except NoAnswer:
        kit = f"{without}and next names the shafts to test."
    return where.step(
        "measure", "measure",
        f"Weigh the bow at your own draw of {own}, and write it into rig.yaml: "
        "draw_weight: {lb: .., at: own_draw}.",
        "Only the marked weight is known, and bows differ from their mark by pounds. "
        "A luggage scale will do.",
        cautions=(OWN_DRAW,), then=kit,
        if_not="A club or a shop has a scale; a chronograph helps too.",
    )  # fmt: skip


def buy_kit(where: Where, why: str = "") -> Next:
    """Test shafts to buy, or what to look for."""
    from shaftwright.answers.shop.kit import NoneFair

    try:
        return _kit(where, why)
    except TooMany as error:
        return where.step(
            "test_shafts",
            "none",
            "Shorten stock.csv to what you would buy, then ask again.",
            f"It is too long for a kit to be found: {error}.",
        )
    except NoneFair as error:
        nothing = f"Nothing in this stock suits{' at the usual weight' * error.only_by_weight}: "
        return where.step(
            "test_shafts", "none",
            f"{cap((nothing if where.scenario.stock is not None else '') + error.look)}.",
            why or f"{cap(error.why)}.",
            cautions=(FIT,), then="Add what you find to stock.csv, then: shaftwright next.",
        )  # fmt: skip


def _kit(where: Where, why: str = "") -> Next:
    from shaftwright.answers.shop.kit import kit_for

    kit, own = kit_for(where.scenario), where.scenario.stock is not None
    first = kit.shafts[0]
    parts = [f"{counted(s.quantity)} {s.item}" for s in kit.shafts if s.quantity]
    price = f" for {kit.price:.2f}" if kit.price else ""
    points = [p for p in kit.parts if p.kind == "point"]
    points.sort(key=lambda p: (p.item != kit.first_point, p.item))
    named = [p.item if own else f"{p.mass_gr:g} gr" for p in points]
    front = f", {series(named)} points" if named else ""
    told = why or "Nothing you have is worth shooting from this bow yet."
    weak = where.makeable.far_too_weak(where.scenario.held.pieces) if not why else []
    if weak:
        told = f"Far too weak for this bow, not to be shot: your {', '.join(weak)}."
    return where.step(
        "test_shafts", "buy",
        f"Buy a test kit{price}: {', '.join(parts)}{front}.{_cuts(kit)}",
        f"{told} {cap(in_100(kit.chance))} that one of these tunes; a dozen now would be a guess.",
        buy=tuple(Buy(*line) for line in kit.to_buy), shaft=first.item, length_in=first.length_in,
        point=first.point, insert=first.insert, cautions=(FIT,),
        **_when_it_comes(where, kit) if own else {},
        then=f"Note it when it {'is cut' if any(s.cut_first for s in kit.shafts) else 'comes'}; "
        "next then names the first to shoot.",
        if_not=f"{cap(kit.heavier)}." if kit.heavier else "" if kit.chance >= kit.asked else
        f"This stock reaches no more; the usual is {in_100(kit.asked)}.",
    )  # fmt: skip


def _when_it_comes(where: Where, kit: Kit) -> dict[str, Any]:
    """What is noted then: what will be in hand of all that is bought, and how long it then is."""
    shafts = [
        (shaft.item, *cut) for shaft in kit.shafts if shaft.packs for cut in _as_cut(where, shaft)
    ]
    parts = [(p.item, p.in_hand + p.packs * p.pack, "") for p in kit.parts if p.packs]
    things = [*shafts, *parts]
    if not things:
        return {}
    told = (
        f'{shlex.quote(item)} "{count} at {length}"' if length else f"{shlex.quote(item)} {count}"
        for item, count, length in things
    )  # fmt: skip
    return {
        "note": f"shaftwright note have {' '.join(told)}",
        "noted": tuple(
            {"kind": "have", "item": item, "count": count} | ({"length": length} if length else {})
            for item, count, length in things
        ),
    }


def _as_cut(where: Where, shaft: KitShaft) -> list[tuple[int, str]]:
    """How many of a shaft there will be, of each length where not all are as they came."""
    full, stock = shaft.full_length_in, where.scenario.stock
    row = None if stock is None else stock.by_name.get(shaft.item)
    usual = full if row is None else row.in_hand_length_in or full
    known = [piece.length_in for piece in where.scenario.held.of(shaft.item)]
    there = sorted([*known, *[full] * (shaft.packs * shaft.pack)], reverse=True)
    if shaft.cut_first:
        there[: shaft.quantity] = [shaft.length_in] * shaft.quantity
    if set(there) == {usual}:
        return [(len(there), "")]
    return [(there.count(x), inches(x, 32)) for x in sorted({*there}, reverse=True)]


def _cuts(kit: Kit) -> str:
    """What must be cut before it is shot, and why."""
    cut = [s for s in kit.shafts if s.cut_first]
    why = " or ".join(sorted({s.longer_is or "" for s in cut}))
    if not cut:
        return ""
    which = series([f"the {s.item} to {inches(s.length_in)}" for s in cut])
    return f" Cut {which} first: longer {why}."


def first_end(where: Where) -> Next:
    """The first bare shafts from the bow as it stands: an old straight arrow, else the fairest in hand."""
    words, near = where.words, where.near_yd
    far = words.yd(where.far_yd)
    old = _old_straight(where)
    if old is not None:
        strung, cautions = _of_a_new_string(where, old)
        return where.shoot(
            "tune", "shoot",
            f"Shoot your old {words.shaft(old.spec)} bare at {words.yd(near)} first: "
            f"{words.arrow(old.spec)}.",
            f"It flew straight from the bow as it was. {_probably(where, where.outlook(old))}{strung}", old,
            near, cautions=cautions, then=f"Straight or nearly so: shoot it at {far} next.",
            if_not="Sideways in the butt: do not shoot it again; the next step names a safer one.",
        )  # fmt: skip
    made = where.makeable
    ready = made.ready(made.fair)
    if not ready:
        return _nothing_ready(where)
    limit = setting("matching.far_too_weak_chance") / setting("plan.weak_care_times")
    left_out = len({o.idea.piece for o in ready}) < len(made.fair)
    may_be_weak = left_out or max(o.far_too_weak for o in ready) > limit

    def order(look: Outlook) -> tuple[float, ...]:
        spine, chance = look.spine_mils, -round(made.chance(look), 2)
        return len(look.idea.buy), spine if may_be_weak else chance, look.length_in

    look = min(_likeliest_point(ready), key=order)
    if look.idea.buy:
        look = min(_likeliest_point(_of_the_kit(where, ready)), key=order)
    spec, buy = look.idea.spec, look.idea.buy
    why = f"{cap(in_100(made.chance(look)))} that some cut or point of it suits this bow."
    if len({o.idea.spec.shaft for o in ready}) > 1:
        why += " Stiffest first." if may_be_weak else " The likeliest of those you have."
    waiting = [p.shaft for p in made.fair if all(o.idea.piece != p for o in ready)]
    if waiting:
        why += f" Shot later, once cut: {', '.join(sorted(set(waiting)))}."
    if spec.insert is not None:
        why += f" Insert: {spec.insert}."
    expect = where.expect(look, near)
    first = f"With the {listed(buy)} bought, shoot" if buy else "Shoot"
    return where.step(
        "tune", "shoot",
        f"{first} a bare {words.shaft(spec)} at {words.yd(near)}: {words.arrow(spec)}, "
        "3 fletched and 3 bare.",
        why + _not_to_be_shot(where), spec, look.idea.piece, near, buy=buy, expect=expect,
        then=f"Near the fletched ones: the same at {far} next.",
        if_not=_too_far(where, expect, near),
    )  # fmt: skip


def _too_far(where: Where, expect: Expect, near: float) -> str:
    """From where on marks are looked for, and when to stop: not where the bare ones should land."""
    off = setting("diagnosis.look_for_marks_in") * near / REFERENCE_YD
    told = f"More than {where.words.off(off)} off"
    if max(-expect.low_in, expect.high_in) <= off:
        return f"{told}, or sideways in the butt: stop and look for marks on the plate."
    return f"{told}: look for marks on the plate. Sideways in the butt: stop."


def _of_the_kit(where: Where, ready: Sequence[Outlook]) -> Sequence[Outlook]:
    """Those for which nothing is bought but what the test kit holds: one list for both."""
    from shaftwright.answers.shop.kit import kit_for

    try:
        parts = {p.item for p in kit_for(where.scenario).parts}
    except NoAnswer:
        return ready
    return [o for o in ready if all(b.item in parts for b in o.idea.buy)] or ready


def _likeliest_point(ready: Sequence[Outlook]) -> list[Outlook]:
    """Of each shaft one point: fewest parts to buy, then the likeliest, then the lightest front."""

    def order(look: Outlook) -> tuple[float, ...]:
        return len(look.idea.buy), -round(look.chance_inside, 2), look.front_gr

    best: dict[tuple[object, ...], Outlook] = {}
    for look in ready:
        shaft = look.idea.spec.shaft, look.length_in
        best[shaft] = min(best.get(shaft, look), look, key=order)
    return list(best.values())


def _not_to_be_shot(where: Where) -> str:
    """Shafts in hand that are far too weak on paper."""
    found = where.makeable.far_too_weak([p for p in where.scenario.held.pieces if not p.shot])
    return f" Not to be shot, far too weak on paper: {', '.join(found)}." if found else ""


def _old_straight(where: Where) -> Arrow | None:
    """What flew straight before the last change, if it may be drawn now."""
    old = [a for a in where.arrows if a.period > 0 and a.inside and where.makes(a)]
    return min(
        (a for a in old if where.outlook(a).safe), default=None,
        key=lambda a: (a.period, abs(where.outlook(a).middle_in), repr(a.spec)),
    )  # fmt: skip


def _of_a_new_string(where: Where, arrow: Arrow) -> tuple[str, tuple[str, ...]]:
    """What to measure after a change of the string, and what is due before it is drawn."""
    told = takewhile(lambda e: not isinstance(e, BareShaft), reversed(where.scenario.entries))
    since = list(told)
    new = next(
        (i for i, e in enumerate(since) if isinstance(e, Change) and e.what == "string"), None
    )
    if new is None:
        return "", ()
    braced = any(
        isinstance(e, BraceReading)
        or (
            isinstance(e, Change)
            and (e.what == "brace" or (e.rig_state and e.rig_state.brace_height_in))
        )
        for e in since[: new + 1]
    )
    due = cautions_for(where.scenario.rig, where.scenario.purpose, ())
    allowed = next((c.text for c in due if c.name == "low-stretch-string"), None)
    return (
        "" if braced else " A new string: before you shoot, measure the brace height.",
        (allowed, where.look_at(arrow.spec)) if allowed else (),
    )


def _probably(where: Where, look: Outlook) -> str:
    stiff = float(np.mean(look.z_lb > 0))
    if look.chance_inside >= 0.5:
        return "It should still fly nearly straight."
    side = "stiff" if stiff >= 0.5 else "weak"
    sure = max(stiff, 1 - stiff) >= setting("diagnosis.sure_side_chance")
    if not sure and abs(look.middle_in) <= where.within:
        return "It may still fly straight, or lie off to either side."
    word = "will probably" if sure else "may"
    return f"It {word} read {side}: {where.words.side(stiff >= 0.5)} of the fletched."


def _nothing_ready(where: Where) -> Next:
    """Shafts in hand, but none that may be shot as it is: one is cut first, else others are bought."""
    words, made, near = where.words, where.makeable, where.near_yd
    cut = [o for o in outlooks(where.scenario, made.shorter(made.fair)) if o.safe and o.in_range]
    if not cut:
        told = "None of the shafts you have may be shot as it is: too weak or too light."
        return buy_kit(where, told + _not_to_be_shot(where))
    # as long as is safe, of the likeliest shaft: what the kit was sold with
    look = min(
        cut, key=lambda o: (-round(made.chance(o), 2), -o.length_in, -round(o.chance_inside, 2))
    )
    spec = look.idea.spec
    return where.step(
        "tune", "cut",
        f"Cut one {words.shaft(spec)} to {words.length(spec)} and shoot it bare at {words.yd(near)}: "
        f"{words.front(spec)}, 3 fletched and 3 bare.",
        f"As long as it is now it may be far too weak for this bow; at {words.length(spec)} it may be shot.",
        spec, look.idea.piece, near, expect=where.expect(look, near),
        then=f"Near the fletched ones: the same at {words.yd(where.far_yd)} next.",
        if_not="Sideways in the butt: do not shoot it again, and look for marks on the plate.",
    )  # fmt: skip
