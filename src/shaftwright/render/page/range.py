"""Sections of the report: what the bare shafts say, and what goes on the list."""

from __future__ import annotations

from shaftwright.answers.plan.result import Shot
from shaftwright.answers.report import Report
from shaftwright.answers.shop.packs import ListLine
from shaftwright.inference.band import Band
from shaftwright.render.page.answer import Section, picture, section
from shaftwright.render.page.markup import Markup, element, items, table
from shaftwright.render.screens.next import landed
from shaftwright.render.screens.shop import sections
from shaftwright.units import distance_told, in_100, inches

#: causes less likely than this are not listed
LEAST_CHANCE = 0.03


def shots_section(told: Report) -> Section | None:
    """Every arrow shot, best first; None before any shot."""
    asked = told.question
    if not asked.plan.shot:
        return None
    headers = [
        "arrow",
        ("ends", "n"),
        f"bare lands at {distance_told(20, asked.rig.units)}",
        "reads",
        "stands",
    ]
    rows = [
        [_arrow(one), one.groups, landed(one.offset_in, asked.rig.units), one.reads, one.standing]
        for one in asked.plan.shot
    ]
    return section(
        "shots", "Arrows shot", table("All ends of an arrow together, best first", headers, rows)
    )


def _arrow(one: Shot) -> str:
    """An arrow as it was shot, and what was set otherwise than now."""
    setting = "" if one.setting == "now" else f"shot with {one.setting}"
    parts = (one.shaft, inches(one.length_in), one.point, one.insert, setting)
    return ", ".join(part for part in parts if part)


def bareshaft_section(told: Report) -> Section | None:
    """The target, what it could be, and what the shots did to the doubt."""
    from shaftwright.render.pictures.bareshaft import target_view

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
        "div", items(found.dangers, class_="danger"), causes,
        element("p", f"The spine that suits at {_at(found.band_after)}: {_band(found.band_before)} before "
                f"you shot, {_band(found.band_after)} now."),
    )  # fmt: skip
    body = element("div", drawn, words, class_="side") if drawn is not None else words
    return section("bare-shafts", "What the bare shafts say", body)


def _at(band: Band) -> str:
    return f"{inches(band.length_in)} with {band.front_gr:.0f} gr up front, {in_100(band.chance)}"


def _band(band: Band) -> str:
    return f"{band.mid:.0f} ({band.low:.0f} to {band.high:.0f})"


def shopping_section(told: Report) -> Section | None:
    """Test shafts first, then the final list with prices."""
    answer = told.shopping
    if answer is None:
        return None
    lists = {name: _list(name, lines) for name, lines in sections(answer)}
    shafts = () if answer.kit is None else answer.kit.shafts
    trials = [
        f"{s.quantity} {s.item} at {inches(s.length_in)} with {' + '.join(filter(None, (s.point, s.insert)))}"
        for s in shafts
    ]
    money = f"All together {answer.total_price:.2f}" + (
        f"; without a price in the stock: {', '.join(answer.unpriced)}" if answer.unpriced else ""
    )
    plan = answer.cut_plan
    cut = None if plan is None else element(
        "p", f"Likely to end near {inches(plan.expected_length_in)}, cut only while it reads weak; "
        f"never under {inches(plan.shortest_safe_in)}.",
    )  # fmt: skip
    both = element(
        "div",
        element(
            "div", lists.get("test kit"),
            element("h3", "Shoot the test shafts bare, in this order") if trials else None,
            items(trials, "ol"), cut,
        ),
        element("div", lists.get("list"), element("p", money)), class_="side even",
    )  # fmt: skip
    return section(
        "list", "Shopping list", both,
        items(answer.notes),
    )  # fmt: skip


def _list(name: str, lines: tuple[ListLine, ...]) -> Markup:
    headers = ["item", ("need", "n"), ("have", "n"), ("buy", "n"), ("price", "n")]
    body = []
    for line in lines:
        packs = f"{line.packs} of {line.pack}" if line.pack > 1 else str(line.packs)
        price = "" if line.price is None else f"{line.price:.2f}"
        body.append(
            [line.item, line.quantity, line.in_hand or "", packs if line.packs else "", price]
        )
    return table(name, headers, body, [line.why for line in lines], class_="list")
