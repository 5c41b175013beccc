"""Bands before any shot and after one, two and four groups; the first arrow's chance; the kit's promise."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from archers.world import Arrow
from calibrate.worlds import product, tuner
from calibrate.worlds.sizes import Numbers
from calibrate.worlds.world import Elsewhere, elsewhere

Row = dict[str, Any]
UNCUT_IN = 32.0
AFTER = (1, 2, 4)
PLACES = ("short", "uncut")
Z80 = 1.2815515655446004
CUT_IN = 0.25


def archer(seed: int, worlds: Sequence[str]) -> Row:
    """One archer in every world; what is asked before a shot is asked once."""
    started = time.process_time()
    all_of = {name: elsewhere(seed, name) for name in worlds}
    made = time.process_time()
    rig = next(iter(all_of.values())).rig
    asked = product.Asked(rig, [])
    before = _bands(asked)
    kit = asked.kit()
    first = kit.shafts[0] if kit else _nearest(before)
    row: Row = {"seed": seed, "worlds": {}}
    if first is not None:
        chance, tolerance = asked.match(first)
        row |= {"first": first.build(), "match": chance, "kit": kit and kit.chance}
    arrows = _tunable(asked, kit) if kit else []
    for name, world in all_of.items():
        found: Row = {"0": _told(world, before)}
        if first is not None:
            supply, wanted = world.supply_lb(first), world.wanted_lb(first)
            found["matches"] = abs(supply - wanted) <= tolerance * wanted
            found["off_lb"] = supply - wanted
            found["kept"] = any(
                abs(world.supply_lb(a) - (w := world.wanted_lb(a))) <= tolerance * w for a in arrows
            )
            shots = tuner.groups(world, first, max(AFTER))
            for count in AFTER:
                found[str(count)] = _told(world, _bands(product.Asked(rig, shots[:count])))
        row["worlds"][name] = found
    row["cpu_s"] = round(time.process_time() - made, 3)
    row["truth_s"] = round(made - started, 3)
    return row


def _bands(asked: product.Asked) -> list[product.Stated | None]:
    return [asked.band(), asked.band(UNCUT_IN)]


def _told(world: Elsewhere, bands: list[product.Stated | None]) -> Row:
    """The truth at each build beside what was stated."""
    told: Row = {}
    for place, band in zip(PLACES, bands, strict=True):
        if band is not None:
            at = Numbers(band.length_in, band.front_gr, band.tail_gr, band.radius_in)
            truth = world.wanted_by_numbers(at)
            told[place] = [round(v, 3) for v in (truth, band.middle, *band.low, *band.high)]
    return told


def _nearest(bands: list[product.Stated | None]) -> Arrow | None:
    """Where the shop has no kit: the uncut shaft nearest to the uncut band's middle."""
    band = bands[1] or bands[0]
    if band is None:
        return None
    spines = [300, 340, 400, 500, 600, 700]
    spine = min(spines, key=lambda s: abs(product.POUND_MILS / s - band.middle))
    return Arrow(f"MARSH-{spine}", 1, UNCUT_IN, "P150", "I12")


def _tunable(asked: product.Asked, kit: product.Kit) -> list[Arrow]:
    """Every arrow that the kit can become, within what the purpose lets an arrow weigh."""
    least, most, shortest = asked.limits()
    arrows = [
        replace(shaft, length_in=float(length), point=point)
        for shaft in kit.shafts
        for point in kit.points
        for length in np.append(np.arange(shaft.length_in, shortest - 1e-9, -CUT_IN), shortest)
    ]
    return [a for a in arrows if least <= a.total_gr <= most]


# ---------------------------------------------------------------- figures


def figures(rows: Sequence[Row], world: str) -> dict[str, Any]:
    """All measures of one world."""
    found: dict[str, Any] = {}
    for stage in (0, *AFTER):
        for place in PLACES:
            table = np.array(
                [t[place] for r in rows if (t := r["worlds"][world].get(str(stage))) and place in t]
            )
            if len(table):
                found[f"{stage} {place}"] = _held(table)
    some = [r for r in rows if "first" in r]
    hits = np.array([r["worlds"][world]["matches"] for r in some], float)
    stated = np.array([r["match"] for r in some])
    found["match"] = {
        "stated": stated.mean(),
        "seen": hits.mean(),
        "se": hits.std() / len(hits) ** 0.5,
    }
    kits = [r for r in some if r["kit"]]
    kept = np.array([r["worlds"][world]["kept"] for r in kits], float)
    found["kit"] = {
        "stated": float(np.mean([r["kit"] for r in kits])), "seen": kept.mean(),
        "se": kept.std() / max(len(kept), 1) ** 0.5,
    }  # fmt: skip
    return found


def _held(table: Any) -> dict[str, float]:
    """Shares held at 50, 80 and 95 %, and the error against the stated spread."""
    truth, middle, low, high = table[:, 0], table[:, 1], table[:, 2:5], table[:, 5:8]
    inside = (truth[:, None] >= low) & (truth[:, None] <= high)
    width = high[:, 1] - low[:, 1]
    score = (truth - middle) / (width / 2 / Z80)
    return {
        "held50": inside[:, 0].mean(), "held80": inside[:, 1].mean(), "held95": inside[:, 2].mean(),
        "median": float(np.median(np.abs(score))), "rms": float(np.sqrt(np.mean(score**2))),
        "width": float(width.mean()), "bias": float(np.mean(truth - middle)),
        "error": float(np.sqrt(np.mean((truth - middle) ** 2))), "archers": len(table),
    }  # fmt: skip


def text(rows: Sequence[Row], worlds: Sequence[str]) -> str:
    """The table, for a terminal."""
    lines = [
        "world      groups at     50%   80%   95%  |e|/sd  rms   width  bias  rms e   (all three in lb)"
    ]
    for world in worlds:
        found = figures(rows, world)
        after80 = []
        for stage in (0, *AFTER):
            for place in PLACES:
                f = found.get(f"{stage} {place}")
                if f is None:
                    continue
                if stage:
                    after80.append(f["held80"])
                lines.append(
                    f"{world:10} {stage}      {place:5} {100 * f['held50']:5.1f} {100 * f['held80']:5.1f} "
                    f"{100 * f['held95']:5.1f}  {f['median']:5.2f} {f['rms']:5.2f} {f['width']:6.1f} "
                    f"{f['bias']:6.1f} {f['error']:5.1f}"
                )
        lines.append(
            f"{world:10} after shots, mean held at 80 %: {100 * float(np.mean(after80)):.1f}; "
            f"first arrow matches: {_promise(found['match'])}; kit kept: {_promise(found['kit'])}"
        )
    return "\n".join(lines)


def _promise(found: dict[str, float]) -> str:
    return f"stated {100 * found['stated']:.1f}, seen {100 * found['seen']:.1f} +- {100 * found['se']:.1f}"
