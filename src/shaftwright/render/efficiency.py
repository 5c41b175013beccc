"""Energy, virtual mass and efficiency as text and as a picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from shaftwright.answers.efficiency import Efficiency, Span
from shaftwright.render.words import bullets, clean, table, wrap

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def _span(span: Span, digits: int = 0) -> str:
    """A middle with its range; an end that is not known is said."""
    low = f"{span.low:.{digits}f}" if math.isfinite(span.low) else "no lower end"
    high = f"{span.high:.{digits}f}" if math.isfinite(span.high) else "no upper end"
    return f"{span.mid:.{digits}f} ({low} to {high})"


def efficiency_text(told: Efficiency) -> str:
    """What the bow stores and carries along, then the speeds of other arrows.

    Parameters
    ----------
    told : Efficiency
        The answer.

    Returns
    -------
    str
        Text in 80 columns.
    """
    masses = [p.mass_gr for p in told.predictions]
    at = (
        min(told.predictions, key=lambda p: abs(p.mass_gr - told.shots[0].mass_gr))
        if masses
        else None
    )
    head = _head(told)
    if told.settled and at is not None:
        share = 100 * at.efficiency.mid
        head += f": an arrow of {at.mass_gr:.0f} gr takes {share:.0f} % of the energy along."
    else:
        head += "."
    read = ", ".join(
        f"{s.n} of {s.mass_gr:.0f} gr at {s.mean_fps:.1f} fps" for s in told.shots[:8]
    ) + (f" and {len(told.shots) - 8} masses more" if len(told.shots) > 8 else "")
    lines = [f"Read: {read}, brought to the string of the bow as it stands."]
    if told.settled:
        lines.append(
            f"Usual for such a bow, not mixed in: {_span(told.usual_ftlb, 1)} ft-lb and "
            f"{_span(told.usual_virtual_gr)} gr."
        )
    else:
        lines += [
            f"Usual for such a bow is a virtual mass of {_span(told.usual_virtual_gr)} gr. The table below "
            f"takes it, and with it the speeds read ask for {_span(told.stored_ftlb, 1)} ft-lb of energy.",
            f"To settle it: {told.next_step}.",
        ]
    if told.under_curve_ftlb is not None and told.source == "masses":
        share = 100 * told.stored_ftlb.mid / told.under_curve_ftlb.mid
        lines.append(
            f"Under the draw curve: {_span(told.under_curve_ftlb, 1)} ft-lb; {share:.0f} % of it comes out "
            "of the limbs again."
        )
    parts = [wrap(head), "\n".join(wrap(line, "    ", "  ") for line in lines), _rows(told)]
    parts.append(
        wrap("Ranges are 95 %. The share is that of the energy which an arrow takes along.")
    )
    if told.warnings:
        parts.append(bullets(told.warnings, "! "))
    return "\n\n".join(parts)


def _head(told: Efficiency) -> str:
    name = clean(told.rig.name)
    if told.settled:
        return (
            f"{name}: {_span(told.stored_ftlb, 1)} ft-lb of energy and a virtual mass of "
            f"{_span(told.virtual_gr)} gr"
        )
    return (
        f"{name}: the virtual mass is not settled; the readings leave {_left_open(told.left_open_gr)}, "
        "which is no sharper than what is usual for such a bow"
    )


def _left_open(ends: tuple[float, float] | None) -> str:
    """From where to where readings leave a virtual mass."""
    low, high = ends or (0.0, math.inf)
    if math.isfinite(high):
        return f"anything from {low:.0f} to {high:.0f} gr"
    return f"anything above {low:.0f} gr" if low > 0 else "any value"


def _rows(told: Efficiency) -> str:
    shot = [s.mass_gr for s in told.shots]
    rows = [
        [
            f"{p.mass_gr:.0f}", f"{p.gr_per_lb:.1f}", _speed(p.speed_fps), _ends(p.speed_fps),
            f"{100 * p.efficiency.mid:.0f}", f"{p.energy_ftlb:.1f}" if math.isfinite(p.energy_ftlb) else "-",
            _speed(p.usual_fps), "shot" if any(abs(p.mass_gr - m) < 0.5 for m in shot) else "",
        ]
        for p in told.predictions
    ]  # fmt: skip
    headers = ["gr", "gr/lb", "fps", "range", "share %", "ft-lb", "usual fps", ""]
    lines = table(rows, headers, "rrrlrrrl")
    return "\n".join(f"  {line}" for line in lines.splitlines())


def _speed(span: Span) -> str:
    return f"{span.mid:.0f}" if math.isfinite(span.mid) else "-"


def _ends(span: Span) -> str:
    if not (math.isfinite(span.low) and math.isfinite(span.high)):
        return "-"
    return f"{span.low:.0f} to {span.high:.0f}"


def _by(told: Efficiency) -> str:
    return "by the readings" if told.settled else "with the usual virtual mass"


def efficiency_figure(told: Efficiency) -> Figure:
    """Speed and share of the energy over arrow mass, with what was read and what is usual.

    Parameters
    ----------
    told : Efficiency
        The answer.

    Returns
    -------
    matplotlib.figure.Figure
        With id `efficiency`.
    """
    from shaftwright.render.figure import PALETTE, area, axes, legend, mark, new_figure, plain

    rows = [p for p in told.predictions if math.isfinite(p.speed_fps.mid)]
    x = [p.mass_gr for p in rows]
    figure = new_figure(
        "efficiency", f"Efficiency of {plain(told.rig.name)}",
        "Upper: speed in fps over arrow mass in grains, from the readings with their 95 % range, and what "
        "is usual for such a bow. Lower: share of the energy that the arrow takes along, in percent.",
        (7.2, 6.0),
    )  # fmt: skip
    grid = figure.add_gridspec(2, 1, height_ratios=[3, 2])
    top = axes(figure, x="arrow mass (gr)", y="speed (fps)", label="speed")
    top.set_subplotspec(grid[0])
    usual: dict[str, Any] = {"color": PALETTE["ink"], "linewidth": 1.0, "linestyle": (0, (2, 2))}
    top.fill_between(
        x,
        [p.speed_fps.low for p in rows],
        [p.speed_fps.high for p in rows],
        label="95 % range",
        **area(),
    )
    top.plot(x, [p.speed_fps.mid for p in rows], label=_by(told), **{**mark(1), "marker": ""})
    top.plot(x, [p.usual_fps.low for p in rows], label="usual for such a bow, 95 %", **usual)
    top.plot(x, [p.usual_fps.high for p in rows], **usual)
    top.plot(
        [s.mass_gr for s in told.shots], [s.mean_fps for s in told.shots], label="mean read",
        **mark(2, line=False),
    )  # fmt: skip
    top.set_title(plain(told.rig.name), loc="left")
    legend(top, loc="upper right")
    low = axes(figure, x="arrow mass (gr)", y="share of the energy (%)", label="share")
    low.set_subplotspec(grid[1])
    low.fill_between(
        x, [100 * p.efficiency.low for p in rows], [100 * p.efficiency.high for p in rows],
        label="95 % range", **area(),
    )  # fmt: skip
    low.plot(
        x,
        [100 * p.efficiency.mid for p in rows],
        label=_by(told),
        **{**mark(1), "marker": ""},
    )
    low.set_xlim(top.get_xlim())
    legend(low, loc="lower right")
    return figure
