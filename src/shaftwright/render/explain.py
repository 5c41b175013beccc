"""The trace and the rules as text."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.explain import Explained
from shaftwright.render.words import bullets, table, wrap
from shaftwright.rules.cautions import Caution
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Linear, Range, Rule, Table
from shaftwright.rules.sizes import of_all_rigs
from shaftwright.units import inches


def explain_text(explained: Explained) -> str:
    """The trace in 80 columns: the rules that moved the band, then those that did not.

    Parameters
    ----------
    explained : Explained
        The trace.

    Returns
    -------
    str
        Text.
    """
    band = explained.band
    weight = explained.trace["root"]["children"][0]
    lines = [
        wrap(
            f"{explained.question.rig.name} at {inches(band.length_in)}, {band.front_gr:.0f} gr up front: "
            f"stiffest {band.low:.0f}, middle {band.mid:.0f}, weakest {band.high:.0f}"
        ),
        "",
        "What each rule adds to the draw weight, in pounds (a stiffer shaft is +):",
        *_tree(weight, 0),
    ]
    silent = explained.trace["silent"]
    if silent:
        lines += ["", "Did not apply:"]
        lines.append(
            bullets(f"{s['name']}: {s['found']}; it needs {s['needs']}" for s in silent)
        )
    if explained.question.warnings:
        lines += ["", bullets(explained.question.warnings, "! ")]
    lines += ["", "The whole of a rule: shaftwright explain --rule NAME"]
    return "\n".join(lines)


def basis_words(node: dict[str, Any]) -> str:
    """What a rule's node of a trace rests on, the launch model named where it has a part."""
    words = str(node["basis"]).replace("_", " ")
    return f"{words} and launch model" if node.get("sizes") == "both" else words


def _tree(node: dict[str, Any], depth: int) -> list[str]:
    indent = "  " * (depth + 1)
    sign = "+" if depth and node.get("rule") else ""
    lines = [f"{indent}{round(node['value'], 2) + 0.0:{sign}8.2f}  {node['label']}"]
    if node.get("rule"):
        doubt = next((c for c in node["children"] if "low" in c), None)
        reason = f"{node['reason']} ({basis_words(node)})"
        lines.append(wrap(reason, indent + "            "))
        if doubt is not None:
            unit = "%" if doubt["unit"] == "pct_of_draw_weight" else doubt["unit"]
            span = f"range of the effect {doubt['low']:.3g} to {doubt['high']:.3g} {unit}"
            lines.append(f"{indent}            {span}")
    elif node["op"] == "sum":
        for child in node["children"]:
            lines += _tree(child, depth + 1)
    return lines


def sizes_text(book: RuleBook) -> str:
    """Whose sizes the rules were reckoned with, below a trace.

    Parameters
    ----------
    book : RuleBook
        Not on the trade's sizes alone.

    Returns
    -------
    str
        Text in 80 columns.
    """
    said = {
        "physics": "Sizes: the launch model's where it has one, the trade's elsewhere.",
        "both": "Sizes: trade and launch model weighed by their doubt, widened where they quarrel.",
    }[book.basis]
    rules = {rule.code: rule for rule in book.rules}
    rows = []
    for (code, case), one in book.sizes.items():
        name = rules[code].name + (f" ({case})" if case else "")
        rows.append([name, *(_size(span) for span in (one.trade, one.physics, one.used))])
    quarrel = [rules[code].name for (code, _), one in book.sizes.items() if one.apart > 2]
    lines = [wrap(said), table(rows, ["rule", "trade", "model", "used"], "llll")]
    if quarrel:
        lines.append(
            wrap(f"Far apart: {', '.join(quarrel)}. Neither leg is proven; shots decide.", "  ")
        )
    lines.append(
        wrap(
            "The model's sizes are this rig's as far as a table over random rigs can tell; "
            "shaftwright launch shoots your own. --basis trade or physics reckons with one of them.", "  ",
        )
    )  # fmt: skip
    return "\n".join(lines)


