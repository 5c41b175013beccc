"""The trace and the rules as text."""

from __future__ import annotations

from typing import Any

from shaftwright.answers.explain import Explained
from shaftwright.parameters import Range
from shaftwright.render.screens.build import danger_first
from shaftwright.render.words import (
    band_told,
    bullets,
    closing,
    eighths,
    fives,
    opening,
    table,
    wrap,
)
from shaftwright.rules.load import RuleBook
from shaftwright.rules.schema import Linear, Rule, Table
from shaftwright.rules.sections import Caution
from shaftwright.rules.sizes import of_all_rigs


def explain_text(explained: Explained, full: bool = False) -> str:
    """What pushes the spine where it is, the largest first; with `full` the whole trace."""
    asked, band = explained.question, explained.band
    weight = explained.trace["root"]["children"][0]
    head = (
        f"{asked.rig.name} at {eighths(band.length_in)} in, {fives(band.front_gr)} gr up front: "
        f"spine {band_told(band, asked.only_wood)}, stiff to weak"
    )
    parts = [opening(asked), *danger_first(explained.dangers), wrap(head)]
    if full:
        lines = ["What each rule adds, the mean of its range, in pounds (a stiffer shaft is +):"]
        parts.append("\n".join([*lines, *_tree(weight, 0)]))
    else:
        parts[-1] += "\n" + _pushes(weight)
    silent = explained.trace["silent"]
    if silent and full:
        told = (f"{s['name']}{_own(s)}: {s['found']}; it needs {s['needs']}" for s in silent)
        parts.append("Did not apply:\n" + bullets(told))
    if full and explained.not_reckoned:
        parts.append("Written down, not used:\n" + bullets(explained.not_reckoned))
    if full and explained.sizes_used:
        parts.append(_sizes(explained))
    if explained.seen is not None or explained.no_launch is not None:
        from shaftwright.render.screens.launch import seen_launch_text

        parts.append(seen_launch_text(explained.seen, explained.no_launch or "", full))
    rules = "The whole of a rule: shaftwright explain --rule NAME"
    rules += "" if full else "; names and why: --full"
    return "\n\n".join([*parts, rules + "\n" + closing(asked, full=full)])


def _pushes(weight: dict[str, Any]) -> str:
    """What each rule saw and what it adds, without the names."""
    rows = flat(weight)
    stated = next(r for r in rows if not r.get("rule") and r["op"] == "input")
    pushes = sorted((r for r in rows if r is not stated), key=lambda r: -abs(r["value"]))
    still = "; ".join(_saw(r) for r in pushes if abs(r["value"]) < 0.05)
    lines = [
        f"What asks for a stiffer shaft (+) or a weaker one (-), in pounds on {stated['value']:.1f}:"
    ]
    for row in (r for r in pushes if abs(r["value"]) >= 0.05):
        said = _saw(row) if row.get("rule") else row["label"]
        lines.append(wrap(said, " " * 9, f"  {row['value']:+5.1f}  "))
    if still:
        lines.append(wrap(f"Only doubt, no push either way: {still}.", "  ", "  "))
    return "\n".join(lines)


def flat(node: dict[str, Any]) -> list[dict[str, Any]]:
    """Rules and stated figures of a trace, without what lies below them."""
    if node.get("rule") or node["op"] != "sum":
        return [node]
    return [row for child in node["children"] for row in flat(child)]


def _saw(node: dict[str, Any]) -> str:
    return str(node["reason"]).split(";")[0] + _own(node)


def _own(node: dict[str, Any]) -> str:
    """The mark of what is the archer's own."""
    return f" (your own {node['own']})" if node.get("own") else ""


def basis_words(node: dict[str, Any]) -> str:
    """What a rule's node of a trace rests on, the launch model or the archer named for a part in it."""
    words = str(node["basis"]).replace("_", " ")
    if node.get("own"):
        return f"{words}, your own {node['own']}"
    return f"{words} and launch model" if node.get("sizes") == "both" else words


def _tree(node: dict[str, Any], depth: int) -> list[str]:
    indent = "  " * (depth + 1)
    sign = "+" if depth and node.get("rule") else ""
    lines = [f"{indent}{round(node['value'], 2) + 0.0:{sign}8.2f}  {node['label']}"]
    if node.get("rule"):
        reason = f"{node['reason']} ({basis_words(node)})"
        lines.append(wrap(reason, indent + "            "))
        low, high = (round(node[end], 2) + 0.0 for end in ("low", "high"))
        doubt = f"95 in 100 between {low:+.2f} and {high:+.2f}"
        if low == high:
            doubt = "usual from such a bow, so practice knows it without doubt"
        lines.append(f"{indent}            {doubt}")
    elif node["op"] == "sum":
        for child in node["children"]:
            lines += _tree(child, depth + 1)
    return lines


