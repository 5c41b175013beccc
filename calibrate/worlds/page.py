# ruff: noqa: E501
"""The page docs/calibration_worlds.md: one table for all worlds, beside the product as it stood."""

from __future__ import annotations

import datetime as dt
import platform
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from calibrate.worlds import bands, obeying
from calibrate.worlds.world import WORLDS

Row = dict[str, Any]
PAGE = Path(__file__).resolve().parents[2] / "docs" / "calibration_worlds.md"
#: seeds from here on are looked at once, after the product is frozen
FINAL = 90_000
#: least share held of what is stated at 80 %, before any shot and after shots; most mean after shots
LEAST = {
    "trade": (0.74, 0.72),
    "reversed": (0.74, 0.72),
    "smooth": (0.74, 0.72),
    "wide": (0.66, 0.70),
}
MOST_MEAN, MOST_MEDIAN, MOST_WIDER = 0.90, 0.80, 1.25
INSIDE, CLOSED, WORSE = 0.92, 0.5, {"trade": 0.06, "reversed": 0.12, "smooth": 0.12, "wide": 0.12}


def pct(value: float) -> str:
    """A share for the table."""
    return "-" if np.isnan(value) else f"{100 * value:.0f}"


class Judged:
    """Rows of one product, by measure and world."""

    def __init__(self, name: str, of_bands: Sequence[Row], of_archers: Sequence[Row]) -> None:
        self.name = name
        self.worlds = list(of_bands[0]["worlds"])
        self.bands = {w: bands.figures(of_bands, w) for w in self.worlds}
        by_world = {w: [r for r in of_archers if r["world"] == w] for w in self.worlds}
        self.archers = {w: obeying.figures(rows) for w, rows in by_world.items() if rows}
        self.count, self.seeds = len(of_bands), (of_bands[0]["seed"], of_bands[-1]["seed"])

    def after(self, world: str) -> list[float]:
        """Shares held at 80 % after shots."""
        found = self.bands[world]
        return [found[f"{n} {p}"]["held80"] for n in bands.AFTER for p in bands.PLACES]

    def median(self, world: str) -> float:
        """The largest median of |error| over the stated spread."""
        return max(f["median"] for k, f in self.bands[world].items() if k not in ("match", "kit"))