def _size(span: Range) -> str:
    value, low, high = (f"{round(v, 2) + 0.0:.2g}" for v in (span.value, span.low, span.high))
    return f"{value} ({low} to {high})"


def _span(span: Range, unit: str) -> str:
    return f"{span.value:+g} ({span.low:g} to {span.high:g}) {'%' if unit != 'lb' else 'lb'}"


def rule_dict(rule: Rule, book: RuleBook) -> dict[str, Any]:
    """One rule as plain data, with the place it is written in."""
    plain: dict[str, Any] = rule.model_dump(mode="json", by_alias=True, exclude_none=True)
    return {"format": 1, **plain, "topic": book.topics[rule.code], "place": book.places[rule.code]}


def rule_text(rule: Rule, book: RuleBook) -> str:
    """The whole of one rule in 80 columns.

    Parameters
    ----------
    rule : Rule
        The rule.
    book : RuleBook
        For its place.

    Returns
    -------
    str
        Text.
    """
    lines = [f"{rule.name} ({rule.code}, {book.places[rule.code]}): {book.topics[rule.code]}", ""]
    if rule.cases:
        lines += [
            f"  {case:<18} {_span(span, rule.shift_unit)}" for case, span in rule.cases.items()
        ]
    else:
        span = rule.range_for(None)
        assert span is not None
        form, of = rule.form, ""
        if isinstance(form, Linear):
            of = f" for every {form.per} of {form.of}"
        elif isinstance(form, Table):
            of = f", times {form.table}.csv at {form.of}"
        lines.append(f"  {_span(span, rule.shift_unit)}{of}")
    if any(code == rule.code for code, _ in of_all_rigs()):
        lines.append(
            wrap(
                "The trade's size; answers weigh it with the launch model's (--basis both), and a rig's "
                "trace shows both.", "  ", "  ",
            )
        )  # fmt: skip
    lines.append(wrap(f"why: {rule.why}", "       ", "  "))
    lines.append(wrap(f"do: {rule.do}", "      ", "  "))
    source = f", {', '.join(rule.source)}" if rule.source else ", no source"
    lines.append(f"  basis: {rule.basis.replace('_', ' ')}{source}")
    if rule.overlaps is not None:
        lines.append(f"  shares its doubt with: {rule.overlaps.group}")
    if rule.note:
        lines.append(wrap(f"note: {rule.note}", "        ", "  "))
    return "\n".join(lines)


def cautions_text(due: list[Caution]) -> str:
    """Cautions in 80 columns, each with why it matters and what to do."""
    lines = []
    for caution in due:
        mark = "! " if caution.severity == "danger" else "- "
        source = ", ".join(caution.source) or "no source"
        lines.append(wrap(caution.text, "  ", mark))
        lines.append(wrap(f"why: {caution.why}", "       ", "  "))
        lines.append(wrap(f"do: {caution.do}", "      ", "  "))
        lines.append(f"  {caution.basis.replace('_', ' ')}, {source}")
    return "\n".join(lines)


def _spans(rule: Rule) -> list[tuple[str, Range]]:
    """A rule's cases with their ranges; one nameless case where it has none."""
    if rule.cases:
        return list(rule.cases.items())
    span = rule.range_for(None)
    return [] if span is None else [("", span)]


def rules_text(book: RuleBook) -> str:
    """All rules as a table, by topic."""
    parts = []
    for topic in dict.fromkeys(book.topics.values()):
        rows = []
        for rule in (r for r in book.rules if book.topics[r.code] == topic):
            for i, (case, span) in enumerate(_spans(rule)):
                name = rule.name if i == 0 else ""
                basis = rule.basis.replace("_", " ") if i == 0 else ""
                rows.append([name, case, _span(span, rule.shift_unit), basis])
        parts.append(topic + "\n" + table(rows))
    return "\n\n".join(parts)
