"""The map: shaft length against front mass, and where a shaft suits this bow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, cast

import numpy as np

from shaftwright.answers.choose.listing import ListedBuild
from shaftwright.answers.choose.map import BuildMap
from shaftwright.render.pictures.around import BESIDE, Box, Placer, width, write
from shaftwright.render.pictures.figure import PALETTE, WIDTH_IN, axes, new_figure, plain, to_svg
from shaftwright.render.words import chances
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_NEAR_IN, _NEAR_GR = 0.30, 11.0
_HEIGHT_IN = 5.1
#: What stands around the axes, nearly [pt]: only labels are placed by it.
_AROUND_PT = (48.0, 119.6)
_SHADES = (1.0, 0.70, 0.36)
_HATCH: Final[dict[str, Any]] = {
    "facecolor": "none", "edgecolor": PALETTE["grid"], "hatch": "////", "linewidth": 0.0, "zorder": 3,
}  # fmt: skip


@dataclass(frozen=True)
class MapSheet:
    """The map for a page, and where its field lies, so that places can be shown and pointed at."""

    svg: str
    #: of the whole sheet [px]
    width: float
    height: float
    #: edges of the field, from the sheet's upper left corner [px]
    left: float
    right: float
    top: float
    bottom: float
    #: what the field shows [in, gr]
    lengths: tuple[float, float]
    fronts: tuple[float, float]

    def at(self, length_in: float, front_gr: float) -> tuple[float, float]:
        """Where a place of the map stands on the sheet [px]."""
        (x0, x1), (y0, y1) = self.lengths, self.fronts
        return (
            round(self.left + (length_in - x0) / (x1 - x0) * (self.right - self.left), 1),
            round(self.bottom + (front_gr - y0) / (y1 - y0) * (self.top - self.bottom), 1),
        )


def map_sheet(drawn: BuildMap, figure_id: str) -> MapSheet:
    """The same drawing as in a file."""
    figure = map_figure(drawn, figure_id)
    svg = to_svg(figure)
    (ax,) = figure.axes
    wide, high = 72 * WIDTH_IN, 72 * _HEIGHT_IN
    place = ax.get_position()
    return MapSheet(
        svg, wide, high, wide * place.x0, wide * place.x1, high * (1 - place.y1), high * (1 - place.y0),
        ax.get_xlim(), ax.get_ylim(),
    )  # fmt: skip


def map_figure(drawn: BuildMap, figure_id: str = "map") -> Figure:
    """Draw the map, to be written by `to_svg` or `save`."""
    shaft = plain(drawn.shaft, 24) if drawn.shaft else f"a shaft of spine {drawn.spine_mils:.0f}"
    figure = new_figure(
        figure_id, f"Map of length and weight up front for {shaft}", _told(drawn, shaft), _HEIGHT_IN
    )
    ax = axes(figure, x="shaft length (in)", y="up front (gr)")
    x = drawn.length_in
    ax.set_xlim(float(x[0]), float(x[-1]))
    ax.set_ylim(drawn.lowest_gr, drawn.highest_gr)
    room = Placer(Box(0.0, 0.0, *_inside(ax)))
    _strips(ax, drawn)
    _corners(ax, room)
    _limits(ax, drawn, room)
    _curves(ax, drawn)
    _marks(ax, drawn, room)
    _name_curves(ax, drawn, room)
    ax.set_title(
        f"Where {shaft} suits this bow", loc="left", fontsize=10.5, color=PALETTE["ink"], pad=19
    )
    ax.xaxis.set_major_locator(_locator(1.0 if x[-1] - x[0] > 2.5 else 0.5))
    ax.yaxis.set_major_locator(_locator(50.0 if drawn.highest_gr - drawn.lowest_gr > 150 else 25.0))
    _key(figure, drawn)
    return figure


def _told(drawn: BuildMap, shaft: str) -> str:
    """The picture in words."""
    at = np.array([drawn.shortest_in, drawn.full_in])
    stated = drawn.levels.index(drawn.chance)
    spans = [np.interp(at, drawn.length_in, drawn.strips[stated, side]) for side in (0, 1)]
    words = []
    for k, name in enumerate(("shortest safe length", "full length")):
        low, high = spans[0][k], spans[1][k]
        where = f"at the {name}, {inches(float(at[k]))}, "
        low, high = np.clip([low, high], drawn.lowest_gr, drawn.highest_gr)
        if high - low < 1:
            side = "too weak" if low <= drawn.lowest_gr + 1 else "too stiff"
            words.append(where + f"it is likely {side} with any weight up front shown")
        else:
            words.append(where + f"from {low:.0f} to {high:.0f} gr")
    marks = "; ".join(
        f"{m.rank} {plain(m.shaft, 24)} {inches(m.length_in)} with {m.front_gr:.0f} gr"
        for m in drawn.marks
    )
    return (
        f"Weight up front against shaft length. Where the spine of {shaft} lies inside the band stated with "
        f"{chances(drawn.chance)}: {'; '.join(words)}."
        + (f" Listed builds: {marks}." if marks else "")
    )


def _locator(step: float) -> Any:
    from matplotlib.ticker import MultipleLocator

    return MultipleLocator(step)


def _strips(ax: Axes, drawn: BuildMap) -> None:
    """Nested strips, the likeliest darkest; the stated one has an edge."""
    for index in reversed(range(len(drawn.levels))):
        low, high = drawn.strips[index]
        stated = drawn.levels[index] == drawn.chance
        ax.fill_between(
            drawn.length_in, low, high, where=high - low > 0.5, facecolor=PALETTE["band"],
            alpha=_SHADES[min(index, 2)], linewidth=0, zorder=1,
            gid=f"strip-{100 * drawn.levels[index]:.0f}",
        )  # fmt: skip
        if stated:
            for edge in (low, high):
                ax.plot(drawn.length_in, edge, color=PALETTE["band_edge"], linewidth=1.1, zorder=2)


def _limits(ax: Axes, drawn: BuildMap, room: Placer) -> None:
    """What is not to be built: too short, longer than the shaft, too light, too weak."""
    x, muted = drawn.length_in, PALETTE["muted"]
    low, high = drawn.lowest_gr, drawn.highest_gr
    ax.fill_betweenx([low, high], x[0], drawn.shortest_in, **_HATCH)
    ax.fill_betweenx([low, high], drawn.full_in, x[-1], **_HATCH)
    if (drawn.floor_gr > low).any():
        ax.fill_between(x, low, np.clip(drawn.floor_gr, low, high), **_HATCH)
        ax.plot(x, drawn.floor_gr, color=muted, linewidth=1.2, linestyle=(0, (1.5, 1.5)), zorder=4)
        words = f"too light: under {drawn.floor_gr_per_lb:g} gr/lb"
        _along(ax, x, drawn.floor_gr, 0.17, words, room, below=True)
    if (drawn.too_weak_gr < high).any():
        edge = np.clip(drawn.too_weak_gr, low, high)
        ax.fill_between(x, edge, high, **(_HATCH | {"hatch": "xxxx"}))
        line = np.where(edge < high, edge, np.nan)
        ax.plot(x, line, color=muted, linewidth=1.2, zorder=4)
        _along(ax, x, line, 0.55, "too weak to be shot", room)
    for where, words, side in (
        (drawn.shortest_in, f"shortest safe: {inches(drawn.shortest_in)}", "left"),
        (drawn.full_in, f"uncut: {inches(drawn.full_in)}", "right"),
    ):
        ax.axvline(where, color=muted, linewidth=1.2, zorder=4)
        write(
            ax, words, (where, high), xytext=(0, 4), ha=side, va="bottom", color=muted, bbox=None,
            annotation_clip=False, **BESIDE,
        )  # fmt: skip


def _along(
    ax: Axes, x: Any, y: Any, share: float, words: str, room: Placer, below: bool = False
) -> None:
    """Write along a line, starting at a share of the part of it that is on the map."""
    (low, high), shown = ax.get_ylim(), np.flatnonzero(~np.isnan(y))
    shown = shown[(y[shown] > low) & (y[shown] < high)]
    if len(shown) < 4:
        return
    # farther along, or on the other side, where something stands already
    shares = (share, *np.arange(share + 0.1, 0.75, 0.1))
    places = [(under, *_beside(ax, x, y, shown[int(s * (len(shown) - 1))], words, under))
              for under in (below, not below) for s in shares]  # fmt: skip

    def covers(place: tuple[bool, int, float, list[Box]]) -> int:
        boxes = place[-1]
        return round(sum(b.outside(room.frame) + sum(map(b.overlap, room.taken)) for b in boxes))

    below, at, turn, boxes = min(places, key=covers)
    write(
        ax, words, (x[at], y[at]), xytext=(0, -5 if below else 5), va="top" if below else "bottom",
        color=PALETTE["muted"], zorder=6, rotation=turn, rotation_mode="anchor", **BESIDE,
    )  # fmt: skip
    room.taken += boxes


def _beside(
    ax: Axes, x: Any, y: Any, at: int, words: str, below: bool
) -> tuple[int, float, list[Box]]:
    """Words that begin at a place of a line: how they turn, and the room they take."""
    turn, (px, py) = _slope(ax, x, y, at), _points(ax, x[at], y[at])
    low_edge, long = py - 24 if below else py + 2, width(words, 9)
    boxes = []
    # turned words reach up or down: half of them at a time
    for half in (0, 1):
        left, up = px + half * long / 2, long / 2 * np.sin(np.radians(turn))
        foot = low_edge + up * (half + 0.5)
        boxes.append(Box(left, foot, left + long / 2, foot + 22))
    return at, turn, boxes


def _points(ax: Axes, x: float, y: float) -> tuple[float, float]:
    """Where a point of the data stands inside the axes, nearly [pt]."""
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    wide, high = _inside(ax)
    return (x - x0) / (x1 - x0) * wide, (y - y0) / (y1 - y0) * high


def _inside(ax: Axes) -> tuple[float, float]:
    """Room inside the axes, nearly [pt]."""
    wide, high = cast("Figure", ax.figure).get_size_inches()
    return float(72 * wide - _AROUND_PT[0]), float(72 * high - _AROUND_PT[1])


def _slope(ax: Axes, x: Any, y: Any, at: int) -> float:
    """Angle on the page of a line where words begin that run along it [deg]."""
    (x0, x1), (y0, y1) = ax.get_xlim(), ax.get_ylim()
    keep = (y > y0) & (y < y1) & (x >= x[at]) & (x <= x[at] + 0.3 * (x1 - x0))
    if keep.sum() < 2:
        return 0.0
    rise = np.polyfit(x[keep], y[keep], 1)[0] * (x1 - x0) / (y1 - y0)
    wide, high = _inside(ax)
    return float(np.degrees(np.arctan(rise * high / wide)))


def _curves(ax: Axes, drawn: BuildMap) -> None:
    """Middle curves: this shaft's, and those of other spines."""
    for number, curve in enumerate(drawn.curves):
        own = number == 0
        ax.plot(
            drawn.length_in, curve.front_gr, color=PALETTE["mark_1" if own else "muted"],
            linewidth=2.2 if own else 1.0, linestyle="-" if own else (0, (5, 3)), zorder=5 if own else 4,
            gid=f"middle-{curve.label}",
        )  # fmt: skip


