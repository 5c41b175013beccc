"""Archers who follow the printed sheet for three ends, against the same who ask `next` after each.

Both have the same things along and no saw, shoot the same random ends, look for marks after each, and
set the nocking point as they are told. Judged: whether the arrow that each would go on with truly lies
inside T. The world is that of calibrate/archers.

    python calibrate/sheet.py --archers 100 --first 72000 --out FILE --minutes 60
"""

from __future__ import annotations

import argparse
import copy
import datetime as dt
import json
import platform
import subprocess
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from archers.obey import Obeys

from shaftwright.answers.plan.result import Next
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.answers.sheet.result import Row, Sheet
from shaftwright.answers.sheet.sheet import sheet
from shaftwright.errors import ShaftwrightError
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY

ENDS = 3
#: what must hold [points]: of the difference, and of its 95 % interval
WITHIN, WITHIN_95 = 3, 4
PAGE = Path(__file__).resolve().parents[1] / "docs" / "calibration_sheet.md"
_SETS = ("plunger", "plate", "brace", "nocking_point")
_SEED = 20_261_129


class Archer(Obeys):
    """One who has bought the kit and stands at the butt."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        bow = self.world.rig["bow"]
        bow["draw_weight"] = {"lb": self.world.own_lb, "at": "own_draw"}
        bow["brace_height"] = self.world.setting.brace_in
        bow["nocking_point"] = {"above_square": self.world.setting.nocking_in, "locators": 2}
        self.looked = True

    def pack(self) -> bool:
        """Buy what next names until something can be shot."""
        for _ in range(4):
            then = self.plan().next
            if then.kind == "cut":
                return False
            if not then.buy:
                return then.distance_yd is not None
            self.do(self.plan()) if then.kind == "buy" else self.go_shopping(then)
        return False

    def away(self) -> Scenario:
        """What is known now, saw and shop at home."""
        lines = tuple(range(1, len(self.entries) + 1))
        asked = scenario(self.rig(), None, self.stock, self.entries, lines)
        owned = [*self.hand.pieces, *self.hand.parts]
        return replace(asked, along=frozenset(owned))

    def end(self, then: Next) -> dict[str, Any] | None:
        """Set what is to be set, shoot, look, note; the entry."""
        if then.kind in _SETS and then.note and "note change" in then.note:
            self.set(then)
        arrow = self.arrow_of(then)
        if arrow is None:
            return None
        self.arrow = arrow
        entry = self.world.shoot(arrow, 3, 3, then.distance_yd or 20.0, True)
        entry["taped"] = False
        if self.piece != 1:
            entry["piece"] = self.piece
        self.note(entry)
        return entry

    def inside(self, then: Next | None) -> bool:
        """Whether what is gone on with truly lies inside T."""
        if then is not None:
            if then.kind in _SETS and then.note and "note change" in then.note:
                self.set(then)
            self.arrow = self.arrow_of(then) or self.arrow
        return (
            self.arrow is not None and abs(self.world.stiffward_in(self.arrow)) <= self.world.t_in
        )


def asks(archer: Archer) -> bool:
    """Next, after every end."""
    for _ in range(ENDS):
        then = archer.away().plan.next
        if not _shoots(then) or archer.end(then) is None:
            break
    then = archer.away().plan.next
    return archer.inside(then if _shoots(then) else None)


def _shoots(then: Next) -> bool:
    return then.distance_yd is not None and not then.buy and then.kind not in ("cut", "buy")


def follows(archer: Archer, told: Sheet) -> bool:
    """The sheet alone."""
    row: Row = told.rows[0]
    then: Next | None = told.rows[0].then
    step = setting("diagnosis.nocking_step_in")
    for _ in range(ENDS):
        assert then is not None
        entry = archer.end(then)
        then = replace(then, note="shaftwright note bareshaft")
        if entry is None or entry["marks"] in ("plate", "shelf"):
            return archer.inside(None)
        x, up, wide = _seen(archer, entry)
        if wide > setting("evidence.void_sd_in"):
            continue
        if abs(up) > told.height_in:
            archer.world.setting.nocking_in += step if up > 0 else -step
            continue
        way = row.at(abs(x), "stiff" if x > 0 else "weak")
        if way.row is None:
            return archer.inside(way.then if _shoots(way.then) else None)
        if way.row != row.number:
            row = told.rows[way.row - 1]
            then = row.then
    return archer.inside(then)


def _seen(archer: Archer, entry: dict[str, Any]) -> tuple[float, float, float]:
    """Stiffward and up at 20 yd, and how wide: as the look of the entry has it."""
    from shaftwright.inference.evidence.look import look_at

    look = look_at(ENTRY.validate_python(entry), archer.rig())  # type: ignore[arg-type]
    wide = max(np.sqrt(s.var(axis=0, ddof=1).mean()) for s in (look.bare, look.fletched))
    assert look.centre is not None
    return float(look.centre[0]), float(look.centre[1]), float(wide)


def one(seed: int) -> dict[str, Any]:
    """Both ways of one archer."""
    archer = Archer(seed)
    try:
        if not archer.pack():
            return {"seed": seed, "left out": "nothing to shoot without a saw"}
        began = time.process_time()
        told = sheet(archer.away(), ())
        cpu = time.process_time() - began
        asking, following = copy.deepcopy(archer), copy.deepcopy(archer)
        first = archer.away().plan.next
        same = (first.shaft, first.length_in, first.point) == (
            told.rows[0].shaft, told.rows[0].length_in, told.rows[0].point
        )  # fmt: skip
        both = {"asks": asks(asking), "follows": follows(following, told)}
        return {"seed": seed, **both, "same last": asking.arrow == following.arrow, "cpu": cpu,
                "rows": len(told.rows), "same first": same,
                "faults": [*asking.faults, *following.faults]}  # fmt: skip
    except ShaftwrightError as error:
        return {"seed": seed, "left out": str(error)[:80]}


def summary(found: list[dict[str, Any]]) -> dict[str, Any]:
    """What the archers come to."""
    counted = [r for r in found if "asks" in r]
    a, b = (np.array([r[k] for r in counted], float) for k in ("asks", "follows"))
    picks = np.random.default_rng(_SEED).integers(0, len(a), (4000, len(a)))
    low, high = 100 * np.quantile((b - a)[picks].mean(axis=1), [0.025, 0.975])
    points = 100 * float((b - a).mean())
    verdict = "not decided: too few archers for an interval so narrow"
    if high < -WITHIN or low > WITHIN:
        verdict = "does not hold"
    elif abs(points) <= WITHIN and max(-low, high) <= WITHIN_95:
        verdict = "holds"
    left = [r["left out"] for r in found if "left out" in r]
    return {
        "archers": len(found), "counted": len(counted),
        "left out": "; ".join(f"{left.count(x)} {x}" for x in sorted(set(left))) or 0,
        "inside, who ask `next`": int(a.sum()), "inside, who follow the sheet": int(b.sum()),
        "inside both ways": int((a * b).sum()),
        "difference": f"{points:+.1f} points ({low:+.1f} to {high:+.1f})", "verdict": verdict,
        "the same arrow to go on with": sum(r["same last"] for r in counted),
        "the same first row": sum(r["same first"] for r in counted),
        "with faults": sum(bool(r["faults"]) for r in counted),
        "rows of a sheet": f"{np.mean([r['rows'] for r in counted]):.1f}",
        "CPU of a sheet": f"{np.mean([r['cpu'] for r in counted]):.1f} s",
    }  # fmt: skip


def page(told: dict[str, Any], first: int, planned: int) -> str:
    """docs/calibration_sheet.md."""
    commit = subprocess.run(
        ["git", "describe", "--always"], cwd=PAGE.parent, capture_output=True, text=True, check=False
    ).stdout.strip()  # fmt: skip
    many, few = told["archers"], ""
    if many < planned:
        few = f"\nThese are the first {many} of {planned} that are planned: the rest takes hours.\n"
    rows = "\n".join(f"| {name} | {value} |" for name, value in told.items() if name != "verdict")
    return f"""# Archers who follow the sheet

