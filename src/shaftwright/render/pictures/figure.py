"""The one place where pictures get their look, and the one way they leave as SVG, PNG or PDF.

A picture is a plain Matplotlib figure made by `new_figure`, drawn on with the object API, and written by
`to_svg` (to stand inside a page) or `save` (a file). So that it works for everybody:

* Take every colour from `PALETTE` by role. In a page the colours become CSS variables, so that
  one sheet (`css`) turns all pictures dark or light; a colour from elsewhere stays as it is.
* Never tell two things apart by colour alone: use `mark(n)`, which also gives the marker and the line
  style.
* Pass names that people wrote through `plain`. Text is never read as mathematics or markup, so
  a logarithmic axis needs a plain number formatter.
* `artist.set_gid("bare-hits")` becomes the id `FIGURE-bare-hits` in the page.
* Every picture is as wide as a phone, so that no letter is smaller there than it was drawn; a file, a page
  and paper show the same drawing larger.
"""

from __future__ import annotations

import io
import re
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final
from weakref import WeakKeyDictionary

from shaftwright.render.pictures.svg import inline_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: The closed palette, for light paper and dark. The six marks keep apart under the three kinds of colour
#: blindness and, by their lightness, in grey (tested).
_COLOURS: Final = {
    "paper": ("#ffffff", "#15181c"),
    "ink": ("#1b1b1b", "#e8e8e6"),
    "muted": ("#5a5f66", "#a4abb3"),
    "grid": ("#d9dde1", "#343a41"),
    "band": ("#cfe0ef", "#24405c"),
    "band_edge": ("#4c6f94", "#8fb3d9"),
    "mark_1": ("#0060df", "#73a9ff"),
    "mark_2": ("#a02600", "#bf702e"),
    "mark_3": ("#198f52", "#2aec8b"),
    "mark_4": ("#770071", "#a78dbc"),
    "mark_5": ("#929100", "#dbb539"),
    "mark_6": ("#3a2a1c", "#e9e2d4"),
}
PALETTE: Final = {role: light for role, (light, _) in _COLOURS.items()}
#: The same roles on dark paper; used by `css` only.
DARK_PALETTE: Final = {role: dark for role, (_, dark) in _COLOURS.items()}

#: of every picture: what a page leaves of a phone's 360 px [in of 72 px]
WIDTH_IN: Final = 4.6
#: how much larger a file shows it
_FILE_SCALE: Final = 1.6

_MARKERS: Final = ("o", "s", "^", "D", "v", "P")
_LINES: Final[tuple[Any, ...]] = (
    "-",
    (0, (6, 2)),
    (0, (1.5, 1.5)),
    (0, (6, 2, 1.5, 2)),
    (0, (3, 1.5)),
    (0, (9, 2, 1.5, 2, 1.5, 2)),
)

_SIDES: Final = re.compile(r'\b(width|height)="([0-9.]+)"')
#: Characters that XML 1.0 forbids, or that turn the writing direction of what follows.
_UNPRINTABLE: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufeff\ufffe\uffff]"
)
_STYLE: Final[dict[str, Any]] = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans", "sans-serif"],
    "font.size": 10.0,
    "text.parse_math": False,
    "text.usetex": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "svg.fonttype": "none",
    "svg.id": None,
    "hatch.linewidth": 0.6,
    "path.simplify": True,
}


@dataclass(frozen=True)
class _Told:
    """What a picture is called and what a reader who cannot see it is told."""

    figure_id: str
    title: str
    description: str


#: Matplotlib's settings are the whole process's; the page draws in several threads.
_ONE_AT_A_TIME: Final = threading.RLock()
_TOLD: Final[WeakKeyDictionary[Figure, _Told]] = WeakKeyDictionary()


