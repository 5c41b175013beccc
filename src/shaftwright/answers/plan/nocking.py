"""The nocking point: whether the height speaks of it, how far to move it, which way, what to expect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.arrows.shot import Arrow, End, pooled
from shaftwright.answers.plan.result import Expect, Next, Stage, set_as
from shaftwright.parameters import parameters, setting
from shaftwright.units import REFERENCE_YD, length_told, read_quantity

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where


@dataclass(frozen=True)
class Height:
    """How high the bare shafts land at one nocking point, all arrows together, at 20 yd."""

    at_in: float | None
    up_in: float | None
    ends: tuple[End, ...]

    @property
    def tails(self) -> int:
        """Tails seen high less tails seen low, in ends."""
        told = [e.reading.look.tail_up for e in self.ends]
        return told.count("high") - told.count("low")


def heights(where: Where) -> list[Height]:
    """What was seen at every nocking point since the last change of the bow; the present one first."""
    groups: dict[str, list[End]] = {"": []}
    for arrow in where.here:
        groups.setdefault(dict(arrow.setting).get("nocking point", ""), []).extend(arrow.counting)
    point = where.scenario.rig.bow.nocking_point
    here = point.above_square_in if point is not None else None
    return [
        Height(
            _inches(told) if told else here, pooled((e.up_in, e.shots) for e in ends), tuple(ends)
        )
        for told, ends in groups.items()
    ]


def _inches(told: str) -> float | None:
    try:
        return read_quantity(told, "in")
    except ValueError:
        return None


def height_is_off(where: Where) -> bool:
    """Whether the height at the present nocking point speaks of it, beyond the groups' doubt."""
    now = heights(where)[0]
    if now.up_in is None:
        return 2 * abs(now.tails) > len(now.ends)
    if abs(now.up_in) <= where.within:
        return False
    ends = sum(e.up_in is not None for e in now.ends)
    sure = abs(now.up_in) > height_doubt(where) / float(np.sqrt(ends))
    # low with the tail high, in more than one end
    few = ends < setting("plan.straight_ends")
    backed = (now.tails > 0 > now.up_in or now.tails < 0 < now.up_in) and not few
    return (sure or backed) and _target(where)[1] is not None


def height_doubt(where: Where) -> float:
    """How far high or low one end must lie before it is beyond the groups' doubt, at 20 yd [in]."""
    known = where.scenario.known
    one = (
        np.mean(known.bare_sd) ** 2 / where.bare + np.mean(known.fletched_sd) ** 2 / where.fletched
    )
    return setting("plan.height_sd") * float(np.sqrt(one))


def _target(where: Where) -> tuple[float, float | None]:
    """How far to move it, + up, and where it then is; None where nothing new is to be tried."""
    now, *others = heights(where)
    step, per = setting("diagnosis.nocking_step_in"), parameters("diagnosis")["height_per_step_in"]
    up = now.up_in if now.up_in is not None else -per.value * np.sign(now.tails)
    sign = 1.0 if up > 0 else -1.0
    sure = len(now.ends) >= setting("plan.straight_ends")
    far = sure and abs(up) > setting("plan.far_height_steps") * per.value
    move = sign * step * (2 if far else 1)
    if now.at_in is None:
        return move, move
    tried = [
        (h.at_in, h.up_in, len(h.ends)) for h in others if h.at_in is not None and h.up_in is not None
    ]  # fmt: skip
    here = now.at_in
    # off the other way, on the side it is to be moved to
    beyond = [
        (at, seen) for at, seen, _ in tried
        if (at > here and seen < 0 < sign) or (at < here and sign < 0 < seen)
    ]  # fmt: skip
    if beyond:
        # between a point that is too low and one that is too high
        at, seen = min(beyond, key=lambda b: abs(b[0] - here))
        apart, share = abs(at - here), abs(up) / (abs(up) + abs(seen))
        # in the finest steps that still lie between the two
        fine = step / 2 if apart > 0.75 * step else step / 4
        move = sign * round(apart * share / fine) * fine
    elif _without_effect(where, now, here, tried):
        move = setting("diagnosis.clearly_high_in")
    to = here + move

    def off_at(place: float) -> bool:
        return any(abs(at - place) < step / 8 and abs(seen) > where.within for at, seen, _ in tried)

    if off_at(to) and not beyond:
        # tried there and off the same way: past the farthest that was tried
        to = sign * (max(sign * at for at, _, _ in tried) + step)
        move = to - here
    return move, None if off_at(to) or not move else to