Written by `python calibrate/sheet.py --page` on {dt.date.today().isoformat()}: Python
{platform.python_version()}, numpy {np.__version__}, commit {commit or "not known"}; simulated archers of
calibrate/archers, seeds {first} to {first + many - 1}, fixed before the run.
{few}
Each archer has bought the kit and stands at the butt without a saw. One copy asks `next` after each of
three ends; the other has only the sheet. Both shoot the same random ends and look for marks after each.
Judged is whether the arrow that each would go on with truly lies inside T. Left out are archers who can
shoot nothing without a saw.

**Asked:** inside as often within {WITHIN} points, and the 95 % interval (paired bootstrap)
within {WITHIN_95}.
**Found: {told["verdict"]}.**

| | |
|---|---|
{rows}
"""


def main() -> None:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--archers", type=int, default=2000)
    parser.add_argument("--first", type=int, default=73_000)
    parser.add_argument("--minutes", type=float, help="begin no further archer after so many")
    parser.add_argument(
        "--out", type=Path, help="a line an archer; a run that was cut goes on there"
    )
    parser.add_argument("--page", action="store_true", help="write docs/calibration_sheet.md")
    given = parser.parse_args()
    done: dict[int, dict[str, Any]] = {}
    if given.out is not None and given.out.is_file():
        done = {r["seed"]: r for r in map(json.loads, given.out.read_text().splitlines())}
    found, began = [], time.monotonic()
    for seed in range(given.first, given.first + given.archers):
        late = given.minutes is not None and time.monotonic() - began >= 60 * given.minutes
        if late and seed not in done:
            break
        result = done.get(seed) or one(seed)
        if given.out is not None and seed not in done:
            with given.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(result) + "\n")
        found.append(result)
    told = summary(found)
    for name, value in told.items():
        print(f"{name}: {value}")
    if given.page or not (given.minutes or given.out):
        PAGE.write_text(page(told, given.first, given.archers), encoding="utf-8")


if __name__ == "__main__":
    main()