def page(now: Judged, before: Judged, oracle: Sequence[Row]) -> str:
    """The page."""
    final = now.seeds[0] >= FINAL
    guided = {w: obeying.figures([r for r in oracle if r["world"] == w]) for w in now.archers}
    archers = next(iter(now.archers.values()))["archers"] if now.archers else 0
    seen = (
        "Nobody had looked at them before this run"
        if final
        else "DEVELOPMENT figures: these seeds were looked at"
    )
    return f"""# Worlds that share nothing with the engine

Written by `python -m calibrate.worlds page` on {dt.date.today().isoformat()}: Python
{platform.python_version()}, numpy {np.__version__}. Judged: {now.name}. Before: {before.name}.
{now.count} archers a world for the bands, seeds {now.seeds[0]} to {now.seeds[1]}; {archers:.0f} a world who
obey `next`, the first of the same seeds. {seen}.

**Which archers are friendly.** Those of docs/calibration_plan.md, calibration_shop.md and calibration_notebooks.md are:
their hidden truths lie about a formula close
to the rules' own middle, no sign is ever reversed, and no tape is forgotten. Those of the `trade` world
are half friendly: sizes anywhere in the ranges that the trade itself states, which the rules were written from, yet
evenly spread in them and not about the rules' likeliest value. The others are not friendly: what is true there
is not what the rules say. Real archers are in none of them. No public table of tuned rigs was found to judge by.

| world | what is true there |
|---|---|
{chr(10).join(f"| {w} | {WORLDS[w]} |" for w in now.worlds)}

## Bands

Shares of truths that lie inside what is stated at 50, 80 and 95 %, at the shortest safe length and uncut (32 in), both with
the purpose's usual weight up front; the middle |error| over the stated standard deviation (0.67 if the doubt is right) and its
root mean square (1 if it is right); the mean width of the 80 % band and the root mean square error in
pounds of stiffness. Groups are shot by a tuner who asks the product for the first arrow only. With {now.count} archers a
share near 80 % has a standard error of {100 * np.sqrt(0.16 / now.count):.1f}.

| world | groups | at | 50 % | 80 % | 95 % | median | rms | width, lb | error, lb | before: 80 % | median | rms | width | error |
|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|
{chr(10).join(_band_rows(now, before))}

## The first arrow and the kit

The chance stated that the kit's first arrow matches, and how often it did; the kit's stated chance, and how often
some arrow it can become (cut by quarter inches, with its points) came within the tolerance.

| world | first arrow: stated | matched | kit: stated | kept | before: matched | kept |
|---|---|---|---|---|---|---|
{chr(10).join(_chance_rows(now, before))}

## Archers who obey `next`

From nothing owned until `next` says: make the dozen. The same archers for all three advisers. Truly inside:
of all archers, the share whose arrow truly lies within T sideways: the one that the dozen is made of, and the one that was first
called `flies straight`, after which `next` says: shoot it again. Changes and ends are those until then; changes count 12 for those who never
got there. The oracle knows every size of its world, but not what archer and bow ask for themselves, nor the shafts'
errors, nor the scatter; it shoots the arrow likeliest to be straight, and stops after two ends or more once it is so with a chance of 0.9.

| world | truly inside, the dozen: before | now | oracle | now less before | of the gap closed | first called straight: before | now | changes: before | now | oracle | ends: before | now | oracle | to the dozen: before | now |
|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|
{chr(10).join(_archer_rows(now, before, guided))}

A change worsened where the arrow truly lay over {obeying.WORSE_IN:g} in farther from straight after it (at 20 yd), to
either side, another shaft taken up included; until an arrow is called straight. A lever (cut, point, insert, collar, wrap, plate, plunger) went the wrong way
where it moved the arrow so much farther to the side it was on. The oracle's figure tells what fliers and scatter alone do.
Ranges are those stated for the next group.

| world | changes that worsened: before | now | oracle | levers the wrong way: before | now | ranges held (stated): before | now |
|---|---|---|---|---|---|---|---|
{chr(10).join(_step_rows(now, before, guided))}

## What must hold

| world | what | asked | found | |
|---|---|---|---|---|
{chr(10).join(_musts(now, before, guided))}

## How the worlds are made

{MADE}
"""


def _band_rows(now: Judged, before: Judged) -> list[str]:
    told = []
    for world in now.worlds:
        for key, f in now.bands[world].items():
            if key in ("match", "kit"):
                continue
            stage, place = key.split()
            b = before.bands[world][key]
            told.append(
                f"| {world} | {stage} | {place} | {pct(f['held50'])} | {pct(f['held80'])} | "
                f"{pct(f['held95'])} | {f['median']:.2f} | {f['rms']:.2f} | {f['width']:.1f} | "
                f"{f['error']:.1f} | {pct(b['held80'])} | {b['median']:.2f} | {b['rms']:.2f} | "
                f"{b['width']:.1f} | {b['error']:.1f} |"
            )
    return told


def _chance_rows(now: Judged, before: Judged) -> list[str]:
    told = []
    for world in now.worlds:
        m, k = now.bands[world]["match"], now.bands[world]["kit"]
        told.append(
            f"| {world} | {pct(m['stated'])} % | {pct(m['seen'])} % +- {pct(m['se'])} | {pct(k['stated'])} % | "
            f"{pct(k['seen'])} % +- {pct(k['se'])} | {pct(before.bands[world]['match']['seen'])} % | "
            f"{pct(before.bands[world]['kit']['seen'])} % |"
        )
    return told


