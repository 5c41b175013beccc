"""Brace height and settling strings as text and as a picture."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.measure.brace import Brace, Creep
from shaftwright.measure.sweep import SPEED, SPREAD, Swept, sixteenths
from shaftwright.render.words import bullets, opening, own_told, table, tame, wrap
from shaftwright.resources import measuring
from shaftwright.units import cap, convert, inches, length_told, read_quantity

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from shaftwright.answers.scenario import Scenario


_LINES = 25
_NUMBER = r"\d+(?:\.\d+|(?: \d+)?/\d+)?"
_LENGTH = re.compile(rf"(?:\b({_NUMBER}) to )?\b({_NUMBER}) in(?![\w-])")


def brace_text(answer: Brace, asked: Scenario | None = None) -> str:
    """Where to brace, then what each reading says, then the strings, on one screen.

    Where a bow was given, its one next thing comes before.
    """
    text, units = "", "imperial" if asked is None else asked.rig.units
    for heights in range(9, 2, -1):
        text = _text(answer, heights, units)
        if text.count("\n") < _LINES:
            break
    return "\n\n".join([*([] if asked is None else [opening(asked), *own_told(asked)]), text])


def _in_units(text: str, units: str) -> str:
    """A text with its lengths as they are measured in the rig's unit."""
    if units != "metric":
        return text

    def told(match: re.Match[str]) -> str:
        low, high = (
            length_told(read_quantity(x, "in"), units) if x else "" for x in match.groups()
        )
        unit = high.rpartition(" ")[2]
        return f"{low.removesuffix(f' {unit}')} to {high}" if low else high

    return _LENGTH.sub(told, text)


def _text(answer: Brace, heights: int, units: str) -> str:
    def wrapped(line: str, *indents: str) -> str:
        return wrap(_in_units(line, units), *indents)

    parts = [wrapped(f"{cap(answer.verdict)}.")]
    more = [wrapped(line, "    ", "  ") for line in (_luck(answer), _now(answer)) if line]
    shown = answer.sweep.read
    if more:
        parts.append("\n".join(more))
    if shown:
        told = [wrapped(line, "    ", "  ") for line in _sweeps(answer, shown)]
        parts.append("\n".join([_settings(answer, shown, heights, units), *told]))
    # the newest string where the sweep comes first, else the two newest
    strings = _strings(answer.creep, answer.verdict)[-1 if shown else -2 :]
    parts += [wrapped(line, "    ", "  ") for line in strings]
    warnings = list(answer.sweep.warnings[:2])
    if shown:
        warnings.append("stay within the bow maker's range of brace heights")
    if warnings:
        parts.append(bullets(warnings, "! "))
    return "\n\n".join(parts)


def _luck(answer: Brace) -> str:
    best = answer.sweep.optimum
    if best is None or best.kind == "any":
        return ""
    times = f"once in {1 / best.luck:.0f}" if best.luck > 1e-3 else "less than once in 1000"
    more = "" if best.sure == "sure" else " Two more shots at each height would make it surer."
    return f"Luck alone would look like this {times} such sweeps.{more}"


def _now(answer: Brace) -> str:
    """Where it stands, and the twists from there."""
    now, told = answer.brace_now_in, answer.twists
    if now is None or answer.sweep.optimum is None:
        return ""
    if told is None:
        there = " there now, at" if answer.target_in else " at"
        return f"It stands{there} {sixteenths(now)}."
    way = "put in" if told.way == "in" else "take out"
    rule, own = f"{told.rule.low:.0f} to {told.rule.high:.0f}", told.by_own_readings
    thumb = f"{rule} twists by rule of thumb"
    many = f"some {own:.0f} twists by your own readings ({rule} by rule of thumb)" if own else thumb
    low, high = measuring("twists_per_in_low"), measuring("twists_per_in_high")
    return (
        f"It stands at {sixteenths(now)}: {way} {many}, a few at a time, and read again. Keep {low:g} to "
        f"{high:g} twists for each inch of string."
    )


def _settings(answer: Brace, shown: Sequence[Swept], most: int, units: str) -> str:
    """One row a brace height: what was read there, restringings of one height together."""
    import pandas as pd

    of = "" if answer.string is None else f"String {tame(answer.string)}. "
    heights: dict[float, list[str]] = {}
    for place, one in enumerate(shown):
        read = pd.DataFrame(one.settings)
        read["sum"] = read["n"] * read[one.what.column]
        for height, (n, total) in read.groupby("brace_in")[["n", "sum"]].sum().iterrows():
            cells = heights.setdefault(float(str(height)), ["-", "0"] * len(shown))
            mean = total / n
            if one.what is SPREAD and units == "metric":
                mean = convert(mean, "in", "cm")
            cells[2 * place : 2 * place + 2] = [f"{mean:.1f}", f"{n:.0f}"]
    best = answer.sweep.optimum
    middle = best.best_in if best else sum(heights) / len(heights)
    nearest = sorted(sorted(heights, key=lambda height: abs(height - middle))[:most])
    rows = [[_in_units(sixteenths(height), units), *heights[height]] for height in nearest]
    headers = ["brace", *(text for one in shown for text in (_column(one, units), "shots"))]
    left = len(heights) - len(rows)
    more = f" ({left} farther from the best left out)" if left else ""
    head = wrap(f"{of}Read at each brace height{more}:")
    return f"{head}\n{table(rows, headers, 'l' + 'rr' * len(shown), indent='  ')}"


def _column(one: Swept, units: str) -> str:
    """What a column holds; a speed and a level are known by their unit."""
    spread = f"bare spread, {'cm' if units == 'metric' else 'in'}"
    return spread if one.what is SPREAD else one.what.unit


