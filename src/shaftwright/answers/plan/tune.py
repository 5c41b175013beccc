"""Nothing straight yet: which arrow to go on from; safety, fair shots, marks and height before sideways."""

from __future__ import annotations

from shaftwright.answers.arrows.outlook import Outlook, outlooks
from shaftwright.answers.arrows.shot import pooled
from shaftwright.answers.plan.change import Case
from shaftwright.answers.plan.cut_or_buy import changes_in_hand, sideways
from shaftwright.answers.plan.nocking import height_is_off, nocking_point
from shaftwright.answers.plan.result import Next
from shaftwright.answers.plan.start import first_end
from shaftwright.answers.plan.steps import Where
from shaftwright.answers.scenario import what_to_look_for
from shaftwright.parameters import setting
from shaftwright.units import cap, in_100, series


def tune(where: Where) -> Next:
    """The one next thing while nothing flies straight."""
    if not any(a.ends for a in where.here):
        return first_end(where)
    chosen, *others = to_go_on_from(where)
    first = _decide(chosen)
    if first is not None and first.kind not in ("none", "buy"):
        return first
    # before a shaft is bought, another one in hand that can be cut or mended
    off = [c for c in others if where.makes(c.arrow) and c.arrow.sure_outside]
    for case in off:
        found = _decide(case)
        if found is not None and found.kind not in ("none", "buy", "shoot", "look_for_marks"):
            return found
    return first or _unsure([chosen, *off]) or _nothing_left(chosen)


def _unsure(cases: list[Case]) -> Next | None:
    """Where nothing is sure to help: the likeliest of what is in hand and new, then of what is sold."""
    in_hand = [(o, c) for c in cases for o in c.levers.untried]
    sold = [(o, c) for c in cases if c.where.scenario.stock for o in c.levers.shafts_to_buy()]
    for looks in (in_hand, sold):
        found = [(o, c) for o, c in looks if o.chance_inside >= setting("plan.last_chance")]
        if found:
            look, case = max(found, key=lambda one: one[0].chance_inside)
            seen, may = cap(case.words.seen(case.arrow)), in_100(look.chance_inside)
            return case.change(look, f"{seen}. Nothing is sure to mend it; this may ({may}).")
    return None


def to_go_on_from(where: Where) -> list[Case]:
    """Arrows that can be made, at the present setting: likeliest to be straight after one change first."""

    def order(case: Case) -> tuple[object, ...]:
        arrow, off = case.arrow, abs(case.arrow.off_in)
        makes = where.makes(arrow)
        likely = _prospect(case) if makes and arrow.now else 0.0
        if arrow.side_in is not None:
            off = (off + abs(arrow.side_in)) / 2
        return (
            not makes, not arrow.now,
            where.standing(arrow) in ("contact", "dangerous") and not _marks_in_doubt(case),
            -round(likely, 1), round(off, 3), repr(arrow.spec),
        )  # fmt: skip

    cases = [Case(where, a) for a in where.here if a.ends]
    return sorted(cases, key=order) if len(cases) > 1 else cases


def _prospect(case: Case) -> float:
    """The best chance to be inside, as it is or after one change with what is in hand."""
    looks = [o for group in changes_in_hand(case, set()) for o in group]
    return max([case.arrow.chance_inside, *(o.chance_inside for o in looks if not o.idea.buy)])


def _decide(case: Case) -> Next | None:
    """Safety and fair shots first, nocking point next, sideways last; None where every lever is used up."""
    again = (_as_set_now, _fair_shots, _height, _clear)
    may_shoot = case.where.may_shoot(case.arrow)
    for step in (
        _dangerous, _as_set_now, _fair_shots, _far_and_unlooked, _contact, _height, _clear, sideways,
    ):  # fmt: skip
        # what shoots it again as it is wants a shaft in hand that is not far too weak
        found = None if step in again and not may_shoot else step(case)
        if found is not None:
            return found
    return None


# safety


def _dangerous(case: Case) -> Next | None:
    """Too short, too light or far too weak: away from it."""
    dangers = case.where.dangers(case.arrow)
    if not dangers:
        return None
    why = f"The {case.name} at {case.words.arrow(case.arrow.spec)} is {series(dangers)}: do not shoot it."
    return _made_safe(case, why) or case.where.step(
        "tune", "none", f"Do not shoot the {case.name} again: it is {series(dangers)}.",
        f"Nothing in hand or in the stock takes its place: {_look_for(case)}",
    )  # fmt: skip