def closed(before: float, now: float, best: float) -> float:
    """Which part of the gap between before and the best is closed; not-a-number where there is none."""
    gap = best - before
    return (now - before) / gap if abs(gap) > 1e-9 else float("nan")


def apart(before: Row, now: Row) -> tuple[float, float]:
    """Mean difference of truly inside on the same archers, and its standard error."""
    each = now["each"].astype(float) - before["each"]
    return float(each.mean()), float(each.std() / len(each) ** 0.5)


def together(figures: dict[str, Row]) -> Row:
    """Truly inside in all worlds but the trade's and the raw launches'."""
    each, first = (
        np.concatenate([f[key] for w, f in figures.items() if w not in ("trade", "launch")])
        for key in ("each", "each_first")
    )
    return {"each": each, "inside": float(each.mean()), "first": float(first.mean())}


def _part(before: Row, now: Row, oracle: Row) -> str:
    part = closed(before["inside"], now["inside"], oracle["inside"])
    return "-" if np.isnan(part) or oracle["inside"] <= before["inside"] else f"{part:.1f}"


def _archer_rows(now: Judged, before: Judged, guided: dict[str, Row]) -> list[str]:
    told = []
    for world, n in now.archers.items():
        b, o = before.archers[world], guided[world]
        mean, se = apart(b, n)
        told.append(
            f"| {world} | {100 * b['inside']:.1f} % | {100 * n['inside']:.1f} % | {100 * o['inside']:.1f} % | "
            f"{100 * mean:+.1f} +- {100 * se:.1f} | {_part(b, n, o)} | {100 * b['first']:.1f} % | "
            f"{100 * n['first']:.1f} % | {b['changes_all']:.1f} | {n['changes_all']:.1f} | {o['changes_all']:.1f} | "
            f"{b['ends']:.1f} | {n['ends']:.1f} | {o['ends']:.1f} | {b['all_ends']:.1f} | {n['all_ends']:.1f} |"
        )
    if any(w not in ("trade", "launch") for w in now.archers):
        b, n, o = (together(f) for f in (before.archers, now.archers, guided))
        mean, se = apart(b, n)
        told.append(
            f"| all but trade and launch | {100 * b['inside']:.1f} % | {100 * n['inside']:.1f} % | {100 * o['inside']:.1f} % | "
            f"{100 * mean:+.1f} +- {100 * se:.1f} | {_part(b, n, o)} | {100 * b['first']:.1f} % | {100 * n['first']:.1f} % | | | | | | | | |"
        )
    return told


def _step_rows(now: Judged, before: Judged, guided: dict[str, Row]) -> list[str]:
    told = []
    for world, n in now.archers.items():
        b, o = before.archers[world], guided[world]
        told.append(
            f"| {world} | {100 * b['worse']:.1f} % of {b['steps']} | {100 * n['worse']:.1f} % of {n['steps']} | "
            f"{100 * o['worse']:.1f} % of {o['steps']} | {100 * b['wrong_way']:.1f} % of {b['levers']} | "
            f"{100 * n['wrong_way']:.1f} % of {n['levers']} | {100 * b['ranges_held']:.1f} % | "
            f"{100 * n['ranges_held']:.1f} % ({pct(n['ranges_stated'])} %) of {n['ranges']} |"
        )
    return told


