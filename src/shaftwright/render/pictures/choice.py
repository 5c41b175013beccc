"""Pictures of a choice: the band, the ladder of the rules, or the map."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.choose.choose import Choice, Ladder, Rung, ladder_of
from shaftwright.answers.choose.density import BandCurve, BandCurves, band_curves
from shaftwright.render.pictures.around import ACROSS, BESIDE, write
from shaftwright.render.pictures.figure import PALETTE, area, axes, new_figure, plain
from shaftwright.render.words import chances, spine_told
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


_TALL = 0.72
#: a line of what is sold: its words and its strokes
_SOLD = 0.36


def band_figure(drawn: BandCurves) -> Figure:
    """Draw the bands, one row each, stiff on the left."""
    rows, below = len(drawn.curves), 0.22 + _SOLD * len(drawn.sizes)
    figure = new_figure(
        "band", "Spine band with its doubt", _told(drawn), 1.15 + 0.95 * (rows + below)
    )
    unit = "pounds, as wood is marked" if drawn.in_pounds else "thousandths of an inch"
    ax = axes(figure, x=f"static spine ({unit})")
    ax.xaxis.set_major_formatter(lambda mils, _: _spine(drawn, mils).removesuffix(" lb"))
    ax.grid(False, axis="y")
    tallest = max(float(curve.density.max()) for curve in drawn.curves)
    # figures at an edge stay on the paper
    pad = 0.06 * float(np.ptp(drawn.spine_mils))
    low, high = float(drawn.spine_mils[0]) - pad, float(drawn.spine_mils[-1]) + pad
    for row, curve in enumerate(drawn.curves):
        _row(ax, drawn, curve, rows - 1 - row, tallest)
    ax.set_xlim(low, high)
    ax.set_ylim(-below, rows - 0.02)
    ax.set_yticks([])
    ax.set_ylabel("")
    ax.spines["left"].set_visible(False)
    _write(ax, f"{drawn.sizes_from}:", -0.2, PALETTE["muted"])
    for place, (material, sizes) in enumerate(drawn.sizes.items(), 1):
        _sold(ax, material, np.array(sizes), -0.2 - _SOLD * place, (low, high))
    for x, words, side in ((0.0, "\N{LEFTWARDS ARROW} stiffer", "left"),
                           (1.0, "more flexible \N{RIGHTWARDS ARROW}", "right")):  # fmt: skip
        write(
            ax, words, (x, 1.0), xycoords="axes fraction", xytext=(0, 4), ha=side, va="bottom",
            fontsize=9.5, style="italic", bbox=None, **BESIDE,
        )  # fmt: skip
    return figure


def _sold(ax: Axes, material: str, sizes: np.ndarray, at: float, ends: tuple[float, float]) -> None:
    """Every spine that can be bought in a material: a stroke each, those beyond the picture counted."""
    shown = sizes[(sizes >= ends[0]) & (sizes <= ends[1])]
    ax.plot(
        shown, np.full(len(shown), at + 0.07), linestyle="none", marker="|", markersize=8,
        markeredgewidth=1.4, color=PALETTE["ink"], gid=f"sizes-{material}",
    )  # fmt: skip
    stiffer, weaker = int(np.sum(sizes < ends[0])), int(np.sum(sizes > ends[1]))
    more = [f"{stiffer} stiffer"] * (stiffer > 0) + [f"{weaker} weaker"] * (weaker > 0)
    beyond = f" (and {', '.join(more)})" if more else ""
    _write(ax, f"{material}{beyond}", at + 0.15, PALETTE["ink"])


def _write(ax: Axes, words: str, at: float, colour: str) -> None:
    write(ax, words, (0.0, at), va="bottom", color=colour, zorder=6, **ACROSS)


def _spine(drawn: BandCurves, mils: float) -> str:
    return spine_told(mils, drawn.in_pounds)


def _row(ax: Axes, drawn: BandCurves, curve: BandCurve, base: int, tallest: float) -> None:
    x, height = drawn.spine_mils, base + _TALL * curve.density / tallest
    band, before = curve.band, curve.name.startswith("before")
    inside = (x >= band.low) & (x <= band.high)
    edge = PALETTE["muted"] if before else PALETTE["band_edge"]
    if not before:
        ax.fill_between(
            x, base, height, facecolor=PALETTE["band"], alpha=0.35, linewidth=0, zorder=1
        )
    ax.fill_between(
        x, base, height, where=inside, linewidth=0, zorder=2, edgecolor=PALETTE["grid"],
        facecolor="none" if before else PALETTE["band"], hatch="////" if before else None,
    )  # fmt: skip
    ax.plot(
        x, height, color=edge, linewidth=1.4, linestyle=(0, (4, 2)) if before else "-", zorder=3
    )
    ax.axhline(base, color=PALETTE["grid"], linewidth=0.8, zorder=1)
    for spine in (band.low, band.mid, band.high):
        top = float(np.interp(spine, x, height))
        wide = 2.2 if spine == band.mid else 1.2
        ax.plot([spine, spine], [base, top], color=edge, linewidth=wide, zorder=4)
    words = f"{curve.name}: {inches(band.length_in)}, {band.front_gr:.0f} gr up front"
    _write(ax, words, base + _TALL + 0.05, PALETTE["muted" if before else "ink"])
    for spine, side, away in (
        (band.low, "right", -4),
        (band.high, "left", 4),
        (band.mid, "center", 0),
    ):
        middle = spine == band.mid
        write(
            ax, _spine(drawn, spine), (spine, base), xytext=(away, 4), ha=side, va="bottom", zorder=6,
            fontsize=9.5 if middle else 9, fontweight="bold" if middle else "normal", **BESIDE,
        )  # fmt: skip


def _told(drawn: BandCurves) -> str:
    """The picture in words."""
    rows = [
        f"{c.name}, at {inches(c.band.length_in)} with {c.band.front_gr:.0f} gr up front: stiffest "
        f"{_spine(drawn, c.band.low)}, middle {_spine(drawn, c.band.mid)}, weakest "
        f"{_spine(drawn, c.band.high)}"
        for c in drawn.curves
    ]
    return (
        f"How likely each static spine is the right one, stiff on the left. With "
        f"{chances(drawn.curves[0].band.chance)}: {'; '.join(rows)}."
    )


_HALF = 0.30


def ladder_figure(drawn: Ladder) -> Figure:
    """Draw the ladder, from the draw weight at the top down to what bow and archer want."""
    rungs, count = drawn.rungs, len(drawn.rungs)
    at = f"{inches(drawn.length_in)}, {drawn.front_gr:.0f} gr up front"
    figure = new_figure(
        "ladder", "Ladder from draw weight to effective bow weight", _sum_told(drawn, at),
        1.35 + 0.27 * (count + 2),
    )  # fmt: skip
    ax = axes(figure, x="pounds")
    ax.grid(False, axis="y")
    ink, muted = PALETTE["ink"], PALETTE["muted"]
    ax.axvspan(drawn.total.low, drawn.total.high, linewidth=0, facecolor=PALETTE["band"], alpha=0.55,
               zorder=0)  # fmt: skip
    ax.plot([drawn.stated_lb], [0], color=ink, zorder=5, marker="o", markersize=6)
    previous = drawn.stated_lb
    for row, rung in enumerate(rungs, 1):
        ax.plot([previous, previous], [row - 1, row + _HALF], color=muted, linewidth=0.9, zorder=2)
        colour = PALETTE["mark_1"] if rung.adds >= 0 else PALETTE["mark_2"]
        # filled adds, hatched takes away: told apart without colour
        bar: dict[str, Any] = {"left": rung.start, "height": 2 * _HALF, "zorder": 3}
        if rung.adds >= 0:
            # paler inside, so that the whisker reads on it
            ax.barh(row, rung.adds, linewidth=0, facecolor=colour, alpha=0.45, **bar)
        hatch = None if rung.adds >= 0 else "////"
        ax.barh(
            row, rung.adds, linewidth=1.2, facecolor="none", edgecolor=colour, hatch=hatch, **bar
        )
        low, high = rung.start + rung.low, rung.start + rung.high
        if high - low > 0.02:
            ax.plot(
                [low, high], [row, row], color=ink, linewidth=1.3, zorder=4, solid_capstyle="butt"
            )
            for end in (low, high):
                ax.plot([end, end], [row - 0.13, row + 0.13], color=ink, linewidth=1.3, zorder=4)
        previous = rung.end
    last = count + 1
    ax.plot([previous, previous], [count, last], color=muted, linewidth=0.9, zorder=2)
    ax.barh(last, drawn.total.high - drawn.total.low, left=drawn.total.low, height=2 * _HALF,
            zorder=3, **area())  # fmt: skip
    ax.plot([drawn.total.mid], [last], marker="D", color=ink, markersize=6, zorder=5)
    names = ["draw weight as stated", *(plain(r.name, 26) for r in rungs), "effective bow weight"]
    ax.set_yticks(range(count + 2), names)
    ax.set_ylim(last + 0.7, -0.7)
    ends = [drawn.stated_lb, drawn.total.low, drawn.total.high]
    ends += [edge for r in rungs for edge in (r.start + r.low, r.start + r.high)]
    pad = 0.06 * (max(ends) - min(ends))
    ax.set_xlim(min(ends) - pad, max(ends) + pad)
    for row, words in enumerate(
        [f"{drawn.stated_lb:.0f}", *(_signed(r) for r in rungs),
         f"{drawn.total.low:.0f} to {drawn.total.high:.0f}"]
    ):  # fmt: skip
        weight = "bold" if row in (0, last) else "normal"
        write(ax, words, (1.02, row), ha="left", fontweight=weight, zorder=6, bbox=None, **ACROSS)
    ax.tick_params(axis="y", length=0, labelsize=9)
    ax.set_ylabel("")
    figure.suptitle(f"What this bow asks for at {at}", x=0.02, ha="left", fontsize=10.5, color=ink)
    return figure


def _signed(rung: Rung) -> str:
    return f"{rung.adds:+.1f}".replace("-", "\N{MINUS SIGN}") if abs(rung.adds) >= 0.05 else "0"


def _sum_told(drawn: Ladder, at: str) -> str:
    """The picture in words."""
    steps = "; ".join(
        f"{plain(r.name)} {r.adds:+.1f}, range {r.low:+.1f} to {r.high:+.1f}" for r in drawn.rungs
    )
    return (
        f"At {at}. Draw weight as stated {drawn.stated_lb:.0f} lb. Then, in pounds: {steps}. "
        f"Effective bow weight {drawn.total.mid:.0f} lb, "
        f"range {drawn.total.low:.0f} to {drawn.total.high:.0f}."
    )


def choice_figure(choice: Choice, picture: str = "map") -> Figure:
    """One picture of a choice, by its name: map, ladder or band."""
    if picture == "map":
        from shaftwright.answers.choose.map import build_map
        from shaftwright.render.pictures.map import map_figure

        return map_figure(build_map(choice))
    return (
        ladder_figure(ladder_of(choice))
        if picture == "ladder"
        else band_figure(band_curves(choice))
    )