def _sweeps(answer: Brace, shown: Sequence[Swept]) -> list[str]:
    """Where each reading by itself is best, where the sweep says anything."""
    best, slope = answer.sweep.optimum, answer.sweep.fps_per_quarter_in
    if best is None or best.kind == "any":
        return []
    found = []
    for one in shown:
        fit, curve = one.fit, one.curve
        if fit is None or fit.chance_it_matters < 0.5:
            continue
        span = fit.best_in
        if (span.low, span.high) == (curve[0]["brace_in"], curve[-1]["brace_in"]):
            continue  # anywhere
        low, mid, high = (inches(round(v * 8) / 8, 8) for v in (span.low, span.mid, span.high))
        where = f"(4 chances in 5: {low.removesuffix(' in')} to {high})"
        line = f"{one.what.heading}: {one.what.most} near {mid} {where}."
        if one.what is SPEED and slope is not None:
            line += f" Each 1/4 in higher: {slope.mid:+.1f} fps."
        found.append(line)
    return found


def _strings(strings: Sequence[Creep], said: str) -> list[str]:
    """A line a string; what the first line said already is not told again."""
    lines = []
    for told in strings:
        name = "String" if told.string is None else f"String {tame(told.string)}"
        if len({one.period for one in strings}) > 1:
            name += f", after {told.period} changes" if told.period else ", before any change"
        readings = "1 reading" if told.n == 1 else f"{told.n} readings"
        line = f"{name}, {readings}, now {sixteenths(told.brace_in)}"
        line += "." if told.verdict == said else f": {told.verdict}."
        left = told.remaining_in
        if left is not None and left.high >= 1 / 32:
            line += f" Still to fall: {left.low:.2f} to {left.high:.2f} in."
        lines.append(line)
    return lines


def brace_figure(answer: Brace) -> Figure:
    """Each quantity over brace height with its band, and brace over shots; id `brace`."""
    from shaftwright.render.pictures.around import titled
    from shaftwright.render.pictures.figure import new_figure, plain

    shown = [one for one in answer.sweep.read if one.curve]
    counted = [c for c in answer.creep if any(r["shots_on"] is not None for r in c.readings)]
    rows = max(len(shown) + bool(counted), 1)
    named = answer.verdict if answer.verdict.startswith("brace") else f"brace: {answer.verdict}"
    verdict = f"B{named[1:]}."
    figure = new_figure(
        "brace", "Brace height", plain(
            "Readings and fitted curve with 95 % band over brace height in inches; the good range is "
            f"hatched. {verdict}", 600,
        ), 0.6 + 2.3 * rows,
    )  # fmt: skip
    titled(figure, verdict)
    grid = figure.add_gridspec(rows, 1)
    for i, one in enumerate(shown):
        _sweep_panel(figure, grid[i], one)
    if counted or not shown:
        _creep_panel(figure, grid[len(shown)], counted or answer.creep)
    return figure


def _sweep_panel(figure: Figure, place: Any, one: Swept) -> None:
    import pandas as pd

    from shaftwright.render.pictures.around import in_inches, key_above
    from shaftwright.render.pictures.figure import PALETTE, area, axes, mark

    label = f"{one.what.heading.lower()} ({one.what.unit})"
    panel = axes(figure, place, x="brace height (in)", y=label)
    curve, read = pd.DataFrame(one.curve), pd.DataFrame(one.settings)
    x = curve["brace_in"]
    panel.fill_between(x, curve["low"], curve["high"], label="95 % band", **area())
    panel.plot(x, curve["mid"], color=PALETTE["ink"], linewidth=1.8, label="fit")
    style = {**mark(2, line=False), "markersize": 6}
    panel.plot(read["brace_in"], read[one.what.column], label="mean read", **style)
    fit = one.fit
    if fit is not None and fit.chance_it_matters >= 0.5:
        panel.axvspan(
            fit.range_in.low, fit.range_in.high, ymax=0.06, label=f"{one.what.name.split()[0]} range",
            hatch="///", facecolor="none", edgecolor=PALETTE["ink"], linewidth=0.8,
        )  # fmt: skip
    in_inches(panel)
    key_above(panel)


def _creep_panel(figure: Figure, place: Any, strings: Sequence[Creep]) -> None:
    """Brace as the string was shot in; where nobody counted the shots, reading after reading."""
    from shaftwright.render.pictures.around import BESIDE, in_inches, key_above, write
    from shaftwright.render.pictures.figure import axes, mark, plain

    counted = any(r["shots_on"] is not None for told in strings for r in told.readings)
    x = "shots on the string" if counted else "reading after reading"
    panel = axes(figure, place, x=x, y="brace height (in)")
    for i, told in enumerate(strings):
        rows = [r for r in told.readings if not counted or r["shots_on"] is not None]
        name = "string" if told.string is None else f"string {plain(told.string, 20)}"
        at = [r["shots_on"] if counted else n for n, r in enumerate(rows, 1)]
        panel.plot(at, [r["brace_in"] for r in rows], label=name, **mark(i + 1))
        last = None
        for x_at, row in zip(at, rows, strict=True):
            if row["twists"] is not None and row["twists"] != last:
                write(
                    panel, f"{row['twists']:g}", (x_at, row["brace_in"]), xytext=(0, -7), zorder=9,
                    ha="center", va="top", **BESIDE,
                )  # fmt: skip
                last = row["twists"]
    panel.margins(x=0.08, y=0.25)
    if not counted:
        panel.set_xticks([])
    in_inches(panel, "y", 6)
    twists = any(r["twists"] is not None for told in strings for r in told.readings)
    key_above(
        panel, 3, title="beside a reading: its twists" if twists else None, title_fontsize=9,
        alignment="left",
    )  # fmt: skip
