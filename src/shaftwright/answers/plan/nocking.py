"""The nocking point: how far to move it, which way, and what to expect."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.answers.plan.arrows import Arrow
from shaftwright.answers.plan.result import Expect, Next, Stage
from shaftwright.rules.diagnosis import diagnosis_rules
from shaftwright.rules.plan import plan_setting
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where


def nocking_point(where: Where, arrow: Arrow, stage: Stage, why: str = "") -> Next:
    """Bare shafts low: the point comes down; high: it goes up; a sixteenth, or two where it is far off."""
    rules, words = diagnosis_rules(), where.words
    up = arrow.up_in or 0.0
    tails = [e.reading.look.tail_up for e in arrow.ends]
    down = up < 0 if abs(up) > arrow.within_in / 2 else tails.count("high") > tails.count("low")
    step, per = rules.value("nocking_step_in"), rules.settings["height_per_step_in"]
    steps = 2 if abs(up) > 2.5 * per.value else 1
    false_high = arrow.marks == "shelf" and not down
    if false_high or _moved_without_effect(where, arrow, down):
        down, steps = False, round(rules.value("clearly_high_in") / step)
    amount = steps * step
    distance = plan_setting("prove_yd")
    scale = distance / 20
    spread = rules.value("height_doubt_groups") * arrow.within_in * scale
    sign = 1 if down else -1
    ends = sorted(scale * (up + sign * steps * value) for value in (per.low, per.high))
    expect = Expect("vertical", ends[0] - spread, ends[1] + spread, rules.value("expect_chance"))
    way = "Lower" if down else "Raise"
    now = where.scenario.rig.bow.nocking_point
    to = None if now is None else now.above_square_in + (-amount if down else amount)
    told = "" if to is None else f", to {inches(to, 32)} above square"
    seen = (
        f"The bare shafts land {words.off(up)} {'low' if up < 0 else 'high'}"
        if abs(up) > arrow.within_in / 2
        else f"The tails fly {'high' if down else 'low'}"
    )
    note = "shaftwright note change nocking_point"
    if to is not None:
        note += f' --nocking-point "{inches(to, 32)}"'
    return where.step(
        stage, "nocking_point",
        f"{way} the nocking point {inches(amount, 32)}{told}, and shoot the {words.shaft(arrow.spec)} "
        f"again: {words.arrow(arrow.spec)}, {words.yd(distance)}.",
        why or f"{seen}: nocking point first, left and right after.",
        arrow.spec, where.can_make(arrow), distance, note,
        setting=f"nocking point {inches(to, 32) if to is not None else way.lower()}", expect=expect,
        then="Level: left and right are next.",
        if_not="No change at all: the shaft bounces off the shelf. Raise it a quarter inch, then come down.",
    )  # fmt: skip


def _moved_without_effect(where: Where, arrow: Arrow, down: bool) -> bool:
    """Whether moving the point before left the same arrow as high or low as it was."""
    if not down or arrow.up_in is None:
        return False
    for other in where.here:
        moved = dict(other.setting).get("nocking point")
        if (
            other is arrow
            or moved is None
            or other.up_in is None
            or other.spec.shaft != arrow.spec.shaft
        ):
            continue
        enough = min(len(other.counting), len(arrow.counting)) >= plan_setting("straight_ends")
        if enough and other.up_in < -arrow.within_in and arrow.up_in < -arrow.within_in:
            return abs(other.up_in - arrow.up_in) < arrow.within_in / 2
    return False
