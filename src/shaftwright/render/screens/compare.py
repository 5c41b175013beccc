"""A comparison of setups as text and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.measure.compare.shots import GroupShots
from shaftwright.render.words import bullets, clean, opening, short, table, tame, wrap

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from shaftwright.answers.scenario import Scenario

_MOST_PAIRS = 6
_LONGEST_NAME = 28
_MOST_MARKS = 400


def compare_text(result: dict[str, Any], fields: str, asked: Scenario | None = None) -> str:
    """The verdict first, then what it means in use, the figures and what to shoot next.

    Where a bow was given, its one next thing comes before.
    """
    sound = result["sound"]
    parts = [] if asked is None else [opening(asked)]
    if result["groups"]:
        parts += _quantity(result, "fps", fields)
    if sound is not None and sound["groups"]:
        parts += _quantity(sound, "dB", fields)
    elif sound is not None:
        parts.append(wrap("Sound: no level can be compared."))
    warnings = [*result["warnings"], *(sound["warnings"] if sound is not None else ())]
    notes = list(dict.fromkeys([*warnings, *result["cautions"]]))
    if notes:
        parts.append(bullets(map(tame, notes), "! "))
    return "\n\n".join(parts)


def _quantity(quantity: dict[str, Any], unit: str, fields: str) -> list[str]:
    suffix = unit.lower()
    heading = "Speed" if unit == "fps" else f"Sound{_class(quantity)}"
    if quantity["verdict"] is None:
        only = quantity["groups"][0]["name"]
        head = wrap(f"{heading}: only one {fields} was read, {short(only, _LONGEST_NAME)}.")
        return [head, _groups(quantity["groups"], unit, fields)]
    first, second = (short(name, _LONGEST_NAME) for name in quantity["difference_of"])
    beside = f" ({first} against {second})" if len(quantity["groups"]) > 2 else ""
    parts = [wrap(tame(f"{heading}{beside}: {quantity['verdict']}."))]
    meant = quantity["in_use"]["text"] if unit == "fps" else quantity["in_words"]
    lead = "In use" if quantity["settled"] else "In use, if that is real"
    lines = [wrap(f"{lead}: {meant}.", "    ", "  ")]
    if not quantity["settled"]:
        lines.append(wrap(f"Next: {tame(_next(quantity['plan']))}.", "    ", "  "))
    parts.append("\n".join(lines))
    parts.append(_groups(quantity["groups"], unit, fields))
    parts.append(_differences(quantity, suffix, unit, f"{first} less {second}"))
    if len(quantity["pairs"]) > 1:
        parts.append(_pairs(quantity["pairs"], unit))
    return parts


def _class(quantity: dict[str, Any]) -> str:
    """Weighting, response and position, as far as they were written down."""
    unknown = "not written down"
    found = []
    if quantity.get("weighting", unknown) != unknown:
        found.append(f"{quantity['weighting']} weighting")
    found += [
        clean(str(quantity[k]))
        for k in ("response", "position")
        if quantity.get(k, unknown) != unknown
    ]
    return f" ({', '.join(found)})" if found else ""


def _next(plan: dict[str, Any]) -> str:
    if plan["restringings_each"] == 0 and plan["shots_each"]:
        return f"{plan['shots_each']} more shots of each by turns, {_order(plan['order'])}"
    order = _order(plan["order"])
    return (
        f"string the bow again before each block, {order}: drift of archer and air then falls on both "
        "alike"
    )


def _order(order: str) -> str:
    """The first blocks of an order; the rest follows by itself."""
    blocks = order.split(" ")
    return order if len(blocks) <= 8 else " ".join(blocks[:8]) + " and so on"


def _groups(groups: Sequence[dict[str, Any]], unit: str, fields: str) -> str:
    names = [short(g["name"], _LONGEST_NAME) for g in groups]
    if unit == "fps":
        rows = [
            [
                name, g["n"], g["stringings"], f"{g['mean_fps']:.1f}",
                "-" if g["sd_fps"] is None else f"{g['sd_fps']:.1f}",
                f"{g['mean_absolute_fps']['low']:.0f} to {g['mean_absolute_fps']['high']:.0f}",
            ]
            for name, g in zip(names, groups, strict=True)
        ]  # fmt: skip
        headers = [short(fields, _LONGEST_NAME), "shots", "strung", "fps", "spread", "true fps"]
        return _set_in(table(rows, headers, "lrrrrl"))
    rows = [
        [name, g["n"], f"{g['mean_db']:.1f}", "-" if g["sd_db"] is None else f"{g['sd_db']:.1f}"]
        for name, g in zip(names, groups, strict=True)
    ]
    return _set_in(table(rows, [short(fields, _LONGEST_NAME), "shots", "dB", "spread"], "lrrr"))


def _set_in(lines: str) -> str:
    return "\n".join(f"  {line}" for line in lines.splitlines())


def _range(span: dict[str, Any] | None) -> str:
    if span is None or span["low"] is None:
        return "unknown"
    digits = 1 if max(abs(span["low"]), abs(span["high"])) < 20 else 0
    return f"{span['low']:+.{digits}f} to {span['high']:+.{digits}f}"


def _chance(p: float | None) -> str:
    if p is None:
        return "-"
    return "under 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.1 else f"{p:.2f}"


def _differences(quantity: dict[str, Any], suffix: str, unit: str, of: str) -> str:
    """The three ranges of one difference, each with what it takes for granted."""
    rows = [
        ["shots alone", _range(quantity[f"difference_{suffix}"]), _chance(quantity["p_value"])],
        ["restringing counted", _range(quantity[f"difference_restrung_{suffix}"]), ""],
        [
            "and at every look", _range(quantity[f"difference_anytime_{suffix}"]),
            _chance(quantity["p_anytime"]),
        ],
    ]  # fmt: skip
    if quantity["paired"] is not None:
        rows.insert(
            1,
            ["shots by turns", _range(quantity["paired"]), _chance(quantity["paired"]["p_value"])],
        )
    mid = quantity[f"difference_{suffix}"]["mid"]
    head = wrap(f"{of}: {mid:+.1f} {unit}; 95 % range and chance if nothing differed:", "  ")
    return f"{head}\n{_set_in(_set_in(table(rows, align='lll')))}"


def _pairs(pairs: Sequence[dict[str, Any]], unit: str) -> str:
    """Every pair, the largest differences first."""
    suffix = unit.lower()
    order = sorted(pairs, key=lambda p: -abs(p[f"difference_{suffix}"]["mid"]))
    rows = [
        [
            f"{short(p['a'], 20)} less {short(p['b'], 20)}", f"{p[f'difference_{suffix}']['mid']:+.1f}",
            _range(p[f"difference_anytime_{suffix}"]), "settled" if p["settled"] else "not settled",
        ]
        for p in order[:_MOST_PAIRS]
    ]  # fmt: skip
    lines = [_set_in(table(rows, ["pair", unit, "at every look", ""], "lrll"))]
    more = len(order) - _MOST_PAIRS
    if more > 0:
        lines.append(f"  and {more} pairs more; --json has them all")
    return "\n".join(lines)


def compare_figure(
    result: dict[str, Any], speeds: Sequence[GroupShots], levels: Sequence[GroupShots], fields: str
) -> Figure:
    """Every shot by group, and the difference with its three ranges.

    Parameters
    ----------
    result : dict
        From `measure.compare.compare`.
    speeds, levels : sequence of GroupShots
        The shots behind it.
    fields : str
        What was compared, in words.

    Returns
    -------
    matplotlib.figure.Figure
        With id `compare`.
    """
    from shaftwright.render.pictures.figure import new_figure, plain

    columns: list[tuple[dict[str, Any], Sequence[GroupShots], str, str]] = []
    if result["groups"] and speeds:
        columns.append((result, speeds, "speed", "fps"))
    sound = result["sound"]
    if sound is not None and sound["groups"] and levels:
        columns.append((sound, levels, "level", "dB"))
    verdicts = "; ".join(
        f"{name}: {part['verdict'] or 'one group'}" for part, _, name, _ in columns
    )
    figure = new_figure(
        "compare", f"Compared by {plain(fields)}",
        f"Every reading as a mark, one marker a stringing, a long bar at each mean; below, the "
        f"difference with its 95 % ranges. {verdicts}.",
        (4.0 + 3.4 * (len(columns) > 1) + 0.5 * (len(columns) == 1), 5.6),
    )  # fmt: skip
    grid = figure.add_gridspec(2, max(len(columns), 1), height_ratios=[2.4, 1])
    for i, (part, shots, name, unit) in enumerate(columns):
        means = {g["name"]: g[f"mean_{unit.lower()}"] for g in part["groups"]}
        _shots_panel(figure, grid[0, i], shots, means, f"{name} ({unit})", plain(fields))
        if part["verdict"] is not None:
            _difference_panel(figure, grid[1, i], part, unit)
    return figure


def _shots_panel(
    figure: Figure, place: Any, shots: Sequence[GroupShots], means: dict[str, float], y: str, x: str
) -> None:  # fmt: skip
    import numpy as np

    from shaftwright.render.pictures.figure import PALETTE, axes, mark, plain

    top = axes(figure, x=x, y=y, label=y)
    top.set_subplotspec(place)
    for at, group in enumerate(shots):
        strung = int(group.stringing.max()) + 1
        step = min(0.6 / strung, 0.25)
        if (
            len(group.value) > _MOST_MARKS
        ):  # so many marks would be one blot: middle and outer tenths
            low, mid, high = np.percentile(group.value, [10, 50, 90])
            top.plot([at, at], [low, high], color=PALETTE["ink"], linewidth=3)
            top.plot(at, mid, **mark(1, line=False))
        else:
            for s in range(strung):
                value = group.value[group.stringing == s]
                spot = at + (s - (strung - 1) / 2) * step + 0.03 * (np.arange(len(value)) % 3 - 1)
                style = {**mark(s + 1, line=False), "markersize": 5, "markerfacecolor": "none"}
                top.plot(spot, value, **style)
        mean = means[group.name]
        top.plot([at - 0.38, at + 0.38], [mean, mean], color=PALETTE["ink"], linewidth=2.2)
    few = len(shots) < 7
    names = [f"{plain(g.name, 14 if few else 8)}\n{means[g.name]:.1f}" for g in shots]
    turned = 90 if len(shots) > 12 else 0
    top.set_xticks(range(len(shots)), names, fontsize=9 if few else 7, rotation=turned)
    top.set_xlim(-0.6, len(shots) - 0.4)
    top.grid(False, axis="x")
    top.set_title("marker: stringing; bar: mean", loc="left", fontsize=9)


def _difference_panel(figure: Figure, place: Any, quantity: dict[str, Any], unit: str) -> None:
    from shaftwright.render.pictures.figure import PALETTE, axes, mark, plain

    suffix, ink = unit.lower(), PALETTE["ink"]
    a, b = (plain(name, 12) for name in quantity["difference_of"])
    low = axes(figure, x=f"{a} less {b} ({unit}), 95 %", label=f"difference {unit}")
    low.set_ylabel("")
    low.set_subplotspec(place)
    restrung = quantity[f"difference_restrung_{suffix}"]
    spans = [
        ("shots alone", quantity[f"difference_{suffix}"]),
        ("restringing\ncounted", restrung),
        ("at every look", quantity[f"difference_anytime_{suffix}"]),
    ]
    # what runs far beyond the others ends in an arrow, so that they can still be read
    width = 1.5 * (restrung["high"] - restrung["low"])
    first, last = min(restrung["low"], 0.0) - width, max(restrung["high"], 0.0) + width
    for at, (_, span) in enumerate(spans):
        if span["low"] is not None:
            ends = max(span["low"], first), min(span["high"], last)
            low.plot(ends, [at, at], color=ink, linewidth=1.8)
            for end, beyond, arrow in (
                (ends[0], span["low"] < first, "<"),
                (ends[1], span["high"] > last, ">"),
            ):
                if beyond:
                    low.plot([end], [at], marker=arrow, markersize=8, color=ink)
        low.plot([span["mid"]], [at], **{**mark(at + 1), "color": ink})
    low.axvline(0.0, color=PALETTE["muted"], linewidth=1.2, linestyle=(0, (4, 2)))
    low.set_yticks(range(len(spans)), [name for name, _ in spans])
    low.set_ylim(len(spans) - 0.4, -0.6)
    low.grid(False, axis="y")
