"""The shaft bending round the riser as one self-contained moving SVG: no script, no outside file.

Readers who ask their system for less motion get a still of several frames instead.
"""

from __future__ import annotations

from html import escape
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.advise.launch_seen import Seen
from shaftwright.quantities import inches
from shaftwright.show.figure import PALETTE, plain
from shaftwright.show.launch import sides
from shaftwright.show.launch_picture import nice_exaggeration, rows_of, told

Array = NDArray[np.float64]

_WIDTH, _HEIGHT = 760.0, 330.0
_LEFT, _RIGHT, _MIDDLE = 20.0, 740.0, 150.0
#: room for the shaft above and below the middle [px]
_ROOM: Final = 95.0
_SECONDS: Final = 9.0
#: share of the time in which the last frame stands still
_HOLD: Final = 0.12
_STILLS: Final = 5


def launch_animation(seen: Seen, name: str) -> str:
    """One SVG document of a launch seen from above.

    Parameters
    ----------
    seen : Seen
        One launch at the middle settings.
    name : str
        What build on what rig.

    Returns
    -------
    str
        The document. Moved by SMIL; stands still under `prefers-reduced-motion`.
    """
    pictures = seen.pictures
    forward = pictures.station_in[None, :] - pictures.plate_station_in[:, None]
    low, high = float(forward.min()) - 1, float(forward.max()) + 1
    scale = (_RIGHT - _LEFT) / (high - low)
    widest = float(np.max(np.abs(pictures.sideways_in)))
    factor = nice_exaggeration(_ROOM / widest / scale)
    x = _LEFT + (forward - low) * scale
    y = _MIDDLE - pictures.sideways_in * scale * factor
    thick = max(2 * pictures.radius_in * scale * factor, 2.0)
    slowed = _SECONDS * (1 - _HOLD) / (float(pictures.time_ms[-1]) / 1e3)
    plate_x = _LEFT - low * scale
    face = _MIDDLE - pictures.plate_face_in * scale * factor
    title, told_text = plain(f"Launch of {name}", 120), told(seen, factor)
    nock, nose = sides(seen)
    riser = "right" if pictures.riser_side < 0 else "left"
    below = 1.0 if pictures.riser_side < 0 else -1.0
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" '
        f'width="{_WIDTH:g}" height="{_HEIGHT:g}" role="img" font-family="sans-serif" '
        'aria-labelledby="launch-title launch-desc">',
        f'<title id="launch-title">{escape(title)}</title>',
        f'<desc id="launch-desc">{escape(told_text)}</desc>',
        "<style>.still{display:none}"
        "@media (prefers-reduced-motion: reduce){.moving{display:none}.still{display:inline}}</style>",
        f'<rect width="100%" height="100%" fill="{PALETTE["paper"]}"/>',
        _text(_LEFT, 20, plain(name, 90), 13),
        _text(_LEFT, 37, f"seen from above; sideways {factor} times exaggerated; slowed "
              f"{_round(slowed)} times", 11, "muted"),
        f'<line x1="{_LEFT:g}" y1="{_MIDDLE:g}" x2="{_RIGHT:g}" y2="{_MIDDLE:g}" '
        f'stroke="{PALETTE["grid"]}" stroke-dasharray="6 4"/>',
        _text(_RIGHT, _MIDDLE - 4, "the bow's middle, shot this way →", 10, "muted", "end"),
        _text(_LEFT, 58, "↑ your left", 10, "muted"),
        _text(_LEFT, 246, "↓ your right", 10, "muted"),
        f'<rect x="{plate_x - 6:.1f}" y="{min(face, face + below * 34):.1f}" width="12" height="34" '
        f'fill="{PALETTE["muted"]}"/>',
        _text(plate_x + 10, face + below * 30 + (4 if below > 0 else 0),
              f"plate, riser on your {riser}", 10, "muted"),
        '<g class="moving">', *_moving(seen, x, y, thick, plate_x, face, below), "</g>",
        '<g class="still">', *_still(seen, x, y, thick), "</g>",
        *_clock(seen),
        _text(_LEFT, 318, f"It leaves nock {nock}, nose {nose}. One launch at the middle settings; "
              "computed, not filmed; the true side may differ.", 11),
        "</svg>",
    ]  # fmt: skip
    return "\n".join(parts) + "\n"


