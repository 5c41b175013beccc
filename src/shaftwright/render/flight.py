"""A flight as text and as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.flight import Flight, Ranged
from shaftwright.render.build import danger_first, speed_source
from shaftwright.render.words import bullets, table, wrap
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def flight_text(flown: Flight, name: str) -> str:
    """Drop, time, what is left, wind and hold in 80 columns.

    Parameters
    ----------
    flown : Flight
        The flight.
    name : str
        What the build is called.

    Returns
    -------
    str
        Text.
    """
    parts = [
        *danger_first(flown.cautions),
        wrap(f"{name} on {flown.question.rig.name}"),
        "\n".join(wrap(line, "    ", "  ") for line in _conditions(flown)),
        _rows(flown),
        "\n".join(wrap(line, "  ") for line in _aim(flown)),
        wrap(
            "Computed, not shot: prove each distance at a butt, broadheads at a butt made for them, "
            "and know what lies behind the target."
        ),
    ]
    if flown.amiss or flown.warnings:
        parts.append(bullets([*flown.amiss, *flown.warnings], "! "))
    return "\n\n".join(parts)


def _conditions(flown: Flight) -> list[str]:
    speed, asked = flown.speed_fps, flown.conditions
    air = [f"air {float(np.asarray(asked.air.density_kg_m3)):.3f} kg/m3"]
    if asked.wind_fps:
        side = "right" if asked.wind_fps > 0 else "left"
        air.append(f"wind {abs(asked.wind_fps):g} fps to the {side}")
    if asked.slope_deg:
        air.append(
            f"{abs(asked.slope_deg):g} degrees {'up' if asked.slope_deg > 0 else 'down'}hill"
        )
    fletching = asked.fletching.replace("_", " ")
    worn = "fletching not stated" if asked.fletching == "not_stated" else f"fletching {fletching}"
    return [
        f"{flown.builds.total_gr[0]:.0f} gr leaves at {speed.mid:.0f} fps "
        f"({speed.low:.0f} to {speed.high:.0f}), {speed_source(flown.question)}",
        ", ".join([*air, f"{asked.head.replace('_', ' ')} point", worn]),
    ]  # fmt: skip


def _rows(flown: Flight) -> str:
    windy = flown.conditions.wind_fps != 0
    headers = ["yd", "time s", "drop in", "range", "fps", "ft-lb", "slug ft/s"]
    headers += (["drift in"] if windy else []) + ["hold point", "range"]
    rows = []
    for i, yards in enumerate(flown.conditions.distances_yd):
        if np.isnan(flown.time_s.mid[i]):
            rows.append([f"{yards:.4g}", *["-"] * (len(headers) - 1)])
            continue
        drop, hold = flown.drop_in, flown.hold_in
        cells = [
            f"{yards:.4g}", f"{flown.time_s.mid[i]:.2f}", f"{drop.mid[i]:.1f}", _span(drop, i),
            f"{flown.left_fps.mid[i]:.0f}", f"{flown.energy_ftlb.mid[i]:.1f}",
            f"{flown.momentum_slug_fps.mid[i]:.3f}",
        ]  # fmt: skip
        if windy:
            cells.append(f"{flown.drift_in.mid[i]:+.1f}")
        rows.append([*cells, _hold(float(hold.mid[i])), _span(hold, i, signed=True)])
    return table(rows, headers, "rrrlrrr" + ("r" if windy else "") + "rl")


def _span(of: Ranged, i: int, signed: bool = False) -> str:
    low, high = of.low[i], of.high[i]
    sign = "+" if signed else ""
    shown = [f"{v:{sign}.0f}" if np.isfinite(v) else "?" for v in (low, high)]
    return f"{shown[0]} to {shown[1]}" if signed else f"{shown[0]}-{shown[1]}"


def _hold(inches_above: float) -> str:
    if not np.isfinite(inches_above):
        return ""
    if abs(inches_above) < 0.5:
        return "on the mark"
    return f"{abs(inches_above):.0f} in {'over' if inches_above > 0 else 'under'}"


def _aim(flown: Flight) -> list[str]:
    lines = [
        "Drop is below the line the arrow leaves on. The point is held over or under the mark. "
        "Ranges are 95 %."
    ]
    on, eye = flown.point_on_yd, flown.eye_in
    if flown.conditions.point_on_yd is not None:
        lines.append(
            f"From your point-on distance of {flown.conditions.point_on_yd:g} yd: the eye works as if "
            f"{inches(round(8 * eye.mid) / 8)} above the nock."
        )
        return lines
    if on is not None:
        ends = [f"{v:.0f}" if np.isfinite(v) else "?" for v in (on.low, on.high)]
        lines.append(
            f"The point covers the mark at about {on.mid:.0f} yd ({ends[0]} to {ends[1]}), with the eye "
            f"{inches(round(8 * eye.mid) / 8)} above the nock. Find your own distance, then give it "
            "with --point-on."
        )
    return lines


def flight_figure(flown: Flight, name: str) -> Figure:
    """The path against the sight line with its range, and where the point is held.

    Parameters
    ----------
    flown : Flight
        The flight.
    name : str
        What the build is called.

    Returns
    -------
    matplotlib.figure.Figure
        With id `flight`.
    """
    from shaftwright.render.figure import PALETTE, area, axes, legend, mark, new_figure, plain

    speed, asked = flown.speed_fps, flown.conditions
    told = (
        f"Upper: height of the arrow against the sight line in inches over distance in yards, aimed "
        f"to hit at {flown.aimed_yd:g} yd, leaving at {speed.mid:.0f} fps ({speed.low:.0f} to "
        f"{speed.high:.0f}). Lower: how far over or under the mark the point is held, in inches. "
        "Shaded: 95 % range from speed, drag and the height of the eye."
    )
    figure = new_figure("flight", f"Flight of {plain(name, 80)}", told, (7.2, 6.4))
    grid = figure.add_gridspec(2, 1, height_ratios=[3, 2])
    top = axes(figure, x="distance (yd)", y="path against the sight line (in)")
    top.set_subplotspec(grid[0])
    path, line = flown.path_in, {**mark(1), "marker": ""}
    shown = np.isfinite(path.mid)
    top.fill_between(
        flown.path_yd[shown], path.low[shown], path.high[shown], label="95 % range", **area()
    )
    label = f"aimed at {flown.aimed_yd:g} yd, {speed.mid:.0f} fps"
    top.plot(flown.path_yd[shown], path.mid[shown], label=label, **line)
    top.axhline(0.0, color=PALETTE["muted"], linewidth=1.0)
    top.set_title(plain(name), loc="left")
    low = axes(figure, x="distance (yd)", y="hold the point (in)", label="hold")
    low.set_subplotspec(grid[1])
    hold, distances = flown.hold_in, np.array(asked.distances_yd)
    known = np.isfinite(hold.mid)
    low.fill_between(
        distances[known], hold.low[known], hold.high[known], label="95 % range", **area()
    )
    low.plot(distances[known], hold.mid[known], label="over (+) or under the mark", **mark(2))
    low.axhline(0.0, color=PALETTE["muted"], linewidth=1.0)
    low.set_xlim(top.get_xlim())
    legend(top, loc="lower left")
    legend(low, loc="upper left")
    return figure
