"""A change of arrow or bow in words: what to do, how it is set then, and the line that notes it."""

from __future__ import annotations

from shaftwright.answers.plan.first import listed
from shaftwright.answers.plan.outlook import Outlook
from shaftwright.answers.plan.result import Kind
from shaftwright.answers.plan.steps import Where
from shaftwright.rules.plan import plan_setting
from shaftwright.units import inches


def change_told(where: Where, look: Outlook, name: str, distance: float) -> tuple[Kind, str]:
    """What to do, in one sentence."""
    words, idea, yd = where.words, look.idea, where.words.yd(distance)
    arrow_told = words.arrow(idea.spec)
    if idea.kind == "cut" and idea.base is None:
        twin = _twin_long(where, words.shaft(idea.spec))
        return "cut", (
            f"Cut one {words.shaft(idea.spec)} you have to {words.length(idea.spec)}, and shoot it bare "
            f"at {yd}: {words.front(idea.spec)}.{twin}"
        )
    if idea.kind == "cut":
        step = inches(-idea.amount, 32)
        twin = _twin_long(where, name)
        return "cut", (
            f"Cut one {name} to {words.length(idea.spec)}, {step} off, and shoot it bare at {yd}, "
            f"{words.front(idea.spec)}.{twin}"
        )
    if idea.kind in ("point", "insert"):
        what = idea.spec.insert if idea.kind == "insert" else None
        with_it = f"insert {what}" if what else f"the {words.front(idea.spec)}"
        if idea.spec.by_numbers:
            with_it = words.front(idea.spec)
        verb = "Buy" if idea.buy else "Take"
        return "insert" if idea.kind == "insert" else "point", (
            f"{verb} {with_it} for the {name} and shoot it bare at {yd}: {words.length(idea.spec)}."
        )
    if idea.kind == "plunger":
        return (
            "plunger",
            f"{_plunger_told(where, look)}, and shoot the {name} again at {yd}: {arrow_told}.",
        )
    if idea.kind == "plate":
        way = "thicker" if idea.amount > 0 else "thinner"
        return "plate", (
            f"Make the strike plate {inches(abs(idea.amount), 32)} {way}, and shoot the {name} "
            f"again at {yd}: {arrow_told}."
        )
    if idea.buy and idea.kind == "buy":
        shortened = idea.amount > 0.1 and not idea.spec.by_numbers
        cut = f", cut it to {words.length(idea.spec)}" if shortened else ""
        return (
            "buy",
            f"Buy one {words.shaft(idea.spec)}{cut} and shoot it bare at {yd}: {arrow_told}.",
        )
    first = f"With the {listed(idea.buy)} bought, shoot" if idea.buy else "Shoot"
    return (
        "shaft",
        f"{first} the {words.shaft(idea.spec)} you have, bare at {yd}: {arrow_told}.",
    )


def _twin_long(where: Where, shaft: str) -> str:
    return " Keep its twin long." if len(where.scenario.held.of(shaft)) > 1 else ""


def _plunger_told(where: Where, look: Outlook) -> str:
    """How to set the plunger."""
    idea, now = look.idea, where.scenario.rig.bow.plunger
    to = idea.rig.bow.plunger
    assert to is not None
    if to.turns is not None and (now is None or to.turns != now.turns):
        way = "stiffer" if idea.amount > 0 else "softer"
        half = abs(idea.amount) <= plan_setting("plunger_turns")
        return f"Turn the plunger's spring {'half a turn' if half else f'{abs(idea.amount):g} turn'} {way}"
    way = "out" if idea.amount > 0 else "in"
    return f"Move the plunger {inches(abs(idea.amount), 32)} {way}"


def setting_told(where: Where, look: Outlook) -> str:
    """The new setting in words."""
    if look.idea.kind == "plate":
        plate = look.idea.rig.bow.plate
        assert plate is not None
        return f"plate {inches(plate.thickness_in, 32)}"
    plunger, now = look.idea.rig.bow.plunger, where.scenario.rig.bow.plunger
    assert plunger is not None
    if plunger.turns != (now.turns if now is not None else None) and plunger.turns is not None:
        return f"plunger {plunger.turns:g} turns"
    if plunger.out_in is not None:
        return f"plunger {inches(plunger.out_in, 32)} out"
    return f"plunger moved {inches(plunger.moved_in or 0.0, 32)}"


def change_note(where: Where, look: Outlook) -> str:
    """The line that notes the new setting."""
    if look.idea.kind == "plate":
        plate = look.idea.rig.bow.plate
        assert plate is not None
        return f'shaftwright note change plate --plate "{inches(plate.thickness_in, 32)}"'
    plunger, now = look.idea.rig.bow.plunger, where.scenario.rig.bow.plunger
    assert plunger is not None
    if plunger.turns is not None and (now is None or plunger.turns != now.turns):
        return f"shaftwright note change plunger --plunger-turns {plunger.turns:g}"
    name = "moved" if plunger.out_in is None else "out"
    at = inches(getattr(plunger, f"{name}_in") or 0, 32)
    return f'shaftwright note change plunger --plunger-{name} "{at}"'
