"""Where labels go so that none covers another: plain geometry, in points of the page."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

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