def _round(value: float) -> str:
    return f"{round(value, -1):.0f}"


def _text(x: float, y: float, text: str, size: int, role: str = "ink", at: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{PALETTE[role]}" '
        f'text-anchor="{at}">{escape(text)}</text>'
    )


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
    ink, touch = PALETTE["ink"], PALETTE["mark_2"]
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
        f'<rect x="{plate_x - 6:.1f}" y="{min(face, face + below * 34):.1f}" width="12" height="34" '
        f'fill="{touch}"/>'
        + _text(plate_x - 12, face + below * 30 + (4 if below > 0 else 0), "touching", 10, "mark_2",
                "end") + "</g>",
    ]  # fmt: skip


def _still(seen: Seen, x: Array, y: Array, thick: float) -> list[str]:
    rows = rows_of(seen)
    picked = [rows[i] for i in np.linspace(0, len(rows) - 1, _STILLS).round().astype(int)]
    found = []
    for order, i in enumerate(picked):
        strength = 0.35 + 0.65 * order / (len(picked) - 1)
        found.append(
            f'<polyline points="{_points(x[i], y[i])}" fill="none" stroke="{PALETTE["mark_1"]}" '
            f'stroke-width="{thick:.1f}" stroke-opacity="{strength:.2f}"/>'
        )
        words = f"{seen.pictures.time_ms[i]:.0f} ms"
        found.append(
            f'<text x="{x[i, -1]:.1f}" y="{y[i, -1] - thick:.1f}" font-size="10" text-anchor="end" '
            f'fill="{PALETTE["ink"]}" stroke="{PALETTE["paper"]}" stroke-width="3" '
            f'paint-order="stroke">{words}</text>'
        )
    return found


def _clock(seen: Seen) -> list[str]:
    """A bar of time: contacts, the string's stop, and a mark that runs along."""
    total = float(seen.pictures.time_ms[-1])
    width, top = _RIGHT - _LEFT, 268.0

    def at(ms: float) -> float:
        return _LEFT + width * ms / total

    parts = [
        f'<rect x="{_LEFT:g}" y="{top:g}" width="{width:g}" height="8" fill="{PALETTE["grid"]}"/>'
    ]
    for contact in seen.contacts:
        parts.append(
            f'<rect x="{at(contact.start_ms):.1f}" y="{top:g}" '
            f'width="{max(at(contact.end_ms) - at(contact.start_ms), 1):.1f}" height="8" '
            f'fill="{PALETTE["mark_2"]}"/>'
        )
    stop = at(seen.exit.time_ms)
    parts += [
        f'<line x1="{stop:.1f}" x2="{stop:.1f}" y1="{top - 5:g}" y2="{top + 13:g}" '
        f'stroke="{PALETTE["ink"]}" stroke-width="2"/>',
        _text(stop, top - 8, f"string stops, {seen.exit.time_ms:.1f} ms", 10, "ink", "middle"),
        _text(_LEFT, top + 22, "release", 10, "muted"),
        _text(_RIGHT, top + 22, f"{total:.0f} ms", 10, "muted", "end"),
    ]
    if seen.contacts:
        first = seen.contacts[-1]
        middle = (at(first.start_ms) + at(first.end_ms)) / 2
        where = inches(round(first.end_in))
        parts.append(
            _text(middle, top + 22, f"on the plate, last {where} from the nock", 10, "mark_2",
                  "middle")
        )  # fmt: skip
    times = _times(seen)
    marks = [f"{at(float(ms)):.1f}" for ms in seen.pictures.time_ms]
    parts.append(
        f'<circle class="moving" cx="{_LEFT:g}" cy="{top + 4:g}" r="5" fill="{PALETTE["ink"]}">'
        f"{_animate('cx', marks, times)}</circle>"
    )
    return parts
