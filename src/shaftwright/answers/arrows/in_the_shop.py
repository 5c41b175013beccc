"""What the stock has for an arrow that flies straight: the same shaft, and broadheads of its weight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shaftwright.parameters import setting
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import Stock, StockItem, line_of, shaft_facts
from shaftwright.rules.fits import part_fits

if TYPE_CHECKING:
    from shaftwright.answers.arrows.shot import Arrow
    from shaftwright.answers.plan.steps import Where


def rows_like(stock: Stock, spec: BuildSpec) -> list[StockItem]:
    """The rows of a stock that are the named shaft, however it is sold, and long enough; its own first."""
    named = stock.by_name.get(spec.shaft) if spec.shaft else None
    if named is not None and named.kind == "shaft":
        facts = shaft_facts(named)
        spine, bore = facts.spine_mils, facts.inside_in
        per_inch: float | None = facts.gr_per_in
    elif spec.spine_mils is None:
        return []
    else:
        spine, per_inch, bore = spec.spine_mils, spec.gr_per_in, None
    found = []
    for row in stock.of_kind("shaft"):
        long = (row.full_length_in or 0.0) >= (spec.length_in or 0.0) - 1e-6
        one_make = named is None or (line_of(named), named.material) == (line_of(row), row.material)
        if not (long and one_make):
            continue
        other = shaft_facts(row)
        same = abs(other.spine_mils - spine) <= setting("plan.same_spine_mils")
        if per_inch is not None:
            same &= abs(other.gr_per_in - per_inch) <= setting("plan.same_gr_per_in")
        if bore is not None and other.inside_in is not None:
            same &= abs(bore - other.inside_in) <= setting("matching.bore_fit_in")
        if same:
            found.append(row)
    return sorted(found, key=lambda row: row is not named)


def shaft_like(where: Where, spec: BuildSpec) -> StockItem | None:
    """A row of the stock that is the same shaft: line, spine, weight and bore; singles before packs."""
    shelf = where.scenario.shelf
    mine = where.scenario.item(spec.shaft)
    if shelf is None or mine is None:
        return None
    alike = [row for row in rows_like(shelf, spec) if row.price is not None]
    return min(alike, key=lambda i: (i.pack, i.price or 0.0), default=mine)


def broadhead_for(where: Where, arrow: Arrow) -> StockItem | None:
    """The broadhead nearest in weight to the point that flew; in hand before to be bought."""
    shelf, spec = where.scenario.shelf, arrow.spec
    shaft = where.scenario.item(spec.shaft)
    if shelf is None or shaft is None:
        return None
    want = float(arrow.build.head_gr[0])
    fitting = [b for b in shelf.of_kind("broadhead") if part_fits(b, shaft)]
    return min(
        fitting, default=None,
        key=lambda b: (round(abs((b.mass_gr or 0.0) - want) / 2), not b.in_hand, b.price or 0.0, b.item),
    )  # fmt: skip