def _without_effect(
    where: Where, now: Height, here: float, tried: Sequence[tuple[float, float, int]]
) -> bool:
    """Whether it was moved down and the low shafts did not follow: they bounce off the shelf."""
    up, few = now.up_in, setting("plan.straight_ends")
    return up is not None and len(now.ends) >= few and any(
        at > here and seen < -where.within and ends >= few and abs(seen - up) < where.within / 2
        for at, seen, ends in tried
    )  # fmt: skip


def _for_heads(now: Height, heads_up_in: float) -> tuple[float, float | None]:
    """How far true broadheads ask it to be moved, + up, and where it then is."""
    step = setting("diagnosis.nocking_step_in")
    move = step if heads_up_in > 0 else -step
    return move, None if now.at_in is None else now.at_in + move


def tried_by_heads(where: Where, heads_up_in: float) -> bool:
    """Whether the nocking point sat already where true broadheads now ask for it."""
    now, *others = heights(where)
    move, to = _for_heads(now, heads_up_in)
    return to is not None and any(
        h.at_in is not None and abs(h.at_in - to) < abs(move) / 4 for h in others
    )  # fmt: skip


def nocking_point(
    where: Where, arrow: Arrow, stage: Stage, why: str = "", heads_up_in: float | None = None
) -> Next:
    """Shafts low: the point comes down; high: up; by the bare shafts, or by true broadheads."""
    words = where.words
    now = heights(where)[0]
    step, per = setting("diagnosis.nocking_step_in"), parameters("diagnosis")["height_per_step_in"]
    move, to = _target(where)
    if heads_up_in is not None:
        move, to = _for_heads(now, heads_up_in)
    at, others = now.at_in, heights(where)[1:]
    if arrow.marks == "shelf" and heads_up_in is None:
        raised = at is not None and any(h.at_in is not None and h.at_in < at for h in others)
        if move >= 0 or not raised:
            move = setting("diagnosis.clearly_high_in")
            to = None if at is None else at + move
    scale = where.far_yd / REFERENCE_YD
    up = (now.up_in or 0.0) if heads_up_in is None else heads_up_in
    spread = setting("diagnosis.height_doubt_groups") * where.within * scale
    ends = sorted(scale * (up - move / step * value) for value in (per.low, per.high))
    expect = Expect(
        "vertical", ends[0] - spread, ends[1] + spread, setting("diagnosis.expect_chance")
    )
    way, units = "Lower" if move < 0 else "Raise", where.scenario.rig.units
    exact = None if to is None or at is None else length_told(to, units)
    seen = (
        f"The bare shafts land {words.up(up)}"
        if abs(up) > where.within / 2
        else f"The tails fly {'high' if now.tails > 0 else 'low'}"
    )
    to_told = f", to {exact} above square" if exact else ""
    return where.shoot(
        stage, "nocking_point",
        f"{way} the nocking point {length_told(abs(move), units)}{to_told}, and shoot the "
        f"{words.shaft(arrow.spec)} again: {words.arrow(arrow.spec)}, {words.yd(where.far_yd)}.",
        why or f"{seen}: nocking point first, left and right after.", arrow,
        **set_as("nocking_point", **({"nocking_point": exact} if exact else {})),
        setting=f"nocking point {exact or ('lowered' if move < 0 else 'raised')}", expect=expect,
        then="Level: left and right are next.",
        if_not="No change at all: the shaft bounces off the shelf. Raise it a quarter inch, then come down.",
    )  # fmt: skip
