"""The ladder: effective bow weight built rule by rule, each with its range."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shaftwright.answers.choose.ladder import Ladder, Rung
from shaftwright.render.pictures.figure import PALETTE, area, axes, new_figure, plain
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_HALF = 0.30


def ladder_figure(drawn: Ladder, figure_id: str = "ladder") -> Figure:
    """Draw the ladder, from the draw weight at the top down to what bow and archer want.

    Parameters
    ----------
    drawn : Ladder
        From `shaftwright.answers.choose.ladder.ladder_of`.
    figure_id : str
        Id in the page.

    Returns
    -------
    matplotlib.figure.Figure
        To be written by `to_svg` or `save`.
    """
    rungs, count = drawn.rungs, len(drawn.rungs)
    at = f"{inches(drawn.length_in)}, {drawn.front_gr:.0f} gr up front"
    figure = new_figure(
        figure_id, "Ladder from draw weight to effective bow weight", _told(drawn, at),
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
        ax.annotate(
            words, (1.02, row), xycoords=("axes fraction", "data"), ha="left", va="center", fontsize=9,
            color=ink, fontweight="bold" if row in (0, last) else "normal", zorder=6,
        )  # fmt: skip
    ax.tick_params(axis="y", length=0, labelsize=9)
    ax.set_ylabel("")
    figure.suptitle(f"What this bow asks for at {at}", x=0.02, ha="left", fontsize=10.5, color=ink)
    return figure


def _signed(rung: Rung) -> str:
    return f"{rung.adds:+.1f}".replace("-", "\N{MINUS SIGN}") if abs(rung.adds) >= 0.05 else "0"


def _told(drawn: Ladder, at: str) -> str:
    """The picture in words."""
    steps = "; ".join(
        f"{plain(r.name)} {r.adds:+.1f}, range {r.low:+.1f} to {r.high:+.1f}" for r in drawn.rungs
    )
    return (
        f"At {at}. Draw weight as stated {drawn.stated_lb:.0f} lb. Then, in pounds: {steps}. "
        f"Effective bow weight {drawn.total.mid:.0f} lb, "
        f"range {drawn.total.low:.0f} to {drawn.total.high:.0f}."
    )
