"""Before anything flies: set the bow up, weigh it, buy test shafts."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from shaftwright.answers.look_for import what_to_look_for
from shaftwright.answers.plan.result import Buy, Next
from shaftwright.answers.plan.words import counted
from shaftwright.errors import NoAnswer
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where
    from shaftwright.answers.shop.kit import Kit

FIT = "An arrow too light or too short can break the bow: the bow maker's minimum comes first."
OWN_DRAW = "Draw only with an arrow on the string, and never let go without one."


def set_up(where: Where) -> Next | None:
    """Brace height and nocking point, while either is not known and nothing was shot."""
    bow = where.scenario.rig.bow
    brace_known = isinstance(bow.brace_height_in, float)
    if where.here or (brace_known and bow.nocking_point is not None):
        return None
    from shaftwright.rules.setup import start_points

    start = start_points(where.scenario.rig)
    brace = f"{inches(start.brace_low_in)} to {inches(start.brace_high_in)}".replace(
        " in to", " to"
    )
    nock = f"{inches(start.nocking_low_in)} to {inches(start.nocking_high_in)}".replace(
        " in to", " to"
    )
    wanted = [] if brace_known else [f"brace height {brace} (the bow maker's range first)"]
    if bow.nocking_point is None:
        wanted.append(f"nocking point {nock} above square")
    return where.step(
        "set_up", "set_up",
        f"Set the bow up and write it into rig.yaml: {', '.join(wanted)}.",
        f"Every later step rests on them. {start.nock_fit} {start.side}",
        cautions=(OWN_DRAW,),
        then="With both in rig.yaml: shaftwright next.",
    )  # fmt: skip


def measure(where: Where) -> Next | None:
    """Weigh the bow, while only a marked weight is known and nothing owned has a fair chance."""
    weight = where.scenario.rig.bow.draw_weight
    if weight.curve is not None or weight.at == "own_draw" or weight.no_scale or where.arrows:
        return None
    if where.scenario.held.pieces and where.makeable.fair():
        return None
    rig = where.scenario.rig
    draw = inches(rig.archer.draw_length_in)
    try:
        kit = f"Without a scale: write no_scale: true under draw_weight, then: {_kit(where).do}"
    except NoAnswer:
        kit = "Without a scale: write no_scale: true under draw_weight, and next names the shafts to test."
    return where.step(
        "measure", "measure",
        f"Weigh the bow at your own draw of {draw}, and write it into rig.yaml: draw_weight "
        "{lb: .., at: own_draw}.",
        "Only the marked weight is known, and bows differ from their mark by pounds. "
        "A luggage scale will do.",
        cautions=(OWN_DRAW,), then=kit,
        if_not="A club or a shop has a scale; a chronograph helps too.",
    )  # fmt: skip


def buy_kit(where: Where, why: str = "") -> Next:
    """Test shafts to buy, or what to look for."""
    try:
        return _kit(where, why)
    except NoAnswer as error:
        return where.step(
            "test_shafts", "none", f"Nothing in this stock suits: {_look(str(error), where)}",
            why or "No shaft of it, at any safe length and with any of its points, has a fair chance.",
            cautions=(FIT,), then="Add what you find to stock.csv, then: shaftwright next.",
        )  # fmt: skip


def _look(told: str, where: Where) -> str:
    """What to look for, from the kit's own words or worked out here; a sentence that ends."""
    start = told.find("look for")
    found = told[start:] if start >= 0 else what_to_look_for(where.scenario)
    return found.removesuffix(".") + "."


def _kit(where: Where, why: str = "") -> Next:
    from shaftwright.answers.shop.kit import kit_for

    kit = kit_for(where.scenario)
    first = kit.shafts[0]
    parts = [f"{counted(s.quantity)} {s.item}" for s in kit.shafts if s.quantity]
    price = f" for {kit.price:.2f}" if kit.price else ""
    points = [p for p in kit.parts if p.kind == "point"]
    points.sort(key=lambda p: (p.item != kit.first_point, p.item))
    own = where.scenario.stock is not None
    named = [p.item if own else f"{p.mass_gr:g} gr" for p in points]
    front = f", {' and '.join(named)} points" if named else ""
    buy = tuple(Buy(item, quantity) for item, quantity in kit.to_buy)
    told = why or "Nothing you have is worth shooting from this bow yet."
    weak = where.makeable.far_too_weak(where.scenario.held.pieces) if not why else []
    if weak:
        told = f"Far too weak for this bow, not to be shot: your {', '.join(weak)}."
    return where.step(
        "test_shafts", "buy",
        f"Buy a test kit{price}: {', '.join(parts)}{front}.{_cuts(kit)}",
        f"{told} {round(100 * kit.chance)} in 100 that one of these tunes; a dozen now would be a guess.",
        buy=buy, shaft=first.item, length_in=first.length_in, point=first.point, insert=first.insert,
        cautions=(FIT,), note=_when_it_comes(kit) if where.scenario.stock is not None else None,
        then="Note it when it comes; next then names the first to shoot.",
        if_not="" if kit.chance >= kit.asked else
        f"This stock reaches no more; the usual is {round(100 * kit.asked)} in 100.",
    )  # fmt: skip


def _when_it_comes(kit: Kit) -> str | None:
    """The line to type: what will be in hand of all that is bought and named in an arrow."""
    lines = [s for s in (*kit.shafts, *kit.parts) if s.packs and s.kind != "nock"]
    things = [f"{shlex.quote(s.item)} {s.in_hand + s.packs * s.pack}" for s in lines]
    return f"shaftwright note have {' '.join(things)}" if things else None


def _cuts(kit: Kit) -> str:
    """What must be cut before it is shot, and why."""
    cut = [s for s in kit.shafts if s.cut_first]
    which = " and the ".join(f"{s.item} to {inches(s.length_in)}" for s in cut)
    why = " or ".join(sorted({s.longer_is or "" for s in cut}))
    return f" Cut the {which} first: longer {why}." if cut else ""
