"""One arrow for two bows or two purposes, where one kit can serve both; else a kit and a list for each."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.dozen import after_buying
from shaftwright.answers.shop.kit import kit_for
from shaftwright.answers.shop.lines import ListLine
from shaftwright.answers.shop.shopping import (
    Shopping,
    Wishes,
    best_builds,
    dozen,
    finished,
    shopping,
)
from shaftwright.errors import NoAnswer
from shaftwright.parameters import setting
from shaftwright.result import Result, kept


@dataclass(frozen=True)
class TwoShopping(Result):
    """One list for both, or one for each; the second is worked out with what the first leaves over."""

    first: Shopping = field(metadata=kept(json=False))
    second: Shopping = field(metadata=kept(json=False))
    #: whether one kit and one dozen serve both; then the second holds neither
    shared: bool

    @property
    def both(self) -> tuple[Shopping, Shopping]:
        """In the order they were named."""
        return self.first, self.second

    def to_dict(self) -> dict[str, Any]:
        """The lines of both, the sums, and each one's own next thing."""
        told = [one.to_dict() for one in self.both]
        chances = [c for t in told if (c := t["chance_of_success"]) is not None]
        lines: dict[str, Any] = {
            key: [line for t in told for line in t[key]]
            for key in ("test_kit", "list", "cautions", "warnings")
        }  # fmt: skip
        sums = {
            key: round(sum(t[key] for t in told), 2)
            for key in ("test_kit_price", "list_price", "total_price")
        }
        return {
            "format": 2, "rig": [t["rig"] for t in told], "purpose": [t["purpose"] for t in told],
            "shared": self.shared, **lines, "chance_of_success": min(chances, default=None), **sums,
            "without_price": [item for t in told for item in t["without_price"]],
            "build": [t["build"] for t in told], "cut_plan": [t["cut_plan"] for t in told],
            "each_next": [t["next"] for t in told], "next": told[0]["next"], "shot": told[0]["shot"],
        }  # fmt: skip


def shop_two(first: Scenario, second: Scenario, wishes: Wishes) -> TwoShopping:
    """What to buy for two bows, or for two purposes of one, from the first one's shop."""
    if all(q.plan.next.stage == "test_shafts" for q in (first, second)):
        joint = _joint(first, second, wishes)
        if joint is not None:
            return joint
    one = shopping(first, wishes)
    left = after_buying(second.shop, one.test_kit, one.lines)
    rest = None if wishes.budget is None else max(wishes.budget - one.total_price, 0)
    # the same bow before a shop that has what the first left over
    other = replace(second, stock=left, given=second.belief)
    other.__dict__["plan"] = second.plan
    return TwoShopping(
        one, replace(shopping(other, replace(wishes, budget=rest)), question=second), False
    )


def _joint(first: Scenario, second: Scenario, wishes: Wishes) -> TwoShopping | None:
    """One kit for both; None where none is nearly as likely as asked."""
    chance = setting("shopping.kit_chance") if wishes.chance is None else wishes.chance
    try:
        kit = kit_for(first, wishes.chance, wishes.any_line, wishes.musts, wishes.budget, second)
    except NoAnswer:
        return None
    if kit.chance < chance - setting("shopping.near_reachable"):
        return None
    build, lines = None, tuple[ListLine, ...]()
    if wishes.arrows > 0:
        build = next(best_builds((first, second), kit, wishes), None)
        if build is None:
            return None
        lines = dozen(first, build.spec, wishes, kit=kit)
        price = sum(line.reckoned for line in lines) + (kit.price or 0.0)
        if wishes.budget is not None and price > wishes.budget + 1e-9:
            return None
    return TwoShopping(
        finished(first, wishes, kit, build, lines, kit.notes),
        finished(second, wishes, None, None, (), ()),
        True,
    )
