"""Energy, what is carried along, and efficiency as text and as a picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from shaftwright.answers.efficiency import Efficiency
from shaftwright.measure.use import Between
from shaftwright.render.words import clean, closing, opening, table, wrap
from shaftwright.units import Interval

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def _span(span: Interval, digits: int = 0) -> str:
    """A middle with its range; an end that is not known is said."""
    low = f"{span.low:.{digits}f}" if math.isfinite(span.low) else "no lower end"
    high = f"{span.high:.{digits}f}" if math.isfinite(span.high) else "no upper end"
    return f"{span.mid:.{digits}f} ({low} to {high})"


def efficiency_text(found: Efficiency, full: bool = False) -> str:
    """What the bow stores and carries along, then the speeds of other arrows."""
    asked = found.question
    lines = [_head(found)]
    if found.settled:
        lines.append(
            f"Usual for such a bow, not mixed in: {_span(found.usual.stored_ftlb, 1)} ft-lb, and "
            f"{_span(found.usual.virtual_gr)} gr along."
        )
    else:
        lines.append(
            f"The table takes what is usual, {_span(found.usual.virtual_gr)} gr; with it the speeds read "
            f"ask for {_span(found.stored_ftlb, 1)} ft-lb. To settle it: {found.next_step}."
        )
    if found.under_curve_ftlb is not None and found.source == "masses":
        share = 100 * found.stored_ftlb.mid / found.under_curve_ftlb.mid
        lines.append(
            f"Under the draw curve: {_span(found.under_curve_ftlb, 1)} ft-lb; {share:.0f} % of it comes out "
            "of the limbs again."
        )
    read = ", ".join(
        f"{s.n} of {s.mass_gr:.0f} gr at {s.mean_fps:.1f} fps" for s in found.shots[:8]
    )
    more = f" and {len(found.shots) - 8} weights more" if len(found.shots) > 8 else ""
    lines.append(f"Read: {read}{more}, brought to the string of the bow as it stands.")
    parts = [opening(asked), "\n".join(map(wrap, lines)), _rows(found, full)]
    parts[-1] += "\n" + wrap(
        "share: what the arrow takes of the bow's energy. Ranges hold 95 times in 100."
    )
    return "\n\n".join([*parts, closing(asked, full, found.warnings)])


def _head(found: Efficiency) -> str:
    name = clean(found.question.rig.name)
    if not found.settled:
        return (
            f"{name}: what string and limbs carry along is not settled; the readings leave "
            f"{_left_open(found.left_open_gr)}, no sharper than what is usual for such a bow."
        )
    first = found.shots[0].mass_gr
    at = min(found.predictions, key=lambda p: abs(p.mass_gr - first), default=None)
    share = "" if at is None else (
        f" An arrow of {at.mass_gr:.0f} gr takes {100 * at.efficiency:.0f} % of the energy along."
    )  # fmt: skip
    return (
        f"{name} stores {_span(found.stored_ftlb, 1)} ft-lb; string and limbs carry along as much as "
        f"{_span(found.virtual_gr)} gr on the string would.{share}"
    )


def _left_open(ends: Between | None) -> str:
    """From where to where readings leave what is carried along."""
    if ends is not None and math.isfinite(ends.high):
        return f"anything from {ends.low:.0f} to {ends.high:.0f} gr"
    return f"anything above {ends.low:.0f} gr" if ends is not None and ends.low > 0 else "any value"


def _rows(found: Efficiency, full: bool) -> str:
    """The arrows asked for or shot; with `full` all of the spread, and what is usual."""
    shot = [s.mass_gr for s in found.shots]
    headers = ["weight", "gr/lb", "fps", "range", "share", "ft-lb", "usual fps", ""]
    rows = []
    for p in found.predictions:
        energy = f"{p.energy_ftlb:.1f}" if math.isfinite(p.energy_ftlb) else "-"
        rows.append([
            f"{p.mass_gr:.0f} gr", f"{p.gr_per_lb:.1f}", _speed(p.speed_fps), _ends(p.speed_fps),
            f"{100 * p.efficiency:.0f} %", energy, _speed(p.usual_fps),
            "shot" if any(abs(p.mass_gr - m) < 0.5 for m in shot) else "",
        ])  # fmt: skip
    if not full:
        for row in (headers, *rows):
            del row[6]
    return table(rows, headers, "rrrlrr" + ("r" if full else "") + "l", "  ", "  ")


def _speed(span: Interval) -> str:
    return f"{span.mid:.0f}" if math.isfinite(span.mid) else "-"


def _ends(span: Interval) -> str:
    if not (math.isfinite(span.low) and math.isfinite(span.high)):
        return "-"
    return f"{span.low:.0f} to {span.high:.0f}"


def _by(found: Efficiency) -> str:
    return "by the readings" if found.settled else "with what is usual carried along"


def efficiency_figure(found: Efficiency) -> Figure:
    """Speed and share of the energy over the arrow's weight, read and usual; id `efficiency`."""
    from shaftwright.render.pictures import figure as look
    from shaftwright.render.pictures.around import key_above, titled

    rows = [p for p in found.curve if math.isfinite(p.speed_fps.mid)]
    x = [p.mass_gr for p in rows]
    name, line = look.plain(found.question.rig.name), {**look.mark(1), "marker": ""}
    figure = look.new_figure(
        "efficiency", f"Efficiency of {name}",
        "Upper: speed in fps over the arrow's weight in grains, from the readings with their 95 % range, "
        "and what is usual for such a bow. Lower: share of the energy that the arrow takes along, in %.",
        5.2,
    )  # fmt: skip
    grid = figure.add_gridspec(2, 1, height_ratios=[3, 2])

    def panel(place: int, y: str, low: Sequence[float], high: Sequence[float]) -> Axes:
        part = look.axes(figure, grid[place], x="arrow's weight (gr)", y=y)
        part.fill_between(x, low, high, label="95 % range", **look.area())
        return part

    speeds = [p.speed_fps for p in rows]
    top = panel(0, "speed (fps)", [s.low for s in speeds], [s.high for s in speeds])
    dots = (0, (2, 2))
    usual: dict[str, Any] = {"color": look.PALETTE["ink"], "linewidth": 1.0, "linestyle": dots}
    top.plot(x, [s.mid for s in speeds], label=_by(found), **line)
    top.plot(x, [p.usual_fps.low for p in rows], label="usual, 95 %", **usual)
    top.plot(x, [p.usual_fps.high for p in rows], **usual)
    read = [s.mass_gr for s in found.shots], [s.mean_fps for s in found.shots]
    top.plot(*read, label="mean read", **look.mark(2, line=False))
    titled(figure, _head(found))
    key_above(top)
    share = [100 * p.efficiency for p in rows]
    ends = [p.efficiency_range for p in rows]
    least, most = [100 * e.low for e in ends], [100 * e.high for e in ends]
    low = panel(1, "share of the energy (%)", least, most)
    low.plot(x, share, label=_by(found), **line)
    low.set_xlim(top.get_xlim())
    return figure
