"""The nocking point: whether the height speaks of it, how far to move it, which way, what to expect."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.arrows.shot import Arrow, End
from shaftwright.answers.plan.result import Expect, Next, Stage
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.plan import plan_setting
from shaftwright.units import inches, read_quantity

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where

_FINEST = 64


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
    found = []
    for told, ends in groups.items():
        at = point.above_square_in if point is not None and not told else _inches(told)
        seen = [(e.up_in, len(e.reading.look.bare)) for e in ends if e.up_in is not None]
        up = sum(u * n for u, n in seen) / sum(n for _, n in seen) if seen else None
        found.append(Height(at, up, tuple(ends)))
    return found


def _inches(told: str) -> float | None:
    try:
        return read_quantity(told, "in")
    except ValueError:
        return None


def height_is_off(where: Where) -> bool:
    """Whether the height at the present nocking point speaks of it, beyond the groups' doubt."""
    now = heights(where)[0]
    if not now.ends:
        return False
    if now.up_in is None:
        return 2 * abs(now.tails) > len(now.ends)
    if abs(now.up_in) <= where.within:
        return False
    known = where.scenario.known
    ends = sum(e.up_in is not None for e in now.ends)
    one = (
        np.mean(known.bare_sd) ** 2 / where.bare + np.mean(known.fletched_sd) ** 2 / where.fletched
    )
    sure = abs(now.up_in) > plan_setting("height_sd") * float(np.sqrt(one / ends))
    # low with the tail high, in more than one end
    few = ends < plan_setting("straight_ends")
    backed = now.tails and (now.tails > 0) == (now.up_in < 0) and not few
    return bool(sure or backed) and _target(where)[1] is not None


def _target(where: Where) -> tuple[float, float | None]:
    """How far to move it, + up, and where it then is; None where nothing new is to be tried."""
    rules = diagnosis_rules()
    now, *others = heights(where)
    step, per = rules.value("nocking_step_in"), rules.settings["height_per_step_in"]
    up = now.up_in if now.up_in is not None else -per.value * np.sign(now.tails)
    sign = 1.0 if up > 0 else -1.0
    tried = [h for h in others if h.at_in is not None and h.up_in is not None]
    sure = len(now.ends) >= plan_setting("straight_ends")
    move = (
        sign * step * (2 if sure and abs(up) > plan_setting("far_height_steps") * per.value else 1)
    )
    if now.at_in is None:
        return move, now.at_in or 0.0
    beyond = [
        h
        for h in tried
        if (h.at_in or 0.0) * sign > now.at_in * sign and (h.up_in or 0.0) * sign < 0
    ]
    if beyond:
        # between a point that is too low and one that is too high
        other = min(beyond, key=lambda h: abs((h.at_in or 0.0) - (now.at_in or 0.0)))
        apart = abs((other.at_in or 0.0) - now.at_in)
        share = abs(up) / (abs(up) + abs(other.up_in or 0.0))
        # in the finest steps that still lie between the two
        fine = step / 2 if apart > 0.75 * step else step / 4
        move = sign * round(apart * share / fine) * fine
    elif _without_effect(where, now, tried):
        move = rules.value("clearly_high_in")
    to = now.at_in + move

    def off_at(place: float) -> bool:
        return any(
            abs((h.at_in or 0.0) - place) < step / 8 and abs(h.up_in or 0.0) > where.within
            for h in tried
        )

    if off_at(to) and not beyond:
        # tried there and off the same way: past the farthest that was tried
        to = sign * (max(sign * (h.at_in or 0.0) for h in tried) + step)
        move = to - now.at_in
    return move, None if off_at(to) or abs(move) < step / 8 else to


def _without_effect(where: Where, now: Height, tried: list[Height]) -> bool:
    """Whether it was moved down and the low shafts did not follow: they bounce off the shelf."""
    low = [
        h
        for h in tried
        if (h.at_in or 0.0) > (now.at_in or 0.0) and (h.up_in or 0.0) < -where.within
    ]
    few = int(plan_setting("straight_ends"))
    return now.up_in is not None and any(
        min(len(h.ends), len(now.ends)) >= few
        and abs((h.up_in or 0.0) - now.up_in) < where.within / 2
        for h in low
    )


def _for_heads(now: Height, heads_up_in: float) -> tuple[float, float | None]:
    """How far true broadheads ask it to be moved, + up, and where it then is."""
    step = diagnosis_rules().value("nocking_step_in")
    move = step if heads_up_in > 0 else -step
    return move, None if now.at_in is None else now.at_in + move


def tried_by_heads(where: Where, heads_up_in: float) -> bool:
    """Whether the nocking point sat already where true broadheads now ask for it."""
    now, *others = heights(where)
    move, to = _for_heads(now, heads_up_in)
    return to is not None and any(abs((h.at_in or 0.0) - to) < abs(move) / 4 for h in others)


def nocking_point(
    where: Where, arrow: Arrow, stage: Stage, why: str = "", heads_up_in: float | None = None
) -> Next:
    """Shafts low: the point comes down; high: up; by the bare shafts, or by true broadheads."""
    rules, words = diagnosis_rules(), where.words
    now = heights(where)[0]
    step, per = rules.value("nocking_step_in"), rules.settings["height_per_step_in"]
    move, to = _target(where)
    if heads_up_in is not None:
        move, to = _for_heads(now, heads_up_in)
    at = now.at_in
    raised = any(
        h.at_in is not None and at is not None and h.at_in < at for h in heights(where)[1:]
    )
    if arrow.marks == "shelf" and heads_up_in is None and (move > 0 or not raised):
        move = rules.value("clearly_high_in")
        to = None if now.at_in is None else now.at_in + move
    distance = plan_setting("prove_yd")
    scale = distance / 20
    up = now.up_in if now.up_in is not None else 0.0
    if heads_up_in is not None:
        up = heads_up_in
    spread = rules.value("height_doubt_groups") * where.within * scale
    ends = sorted(scale * (up - move / step * value) for value in (per.low, per.high))
    expect = Expect("vertical", ends[0] - spread, ends[1] + spread, rules.value("expect_chance"))
    way = "Lower" if move < 0 else "Raise"
    told = "" if to is None or now.at_in is None else f", to {inches(to, _FINEST)} above square"
    seen = (
        f"The bare shafts land {words.off(up)} {'low' if up < 0 else 'high'}"
        if abs(up) > where.within / 2
        else f"The tails fly {'high' if now.tails > 0 else 'low'}"
    )
    note = "shaftwright note change nocking_point"
    if told:
        note += f' --nocking-point "{inches(to or 0.0, _FINEST)}"'
    return where.step(
        stage, "nocking_point",
        f"{way} the nocking point {inches(abs(move), _FINEST)}{told}, and shoot the "
        f"{words.shaft(arrow.spec)} again: {words.arrow(arrow.spec)}, {words.yd(distance)}.",
        why or f"{seen}: nocking point first, left and right after.",
        arrow.spec, where.can_make(arrow), distance, note,
        setting=f"nocking point {inches(to or 0.0, _FINEST)}" if told else f"nocking point {way.lower()}d",
        expect=expect, then="Level: left and right are next.",
        if_not="No change at all: the shaft bounces off the shelf. Raise it a quarter inch, then come down.",
    )  # fmt: skip
