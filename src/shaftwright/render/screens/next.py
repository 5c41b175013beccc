"""What to do now and what to expect; the afternoon's sheet, a row an arrow."""

from __future__ import annotations

from shaftwright.answers.plan.result import Expect, Shot
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.sheet.result import Row, Sheet, Way
from shaftwright.render.words import own_told, short, table, wrap
from shaftwright.units import REFERENCE_YD, aside_told, distance_told, inches, offset_told

_MOST_CAUTIONS = 3
#: with one more for the files it rests on; over it, a blank line is given up
_MOST_LINES = 11
_SIDES = {"sideways": ("left", "right"), "vertical": ("low", "high")}


def next_text(asked: Scenario, full: bool = False) -> str:
    """What to do in one sentence, then the rest indented; with `full` also every arrow shot."""
    now, units = asked.now, asked.rig.units
    coming = " ".join(
        part for part in (now.expect and expect_told(now.expect, units), now.then) if part
    )
    told = [wrap(part, "  ") for part in (now.why, coming, now.if_not) if part]
    step = [wrap(now.note, "            ", "  Note it:  ")] if now.note else []
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
        if when := shot_when(one):
            head += "\n" + wrap(when, "    ")
    return head


def shot_when(one: Shot) -> str:
    """From which bow and setting an arrow was shot, where not from the bow as it stands."""
    last = "last change" if one.period == 1 else f"last {one.period} changes"
    told = [f"shot before the bow's {last}"] if one.period else []
    told += [f"shot with {one.setting}"] if one.setting != "now" else []
    return ", ".join(told).replace(", shot", ",")


def landed(offset_in: float | None, units: str) -> str:
    """Where the bare ones of an arrow landed from the fletched."""
    if offset_in is None:
        return "-"
    told = aside_told(offset_in, units)
    return "level" if told.startswith("0 ") else told


#: beyond the last line
MARKS_FIRST = "stop: look for marks"


def sheet_text(sheet: Sheet) -> str:
    """First what to shoot, then what comes before the rows, then the rows."""
    first = sheet.rows[0]
    units = sheet.question.rig.units
    parts = [
        wrap(
            f"{begin_told(sheet)}: {arrow_told(first)}, {distance_told(first.distance_yd, units)}, 3 and 3."
        ),
        "\n".join(wrap(line, "    ", "  ") for line in how_to(sheet)),
        "After every end, first:\n" + "\n".join(wrap(gate, "    ", "  ! ") for gate in sheet.gates),
        *(_row_text(sheet, row) for row in sheet.rows),
        "\n".join(wrap(caution, "    ", "  ! ") for caution in sheet.cautions),
    ]
    return "\n\n".join(part for part in parts if part)


def begin_told(sheet: Sheet) -> str:
    """What is done before the first end."""
    first = sheet.rows[0]
    if first.then.kind == "cut":
        return (
            f"Cut one {first.shaft} to {inches(first.length_in, 32)} at home, then begin with row 1"
        )
    return "Begin with row 1"


def how_to(sheet: Sheet) -> tuple[str, str, str]:
    """How the rows are read."""
    return (
        "Three fletched, three bare. Middle of the bare from the middle of the fletched, sideways: that "
        "line of the row says which row comes next. Shoot "
        f"{sheet.ends} ends, note them, then ask next.",
        "An arrow shot again from the same distance is read at the middle of all its ends.",
        f"{sheet.weak.capitalize()} is weak, {sheet.stiff} is stiff.",
    )


def arrow_told(row: Row) -> str:
    """The arrow of a row, and how the bow is set for it."""
    piece = row.then.piece or 1
    which = f"piece {piece}" if piece > 1 else ""
    told = (f"{row.shaft} {inches(row.length_in, 32)}", which, row.front, *row.settings)
    return ", ".join(filter(None, told))


def again_told(row: Row) -> str:
    """Which end of the arrow it is, where not the first."""
    noted = {0: "", 1: "your noted end counts too"}
    first = noted.get(row.ends_noted, f"your {row.ends_noted} noted ends count too")
    told = (first, "second end: middle of both", "third end: middle of all three")
    return told[row.ends_before] if row.ends_before < len(told) else "again: middle of all its ends"


def way_told(sheet: Sheet, row: Row, way: Way, at_yd: float) -> str:
    """How far aside, seen from that far."""
    units, scale = sheet.question.rig.units, at_yd / REFERENCE_YD
    far = offset_told(way.to_in * scale, units)
    if way.side == "straight":
        return f"within {far}"
    near = offset_told(way.from_in * scale, units).rpartition(" ")[0]
    return f"{near} to {far} {side_told(sheet, way)}"


def side_told(sheet: Sheet, way: Way) -> str:
    """Left or right."""
    return {"stiff": sheet.stiff, "weak": sheet.weak}.get(way.side, "")


def goes_to(row: Row, way: Way) -> str:
    """What the line says: the row, and what of the arrow changes."""
    if way.row is None:
        return way.do
    if way.row == row.number:
        return "this row again"
    return f"row {way.row}: {way.do}" if way.do else f"row {way.row}"


def beyond(sheet: Sheet, at_yd: float) -> str:
    """The last line of every row."""
    return f"beyond {offset_told(sheet.stop_in * at_yd / REFERENCE_YD, sheet.question.rig.units)}"


def in_order(row: Row) -> list[Way]:
    """Straight, then the weak side outward, then the stiff."""
    order = {"straight": 0, "weak": 1, "stiff": 2}
    return sorted(row.ways, key=lambda w: (order[w.side], w.from_in))


def lines(sheet: Sheet, row: Row, at_yd: float, once: bool = True) -> list[tuple[str, str]]:
    """What may be seen from that far, and where it leads; at once, where straight leads there too."""
    straight, *others = in_order(row)
    on = goes_to(row, straight)
    beside = [w for w in others if once and w.from_in == row.within_in and goes_to(row, w) == on]
    ends = [
        f"{offset_told(w.to_in * at_yd / REFERENCE_YD, sheet.question.rig.units)} {side_told(sheet, w)}"
        for w in beside
    ]
    told = " or ".join(ends)
    if len(ends) < len({w.side for w in others}):
        told = ", or up to ".join([way_told(sheet, row, straight, at_yd), *ends])
    else:
        told = f"up to {told}"
    return [
        (told, on),
        *((way_told(sheet, row, w, at_yd), goes_to(row, w)) for w in others if w not in beside),
        (beyond(sheet, at_yd), MARKS_FIRST),
    ]


def _row_text(sheet: Sheet, row: Row) -> str:
    units, here = sheet.question.rig.units, row.distance_yd
    told = ", ".join(filter(None, (arrow_told(row), distance_told(here, units), again_told(row))))
    far = abs(here - REFERENCE_YD) > 0.1
    rows: list[tuple[str, ...]] = list(lines(sheet, row, here, not far))
    if far:
        rows = [
            (*line, at)
            for line, (at, _) in zip(rows, lines(sheet, row, REFERENCE_YD, False), strict=True)
        ]
    heads = ("", "", f"at {distance_told(REFERENCE_YD, units)}") if far else ()
    return (
        wrap(told, "     ", f"{row.number:>3}  ")
        + "\n"
        + table(rows, heads, "lll" if far else "ll", gap="   ", indent="     ")
    )
