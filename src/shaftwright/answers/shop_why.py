"""Why the list is what it is: where it differs from `choose`, and when it is no advice at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shaftwright.answers.candidates import enumerate_builds
from shaftwright.answers.rank import Ranking, rank
from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.musts import Must, limited, within
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_final import (
    MERITS,
    FinalBuild,
    FinalChoice,
    final_choice,
    merit_parts,
)
from shaftwright.records.stock import Stock
from shaftwright.rules.purposes import setting
from shaftwright.units import inches, percent


def unlike_choose(
    asked: Scenario, stock: Stock, musts: Sequence[Must], wraps: bool, choice: FinalChoice,
    final: FinalBuild, left: float | None,
) -> str:  # fmt: skip
    """Why the list names another shaft than `choose` puts first.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, belief.
    stock : Stock
        The whole stock, as `choose` sees it.
    musts : sequence of Must
        Limits of the list.
    wraps : bool
        Whether the list reckons with a wrap.
    choice : FinalChoice
        What the list was taken from.
    final : FinalBuild
        What was taken.
    left : float or None
        What the budget leaves for the list.

    Returns
    -------
    str
        One sentence; empty when both name the same shaft.
    """
    if musts or wraps:
        candidates = enumerate_builds(asked.rig, stock, asked.purpose_rule)
        free = rank(asked.rig, candidates, asked.purpose_rule, asked.belief, asked.book, asked.speed,
                    tunable=False)  # fmt: skip
    else:
        free = choice.ranking
    first, ours = _first(free), {i.item for i in final.want.shaft.items}
    if first in ours or not first:
        return ""
    head = f"`choose` puts {first} first; "
    told = ", ".join(map(str, musts))
    if first not in {i.item for i in limited(stock, musts).of_kind("shaft")}:
        return f"{head}your limits ({told}) rule it out"
    inside = choice.ranking
    if musts:
        keep = within(musts, inside.gr_per_lb, inside.foc)
        score = np.where(keep, inside.score, -1.0)
        if _first(replace(inside, score=score)) in ours:
            return f"{head}within your limits ({told}) it is not the first"
    rival = next((o for o in choice.options if first in {i.item for i in o.want.shaft.items}), None)
    name = final.want.shaft.first.item
    known = any(inside.builds.name(int(s)) == first for s in np.unique(inside.builds.shaft))
    if not known:
        return f"{head}your limits ({told}) leave no build of it"
    if rival is None or rival.merit < choice.best_merit - shop_setting("as_good_within"):
        return (
            f"{head}it weighs one arrow's price and what you own too; the list looks at match, mass, "
            f"balance and robustness alone, and there {name} is better, most by its "
            f"{_decided_by(inside, first, final)}"
        )
    if left is not None and rival.reckoned > left + 1e-9:
        return f"{head}its list costs {rival.reckoned:.2f}, and the budget leaves {left:.2f}"
    return (
        f"{head}of builds as good the list takes the one that costs least in all, and {name} "
        f"costs {rival.reckoned - final.reckoned:.2f} less (chance of a match "
        f"{percent(final.chance_match)} against {percent(rival.chance_match)})"
    )


def _first(ranking: Ranking) -> str:
    best = ranking.best_of_shafts() if len(ranking.builds) else []
    return ranking.builds.name(int(ranking.builds.shaft[best[0]])) if best else ""


def _decided_by(ranking: Ranking, first: str, final: FinalBuild) -> str:
    """On which of the merits the list's build gains most over the best build of another shaft."""
    builds, parts = ranking.builds, merit_parts(ranking)
    index = next(int(s) for s in np.unique(builds.shaft) if builds.name(int(s)) == first)
    rows = np.flatnonzero(builds.shaft == index)
    theirs = parts[rows[np.argmax(ranking.score[rows])]]
    b = final.build
    same = np.flatnonzero(
        (builds.shaft == b.shaft[0]) & (builds.length_in == b.length_in[0]) & (builds.head == b.head[0])
        & (builds.insert == b.insert[0]) & (builds.collar == b.collar[0])
    )  # fmt: skip
    label = {
        "match": "chance of a match",
        "mass": "mass",
        "foc": "balance",
        "robustness": "robustness",
    }
    return label[MERITS[int(np.argmax(parts[same[0]] - theirs))]]


def freed_by(
    asked: Scenario, stock: Stock, musts: Sequence[Must], wraps: bool, choice: FinalChoice,
    final: FinalBuild, budget: float | None, kit_price: float,
) -> tuple[str, ...]:  # fmt: skip
    """What would free a list that its limits have pushed to a build of low chance.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, belief.
    stock : Stock
        The whole stock.
    musts : sequence of Must
        Limits of the list.
    wraps : bool
        Whether the list reckons with a wrap.
    choice : FinalChoice
        What the list was taken from.
    final : FinalBuild
        What was taken.
    budget : float or None
        Most that kit and list may cost.
    kit_price : float
        Of the test kit.

    Returns
    -------
    tuple of str
        Empty when the list may be advised as it is.
    """
    told = []
    poor = final.chance_match < setting("worth_testing_chance")
    enough = shop_setting("poor_list_share")
    free = choice.pick()
    if budget is not None and free is not None and free.merit > final.merit + 1e-9:
        if final.chance_match < enough * free.chance_match:
            poor = True
        if final.chance_match < free.chance_match:
            whole = kit_price + free.reckoned
            told.append(f"--budget {np.ceil(whole * 100 - 1e-6) / 100:.2f} pays for {_named(free)}")
    for must in musts:
        rest = tuple(m for m in musts if m != must)
        other = final_choice(asked, limited(stock, rest), 1, 0.0, rest, wraps).pick()
        if other is None or final.chance_match >= enough * other.chance_match:
            continue
        poor = True
        told.append(f"without --must {must} there is {_named(other)}")
    if not poor:
        return ()
    return tuple(told) or (
        "no limit binds: other spines or points in the stock would bring it nearer",
    )


def _named(final: FinalBuild) -> str:
    length = inches(float(final.build.length_in[0]))
    return f"{final.want.shaft.first.item} at {length}, chance {percent(final.chance_match)}"
