"""Broadheads beside field points: the last proof of an arrow to hunt with, and what to do when they part."""

from __future__ import annotations

from dataclasses import replace

from shaftwright.answers.arrows.makeable import broadhead_for
from shaftwright.answers.arrows.outlook import Idea, Outlook, outlooks
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.change import Case
from shaftwright.answers.plan.levers import Levers
from shaftwright.answers.plan.nocking import nocking_point, tried_by_heads
from shaftwright.answers.plan.result import Buy, Next
from shaftwright.answers.plan.steps import Where, ends_told
from shaftwright.parameters import setting
from shaftwright.records.stock import StockItem
from shaftwright.rules.fits import part_fits
from shaftwright.units import in_100

_NOTE = "shaftwright note broadhead"
HEADS = (
    "Broadheads only into a butt made for them; never toward anybody, and look up your law first."
)


def heads_shot(where: Where, arrow: Arrow) -> int:
    """How often broadheads were shot on an arrow, however the bow was set."""
    return sum(len(a.heads) for a in where.here if a.key == arrow.key)


def broadheads(where: Where, arrow: Arrow) -> Next:
    """Broadheads beside field points of the same weight."""
    words, spec = where.words, arrow.spec
    if arrow.heads_together is False:
        return _heads_off(where, arrow)
    head = broadhead_for(where, arrow)
    called = f"broadheads for {arrow.front_gr:g} gr up front"
    first, buy, instead = "Shoot", tuple[Buy, ...](), ""
    if head is not None:
        called = f"{head.mass_gr:g} gr broadheads"
        if not head.in_hand:
            first, buy = f"Buy {head.item} and shoot", (Buy(head.item, 1),)
            instead = _in_hand_instead(where, arrow, head)
    return where.shoot(
        "prove", "broadheads",
        f"{first} the {called} beside field points, fletched, on the {words.shaft(spec)}: "
        f"{words.length(spec)}, {words.yd(where.far_yd)}.",
        f"Bare shafts are proved in {ends_told(len(arrow.fair))}; the last proof is the head that hunts."
        f"{instead}",
        arrow, None, _NOTE, (HEADS,), buy=buy, bare=0, expect=None,
        then=f"Within {words.off(arrow.within_in)} of the field points: the dozen.",
        if_not="Apart: spin-test the heads first.",
    )  # fmt: skip


def _in_hand_instead(where: Where, arrow: Arrow, head: StockItem) -> str:
    """Heads in hand that should fly as straight with another insert, where it costs less than new heads."""
    shelf, spec = where.scenario.shelf, arrow.spec
    shaft = where.scenario.item(spec.shaft)
    if shelf is None or shaft is None or head.price is None or spec.insert is None:
        return ""
    fits = [i for i in shelf.of_kind("broadhead", "insert") if part_fits(i, shaft)]
    costs = {
        i.item: cost for i in fits
        if i.kind == "insert" and (cost := 0.0 if i.in_hand else i.price) is not None and cost < head.price
    }  # fmt: skip
    ideas = [
        Idea(
            spec.model_copy(update={"point": None, "broadhead": own.item, "insert": insert}),
            where.scenario.rig, arrow,
        )
        for own in fits if own.kind == "broadhead" and own.in_hand
        for insert in costs if insert != spec.insert
    ]  # fmt: skip
    sure = setting("plan.proof_chance")
    found = [
        o for o in outlooks(where.scenario, ideas)
        if o.safe and o.in_range and o.chance_inside >= sure
    ]  # fmt: skip
    if not found:
        return ""
    best = max(found, key=lambda o: (round(o.chance_inside, 2), repr(o.spec)))
    cost = costs[str(best.spec.insert)]
    price = f" for {cost:.2f}" if cost else ""
    return (
        f" Cheaper: {best.spec.broadhead}, which you have, with {best.spec.insert}{price} should fly as "
        f"straight ({in_100(best.chance_inside)}); such an arrow is shot bare first."
    )