def _name_curves(ax: Axes, drawn: BuildMap, room: Placer) -> None:
    """Write each spine on its curve, where there is most room for it."""
    for number, curve in enumerate(drawn.curves):
        shown = np.flatnonzero(~np.isnan(curve.front_gr))
        if len(shown) < 3:
            continue
        own, words = number == 0, curve.label
        wide, high = width(words, 9), 12.0
        best: tuple[float, float, float, Box] | None = None
        for share in (0.08, 0.9, 0.2, 0.75, 0.35, 0.6, 0.5):
            at = shown[round(share * (len(shown) - 1))]
            x, y = float(drawn.length_in[at]), float(curve.front_gr[at])
            px, py = _points(ax, x, y)
            box = Box(px - wide / 2, py - high / 2, px + wide / 2, py + high / 2)
            cost = sum(box.overlap(t) for t in room.taken) + 4 * box.outside(room.frame)
            if best is None or cost < best[0] - 1:
                best = (cost, x, y, box)
        assert best is not None
        if best[0] > 0.5 * wide * high:
            continue
        room.taken.append(best[3])
        write(
            ax, words, (best[1], best[2]), ha="center", zorder=7, fontweight="bold" if own else "normal",
            color=PALETTE["mark_1" if own else "muted"],
        )  # fmt: skip


