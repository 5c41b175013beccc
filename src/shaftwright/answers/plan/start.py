"""Before anything flies: set the bow up, weigh it, buy test shafts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.answers.plan.result import Buy, Next
from shaftwright.answers.plan.words import counted
from shaftwright.errors import NoAnswer
from shaftwright.rules.purposes import setting
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where

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
    found = told[start:] if start >= 0 else look_for(where)
    return found if found.endswith(".") else f"{found}."


def look_for(where: Where) -> str:
    """Spine, length and point to look for elsewhere."""
    from shaftwright.inference.band import spine_band

    scenario = where.scenario
    short = scenario.reference_build()
    chance = setting("band_chance")
    band = spine_band(scenario.demand(short), short, scenario.belief, chance)
    low, high = (5 * round(v / 5) for v in (band.low, band.high))
    return f"look for spines {low} to {high} at {inches(band.length_in)}, {band.front_gr:.0f} gr up front."


def _kit(where: Where, why: str = "") -> Next:
    from shaftwright.answers.shop.kit import kit_for

    kit = kit_for(where.scenario)
    first = kit.shafts[0]
    parts = [f"{counted(s.quantity)} {s.item}" for s in kit.shafts if s.quantity]
    price = f" for {kit.price:.2f}" if kit.price else ""
    points = [p.item for p in kit.parts if p.kind == "point"]
    points.sort(key=lambda p: (p != kit.first_point, p))
    front = f", {' and '.join(points)} points" if points else ""
    cuts = "".join(
        f" Cut the {s.item} to {inches(s.length_in)} first: longer may be far too weak."
        for s in kit.shafts if s.cut_first
    )  # fmt: skip
    buy = tuple(Buy(item, quantity) for item, quantity in kit.to_buy)
    told = why or "Nothing you have is worth shooting from this bow yet."
    weak = where.makeable.far_too_weak(where.scenario.held.pieces) if not why else []
    if weak:
        told = f"Far too weak for this bow, not to be shot: your {', '.join(weak)}."
    return where.step(
        "test_shafts", "buy",
        f"Buy a test kit{price}: {', '.join(parts)}{front}.{cuts}",
        f"{told} {round(100 * kit.chance)} in 100 that one of these tunes; a dozen now would be a guess.",
        buy=buy, shaft=first.item, length_in=first.length_in, point=first.point, insert=first.insert,
        cautions=(FIT,), note=f"shaftwright note have {buy[0].item} {buy[0].quantity}" if buy else None,
        then="Note what came with note have, or in stock.csv; next names the first to shoot.",
        if_not="" if kit.chance >= kit.asked else
        f"This stock reaches no more; the usual is {round(100 * kit.asked)} in 100.",
    )  # fmt: skip
