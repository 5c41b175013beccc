"""One arrow: what it is, and how it flies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.build import OneBuild
from shaftwright.answers.flight import Flight
from shaftwright.answers.scenario import Scenario
from shaftwright.physics.spine import spine_marked
from shaftwright.records.builds import Builds
from shaftwright.render.words import bullets, clean, closing, eighths, opening, table, wrap
from shaftwright.units import Interval, cap, convert, distance_told, inches, length_told

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def builds_name(builds: Builds) -> str:
    """A single build in a line: shaft, spine, length and the named parts at the front."""
    spine = spine_marked(float(builds.spine_mils[0]), bool(builds.wood[0]))
    parts = [
        builds.name(int(builds.shaft[0])) or "a shaft by numbers", f"spine {spine}",
        inches(float(builds.length_in[0])),
    ]  # fmt: skip
    named = (builds.name(int(i[0])) for i in (builds.head, builds.insert, builds.collar))
    return ", ".join(clean(part) for part in (*parts, *named) if part)


def arrow_named(builds: Builds, asked: Scenario, of_next: bool) -> str:
    """Which arrow on which bow, and whether it is only the one that the plan names."""
    said = f"{builds_name(builds)} on {asked.rig.name}"
    return f"{said}: the arrow that next names." if of_next else said


def danger_first(dangers: Sequence[str]) -> list[str]:
    """What makes an arrow one not to be drawn, as a first paragraph; nothing where nothing does."""
    return [wrap(f"Do not draw this arrow: {'; '.join(dangers)}.", "  ", "! ")] if dangers else []


def build_text(one: OneBuild, full: bool = False, of_next: bool = False) -> str:
    """One arrow on one bow: what it weighs, how it balances, how well it suits, how hard it hits."""
    b, m, asked = one.listed, one.mechanics, one.question
    speed = b.speed_fps
    balance = f"{eighths(m.balance_in)} in from the nock throat, {m.foc_pct:.0f} % front of centre"
    rows = [
        ("spine", one.spine_from or ""),
        ("weight", f"{b.total_gr:.0f} gr, {b.gr_per_lb:.1f} gr/lb; {b.front_gr:.0f} gr of it up front"),
        ("balance", balance),
        ("speed", f"{speed.mid:.0f} fps ({speed.low:.0f} to {speed.high:.0f}), {speed_source(asked)}"),
        ("hits with", f"{one.energy_ftlb:.0f} ft-lb at the bow"),
        *(tuple(reason.split(": ", 1)) for reason in b.reasons if reason.startswith(("suits", "tuning"))),
    ]  # fmt: skip
    lines = [wrap(arrow_named(one.builds, asked, of_next))]
    for name, text in rows + (_figures(one) if full else []):
        lines += [wrap(text, " " * 14, f"  {name:<11} ")] if text else []
    parts = [opening(asked), *danger_first(one.dangers), "\n".join(lines)]
    amiss = [*b.cautions, *one.amiss]
    if full:
        parts.append(bullets(b.reasons))
    if amiss:
        parts.append(bullets(amiss if full else amiss[:2], "! "))
    return "\n\n".join([*parts, closing(asked, full=full)])


def _figures(one: OneBuild) -> list[tuple[str, ...]]:
    """What an archer sets nothing by, for `--full`."""
    m = one.mechanics
    digits = 1 if one.listed.shaft else 3  # usual lengths of named parts are good for no more
    centre = f"{m.balance_in:.2f} in from the nock throat, {m.foc_pct:.2f} % front of centre {_whole(one)}"
    return [
        ("centre", centre),
        ("momentum", f"{one.momentum_slug_fps:.3f} slug ft/s, {one.energy_ftlb:.1f} ft-lb"),
        ("rings at", ", ".join(f"{f:.{digits}f}" for f in m.frequencies_hz) + " Hz, free in flight"),
        ("steady push", _thrust(one)),
        ("bare shaft", _trim(one)),
    ]  # fmt: skip


def _whole(one: OneBuild) -> str:
    if one.foc_whole_pct is None or one.point_ahead_in is None:
        return "to the end of the shaft; of the physical whole a little less"
    return (
        f"to the end of the shaft; {one.foc_whole_pct:.1f} % of the physical whole, the point "
        f"{one.point_ahead_in:g} in ahead as usual"
    )


def speed_source(asked: Scenario) -> str:
    """Where a speed comes from, in words."""
    return "as usual for such a bow" if asked.speed is None else f"by {asked.speed.told}"


def _thrust(one: OneBuild) -> str:
    text = (
        f"buckles at {one.mechanics.critical_thrust_n:.0f} N, {one.thrust.reference_pct:.0f} % of the "
        "reference arrow (500, 29 in, 125 gr)"
    )
    if one.thrust.same_shaft_median_pct is not None:
        text += f", {one.thrust.same_shaft_median_pct:.0f} % of the middle one of this shaft"
    return text + "; it compares arrows and is no safety limit: the real push lasts milliseconds"


def _trim(one: OneBuild) -> str:
    trim = one.trim
    if trim is None:
        return "balances behind its middle: it does not steady itself at all"
    return (
        f"settles {trim.angle_deg:.1f} degrees to its path; with {trim.more_front_gr:.0f} gr more up "
        f"front {trim.more_angle_deg:.1f}: the air then turns it with a shorter arm (theory)"
    )


def flight_text(flown: Flight, full: bool = False, of_next: bool = False) -> str:
    """Drop, wind and hold in 80 columns; with `full` what is left of speed and energy too."""
    asked, speed = flown.question, flown.speed_fps
    head = [
        arrow_named(flown.builds, asked, of_next),
        f"{flown.builds.total_gr[0]:.0f} gr leaves at {speed.mid:.0f} fps ({speed.low:.0f} to "
        f"{speed.high:.0f}), {speed_source(asked)}.",
        _conditions(flown, full),
    ]  # fmt: skip
    prove = (
        "Computed, not shot: prove each distance at a butt, broadheads at a butt made for them, "
        "and know what lies behind the target."
    )
    parts = [
        opening(asked),
        *danger_first(flown.dangers),
        "\n".join(wrap(line) for line in head if line),
        _rows(flown, full),
        "\n".join(wrap(line) for line in [*_aim(flown), prove]),
    ]
    return "\n\n".join([*parts, closing(asked, full, (*flown.amiss, *flown.warnings))])


def _conditions(flown: Flight, full: bool) -> str:
    """Wind and slope where there are any, the head, and in full the air and the fletching."""
    asked = flown.conditions
    said = []
    if asked.wind_fps:
        side = "right" if asked.wind_fps > 0 else "left"
        said.append(f"wind {abs(asked.wind_fps):g} fps to the {side}")
    if asked.slope_deg:
        way = "uphill" if asked.slope_deg > 0 else "downhill"
        said.append(f"{abs(asked.slope_deg):g} degrees {way}")
    if full:
        worn = f"fletching {asked.fletching.replace('_', ' ')}"
        density = float(np.asarray(asked.air.density_kg_m3))
        said += [f"{asked.head.replace('_', ' ')} point", worn, f"air {density:.3f} kg/m3"]
    text = ", ".join(said)
    return f"{cap(text)}." if text else ""


def _rows(flown: Flight, full: bool) -> str:
    metric = flown.question.rig.units == "metric"
    far, off = ("m", "cm") if metric else ("yd", "in")
    windy = flown.conditions.wind_fps != 0
    left = ["time s", "fps", "ft-lb", "slug ft/s"] if full else ["fps"]
    headers = [far, f"drop {off}", "range", *left, *([f"drift {off}"] if windy else []), "hold point",
               "range"]  # fmt: skip
    scale = convert(1, "in", off)
    rows = []
    for row in flown.rows:
        at, fps = f"{convert(row.distance_yd, 'yd', far):.4g}", f"{row.speed_fps.mid:.0f}"
        if np.isnan(row.time_s):
            rows.append([at, *["-"] * (len(headers) - 1)])
            continue
        energy, momentum = f"{row.energy_ftlb:.1f}", f"{row.momentum_slug_fps:.3f}"
        rows.append([
            at, f"{scale * row.drop_in.mid:.{1 if full else 0}f}", _span(row.drop_in, scale),
            *([f"{row.time_s:.2f}", fps, energy, momentum] if full else [fps]),
            *([f"{scale * row.wind_drift_in.mid:+.1f}"] if windy else []),
            _hold(scale * row.hold_in.mid, off), _span(row.hold_in, scale, signed=True),
        ])  # fmt: skip
    align = "rrl" + "r" * (len(headers) - 5) + "rl"
    return table(rows, headers, align, " " if full else "  ", "" if full else "  ")


def _span(of: Interval, scale: float, signed: bool = False) -> str:
    sign = "+" if signed else ""
    ends = (scale * of.low, scale * of.high)
    shown = [f"{v:{sign}.0f}" if np.isfinite(v) else "?" for v in ends]
    return (" to " if signed else "-").join(shown)


def _hold(above: float, unit: str) -> str:
    if not np.isfinite(above):
        return ""
    if abs(above) < 0.5:
        return "on the mark"
    return f"{abs(above):.0f} {unit} {'over' if above > 0 else 'under'}"


def _aim(flown: Flight) -> list[str]:
    lines = ["Drop is below the line the arrow leaves on. Ranges hold 95 times in 100."]
    on, eye, units = flown.point_on_yd, flown.eye_in.mid, flown.question.rig.units
    above = length_told(eye, units) if units == "metric" else f"{eighths(eye)} in"
    if flown.conditions.point_on_yd is not None:
        lines.append(
            f"From your point-on distance of {distance_told(flown.conditions.point_on_yd, units)}: the eye "
            f"works as if {above} above the nock."
        )
    elif on is not None:
        ends = [distance_told(v, units) if np.isfinite(v) else "?" for v in (on.low, on.high)]
        lines.append(
            f"The point covers the mark at {distance_told(on.mid, units)} ({ends[0]} to {ends[1]}), with the "
            f"eye {above} above the nock. Find your own distance, then give it with --point-on."
        )
    return lines


def flight_figure(flown: Flight, name: str) -> Figure:
    """The path against the sight line with its range, and where the point is held; id `flight`."""
    from shaftwright.render.pictures import figure as look
    from shaftwright.render.pictures.around import key_above, titled

    speed, asked = flown.speed_fps, flown.conditions
    shown_as = (
        f"Upper: height of the arrow against the sight line in inches over distance in yards, aimed "
        f"to hit at {flown.aimed_yd:g} yd, leaving at {speed.mid:.0f} fps ({speed.low:.0f} to "
        f"{speed.high:.0f}). Lower: how far over or under the mark the point is held, in inches. "
        "Shaded: 95 % range from speed, drag and the height of the eye."
    )
    figure = look.new_figure("flight", f"Flight of {look.plain(name, 80)}", shown_as, 5.2)
    grid = figure.add_gridspec(2, 1, height_ratios=[3, 2])
    top = look.axes(figure, grid[0], x="distance (yd)", y="path (in)")
    low = look.axes(figure, grid[1], x="distance (yd)", y="hold the point (in)")
    hold = np.array([(r.hold_in.mid, r.hold_in.low, r.hold_in.high) for r in flown.rows]).T
    distances = np.array(asked.distances_yd)
    aimed = f"aimed at {flown.aimed_yd:g} yd, {speed.mid:.0f} fps"
    for ax, x, y, label, line in (
        (top, flown.path_yd, flown.path_in, aimed, {**look.mark(1), "marker": ""}),
        (low, distances, hold, "over (+) or under the mark", look.mark(2)),
    ):
        known = np.isfinite(y[0])
        ax.fill_between(x[known], y[1, known], y[2, known], label="95 % range", **look.area())
        ax.plot(x[known], y[0, known], label=label, **line)
        ax.axhline(0.0, color=look.PALETTE["muted"], linewidth=1.0)
    titled(figure, name)
    low.set_xlim(top.get_xlim())
    for ax in (top, low):
        key_above(ax)
    return figure
