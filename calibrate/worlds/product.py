"""All that the worlds know of the product: mend this module when its interface changes."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from archers.world import SHOP, Arrow

import shaftwright
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.errors import NoAnswer
from shaftwright.files.stock import load_stock
from shaftwright.inference.band import chance_match, spine_band
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY, BuildSpec
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock

POUND_MILS = 31_499.2
CHANCES = (0.5, 0.8, 0.95)


@dataclass(frozen=True)
class Stated:
    """A band as the product states it: at what build, and its ends at each chance [lb]."""

    length_in: float
    front_gr: float
    tail_gr: float
    radius_in: float
    middle: float
    low: tuple[float, ...]
    high: tuple[float, ...]


def which() -> str:
    """Which product is judged: its version and commit."""
    folder = Path(shaftwright.__file__).parent
    told = subprocess.run(
        ["git", "describe", "--always", "--dirty"], cwd=folder, capture_output=True, text=True, check=False
    ).stdout.strip()  # fmt: skip
    return f"shaftwright {shaftwright.__version__} {told}".strip()


@cache
def _shop() -> Stock:
    return load_stock(SHOP)


class Asked:
    """The product asked about one archer's bow, with what was shot so far."""

    def __init__(self, rig: dict[str, Any], entries: list[dict[str, Any]]) -> None:
        told = [ENTRY.validate_python(e | {"date": "2026-01-03"}) for e in entries]
        self.scenario: Scenario = scenario(Rig.model_validate(rig), None, _shop(), told)

    def band(self, length_in: float | None = None) -> Stated | None:
        """The band at a length with the usual front, by default the shortest safe one."""
        build = self.scenario.reference_build(length_in=length_in)
        wanted = self.scenario.demand(build)
        try:
            found = [spine_band(wanted, build, self.scenario.belief, c) for c in CHANCES]
        except NoAnswer:
            return None
        return Stated(
            float(build.length_in[0]), float(build.front_gr[0]), float(build.tail_gr[0]),
            float(build.radius_in[0]), POUND_MILS / found[0].mid,
            tuple(POUND_MILS / b.high for b in found), tuple(POUND_MILS / b.low for b in found),
        )  # fmt: skip

    def match(self, arrow: Arrow) -> tuple[float, float]:
        """The stated chance that an arrow matches, and the tolerance that this means."""
        from shaftwright.inference.resolve import resolve_build

        tolerance = setting("matching.tolerance_pct") / 100
        build = resolve_build(BuildSpec.model_validate(arrow.build()), _shop(), "")
        wanted = self.scenario.demand(build)
        chance = chance_match(wanted, build, self.scenario.belief, tolerance)
        return float(np.ravel(chance)[0]), tolerance

    def limits(self) -> tuple[float, float, float]:
        """Least and greatest weight of an arrow for the purpose [gr], and its shortest shaft [in]."""
        asked = self.scenario
        from shaftwright.inference.rig_facts import shortest_safe_length_in

        own = asked.demand(asked.reference_build()).own_lb
        range_ = asked.purpose_rule.gr_per_lb
        return (
            range_.low * own,
            range_.high * own,
            shortest_safe_length_in(asked.rig, asked.purpose_rule),
        )

    def kit(self) -> Kit | None:
        """The test kit the product would have the archer buy."""
        from shaftwright.answers.shop.kit import kit_for

        try:
            kit = kit_for(self.scenario)
        except NoAnswer:
            return None
        shafts = tuple(Arrow(s.item, 1, s.length_in, s.point, s.insert) for s in kit.shafts)
        points = tuple(p.item for p in kit.parts if p.kind == "point")
        return Kit(shafts, points, float(kit.chance))


@dataclass(frozen=True)
class Kit:
    """A kit: the arrows it is first shot as, its points, and its stated chance."""

    shafts: tuple[Arrow, ...]
    points: tuple[str, ...]
    chance: float
