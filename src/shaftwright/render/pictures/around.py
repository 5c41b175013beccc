"""What stands around a field: ticks in the steps archers measure in, what it says, the key."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

from shaftwright.render.pictures.figure import PALETTE, legend, plain
from shaftwright.render.words import eighths

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

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


def titled(figure: Figure, words: str, lines: int = 4) -> None:
    """Write over a picture what it says, as many lines as that takes, `lines` at most."""
    told = textwrap.wrap(plain(words, 62 * lines), 56, max_lines=lines, placeholder=" \u2026")
    figure.suptitle("\n".join(told), x=0.02, ha="left", fontsize=9.5, color=PALETTE["ink"])


def on_paper(alpha: float = 0.8) -> dict[str, Any]:
    """What words stand on so that no line strikes through them: `bbox` of a text."""
    return {
        "boxstyle": "square,pad=0.12", "facecolor": PALETTE["paper"], "edgecolor": "none", "alpha": alpha,
    }  # fmt: skip


def key_above(ax: Axes, columns: int = 2, **options: Any) -> None:
    """The key above the field, where no line runs."""
    legend(
        ax, loc="lower left", bbox_to_anchor=(0, 1), ncols=columns, frameon=False, borderpad=0,
        handlelength=1.8, columnspacing=1.2, **options,
    )  # fmt: skip
