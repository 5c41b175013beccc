"""Brace height and settling strings as text and as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shaftwright.measure.brace.brace import twist_limits
from shaftwright.measure.brace.sweep import sixteenths
from shaftwright.render.words import bullets, table, tame, wrap
from shaftwright.units import inches

if TYPE_CHECKING:
    from matplotlib.figure import Figure

#: key of the answer -> heading, column, unit, and what the best is called
_SHOWN = {
    "speed": ("Speed", "speed_fps", "fps", "fastest"),
    "sound": ("Sound", "level_db", "dB", "quietest"),
    "bare": ("Bare shafts", "spread_in", "in", "tightest"),
}


_LINES = 25


def brace_text(answer: dict[str, Any]) -> str:
    """Where to brace first, then what each reading says, then the strings, on one screen."""
    text = ""
    for heights in range(9, 2, -1):
        text = _text(answer, heights)
        if text.count("\n") < _LINES:
            break
    return text


def _text(answer: dict[str, Any], heights: int) -> str:
    parts = [wrap(answer["verdict"][:1].upper() + answer["verdict"][1:] + ".")]
    more = [wrap(line, "    ", "  ") for line in (_luck(answer), _now(answer)) if line]
    shown = [name for name in _SHOWN if answer[name]]
    if more:
        parts.append("\n".join(more))
    if shown:
        told = [wrap(line, "    ", "  ") for line in _sweeps(answer, shown)]
        parts.append("\n".join([_settings(answer, shown, heights), *told]))
    # the newest string where the sweep comes first, else the two newest
    parts += _strings(answer)[-1 if shown else -2 :]
    warnings = list(answer["warnings"])[:2]
    if shown:
        warnings.append("stay within the bow maker's range of brace heights")
    if warnings:
        parts.append(bullets(warnings, "! "))
    return "\n\n".join(parts)


def _luck(answer: dict[str, Any]) -> str:
    best = answer["optimum"]
    if best is None or best["kind"] == "any":
        return ""
    times = f"once in {1 / best['luck']:.0f}" if best["luck"] > 1e-3 else "less than once in 1000"
    more = "" if best["sure"] == "sure" else " Two more shots at each height would make it surer."
    return f"Luck alone would look like this {times} such sweeps.{more}"


def _now(answer: dict[str, Any]) -> str:
    """Where it stands, and the twists from there."""
    now, told = answer["brace_now_in"], answer["twists"]
    if now is None or answer["optimum"] is None:
        return ""
    if told is None:
        there = " there now, at" if answer["target_in"] else " at"
        return f"It stands{there} {sixteenths(now)}."
    way = "put in" if told["way"] == "in" else "take out"
    rule = f"{told['low']:.0f} to {told['high']:.0f}"
    own = told["by_own_readings"]
    thumb = f"{rule} twists by rule of thumb"
    many = f"some {own:.0f} twists by your own readings ({rule} by rule of thumb)" if own else thumb
    low, high = twist_limits()
    return (
        f"It stands at {sixteenths(now)}: {way} {many}, a few at a time, and read again. Keep {low:g} to "
        f"{high:g} twists for each inch of string."
    )


def _settings(answer: dict[str, Any], shown: list[str], most: int) -> str:
    """One row a brace height: what was read there, restringings of one height together."""
    of = "" if answer["string"] is None else f"String {tame(answer['string'])}. "
    heights: dict[float, dict[str, tuple[float, int]]] = {}
    for name in shown:
        column = _SHOWN[name][1]
        key = column if column in answer[name]["settings"][0] else "mean"
        for row in answer[name]["settings"]:
            cell = heights.setdefault(row["brace_in"], {})
            mean, n = cell.get(name, (0.0, 0))
            total = n + row["n"]
            cell[name] = ((mean * n + row[key] * row["n"]) / total, total)
    best = answer["optimum"]
    middle = best["best_in"] if best else sum(heights) / len(heights)
    nearest = sorted(sorted(heights, key=lambda height: abs(height - middle))[:most])
    rows = []
    for height in nearest:
        row = [sixteenths(height)]
        for name in shown:
            mean, n = heights[height].get(name, (0.0, 0))
            row += [f"{mean:.1f}", str(n)] if n else ["-", "0"]
        rows.append(row)
    headers = ["brace"]
    for name in shown:
        headers += [_SHOWN[name][2], "shots"]
    lines = table(rows, headers, "l" + "rr" * len(shown))
    left = len(heights) - len(rows)
    more = f" ({left} farther from the best left out)" if left else ""
    return wrap(f"{of}Read at each brace height{more}:") + "\n" + "\n".join(
        f"  {line}" for line in lines.splitlines()
    )  # fmt: skip


def _sweeps(answer: dict[str, Any], shown: list[str]) -> list[str]:
    """Where each reading by itself is best, where the sweep says anything."""
    best, found = answer["optimum"], []
    if best is None or best["kind"] == "any":
        return []
    for name in shown:
        told, slope = answer[name], answer["fps_per_quarter_in"]
        heading, _, _, most = _SHOWN[name]
        if "best_in" not in told or told["chance_it_matters"] < 0.5:
            continue
        ends = [told["best_in"][end] for end in ("low", "mid", "high")]
        if ends[::2] == [told["curve"][k]["brace_in"] for k in (0, -1)]:
            continue  # anywhere
        low, mid, high = (inches(round(value * 8) / 8, 8) for value in ends)
        where = f"(4 chances in 5: {low.removesuffix(' in')} to {high})"
        line = f"{heading}: {most} near {mid} {where}."
        if name == "speed" and slope is not None:
            line += f" A quarter inch higher: {slope['mid']:+.1f} fps."
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
    from shaftwright.render.pictures.figure import new_figure, plain

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
        from shaftwright.render.pictures.figure import axes

        empty = axes(figure, x="brace height (in)", y="no shots counted")
        for told in answer["creep"]:
            for reading in told["readings"]:
                empty.axvline(reading["brace_in"], color="#1b1b1b")
    return figure


def _sweep_panel(figure: Figure, place: Any, told: dict[str, Any], name: str) -> None:
    from shaftwright.render.pictures.figure import PALETTE, area, axes, legend, mark

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
    from shaftwright.render.pictures.figure import PALETTE, axes, legend, mark, plain

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