def _marks(ax: Axes, drawn: BuildMap, room: Placer) -> None:
    """Listed builds as marks; those that stand together share one label."""
    groups: list[list[ListedBuild]] = []
    for mark in drawn.marks:
        room.dot(*_points(ax, mark.length_in, mark.front_gr))
        for group in groups:
            first = group[0]
            if (abs(mark.length_in - first.length_in) < _NEAR_IN
                    and abs(mark.front_gr - first.front_gr) < _NEAR_GR):  # fmt: skip
                group.append(mark)
                break
        else:
            groups.append([mark])
    for group in groups:
        for m in reversed(group):
            ax.plot(
                m.length_in, m.front_gr, marker="o", markersize=8 if m.rank == 1 else 6.5,
                color=PALETTE["mark_1"] if m.rank == 1 else PALETTE["paper"],
                markeredgecolor=PALETTE["mark_1"], markeredgewidth=1.6, linestyle="none", zorder=8,
                gid=f"build-{m.rank}",
            )  # fmt: skip
        first = group[0]
        words = f"{first.rank} {plain(first.shaft, 18)}"
        if len(group) > 1:
            words += " and " + ", ".join(str(m.rank) for m in group[1:])
        right, up, across, along = room.best(
            *_points(ax, first.length_in, first.front_gr), words, 9.5
        )
        write(
            ax, words, (first.length_in, first.front_gr), xytext=(right, up), ha=across, va=along, zorder=9,
            fontweight="bold" if first.rank == 1 else "normal", **BESIDE,
        )  # fmt: skip


