"""Archers who obey `next` in each world until it says: make the dozen."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import numpy as np
from archers.obey import MOST_CHANGES, Obeys
from archers.world import Arrow
from calibrate.worlds import oracle
from calibrate.worlds.world import elsewhere
from tabulate import tabulate

Row = dict[str, Any]
#: farther from straight than before by more than this is worse [in at 20 yd]
WORSE_IN = 0.25
ERRORS = (Exception,)
#: changes of one arrow or of the bow, not another shaft taken up
LEVERS = ("cut", "point", "insert", "collar", "wrap", "plate", "plunger")


class Proven(Exception):
    """The dozen is to be made: that is where these archers stop."""


class Archer(Obeys):
    """The obeying archer, who also keeps how far off each change truly left the arrow."""

    def __init__(self, seed: int, name: str) -> None:
        super().__init__(seed, elsewhere(seed, name))
        self.moves: list[tuple[str, float, float]] = []

    def watch(self, plan: Any) -> None:
        """Stop once the dozen is to be made."""
        super().watch(plan)
        if self.dozen is not None:
            raise Proven

    def do(self, plan: Any) -> None:
        """What is told, and what it truly did on the way to the first arrow that is called straight."""
        before = self._state()
        super().do(plan)
        after = self._state()
        if (
            self.straight is None
            and before is not None
            and after is not None
            and before[0] != after[0]
        ):
            self.moves.append((plan.next.kind, round(before[1], 3), round(after[1], 3)))

    def _state(self) -> tuple[Any, float] | None:
        if self.arrow is None:
            return None
        one, now = self.arrow, self.world.setting
        key = (one.shaft, one.length_in, one.point, one.insert, one.wrap, now.plate_in, now.out_in,
               now.spring, now.turns)  # fmt: skip
        return key, self.world.stiffward_in(one)


def obeys(seed: int, name: str) -> Row:
    """One archer with the product."""
    started = time.process_time()
    one = Archer(seed, name)
    fault = ""
    try:
        ended = one.run()
    except Proven:
        ended = "dozen"
    except ERRORS as error:  # a product that fails an archer has failed, and the run goes on
        ended, fault = "error", f"{type(error).__name__}: {error}"[:200]
    straight, dozen = one.straight, one.dozen
    until = straight or one.hand
    return {
        "seed": seed, "world": name, "ended": ended, "fault": fault, "t_in": one.world.t_in,
        "straight_in": straight and straight.off_in, "off_in": dozen and dozen.off_in,
        "changes": until.changes, "ends": until.ends, "all_ends": one.hand.ends,
        "shafts": one.hand.shafts_bought, "moves": one.moves,
        "ranges": [[low, high, chance, round(seen, 2)] for low, high, chance, seen in one.ranges],
        "cpu_s": round(time.process_time() - started, 2),
    }  # fmt: skip


def guided(seed: int, name: str) -> Row:
    """The same archer with the oracle."""
    started = time.process_time()
    world = elsewhere(seed, name)
    found = oracle.guide(world)
    arrows: list[Arrow] = found.arrows
    offs = [world.stiffward_in(a) for a in arrows]
    moves = [
        ("oracle", round(a, 3), round(b, 3))
        for one, two, a, b in zip(arrows, arrows[1:], offs, offs[1:], strict=False)
        if one != two
    ]
    return {
        "seed": seed, "world": name, "ended": "dozen" if found.straight else "changes", "fault": "",
        **dict.fromkeys(("straight_in", "off_in"), offs[-1] if found.straight else None),
        "t_in": world.t_in, "changes": len(moves), "ends": len(arrows), "all_ends": len(arrows),
        "shafts": len({a.shaft for a in arrows}), "moves": moves, "ranges": [],
        "cpu_s": round(time.process_time() - started, 2),
    }  # fmt: skip


def figures(rows: Sequence[Row]) -> Row:
    """All measures of some archers of one world."""
    called = [r for r in rows if r["straight_in"] is not None]
    proven = [r for r in rows if r["off_in"] is not None]
    first, inside = (
        np.array([r[key] is not None and abs(r[key]) < r["t_in"] for r in rows])
        for key in ("straight_in", "off_in")
    )
    moves = [m for r in rows for m in r["moves"]]
    worse = np.array([abs(after) > abs(before) + WORSE_IN for _, before, after in moves], float)
    wrong = np.array(
        [a * b > 0 and abs(b) > abs(a) + WORSE_IN for kind, a, b in moves if kind in LEVERS], float
    )
    ranges = [x for r in rows for x in r["ranges"]]
    return {
        "each": inside, "each_first": first, "archers": len(rows), "proven": len(proven) / len(rows),
        "inside": float(inside.mean()), "first": float(first.mean()),
        "inside_se": float(inside.std() / len(inside) ** 0.5),
        "inside_of_proven": float(inside.sum() / max(len(proven), 1)),
        "changes": float(np.mean([r["changes"] for r in called])) if called else float("nan"),
        "changes_all": float(np.mean([min(r["changes"], MOST_CHANGES) if r["straight_in"] is not None
                                      else MOST_CHANGES for r in rows])),
        "ends": float(np.mean([r["ends"] for r in called])) if called else float("nan"),
        "all_ends": float(np.mean([r["all_ends"] for r in proven])) if proven else float("nan"),
        "steps": len(moves), "worse": float(worse.mean()) if len(worse) else 0.0,
        "levers": len(wrong), "wrong_way": float(wrong.mean()) if len(wrong) else 0.0,
        "ranges": len(ranges),
        "ranges_held": float(np.mean([a <= x <= b for a, b, _, x in ranges])) if ranges else float("nan"),
        "ranges_stated": float(np.mean([c for _, _, c, _ in ranges])) if ranges else float("nan"),
        "cpu_s": float(np.mean([r["cpu_s"] for r in rows])),
    }  # fmt: skip


def text(rows: Sequence[Row], who: str, worlds: Sequence[str]) -> str:
    """The table, for a terminal."""
    shares = ("proven", "inside", "inside_se", "inside_of_proven", "first", "worse", "wrong_way",
              "ranges_held", "ranges_stated")  # fmt: skip
    plain = ("changes", "changes_all", "ends", "all_ends", "steps", "levers", "cpu_s")
    table = []
    for world in worlds:
        f = figures([r for r in rows if r["world"] == world])
        told = {f"{key} %": 100 * f[key] for key in shares} | {key: f[key] for key in plain}
        table.append({"world": world, "who": who, **told})
    lines = [tabulate(table, headers="keys", floatfmt=".1f")]
    faults = [(r["seed"], r["world"], r["fault"]) for r in rows if r["fault"]]
    return "\n".join([*lines, *(f"fault: {f}" for f in faults)])
