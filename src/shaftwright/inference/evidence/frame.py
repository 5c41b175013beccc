"""From the archer's view into the bow's own frame: cant turned out, hands mirrored, in one place.

In the archer's view right and up are positive. In the bow's frame `stiffward` is the side to which
a stiff shaft lands: left for a right-handed archer, right for a left-handed one.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shaftwright.inference.evidence.rules import evidence_rules
from shaftwright.records.rig import Hand

Array = NDArray[np.float64]
Side = Literal["stiff", "weak", "straight"]
Height = Literal["high", "low", "straight"]


def hand_sign(hand: Hand) -> int:
    """What turns an offset to the right into one stiffward: -1 right-handed or not known, +1 left.

    Examples
    --------
    >>> hand_sign("right"), hand_sign("left")
    (-1, 1)
    """
    return 1 if hand == "left" else -1


def into_bow(points: Array, cant_deg: float) -> Array:
    """Points of the archer's view in the bow's own frame.

    Parameters
    ----------
    points : array (n, 2)
        Right and up [in].
    cant_deg : float
        Top limb to the right is positive [degree].

    Returns
    -------
    array (n, 2)
        To the bow's right and along its upper limb [in].

    Examples
    --------
    A stiff shaft from a right-hander's bow canted 20 degrees lands left and high, yet only to the
    left as the bow sees it:

    >>> import numpy as np
    >>> into_bow(np.array([[-0.9397, 0.3421]]), 20).round(3) + 0.0
    array([[-1.,  0.]])
    """
    angle = math.radians(cant_deg)
    c, s = math.cos(angle), math.sin(angle)
    x, y = points[:, 0], points[:, 1]
    return np.stack([x * c - y * s, x * s + y * c], axis=1)


def side_word(right: float, hand: Hand) -> Side:
    """What a tail that points to the bow's right (or left, negative) says of stiffness.

    Examples
    --------
    >>> side_word(1, "right"), side_word(1, "left"), side_word(0, "left")
    ('stiff', 'weak', 'straight')
    """
    told, lean = -right * hand_sign(hand), evidence_rules().value("lean_share")
    return "stiff" if told > lean else "weak" if told < -lean else "straight"


def height_word(up: float) -> Height:
    """High, low or straight; how far up in parts of one full lean."""
    lean = evidence_rules().value("lean_share")
    return "high" if up > lean else "low" if up < -lean else "straight"


def side_of(side: Side, hand: Hand) -> Literal["right", "left"]:
    """To which side a tail points, for a stiff or weak shaft.

    Examples
    --------
    >>> side_of("stiff", "right"), side_of("stiff", "left"), side_of("weak", "right")
    ('right', 'left', 'left')
    """
    return "right" if (side == "stiff") == (hand_sign(hand) < 0) else "left"
