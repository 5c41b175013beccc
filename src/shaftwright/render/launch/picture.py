"""A launch in pictures: a strip of frames seen from above."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.launch.seen import Seen

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROWS_ON, _ROWS_FREE = 8, 3
_NICE: Final = (20, 15, 12, 10, 8, 6, 5, 4, 3, 2, 1)
_ROW_IN: Final = 0.45
#: width of a row; beside it stands its time [in]
_ROWS_IN: Final = 3.6


def forward_of(seen: Seen) -> NDArray[np.float64]:
    """How far forward of the plate each place of the shaft stands (frames, stations) [in]."""
    pictures = seen.pictures
    forward: NDArray[np.float64] = pictures.station_in[None, :] - pictures.plate_station_in[:, None]
    return forward


def riser_of(seen: Seen) -> str:
    """Which side of the archer the riser lies."""
    return "right" if seen.pictures.riser_side < 0 else "left"


def nice_exaggeration(most: float) -> int:
    """The largest round factor that is not above `most`; 1 at least."""
    return next((factor for factor in _NICE if factor <= most), 1)


def rows_of(seen: Seen) -> list[int]:
    """The frames of the strip: even in time on the string, then a few in free flight."""
    pictures = seen.pictures
    on = np.linspace(0, pictures.on_string - 1, _ROWS_ON).round().astype(int).tolist()
    middles = [(c.start_ms + c.end_ms) / 2 for c in seen.contacts if c.end_ms - c.start_ms > 0.5]
    for ms in middles[:3]:
        nearest = int(np.argmin(np.abs(pictures.time_ms - ms)))
        if pictures.touching[nearest] and not any(
            pictures.touching[i] for i in on if abs(i - nearest) < 5
        ):
            on.append(nearest)
    free = np.linspace(pictures.on_string - 1, len(pictures.time_ms) - 1, _ROWS_FREE + 1)
    return [*sorted(on), *free[1:].round().astype(int).tolist()]


def told(seen: Seen, exaggeration: int) -> str:
    """What the picture shows, for readers who do not see it."""
    from shaftwright.answers.launch.story import story

    return (
        "The shaft from above, shot toward the right of the picture, the archer's left at the top, "
        f"the riser on the archer's {riser_of(seen)}. Sideways {exaggeration} times exaggerated. "
        + " ".join(story(seen))
    )


def frames_exaggeration(seen: Seen) -> int:
    """How many times wider than long the strip draws: sideways against lengthways."""
    left, right, height = _room(seen)
    return nice_exaggeration(_ROW_IN / _ROWS_IN * (right - left) / height)


def _room(seen: Seen) -> tuple[float, float, float]:
    """From where to where the rows go, and how high one is [in]."""
    pictures, rows = seen.pictures, rows_of(seen)
    forward = forward_of(seen)[rows]
    height = float(np.ptp(pictures.sideways_in[rows])) + 2 * pictures.radius_in
    return float(forward.min()) - 2, float(forward.max()) + 2, height


def launch_figure(seen: Seen, name: str, alone: bool = True) -> Figure:
    """The shaft bending round the riser: rows from release to free flight, seen from above.

    One that stands `alone` says itself what it shows; a page says it around the picture.
    """
    from shaftwright.render.pictures.figure import PALETTE, axes, mark, new_figure, plain

    pictures, rows, forward = seen.pictures, rows_of(seen), forward_of(seen)
    left, right, height = _room(seen)
    factor = frames_exaggeration(seen)
    pitch = 1.35 * height
    figure = new_figure(
        "launch" if alone else "frames", f"Launch of {plain(name, 80)}", told(seen, factor),
        (1.6 if alone else 0.7) + len(rows) * pitch * factor * _ROWS_IN / (right - left),
    )  # fmt: skip
    ax = axes(figure, x="forward of the plate (in)", grid=False)
    shaft, touch = mark(1)["color"], mark(2)["color"]
    words = []
    for row, i in enumerate(rows):
        base = -row * pitch
        on = i < pictures.on_string
        ax.plot([left, right], [base, base], color=PALETTE["grid"], linewidth=0.8, zorder=0)
        face = base + pictures.plate_face_in
        ax.fill_between(
            [-0.5, 0.5], face, face + pictures.riser_side * 0.3 * height,
            facecolor=touch if pictures.touching[i] else PALETTE["muted"], linewidth=0,
        )  # fmt: skip
        line = base + pictures.sideways_in[i]
        ax.fill_between(
            forward[i], line - pictures.radius_in, line + pictures.radius_in, facecolor=shaft,
            alpha=1.0 if on else 0.55, linewidth=0,
        )  # fmt: skip
        if on:
            ax.plot(
                [forward[i, 0]] * 2, [line[0] - 0.25 * height, line[0] + 0.25 * height],
                color=PALETTE["ink"], linewidth=1.6,
            )  # fmt: skip
        ax.plot([forward[i, -1]], [line[-1]], **{**mark(1, line=False), "marker": ">"})
        word = "\non the plate" if pictures.touching[i] else ("" if on else "\nstring gone")
        words.append(f"{pictures.time_ms[i]:.1f} ms{word}")
    ax.set_xlim(left, right)
    ax.set_ylim(-(len(rows) - 0.4) * pitch, 0.75 * pitch)
    ax.set_aspect(factor)
    ticks = [-row * pitch for row in range(len(rows))]
    ax.set_yticks(ticks, words, fontsize=9, multialignment="right")
    ax.tick_params(axis="y", length=0)
    ax.set_ylabel("")
    ax.spines["left"].set_visible(False)
    if alone:
        figure.suptitle(
            f"{plain(name, 56)}\nseen from above, your left at the top; sideways {factor} times\n"
            f"exaggerated; block: plate (riser on your {riser_of(seen)});\n"
            "upright line: string; grey line: the bow's middle",
            x=0.02, ha="left", fontsize=9, color=PALETTE["ink"],
        )  # fmt: skip
    return figure
