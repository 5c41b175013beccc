"""A launch in pictures: a strip of frames seen from above, and the same in motion."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING, Final

import numpy as np

from shaftwright.answers.launch.seen import Seen, sides, story
from shaftwright.arrays import Array
from shaftwright.render.pictures.figure import PALETTE, axes, mark, new_figure, plain
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.figure import Figure


_ROWS_ON, _ROWS_FREE = 8, 3
_NICE: Final = (20, 15, 12, 10, 8, 6, 5, 4, 3, 2, 1)
_ROW_IN: Final = 0.45
#: width of a row; beside it stands its time [in]
_ROWS_IN: Final = 3.6


def forward_of(seen: Seen) -> Array:
    """How far forward of the plate each place of the shaft stands (frames, stations) [in]."""
    pictures = seen.pictures
    forward: Array = pictures.station_in[None, :] - pictures.plate_station_in[:, None]
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


_MIDDLE: Final = 150.0
#: room for the shaft above and below the middle [px]
_ROOM: Final = 95.0
_SECONDS: Final = 9.0
#: share of the time in which the last frame stands still
_HOLD: Final = 0.12
_STILLS: Final = 5
#: width as of every picture, and where the shaft's flight begins and ends [px]
_WIDE: Final = 331.0
_LEFT, _RIGHT = 6.0, 325.0
_COLOUR: Final = re.compile(r'\b(fill|stroke)="(#[0-9a-f]{6})"')


def slowed(seen: Seen) -> int:
    """How many times slower than the truth the moving picture runs, rounded."""
    times = _SECONDS * (1 - _HOLD) / (float(seen.pictures.time_ms[-1]) / 1e3)
    return int(round(times, -1))


def launch_animation(seen: Seen, name: str, alone: bool = True) -> str:
    """One SVG document of a launch seen from above.

    Moved by SMIL; it stands still under `prefers-reduced-motion`. One that stands `alone` says everything
    itself; a page says it around the picture, and brings the style (`static/page.css`) and the colours of
    its own light or dark sheet.
    """
    pictures = seen.pictures
    forward = forward_of(seen)
    low, high = float(forward.min()) - 1, float(forward.max()) + 1
    scale = (_RIGHT - _LEFT) / (high - low)
    factor = exaggeration(seen)
    x = _LEFT + (forward - low) * scale
    y = _MIDDLE - pictures.sideways_in * scale * factor
    thick = max(2 * pictures.radius_in * scale * factor, 2.0)
    plate_x = _LEFT - low * scale
    face = _MIDDLE - pictures.plate_face_in * scale * factor
    title, told_text = plain(f"Launch of {name}", 120), told(seen, factor)
    below = -pictures.riser_side
    one = "launch" if alone else "moving"
    # without its own words it is less high
    top, high, larger = (0, 330, 1.6) if alone else (42, 262, 1)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 {top} {_WIDE:g} {high}" '
        f'width="{_WIDE * larger:g}" height="{high * larger:g}" role="img" '
        f'class="sw-figure" font-family="sans-serif" aria-labelledby="{one}-title {one}-desc">',
        f'<title id="{one}-title">{escape(title)}</title>',
        f'<desc id="{one}-desc">{escape(told_text)}</desc>',
        *(_heading(seen, plain(name, 52), factor) if alone else ()),
        f'<line x1="{_LEFT:g}" y1="{_MIDDLE:g}" x2="{_RIGHT:g}" y2="{_MIDDLE:g}" '
        f'stroke="{PALETTE["grid"]}" stroke-dasharray="6 4"/>',
        _text(_RIGHT, _MIDDLE - 4, "shot this way →", 10, "muted", "end"),
        _text(_LEFT, 58, "↑ your left", 10, "muted"),
        _text(_LEFT, 246, "↓ your right", 10, "muted"),
        *_plate(plate_x, face, below, "muted", f"plate, riser on your {riser_of(seen)}", 10, "start"),
        '<g class="moving">', *_moving(seen, x, y, thick, plate_x, face, below), "</g>",
        # a page has the strip of frames beside it, which is the better still
        *(('<g class="still">', *_still(seen, x, y, thick), "</g>") if alone else ()),
        *_clock(seen),
        "</svg>",
    ]  # fmt: skip
    svg = "\n".join(parts) + "\n"
    return f"<!-- Shaftwright -->\n{svg}" if alone else _COLOUR.sub(_of_page, svg)


def exaggeration(seen: Seen) -> int:
    """How many times wider than long the picture draws: sideways against lengthways."""
    scale = (_RIGHT - _LEFT) / (float(np.ptp(forward_of(seen))) + 2)
    return nice_exaggeration(_ROOM / float(np.max(np.abs(seen.pictures.sideways_in))) / scale)


def _of_page(found: re.Match[str]) -> str:
    """A colour of the palette as the page's own, light or dark."""
    role = next(role for role, colour in PALETTE.items() if colour == found[2])
    return f'{found[1]}="var(--sw-{role.replace("_", "-")}, {found[2]})"'


