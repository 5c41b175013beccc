"""Sections of the report: the rules at work, the setup card, the cautions."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.card.card import SECTIONS, Line
from shaftwright.answers.report import Report
from shaftwright.render.page.answer import Section, picture, section
from shaftwright.render.page.markup import Markup, element, items
from shaftwright.render.screens.card import HEADINGS, broadhead_words, done_words
from shaftwright.render.screens.explain import basis_words
from shaftwright.rules.cautions import Caution


def rules_section(told: Report) -> Section:
    """The ladder and, folded, the whole trace."""
    from shaftwright.render.pictures.ladder import ladder_figure

    figure = picture(
        ladder_figure(told.ladder, "ladder"),
        "From the draw weight down, what each rule adds or takes away; whiskers hold 95 chances in 100. "
        "Hatched bars take away.",
    )
    trace = told.choice.trace
    silent = [f"{_name(s['name'])}: {s['found']}; it needs {s['needs']}" for s in trace["silent"]]
    tree = element("ul", _node(trace["root"]), class_="trace")
    beside = element(
        "div",
        element("p", "Every number can be taken apart. Open the trace to follow each one down to what you "
                "measured, or to the rule that says so and how sure the trade is of it."),
        element("details", element("summary", "The whole trace"), tree),
        element("details", element("summary", f"Rules that did not apply: {len(silent)}"), items(silent))
        if silent else None,
    )  # fmt: skip
    return section(
        "rules", "Rule by rule", element("div", figure, beside, class_="side"), only="screen"
    )


def _name(text: str) -> str:
    return text.replace("-", " ").replace("_", " ")


def _node(node: dict[str, Any]) -> Markup:
    unit = {"pct_of_draw_weight": "% of draw weight"}.get(node["unit"], node["unit"])
    value = f"{node['value']:.4g}" if abs(node["value"]) < 1000 else f"{node['value']:.0f}"
    label = _name(node["label"]) if node.get("rule") else node["label"]
    about = None
    if node.get("rule"):
        source = f"; {', '.join(node['source'])}" if node.get("source") else ""
        about = element("small", f"{node['reason']} ({basis_words(node)}{source})")
    below = [_node(child) for child in node["children"]]
    return element(
        "li", element("b", f"{value} {unit}".strip()), f" {label}", about,
        element("ul", *below) if below else None,
    )  # fmt: skip


def card_section(told: Report) -> Section:
    """Everything needed to set the bow up again, and what is missing for it."""
    card = told.card
    groups = [
        element("div", element("h3", HEADINGS[name]), element("dl", *map(_fact, lines)))
        for name in SECTIONS if (lines := card.lines(name))
    ]  # fmt: skip
    missing = items(card.missing)
    return section(
        "card", "Setup card", items([*done_words(card), *broadhead_words(card)]),
        element("div", *groups, class_="card"),
        element("h3", "Missing to set this bow up again") if missing else None, missing,
        items(card.warnings),
    )  # fmt: skip


def _fact(line: Line) -> Markup:
    return element("div", element("dt", line.label), element("dd", line.value))


def cautions_section(told: Report) -> Section:
    """All cautions that are due, gravest first, each with why and what to do."""
    grave = [c for c in told.choice.cautions if c.severity == "danger"]
    others = [c for c in told.choice.cautions if c.severity != "danger"]
    told_short = [*(element("strong", c.text) for c in grave), *(c.text for c in others)]
    full = items(map(_full, (*grave, *others)))
    return section(
        "cautions", "Cautions", items(told_short, class_="cautions"),
        element("details", element("summary", "Why, and what to do"), full),
    )  # fmt: skip


def _full(caution: Caution) -> Markup:
    source = ", ".join(caution.source) or "no source"
    return element(
        "span", element("strong", caution.text), f" {caution.why} {caution.do} "
        f"({caution.basis.replace('_', ' ')}, {source})"
    )  # fmt: skip
