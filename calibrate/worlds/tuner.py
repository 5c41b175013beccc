"""Groups as a tuner shoots them, who asks the product for the first arrow only."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from archers.world import Arrow, World, number, shop_rows

#: off by less than this: shoot it again; then a small change, a large one, and another shaft [in at 20 yd]
NEAR, SMALL, LARGE = 2.0, 4.0, 8.0


def groups(world: World, first: Arrow, count: int) -> list[dict[str, Any]]:
    """So many groups, each with what the one before asked for; every entry as a notebook has it."""
    arrow, told = first, []
    for _ in range(count):
        entry = world.shoot(arrow)
        told.append(entry)
        arrow = after(world, arrow, entry)
    return told


def stiffward(world: World, entry: dict[str, Any]) -> float:
    """How far the bare group lies to the stiff side of the fletched one [in]."""
    bare = sum(s["at"][0] for s in entry["bare"]) / len(entry["bare"])
    feathered = sum(f[0] for f in entry["fletched"]) / len(entry["fletched"])
    return (1 if world.left else -1) * (bare - feathered)


def after(world: World, arrow: Arrow, entry: dict[str, Any]) -> Arrow:
    """What a tuner changes: 25 gr, then a cut or 50 gr, then the next shaft of the line."""
    off = stiffward(world, entry)
    if abs(off) < NEAR:
        return arrow
    stiff = off > 0
    if abs(off) > LARGE and (other := neighbour(arrow, -1 if stiff else 1)):
        return other
    if abs(off) < SMALL or stiff:
        changed = pointed(arrow, (25 if abs(off) < SMALL else 50) * (1 if stiff else -1))
        if changed != arrow:
            return changed
    if not stiff and arrow.length_in - 0.75 >= world.rig["archer"]["draw_length"] + 0.75:
        return replace(arrow, length_in=arrow.length_in - 0.75)
    return neighbour(arrow, -1 if stiff else 1) or arrow


def pointed(arrow: Arrow, grains: float) -> Arrow:
    """The shop's point nearest to so much more."""
    points = [r["item"] for r in shop_rows() if r["kind"] == "point"]
    wanted = number(arrow.point, "mass_gr") + grains
    return replace(arrow, point=min(points, key=lambda p: abs(number(p, "mass_gr") - wanted)))


def neighbour(arrow: Arrow, stiffer: int) -> Arrow | None:
    """The next shaft of the line, a stiffer one for 1, at the same length if it is as long."""
    line = sorted(
        (r for r in shop_rows() if r["item"].startswith(arrow.shaft.split("-")[0] + "-")),
        key=lambda r: -float(r["spine_mils"] or 0),
    )
    place = next(i for i, r in enumerate(line) if r["item"] == arrow.shaft) + stiffer
    if not 0 <= place < len(line):
        return None
    length = min(arrow.length_in, float(line[place]["full_length_in"]))
    return replace(arrow, shaft=line[place]["item"], length_in=length)
