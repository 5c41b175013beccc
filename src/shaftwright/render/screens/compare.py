"""A comparison of setups as text and as a picture."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.measure.compare import Comparison
from shaftwright.measure.pairs import Compared, Pair
from shaftwright.measure.readings import FIELDS
from shaftwright.measure.sound import UNKNOWN, Levels
from shaftwright.measure.welch import Difference, Plan
from shaftwright.render.words import (
    bullets,
    clean,
    eighths,
    opening,
    own_told,
    short,
    table,
    tame,
    wrap,
)  # fmt: skip
from shaftwright.units import Interval, cap

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from shaftwright.answers.scenario import Scenario

_MOST_PAIRS = 6
_LONGEST_NAME = 28
_MOST_MARKS = 400


def compare_text(result: Comparison, asked: Scenario | None = None) -> str:
    """The verdict first, then what it means in use, the figures and what to shoot next.

    Where a bow was given, its one next thing comes before.
    """
    sound, fields = result.sound, names_of(result.by)
    parts = [] if asked is None else [opening(asked), *own_told(asked)]
    if result.groups:
        meant = result.in_use.text if result.in_use else ""
        parts += _quantity(result, "Speed", meant, fields)
        one = result.mass_correction
        if one is not None and one.applied:
            k = one.virtual_mass_gr
            parts.append(
                wrap(
                    f"Speeds are told at one arrow weight, {one.reference_gr:.0f} gr; others are brought to "
                    f"it as if {k.mid:.0f} gr ({k.low:.0f} to {k.high:.0f}) of limbs and string flew along."
                )
            )
    if sound is not None and sound.groups:
        parts += _quantity(sound, f"Sound{_class(sound)}", sound.in_words or "", fields)
    elif sound is not None:
        parts.append(wrap("Sound: no level can be compared."))
    warnings = [*result.warnings, *(sound.warnings if sound is not None else ())]
    notes = list(dict.fromkeys([*warnings, *result.cautions]))
    if notes:
        parts.append(bullets(map(tame, notes), "! "))
    return "\n\n".join(parts)


def names_of(by: Sequence[str]) -> str:
    """The setup fields as archers write them."""
    named = {column: name.replace("_", " ") for name, column in FIELDS.items()}
    return ", ".join(named[column] for column in by)


def _quantity(found: Compared, heading: str, meant: str, fields: str) -> list[str]:
    told = found.told
    if told is None:
        only = short(found.groups[0].name, _LONGEST_NAME)
        return [wrap(f"{heading}: only one {fields} was read, {only}."), _groups(found, fields)]
    first, second = (short(name, _LONGEST_NAME) for name in (told.a, told.b))
    beside = f" ({first} against {second})" if len(found.groups) > 2 else ""
    parts = [wrap(tame(f"{heading}{beside}: {told.verdict}."))]
    lead = "In use" if told.settled else "In use, if that is real"
    lines = [wrap(f"{lead}: {meant}.", "    ", "  ")]
    if not told.settled:
        lines.append(wrap(f"Next: {tame(_next(told.plan))}.", "    ", "  "))
    parts += ["\n".join(lines), _groups(found, fields)]
    parts.append(_differences(found, told, f"{first} less {second}"))
    if len(found.pairs) > 1:
        parts.append(_pairs(found))
    return parts


def _class(levels: Levels) -> str:
    """Weighting, response and position, as far as they were written down."""
    weighting = [f"{levels.weighting} weighting"] if levels.weighting != UNKNOWN else []
    told = [clean(str(k)) for k in (levels.response, levels.position) if k != UNKNOWN]
    return f" ({', '.join(weighting + told)})" if weighting or told else ""


def _next(plan: Plan) -> str:
    blocks = plan.order.split(" ")
    order = plan.order if len(blocks) <= 8 else " ".join(blocks[:8]) + " and so on"
    if plan.restringings_each == 0 and plan.shots_each:
        return f"{plan.shots_each} more shots of each by turns, {order}"
    return (
        f"string the bow again before each block, {order}: drift of archer and air then falls on both "
        "alike"
    )


def _groups(found: Compared, fields: str) -> str:
    speed = found.groups[0].absolute is not None
    rows = []
    for g in found.groups:
        middle = [f"{g.mean:.1f}", "-" if g.sd is None else f"{g.sd:.1f}"]
        if g.absolute is not None:
            middle = [str(g.stringings), *middle, f"{g.absolute.low:.0f} to {g.absolute.high:.0f}"]
        rows.append([short(g.name, _LONGEST_NAME), g.n, *middle])
    headers = ["strung", "fps", "spread", "true fps"] if speed else ["dB", "spread"]
    headers = [short(fields, _LONGEST_NAME), "shots", *headers]
    return table(rows, headers, "lrrrrl" if speed else "lrrr", indent="  ")


def _range(span: Interval | Difference) -> str:
    if span.low is None or span.high is None:
        return "unknown"
    digits = 1 if max(abs(span.low), abs(span.high)) < 20 else 0
    return f"{span.low:+.{digits}f} to {span.high:+.{digits}f}"


def _chance(p: float | None) -> str:
    if p is None:
        return "-"
    return "under 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def _differences(found: Compared, told: Pair, of: str) -> str:
    """The three ranges of one difference, each with what it takes for granted."""
    alone = found.difference or told.difference
    rows = [
        ["shots alone", _range(alone), _chance(alone.p_value)],
        ["restringing counted", _range(told.restrung), ""],
        ["and at every look", _range(told.anytime), _chance(told.p_anytime)],
    ]
    if told.paired is not None:
        rows.insert(1, ["shots by turns", _range(told.paired), _chance(told.paired.p_value)])
    unit = found.scale.unit
    head = wrap(f"{of}: {alone.mid:+.1f} {unit}; 95 % range and chance if nothing differed:", "  ")
    return f"{head}\n{table(rows, align='lll', indent='    ')}"


def _pairs(found: Compared) -> str:
    """Every pair, the largest differences first."""
    order = sorted(found.pairs, key=lambda p: -abs(p.difference.mid))
    rows = [
        [
            f"{short(p.a, 20)} less {short(p.b, 20)}", f"{p.difference.mid:+.1f}", _range(p.anytime),
            "settled" if p.settled else "not settled",
        ]
        for p in order[:_MOST_PAIRS]
    ]  # fmt: skip
    head = ["pair", found.scale.unit, "at every look", ""]
    more = len(order) - _MOST_PAIRS
    return table(rows, head, "lrll", indent="  ") + (
        f"\n  and {more} pairs more; --json has them all" if more > 0 else ""
    )


def compare_figure(result: Comparison) -> Figure:
    """Every shot by group, and the difference with its three ranges; id `compare`."""
    from shaftwright.render.pictures.figure import new_figure, plain

    columns = [
        (part, name) for part, name in ((result, "speed"), (result.sound, "sound"))
        if part is not None and part.groups
    ]  # fmt: skip
    verdicts = "; ".join(
        f"{name}: {'one group' if part.told is None else part.told.verdict}"
        for part, name in columns
    )
    figure = new_figure(
        "compare", f"Compared by {plain(names_of(result.by))}",
        f"Every reading as a mark, one marker a stringing, a long bar at each mean; below, the "
        f"difference with its 95 % ranges. {verdicts}.",
        0.3 + 5.0 * max(len(columns), 1),
    )  # fmt: skip
    grid = figure.add_gridspec(
        2 * max(len(columns), 1), 1, height_ratios=[1.9, 1] * max(len(columns), 1)
    )
    for i, (part, name) in enumerate(columns):
        _shots_panel(figure, grid[2 * i], part, name, names_of(result.by))
        if part.told is not None:
            _difference_panel(figure, grid[2 * i + 1], part, part.told, names_of(result.by))
    return figure


def _shots_panel(figure: Figure, place: Any, found: Compared, name: str, by: str) -> None:
    import numpy as np

    from shaftwright.render.pictures.figure import PALETTE, axes, mark, plain

    across = "brace height (in)" if by == "brace" else plain(by)
    top = axes(figure, place, x=across, y=f"{name} ({found.scale.unit})")
    assert found.data is not None
    for at, (values, rows) in enumerate(zip(found.data.values, found.data.strung, strict=True)):
        strung = int(rows.max()) + 1
        step = min(0.6 / strung, 0.25)
        if len(values) > _MOST_MARKS:  # so many marks would be one blot: middle and outer tenths
            low, mid, high = np.percentile(values, [10, 50, 90])
            top.plot([at, at], [low, high], color=PALETTE["ink"], linewidth=3)
            top.plot(at, mid, **mark(1, line=False))
        else:
            for s in range(strung):
                value = values[rows == s]
                spot = at + (s - (strung - 1) / 2) * step + 0.03 * (np.arange(len(value)) % 3 - 1)
                style = {**mark(s + 1, line=False), "markersize": 5, "markerfacecolor": "none"}
                top.plot(spot, value, **style)
        mean = found.groups[at].mean
        top.plot([at - 0.38, at + 0.38], [mean, mean], color=PALETTE["ink"], linewidth=2.2)
    count = len(found.groups)
    few = count < 7
    names = [f"{plain(_setup(g.name, by), 12 if few else 24)}\n{g.mean:.1f}" for g in found.groups]
    top.set_xticks(range(count), names, fontsize=9, rotation=0 if few else 90)
    top.set_xlim(-0.6, count - 0.4)
    top.grid(False, axis="x")
    verdict = "only one was read" if found.told is None else found.told.verdict
    told = textwrap.wrap(f"{cap(name)}: {plain(tame(verdict, 40), 300)}.", 50)
    top.set_title("\n".join([*told, "one marker a stringing; bar: mean"]), loc="left", fontsize=9)


def _setup(name: str, by: str) -> str:
    """A setup by its name; a brace height in eighths, as it is set."""
    return eighths(float(name)) if by == "brace" and name.replace(".", "", 1).isdigit() else name


def _difference_panel(figure: Figure, place: Any, found: Compared, told: Pair, by: str) -> None:
    from shaftwright.render.pictures.figure import PALETTE, axes, mark, plain

    unit, ink = found.scale.unit, PALETTE["ink"]
    a, b = (plain(_setup(name, by), 12) for name in (told.a, told.b))
    low = axes(figure, place, x=f"{a} less {b} ({unit}), 95 %")
    spans: dict[str, Interval | Difference] = {
        "shots alone": found.difference or told.difference,
        "restringing\ncounted": told.restrung,
        "at every look": told.anytime,
    }
    # what runs far beyond the others ends in an arrow, so that they can still be read
    width = 1.5 * (told.restrung.high - told.restrung.low)
    first, last = min(told.restrung.low, 0.0) - width, max(told.restrung.high, 0.0) + width
    for at, span in enumerate(spans.values()):
        if span.low is not None and span.high is not None:
            ends = max(span.low, first), min(span.high, last)
            low.plot(ends, [at, at], color=ink, linewidth=1.8)
            for beyond, end, arrow in zip(
                (span.low < first, span.high > last), ends, "<>", strict=True
            ):
                if beyond:
                    low.plot([end], [at], marker=arrow, markersize=8, color=ink)
        low.plot([span.mid], [at], **{**mark(at + 1), "color": ink})
    low.axvline(0.0, color=PALETTE["muted"], linewidth=1.2, linestyle=(0, (4, 2)))
    low.set_yticks(range(len(spans)), list(spans))
    low.set_ylim(len(spans) - 0.4, -0.6)
    low.grid(False, axis="y")