def _made_safe(case: Case, why: str) -> Next | None:
    """Too light: more up front; too short: a longer shaft; what is owned first."""
    levers, where = case.levers, case.where
    fair = [p for p in where.makeable.pieces if p.length_in >= where.shortest - 1e-9]
    groups: list[list[Outlook]] = [
        outlooks(where.scenario, list(levers.points())),
        where.makeable.ready(fair, case.arrow.spec),
        outlooks(where.scenario, list(levers.points(owned=False))),
        outlooks(where.scenario, list(levers.new_ones())),
    ]
    for group in groups:
        safe = [o for o in group if o.safe and o.in_range]
        if safe:
            return case.change(min(safe, key=lambda o: abs(o.middle_in)), why)
    return None


# shots that tell something


def _as_set_now(case: Case) -> Next | None:
    """Nothing is changed again before one end at the present setting."""
    arrow = case.arrow
    if (arrow.now and not case.where.set_anew) or _far_too_weak(case):
        return None
    return case.again("The bow was set anew since; one end tells where it lands now.")


def _far_too_weak(case: Case) -> bool:
    return case.arrow.known.far_too_weak > setting("matching.far_too_weak_chance")


def _fair_shots(case: Case) -> Next | None:
    """Void ends, or impact against nock: nothing is changed."""
    arrow = case.arrow
    if arrow.fair or not arrow.ends or not all(e.void for e in arrow.ends):
        return None
    why = "Too few shots to have a centre: three fletched and two bare at the least."
    if any(e.reading.look.disagree for e in arrow.ends):
        why = "Impact and nock told opposite sides: contact, release or the butt's face, not the shaft."
    elif any(e.reading.look.void for e in arrow.ends):
        why = "The shots lay too wide to have a centre."
    return case.again(why, case.where.near_yd)


def _far_and_unlooked(case: Case) -> Next | None:
    """Very far aside, or a weaker arrow that went the wrong way: look for marks before anything."""
    arrow, where = case.arrow, case.where
    looked = {a.key for a in where.here if a.marks != "unknown"}
    for other in where.here:
        may_be = other.key not in looked and where.makes(other) and not where.dangers(other)
        if may_be and where.false_stiff(other):
            return case.look_for_marks(
                f"The weaker {case.words.shaft(other.spec)} landed further to the stiff side: it "
                "may be far too weak and slap the plate.", other,
            )  # fmt: skip
    if arrow.marks != "unknown" or not where.makes(arrow):
        return None
    far = abs(arrow.side_in or 0.0) > setting("diagnosis.look_for_marks_in")
    if far or _far_too_weak(case):
        why = "So far aside that a far too weak shaft could look the same."
        return case.look_for_marks(
            why if case.stiff else "It may be far too weak, and slap the plate."
        )
    return None


