"""The one next thing as text: what to do, why, what to expect, and what it means if it does not come."""

from __future__ import annotations

from shlex import quote
from typing import TYPE_CHECKING

from shaftwright.answers.plan.result import Expect, Shot
from shaftwright.render.words import own_told, short, table, wrap
from shaftwright.units import inches, offset_told

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario

_MOST_CAUTIONS = 3
#: with one more for the files it rests on; over it, a blank line is given up
_MOST_LINES = 11
_LONGEST_FOLDER = 24
_SIDES = {"sideways": ("left", "right"), "vertical": ("low", "high")}


def next_text(asked: Scenario, full: bool = False, folder: str = "") -> str:
    """What to do in one sentence, then the rest indented; with `full` also every arrow shot.

    A folder that was named is named again in the line to type, if it is short.
    """
    now, units = asked.plan.next, asked.rig.units
    coming = " ".join(
        part for part in (now.expect and expect_told(now.expect, units), now.then) if part
    )
    told = [wrap(part, "  ") for part in (now.why, coming, now.if_not) if part]
    note = now.note or ""
    if 0 < len(folder) <= _LONGEST_FOLDER:
        note = note.replace("shaftwright note", f"shaftwright note {quote(folder)}")
    step = [wrap(note, "            ", "  Note it:  ")] if note else []
    step += [wrap(caution, "    ", "  ! ") for caution in now.cautions[:_MOST_CAUTIONS]]
    step += [f"  {line}" for line in own_told(asked)]
    parts = ["\n".join(lines) for lines in (told, step) if lines]
    if not full and len("\n\n".join((wrap(now.do), *parts)).split("\n")) > _MOST_LINES:
        parts = ["\n".join(parts)]
    if full and asked.plan.shot:
        parts.append("What was shot\n" + shot_table(asked.plan.shot, units))
    if full and asked.warnings:
        parts.append("\n".join(wrap(one, "    ", "  ! ") for one in asked.warnings))
    return "\n\n".join((wrap(now.do), *parts))


def expect_told(expect: Expect, units: str = "imperial") -> str:
    """Where the next bare centre should lie.

    Examples
    --------
    >>> expect_told(Expect("sideways", 1.0, 4.1, 0.8))
    'Expect the bare ones 1 to 4 in right of the fletched.'
    >>> expect_told(Expect("vertical", -5.0, 0.5, 0.8), "metric")
    'Expect the bare ones between 13 cm low and 1.5 cm high of the fletched.'
    """
    lower, upper = _SIDES[expect.axis]
    low, high = offset_told(abs(expect.low_in), units), offset_told(abs(expect.high_in), units)
    if expect.low_in < 0 < expect.high_in:
        where = f"between {low} {lower} and {high} {upper}"
    else:
        side = upper if expect.low_in + expect.high_in > 0 else lower
        near, far = (low, high) if side == upper else (high, low)
        where = f"{'about ' if near == far else near.rpartition(' ')[0] + ' to '}{far} {side}"
    return f"Expect the bare ones {where} of the fletched."


def shot_table(shot: tuple[Shot, ...], units: str = "imperial") -> str:
    """Every arrow shot, best first: how often, where the bare ones land at 20 yd, and where it stands."""
    rows = []
    for one in shot:
        long = inches(one.length_in).removesuffix(" in")
        named = (one.shaft, long, one.point, one.insert)
        arrow = short(" ".join(part for part in named if part), 28)
        lands = landed(one.offset_in, units)
        rows.append((arrow, one.groups, lands, one.reads, one.standing))
    head, *lines = table(
        rows, ("arrow", "ends", "bare lands", "reads", "stands"), "lrlll", indent="  "
    ).split("\n")
    for one, line in zip(shot, lines, strict=True):
        head += f"\n{line}"
        if one.setting != "now":
            head += "\n" + wrap(f"shot with {one.setting}", "    ")
    return head


def landed(offset_in: float | None, units: str) -> str:
    """Where the bare ones of an arrow landed from the fletched."""
    if offset_in is None:
        return "-"
    told = offset_told(abs(offset_in), units)
    if told.startswith("0 "):
        return "level"
    return f"{told} {'right' if offset_in > 0 else 'left'}"