def _heading(seen: Seen, name: str, factor: int) -> list[str]:
    """What a picture that stands alone must say and bring itself."""
    nock, nose = sides(seen)
    return [
        "<style>.still{display:none}"
        "@media (prefers-reduced-motion: reduce){.moving{display:none}.still{display:inline}}</style>",
        f'<rect width="100%" height="100%" fill="{PALETTE["paper"]}"/>',
        _text(_LEFT, 16, name, 11),
        _text(_LEFT, 31, f"seen from above; sideways {factor} times exaggerated,", 10, "muted"),
        _text(_LEFT, 44, f"slowed {slowed(seen)} times", 10, "muted"),
        _text(_LEFT, 310, f"It leaves nock {nock}, nose {nose}. One launch at the middle", 10),
        _text(_LEFT, 323, "settings; computed, not filmed; the true side may differ.", 10),
    ]  # fmt: skip


def _text(x: float, y: float, text: str, size: int, role: str = "ink", at: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{PALETTE[role]}" '
        f'text-anchor="{at}">{escape(text)}</text>'
    )


def _plate(
    x: float, face: float, below: float, role: str, words: str, away: float, at: str
) -> list[str]:
    """The block behind the plate's face, with words beside it."""
    return [
        f'<rect x="{x - 6:.1f}" y="{min(face, face + below * 34):.1f}" width="12" height="34" '
        f'fill="{PALETTE[role]}"/>',
        _text(x + away, face + below * 30 + (4 if below > 0 else 0), words, 10, role, at),
    ]


def _points(x: Array, y: Array) -> str:
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))


def _animate(attribute: str, values: list[str], times: list[float], mode: str = "linear") -> str:
    keys = ";".join(f"{t:.4f}" for t in (*times, 1.0))
    return (
        f'<animate attributeName="{attribute}" dur="{_SECONDS:g}s" repeatCount="indefinite" '
        f'calcMode="{mode}" keyTimes="{keys}" values="{";".join((*values, values[-1]))}"/>'
    )


def _times(seen: Seen) -> list[float]:
    ms = seen.pictures.time_ms
    return [float(t) for t in ms / ms[-1] * (1 - _HOLD)]


def _moving(
    seen: Seen, x: Array, y: Array, thick: float, plate_x: float, face: float, below: float
) -> list[str]:
    pictures, times = seen.pictures, _times(seen)
    points = [_points(a, b) for a, b in zip(x, y, strict=True)]
    on = pictures.on_string
    # the string goes with the nock and stays where it stops
    held = np.minimum(np.arange(len(x)), on - 1)
    string_x = [f"{v:.1f}" for v in x[held, 0]]
    upper = [f"{v - 26:.1f}" for v in y[held, 0]]
    lower = [f"{v + 26:.1f}" for v in y[held, 0]]
    shown = ["1" if t else "0" for t in pictures.touching]
    ink = PALETTE["ink"]
    return [
        f'<line x1="{string_x[0]}" x2="{string_x[0]}" y1="{upper[0]}" y2="{lower[0]}" stroke="{ink}" '
        f'stroke-width="2">{_animate("x1", string_x, times)}{_animate("x2", string_x, times)}'
        f"{_animate('y1', upper, times)}{_animate('y2', lower, times)}</line>",
        f'<text x="{string_x[0]}" y="{upper[0]}" dx="4" font-size="10" fill="{ink}">string'
        f"{_animate('x', string_x, times)}{_animate('y', upper, times)}</text>",
        f'<polyline points="{points[0]}" fill="none" stroke="{PALETTE["mark_1"]}" '
        f'stroke-width="{thick:.1f}" stroke-opacity="0.85" stroke-linejoin="round">'
        f"{_animate('points', points, times)}</polyline>",
        f'<circle cx="{x[0, -1]:.1f}" cy="{y[0, -1]:.1f}" r="4" fill="{ink}">'
        f"{_animate('cx', [f'{v:.1f}' for v in x[:, -1]], times)}"
        f"{_animate('cy', [f'{v:.1f}' for v in y[:, -1]], times)}</circle>",
        f'<g opacity="{shown[0]}">{_animate("opacity", shown, times, "discrete")}'
        + "".join(_plate(plate_x, face, below, "mark_2", "touching", -12, "end")) + "</g>",
    ]  # fmt: skip


