"""The band: how likely each spine is the right one, before and after the shots."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.choose.density import BandCurve, BandCurves
from shaftwright.render.pictures.around import on_paper
from shaftwright.render.pictures.figure import PALETTE, axes, new_figure
from shaftwright.render.words import chances, spine_told
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TALL = 0.72
#: a line of what is sold: its words and its strokes
_SOLD = 0.36


def band_figure(drawn: BandCurves, figure_id: str = "band") -> Figure:
    """Draw the bands, one row each, stiff on the left.

    Parameters
    ----------
    drawn : BandCurves
        From `shaftwright.answers.choose.density.band_curves`.
    figure_id : str
        Id in the page.

    Returns
    -------
    matplotlib.figure.Figure
        To be written by `to_svg` or `save`.
    """
    rows, below = len(drawn.curves), 0.22 + _SOLD * len(drawn.sizes)
    figure = new_figure(
        figure_id, "Spine band with its doubt", _told(drawn), 1.15 + 0.95 * (rows + below)
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
        ax.annotate(
            words, (x, 1.0), xycoords="axes fraction", xytext=(0, 4), textcoords="offset points", ha=side,
            va="bottom", fontsize=9.5, style="italic", color=PALETTE["ink"],
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
    ax.annotate(
        words, (0.0, at), xycoords=("axes fraction", "data"), fontsize=9, va="bottom", color=colour,
        zorder=6, bbox=on_paper(),
    )  # fmt: skip


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
        ax.annotate(
            _spine(drawn, spine), (spine, base), xytext=(away, 4), textcoords="offset points", ha=side,
            va="bottom", fontsize=9.5 if middle else 9, fontweight="bold" if middle else "normal",
            color=PALETTE["ink"], zorder=6, bbox=on_paper(),
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
