"""The rules held against a table of tuned rigs, and against the launch; the row that an archer adds."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from shaftwright.answers.launch.against_rules import Against, RuleAgainst
from shaftwright.files.tuned import Appended
from shaftwright.inference.rule_fit import FittedSize, RuleFit
from shaftwright.inference.score import CHANCES, Group
from shaftwright.parameters import Range
from shaftwright.render.words import bullets, table, wrap
from shaftwright.units import Interval

#: share of its doubt that a rule must lose before the table is said to speak of it
_SPEAKS = 0.9
#: arrows under which no verdict is given
_FEW = 10


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'s' * (count != 1)}"


def _arrows(of: RuleFit | Group, left_out: int) -> str:
    """How many arrows of how many rigs, and what could not be used."""
    more = f"; {_counted(left_out, 'row')} left out for want of something" if left_out else ""
    return f"{_counted(of.arrows, 'arrow')} of {_counted(of.rigs, 'rig')}{more}"


def fit_text(found: RuleFit, left_out: int = 0) -> str:
    """The fit in 80 columns."""
    spoken = [s for s in found.sizes if s.doubt_left < _SPEAKS]
    quiet = [_name(s) for s in found.sizes if s.doubt_left >= _SPEAKS]
    parts = [wrap(f"{_quarrels(spoken)} Fitted to {_arrows(found, left_out)}.")]
    if spoken:
        lines = []
        for s in spoken:
            name = f"{_name(s)}, {'lb' if s.unit == 'lb' else '%'}"
            lines.append([name, _span(s.before), _span(s.after), f"{s.doubt_left:.0%}", s.arrows])
        parts.append(table(lines, ["rule", "before", "fitted", "left", "n"], "lllrr"))
        parts.append("  left: share of its doubt that remains; n: arrows it was at work in")
    if quiet:
        parts.append("Hardly touched by this table:\n" + bullets([", ".join(quiet)]))
    told = (
        f"Mean chance given to what was seen: {found.agreement.before:.0%} before, "
        f"{found.agreement.after:.0%} after, on the rows that were fitted. Ranges are 95 %. Rules that "
        "always come together cannot be told apart by a table. Nothing was changed: to take a fitted "
        "size, write it into the rule's "
        "file with basis: fitted and a source."
    )
    return "\n\n".join([*parts, wrap(told)])


def _quarrels(spoken: Sequence[FittedSize]) -> str:
    if not spoken:
        return "This table is too small to say anything of the rules' sizes."
    apart = [s for s in spoken if not s.before.low <= s.after.value <= s.before.high]
    if apart:
        return f"This table quarrels with: {', '.join(_name(s) for s in apart)}."
    return f"This table narrows {_counted(len(spoken), 'rule')} and contradicts none."


def _name(size: FittedSize) -> str:
    return size.name + (f" ({size.case})" if size.case else "")


def _span(span: Range) -> str:
    return f"{round(span.value, 3) + 0.0:+.2g} ({span.low:.2g} to {span.high:.2g})"


def score_text(found: Sequence[Group], left_out: int = 0) -> str:
    """The scores in 80 columns, the verdict first."""
    whole = found[0]
    rows = []
    for group in found if len(found) > 2 else found[:1]:
        rows.append([f"{group.kind}, {_counted(group.arrows, 'arrow')}"])
        for way in group.ways:
            off = "-" if way.off_pct is None else f"{way.off_pct:.0f} %"
            shares = [f"{100 * share:.0f}" for share in way.inside]
            rows.append([f"- {way.way}", *shares, off, f"{way.log_score:.2f}"])
    heads = [f"{100 * chance:.0f}" for chance in CHANCES]
    told = (
        "Inside: share of the arrows in the range that should hold 50, 80 and 95 in 100. Off by: how far "
        "what suited lay from the middle foretold, in percent of the spine, half of the arrows nearer. "
        "Score: mean logarithm of the chance given to what was seen; nearer 0 is better. The two simple "
        "ways state no doubt and got the one that suits this table best."
    )
    return "\n\n".join((
        wrap(f"{_verdict(whole)} {_arrows(whole, left_out)}."),
        table(rows, ["", *heads, "off by", "score"], "lrrrrr", gap="  "),
        wrap(told),
    ))  # fmt: skip


def _verdict(whole: Group) -> str:
    share = CHANCES.index(0.8)
    ours, *others = whole.ways
    if whole.arrows < _FEW:
        return "Too few arrows to say whether the rules hold."
    inside, beyond = ours.inside[share], 2 * math.sqrt(0.8 * 0.2 / whole.arrows)
    if inside < 0.8 - beyond:
        how = "The rules are too sure on this table"
    elif inside > 0.8 + beyond:
        how = "The rules are more timid than this table asks"
    else:
        how = "The ranges hold on this table"
    better = [way.way for way in others if way.log_score > ours.log_score]
    told = f"{how}: {100 * inside:.0f} in 100 lie where 80 should."
    return f"{told} But {' and '.join(better)} foretold it better." if better else told


def row_text(cells: Mapping[str, str]) -> str:
    """The whole row that would be added, a column a line."""
    shown = table([*cells.items()], gap="  ", indent="  ")
    return f"The row, all of it (rig: a name drawn by lot):\n{shown}"


def appended_text(file: str, found: Appended) -> str:
    """Where the row is."""
    if found.there:
        return f"{file}:{found.line}: this row is there already; nothing was written."
    return f"{file}:{found.line}: 1 row added. Nothing was sent anywhere."


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
