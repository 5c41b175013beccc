"""What a club's table says of the rules, and the row that an archer adds to it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from shaftwright.files.tuned import Appended
from shaftwright.inference.score import CHANCES, Group
from shaftwright.render.words import table, wrap

#: arrows under which no verdict is given
_FEW = 10


def score_text(found: Sequence[Group], left_out: int = 0) -> str:
    """The scores in 80 columns, the verdict first."""
    whole = found[0]
    rows = []
    for group in found if len(found) > 2 else found[:1]:
        rows.append([f"{group.kind}, {group.arrows} arrow{'s' * (group.arrows != 1)}"])
        for way in group.ways:
            off = "-" if way.off_pct is None else f"{way.off_pct:.0f} %"
            shares = [f"{100 * share:.0f}" for share in way.inside]
            rows.append([f"- {way.way}", *shares, off, f"{way.log_score:.2f}"])
    heads = [f"{100 * chance:.0f}" for chance in CHANCES]
    of_rigs = f"{whole.arrows} arrow{'s' * (whole.arrows != 1)} of {whole.rigs} rig{'s' * (whole.rigs != 1)}"
    more = f"; {left_out} row{'s' * (left_out != 1)} left out for want of something" * bool(
        left_out
    )
    told = (
        "Inside: share of the arrows in the range that should hold 50, 80 and 95 in 100. Off by: how far "
        "what suited lay from the middle foretold, in percent of the spine, half of the arrows nearer. "
        "Score: mean logarithm of the chance given to what was seen; nearer 0 is better. The two simple "
        "ways state no doubt and got the one that suits this table best."
    )
    return "\n\n".join((
        wrap(f"{_verdict(whole)} {of_rigs.capitalize()}{more}."),
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


def score_dict(found: Sequence[Group], left_out: Sequence[str] = ()) -> dict[str, Any]:
    """The scores as plain data."""
    groups = [
        {"kind": g.kind, "arrows": g.arrows, "rigs": g.rigs, "ways": [
            {"way": w.way, **{f"inside_{100 * c:.0f}": x for c, x in zip(CHANCES, w.inside, strict=True)},
             "off_pct": w.off_pct, "log_score": w.log_score, "spread_pct": w.spread_pct} for w in g.ways
        ]}
        for g in found
    ]  # fmt: skip
    return {"groups": groups, "left_out": list(left_out)}


def row_text(cells: Mapping[str, str]) -> str:
    """The whole row that would be added, a column a line."""
    return "The row, all of it (rig: a name drawn by lot):\n" + table(
        [*cells.items()], gap="  ", indent="  "
    )


def appended_text(file: str, found: Appended) -> str:
    """Where the row is."""
    if found.there:
        return f"{file}:{found.line}: this row is there already; nothing was written."
    return f"{file}:{found.line}: 1 row added. Nothing was sent anywhere."