def _still(seen: Seen, x: Array, y: Array, thick: float) -> list[str]:
    rows = rows_of(seen)
    picked = [rows[i] for i in np.linspace(0, len(rows) - 1, _STILLS).round().astype(int)]
    found = []
    for order, i in enumerate(picked):
        strength = 0.35 + 0.65 * order / (len(picked) - 1)
        found += [
            f'<polyline points="{_points(x[i], y[i])}" fill="none" stroke="{PALETTE["mark_1"]}" '
            f'stroke-width="{thick:.1f}" stroke-opacity="{strength:.2f}"/>',
            f'<text x="{x[i, -1]:.1f}" y="{y[i, -1] - thick:.1f}" font-size="10" text-anchor="end" '
            f'fill="{PALETTE["ink"]}" stroke="{PALETTE["paper"]}" stroke-width="3" '
            f'paint-order="stroke">{seen.pictures.time_ms[i]:.0f} ms</text>',
        ]
    return found


def _clock(seen: Seen) -> list[str]:
    """A bar of time: contacts, the string's stop, and a mark that runs along."""
    total = float(seen.pictures.time_ms[-1])
    left, right, top = _LEFT, _RIGHT, 268.0
    width = right - left

    def at(ms: float) -> float:
        return left + width * ms / total

    def bar(start: str, wide: str, role: str) -> str:
        fill = PALETTE[role]
        return f'<rect x="{start}" y="{top:g}" width="{wide}" height="8" fill="{fill}"/>'

    parts = [bar(f"{left:g}", f"{width:g}", "grid")]
    for contact in seen.contacts:
        start, end = at(contact.start_ms), at(contact.end_ms)
        parts.append(bar(f"{start:.1f}", f"{max(end - start, 1):.1f}", "mark_2"))
    stop = at(seen.exit.time_ms)
    parts += [
        f'<line x1="{stop:.1f}" x2="{stop:.1f}" y1="{top - 5:g}" y2="{top + 13:g}" '
        f'stroke="{PALETTE["ink"]}" stroke-width="2"/>',
        _text(stop, top - 8, f"string stops, {seen.exit.time_ms:.1f} ms", 10, "ink", "middle"),
        _text(left, top + 22, "release", 10, "muted"),
        _text(right, top + 22, f"{total:.0f} ms", 10, "muted", "end"),
    ]
    if seen.contacts:
        first = seen.contacts[-1]
        middle = (at(first.start_ms) + at(first.end_ms)) / 2
        words = f"on the plate, last {inches(round(first.end_in))} from the nock"
        # kept clear of the words at both ends, by about what a letter takes
        half = 2.5 * len(words)
        middle = min(max(middle, left + 45 + half), right - 35 - half)
        parts.append(_text(middle, top + 22, words, 10, "mark_2", "middle"))
    times = _times(seen)
    marks = [f"{at(float(ms)):.1f}" for ms in seen.pictures.time_ms]
    parts.append(
        f'<circle class="moving" cx="{left:g}" cy="{top + 4:g}" r="5" fill="{PALETTE["ink"]}">'
        f"{_animate('cx', marks, times)}</circle>"
    )
    return parts
