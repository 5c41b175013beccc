"""From rig, stock and notebook to the stage and the one next thing."""

from __future__ import annotations

from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.plan.prove import (
    done,
    dozen,
    first_of_straight,
    leading,
    made_dozen,
    missed_since,
    prove,
    prove_anew,
)
from shaftwright.answers.plan.result import Next, Plan
from shaftwright.answers.plan.start import buy_kit, first_end, measure, set_up
from shaftwright.answers.plan.steps import Where
from shaftwright.answers.plan.tune import tune
from shaftwright.answers.scenario import Scenario

_BEST = (
    "proven", "flies straight", "straight so far", "not clear yet", "outside", "contact", "dangerous"
)  # fmt: skip


def plan_of(scenario: Scenario) -> Plan:
    """The plan of a scenario."""
    where = scenario.where
    shot = sorted(where.arrows, key=lambda a: _order(where, a))
    shown = tuple(a.as_shot(where.standing(a)) for a in shot)
    return Plan(_next(where), shown, scenario.own_rules or None)


def _order(where: Where, arrow: Arrow) -> tuple[object, ...]:
    """Best first: this bow before others, then by standing, then nearest."""
    return (
        arrow.period, _BEST.index(where.standing(arrow)), *first_of_straight(where, arrow)[:-1],
        round(abs(arrow.seen_off_in), 6), repr(arrow.spec),
    )  # fmt: skip


def _next(where: Where) -> Next:
    """Done, dozen and prove whenever they hold; else the first of set up, measure, test shafts, tune."""
    made = made_dozen(where)
    if made is not None:
        entry, arrow = made
        if not missed_since(arrow, entry.date):
            return done(where, entry, arrow)
        if arrow.inside:
            return prove_anew(where, arrow)
    lead = leading(where)
    if lead is not None:
        if where.standing(lead) == "proven" and lead.now:
            return dozen(where, lead)
        return prove(where, lead)
    if where.here:
        return tune(where)
    found = set_up(where) or measure(where)
    if found is not None:
        return found
    old = any(a.period > 0 and a.inside and where.makes(a) for a in where.arrows)
    if old or where.makeable.fair:
        return first_end(where)
    held = where.scenario.held
    if held.unknown and not held.pieces:
        return _describe(where, held.unknown[0])
    return buy_kit(where)


def _describe(where: Where, name: str) -> Next:
    """Shots of a shaft that nobody knows: its row first."""
    return where.step(
        "tune", "describe",
        f"Add a row for the shaft {name} to stock.csv: material, spine, gr an inch, full length.",
        "It was shot, but without these its shots teach nothing.",
        then="With the row there, next goes by what you shot.",
    )  # fmt: skip
