"""Off to a side: whether the bow is set, a point changed, a shaft in hand shot, one cut, or one bought."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from shaftwright.answers.arrows.outlook import Outlook
from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.change import Case
from shaftwright.answers.plan.result import Kind, Next, set_as
from shaftwright.answers.plan.steps import Where
from shaftwright.parameters import setting
from shaftwright.units import cap, in_100

#: what moves the shafts sideways and can be set back, and the kind of that step
_SETTABLE: dict[str, Kind] = {"plate": "plate", "plunger": "plunger", "brace": "brace"}


def sideways(case: Case) -> Next | None:
    """One lever, in the order that costs least and can be undone."""
    arrow, where = case.arrow, case.where
    barred = barred_levers(where)
    if not case.stiff and arrow.marks == "unknown" and "point" in barred:
        return case.look_for_marks(
            "Two changes went the wrong way: contact is likelier than the shaft."
        )
    back = _set_back(case)
    if back is not None:
        return back
    if case.stiff and arrow.spec.shaft in where.scenario.held.ask_about:
        return _are_they_cut(case)
    for group in changes_in_hand(case, barred):
        if group:
            return _with_ends_enough(case, *group)
    return _beyond_fair(case, barred)


def changes_in_hand(case: Case, barred: set[str]) -> list[list[Outlook]]:
    """What can be done with what is in hand, each kind's best first, in a tuner's order: a cut comes last."""
    levers, where, arrow = case.levers, case.where, case.arrow
    plunger = where.scenario.rig.bow.rest == "plunger"
    little = abs(arrow.seen_off_in) <= setting(
        "plan.little_plunger_in" if plunger else "plan.little_in"
    )
    settings = {a.setting for a in where.here if a.spec == arrow.spec}
    few = len(settings) <= setting("plan.most_on_the_bow") and where.makes(arrow)
    bow = levers.on_bow if little and few and "plunger" not in barred else []
    # no front is added before marks were looked for
    unlooked = case.stiff and arrow.marks == "unknown"
    points = levers.no_heavier if unlooked else levers.points_in_hand
    if "point" in barred:
        points = []
    # one shaft and no shop is never cut; wood is cut last, for it wants a new taper
    never = where.scenario.stock is None or where.wood(arrow.spec) or "cut" in barred
    cut = None if never else levers.cut
    pieces = levers.fair_pieces
    order = [bow, points, pieces] if little else [pieces, points, bow]
    return [*order, [] if cut is None else [cut]]


def _beyond_fair(case: Case, barred: set[str]) -> Next | None:
    """Nothing fair in hand helps: the other shafts in hand, then what is bought."""
    arrow, levers = case.arrow, case.levers
    if case.stiff and arrow.marks == "unknown" and levers.points_in_hand:
        return case.look_for_marks("More weight up front would help; marks come first.")
    for found in _in_turn(case, barred):
        return _with_ends_enough(case, found)
    seen, few = cap(case.words.seen(arrow)), len(arrow.counting) < setting("plan.patient_ends")
    likely = arrow.chance_inside >= setting("plan.straight_chance")
    if likely:
        seen += (
            f", yet {in_100(arrow.chance_inside)} that it is straight: no change makes it likelier"
        )
    if (few or likely) and case.where.may_shoot(arrow):
        return case.again(f"{seen}.")
    return None


def _in_turn(case: Case, barred: set[str]) -> Iterator[Outlook]:
    """Other shafts in hand, shafts of the shop, a wood shaft's cut, points of the shop."""
    levers = case.levers
    wood, shop = case.where.wood(case.arrow.spec), case.where.scenario.stock is not None
    yield from levers.pieces(levers.makeable.pieces)
    points = levers.judged(levers.points(owned=False)) if shop else []
    if case.stiff or wood:
        yield from (o for o in points if o.chance_inside >= setting("plan.straight_chance"))
    if shop:
        yield from levers.shafts_to_buy()
        if wood and "cut" not in barred and levers.cut is not None:
            yield levers.cut
    yield from points


def _with_ends_enough(case: Case, found: Outlook, *others: Outlook) -> Next:
    """The change; first one end more where it is small or costs a shaft's length or money.

    Far off, another shaft in hand that can be shot as it is tells more than the same one again.
    """
    arrow = case.arrow
    far = abs(arrow.seen_off_in) > setting("diagnosis.look_for_marks_in")
    # a reading in words is the archer's own judgement of more than one shot
    in_words = any(not e.shots for e in arrow.counting)
    small = abs(arrow.seen_off_in) < setting("plan.far_cut_in") and not in_words
    if small or found.idea.kind == "cut" or found.idea.buy:
        few = arrow.agreeing < setting("plan.ends_before_change") and case.where.may_shoot(arrow)
        if few and len(arrow.counting) < setting("plan.patient_ends"):
            free = [o for o in others if o.idea.kind == "shaft" and not o.idea.buy]
            if far and free:
                return case.change(free[0])
            why = "anything is changed" if small else "a shaft is cut or bought"
            must = (
                "Two of them must lie off to one side"
                if len(arrow.counting) > 1
                else "Two ends must agree"
            )
            told = f"{cap(case.words.seen(arrow))}. {must} before {why}."
            return case.again(told, case.where.near_yd if far and not arrow.fair else None)
    return case.change(found)