def _musts(now: Judged, before: Judged, guided: dict[str, Row]) -> list[str]:
    told: list[str] = []

    def row(world: str, what: str, asked: str, found: str, good: bool) -> None:
        told.append(f"| {world} | {what} | {asked} | {found} | {'yes' if good else '**no**'} |")

    for world, (first, later) in LEAST.items():
        if world not in now.worlds:
            continue
        f = now.bands[world]
        held = [f[f"0 {p}"]["held80"] for p in bands.PLACES]
        row(world, "80 % held before any shot", f">= {pct(first)} %",
            " and ".join(f"{100 * h:.1f}" for h in held), min(held) >= first)  # fmt: skip
        after = now.after(world)
        row(world, "80 % held after 1, 2, 4 groups", f">= {pct(later)} %", f"{100 * min(after):.1f} at least",
            min(after) >= later)  # fmt: skip
        mean = float(np.mean(after))
        row(
            world, "mean of these", f"<= {pct(MOST_MEAN)} %", f"{100 * mean:.1f}", mean <= MOST_MEAN
        )
        if world != "wide":
            most = now.median(world)
            row(
                world,
                "median error over spread",
                f"<= {MOST_MEDIAN:.1f}",
                f"{most:.2f} at most",
                most <= MOST_MEDIAN,
            )
    if "trade" in now.worlds:
        ratio = now.bands["trade"]["0 short"]["width"] / before.bands["trade"]["0 short"]["width"]
        row("trade", "width of the short band over that of before", f"<= {MOST_WIDER:g}", f"{ratio:.2f}",
            ratio <= MOST_WIDER)  # fmt: skip
    for world, n in now.archers.items():
        b, o = before.archers[world], guided[world]
        if world == "trade":
            for key, what in (
                ("inside", "truly inside, the dozen"),
                ("first", "truly inside, first called straight"),
            ):
                row(world, what, f">= {pct(INSIDE)} %", f"{100 * n[key]:.1f}", n[key] >= INSIDE)
        else:
            good = (
                o["inside"] <= b["inside"]
                or closed(b["inside"], n["inside"], o["inside"]) >= CLOSED
            )
            row(world, "gap to the oracle closed", ">= half", _part(b, n, o), good)
        if world in WORSE:
            most = f"<= {pct(WORSE[world])} %"
            row(
                world,
                "changes that worsened",
                most,
                f"{100 * n['worse']:.1f}",
                n["worse"] <= WORSE[world],
            )
            row(world, "levers that went the wrong way", most, f"{100 * n['wrong_way']:.1f}",
                n["wrong_way"] <= WORSE[world])  # fmt: skip
    return told


MADE = """The rigs, the shop and the way groups are shot are those of calibrate/archers; what is true of a bow is not. A
truth is the draw weight (a pound of scale error either way) plus every factor of the trade at a size of its own, from
calibrate/worlds/sizes.csv, plus up to 7 lb either way at 47 lb that archer and bow ask for themselves. Sizes in
pounds grow with the bow's weight for some archers and not for others; of two factors that partly measure the same
(a fast limb and its string, a longbow and its plate) the smaller counts anything from nothing to in full.

* *wide*: the same ranges half as wide again as the 95 % of a Student's t of 4.
* *reversed*: for a third of the archers the effects of front and tail are turned round about the arrow usually shot from
  such a bow (1 1/2 in beyond the draw, 125 to 225 gr up front by its weight): what practice knows best stays true there.
* *launch*, *smooth*: that arrow wants what the trade's world says; from there on the ratio of stiffnesses wanted comes from
  launches, one thing changed at a time at the same settings. Settings that nobody measures are drawn for each archer
  (calibrate/worlds/settings.csv), the law by which the string stiffens too, from even to late. Smooth is a line (for front mass a bent
  one) through the medians of seven settings close to the archer's; raw is what the archer's own gave, chatter and all. Bows without
  a match at the drawn settings draw anew. The launches are those of the product as it stood before.

In all worlds one end in eight is shot without the fletching's weight though noted as taped, one shaft in twenty has
a bent nock that throws it 2 to 4 in, one shot in eight is plucked, tails are noted for six in ten and 15 % of them at random, three
archers in ten have a nocking point up to an eighth off, and one in twenty has a shaft that slaps the plate where it is far too weak.
A pound of mismatch is 0.4 to 1.8 in at 20 yd. What the worlds share with the engine: that a stiffness is wanted at all, and the
kinds of factor; nothing of its sizes, doubts or code but, in two of them, the launch physics."""
