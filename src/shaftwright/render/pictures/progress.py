"""The progress of a tuning: a row an end, with where the bare ones landed and the spines that suit then."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from shaftwright.answers.diagnose.progress import Progress, Step
from shaftwright.render.pictures.around import in_inches, on_paper, titled
from shaftwright.render.pictures.figure import PALETTE, area, axes, mark, new_figure, plain
from shaftwright.render.screens.entry import arrow_told
from shaftwright.render.screens.next import landed
from shaftwright.render.words import chances, short, spine_told
from shaftwright.units import convert, offset_told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from shaftwright.inference.band import Band

_ROW_IN = 0.56


class _Row(NamedTuple):
    name: str
    lands: str
    step: Step | None
    band: Band


def progress_figure(told: Progress, figure_id: str = "progress") -> Figure:
    """Draw a tuning downwards, to be written by `to_svg` or `picture_bytes`."""
    rows = _rows(told)
    chance = chances(told.before.chance)
    spoken = "; ".join(
        f"{row.name}: {row.lands + ', ' if row.lands else ''}spines {_span(told, row.band)}"
        for row in rows
    )
    figure = new_figure(
        figure_id, "The progress of the tuning",
        f"End by end, where the bare centre lay from the fletched at 20 yd, and the spines that suit then, "
        f"{chance}. {spoken}.", 1.5 + _ROW_IN * len(rows),
    )  # fmt: skip
    within = offset_told(told.within_in, told.units)
    titled(
        figure, f"Spines that suit: {_span(told, told.before)} before you shot, {_span(told, rows[-1].band)} "
        f"now. Bars hold {chance}; shaded: straight, within {within}.",
    )  # fmt: skip
    grid = figure.add_gridspec(1, 2, width_ratios=[1.1, 1])
    unit = "cm" if told.units == "metric" else "in"
    left = axes(figure, x=f"bare from fletched,\n20 yd ({unit}, right +)", label="offset")
    right = axes(figure, x="spine that suits\n(stiff left)", label="band")
    for place, ax in enumerate((left, right)):
        ax.set_subplotspec(grid[place])
        ax.set_ylim(len(rows) - 0.35, -0.65)
        ax.set_yticks([])
        ax.spines["left"].set_visible(False)
        ax.set_ylabel("")
    _offsets(left, rows, told)
    _bands(right, rows, told)
    for at, row in enumerate(rows):
        name = left.annotate(
            row.name, (0, at - 0.36), xycoords=("axes fraction", "data"), fontsize=9, va="center",
            fontweight="bold", color=PALETTE["ink"], bbox=on_paper(), zorder=9, annotation_clip=False,
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
        ax.annotate(
            row.lands, (0.5, at - 0.06), xycoords=("axes fraction", "data"), fontsize=9, ha="center",
            va="center", color=PALETTE["ink"], bbox=on_paper(), zorder=8,
        )  # fmt: skip
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
        ax.annotate(
            _span(told, band), (0.5, at - 0.06), xycoords=("axes fraction", "data"), fontsize=9,
            ha="center", va="center", color=PALETTE["ink"], bbox=on_paper(), zorder=8,
        )  # fmt: skip
    pad = 0.06 * (high - low)
    ax.set_xlim(low - pad, high + pad)
    ax.locator_params(axis="x", nbins=4)
    ax.xaxis.set_major_formatter(
        lambda mils, _: spine_told(mils, told.in_pounds).removesuffix(" lb")
    )
