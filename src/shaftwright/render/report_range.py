"""Sections of the report: what the bare shafts say, and what goes on the list."""

from __future__ import annotations

import itertools

from shaftwright.answers.report import Report
from shaftwright.answers.shop_cut import CutPlan
from shaftwright.render.markup import Markup, element, items, table
from shaftwright.render.report_answer import Section, picture, section
from shaftwright.render.shop_rows import Row, rows_of
from shaftwright.render.shop_words import first_line
from shaftwright.units import in_100, inches

#: causes less likely than this are not listed
LEAST_CHANCE = 0.03


def bareshaft_section(told: Report) -> Section | None:
    """The one next change first, then the target, causes and what was seen.

    Parameters
    ----------
    told : Report
        The report.

    Returns
    -------
    tuple or None
        None without bare shafts of the bow as it stands.
    """
    from shaftwright.render.bareshaft import expect_told
    from shaftwright.render.bareshaft_picture import target_view

    found = told.diagnosis
    if found is None:
        return None
    rows = [
        [cause.label, in_100(cause.chance), cause.check]
        for axis, most in (("sideways", 4), ("vertical", 2))
        for cause in [c for c in found.causes if c.axis == axis and c.chance >= LEAST_CHANCE][:most]
        # the checks ask for shots, and such an arrow is not shot
        if not found.dangers
    ]
    causes = table(
        "What it could be, and how to find out", ["cause", ("chance", "n"), "check"], rows
    )
    view = target_view(found, "target")
    drawn = None
    if view is not None:
        drawn = picture(
            view,
            "The target as you saw it: fletched and bare hits, and where the next centre should lie.",
        )
    words = element(
        "div", element("p", found.verdict),
        element("p", f"Expect the next bare centre {expect_told(found.expect_now)}."), causes,
    )  # fmt: skip
    body = element("div", drawn, words, class_="side") if drawn is not None else words
    return section("bare-shafts", "What the bare shafts say", body)


def shopping_section(told: Report) -> Section | None:
    """Test shafts first, then the final list with prices.

    Parameters
    ----------
    told : Report
        The report.

    Returns
    -------
    tuple or None
        None without a list.
    """
    answer = told.shopping
    if answer is None:
        return None
    lists = {name: _list(name, rows) for name, rows in rows_of(answer) if rows}
    trials = [
        f"{t.shaft} at {inches(t.length_in)} with {' + '.join(p for p in (t.point, t.insert, t.collar) if p)}"
        for t in answer.kit.shafts
    ]
    money = f"All together {answer.total_price:.2f}" + (
        f"; without a price in the stock: {', '.join(answer.unpriced)}" if answer.unpriced else ""
    )
    cuts = []
    if answer.cut is not None:
        cuts = _cuts(answer.cut)
    both = element(
        "div",
        element(
            "div", lists.get("test kit"),
            element("h3", "Shoot the test shafts bare, in this order, uncut"), items(trials, "ol"),
            element("h3", "Where to cut") if cuts else None, items(cuts),
        ),
        element("div", lists.get("final list"), element("p", money)), class_="side even",
    )  # fmt: skip
    return section(
        "list", "Shopping list", element("p", first_line(answer), class_="lead"), both,
        items(answer.notes),
    )  # fmt: skip


def _cuts(plan: CutPlan) -> list[str]:
    """Lengths on the way down, those with the same word together."""
    lines = []
    for note, steps in itertools.groupby(plan.steps, key=lambda step: step.note):
        lengths = [inches(step.length_in) for step in steps]
        span = lengths[0] if len(lengths) == 1 else f"{lengths[0]} to {lengths[-1]}"
        lines.append(f"{span}: {note}")
    return lines


def _list(name: str, rows: list[Row]) -> Markup:
    headers = ["item", ("need", "n"), ("have", "n"), ("buy", "n"), ("price", "n")]
    body = []
    for row in rows:
        packs = f"{row['packs']}" + (
            f" of {row['pack']}" if row["pack"] > 1 and row["packs"] else ""
        )
        price = "" if row["price"] is None else f"{row['price']:.2f}"
        body.append(
            [
                row["item"],
                row["quantity"],
                row["in_hand"] or "",
                packs if row["packs"] else "",
                price,
            ]
        )
    return table(name, headers, body, [row["why"] for row in rows], class_="list")
