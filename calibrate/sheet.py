"""Archers who follow the printed sheet for three ends, against the same who ask `next` after each.

Both have the same things along and no saw, shoot the same random ends, look for marks after each, and
set the nocking point as they are told. Judged: whether the arrow that each would go on with truly lies
inside T. The world is that of calibrate/archers, or with `--world` one of calibrate/worlds.

    python calibrate/sheet.py --archers 100 --first 72000 --out FILE --minutes 60
"""

from __future__ import annotations

import argparse
import copy
import datetime as dt
import json
import platform
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from archers.obey import Obeys
from archers.world import World

from shaftwright.answers.plan.result import Next
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.answers.sheet.result import Row, Sheet
from shaftwright.answers.sheet.sheet import sheet
from shaftwright.arrays import Array
from shaftwright.errors import ShaftwrightError
from shaftwright.parameters import setting
from shaftwright.records.notebook import ENTRY
from shaftwright.units import Z95

ENDS = 3
#: what must hold [points]: of the difference, and of its 95 % interval
WITHIN, WITHIN_95 = 3, 4
FRIENDLY = "friendly"
PAGE = Path(__file__).resolve().parents[1] / "docs" / "calibration_sheet.md"
_SETS = ("plunger", "plate", "brace", "nocking_point")


class Archer(Obeys):
    """One who has bought the kit and stands at the butt."""

    def __init__(self, seed: int, world: World | None = None) -> None:
        super().__init__(seed, world)
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
    """The sheet alone, its last line too: `next` is not asked even then."""
    return archer.inside(shoots_by(archer, told))


def shoots_by(archer: Archer, told: Sheet) -> Next | None:
    """The ends; what the last line says to go on with, none where it says to stop."""
    row: Row = told.rows[0]
    then: Next | None = told.rows[0].then
    step = setting("diagnosis.nocking_step_in")
    ends: dict[tuple[object, ...], list[float]] = {}
    for _ in range(ENDS):
        assert then is not None
        entry = archer.end(then)
        then = replace(then, note="shaftwright note bareshaft")
        if entry is None or entry["marks"] in ("plate", "shelf"):
            return None
        x, up, wide = _seen(archer, entry)
        if wide > setting("evidence.void_sd_in"):
            continue
        own = ends.setdefault(row.own, [])
        own.append(x)
        x = float(np.mean(own))
        way = row.at(abs(x), "stiff" if x > 0 else "weak")
        if abs(up) > told.height_in:
            now = archer.world.setting
            now.nocking_in += step if up > 0 else -step
            state = {"nocking_point": now.nocking_in}
            archer.world.rig["bow"]["nocking_point"] = {
                "above_square": now.nocking_in,
                "locators": 2,
            }
            archer.note({"kind": "change", "what": "nocking_point", "rig_state": state})
            way = row.at(0.0, "straight")
            if way.row is None:
                continue
        if way.row is None:
            return way.then if _shoots(way.then) else None
        if way.row != row.number:
            row = told.rows[way.row - 1]
            then = row.then
    return then


def _seen(archer: Archer, entry: dict[str, Any]) -> tuple[float, float, float]:
    """Stiffward and up at 20 yd, and how wide: as the look of the entry has it."""
    from shaftwright.inference.evidence.look import look_at

    look = look_at(ENTRY.validate_python(entry), archer.rig())  # type: ignore[arg-type]
    held = look.bare[look.kept]
    wide = max(np.sqrt(s.var(axis=0, ddof=1).mean()) for s in (held, look.fletched))
    assert look.centre is not None
    return float(look.centre[0]), float(look.centre[1]), float(wide)


def _elsewhere(seed: int, name: str) -> World | None:
    if name == FRIENDLY:
        return None
    sys.path.insert(0, str(PAGE.parents[1]))
    from calibrate.worlds.world import elsewhere

    return elsewhere(seed, name)


def one(seed: int, world: str) -> dict[str, Any]:
    """Both ways of one archer."""
    archer = Archer(seed, _elsewhere(seed, world))
    told_of = {"seed": seed, "world": world}
    try:
        if not archer.pack():
            return {**told_of, "left out": "nothing to shoot without a saw"}
        began = time.process_time()
        told = sheet(archer.away(), ())
        cpu = time.process_time() - began
        asking, following = copy.deepcopy(archer), copy.deepcopy(archer)
        first = archer.away().plan.next
        same = (first.shaft, first.length_in, first.point) == (
            told.rows[0].shaft, told.rows[0].length_in, told.rows[0].point
        )  # fmt: skip
        both = {"asks": asks(asking), "follows": follows(following, told)}
        return {**told_of, **both, "cpu": cpu,
                "rows": len(told.rows), "same first": same,
                "faults": [*asking.faults, *following.faults]}  # fmt: skip
    except ShaftwrightError as error:
        return {**told_of, "left out": str(error)[:80]}


