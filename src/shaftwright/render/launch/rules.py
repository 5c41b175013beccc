"""The rules against the launch model, as text and as a page."""

from __future__ import annotations

from shaftwright.answers.launch.against_rules import Against, RuleAgainst
from shaftwright.render.words import bullets, table, wrap
from shaftwright.units import Interval


def span_told(spread: Interval) -> str:
    """Both ends of a range, signed."""
    return f"{spread.low:+.1f} to {spread.high:+.1f}"


def share_told(rule: RuleAgainst) -> str:
    """In how many of 100 pairs the model has the trade's sign."""
    return "-" if rule.share != rule.share else f"{100 * rule.share:.0f}"


def against_text(found: Against) -> str:
    """The comparison in 80 columns, what disagrees said in sentences."""
    rows = [
        [
            rule.name if rule.kind != "fletching_mass" else f"{rule.name} (fletching)",
            f"{rule.trade.mid:+.1f}", span_told(rule.trade), f"{rule.physics.mid:+.1f}",
            span_told(rule.physics), share_told(rule),
        ]
        for rule in found.rules
    ]  # fmt: skip
    headers = ["rule", "trade", "range", "model", "range", "sign %"]
    parts = [
        wrap(
            f"Stiffness asked for, in per cent, by the rules and by the launch model over "
            f"{found.rigs} random rigs with {found.draws} draws of settings each; ranges are 95 %. "
            "The last column is the share of rigs and settings with the rule's sign."
        ),
        table(rows, headers, "lrlrlr"),
        "What each change is:\n" + bullets(f"{rule.name}: {rule.change}" for rule in found.rules),
    ]
    told = [sentence(rule) for rule in found.rules if rule.verdict not in ("agrees",)]
    if told:
        parts.append("Where they differ:\n" + bullets(told))
    parts.append(
        wrap(
            "The model has no say in: " + ", ".join(u.name for u in found.untried) + ". "
            "It was not fitted to the rules, nor they to it; no data of tuned rigs is fitted here."
        )
    )
    return "\n\n".join(parts)


def sentence(rule: RuleAgainst) -> str:
    """What is to be said of a rule that does not plainly agree."""
    trade = f"trade {rule.trade.mid:+.1f} % ({span_told(rule.trade)})"
    model = f"model {rule.physics.mid:+.1f} % ({span_told(rule.physics)})"
    head = f"{rule.name}, {rule.change}: {trade}, {model}"
    if rule.verdict == "contradicts":
        return f"{head}; they disagree on the sign in {1 - rule.share:.0%} of the pairs"
    if rule.verdict == "sign_unsure":
        return f"{head}; the sign hangs on the settings ({rule.share:.0%} with the trade's)"
    if rule.verdict == "no_trade_sign":
        return f"{head}; the trade agrees on no sign"
    if abs(rule.trade.mid) < 0.05:
        return head
    return f"{head}; same sign, {rule.physics.mid / rule.trade.mid:.1f} times the trade's size"
