"""The target view: fletched and bare hits, their centres, and where the next bare centre should lie."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.diagnose.diagnose import Diagnosis
from shaftwright.answers.plan.result import Expect
from shaftwright.inference.evidence.look import Look
from shaftwright.render.pictures import figure as look_and_feel
from shaftwright.render.screens.bareshaft import expect_told
from shaftwright.render.screens.entry import arrow_told
from shaftwright.render.words import chances

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]


def target_view(found: Diagnosis, figure_id: str = "target-view") -> Figure | None:
    """The newest group with coordinates as the archer saw it.

    Parameters
    ----------
    found : Diagnosis
        The answer.
    figure_id : str
        Id of the picture.

    Returns
    -------
    matplotlib.figure.Figure or None
        None when no reading of the build has coordinates.
    """
    readings = [r for r in found.asked.readings if len(r.look.bare_in)]
    if not readings:
        return None
    look = readings[-1].look
    scale = look.distance_yd / 20
    title = f"{arrow_told(found.asked.build.spec)}, {look.distance_yd:g} yd"
    bare, fletched = look.bare_in, look.fletched_in
    told = (
        f"Archer's view in inches. {len(bare)} bare hits and {len(fletched)} fletched hits with centres; "
        f"next bare centre {expect_told(found.expect_now)}."
    )
    fig = look_and_feel.new_figure(figure_id, title, told, size=(6.4, 5.6))
    ax = look_and_feel.axes(fig, x="left - right (in)", y="low - high (in)")
    ax.set_title(look_and_feel.plain(title, 80), loc="left", fontsize=11)
    origin = fletched.mean(axis=0) if len(fletched) else np.zeros(2)
    _expected(ax, found.expect_now, origin, look, found.asked.within_in * scale)
    spread = float(found.scenario.known.bare_sd.mean()) * scale
    own = float(found.scenario.known.fletched_sd.mean()) * scale
    for points, name, number, sd in ((fletched, "fletched", 1, own), (bare, "bare", 2, spread)):
        if len(points):
            _group(ax, points, name, number, sd)
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.08)
    look_and_feel.legend(ax, loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=2)
    return fig


def _group(ax: Axes, points: Array, name: str, number: int, sd: float) -> None:
    """Hits, their centre, and the ellipse that holds about two of three further hits."""
    from matplotlib.patches import Ellipse

    style = look_and_feel.mark(number, line=False)
    colour = style["color"]
    ax.plot(points[:, 0], points[:, 1], label=f"{name} hits", gid=f"{name}-hits", **style)
    x, y = points.mean(axis=0)
    ax.plot(
        [x], [y], marker="+", markersize=16, markeredgewidth=2, linestyle="none", color=colour,
        label=f"{name} centre", gid=f"{name}-centre",
    )  # fmt: skip
    width, height = (2 * _shrunk(points[:, i], sd) * 1.5 for i in (0, 1))
    ellipse = Ellipse((x, y), width, height, fill=False, edgecolor=colour, linewidth=1.2,
                      linestyle=look_and_feel.mark(number)["linestyle"])  # fmt: skip
    ellipse.set_label(f"{name}: two of three more")
    ellipse.set_gid(f"{name}-spread")
    ax.add_patch(ellipse)


def _shrunk(values: Array, sd: float) -> float:
    """Spread of a few shots, leaning on the archer's usual one as if on four shots more."""
    squares = float(np.square(values - values.mean()).sum())
    return math.sqrt((squares + 4 * sd**2) / (len(values) - 1 + 4))


def _expected(ax: Axes, expect: Expect, origin: Array, look: Look, within: float) -> None:
    """A band over the heights, or across, where the next bare centre should lie."""
    if expect.axis == "vertical":
        sides = np.concatenate([look.bare_in[:, 0], look.fletched_in[:, 0], [origin[0]]])
        ax.fill_between(
            [float(sides.min()) - within, float(sides.max()) + within],
            origin[1] + expect.low_in, origin[1] + expect.high_in,
            label=f"next bare centre, {chances(expect.chance)}", **look_and_feel.area(),
        )  # fmt: skip
        ax.axhline(
            origin[1], color=look_and_feel.PALETTE["muted"], linewidth=0.8, gid="fletched-line"
        )
        return
    heights = np.concatenate([look.bare_in[:, 1], look.fletched_in[:, 1], [origin[1]]])
    low, high = float(heights.min()) - within, float(heights.max()) + within
    ax.fill_betweenx(
        [low, high], origin[0] + expect.low_in, origin[0] + expect.high_in,
        label=f"next bare centre, {chances(expect.chance)}", **look_and_feel.area(),
    )  # fmt: skip
    ax.axvline(origin[0], color=look_and_feel.PALETTE["muted"], linewidth=0.8, gid="fletched-line")