def _contact(case: Case) -> Next | None:
    """Marks that were found: they are not asked for again."""
    arrow, where = case.arrow, case.where
    if arrow.marks == "shelf" and where.makes(arrow):
        return nocking_point(
            where, arrow, "tune", "The shaft touches the shelf: nock fit and nocking point first."
        )
    if arrow.marks != "plate":
        return None
    yd = case.words.yd(where.far_yd)
    if arrow.inside:
        struck = pooled((e.side_in, 1) for e in arrow.ends if e.entry.marks == "plate") or 0.0
        first = "Ease the"
        why = "It lands with the fletched ones, yet it marks the plate: the edge, not the shaft."
        if abs(struck) > arrow.within_in:
            first, side = "See that the nock fits, ease the", case.words.side(struck > 0)
            why = f"It flew straight, but lay {case.words.off(struck)} {side} where it marked the plate."
        return where.shoot(
            "tune", "plate",
            f"{first} edge of the strike plate, then shoot the {case.name} again at {yd}: "
            f"{case.words.arrow(arrow.spec)}.", why, arrow,
            then="No marks and straight again: go on proving it.", expect=None,
            if_not="Marks stay: the nock may be tight, or the feathers touch.",
        )  # fmt: skip
    if _marks_in_doubt(case):
        return where.shoot(
            "tune", "plate",
            f"See that the nock fits, ease the edge of the strike plate, then shoot the {case.name} "
            f"again at {yd}: {case.words.arrow(arrow.spec)}.",
            "It marks the plate and reads stiff. By all else it is hardly far too weak: look at nock and "
            "edge first.", arrow,
            then="No marks: where it lands counts.",
            if_not="Marks again: it is taken for too weak, however it reads.",
        )  # fmt: skip
    reads_stiff = case.stiff
    rather_stiff = reads_stiff and arrow.chance_stiff > 0.5
    however = ", however it reads" if reads_stiff else ""
    why = f"It marks the plate and reads {arrow.reads}: too weak{however}."
    as_read = case.levers
    case.take_as_weak()
    levers = case.levers
    found = levers.no_heavier
    found = found or [o for o in levers.fair_pieces if o.middle_in > arrow.off_in]
    if not found and levers.cut is not None:
        found = [levers.cut]
    # the last resort: something stiffer, in hand or to buy
    found = found or levers.stiffer_in_hand() or levers.shafts_to_buy()
    marked = {a.spec.shaft for a in where.here if a.now and a.marks == "plate"}
    if reads_stiff and len(marked) > 1:
        # two shafts mark it: that is no chance, whatever the figures say
        found = levers.stiffer_in_hand() or levers.stiffer_sold() or found
    elif rather_stiff:
        # neither money nor a shaft goes into what the figures rule out
        least = setting("matching.worth_testing_chance")
        found = [o for o in found if o.idea.kind == "point" or o.chance_inside >= least]
        others = [o for o in as_read.fair_pieces if o.in_range]
        if not found and others:
            # were it far too weak, a weaker one would land further to the stiff side, and mark more
            case.levers = as_read
            return case.change(
                others[0],
                f"It marks the plate and reads {arrow.reads}, yet all else calls it too stiff: another shaft "
                "tells which.",
            )  # fmt: skip
        if not found:
            return where.step(
                "tune", "none",
                f"Change nothing on the {case.name} yet: have a coach or a friend watch nock and plate as "
                "you shoot it.",
                f"It marks the plate and reads {arrow.reads}, as a far too weak shaft would. Yet all else "
                "calls it too stiff, and nothing stiffer would suit this bow.",
                then="What touches is found: ease it, and note an end without marks.",
            )  # fmt: skip
    if found:
        return case.change(found[0], why)
    if _far_too_weak(case):
        return where.step(
            "tune", "none", f"Do not shoot the {case.name} again as it is: it is far too weak.",
            f"{why} Nothing in hand or in the stock takes its place: {_look_for(case)}",
        )  # fmt: skip
    return None


def _marks_in_doubt(case: Case) -> bool:
    """Whether marks of too few ends stand alone: straight or stiff else, and by all else not far too weak."""
    marked = sum(e.entry.marks == "plate" for e in case.arrow.ends)
    alone = 0 < marked < setting("plan.ends_before_change")
    return alone and (case.stiff or case.arrow.inside) and not _far_too_weak(case)


# height, then enough shots


def _height(case: Case) -> Next | None:
    """Up and down before left and right."""
    return nocking_point(case.where, case.arrow, "tune") if height_is_off(case.where) else None


def _clear(case: Case) -> Next | None:
    """Shoot on while it is not sure on which side it is off."""
    arrow, words = case.arrow, case.words
    if arrow.side_in is None:
        return case.again("Nothing of it can be read yet.")
    if arrow.inside and not arrow.fair:
        return case.again(f"It read straight near by; {words.yd(case.where.far_yd)} tells more.")
    if not arrow.sure_outside and len(arrow.counting) < setting("plan.patient_ends"):
        tails = "; but the tails point aside" if arrow.inside and arrow.tails_aside else ""
        return case.again(f"Not clear yet: {words.seen(arrow)}{tails}.")
    return None


def _look_for(case: Case) -> str:
    """What would have to be found elsewhere."""
    return f"{what_to_look_for(case.where.scenario)}."


def _nothing_left(case: Case) -> Next:
    """Every lever is used up."""
    stays = f"stays {'stiff' if case.stiff else 'weak'}"
    if case.arrow.reads == "far too weak":
        stays = "is far too weak to be shot again"
    return case.where.step(
        "tune", "none",
        f"Nothing in hand or in the stock mends the {case.name}, which {stays}: {_look_for(case)}",
        f"{cap(case.words.seen(case.arrow))}.",
        then="Add shafts or points to the stock, or have this one shot by a coach beside you.",
    )  # fmt: skip
