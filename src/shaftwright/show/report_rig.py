"""Sections of the report: the rules at work, the setup card, the cautions."""

from __future__ import annotations

from typing import Any, Final

from shaftwright.advise.report import Report
from shaftwright.quantities import inches
from shaftwright.rulebook.cautions import Caution
from shaftwright.show.markup import Markup, element, items
from shaftwright.show.report_answer import Section, picture, section

#: How a field's suffix is read: what follows the number.
_UNITS: Final = {"_gr_per_lb": " gr/lb", "_gr": " gr", "_lb": " lb", "_deg": " degrees", "_n_m": " N/m",
                 "_n_s_m": " N s/m", "_m": " m"}  # fmt: skip


def rules_section(told: Report) -> Section:
    """The ladder and, folded, the whole trace.

    Parameters
    ----------
    told : Report
        The report.

    Returns
    -------
    tuple
        The section.
    """
    from shaftwright.show.plots.ladder import ladder_figure

    figure = picture(
        ladder_figure(told.ladder, "ladder"),
        "From the draw weight down, what each rule adds or takes away; whiskers hold 95 chances in 100. "
        "Hatched bars take away.",
    )
    trace = told.choice.trace
    silent = [
        f"{_name(s['name'])}: {s['actual']}; it needs {s['required']}" for s in trace["silent"]
    ]
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
        about = element("small", f"{node['reason']} ({_name(node['basis'])}{source})")
    below = [_node(child) for child in node["children"]]
    return element(
        "li", element("b", f"{value} {unit}".strip()), f" {label}", about,
        element("ul", *below) if below else None,
    )  # fmt: skip


def card_section(told: Report) -> Section:
    """Everything needed to rebuild the rig and the first build.

    Parameters
    ----------
    told : Report
        The report.

    Returns
    -------
    tuple
        The section.
    """
    rig = told.rig.model_dump(exclude_none=True)
    weight = rig["bow"].pop("draw_weight")
    pairs = [
        ("rig", told.rig.name),
        ("purpose", told.question.purpose_rule.label),
        ("draw weight", _weight(weight)),
    ]
    for part in ("archer", "bow", "string", "launch"):
        pairs += _fields(rig.get(part) or {}, "string " if part == "string" else "")
    if told.choice.listed:
        build = told.choice.listed[0]
        parts = [("point", build.point), ("insert", build.insert), ("collar", build.collar)]
        pairs += [
            ("arrow, best of the list", build.shaft), ("shaft length", inches(build.length_in)),
            *((name, part) for name, part in parts if part),
            ("front mass", f"{build.front_gr:.0f} gr"), ("tail mass", f"{build.tail_gr:.0f} gr"),
            ("whole arrow", f"{build.total_gr:.0f} gr"),
        ]  # fmt: skip
    pairs += [("shots counted", f"{told.question.learned.of_this_bow} readings of this bow")] if (
        told.question.learned is not None
    ) else []  # fmt: skip
    rows = [element("div", element("dt", name), element("dd", value)) for name, value in pairs]
    card = element("dl", *rows, class_="card")
    return section("card", "Setup card", card)


def _weight(weight: dict[str, Any]) -> str:
    if weight.get("curve"):
        draw, force = weight["curve"][-1]
        return f"measured curve, up to {force:g} lb at {inches(draw)}"
    at = weight["at"]
    return f"{weight['lb']:g} lb at " + ("the own draw" if at == "own_draw" else inches(at))


def _fields(values: dict[str, Any], before: str = "") -> list[tuple[str, str]]:
    """Fields as label and value; the suffix of a field's name is its unit."""
    found: list[tuple[str, str]] = []
    for field, value in values.items():
        if isinstance(value, dict):
            found += _fields(value, f"{before}{_name(field)} ")
            continue
        label, shown = field, _name(str(value))
        if isinstance(value, float | int) and not isinstance(value, bool):
            shown = f"{value:g}"
            if field.endswith("_in"):
                label, shown = field.removesuffix("_in"), inches(float(value))
            for suffix, unit in _UNITS.items():
                if field.endswith(suffix):
                    label, shown = field.removesuffix(suffix), f"{value:g}{unit}"
                    break
        elif field.endswith("_id"):
            label, shown = field.removesuffix("_id"), str(value)
        found.append((before + _name(label.removesuffix("_in")), shown))
    return found


def cautions_section(told: Report) -> Section:
    """All cautions that are due, gravest first, each with why and what to do.

    Parameters
    ----------
    told : Report
        The report.

    Returns
    -------
    tuple
        The section.
    """
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
