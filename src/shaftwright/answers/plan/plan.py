"""From rig, stock and notebook to the stage and the one next thing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.answers.plan.result import Next, Plan

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario


def plan_of(scenario: Scenario) -> Plan:
    """The plan of a scenario."""
    return Plan(Next("tune", "shoot", "Not decided yet.", ""), ())
