"""Around a picture: its title and notes, and labels that do not lie over one another."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from shaftwright.render.pictures.figure import PALETTE, plain
from shaftwright.render.words import eighths

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Annotation


_STEPS: Final = (0.125, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def in_inches(ax: Axes, which: str = "x", most: int = 8) -> None:
    """Tick an axis of lengths at whole inches or halves, quarters, eighths of one; set its limits first."""
    from matplotlib.ticker import FuncFormatter, MultipleLocator

    axis: Any = getattr(ax, f"{which}axis")
    low, high = axis.get_view_interval()
    step = next((s for s in _STEPS if (high - low) / s <= most), _STEPS[-1])
    axis.set_major_locator(MultipleLocator(step))
    axis.set_major_formatter(
        FuncFormatter(lambda value, _: eighths(value).replace("-", "\N{MINUS SIGN}"))
    )


def titled(figure: Figure, words: str) -> None:
    """Write over a picture what it says, as many lines as that takes, four at most."""
    told = textwrap.wrap(plain(words, 248), 56, max_lines=4, placeholder=" \u2026")
    figure.suptitle("\n".join(told), x=0.02, ha="left", fontsize=9.5, color=PALETTE["ink"])


def on_paper() -> dict[str, Any]:
    """What words stand on so that no line strikes through them: `bbox` of a text."""
    return {
        "boxstyle": "square,pad=0.12", "facecolor": PALETTE["paper"], "edgecolor": "none", "alpha": 0.8,
    }  # fmt: skip


def write(ax: Axes, words: str, at: tuple[float, float], **how: Any) -> Annotation:
    """Words on the picture, in ink where no other colour is told."""
    usual: dict[str, Any] = {
        "fontsize": 9,
        "color": PALETTE["ink"],
        "bbox": on_paper(),
        "va": "center",
    }
    return ax.annotate(words, at, **(usual | how))


#: for `write`: so far across the field, at a height of the data
ACROSS: Final[dict[str, Any]] = {"xycoords": ("axes fraction", "data")}
#: for `write`: so many points beside the place
BESIDE: Final[dict[str, Any]] = {"textcoords": "offset points"}


def key_above(ax: Axes, columns: int = 2, **options: Any) -> None:
    """The key above the field, where no line runs."""
    ax.legend(
        loc="lower left", bbox_to_anchor=(0, 1), ncols=columns, frameon=False, borderpad=0, fontsize=9,
        handlelength=1.8, columnspacing=1.2, labelcolor=PALETTE["ink"], **options,
    )  # fmt: skip


#: Direction of a label from its point, the preferred one first.
_SIDES: Final = ((1, 0), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1), (0, 1), (0, -1))
_LETTER: Final = 0.60


@dataclass(frozen=True)
class Box:
    """A rectangle."""

    left: float
    bottom: float
    right: float
    top: float

    def overlap(self, other: Box) -> float:
        """Area shared with another box."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.top, other.top) - max(self.bottom, other.bottom)
        return max(wide, 0.0) * max(high, 0.0)

    def outside(self, frame: Box) -> float:
        """Area that lies outside a frame."""
        area = (self.right - self.left) * (self.top - self.bottom)
        return area - self.overlap(frame)


@dataclass
class Placer:
    """Keeps account of what is taken on one picture.

    Attributes
    ----------
    frame : Box
        Where labels may stand.
    taken : list of Box
        What is covered already.
    """

    frame: Box
    taken: list[Box] = field(default_factory=list)

    def dot(self, x: float, y: float, radius: float = 5.0) -> None:
        """Take the room of a mark."""
        self.taken.append(Box(x - radius, y - radius, x + radius, y + radius))

    def best(
        self, x: float, y: float, text: str, size: float, away: float = 9.0
    ) -> tuple[float, float, str, str]:
        """The place beside a point that covers least, and take it.

        Parameters
        ----------
        x, y : float
            The point.
        text : str
            The label.
        size : float
            Its size of type.
        away : float
            Distance from the point.

        Returns
        -------
        tuple
            Offsets right and up, horizontal and vertical alignment.
        """
        wide, high = width(text, size), 1.35 * size
        costs: list[tuple[float, int]] = []
        boxes = []
        for order, (right, up) in enumerate(_SIDES):
            left = x + right * away - (0 if right > 0 else wide if right < 0 else wide / 2)
            low = y + up * away - (0 if up > 0 else high if up < 0 else high / 2)
            box = Box(left, low, left + wide, low + high)
            boxes.append(box)
            cost = sum(box.overlap(other) for other in self.taken) + 4 * box.outside(self.frame)
            costs.append((round(cost, 3) + order, order))
        chosen = min(costs)[1]
        self.taken.append(boxes[chosen])
        right, up = _SIDES[chosen]
        return (
            right * away, up * away,
            ("center", "left", "right")[right], ("center", "bottom", "top")[up],
        )  # fmt: skip


def width(text: str, size: float) -> float:
    """Rough width of a line of text [pt]."""
    return _LETTER * size * len(text) + 4
