"""What the bare shafts say, as text for a tired archer at the butt."""

from __future__ import annotations

from shaftwright.answers.diagnose.diagnose import Diagnosis, NothingShot
from shaftwright.answers.plan.result import Expect, Shot
from shaftwright.inference.band import Band
from shaftwright.render.words import band_told, bullets, chances, own_told, short, table, wrap
from shaftwright.units import distance_told, in_100, inches, offset_told

_MOST_ARROWS, _MOST_CAUSES = 6, 3


def bareshaft_text(found: Diagnosis, full: bool = False) -> str:
    """The answer in 80 columns; the first line is the one thing to do next."""
    plan = found.plan
    now = [s for s in plan.shot if s.period == 0]
    shown = now if full else now[:_MOST_ARROWS]
    units = found.scenario.rig.units
    yd = distance_told(20, units)
    parts = [wrap(plan.next.do)]
    head = "What you have shot from this bow:"
    if len(now) > len(shown):
        head = f"What you have shot from this bow ({len(now) - len(shown)} more with --full):"
    headers = ["  arrow", "ends", f"bare lands at {yd}", "reads"]
    parts.append(f"{head}\n{table([_row(s, units) for s in shown], headers, 'lrll')}")
    parts.append("\n".join(_why(found, full)))
    parts.append(_bands(found.band_before, found.band_after, _in_pounds(found)))
    if found.warnings and not full:
        many = len(found.warnings)
        parts.append(f"{many} note{'s' if many > 1 else ''} on your entries: --full")
    elif found.warnings:
        parts.append("In the notebook:\n" + bullets(found.warnings, "! "))
    if full and plan.next.cautions:
        parts.append(bullets(plan.next.cautions, "! "))
    return "\n\n".join((*parts, *own_told(found.scenario)))


def _row(shot: Shot, units: str) -> list[str]:
    setting = "" if shot.setting == "now" else f", {shot.setting}"
    point = f", {shot.point}" if shot.point else ""
    name = f"  {short(shot.shaft, 18)} {inches(shot.length_in, 32)}{point}{setting}"
    lands = "in words"
    if shot.offset_in is not None:
        side = "right" if shot.offset_in > 0 else "left"
        lands = f"{offset_told(abs(shot.offset_in), units)} {side}"
    told = {"contact": f"{shot.reads}, marks", "outside": shot.reads, "dangerous": "not to be shot"}
    return [short(name, 38), str(shot.groups), lands, told.get(shot.standing, shot.standing)]


def _why(found: Diagnosis, full: bool) -> list[str]:
    """Why it reads as it does, and what else it could be."""
    lines = [wrap(f"Why: {found.plan.next.why}", "  ", "")]
    if found.dangers:
        return lines
    least = 0.01 if full else 0.05
    for axis, most in (("sideways", _MOST_CAUSES), ("vertical", 1)):
        own = [c for c in found.causes if c.axis == axis]
        for cause in own[: len(own) if full else most]:
            if cause.chance < least or (axis == "vertical" and cause.code == "D21" and not full):
                break
            told = f"{cause.label} ({in_100(cause.chance)})"
            lines.append(wrap(f"{told}: {cause.check}" if full else told, "      ", "  - "))
    return lines


def nothing_shot_text(found: NothingShot) -> str:
    """The one next thing, and the band as it stands before the first bare shaft."""
    parts = [wrap(found.scenario.plan.next.do), "No bare shaft was shot from this bow yet."]
    bands = _bands(None, found.band_after, found.scenario.only_wood)
    return "\n\n".join([*parts, bands, *own_told(found.scenario)])


def _in_pounds(found: Diagnosis) -> bool:
    """Whether the arrow in question is of wood, whose spine is sold in pounds."""
    item = found.scenario.item(found.arrow.spec.shaft)
    return item is not None and item.wood_spine_lb is not None


def _bands(before: Band | None, after: Band, pounds: bool) -> str:
    at = f"{inches(after.length_in)}, {after.front_gr:.0f} gr up front ({in_100(after.chance)})"
    lines = [wrap(f"Spine that suits at {at}")]
    for name, band in (("before you shot", before), ("now", after)):
        if band is not None:
            lines.append(f"  {name:<17}{band_told(band, pounds)}")
    return "\n".join(lines)


def expect_told(expect: Expect) -> str:
    """Where the next bare centre should lie.

    Examples
    --------
    >>> expect_told(Expect("sideways", -3.24, 1.6, 0.8))
    'between 3 in left and 1 1/2 in right of the fletched one (4 chances in 5)'
    >>> expect_told(Expect("vertical", -3.24, 1.6, 0.8))
    'between 3 in low and 1 1/2 in high of the fletched one (4 chances in 5)'
    """
    less, more = ("low", "high") if expect.axis == "vertical" else ("left", "right")

    def place(x: float) -> str:
        return f"{offset_told(abs(x))} {less if x < 0 else more}"

    ends = f"{place(expect.low_in)} and {place(expect.high_in)}"
    return f"between {ends} of the fletched one ({chances(expect.chance)})"
