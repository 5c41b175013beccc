"""A change of arrow or bow in words: what to do, how it is set then, and the line that notes it."""

from __future__ import annotations

from shaftwright.answers.arrows.outlook import Outlook
from shaftwright.answers.plan.first import listed
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


def _new_setting(where: Where, look: Outlook) -> tuple[str, str]:
    """Which one thing of plate or plunger an idea sets, and to what."""
    bow, now = look.idea.rig.bow, where.scenario.rig.bow.plunger
    if look.idea.kind == "plate":
        assert bow.plate is not None
        return "plate", inches(bow.plate.thickness_in, 32)
    plunger = bow.plunger
    assert plunger is not None
    if plunger.turns is not None and (now is None or plunger.turns != now.turns):
        return "turns", f"{plunger.turns:g}"
    name = "moved" if plunger.out_in is None else "out"
    return name, inches(getattr(plunger, f"{name}_in") or 0.0, 32)


def _plunger_told(where: Where, look: Outlook) -> str:
    """How to set the plunger."""
    amount = look.idea.amount
    if _new_setting(where, look)[0] == "turns":
        way = "stiffer" if amount > 0 else "softer"
        half = abs(amount) <= plan_setting("plunger_turns")
        return (
            f"Turn the plunger's spring {'half a turn' if half else f'{abs(amount):g} turn'} {way}"
        )
    return f"Move the plunger {inches(abs(amount), 32)} {'out' if amount > 0 else 'in'}"


def setting_told(where: Where, look: Outlook) -> str:
    """The new setting in words."""
    name, to = _new_setting(where, look)
    if name == "plate":
        return f"plate {to}"
    return f"plunger moved {to}" if name == "moved" else f"plunger {to} {name}"


def change_note(where: Where, look: Outlook) -> str:
    """The line that notes the new setting."""
    name, to = _new_setting(where, look)
    if name == "plate":
        return f'shaftwright note change plate --plate "{to}"'
    said = to if name == "turns" else f'"{to}"'
    return f"shaftwright note change plunger --plunger-{name} {said}"
