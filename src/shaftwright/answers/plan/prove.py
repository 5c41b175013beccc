"""Something flies straight: prove it, make the dozen, finish."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from shaftwright.answers.arrows.makeable import shaft_like
from shaftwright.answers.arrows.shot import Arrow, build_key
from shaftwright.answers.plan.change import Case
from shaftwright.answers.plan.heads import broadheads, heads_shot
from shaftwright.answers.plan.nocking import height_is_off, nocking_point
from shaftwright.answers.plan.result import Buy, Next, Stage
from shaftwright.answers.plan.steps import BUTT, Where, counted, ends_told
from shaftwright.arrays import Array
from shaftwright.errors import InputError
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import setting
from shaftwright.physics.spine import spine_marked
from shaftwright.records.notebook import BuildSpec, Dozen
from shaftwright.units import aside_told, cap, in_100, inches, series

_COMPARE = "Off to a side: compare nock, weight and straightness before you blame the shaft."
#: standings of an arrow whose bare shafts lie straight, best first
STRAIGHT = {"proven": 0, "flies straight": 1, "straight so far": 2}


def leading(where: Where) -> Arrow | None:
    """The straight arrow that leads every answer; None while there is none."""
    few = setting("plan.straight_ends")
    spoken = {
        a.key for a in where.here
        if a.now and (len(a.fair) >= few or (a.fair and where.standing(a) in STRAIGHT))
    }  # fmt: skip
    leads = [a for a in where.here if a.now or a.key not in spoken]
    straight = [a for a in leads if where.standing(a) in STRAIGHT]
    return min(straight, key=lambda a: first_of_straight(where, a), default=None)


def first_of_straight(where: Where, arrow: Arrow) -> tuple[object, ...]:
    """The more proven leads, then whose broadheads fly, then weight, then what is owned."""
    heads = arrow.heads_together
    spent = heads is False and heads_shot(where, arrow) >= setting("plan.heads_bow_ends")
    return (
        spent, STRAIGHT.get(where.standing(arrow), 9), not arrow.now, heads is False, -len(arrow.fair),
        -round(arrow.chance_inside, 2), not where.outlook(arrow).in_range, not where.makes(arrow),
        repr(arrow.spec),
    )  # fmt: skip


def prove(where: Where, arrow: Arrow) -> Next:
    """The next thing on the way from straight so far to proven."""
    words, spec = where.words, arrow.spec
    within = words.off(arrow.within_in)
    aside = f"More than that to the {words.side(False)} is weak, to the {words.side(True)} stiff."
    if not where.makes(arrow):
        return _another_like_it(where, arrow)
    if not arrow.now or where.set_anew:
        return where.again(
            "prove", arrow, _since_set(where, arrow), f"Within {within}: it leads as before.", aside,
            how=f"{'' if arrow.now else ' again'} as the bow is set now",
        )  # fmt: skip
    if height_is_off(where):
        up, why = arrow.up_in, ""
        if up is not None:
            why = (
                f"The {words.shaft(spec)} is straight sideways, but lands {words.up(up)}: "
                "the nocking point, not the shaft."
            )
        return nocking_point(where, arrow, "prove", why)
    ends, chance = len(arrow.fair), arrow.chance_inside
    proved = where.standing(arrow) != "straight so far"
    if ends < setting("plan.proof_ends") or chance < setting("plan.proof_chance") or not proved:
        small = _small_change(where, arrow) if ends >= setting("plan.patient_ends") else None
        return small or where.again(
            "prove", arrow, f"{_so_far(where, arrow)}{_confirmed(where, arrow)}",
            _if_straight(where, arrow), aside,
        )  # fmt: skip
    if where.needs_second(spec) and not arrow.second_inside:
        return _make_second(where, arrow)
    return broadheads(where, arrow)


def _since_set(where: Where, arrow: Arrow) -> str:
    """Why what flew straight is shot once more at the present setting."""
    if arrow.now:
        return (
            "The bow was set anew since the last shot; one straight end shows that it still flies."
        )
    if any(a.now and a.ends and a.key == arrow.key for a in where.here):
        return "It flew straight before the bow was set anew; one end since lay off, which can be bad luck."
    told = series([
        f"with {n} {v}" if v[0] != "b" else f"before the change of {n}" for n, v in arrow.setting
    ])  # fmt: skip
    return f"It flew straight {told}; one straight end now shows that it still does."


def _another_like_it(where: Where, arrow: Arrow) -> Next:
    """The straight one is lost or broken: another like it, not another arrow."""
    words, spec = where.words, arrow.spec
    alike = shaft_like(where, spec)
    if alike is None:
        return _not_in_the_shop(where, arrow, "prove")
    return where.shoot(
        "prove", "buy",
        f"Buy another {alike.item} for the one that is gone, make it alike and shoot it: "
        f"{words.arrow(spec)}, {words.yd(where.far_yd)}.",
        f"It flew straight: {words.seen(arrow)}. No other arrow takes its place yet.",
        arrow, buy=(Buy(alike.item, 1),),
        then=f"Within {words.off(arrow.within_in)}: it is proved like the first.", if_not=_COMPARE,
    )  # fmt: skip


def _so_far(where: Where, arrow: Arrow) -> str:
    ends, words = len(arrow.fair), where.words
    if ends == 0:
        return f"It read straight near by; {words.yd(where.far_yd)} is what counts."
    luck = f"{cap(ends_told(ends))} so far; three make sure."
    if ends == 1:
        luck = "One end can be luck."
    if ends >= setting("plan.proof_ends"):
        luck = (
            f"{cap(ends_told(ends))}, and still {in_100(arrow.chance_inside)} that it is straight."
        )
    return f"It flew straight: {words.seen(arrow)}. {luck}"


def _confirmed(where: Where, arrow: Arrow) -> str:
    """The nearest in spine that reads as it should."""
    off = [a for a in where.here if a.side_in is not None and not a.inside]
    for other in sorted(off, key=lambda a: abs(a.spine_mils - arrow.spine_mils)):
        if other.side_in is None or other.spine_mils == arrow.spine_mils:
            continue
        stiffer = other.spine_mils < arrow.spine_mils
        if stiffer == (other.side_in > 0):
            return (
                f" The {where.words.shaft(other.spec)} read {other.reads}, as a "
                f"{'stiffer' if stiffer else 'weaker'} shaft should."
            )
    return ""


def _if_straight(where: Where, arrow: Arrow) -> str:
    """What a straight end leads to; no more is promised than it would make sure of."""
    words, within, small = where.words, arrow.within_in, int(2 * arrow.within_in)
    again = f"Within {words.off(within)} again: one end more."
    if len(arrow.fair) + 1 < setting("plan.proof_ends"):
        return again
    proves = _proving(where, arrow, np.arange(-small, small + 1) / 2)
    if not proves:
        return again
    left, right = sorted(x if words.left_handed else -x for x in (proves[0], proves[-1]))
    if min(-left, right) >= small / 2:
        return f"Within {words.off(within)} again: {_then(where, arrow)}."
    units = where.scenario.rig.units
    told = f"Between {aside_told(left, units)} and {aside_told(right, units)}"
    if left == right:
        told = f"About {aside_told(left, units)}"
    return f"{told}: {_then(where, arrow)}. Else within {words.off(within)}: one end more."


def _proving(where: Where, arrow: Arrow, places_in: Array) -> list[float]:
    """Of places for a further end, stiffward, those that would prove it: Bayes on the draws as they are."""
    known, z = where.scenario.known, arrow.known.mismatch_lb * arrow.slope
    square = np.mean(
        known.bare_sd**2 / where.bare + known.fletched_sd**2 / where.fletched + known.shift_sd**2
    )
    weight = np.exp(-0.5 * (places_in[:, None] - z) ** 2 / square)
    chance = weight @ (np.abs(z) <= arrow.within_in) / np.maximum(weight.sum(axis=1), 1e-300)
    found: list[float] = places_in[chance >= setting("plan.proof_chance")].tolist()
    return found


def _then(where: Where, arrow: Arrow) -> str:
    """What a proven arrow goes on to."""
    if where.needs_second(arrow.spec) and not arrow.second_inside:
        return "make a second one alike"
    return "broadheads next" if where.hunting else "the dozen"


def _small_change(where: Where, arrow: Arrow) -> Next | None:
    """Many ends, and its centre near the edge: something small on the bow, or the smallest point."""
    case = Case(where, arrow)
    better = [o for o in case.levers.on_bow if o.chance_inside > arrow.chance_inside]
    if not better:
        return None
    seen = where.words.seen(arrow)
    made = case.change(
        better[0], f"It flies straight, but {seen}: a little on the bow brings it in."
    )
    return replace(made, stage="prove")


def _make_second(where: Where, arrow: Arrow) -> Next:
    """A second arrow made alike."""
    words, spec = where.words, arrow.spec
    name, yd, first = words.shaft(spec), words.yd(where.far_yd), arrow.first_piece
    owned = where.scenario.held.of(spec.shaft)
    others = [p for p in owned if p.number != first and p.length_in >= arrow.length_in - 1e-6]
    reason = (
        "Wood differs from shaft to shaft" if where.wood(spec) else "One shaft may be an odd one"
    )
    straight = sum(abs(e.side_in or 0.0) <= arrow.within_in for e in arrow.fair if e.piece == first)
    ends = sum(e.piece == first for e in arrow.fair)
    many = f"{counted(straight)} of {counted(ends)} ends" if straight < ends else ends_told(ends)
    why = f"The first flew straight in {many}. {reason}; a dozen wants two that fly."
    number = min(others, key=lambda p: (p.length_in, p.number)).number if others else 2
    missed = [e.piece for e in arrow.ends if e.piece != first and e.side_in is not None]
    if missed:
        number = missed[-1] + (len(missed) >= setting("plan.straight_ends"))
        why = f"Number {missed[-1]}, made alike, landed off: compare its nock, weight and straightness."
    buy: tuple[Buy, ...] = ()
    do = f"Make a second {name} alike and shoot it bare at {yd}: {words.arrow(spec)}."
    if not spec.by_numbers and (not others or number not in [p.number for p in owned]):
        alike = shaft_like(where, spec)
        if alike is None:
            return _not_in_the_shop(where, arrow, "prove")
        buy, more = (Buy(alike.item, 1),), where.bought(spec)
        number = number if more is None else more.number
        do = f"Buy one more {alike.item}, make it alike and shoot it: {words.arrow(spec)}, {yd}."
    made = where.shoot(
        "prove", "make_second", do, why, arrow, note=f"shaftwright note bareshaft --piece {number}", buy=buy,
        then=f"Within {words.off(arrow.within_in)}: "
        + ("broadheads next." if where.hunting else "the dozen."), if_not=_COMPARE,
    )  # fmt: skip
    return replace(made, piece=number)


def dozen(where: Where, arrow: Arrow) -> Next:
    """The dozen is of the proven arrow: make one, shoot it, then the rest."""
    from shaftwright.answers.shop.dozen import dozen_for

    words, spec = where.words, arrow.spec
    name, length = words.shaft(spec), words.length(spec)
    alike, wanted = shaft_like(where, spec), 12
    owned = where.scenario.held.of(spec.shaft)
    enough = sum(p.length_in >= (spec.length_in or 0) - 1e-6 for p in owned) >= wanted
    if not spec.by_numbers and alike is None and not enough:
        return _not_in_the_shop(where, arrow, "dozen")
    # what the list of `shop` holds, spares and all
    sold = [line for line in dozen_for(where.scenario, spec) if line.kind == "shaft" and line.packs]
    buy = () if enough else tuple(Buy(line.item, line.packs * line.pack) for line in sold)
    named = [f"{b.quantity} {b.item}" for b in buy]
    what = f"Buy {series(named)}" if buy else f"You have the shafts: take twelve {name}"
    return where.step(
        "dozen", "make_dozen",
        f"{what}, make one at {length} with the {words.front(spec)}, shoot it, then make the rest.",
        f"The {name} is proven: {ends_told(len(arrow.fair))} straight"
        + (", a second one alike" if arrow.second_inside else "")
        + (", broadheads with the field points." if arrow.heads_together else "."),
        spec, where.can_make(arrow), note="shaftwright note dozen 12", buy=buy,
        cautions=(where.look_at(spec), BUTT), distance_yd=where.far_yd,
        then="It flies like the proven one: cut the rest to the same length, and weigh them.",
        if_not="It misses: prove that one before you cut another; the box may differ.",
    )  # fmt: skip


def _not_in_the_shop(where: Where, arrow: Arrow, stage: Stage) -> Next:
    """The shop lacks the proven shaft: what to look for, and that it must be shot first."""
    words, spec = where.words, arrow.spec
    weight = float(arrow.build.gr_per_in[0])
    spine = spine_marked(arrow.spine_mils, where.wood(spec))
    return where.step(
        stage, "buy",
        f"Look elsewhere for shafts like the {words.shaft(spec)}: spine {spine}, "
        f"{weight:.1f} gr an inch, at least {words.length(spec)} long.",
        "This stock has none. What you find must be shot bare before it becomes a dozen.",
        spec, where.can_make(arrow), then="Add its row to the stock and shoot one beside the proven arrow.",
    )  # fmt: skip


def made_dozen(where: Where) -> tuple[Dozen, Arrow] | None:
    """The dozen that was noted, and the arrow it was made of; once the bow is set anew it is proved again."""
    history = where.history
    changed = max((i for i, _, _ in history.changes), default=0)
    dozens = [
        (i, e) for i, e in enumerate(where.scenario.entries)
        if isinstance(e, Dozen) and history.period(i) == 0
    ]  # fmt: skip
    if sum(d.made for _, d in dozens) < setting("plan.dozen_least"):
        return None
    index, entry = max(dozens, key=lambda d: (str(d[1].date or ""), d[1].made, repr(d[1])))
    try:
        key = build_key(entry.build, resolve_build(entry.build, where.scenario.stock))
    except InputError:
        return None
    own = [a for a in where.here if a.now and a.key == key]
    if not own or not own[0].ends or where.dangers(own[0]):
        return None  # a dozen of an arrow that was never shot bare, or must not be drawn
    if index < changed and where.standing(own[0]) != "proven":
        return None
    return entry, own[0]


def missed_since(arrow: Arrow, day: dt.date | None) -> bool:
    """Whether the last fair ends after the dozen lay outside, or it no longer flies straight at all."""
    if arrow.contradicted or not arrow.inside:
        return True
    later: dict[dt.date, list[float]] = {}
    for end in arrow.fair:
        if day is not None and end.entry.date is not None and end.entry.date > day:
            later.setdefault(end.entry.date, []).append(end.side_in or 0.0)
    if not later:
        return False
    last = later[max(later)]
    return abs(sum(last) / len(last)) > arrow.within_in


def prove_anew(where: Where, arrow: Arrow) -> Next:
    """An end outside after the dozen was made."""
    return where.again(
        "prove", arrow,
        "The last end since the dozen was made lay outside. Look at brace and nocking point first.",
        f"Within {where.words.off(arrow.within_in)}: it was an odd end, and you are tuned.",
        "Outside again: something on the bow has changed; note it.",
    )  # fmt: skip


def done(where: Where, entry: Dozen, arrow: Arrow) -> Next:
    """Tuned."""
    words, spec = where.words, entry.build
    yd, within = words.yd(where.far_yd), words.off(arrow.within_in)
    weights = entry.masses_gr
    weighed = f", {min(weights):g} to {max(weights):g} gr" if weights else ""
    cautions = [where.look_at(spec)]
    same_day = [e.side_in or 0.0 for e in arrow.fair if e.entry.date == entry.date]
    off = [x for x in same_day if abs(x) > arrow.within_in]
    if off:
        side = words.side(off[-1] > 0)
        cautions.insert(
            0,
            f"One end of that day lay {words.off(off[-1])} {side}. Shot after the dozen? Then one more.",
        )
    if where.hunting and not arrow.heads_together:
        unproved = "No broadhead has flown with the field points yet: shoot them before you hunt."
        cautions.insert(0, unproved)
    return where.step(
        "done", "finish",
        f"Tuned. Keep the card, and shoot: {words.shaft(spec)}, {words.arrow(spec)}, "
        f"{entry.made} made{weighed}.",
        f"Quiver label: {quiver_label(where, spec)}",
        spec, where.can_make(arrow), cautions=tuple(cautions), distance_yd=where.far_yd,
        then=f"Still in tune? One end of 3 fletched and 3 bare at {yd}: within {within}, yes.",
        if_not="Farther off, or anything on the bow changed: note it, and next begins anew.",
    )  # fmt: skip


def quiver_label(where: Where, spec: BuildSpec) -> str:
    """The line that reorders the arrow: spine, length, insert, point, weight."""
    build = resolve_build(spec, where.scenario.stock)
    wood = where.wood(spec)
    spine = spine_marked(float(build.spine_mils[0]), wood) + (" wood" if wood else "")
    insert = f", insert {build.insert_gr[0]:g} gr" if build.insert_gr[0] else ""
    return (
        f"{spine} spine, {inches(float(build.length_in[0]), 32)}{insert}, point {build.head_gr[0]:g} gr, "
        f"{build.total_gr[0]:.0f} gr in all"
    )
