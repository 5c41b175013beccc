"""The map as one `<svg>`: drawn for a wide and for a narrow screen, without style or script inside."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from shaftwright.answers.choose.map import BuildMap
from shaftwright.render.pictures.figure import plain
from shaftwright.units import inches


@dataclass(frozen=True)
class Paper:
    """The size of a drawing and its margins [px]."""

    name: str
    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    font: float


WIDE = Paper("wide", 760, 520, 62, 14, 14, 54, 14)
NARROW = Paper("narrow", 360, 400, 44, 10, 10, 46, 12)


@dataclass(frozen=True)
class Mark:
    """A build to mark on the map."""

    label: str
    length_in: float
    front_gr: float


class _Scale:
    def __init__(self, drawn: BuildMap, paper: Paper) -> None:
        self.x = (float(drawn.length_in[0]), float(drawn.length_in[-1]))
        self.y = (drawn.lowest_gr, drawn.highest_gr)
        self.px = (paper.left, paper.width - paper.right)
        self.py = (paper.height - paper.bottom, paper.top)

    def at(self, length_in: float, front_gr: float) -> tuple[float, float]:
        x = self.px[0] + (length_in - self.x[0]) / (self.x[1] - self.x[0]) * (
            self.px[1] - self.px[0]
        )
        y = self.py[0] + (front_gr - self.y[0]) / (self.y[1] - self.y[0]) * (
            self.py[1] - self.py[0]
        )
        return round(x, 1), round(y, 1)


def map_svg(
    drawn: BuildMap, paper: Paper, here: tuple[float, float], kept: tuple[float, float] | None,
    marks: Iterable[Mark] = (),
) -> Markup:  # fmt: skip
    """The map of one shaft.

    Parameters
    ----------
    drawn : BuildMap
        What to draw.
    paper : Paper
        For which screen.
    here, kept : tuple of float
        Length [in] and weight up front [gr] of the arrow looked at, and of the one kept to compare.
    marks : iterable of Mark
        Other builds.

    Returns
    -------
    Markup
        Text in it is escaped by the XML writer.
    """
    scale = _Scale(drawn, paper)
    prefix = f"map-{paper.name}"
    root = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg", "class": f"map map-{paper.name}", "role": "img",
            "viewBox": f"0 0 {paper.width:g} {paper.height:g}", "font-size": f"{paper.font:g}",
            "aria-labelledby": f"{prefix}-title {prefix}-desc",
            "data-length-from": f"{scale.x[0]:.5f}", "data-length-to": f"{scale.x[1]:.5f}",
            "data-front-from": f"{scale.y[0]:g}", "data-front-to": f"{scale.y[1]:g}",
            "data-left": f"{scale.px[0]:g}", "data-right": f"{scale.px[1]:g}",
            "data-bottom": f"{scale.py[0]:g}", "data-top": f"{scale.py[1]:g}",
        },
    )  # fmt: skip
    name = plain(drawn.shaft) or f"a usual {drawn.spine_mils:.0f}"
    ET.SubElement(
        root, "title", {"id": f"{prefix}-title"}
    ).text = f"Shaft length against weight up front, with the strip in which {name} suits this bow"
    ET.SubElement(root, "desc", {"id": f"{prefix}-desc"}).text = _told(drawn, name)
    _definitions(root, prefix, scale)
    _axes(root, drawn, paper, scale)
    inside = ET.SubElement(root, "g", {"clip-path": f"url(#{prefix}-clip)"})
    _strips(inside, drawn, scale)
    _limits(inside, drawn, scale, prefix)
    _curves(inside, drawn, scale)
    _marks(inside, marks, scale)
    if kept is not None:
        x, y = scale.at(*kept)
        ET.SubElement(inside, "circle", {"class": "kept", "cx": f"{x:g}", "cy": f"{y:g}", "r": "7"})
    _here(root, here, scale, prefix)
    return Markup(ET.tostring(root, encoding="unicode"))


def _told(drawn: BuildMap, name: str) -> str:
    low, high = drawn.strips[drawn.levels.index(drawn.chance)]
    parts = [
        f"Length runs to the right from {inches(drawn.shortest_in)}, the shortest safe one, to "
        f"{inches(drawn.full_in)}; weight up front from {drawn.lowest_gr:.0f} to "
        f"{drawn.highest_gr:.0f} gr."
    ]
    for length in (drawn.shortest_in, drawn.full_in):
        at = int(np.argmin(np.abs(drawn.length_in - length)))
        least, most = max(low[at], drawn.lowest_gr), min(high[at], drawn.highest_gr)
        if least < most:
            parts.append(
                f"At {inches(length)} {name} suits with {least:.0f} to {most:.0f} gr up front."
            )
        else:
            parts.append(f"At {inches(length)} no weight up front on this map suits {name}.")
    return " ".join(parts)


def _definitions(root: ET.Element, prefix: str, scale: _Scale) -> None:
    definitions = ET.SubElement(root, "defs")
    clip = ET.SubElement(definitions, "clipPath", {"id": f"{prefix}-clip"})
    ET.SubElement(clip, "rect", _box(scale))
    hatch = ET.SubElement(
        definitions, "pattern",
        {"id": f"{prefix}-hatch", "width": "7", "height": "7", "patternUnits": "userSpaceOnUse",
         "patternTransform": "rotate(45)"},
    )  # fmt: skip
    ET.SubElement(
        hatch, "line", {"class": "hatch", "x1": "0", "y1": "0", "x2": "0", "y2": "7"}
    )  # fmt: skip


def _box(scale: _Scale) -> dict[str, str]:
    return {
        "x": f"{scale.px[0]:g}", "y": f"{scale.py[1]:g}", "width": f"{scale.px[1] - scale.px[0]:g}",
        "height": f"{scale.py[0] - scale.py[1]:g}",
    }  # fmt: skip


def _axes(root: ET.Element, drawn: BuildMap, paper: Paper, scale: _Scale) -> None:
    ET.SubElement(root, "rect", {"class": "field", **_box(scale)})
    group = ET.SubElement(root, "g", {"class": "axes"})
    step = 0.5 if paper.name == "wide" and scale.x[1] - scale.x[0] < 5 else 1.0
    for length in np.arange(math.ceil(scale.x[0] / step) * step, scale.x[1] + 1e-9, step):
        x, y = scale.at(float(length), scale.y[0])
        _line(group, "grid", (x, scale.py[1]), (x, y))
        _text(group, x, y + paper.font * 1.4, f"{length:g}", "middle")
    for front in np.arange(math.ceil(scale.y[0] / 50) * 50, scale.y[1] + 1e-9, 50):
        x, y = scale.at(scale.x[0], float(front))
        _line(group, "grid", (x, y), (scale.px[1], y))
        _text(group, x - 6, y + paper.font * 0.35, f"{front:g}", "end")
    _text(
        group, (scale.px[0] + scale.px[1]) / 2, paper.height - 8, "shaft length, inches", "middle",
        "axis-name",
    )  # fmt: skip
    middle = (scale.py[0] + scale.py[1]) / 2
    label = _text(group, paper.font, middle, "up front, grains", "middle", "axis-name")
    label.set("transform", f"rotate(-90 {paper.font:g} {middle:g})")


def _strips(parent: ET.Element, drawn: BuildMap, scale: _Scale) -> None:
    for level, (low, high) in sorted(
        zip(drawn.levels, drawn.strips, strict=True), key=lambda pair: -pair[0]
    ):
        if level > drawn.chance + 1e-9:
            continue
        kind = "strip" if level == drawn.chance else "strip core"
        there = [scale.at(float(x), float(y)) for x, y in zip(drawn.length_in, low, strict=True)]
        back = [scale.at(float(x), float(y)) for x, y in zip(drawn.length_in, high, strict=True)]
        ET.SubElement(
            parent, "polygon", {"class": kind, "points": _points([*there, *reversed(back)])}
        )


def _limits(parent: ET.Element, drawn: BuildMap, scale: _Scale, prefix: str) -> None:
    """What must not be shot or built: hatched, with its name."""
    top, bottom = scale.y[1] + 200, scale.y[0] - 200
    areas = []
    weak = np.clip(drawn.too_weak_gr, bottom, top)
    if (weak < scale.y[1]).any():
        areas.append((weak, np.full_like(weak, top), "far too weak: not to be shot", False))
    light = np.clip(drawn.floor_gr, bottom, top)
    if (light > scale.y[0]).any():
        per_lb = f"under {drawn.floor_gr_per_lb:g} gr/lb bare: too light"
        areas.append((np.full_like(light, bottom), light, per_lb, True))
    for low, high, label, below in areas:
        lower = [scale.at(float(x), float(y)) for x, y in zip(drawn.length_in, low, strict=True)]
        upper = [scale.at(float(x), float(y)) for x, y in zip(drawn.length_in, high, strict=True)]
        edge = upper if below else lower
        ET.SubElement(
            parent, "polygon",
            {"class": "barred", "fill": f"url(#{prefix}-hatch)",
             "points": _points([*lower, *reversed(upper)])},
        )  # fmt: skip
        ET.SubElement(parent, "polyline", {"class": "limit", "points": _points(edge)})
        inside = [p for p in edge if scale.py[1] + 30 < p[1] < scale.py[0] - 20]
        if inside and below:
            x, y = inside[0]
            _text(parent, max(x, scale.px[0]) + 8, min(y + 18, scale.py[0] - 6), label, "start",
                  "limit-name")  # fmt: skip
        elif inside:
            x, y = inside[-1]
            _text(parent, min(x, scale.px[1]) - 8, max(y - 8, scale.py[1] + 16), label, "end",
                  "limit-name")  # fmt: skip
    x, _ = scale.at(drawn.shortest_in, scale.y[0])
    width = x - scale.px[0]
    if width > 1:
        ET.SubElement(
            parent, "rect",
            {**_box(scale), "width": f"{width:g}", "class": "barred", "fill": f"url(#{prefix}-hatch)"},
        )  # fmt: skip
        _line(parent, "limit", (x, scale.py[1]), (x, scale.py[0]))


def _curves(parent: ET.Element, drawn: BuildMap, scale: _Scale) -> None:
    taken: list[tuple[float, float]] = []
    for number, curve in enumerate(drawn.curves):
        runs = _runs(drawn.length_in, curve.front_gr)
        for run in runs:
            points = [scale.at(x, y) for x, y in run]
            kind = "curve own" if number == 0 else "curve"
            ET.SubElement(parent, "polyline", {"class": kind, "points": _points(points)})
        shown = [
            p for run in runs for p in (scale.at(x, y) for x, y in run)
            if scale.px[0] + 34 < p[0] < scale.px[1] - 18 and scale.py[1] + 16 < p[1] < scale.py[0] - 6
        ]  # fmt: skip
        # the name goes where the curve leaves the map at its upper left, unless one is there already
        free = [p for p in shown if all(math.dist(p, q) > 34 for q in taken)]
        if free:
            at = free[0] if number else free[len(free) // 3]
            taken.append(at)
            kind = "curve-name own" if number == 0 else "curve-name"
            _text(parent, at[0], at[1] - 4, curve.label, "middle", kind)


def _runs(
    lengths: Sequence[float] | np.ndarray, fronts: Sequence[float] | np.ndarray
) -> list[list[tuple[float, float]]]:
    runs: list[list[tuple[float, float]]] = [[]]
    for x, y in zip(lengths, fronts, strict=True):
        if np.isfinite(y):
            runs[-1].append((float(x), float(y)))
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if len(run) > 1]


def _marks(parent: ET.Element, marks: Iterable[Mark], scale: _Scale) -> None:
    """Diamonds; those that lie on one another share a label."""
    labels: list[tuple[tuple[float, float], list[str]]] = []
    for mark in marks:
        x, y = scale.at(mark.length_in, mark.front_gr)
        ET.SubElement(
            parent, "rect",
            {"class": "mark", "x": f"{x - 4:g}", "y": f"{y - 4:g}", "width": "8", "height": "8",
             "transform": f"rotate(45 {x:g} {y:g})"},
        )  # fmt: skip
        near = next((names for at, names in labels if math.dist(at, (x, y)) < 16), None)
        if near is None:
            labels.append(((x, y), [mark.label]))
        else:
            near.append(mark.label)
    for (x, y), names in labels:
        right = x < scale.px[1] - 60
        _text(parent, x + (13 if right else -13), y + 4, ", ".join(names),
              "start" if right else "end", "mark-name")  # fmt: skip


def _here(root: ET.Element, here: tuple[float, float], scale: _Scale, prefix: str) -> None:
    x, y = scale.at(*here)
    group = ET.SubElement(root, "g", {"class": "here", "transform": f"translate({x:g} {y:g})"})
    long = "2000"
    clip = ET.SubElement(root, "g", {"class": "cross", "clip-path": f"url(#{prefix}-clip)"})
    lines = ET.SubElement(
        clip, "g", {"class": "cross-lines", "transform": f"translate({x:g} {y:g})"}
    )
    _line(lines, "thread", (-float(long), 0), (float(long), 0))
    _line(lines, "thread", (0, -float(long)), (0, float(long)))
    ET.SubElement(group, "circle", {"class": "ring", "r": "10"})
    ET.SubElement(group, "circle", {"class": "dot", "r": "3.5"})
    root.remove(group)
    root.append(group)


def _points(points: Iterable[tuple[float, float]]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)


def _line(parent: ET.Element, kind: str, a: tuple[float, float], b: tuple[float, float]) -> None:
    ET.SubElement(
        parent, "line",
        {"class": kind, "x1": f"{a[0]:g}", "y1": f"{a[1]:g}", "x2": f"{b[0]:g}", "y2": f"{b[1]:g}"},
    )  # fmt: skip


def _text(
    parent: ET.Element, x: float, y: float, text: str, anchor: str, kind: str = ""
) -> ET.Element:
    given = {"x": f"{x:g}", "y": f"{y:g}", "text-anchor": anchor}
    if kind:
        given["class"] = kind
    element = ET.SubElement(parent, "text", given)
    element.text = plain(text)
    return element
