"""Run inside the product as it stood: archers who obey `shop`, `choose` and `bareshaft` until stop.

Started by run.py in a process of its own, whose path holds the old source first and calibrate/ behind
it. Reads seeds from its arguments and writes one JSON line an archer.

The archer buys the kit that `shop` names, then starts with the arrow that the first line of `choose`
names with the kit in hand (the stiffer of two, at the length and with the point it names), then does
what `bareshaft` says, end by end. Told to draw an arrow no further without being told what instead,
the archer takes what the first line of `choose` names next; with nothing left there, it is over.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import replace
from typing import Any

import numpy as np
from archers.hand import Hand
from archers.world import SHOP, Arrow, Setting, World, world_of
from shaftwright.advise.choose import choose, question
from shaftwright.advise.diagnose import Diagnosis, diagnose
from shaftwright.advise.first_tests import stock_trials
from shaftwright.advise.shop import Wishes, shop
from shaftwright.match.belief import prior_belief
from shaftwright.match.evidence import learn

from shaftwright.errors import NoAnswer, ShaftwrightError
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock

MOST_CHANGES, MOST_ENDS = 12, 40


class Archer:
    """One archer who obeys."""

    def __init__(self, seed: int) -> None:
        self.world: World = world_of(seed)
        self.hand = Hand(self.world)
        self.entries: list[object] = []
        self.looked = False
        self.shelf = load_stock(SHOP)
        self.ended = ""
        self.first_kit: list[str] = []
        self.come_down_to: float | None = None
        self.bounced = False

    def rig(self) -> Rig:
        """The rig as the archer would write it."""
        return Rig.model_validate(self.world.rig)

    def stock(self) -> Stock:
        """The shop with what is in hand."""
        items = [
            i.model_copy(update={"in_hand": self.hand.in_hand(i.item)}) for i in self.shelf.items
        ]
        return Stock(tuple(items), "shop")

    def buy_kit(self) -> None:
        """What `shop` says to buy first."""
        kit = shop(question(self.rig()), self.stock(), Wishes(arrows=0)).kit
        self.first_kit = [t.shaft for t in kit.shafts]
        for line in kit.lines:
            if line.packs:
                self.hand.buy(line.item.item, line.packs * line.item.pack)
        self.kit = kit

    def named(self) -> list[Arrow]:
        """What the first line of `choose` names, with what is in hand; stiffest first."""
        rig, stock = self.rig(), self.stock()
        asked = question(rig)
        if self.entries:
            learned = learn(
                rig, asked.book, prior_belief(asked.book), self.entries, stock, asked.speed
            )
            asked = replace(asked, belief=learned.belief, learned=learned)
        choice = choose(asked, stock)
        if choice.ranking is None or not choice.listed:
            return []
        found = []
        for t in sorted(stock_trials(choice), key=lambda t: t.spine_mils):
            assert t.build is not None
            told = t.fitted.replace(" (to buy)", "").split(" and ")
            insert = told[1] if len(told) > 1 else t.build.insert or None
            found.append(Arrow(t.name, 0, t.length_in, told[0], insert))
        return found

    def first(self) -> Arrow:
        """The arrow shot first."""
        for arrow in self.named():
            return arrow
        t = self.kit.shafts[0]
        return Arrow(t.shaft, 0, t.length_in, t.point, t.insert or None, t.collar or None)

    def another(self, not_these: set[tuple[str, float]]) -> Arrow | None:
        """What `choose` names, not yet shot."""
        for arrow in self.named():
            if (arrow.shaft, round(arrow.length_in, 3)) not in not_these:
                return arrow
        return None

    def run(self) -> None:
        """From nothing owned to stop."""
        try:
            self.buy_kit()
        except NoAnswer:
            self.ended = "no kit"
            return
        arrow = self.hand.make(self.first())
        shot: set[tuple[str, float]] = set()
        while self.hand.ends < MOST_ENDS:
            self.hand.ends += 1
            self.arrow = arrow
            shot.add((arrow.shaft, round(arrow.length_in, 3)))
            entry = self.world.shoot(arrow, looked=self.looked)
            self.entries.append(ENTRY.validate_python(entry))
            if self.coming_down(entry):
                if self.hand.changes >= MOST_CHANGES:
                    self.ended = "changes"
                    return
                arrow = self.hand.make(arrow)
                continue
            found: Diagnosis = diagnose(self.rig(), self.entries, self.stock())
            decision = found.decision
            if decision.kind in ("stop", "none"):
                self.ended = decision.kind
                return
            self.looked = self.looked or decision.kind == "look" or "powder" in decision.what
            if decision.kind == "nocking_point":
                self.move_nocking(decision.amount)
            elif decision.option is not None:
                self.set_plate(decision.option.rig)
                spec = decision.option.spec
                head = spec.point or spec.broadhead
                assert spec.shaft
                assert head
                length = spec.length_in or self.hand.full_in(spec.shaft)
                arrow = Arrow(spec.shaft, 0, length, head, spec.insert, spec.collar, spec.wrap)
            elif decision.stop:
                other = self.another(shot)
                if other is None:
                    self.ended = "forbidden"
                    return
                arrow = other
            if self.hand.changes >= MOST_CHANGES:
                self.ended = "changes"
                return
            arrow = self.hand.make(arrow)
        self.ended = "ends"

    def coming_down(self, entry: dict[str, Any]) -> bool:
        """After a quarter inch up: down by a sixteenth while the bare shafts lie low."""
        if self.come_down_to is None:
            return False
        low = np.mean([f[1] for f in entry["fletched"]]) - np.mean(
            [b["at"][1] for b in entry["bare"]]
        )
        if low < self.world.t_in or self.world.setting.nocking_in <= self.come_down_to + 1e-9:
            self.come_down_to = None
            return False
        self.move_nocking(-1 / 16)
        return True

    def move_nocking(self, amount: float) -> None:
        """As told, from where it sits."""
        if amount > 0.2:
            if self.bounced:
                return
            self.bounced, self.come_down_to = True, self.world.setting.nocking_in
        self.world.setting.nocking_in += amount
        told = {"above_square": self.world.setting.nocking_in, "locators": 2}
        self.world.rig["bow"]["nocking_point"] = told

    def set_plate(self, rig: Rig) -> None:
        """The plate of a change, if it is another."""
        setting: Setting = self.world.setting
        plate = rig.bow.plate
        if plate is not None and abs(plate.thickness_in - setting.plate_in) > 1e-9:
            setting.plate_in = plate.thickness_in
            self.world.rig["bow"]["plate"] = {
                "thickness": plate.thickness_in,
                "material": "leather",
            }


def result(seed: int) -> dict[str, object]:
    """How one archer fared."""
    started = time.process_time()
    one = Archer(seed)
    failed = ""
    try:
        one.run()
    except (ShaftwrightError, AssertionError, ValueError, KeyError) as error:
        one.ended, failed = "error", f"{type(error).__name__}: {error}"[:200]
    world, hand = one.world, one.hand
    arrow = getattr(one, "arrow", None)
    straight = one.ended == "stop" and arrow is not None
    off = world.stiffward_in(arrow) if arrow is not None else None
    return {
        "seed": seed, "ended": one.ended, "straight": straight,
        "off_in": None if off is None else round(off, 3), "up_in": round(world.up_in(), 3),
        "t_in": round(world.t_in, 3), "old_measure_in": round(world.old_measure, 3),
        "slaps": world.slaps, "purpose": world.rig["purpose"], "rest": world.rig["bow"]["rest"],
        "changes": hand.changes, "ends": hand.ends, "shafts": hand.shafts_bought,
        "spent": round(hand.spent, 2), "third_time": hand.third_time, "kit": one.first_kit,
        "last": None if arrow is None else [arrow.shaft, arrow.length_in, arrow.front_gr],
        "gr_per_lb": None if arrow is None else round(world.gr_per_lb(arrow), 2),
        "share_of_wanted": None if arrow is None else round(world.share_of_wanted(arrow), 3),
        "missing": len(hand.missing), "failed": failed,
        "cpu_s": round(time.process_time() - started, 2),
    }  # fmt: skip


if __name__ == "__main__":
    for text in sys.argv[1:]:
        print(json.dumps(result(int(text))), flush=True)
