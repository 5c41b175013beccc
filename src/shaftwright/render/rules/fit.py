"""What a table of tuned rigs says of the rules, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shaftwright.inference.rule_fit import FittedSize, RuleFit
from shaftwright.parameters import Range
from shaftwright.render.words import bullets, table, wrap

#: share of its doubt that a rule must lose before the table is said to speak of it
_SPEAKS = 0.9


def fit_text(found: RuleFit, left_out: int = 0) -> str:
    """The fit in 80 columns."""
    spoken = [s for s in found.sizes if s.doubt_left < _SPEAKS]
    quiet = [_name(s) for s in found.sizes if s.doubt_left >= _SPEAKS]
    rows = f"{found.arrows} arrow{'s' * (found.arrows != 1)} of {found.rigs} rig{'s' * (found.rigs != 1)}"
    more = (
        f"; {left_out} row{'s' * (left_out != 1)} left out for want of something"
        if left_out
        else ""
    )
    parts = [wrap(f"{_verdict(spoken)} Fitted to {rows}{more}.")]
    if spoken:
        lines = [
            [
                f"{_name(s)}, {_unit(s.unit)}",
                _span(s.before),
                _span(s.after),
                f"{s.doubt_left:.0%}",
                s.arrows,
            ]
            for s in spoken
        ]
        parts.append(table(lines, ["rule", "before", "fitted", "left", "n"], "lllrr"))
        parts.append("  left: share of its doubt that remains; n: arrows it was at work in")
    if quiet:
        parts.append("Hardly touched by this table:\n" + bullets([", ".join(quiet)]))
    parts.append(
        wrap(
            f"Mean chance given to what was seen: {found.agree_before:.0%} before, {found.agree_after:.0%} "
            "after, on the rows that were fitted. Ranges are 95 %. Rules that always come together cannot be "
            "told apart by a table. Nothing was changed: to take a fitted size, write it into the rule's "
            "file with basis: fitted and a source."
        )
    )  # fmt: skip
    return "\n\n".join(parts)


def _verdict(spoken: Sequence[FittedSize]) -> str:
    if not spoken:
        return "This table is too small to say anything of the rules' sizes."
    apart = [s for s in spoken if not s.before.low <= s.after.value <= s.before.high]
    if apart:
        return f"This table quarrels with: {', '.join(_name(s) for s in apart)}."
    return f"This table narrows {len(spoken)} rule{'s' * (len(spoken) != 1)} and contradicts none."


def fit_dict(found: RuleFit, left_out: Sequence[str] = ()) -> dict[str, Any]:
    """The fit as plain data."""
    rules = [
        {"rule": s.code, "name": s.name, "case": s.case, "unit": s.unit, "before": s.before.model_dump(),
         "fitted": s.after.model_dump(), "doubt_left": s.doubt_left, "arrows": s.arrows}
        for s in found.sizes
    ]  # fmt: skip
    return {
        "arrows": found.arrows, "rigs": found.rigs,
        "agreement": {"before": found.agree_before, "after": found.agree_after},
        "rules": rules, "left_out": list(left_out), "seed": found.seed,
    }  # fmt: skip


def _name(size: FittedSize) -> str:
    return size.name + (f" ({size.case})" if size.case else "")


def _unit(unit: str) -> str:
    return "lb" if unit == "lb" else "%"


def _span(span: Range) -> str:
    return f"{round(span.value, 3) + 0.0:+.2g} ({span.low:.2g} to {span.high:.2g})"
