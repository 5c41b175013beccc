"""What is in hand already: which owned shafts can be brought in, with which point and cut."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.shop_kit import KitQuestion
from shaftwright.inference.band import chance_match, match_limits, moments
from shaftwright.rules.purposes import setting


@dataclass(frozen=True)
class OwnShaft:
    """One sort of shaft in hand at its best with parts in hand, or with parts to buy.

    Attributes
    ----------
    shaft : str
        Stock row.
    in_hand : int
        How many.
    spine_mils, length_in : float
        Static spine [mils]; length to cut to [in].
    point, insert, collar : str
        Parts.
    front_gr : float
        Everything up front [gr].
    chance_match : float
        That this very build matches.
    chance_owned, chance_any : float
        That some cut and front matches: with parts in hand alone, and with any part of the stock.
    to_buy : tuple of str
        Parts of this build that are not in hand.
    first_shot : bool
        Whether it may be shot at full length with a part in hand.
    """

    shaft: str
    in_hand: int
    spine_mils: float
    length_in: float
    point: str
    insert: str
    collar: str
    front_gr: float
    chance_match: float
    chance_owned: float
    chance_any: float
    to_buy: tuple[str, ...]
    first_shot: bool


def use_what_i_own(question: KitQuestion) -> tuple[OwnShaft, ...]:
    """Every owned shaft at its best, likeliest first.

    Parameters
    ----------
    question : KitQuestion
        The test-kit problem; its rows hold every front that fits.

    Returns
    -------
    tuple of OwnShaft
        Empty when no shaft of the right length is in hand.
    """
    found = []
    fronts = question.fronts
    have = np.array([p.in_hand > 0 for p in question.parts] + [True])
    all_owned: NDArray[np.bool_] = np.asarray(have[fronts.keys].all(axis=1))
    for index, kind in enumerate(question.classes):
        if kind.in_hand <= 0:
            continue
        rows = np.flatnonzero(
            (fronts.shaft == index) & (fronts.shortest_in <= fronts.builds.length_in + 1e-9)
        )
        if not len(rows):
            continue
        own = rows[all_owned[rows]]
        pick = own if len(own) else rows
        best, chance, length = _best(question, pick)
        key = fronts.keys[best]
        name = [question.parts[k].item if k >= 0 else "" for k in key]
        missing = [question.parts[k].item for k in key if k >= 0 and question.parts[k].in_hand == 0]
        row = next(i for i in kind.items if i.in_hand > 0)
        found.append(
            OwnShaft(
                row.item, kind.in_hand, kind.facts.spine_mils, length, name[0], name[1], name[2],
                float(fronts.builds.front_gr[best]), chance, question.stated_rows(own),
                question.stated_rows(rows), tuple(missing),
                bool(fronts.first[own].any()) if len(own) else False,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda o: (-max(o.chance_owned, o.chance_match), o.shaft)))


def _best(question: KitQuestion, rows: NDArray[np.intp]) -> tuple[int, float, float]:
    """Row, chance and length of the build that likeliest matches."""
    fronts, step = question.fronts, setting("cut_step_in")
    full = float(fronts.builds.length_in[rows[0]])
    of_row, lengths = [], []
    for r in rows:
        start = float(fronts.shortest_in[r])
        some = np.append(np.arange(start, full - 1e-9, step), full)
        of_row.append(np.full(len(some), r))
        lengths.append(some)
    index, length = np.concatenate(of_row), np.concatenate(lengths)
    builds = replace(fronts.builds.take(index), length_in=length)
    demand = question.asked.demand(builds)
    low, high = match_limits(builds, setting("tolerance_pct") / 100)
    off = np.abs(moments(demand, builds, question.asked.belief)[0] - (low + high) / 2)
    near = np.argsort(off, kind="stable")[:200]
    some_builds = builds.take(near)
    chance = chance_match(
        question.asked.demand(some_builds), some_builds, question.asked.belief,
        setting("tolerance_pct") / 100,
    )  # fmt: skip
    k = int(np.argmax(chance))
    return int(index[near[k]]), float(chance[k]), float(length[near[k]])
