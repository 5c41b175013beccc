"""Bare shafts on the target, and how the bands narrowed end by end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from shaftwright.answers.diagnose import Diagnosis, Progress, Step
from shaftwright.answers.plan.result import Expect
from shaftwright.arrays import Array
from shaftwright.inference.band import Band
from shaftwright.render.pictures.around import ACROSS, in_inches, titled, write
from shaftwright.render.pictures.figure import (
    PALETTE,
    WIDTH_IN,
    area,
    axes,
    mark,
    new_figure,
    plain,
)
from shaftwright.render.screens.bareshaft import arrow_told
from shaftwright.render.screens.next import expect_told, landed
from shaftwright.render.words import chances, short, spine_told
from shaftwright.units import REFERENCE_YD, convert, distance_told, offset_told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


#: rings stand so far apart, or twice, four times as far
_RING = {"in": 2.0, "cm": 5.0}
_MOST_RINGS = 5
#: the field, and what stands above and below it [in]
_FIELD_IN, _TOP_IN, _BELOW_IN = 4.0, 0.45, 1.2


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
    looks = [e.reading.look for e in found.ends if e.shots]
    if not looks:
        return None
    look, units = looks[-1], found.scenario.rig.units
    title = f"{arrow_told(found.arrow.known.spec)}, {distance_told(look.distance_yd, units)}"
    unit = "cm" if units == "metric" else "in"
    scale = convert(1.0, "in", unit)
    bare, fletched = look.bare_in * scale, look.fletched_in * scale
    off = (
        float(bare[look.kept, 0].mean() - (fletched[:, 0].mean() if len(fletched) else 0.0)) / scale
    )
    lies = f"bare centre {landed(off, units)} of the {'fletched' if len(fletched) else 'aim'}"
    told = (
        f"Archer's view, the aim in the middle of the rings. {len(bare)} bare hits and {len(fletched)} "
        f"fletched hits with centres; {lies}; next bare centre: {expect_told(found.expect_now, units)}"
    )
    high = sum((_TOP_IN, _FIELD_IN, _BELOW_IN))
    fig = new_figure(figure_id, title, told, high)
    ax = axes(fig, x=f"left or right of the aim ({unit})", y=f"low or high ({unit})", grid=False)
    ax.set_title(f"{plain(title, 48)}\n{lies}", loc="left", fontsize=10)
    origin = fletched.mean(axis=0) if len(fletched) else np.zeros(2)
    half = _rings(ax, np.concatenate([bare, fletched, origin[None]]), unit)
    _expected(ax, found.expect_now, origin, half, scale)
    for points, name, number in ((fletched, "fletched", 1), (bare, "bare", 2)):
        if len(points):
            _group(ax, points, name, number)
    ax.set_xlim(-half, half)
    ax.set_ylim(-half, half)
    if unit == "in":
        in_inches(ax, "x", 12)
        in_inches(ax, "y", 12)
    # a square of its own measure, which no layout squeezes
    wide, tall = _FIELD_IN / WIDTH_IN, _FIELD_IN / high
    ax.set_position((0.98 - wide, _BELOW_IN / high, wide, tall))
    ax.yaxis.set_label_coords(0.034, (_BELOW_IN + _FIELD_IN / 2) / high, transform=fig.transFigure)
    handles, labels = ax.get_legend_handles_labels()
    shown = sorted(zip(labels, handles, strict=True), key=lambda one: "centre" in one[0])
    fig.legend(
        handles=[handle for _, handle in shown], loc="lower left", ncols=2, fontsize=9,
        labelcolor=PALETTE["ink"], frameon=False, handlelength=1.4, columnspacing=0.8, markerscale=0.8,
    )  # fmt: skip
    return fig


def _rings(ax: Axes, points: Array, unit: str) -> float:
    """Rings about the aim as far as the hits lie; half the width of the field."""
    far, base = float(np.abs(points).max()), _RING[unit]
    step = base * 2.0 ** max(math.ceil(math.log2(max(far, 1) / base / _MOST_RINGS)), 0)
    count: int = max(math.ceil((far + 0.3) / step), 2)
    around = np.linspace(0, 2 * np.pi, 91)
    for ring in range(1, count + 1):
        radius = ring * step
        ax.plot(
            radius * np.cos(around), radius * np.sin(around), color=PALETTE["muted"], linewidth=0.7, zorder=1
        )  # fmt: skip
    ax.plot(
        [0], [0], marker="x", markersize=9, markeredgewidth=1.6, linestyle="none", zorder=3,
        color=PALETTE["ink"], label=f"the aim; rings {step:g} {unit} apart", gid="aim",
    )  # fmt: skip
    return count * step + base / 20


def _group(ax: Axes, points: Array, name: str, number: int) -> None:
    """Hits and their centre."""
    style = mark(number, line=False) | {"markerfacecolor": "none" if name == "bare" else None}
    ax.plot(
        points[:, 0], points[:, 1], label=f"{name} hits", gid=f"{name}-hits", markeredgewidth=1.8,
        zorder=5, **style,
    )  # fmt: skip
    x, y = points.mean(axis=0)
    ax.plot(
        [x], [y], **style | {"marker": "D" if name == "bare" else "+", "markersize": 13},
        markeredgewidth=2.2, label=f"{name} centre", gid=f"{name}-centre", zorder=6,
    )  # fmt: skip


def _expected(ax: Axes, expect: Expect, origin: Array, half: float, scale: float) -> None:
    """A band over the heights, or across, where the next bare centre should lie."""
    label = f"next bare centre, {chances(expect.chance)}"
    vertical = expect.axis == "vertical"
    fill = ax.fill_between if vertical else ax.fill_betweenx
    middle = float(origin[1 if vertical else 0])
    ends = [middle + expect.low_in * scale, middle + expect.high_in * scale]
    low, high = np.clip(ends, -half, half)
    fill([-half, half], low, high, label=label, zorder=0, **area())


_ROW_IN = 0.56


class _Row(NamedTuple):
    name: str
    lands: str
    step: Step | None
    band: Band


def progress_figure(told: Progress) -> Figure:
    """Draw a tuning downwards, to be written by `to_svg` or `picture_bytes`."""
    rows = _rows(told)
    chance = chances(told.before.chance)
    spoken = "; ".join(
        f"{row.name}: {row.lands + ', ' if row.lands else ''}spines {_span(told, row.band)}"
        for row in rows
    )
    far = distance_told(REFERENCE_YD, told.units)
    figure = new_figure(
        "progress", "The progress of the tuning",
        f"End by end, where the bare centre lay from the fletched at {far}, and the spines that suit then, "
        f"{chance}. {spoken}.", 1.5 + _ROW_IN * len(rows),
    )  # fmt: skip
    within = offset_told(told.within_in, told.units)
    titled(
        figure, f"Spines that suit: {_span(told, told.before)} before you shot, {_span(told, rows[-1].band)} "
        f"now. Bars hold {chance}; shaded: straight, within {within}.",
    )  # fmt: skip
    grid = figure.add_gridspec(1, 2, width_ratios=[1.1, 1])
    unit = "cm" if told.units == "metric" else "in"
    left = axes(figure, grid[0], x=f"bare from fletched,\n{far} ({unit}, right +)")
    right = axes(figure, grid[1], x="spine that suits\n(stiff left)")
    for ax in (left, right):
        ax.set_ylim(len(rows) - 0.35, -0.65)
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        ax.set_ylabel("")
    _offsets(left, rows, told)
    _bands(right, rows, told)
    for at, row in enumerate(rows):
        name = write(
            left, row.name, (0, at - 0.36), fontweight="bold", zorder=9, annotation_clip=False, **ACROSS
        )  # fmt: skip
        name.set_in_layout(False)  # it runs on over both fields
    return figure


def _rows(told: Progress) -> list[_Row]:
    rows = [_Row("before you shot", "", None, told.before)]
    if told.earlier:
        shots = "1 end" if told.earlier == 1 else f"{told.earlier} ends"
        rows.append(_Row(f"after {shots} before these", "", None, told.started))
    for number, step in enumerate(told.steps, 1):
        lands = landed(step.offset_in, told.units)
        if step.offset_in is None:
            lands = f"in words: {(step.reads or 'nothing').replace('_', ' ')}"
        name = plain(f"{number}. {short(arrow_told(step.build), 44)}")
        rows.append(_Row(name, lands, step, step.band))
    return rows


def _span(told: Progress, band: Band) -> str:
    stiff, weak = (spine_told(mils, told.in_pounds) for mils in (band.low, band.high))
    return f"{stiff} to {weak}"


def _offsets(ax: Axes, rows: list[_Row], told: Progress) -> None:
    scale = convert(1.0, "in", "cm") if told.units == "metric" else 1.0
    reach = [told.within_in]
    ax.axvspan(-told.within_in * scale, told.within_in * scale, zorder=0, **area())
    ax.axvline(0.0, color=PALETTE["muted"], linewidth=1.0, zorder=1)
    for at, row in enumerate(rows):
        step, x = row.step, 0.0
        if step is not None and step.offset_in is not None and step.doubt_in is not None:
            x, half = step.offset_in * scale, step.doubt_in * scale
            style = mark(2) | {"linestyle": "-"}
            ax.plot(
                [x - half, x + half], [at + 0.22] * 2, **style | {"marker": "|", "markersize": 9}
            )
            ax.plot(
                [x], [at + 0.22], **style | {"markerfacecolor": None if step.fair else PALETTE["paper"]},
                gid=f"end-{at}",
            )  # fmt: skip
            reach.append(abs(step.offset_in) + step.doubt_in)
        write(ax, row.lands, (0.5, at - 0.06), ha="center", zorder=8, **ACROSS)
    ax.set_xlim(-1.08 * max(reach) * scale, 1.08 * max(reach) * scale)
    if told.units != "metric":
        in_inches(ax, "x", 7)


def _bands(ax: Axes, rows: list[_Row], told: Progress) -> None:
    low, high = min(row.band.low for row in rows), max(row.band.high for row in rows)
    for at, row in enumerate(rows):
        band = row.band
        ax.fill_between(
            [band.low, band.high], at + 0.12, at + 0.32, gid=f"band-{at}", zorder=3, **area()
        )
        ax.plot(
            [band.mid] * 2, [at + 0.06, at + 0.38], color=PALETTE["ink"], linewidth=2.2, zorder=4
        )
        write(ax, _span(told, band), (0.5, at - 0.06), ha="center", zorder=8, **ACROSS)
    pad = 0.06 * (high - low)
    ax.set_xlim(low - pad, high + pad)
    ax.locator_params(axis="x", nbins=4)
    ax.xaxis.set_major_formatter(
        lambda mils, _: spine_told(mils, told.in_pounds).removesuffix(" lb")
    )
