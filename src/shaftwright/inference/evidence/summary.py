"""Each reading told back: what was expected, what was seen, and which readings contradict others."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shaftwright.arrays import Array
from shaftwright.inference.evidence.look import Look
from shaftwright.inference.evidence.periods import Taken
from shaftwright.parameters import setting
from shaftwright.physics import normal


@dataclass(frozen=True)
class Reading(Taken):
    """One entry, expected against seen.

    Attributes
    ----------
    build : int
        Index into `Learned.builds`.
    look : Look
        In the bow's frame at 20 yd.
    seen_in, expected_in : float or None
        Stiffward offset of the bare centre at 20 yd, seen and expected after all shots [in].
    doubt_in : float
        One standard deviation of seen less expected [in].
    counted : bool
        Whether it speaks of stiffness at all.
    contradicts : bool
        Whether it stands against what all readings together say.
    unexpected : bool
        Whether it, the only one that counts, stands against what the rules let expect.
    """

    build: int
    look: Look
    seen_in: float | None
    expected_in: float
    doubt_in: float
    counted: bool
    contradicts: bool
    unexpected: bool


def reading_of(
    taken: Taken, look: Look, build: int, mismatch: Array, slope: Array, bare_sd: float,
    shift_sd: float, alone: bool,
) -> Reading:  # fmt: skip
    """Summarise one entry.

    Parameters
    ----------
    taken, look : Taken, Look
        The entry with its rig, and as it looks in the bow's frame.
    build : int
        Index of its build.
    mismatch, slope : array (D,)
        Draws after all shots [lb], [in/lb].
    bare_sd, shift_sd : float
        Scatter at 20 yd [in].
    alone : bool
        Whether no other reading counts, so that there is nothing to contradict.

    Returns
    -------
    Reading
        With a contradiction where it lies far from what is expected.
    """
    expected = mismatch * slope
    centre = look.centre
    seen = None if centre is None else float(centre[0])
    ratio = setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
    variance = bare_sd**2 / max(len(look.bare), 1) + shift_sd**2
    variance += (bare_sd * ratio) ** 2 / max(len(look.fletched), 1)
    # seen has pulled the expectation towards itself; its own doubt alone is the measure
    limit = setting("evidence.contradiction_sd") * float(np.sqrt(variance))
    against = seen is not None and abs(seen - float(expected.mean())) > limit
    against = against or _word_against(look.reads, mismatch)
    return Reading(
        **vars(taken), build=build, look=look, seen_in=seen, expected_in=float(expected.mean()),
        doubt_in=float(np.sqrt(variance + expected.var())), counted=look.counts and not taken.silent,
        contradicts=against and not alone and not taken.silent, unexpected=against and alone,
    )  # fmt: skip


def _word_against(side: str | None, mismatch: Array) -> bool:
    """Whether a word names a side that all readings together make unlikely."""
    if side not in ("stiff", "weak"):
        return False
    way = 1.0 if side == "stiff" else -1.0
    right_side = normal.cdf(way * mismatch / setting("evidence.word_edge_lb"))
    return bool(right_side.mean() < setting("evidence.word_against_chance"))


def contradictions(readings: tuple[Reading, ...]) -> list[str]:
    """Readings that stand against the others, and pairs of one build that stand apart.

    Parameters
    ----------
    readings : tuple of Reading
        All of them.

    Returns
    -------
    list of str
        One sentence each.
    """
    told: list[str] = []
    for reading in readings:
        look = reading.look
        if look.void:
            told.append(f"line {reading.line}: {look.void}; it is read for nothing else")
        elif look.disagree:
            told.append(
                f"line {reading.line}: impact and nock tell opposite sides; nothing is learned about "
                "spine from it"
            )
        elif reading.contradicts:
            told.append(f"line {reading.line}: this reading contradicts the others")
        elif reading.unexpected:
            told.append(
                f"line {reading.line}: this reading lies far from what the rules expect of this build; "
                "shoot it once more before you believe it"
            )
    limit = setting("evidence.pair_share") * setting("evidence.contradiction_sd")
    for i, one in enumerate(readings):
        for other in readings[i + 1 :]:
            if one.build == other.build and _apart(one, other, limit):
                told.append(
                    f"lines {one.line} and {other.line} contradict each other: the same build, "
                    "two readings; shoot it once more"
                )
    return told


def _apart(one: Reading, other: Reading, limit: float) -> bool:
    if not (one.counted and other.counted):
        return False
    if one.seen_in is not None and other.seen_in is not None:
        doubt = float(np.hypot(one.doubt_in, other.doubt_in))
        return abs(one.seen_in - other.seen_in) > limit * doubt
    sides = {_told(one), _told(other)}
    return sides == {"stiff", "weak"}


def _told(reading: Reading) -> str | None:
    return reading.look.reads if reading.seen_in is None else reading.look.side