def _sizes(explained: Explained) -> str:
    """Whose sizes the rules were taken with."""
    laws = list(dict.fromkeys(law for one in explained.sizes_used for law in one.by_law))
    rows = [
        [one.name + (f" ({one.case})" if one.case else ""), _size(one.trade),
         " ".join(f"{one.by_law[law]:.2g}" if law in one.by_law else "-" for law in laws),
         _size(one.used, one.median)]
        for one in explained.sizes_used
    ]  # fmt: skip
    said = {
        "physics": "Sizes: the launch model's where it has one, the trade's elsewhere.",
        "both": "Sizes: trade and launch model joined as two studies of one thing, their doubt widened "
        "by what lies between them.",
    }[explained.basis]
    said += (
        f" The model's figures: {', '.join(laws)} law of the string's hold; - finds no spine that "
        "leaves straight."
    )
    end = "Used: half lies below, and 95 %. --basis trade or physics takes one of them."
    head = ["rule", "trade", "model", "used"]
    return "\n".join([wrap(said), table(rows, head, "llll"), wrap(end, "  ")])


def _size(span: Range, middle: float | None = None) -> str:
    shown = (span.value if middle is None else middle, span.low, span.high)
    value, low, high = (f"{round(v, 2) + 0.0:.2g}" for v in shown)
    return f"{value} ({low}..{high})"


def _span(span: Range, unit: str) -> str:
    return f"{span.value:+g} ({span.low:g} to {span.high:g}) {'%' if unit != 'lb' else 'lb'}"


def rule_dict(rule: Rule, book: RuleBook) -> dict[str, Any]:
    """One rule as plain data, with the place it is written in."""
    plain: dict[str, Any] = rule.model_dump(mode="json", by_alias=True, exclude_none=True)
    more = {"topic": book.topics[rule.code], "place": book.places[rule.code]}
    return plain | more | ({"own": book.own[rule.code]} if rule.code in book.own else {})


def rule_text(rule: Rule, book: RuleBook) -> str:
    """The whole of one rule in 80 columns."""
    lines = [f"{rule.name} ({rule.code}, {book.places[rule.code]}): {book.topics[rule.code]}", ""]
    form, of = rule.form, ""
    if isinstance(form, Linear):
        of = f" for every {form.per} of {form.of}"
    elif isinstance(form, Table):
        of = f", times {form.table}.csv at {form.of}"
    for case, span in _spans(rule):
        lines.append(f"  {case + ' ':<19}" if case else "  ")
        lines[-1] += _span(span, rule.shift_unit) + ("" if case else of)
    lines.append("  Most likely, and a 95 % range. What is added is the range's mean.")
    if rule.code in book.own:
        lines.append(f"  Your own {book.own[rule.code]}; it stands as written.")
    elif any(code == rule.code for code, _ in of_all_rigs()):
        both = (
            "answers weigh it with the launch model's (--basis both), and a rig's trace shows both"
        )
        lines.append(wrap(f"The trade's size; {both}.", "  ", "  "))
    lines += _grounds(rule, "basis: ")
    if rule.overlaps is not None:
        lines.append(f"  shares its doubt with: {rule.overlaps.group}")
    if rule.note:
        lines.append(_told("note", rule.note))
    return "\n".join(lines)


def _told(name: str, text: str) -> str:
    return wrap(f"{name}: {text}", " " * (len(name) + 4), "  ")


def _grounds(one: Rule | Caution, head: str = "") -> list[str]:
    """Why it matters, what to do, and what it rests on."""
    basis, source = one.basis.replace("_", " "), ", ".join(one.source) or "no source"
    return [_told("why", one.why), _told("do", one.do), f"  {head}{basis}, {source}"]


def cautions_text(due: list[Caution]) -> str:
    """Cautions in 80 columns, each with why it matters and what to do."""
    lines = []
    for caution in due:
        mark = "! " if caution.severity == "danger" else "- "
        lines += [wrap(caution.text, "  ", mark), *_grounds(caution)]
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
                own = ", your own" if rule.code in book.own else ""
                first = (rule.name, rule.basis.replace("_", " ") + own) if i == 0 else ("", "")
                rows.append([first[0], case, _span(span, rule.shift_unit), first[1]])
        parts.append(topic + "\n" + table(rows))
    return "\n\n".join(parts)