def _corners(ax: Axes, room: Placer) -> None:
    """Which way is stiff, in the two corners."""
    wide, high = _inside(ax)
    for place, words, across, up in (
        ((0.015, 0.015), "\N{SOUTH WEST ARROW} acts stiffer", "left", "bottom"),
        ((0.985, 0.985), "acts weaker \N{NORTH EAST ARROW}", "right", "top"),
    ):
        write(
            ax, words, place, xycoords="axes fraction", ha=across, va=up, style="italic", zorder=9
        )
        long = width(words, 9)
        room.taken.append(
            Box(0, 0, long, 18) if up == "bottom" else Box(wide - long, high - 18, wide, high)
        )


def _key(figure: Figure, drawn: BuildMap) -> None:
    """What the shades and lines mean, under the map."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Any] = [
        Patch(
            facecolor=PALETTE["band"], alpha=_SHADES[min(k, 2)],
            edgecolor=PALETTE["band_edge"] if level == drawn.chance else "none",
            label=f"inside its {100 * level:.0f} % band" + (", as stated" if level == drawn.chance else ""),
        )
        for k, level in enumerate(drawn.levels)
    ]  # fmt: skip
    handles += [
        Line2D([], [], color=PALETTE["mark_1"], linewidth=2.2, label="its middle"),
        Line2D([], [], color=PALETTE["muted"], linewidth=1.0, linestyle=(0, (5, 3)),
               label="middle of another spine"),
        Patch(**_HATCH | {"edgecolor": PALETTE["muted"]}, label="not to be built"),
    ]  # fmt: skip
    told = figure.legend(
        handles=handles, loc="outside lower left", ncols=2, frameon=False, fontsize=9,
        labelcolor=PALETTE["ink"], handlelength=1.8, columnspacing=1.0, handletextpad=0.6,
    )  # fmt: skip
    told.set_in_layout(True)