def _heads_off(where: Where, arrow: Arrow) -> Next:
    """Broadheads off while bare shafts are straight: spin-test, then height, then sideways."""
    words = where.words
    name, off = words.shaft(arrow.spec), arrow.heads_off()
    tries = heads_shot(where, arrow)
    if tries > 2 * setting("plan.heads_accept_ends"):
        from shaftwright.answers.plan.prove import dozen

        return dozen(where, arrow)
    if tries < setting("plan.spin_test_ends"):
        return _again(
            where, arrow, f"Spin-test every broadhead on the {name}, set the true ones, and shoot them again",
            "They landed apart from the field points though the bare shafts are straight: a head out of true "
            "does that first.",
            "Together: the dozen.", "Still apart: high or low is the nocking point, sideways the bow.",
        )  # fmt: skip
    once_more = f"Shoot the broadheads beside field points once more on the {name}"
    if off is None:
        return _again(
            where, arrow, f"{once_more}, and note every hit",
            "Apart, and the heads run true; only hits tell whether they lie high, low or to a side.",
            "Together: the dozen.", "High or low is the nocking point, sideways the bow.",
            ' --fletched 0,0 --hit "3l 1h"',
        )  # fmt: skip
    side, up = off
    few = where.set_times("nocking_point") < setting("plan.heads_bow_ends")
    if abs(up) > abs(side) and few and not tried_by_heads(where, up):
        return nocking_point(
            where, arrow, "prove",
            f"True broadheads land {words.up(up)}: the nocking point.",
            up,
        )  # fmt: skip
    case = Case(where, arrow, side > 0)
    bow = [*case.levers.on_the_bow(), *case.levers.side()]
    why = f"True broadheads land {words.off(side)} {words.side(side > 0)} of the field points."
    if bow and tries < setting("plan.heads_bow_ends"):
        made = case.change(outlooks(where.scenario, bow)[0], why)
        then = "Broadheads with the field points: the dozen."
        apart = "Still aside: another weight of head and point comes next."
        return replace(made, stage="prove", expect=None, then=then, if_not=apart)
    other = _other_heads(where, arrow, side)
    if other is not None:
        made = case.change(other, why)
        then = "Straight bare too: the broadheads of that weight beside it."
        return replace(made, stage="prove", then=then, if_not="Off: back to the old heads.")
    return _again(
        where, arrow, once_more, f"{why} No other weight of head is left to try.",
        "Near and tight together: accept it.",
        "Ever aside: another broadhead, of fewer or smaller blades.",
    )  # fmt: skip


def _again(
    where: Where, arrow: Arrow, do: str, why: str, then: str, if_not: str, hits: str = ""
) -> Next:
    """The same heads once more."""
    words = where.words
    return where.shoot(
        "prove", "broadheads", f"{do}: {words.length(arrow.spec)}, {words.yd(where.far_yd)}.", why, arrow,
        None, f"{_NOTE}{hits}", (HEADS,), bare=0, expect=None, then=then, if_not=if_not,
    )  # fmt: skip


def _other_heads(where: Where, arrow: Arrow, side: float) -> Outlook | None:
    """A step heavier or lighter on broadhead and point alike, which was never shot on this shaft."""
    levers = Levers(where, arrow)
    step, shelf = setting("plan.head_step_gr"), where.scenario.shelf
    if shelf is None:
        return None
    shot = {a.key for a in where.here}
    heads = [b.grains for b in shelf.of_kind("broadhead")]
    now = float(arrow.build.head_gr[0])
    ideas = [
        i for i in (*levers.points(), *levers.points(owned=False))
        if i.kind == "point" and 0 < (i.amount if side > 0 else -i.amount) < 2 * step + 1
        and any(abs(head - now - i.amount) <= setting("plan.same_front_gr") for head in heads)
    ]  # fmt: skip
    found = [
        o for o in outlooks(where.scenario, ideas)
        if o.safe and o.in_range and o.key not in shot
    ]  # fmt: skip
    return min(
        found,
        key=lambda o: (abs(abs(o.idea.amount) - step), len(o.idea.buy), repr(o.idea.spec)),
        default=None,
    )