def difference(a: Array, b: Array) -> tuple[str, str]:
    """Of pairs, b less a with its 95 % interval, and whether it holds."""
    # half an archer more in each cell: Agresti and Min 2005, Stat. Med. 24, 729, recalled
    n, apart = len(a) + 2, float(np.abs(b - a).sum()) + 1
    middle = float((b - a).sum()) / n
    half = Z95 * float(np.sqrt(apart / n - middle**2) / np.sqrt(n))
    low, high = 100 * (middle - half), 100 * (middle + half)
    points = 100 * float((b - a).mean())
    verdict = "not decided: too few archers for an interval so narrow"
    if high < -WITHIN or low > WITHIN:
        verdict = "does not hold"
    elif abs(points) <= WITHIN and max(-low, high) <= WITHIN_95:
        verdict = "holds"
    return f"{points:+.1f} points ({low:+.1f} to {high:+.1f})", verdict


def summary(found: list[dict[str, Any]]) -> dict[str, Any]:
    """What the archers come to."""
    counted = [r for r in found if "asks" in r]
    a, b = (np.array([r[k] for r in counted], float) for k in ("asks", "follows"))
    points, verdict = difference(a, b)
    left = [r["left out"] for r in found if "left out" in r]
    return {
        "archers": len(found), "counted": len(counted),
        "left out": "; ".join(f"{left.count(x)} {x}" for x in sorted(set(left))) or 0,
        "inside, who ask `next`": int(a.sum()), "inside, who follow the sheet": int(b.sum()),
        "inside both ways": int((a * b).sum()), "difference": points, "verdict": verdict,
        "the same first row": sum(r["same first"] for r in counted),
        "with faults": sum(bool(r["faults"]) for r in counted),
        "rows of a sheet": f"{np.mean([r['rows'] for r in counted]):.1f}",
        "CPU of a sheet": f"{np.mean([r['cpu'] for r in counted]):.1f} s",
    }  # fmt: skip


def page(found: dict[str, list[dict[str, Any]]], planned: int) -> str:
    """docs/calibration_sheet.md: a column a world."""
    commit = subprocess.run(
        ["git", "describe", "--always"], cwd=PAGE.parent, capture_output=True, text=True, check=False
    ).stdout.strip()  # fmt: skip
    told = {world: summary(rows) for world, rows in found.items()}
    seeds = {world: [r["seed"] for r in rows] for world, rows in found.items()}
    told_seeds = "; ".join(f"{w} {min(s)} to {max(s)}" for w, s in seeds.items())
    few = ""
    if any(len(rows) < planned for rows in found.values()):
        few = f"\n{planned} a world were planned; the rest takes hours.\n"
    names = list(next(iter(told.values())))
    rows = "\n".join(
        f"| {n} | " + " | ".join(str(t[n]) for t in told.values()) + " |" for n in names
    )
    return f"""# Archers who follow the sheet

Written by `python calibrate/sheet.py --page` on {dt.date.today().isoformat()}: Python
{platform.python_version()}, numpy {np.__version__}, commit {commit or "not known"}. Simulated archers; the
friendly world is that of calibrate/archers, the others those of docs/calibration_worlds.md. Seeds, fixed
before the run: {told_seeds}.
{few}
Each archer has bought the kit and stands at the butt without a saw. One copy asks `next` after each of
three ends; the other has only the sheet. Both shoot the same random ends and look for marks after each.
Judged is whether the arrow that each would go on with truly lies inside T, for the second by the sheet's last
line. Left out are archers who can shoot nothing without a saw.

**Asked:** inside as often within {WITHIN} points, and the 95 % interval (of pairs)
within {WITHIN_95}.

| | {" | ".join(told)} |
|---|{"---|" * len(told)}
{rows}
"""


def main() -> None:
    """Run and report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--archers", type=int, default=2000)
    parser.add_argument("--first", type=int, default=73_000)
    parser.add_argument("--world", default=FRIENDLY, help="friendly, or one of calibrate/worlds")
    parser.add_argument("--minutes", type=float, help="begin no further archer after so many")
    parser.add_argument(
        "--out", type=Path, help="a line an archer; a run that was cut goes on there"
    )
    parser.add_argument("--page", action="store_true", help="write docs/calibration_sheet.md")
    given = parser.parse_args()
    kept: list[dict[str, Any]] = []
    if given.out is not None and given.out.is_file():
        kept = [{"world": FRIENDLY} | json.loads(r) for r in given.out.read_text().splitlines()]
    done, began = {r["seed"] for r in kept if r["world"] == given.world}, time.monotonic()
    for seed in range(given.first, given.first + given.archers):
        if seed in done:
            continue
        if given.minutes is not None and time.monotonic() - began >= 60 * given.minutes:
            break
        kept.append(one(seed, given.world))
        if given.out is not None:
            with given.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(kept[-1]) + "\n")
    worlds = {r["world"]: [x for x in kept if x["world"] == r["world"]] for r in kept}
    for world, rows in worlds.items():
        print(world, *(f"{name}: {value}" for name, value in summary(rows).items()), sep="\n  ")
    if given.page or not (given.minutes or given.out):
        PAGE.write_text(page(worlds, given.archers), encoding="utf-8")


if __name__ == "__main__":
    main()
