"""One entry of the notebook as it looks in the bow's own frame, at 20 yd: cant turned out, hands mirrored.

In the archer's view right and up are positive. In the bow's frame `stiffward` is the side to which
a stiff shaft lands: left for a right-handed archer, right for a left-handed one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shaftwright.arrays import Array, Bools
from shaftwright.parameters import setting
from shaftwright.records.notebook import BareShaft, Broadhead, Tail
from shaftwright.records.rig import Hand, Rig
from shaftwright.units import REFERENCE_YD

Side = Literal["stiff", "weak", "straight"]
Height = Literal["high", "low", "straight"]
_RIGHT: dict[str | None, float] = {"right": 1.0, "left": -1.0}
_UP: dict[str | None, float] = {"high": 1.0, "low": -1.0}


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
    told, lean = -right * hand_sign(hand), setting("evidence.lean_share")
    return "stiff" if told > lean else "weak" if told < -lean else "straight"


def height_word(up: float) -> Height:
    """High, low or straight; how far up in parts of one full lean."""
    lean = setting("evidence.lean_share")
    return "high" if up > lean else "low" if up < -lean else "straight"


def side_of(side: Side, hand: Hand) -> Literal["right", "left"]:
    """To which side a tail points, for a stiff or weak shaft.

    Examples
    --------
    >>> side_of("stiff", "right"), side_of("stiff", "left"), side_of("weak", "right")
    ('right', 'left', 'left')
    """
    return "right" if (side == "stiff") == (hand != "left") else "left"


@dataclass(frozen=True)
class Look:
    """What one entry shows.

    Attributes
    ----------
    bare, fletched : array (n, 2)
        Shots stiffward and up in the bow's frame, carried to 20 yd, from the fletched centre [in].
    fletched_in, bare_in : array (n, 2)
        The same shots as the archer saw them [in].
    cant_deg, distance_yd : float
        How the bow was held [degree], and how far [yd].
    side : Side or None
        Where the impact says the match is off; None where nothing is told.
    tail : Side or None
        Where the tails say it.
    tail_up : Height or None
        How the tails lie.
    tail_seen : float
        1 seen in flight, 0 in the butt.
    reads : Side or None
        The side of the archer's own word.
    void : str
        Why the group is no group; empty where it is one.
    """

    bare: Array
    fletched: Array
    bare_in: Array
    fletched_in: Array
    cant_deg: float
    distance_yd: float
    side: Side | None
    tail: Side | None
    tail_up: Height | None
    tail_seen: float
    reads: Side | None
    void: str

    @property
    def kept(self) -> Bools:
        """Bare shots that are no flier (n,)."""
        return without_flier(self.bare)

    @property
    def centre(self) -> Array | None:
        """Centre of the bare shots but fliers from the fletched one, stiffward and up at 20 yd (2,) [in]."""
        return self.bare[self.kept].mean(axis=0) if len(self.bare) else None

    @property
    def disagree(self) -> bool:
        """Whether impact (or the archer's word) and nock attitude tell opposite sides."""
        told = self.side if self.side in ("stiff", "weak") else self.reads
        return told in ("stiff", "weak") and self.tail in ("stiff", "weak") and told != self.tail

    @property
    def counts(self) -> bool:
        """Whether it says anything of stiffness."""
        return not self.void and not self.disagree


def without_flier(shots: Array) -> Bools:
    """All but one that lies far from the middle of the others (n,), where there are others that group.

    Examples
    --------
    >>> without_flier(np.array([[6.0, 0.0], [5.0, 1.0], [-12.0, -8.0]])).tolist()
    [True, True, False]
    >>> without_flier(np.array([[8.0, 0.0], [-1.0, 15.0], [-12.0, 0.0]])).tolist()
    [True, True, True]
    """
    kept = np.ones(len(shots), dtype=bool)
    if len(shots) > 2:
        others = (shots.sum(axis=0) - shots) / (len(shots) - 1)
        apart = np.hypot(*(shots - others).T)
        farthest = apart.argmax()
        kept[farthest] = False
        rest = shots[kept]
        # apart from others that lie together, not one of many strewn about
        wide = np.hypot(*(rest[:, None] - rest).T).max()
        kept[farthest] = apart[farthest] <= max(setting("evidence.flier_in"), wide)
    return kept


def look_at(entry: BareShaft | Broadhead, rig: Rig) -> Look:
    """An entry in the bow's own frame.

    Parameters
    ----------
    entry : BareShaft or Broadhead
        The entry; broadheads stand for the bare shots.
    rig : Rig
        Hand, and the cant where the entry states none.

    Returns
    -------
    Look
        Offsets at 20 yd, sides, heights, and whether the group is one.
    """
    hand = rig.archer.hand
    if isinstance(entry, BareShaft):
        shots, tails = [s.at for s in entry.bare], [s.tail for s in entry.bare]
        cant, words, reads = entry.cant_deg, entry.nock, _reads_side(entry.reads)
    else:
        shots, tails = list(entry.broadhead), []
        cant, words, reads = None, (), None
    cant = cant if cant is not None else rig.bow.cant_deg or 0.0
    bare_in = np.array(shots, dtype=float).reshape(len(shots), 2)
    fletched_in = np.array(entry.fletched, dtype=float).reshape(len(entry.fletched), 2)
    origin = fletched_in.mean(axis=0) if len(fletched_in) else np.zeros(2)
    scale = REFERENCE_YD / entry.distance_yd
    turn = np.array([hand_sign(hand), 1.0]) * scale
    bare = into_bow(bare_in - origin, cant) * turn
    fletched = into_bow(fletched_in - origin, cant) * turn
    side: Side | None = None
    held = bare[without_flier(bare)]
    if len(bare):
        aside, limit = float(held[:, 0].mean()), setting("evidence.disagree_in")
        side = "stiff" if aside > limit else "weak" if aside < -limit else "straight"
    told = [_tail_vector(t) for t in tails if t is not None and (t.side or t.up)]
    if words:
        told.append(
            (
                sum(_RIGHT[w] for w in words if w in _RIGHT),
                sum(_UP[w] for w in words if w in _UP),
                1.0,
            )
        )
    tail, tail_up, seen = _net_tail(told, cant, rig)
    return Look(
        bare, fletched, bare_in, fletched_in, cant, entry.distance_yd, side, tail, tail_up, seen,
        reads, _void(held, fletched),
    )  # fmt: skip


def _reads_side(reads: str | None) -> Side | None:
    if reads is None:
        return None
    return "stiff" if "stiff" in reads else "weak" if "weak" in reads else "straight"


def _tail_vector(tail: Tail) -> tuple[float, float, float]:
    """Right, up and whether seen in flight."""
    size = setting("evidence.slight_share") if tail.how == "slight" else 1.0
    right, up = _RIGHT.get(tail.side, 0.0), _UP.get(tail.up, 0.0)
    return right * size, up * size, float(tail.seen == "in_flight")


def _net_tail(
    told: list[tuple[float, float, float]], cant: float, rig: Rig
) -> tuple[Side | None, Height | None, float]:
    """The tails of a group taken together; those seen in flight count more."""
    if not told:
        return None, None, 0.0
    butt = setting("evidence.butt_share")
    weights = [1.0 if flight else butt for _, _, flight in told]
    mean = np.average(told, axis=0, weights=weights)
    right, up = into_bow(mean[None], cant)[0].tolist()
    side = None if rig.archer.hand == "unknown" else side_word(right, rig.archer.hand)
    return side, height_word(up), max(t[2] for t in told)


def _void(bare: Array, fletched: Array) -> str:
    """Why shots are no group; a test with one of the two scattered is void."""
    limit = setting("evidence.void_sd_in")
    for shots, name in ((fletched, "fletched"), (bare, "bare")):
        if len(shots) >= 2 and float(np.sqrt(shots.var(axis=0, ddof=1).mean())) > limit:
            return f"the {name} shafts do not group"
    return ""
