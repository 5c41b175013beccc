"""Brace height and settling strings as text and as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shaftwright.measure.brace import twist_limits
from shaftwright.measure.sweep import sixteenths
from shaftwright.render.words import bullets, table, tame, wrap

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: key of the answer -> heading, column, unit, and what the best is called
_SHOWN = {
    "speed": ("Speed", "speed_fps", "fps", "fastest"),
    "sound": ("Sound", "level_db", "dB", "quietest"),
    "bare": ("Bare shafts", "spread_in", "in", "tightest"),
}


def brace_text(answer: dict[str, Any]) -> str:
    """Where to brace first, then what each reading says, then the strings.

    Parameters
    ----------
    answer : dict
        From `measure.brace.brace_answer`.

    Returns
    -------
    str
        Text in 80 columns.
    """
    parts = [wrap(answer["verdict"][:1].upper() + answer["verdict"][1:] + ".")]
    twists = _twists(answer)
    if twists:
        parts.append(wrap(twists, "    ", "  "))
    shown = [name for name in _SHOWN if answer[name]]
    if shown:
        of = "" if answer["string"] is None else f"String {tame(answer['string'])}. "
        parts.append(_settings(answer, shown, of))
        parts += [wrap(line, "    ", "  ") for line in _sweeps(answer, shown)]
    parts += _strings(answer)
    warnings = list(answer["warnings"])
    if shown:
        warnings.append("stay within the bow maker's range of brace heights")
    if warnings:
        parts.append(bullets(warnings, "! "))
    return "\n\n".join(parts)


def _twists(answer: dict[str, Any]) -> str:
    told = answer["twists"]
    if told is None:
        return ""
    way = "put in" if told["way"] == "in" else "take out"
    rule = f"{told['low']:.0f} to {told['high']:.0f} by rule of thumb"
    own = told["by_own_readings"]
    many = f"some {own:.0f} twists by your own readings ({rule})" if own else f"{rule}, twists"
    low, high = twist_limits()
    return (
        f"To the middle of it is {sixteenths(abs(told['change_in']))}: {way} {many}, a few at a time, and "
        f"read again. Keep {low:g} to {high:g} twists for each inch of string: fewer leave the loops "
        "flat, more make it springy."
    )


def _settings(answer: dict[str, Any], shown: list[str], of: str) -> str:
    """One row a brace height: what was read there, restringings of one height together."""
    heights: dict[float, dict[str, tuple[float, int]]] = {}
    for name in shown:
        column = _SHOWN[name][1]
        key = column if column in answer[name]["settings"][0] else "mean"
        for row in answer[name]["settings"]:
            cell = heights.setdefault(row["brace_in"], {})
            mean, n = cell.get(name, (0.0, 0))
            total = n + row["n"]
            cell[name] = ((mean * n + row[key] * row["n"]) / total, total)
    rows = []
    for height in sorted(heights):
        row = [sixteenths(height)]
        for name in shown:
            mean, n = heights[height].get(name, (0.0, 0))
            row += [f"{mean:.1f}", str(n)] if n else ["-", "0"]
        rows.append(row)
    headers = ["brace"]
    for name in shown:
        headers += [_SHOWN[name][2], "shots"]
    lines = table(rows, headers, "l" + "rr" * len(shown))
    return wrap(f"{of}Read at each brace height:") + "\n" + "\n".join(
        f"  {line}" for line in lines.splitlines()
    )  # fmt: skip


def _sweeps(answer: dict[str, Any], shown: list[str]) -> list[str]:
    found = []
    for name in shown:
        told, (heading, _, _, best) = answer[name], _SHOWN[name]
        line = f"{heading}: {told['verdict']}."
        if "best_in" in told and told["chance_it_matters"] >= 0.5:
            span = told["best_in"]
            line += (
                f" {best.capitalize()} at {sixteenths(span['mid'])}; 4 chances in 5 that it lies between "
                f"{sixteenths(span['low'])} and {sixteenths(span['high'])}."
            )
        if name == "speed" and answer["fps_per_quarter_in"] is not None:
            slope = answer["fps_per_quarter_in"]
            line += (
                f" A quarter inch higher is {slope['mid']:+.1f} fps ({slope['low']:+.1f} to "
                f"{slope['high']:+.1f})."
            )
        found.append(line)
    return found


def _strings(answer: dict[str, Any]) -> list[str]:
    lines = []
    for told in answer["creep"]:
        name = "String" if told["string"] is None else f"String {tame(told['string'])}"
        if len({c["period"] for c in answer["creep"]}) > 1:
            name += f", after {told['period']} changes" if told["period"] else ", before any change"
        readings = "1 reading" if told["n"] == 1 else f"{told['n']} readings"
        line = f"{name}, {readings}, now {sixteenths(told['brace_in'])}: {told['verdict']}."
        left = told["remaining_in"]
        if left is not None and left["high"] >= 1 / 32:
            line += f" Still to fall: {left['low']:.2f} to {left['high']:.2f} in."
        lines.append(wrap(line, "    ", "  "))
    return lines


def brace_figure(answer: dict[str, Any]) -> Figure:
    """Each quantity over brace height with its band, and brace over shots for every string.

    Parameters
    ----------
    answer : dict
        From `measure.brace.brace_answer`.

    Returns
    -------
    matplotlib.figure.Figure
        With id `brace`.
    """
    from shaftwright.render.figure import new_figure, plain

    shown = [name for name in _SHOWN if answer[name] and answer[name]["curve"]]
    counted = [c for c in answer["creep"] if any(r["shots_on"] is not None for r in c["readings"])]
    rows = len(shown) + bool(counted)
    figure = new_figure(
        "brace", "Brace height", plain(
            "Readings and fitted curve with 95 % band over brace height in inches; the good range is "
            f"hatched. {answer['verdict']}.", 600,
        ), (7.2, 0.6 + 2.6 * max(rows, 1)),
    )  # fmt: skip
    grid = figure.add_gridspec(max(rows, 1), 1)
    for i, name in enumerate(shown):
        _sweep_panel(figure, grid[i], answer[name], name)
    if counted:
        _creep_panel(figure, grid[len(shown)], counted)
    elif not shown:
        from shaftwright.render.figure import axes

        empty = axes(figure, x="brace height (in)", y="no shots counted")
        for told in answer["creep"]:
            for reading in told["readings"]:
                empty.axvline(reading["brace_in"], color="#1b1b1b")
    return figure


def _sweep_panel(figure: Figure, place: Any, told: dict[str, Any], name: str) -> None:
    from shaftwright.render.figure import PALETTE, area, axes, legend, mark

    heading, column, unit, _ = _SHOWN[name]
    panel = axes(figure, x="brace height (in)", y=f"{heading.lower()} ({unit})", label=name)
    panel.set_subplotspec(place)
    curve = told["curve"]
    x = [row["brace_in"] for row in curve]
    panel.fill_between(
        x, [r["low"] for r in curve], [r["high"] for r in curve], label="95 % band", **area()
    )
    panel.plot(x, [r["mid"] for r in curve], color=PALETTE["ink"], linewidth=1.8, label="fit")
    key = column if column in told["settings"][0] else "mean"
    panel.plot(
        [r["brace_in"] for r in told["settings"]], [r[key] for r in told["settings"]],
        label="mean read", **{**mark(2, line=False), "markersize": 6},
    )  # fmt: skip
    if "range_in" in told and told["chance_it_matters"] >= 0.5:
        span = told["range_in"]
        good = {"speed": "fast", "sound": "quiet", "bare": "tight"}[name]
        panel.axvspan(
            span["low"], span["high"], ymax=0.06, label=f"{good} range", hatch="///", facecolor="none",
            edgecolor=PALETTE["ink"], linewidth=0.8,
        )  # fmt: skip
    legend(panel, loc="best")


def _creep_panel(figure: Figure, place: Any, strings: list[dict[str, Any]]) -> None:
    from shaftwright.render.figure import PALETTE, axes, legend, mark, plain

    panel = axes(figure, x="shots on the string", y="brace height (in)", label="creep")
    panel.set_subplotspec(place)
    for i, told in enumerate(strings):
        rows = [r for r in told["readings"] if r["shots_on"] is not None]
        name = "string" if told["string"] is None else f"string {plain(told['string'], 20)}"
        panel.plot(
            [r["shots_on"] for r in rows], [r["brace_in"] for r in rows], label=name, **mark(i + 1)
        )
        last = None
        for row in rows:
            if row["twists"] is not None and row["twists"] != last:
                panel.annotate(
                    f"{row['twists']:g} twists", (row["shots_on"], row["brace_in"]), (4, 6),
                    textcoords="offset points", fontsize=8, color=PALETTE["ink"],
                )  # fmt: skip
                last = row["twists"]
    panel.margins(x=0.12, y=0.2)
    legend(panel, loc="best")