def _set_back(case: Case) -> Next | None:
    """To the setting at which the same arrow flew straight, once it is sure to lie nearer there.

    The ends of one setting by themselves are luck: all that was shot at either speaks for both.
    """
    where, arrow, words = case.where, case.arrow, case.words
    straight = [
        a for a in where.here
        if len(a.setting) == 1 and a.setting[0][0] in _SETTABLE and a.key == arrow.key
        and a.fair and a.inside and a.ends_inside >= setting("plan.ends_inside_share")
        and a.chance_nearer(arrow) >= setting("diagnosis.sure_side_chance")
    ]  # fmt: skip
    if not straight or not where.makes(arrow):
        return None
    # set back once only: as many changes as settings means that it was set back before
    settings = {a.setting for a in where.here} | {()}
    if where.set_times(straight[0].setting[0][0]) >= len(settings):
        return None
    name, value = max(straight, key=lambda a: (len(a.fair), repr(a.setting))).setting[0]
    # of a plunger one thing alone can be set back: its turns, or how far it stands out
    amount, _, of = value.rpartition(" ")
    if not value[0].isdigit() or (name == "plunger" and "," in value):
        return None
    state = {name: {of: amount} if name == "plunger" else value}
    return where.shoot(
        "tune", _SETTABLE[name],
        f"Set the {name} back to {value}, and shoot the {case.name} again at {words.yd(where.far_yd)}: "
        f"{words.arrow(arrow.spec)}.",
        f"There it flew straight; as it is set now it reads {case.side}.", arrow,
        expect=None, setting=f"{name} {value}", then="Straight again: it leads as before.",
        if_not="Off there too: something else on the bow has changed.", **set_as(name, **state),
    )  # fmt: skip


def _are_they_cut(case: Case) -> Next:
    """Ask about the others where several are in hand and only a short one was ever noted."""
    where, spec, shaft = case.where, case.arrow.spec, case.name
    length, others = case.words.length(spec), len(where.scenario.held.of(shaft))
    uncut = case.words.length(spec.model_copy(update={"length_in": None}))
    note, one = f"shaftwright note have {shaft}", f'"1 at {length}"'
    return where.step(
        "tune", "describe",
        f"Say how long your other {shaft} are: only one of {length} was noted. Are they cut too?",
        f"It reads {case.side}; what comes next hangs on a longer one being there.",
        spec, where.can_make(case.arrow), note=f'{note} {others} --length "{length}"',
        if_not=f'Not cut: {note} {one} {shaft} "{others - 1} at {uncut}"',
    )  # fmt: skip


def barred_levers(where: Where) -> set[str]:
    """Levers that went the wrong way twice, beyond the groups' doubt."""
    counts: dict[str, int] = {}
    known = where.scenario.known
    doubt = setting("plan.contrary_sd") * float(
        np.sqrt(2 * (np.mean(known.bare_sd**2) + np.mean(known.fletched_sd**2)) / 3)
    )  # fmt: skip
    arrows = [a for a in where.here if a.side_in is not None and a.spec.shaft is not None]
    for i, one in enumerate(arrows):
        for other in arrows[i + 1 :]:
            kind = _differ(one, other)
            if kind is None:
                continue
            should = float(np.mean(one.known.before_lb - other.known.before_lb))
            did = (one.side_in or 0.0) - (other.side_in or 0.0)
            if should * did < 0 and abs(did) > doubt:
                counts[kind] = counts.get(kind, 0) + 1
    return {kind for kind, n in counts.items() if n >= setting("plan.contrary_steps")}


def _differ(one: Arrow, other: Arrow) -> str | None:
    """The one thing in which two arrows of a shaft differ; None where it is not one thing."""
    if one.spec.shaft != other.spec.shaft:
        return None
    length = one.key[1] != other.key[1]  # to a sixteenth
    front = abs(one.front_gr - other.front_gr) > setting("plan.same_front_gr")
    setting_differs = one.setting != other.setting
    if length + front + setting_differs != 1:
        return None
    return "cut" if length else "point" if front else "plunger"
