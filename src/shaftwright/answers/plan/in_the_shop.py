"""What the stock has for an arrow that flies straight: the same shaft, and broadheads of its weight."""

from __future__ import annotations

from shaftwright.answers.plan.arrows import Arrow
from shaftwright.answers.plan.steps import Where
from shaftwright.records.notebook import BuildSpec
from shaftwright.records.stock import StockItem, shaft_facts
from shaftwright.rules.fits import part_fits


def shaft_like(where: Where, spec: BuildSpec) -> StockItem | None:
    """A row of the stock that is the same shaft: line, spine, weight and bore; singles before packs."""
    shelf = where.scenario.shelf
    mine = where.scenario.item(spec.shaft)
    if shelf is None or mine is None:
        return None
    facts = shaft_facts(mine)
    length = spec.length_in or 0.0
    alike = [
        i for i in shelf.of_kind("shaft")
        if i.material == mine.material and (i.full_length_in or 0.0) >= length - 1e-6
        and (f := shaft_facts(i)).spine_mils == facts.spine_mils
        and abs(f.gr_per_in - facts.gr_per_in) < 0.05 and f.inside_in == facts.inside_in
        and i.price is not None
    ]  # fmt: skip
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
