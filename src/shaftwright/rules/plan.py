"""rules/plan.yaml: ends, standings, and how a careful tuner goes on."""

from __future__ import annotations

import functools

from shaftwright.resources import rules_dir
from shaftwright.rules.purposes import Setting, Settings, load_rule_file


@functools.cache
def plan_settings() -> dict[str, Setting]:
    """The shipped file, loaded once."""
    return load_rule_file(rules_dir() / "plan.yaml", Settings).settings


def plan_setting(name: str) -> float:
    """One number of rules/plan.yaml."""
    return plan_settings()[name].value
