"""Every picture on a phone: as wide as all others, its words large enough, inside it, and free of each other.

Measured as Matplotlib sets its own typeface, which runs wider than what browsers take. Letters under 9 px are
hard to read on a phone (common practice, no source).
"""

import itertools
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

import shaftwright
from shaftwright.answers.choose.choose import choose
from shaftwright.answers.diagnose import diagnose, progress
from shaftwright.render.pictures import figure as look
from shaftwright.render.pictures.bareshaft import progress_figure, target_view
from shaftwright.render.pictures.choice import choice_figure
from shaftwright.render.pictures.launch import launch_figure
from shaftwright.render.screens.brace import brace_figure
from shaftwright.render.screens.build import flight_figure
from shaftwright.render.screens.compare import compare_figure
from shaftwright.render.screens.efficiency import efficiency_figure

HERON = Path(__file__).resolve().parents[2] / "examples" / "heron_marsh"
SWEEP = HERON / "brace.notebook.yaml"
ARROW = {"shaft": "MARSH-500", "length": "30 in", "point": "P175", "insert": "I25"}
LEAST_PX = 9


def bow(name="heron_marsh", **more):
    return shaftwright.open(HERON.parent / name, **more)


def of_choice(name, picture):
    asked = bow(name).scenario
    return choice_figure(choose(asked, asked.stock, None, 6), picture)


def masses():
    return bow(notebook_file=HERON / "masses.notebook.yaml")


MADE = {
    **{
        f"{picture} {name}": (lambda n=name, p=picture: of_choice(n, p))
        for picture in ("map", "ladder", "band")
        for name in ("heron_marsh", "long_fen", "reed_lark")
    },
    "target": lambda: target_view(diagnose(bow().scenario)),
    "target, metric": lambda: target_view(diagnose(bow().what_if("units=metric").scenario)),
    "progress": lambda: progress_figure(progress(bow().scenario)),
    "brace sweep": lambda: brace_figure(bow(notebook_file=SWEEP).brace().result),
    "brace": lambda: brace_figure(bow().brace().result),
    "compare": lambda: compare_figure(bow().compare(by=["string"]).result),
    "efficiency": lambda: efficiency_figure(masses().efficiency([400, 505]).result),
    "flight": lambda: flight_figure(bow().flight(ARROW).result, "MARSH-500 on heron-marsh"),
    "launch": lambda: launch_figure(bow().launch(ARROW, draws=4).result.seen, "MARSH-500 on heron"),
}


def corners(text, renderer):
    """The four corners of a text, turned as it is [px]."""
    turn, mode = text.get_rotation(), text.get_rotation_mode()
    if turn % 90 == 0:
        return np.array(text.get_window_extent(renderer).corners())[[0, 1, 3, 2]]
    assert mode == "anchor"
    text.set_rotation(0)
    flat = np.array(text.get_window_extent(renderer).corners())[[0, 1, 3, 2]]
    text.set_rotation(turn)
    at = text.get_transform().transform(text.get_position())
    if hasattr(text, "xyann"):
        text.update_positions(renderer)
        at = text.get_transform().transform((text._x, text._y))
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return (flat - at) @ spin.T + at


def shared(one, other):
    """How deep two turned rectangles reach into each other [px]; the separating axis theorem."""
    depth = np.inf
    for box in (one, other):
        for a, b in ((0, 1), (1, 2)):
            side = box[b] - box[a]
            normal = np.array([-side[1], side[0]]) / np.hypot(*side)
            p, q = one @ normal, other @ normal
            depth = min(depth, min(p.max(), q.max()) - max(p.min(), q.min()))
    return depth


def faults(figure):
    """What is wrong with a picture's words, in words."""
    figure.set_dpi(72)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    wide, high = canvas.get_width_height()
    found = [] if wide == round(72 * look.WIDTH_IN) else [f"{wide} px wide"]
    words = [
        t for t in figure.findobj(Text)
        if t.get_visible() and t.get_text().strip() and t.get_window_extent(canvas.renderer).width > 0
    ]  # fmt: skip
    hidden = set(beyond(figure))
    words = [t for t in words if id(t) not in hidden]
    boxes = [(t.get_text(), corners(t, canvas.renderer)) for t in words]
    found += [
        f"{t.get_text()!r} of {t.get_fontsize()}" for t in words if t.get_fontsize() < LEAST_PX
    ]
    for told, box in boxes:
        if box.min() < -1 or box[:, 0].max() > wide + 1 or box[:, 1].max() > high + 1:
            found.append(f"{told!r} runs off: {box.round().tolist()}")
    for (told, box), (other, beside) in itertools.combinations(boxes, 2):
        if shared(box, beside) > 1.5:
            found.append(f"{told!r} over {other!r}")
    return found


def beyond(figure):
    """Labels of ticks past the ends of an axis: Matplotlib keeps them and does not draw them."""
    for ax in figure.axes:
        for axis in (ax.xaxis, ax.yaxis):
            low, high = sorted(axis.get_view_interval())
            for tick in axis.get_major_ticks():
                if not low - 1e-9 <= tick.get_loc() <= high + 1e-9:
                    yield from (id(tick.label1), id(tick.label2))


@pytest.mark.parametrize("name", MADE)
@pytest.mark.slow
def test_words_are_readable_inside_and_apart_on_a_phone(name):
    assert faults(MADE[name]()) == []


def test_the_measure_finds_what_overlaps_runs_off_and_is_too_small():
    figure = look.new_figure("t", "t", "t")
    ax = look.axes(figure)
    ax.set_xlim(0, 1)
    ax.text(0.4, 0.5, "one word", fontsize=10)
    ax.text(0.45, 0.5, "another", fontsize=10, rotation=20, rotation_mode="anchor")
    ax.text(0.95, 0.2, "beyond the edge of the paper", fontsize=10).set_in_layout(False)
    ax.text(0.1, 0.9, "small", fontsize=7)
    found = " ".join(faults(figure))
    assert "'one word' over 'another'" in found
    assert "'beyond the edge of the paper' runs off" in found
    assert "'small' of 7" in found
    assert "'small' over" not in found


def test_two_turned_words_side_by_side_do_not_share():
    """A square turned by 45 degrees beside one that is not: their upright boxes would overlap."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    turned = np.array([[1.9, 1.0], [2.6, 1.7], [1.9, 2.4], [1.2, 1.7]]) - [0.5, 0.2]
    assert shared(square, turned) < 0
    assert shared(square, square + 0.5) == pytest.approx(0.5)
