"""The band: how likely each spine is the right one, before and after the shots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from shaftwright.answers.choose.density import BandCurve, BandCurves
from shaftwright.render.pictures.figure import PALETTE, axes, new_figure
from shaftwright.render.words import chances
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_TALL = 0.72
_PAPER: Final[dict[str, Any]] = {
    "boxstyle": "square,pad=0.15", "facecolor": PALETTE["paper"], "edgecolor": "none", "alpha": 0.75,
}  # fmt: skip


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
    rows = len(drawn.curves)
    figure = new_figure(
        figure_id, "Spine band with its doubt", _told(drawn), size=(5.0, 1.35 + 0.95 * rows)
    )
    ax = axes(figure, x="static spine (mils: thousandths of an inch; a low number is stiff)")
    ax.grid(False, axis="y")
    tallest = max(float(curve.density.max()) for curve in drawn.curves)
    for row, curve in enumerate(drawn.curves):
        _row(ax, drawn.spine_mils, curve, rows - 1 - row, tallest)
    ax.set_xlim(float(drawn.spine_mils[0]), float(drawn.spine_mils[-1]))
    ax.set_ylim(-0.34, rows - 0.02)
    ax.set_yticks([])
    ax.set_ylabel("")
    ax.spines["left"].set_visible(False)
    ax.plot(
        drawn.sizes, np.full(len(drawn.sizes), -0.20), linestyle="none", marker="|", markersize=9,
        markeredgewidth=1.4, color=PALETTE["ink"], gid="sizes", clip_on=False,
    )  # fmt: skip
    ax.annotate(
        drawn.sizes_from, (0.99, -0.13), xycoords=("axes fraction", "data"), fontsize=8, ha="right",
        va="bottom", color=PALETTE["muted"],
    )  # fmt: skip
    for x, words, side in ((0.0, "\N{LEFTWARDS ARROW} stiffer", "left"),
                           (1.0, "more flexible \N{RIGHTWARDS ARROW}", "right")):  # fmt: skip
        ax.annotate(
            words, (x, 1.0), xycoords="axes fraction", xytext=(0, 4), textcoords="offset points", ha=side,
            va="bottom", fontsize=9.5, style="italic", color=PALETTE["ink"],
        )  # fmt: skip
    return figure


def _row(ax: Axes, x: np.ndarray, curve: BandCurve, base: int, tallest: float) -> None:
    height = base + _TALL * curve.density / tallest
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
    ax.annotate(
        words, (0.0, base + _TALL + 0.05), xycoords=("axes fraction", "data"), fontsize=9, va="bottom",
        color=PALETTE["muted"] if before else PALETTE["ink"], zorder=6,
    )  # fmt: skip
    for spine, side, away in (
        (band.low, "right", -4),
        (band.high, "left", 4),
        (band.mid, "center", 0),
    ):
        middle = spine == band.mid
        ax.annotate(
            f"{spine:.0f}", (spine, base), xytext=(away, 4), textcoords="offset points", ha=side,
            va="bottom", fontsize=9.5 if middle else 9, fontweight="bold" if middle else "normal",
            color=PALETTE["ink"], zorder=6, bbox=_PAPER,
        )  # fmt: skip


def _told(drawn: BandCurves) -> str:
    """The picture in words."""
    rows = [
        f"{c.name}, at {inches(c.band.length_in)} with {c.band.front_gr:.0f} gr up front: stiffest "
        f"{c.band.low:.0f}, middle {c.band.mid:.0f}, weakest {c.band.high:.0f}"
        for c in drawn.curves
    ]
    return (
        f"How likely each static spine is the right one, stiff on the left. With "
        f"{chances(drawn.curves[0].band.chance)}: {'; '.join(rows)}."
    )