def plain(text: str, limit: int = 60) -> str:
    r"""Make a name that somebody wrote fit to stand in a picture, on one line.

    Parameters
    ----------
    text : str
        Any text.
    limit : int
        Longest length [characters]; what is longer ends in an ellipsis.

    Returns
    -------
    str
        The text without control characters and line breaks. One that starts with an underscore
        gets an invisible space before it, because Matplotlib leaves such labels out of legends.

    Examples
    --------
    >>> plain("two\nlines")
    'two lines'
    >>> plain("MARSH-500", limit=6)
    'MARSH…'
    """
    text = " ".join(_UNPRINTABLE.sub(" ", text).split())
    if len(text) > limit:
        text = text[: limit - 1].rstrip() + "…"
    return "\u200b" + text if text.startswith("_") else text


def mark(number: int, *, line: bool = True) -> dict[str, Any]:
    """Keywords for `Axes.plot` that tell series `number` (from 1) apart without colour.

    Examples
    --------
    >>> mark(2, line=False)["marker"], mark(2)["color"]
    ('s', '#a02600')
    """
    index = (number - 1) % len(_MARKERS)
    return {
        "color": PALETTE[f"mark_{index + 1}"],
        "marker": _MARKERS[index],
        "linestyle": _LINES[index] if line else "none",
        "markersize": 6.0,
        "linewidth": 1.8,
    }


def area() -> dict[str, Any]:
    """Keywords for `Axes.fill_between` and bars: the band.

    Examples
    --------
    >>> area()["facecolor"]
    '#cfe0ef'
    """
    return {"facecolor": PALETTE["band"], "edgecolor": PALETTE["band_edge"], "linewidth": 1.0}


def new_figure(figure_id: str, title: str, description: str, height: float = 3.2) -> Figure:
    """Begin a picture.

    Parameters
    ----------
    figure_id : str
        Id of the svg and prefix of all ids in it: lower-case letters, digits, hyphens.
    title, description : str
        What the picture shows, for readers who do not see it; any text.
    height : float
        Of the picture [in]; it is `WIDTH_IN` wide.

    Returns
    -------
    matplotlib.figure.Figure
        An empty figure with constrained layout; add axes with `axes`.
    """
    with _look(figure_id):
        from matplotlib.figure import Figure

        figure = Figure(figsize=(WIDTH_IN, height), layout="constrained", facecolor="none")
    _TOLD[figure] = _Told(figure_id, _printable(title), _printable(description))
    return figure


def axes(
    figure: Figure, *place: Any, x: str = "", y: str = "", grid: bool = True, **where: Any
) -> Axes:
    """Add axes in the house look.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        From `new_figure`.
    x, y : str
        Axis labels, with their units.
    grid : bool
        Whether to draw the grid, behind everything else.
    *place, **where : Any
        Passed to `Figure.add_subplot`, such as a grid position.

    Returns
    -------
    matplotlib.axes.Axes
        The axes; title it with `set_title(..., loc="left")` if at all.
    """
    ink, muted = PALETTE["ink"], PALETTE["muted"]
    with _look(_TOLD[figure].figure_id):
        ax: Axes = figure.add_subplot(*place, **where)
        ax.set_facecolor("none")
        ax.set_axisbelow(True)
        if grid:
            ax.grid(True, color=PALETTE["grid"], linewidth=0.8)
        for side, spine in ax.spines.items():
            spine.set_color(muted)
            spine.set_visible(side in ("left", "bottom"))
        ax.tick_params(colors=muted, labelcolor=ink)
        ax.set_xlabel(_printable(x) if x else "", color=ink)
        ax.set_ylabel(_printable(y) if y else "", color=ink)
        ax.title.set_color(ink)
    return ax


def css() -> str:
    """The style sheet that a page with pictures needs: the palette, light, dark and printed.

    Examples
    --------
    >>> "--sw-ink: #1b1b1b;" in css()
    True
    """

    def block(palette: dict[str, str]) -> str:
        return " ".join(f"{_variable(role)}: {colour};" for role, colour in palette.items())

    return (
        f":root {{ {block(PALETTE)} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {block(DARK_PALETTE)} }} }}\n"
        "svg.sw-figure { display: block; max-width: 100%; height: auto; }\n"
    )


def to_svg(fig: Figure, *, variables: bool = True) -> str:
    """Write a picture as one `<svg>` element that can stand inside an HTML page.

    Parameters
    ----------
    fig : matplotlib.figure.Figure
        From `new_figure`.
    variables : bool
        Whether the palette's colours become CSS variables with the light colour as fallback.

    Returns
    -------
    str
        The element: `id`, `role="img"`, a title and a description, text as text, no style
        sheet and no style attribute (so it passes a strict content policy), every id prefixed
        by the figure's id. The same figure always gives the same text.
    """
    told = _TOLD[fig]
    out = io.StringIO()
    _write(fig, told, out, "svg", {"Date": None, "Creator": None, "Format": None, "Type": None})
    # Labels made while drawing (ticks) escaped the cleaning before it.
    source = _UNPRINTABLE.sub(" ", out.getvalue())
    roles = {c: _variable(role) for role, c in PALETTE.items()} if variables else {}
    return inline_svg(source, told.figure_id, told.title, told.description, roles)


def picture_bytes(fig: Figure, path: str | Path) -> bytes:
    """A picture as the content of a file; the suffix of its name says how.

    Parameters
    ----------
    fig : matplotlib.figure.Figure
        From `new_figure`.
    path : str or Path
        A name that ends in `.svg`, `.png` or `.pdf`. All are on white paper.
    """
    told, kind = _TOLD[fig], Path(path).suffix.lower().removeprefix(".")
    if kind == "svg":
        # Drawing programs read no CSS variables, so a file gets the colours themselves.
        svg = _SIDES.sub(_enlarged, to_svg(fig, variables=False), count=2)
        start = svg.index("<title")
        paper = f'<rect width="100%" height="100%" fill="{PALETTE["paper"]}" />'
        head = '<?xml version="1.0" encoding="utf-8"?>\n<!-- Shaftwright -->\n'
        return f"{head}{svg[:start]}{paper}{svg[start:]}\n".encode()
    made_by: dict[str, Any] = {"Creator": "Shaftwright", "CreationDate": None, "Producer": None}
    metadata = {"Software": "Shaftwright"} if kind == "png" else made_by
    buffer = io.BytesIO()
    look = {"facecolor": PALETTE["paper"], "dpi": 240}
    _write(fig, told, buffer, kind, {"Title": told.title, **metadata}, **look)
    return buffer.getvalue()


def _enlarged(side: re.Match[str]) -> str:
    return f'{side[1]}="{float(side[2]) * _FILE_SCALE:g}"'


def _variable(role: str) -> str:
    return "--sw-" + role.replace("_", "-")


def _printable(text: str) -> str:
    return _UNPRINTABLE.sub(" ", text).strip() or "picture"


@contextmanager
def _look(figure_id: str) -> Iterator[None]:
    import matplotlib as mpl

    settings: Any = {**_STYLE, "svg.hashsalt": figure_id}
    with _ONE_AT_A_TIME, mpl.rc_context(settings):
        yield


def _write(
    fig: Figure, told: _Told, out: Any, kind: str, metadata: dict[str, Any], **options: Any
) -> None:
    from matplotlib.text import Text

    for text in fig.findobj(Text):
        assert isinstance(text, Text)
        # A name such as "$x_1$" is a name, never mathematics; control characters end the XML.
        text.set_parse_math(False)
        # Matplotlib's own, such as that of a title on the left
        if str(text.get_color()) == "black":
            text.set_color(PALETTE["ink"])
        text.set_text(_UNPRINTABLE.sub(" ", text.get_text()))
    with _look(told.figure_id), warnings.catch_warnings():
        # The bundled font lacks some scripts; in SVG the reader's own font has them.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        warnings.filterwarnings("ignore", message="Matplotlib currently does not support")
        fig.savefig(out, format=kind, metadata=metadata, **options)
