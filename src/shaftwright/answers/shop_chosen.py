"""The chosen test kit told shaft by shaft: what to shoot first, what it will read, what money buys."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.scenario import Scenario
from shaftwright.answers.shop.settings import shop_setting
from shaftwright.answers.shop_curve import (
    CurvePoint,
    Marginal,
    chance_of,
    money_curve,
    one_more_or_less,
    price_of,
    row_of,
)
from shaftwright.answers.shop_kit import KitQuestion
from shaftwright.answers.shop_solve import Kit, solve
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import chance_between, match_limits, moments, stiffness_lb
from shaftwright.records.builds import Builds
from shaftwright.records.stock import StockItem
from shaftwright.rules.purposes import setting
from shaftwright.units import percent

#: second looks at kits before the search does without them
_MOST_LOOKS = 600


@dataclass(frozen=True)
class TrialShaft:
    """One test shaft with the build it is first shot as.

    Attributes
    ----------
    shaft : str
        Stock row to buy, or that is in hand.
    spine_mils, length_in : float
        Static spine [mils], and the full length it is first shot at [in].
    point, insert, collar, nock : str
        What goes on it first; the kit's lightest front that keeps the bare arrow heavy enough.
    front_gr, bare_gr : float
        Everything up front and the bare arrow's mass [gr].
    stiffness_share : float
        Stiffness over what the bow wants of this build, middle.
    chance_weak, chance_match, chance_stiff : float
        What it should read at full length.
    alone : float
        Chance that this shaft can be tuned with the kit's points and inserts.
    ladder : tuple of str
        The kit's points for this shaft, lightest first.
    ladder_gr : tuple of float
        Their masses [gr].
    chance_far_too_weak : float
        Chance that it is too weak to be shot at full length.
    safer_length_in : float
        Longest length at which that chance is small [in].
    each : int
        How many.
    in_hand : int
        How many of them are owned.
    elsewhere : tuple of str
        What it should read on the other rigs it must suit.
    lighter_point : str
        Lightest point of the stock, lighter than the kit's, that may be shot first too; empty without one.
    """

    shaft: str
    spine_mils: float
    length_in: float
    point: str
    insert: str
    collar: str
    nock: str
    front_gr: float
    bare_gr: float
    stiffness_share: float
    chance_weak: float
    chance_match: float
    chance_stiff: float
    alone: float
    ladder: tuple[str, ...]
    ladder_gr: tuple[float, ...]
    chance_far_too_weak: float
    safer_length_in: float
    each: int
    in_hand: int
    elsewhere: tuple[str, ...] = ()
    lighter_point: str = ""

    @property
    def expected(self) -> str:
        """What it should read, in the five words of the notebook."""
        return expected_word(self.stiffness_share)


def expected_word(stiffness_share: float) -> str:
    """What a bare shaft should read, in the five words of the notebook.

    Parameters
    ----------
    stiffness_share : float
        Its stiffness over what the bow wants.

    Returns
    -------
    str
        The word.
    """
    tolerance = setting("tolerance_pct") / 100
    off = stiffness_share - 1
    if abs(off) <= tolerance:
        return "straight"
    side = "stiff" if off > 0 else "weak"
    plain = shop_setting("plain_word_tolerances") * tolerance
    return side if abs(off) > plain else f"slightly {side}"


@dataclass(frozen=True)
class KitLine:
    """One thing to buy or to bring for the tests."""

    item: StockItem
    kind: str
    quantity: int
    packs: int
    unit_price: float | None
    price: float | None
    in_hand: int
    why: str


@dataclass(frozen=True)
class ChosenKit:
    """The kit, ready to be shown.

    Attributes
    ----------
    asked_chance, chance : float
        Chance asked for, and promised: at least one shaft of the kit can be tuned.
    chance_were_wider : float
        The same were every doubt of the rules larger than they state.
    reckoned : float
        What must be paid for it; a usual price stands in where the stock states none.
    proven : bool
        Whether no cheaper kit reaches the asked chance.
    least_price : float
        Proven lower bound of the price.
    shafts : tuple of TrialShaft
        Stiffest first.
    lines : tuple of KitLine
        Shafts, points, inserts and nocks.
    curve : tuple of CurvePoint
        Chance against money.
    marginals : tuple of Marginal
        One shaft less, one more.
    reachable : float
        Chance were the whole stock bought.
    """

    asked_chance: float
    chance: float
    chance_were_wider: float
    reckoned: float
    proven: bool
    least_price: float
    shafts: tuple[TrialShaft, ...]
    lines: tuple[KitLine, ...]
    curve: tuple[CurvePoint, ...]
    marginals: tuple[Marginal, ...]
    reachable: float
    kit: Kit

    @property
    def price(self) -> float:
        """Stated prices added up."""
        return math.fsum(line.price or 0.0 for line in self.lines)

    @property
    def unpriced(self) -> bool:
        """Whether something to buy has no price in the stock."""
        return any(line.price is None for line in self.lines)


class _NoEndError(Exception):
    """Second looks refuse one kit after another."""


def cheapest_kit(question: KitQuestion, chance: float) -> Kit | None:
    """The cheapest kit that covers enough of the draws and, counted on fresh ones, keeps the chance.

    Parameters
    ----------
    question : KitQuestion
        The problem.
    chance : float
        Asked chance.

    Returns
    -------
    Kit or None
        None when no kit covers enough. Where none keeps the chance on the fresh draws too, the
        cheapest that covers enough of the others.
    """
    owned = sorted(set(range(len(question.parts))) - set(question.paid))
    seen: dict[tuple[tuple[int, ...], tuple[int, ...]], bool] = {}

    def keeps(shafts: tuple[int, ...], parts: tuple[int, ...]) -> bool:
        key = (tuple(sorted(shafts)), parts)
        if key not in seen:
            if len(seen) >= _MOST_LOOKS:
                raise _NoEndError
            bought = [question.paid[p] for p in parts]
            seen[key] = question.stated(shafts, [*bought, *owned]) >= chance
        return seen[key]

    need = question.need(chance)
    try:
        kit = solve(question.problem, need, accept=keeps)
    except _NoEndError:
        kit = None
    return kit or solve(question.problem, need)


def choose_kit(question: KitQuestion, chance: float, curve: bool = True) -> ChosenKit:
    """The cheapest kit for a chance.

    Parameters
    ----------
    question : KitQuestion
        The problem.
    chance : float
        Asked chance that at least one shaft of the kit can be tuned.
    curve : bool
        Whether to work out what other chances cost.

    Returns
    -------
    ChosenKit
        The kit.

    Raises
    ------
    NoAnswer
        Nothing in the stock reaches the chance; the message says how far it goes.
    """
    kit = cheapest_kit(question, chance)
    if kit is None:
        raise NoAnswer(
            f"no kit from this stock reaches a chance of {chance:.0%}: with every shaft and part of it "
            f"the chance is {percent(question.reachable)}"
        )
    shafts, parts = _needed(question, kit, chance)
    tests = _test_shafts(question, shafts, parts)
    return ChosenKit(
        asked_chance=chance, chance=question.stated(shafts, parts),
        chance_were_wider=question.stated_were_wider(shafts, parts),
        reckoned=price_of(question, shafts, parts),
        proven=kit.proven, least_price=kit.bound // 1000 / 100, shafts=tests,
        lines=_lines(question, shafts, parts), curve=money_curve(question) if curve else (),
        marginals=one_more_or_less(question, shafts, parts), reachable=question.reachable, kit=kit,
    )  # fmt: skip


def _needed(
    question: KitQuestion, kit: Kit, chance: float
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The kit without the things in hand that add nothing worth carrying; parts by their own index.

    Points in hand stay: they are the ladder, and the lightest of them makes the first test.
    """
    bought = [question.paid[p] for p in kit.parts]
    paid = set(question.paid)
    shafts = list(kit.shafts)
    parts = [*bought, *(i for i in range(len(question.parts)) if i not in paid)]
    least = shop_setting("worth_bringing_chance")
    share = question.chance(question.need(chance))

    def drop(
        without: Callable[[int], tuple[list[int], list[int]]], members: list[int]
    ) -> int | None:
        now = chance_of(question, shafts, parts)
        left = [(chance_of(question, *without(m)), m) for m in members]
        spare = sorted((c, m) for c, m in left if c >= share and now - c <= least)
        kept = [m for _, m in reversed(spare) if question.stated(*without(m)) >= chance]
        return kept[0] if kept else None

    while True:
        owned = [s for s in shafts if question.problem.shaft_cost[s] == 0]
        out = drop(lambda m: ([s for s in shafts if s != m], parts), owned)
        if out is None:
            break
        shafts.remove(out)
    kept = {int(i) for s in shafts for i in _first_key(question, s, parts)}
    on_kit = {
        int(i) for s in shafts for i in question.fronts.keys[_rows_with(question, s, parts)].flat
    }
    parts = [p for p in parts if p in paid or p in on_kit]
    while True:
        owned = [
            p for p in parts if p not in paid and p not in kept
            and question.parts[p].kind not in ("point", "broadhead")
        ]  # fmt: skip
        out = drop(lambda m: (shafts, [p for p in parts if p != m]), owned)
        if out is None:
            return tuple(shafts), tuple(sorted(parts))
        parts.remove(out)


def _first_key(question: KitQuestion, shaft: int, parts: Iterable[int]) -> NDArray[np.int64]:
    """Parts of the build a shaft is first shot as: the lightest front, without a collar if it can be."""
    rows = _first_rows(question, shaft, parts)
    builds = question.fronts.builds.take(rows)
    best = rows[int(np.lexsort((builds.collar_gr, builds.front_gr))[0])]
    key: NDArray[np.int64] = question.fronts.keys[best]
    return key


def _rows_with(question: KitQuestion, shaft: int, parts: Iterable[int]) -> NDArray[np.intp]:
    allowed = np.array([-1, *parts])
    inside = np.isin(question.fronts.keys, allowed).all(axis=1)
    return np.flatnonzero(inside & (question.fronts.shaft == shaft))


def _first_rows(question: KitQuestion, shaft: int, parts: Iterable[int]) -> NDArray[np.intp]:
    rows = _rows_with(question, shaft, parts)
    return rows[question.fronts.first[rows]]


def _test_shafts(
    question: KitQuestion, shafts: tuple[int, ...], parts: tuple[int, ...]
) -> tuple[TrialShaft, ...]:
    tests = [_test_shaft(question, s, parts) for s in shafts]
    return tuple(sorted(tests, key=lambda t: (t.spine_mils, t.shaft)))


def _test_shaft(question: KitQuestion, shaft: int, parts: tuple[int, ...]) -> TrialShaft:
    fronts, names = question.fronts, question.parts
    rows = _first_rows(question, shaft, parts)
    builds = fronts.builds.take(rows)
    k = int(np.lexsort((builds.collar_gr, builds.front_gr))[0])
    one = builds.take(np.array([k]))
    mean, sd, skew = moments(question.asked.demand(one), one, question.asked.belief)
    low, high = match_limits(one, setting("tolerance_pct") / 100)
    match = float(chance_between(mean, sd, skew, low, high)[0])
    weak = float(chance_between(mean, sd, skew, high, np.array([1e9]))[0])
    shortest = float(fronts.shortest_in[rows[k]])
    risks = [
        _too_weak(q, one, shortest) for q in (question.asked, *(q for q, _ in question.others))
    ]
    too_weak, safer = max(r for r, _ in risks), min(length for _, length in risks)
    elsewhere = tuple(
        expected_word(float(stiffness_lb(one)[0] / moments(q.demand(one), one, q.belief)[0][0]))
        for q, _ in question.others
    )
    key = fronts.keys[rows[k]]
    heads = sorted(
        {int(h) for h in fronts.keys[_rows_with(question, shaft, parts)][:, 0]},
        key=lambda h: names[h].mass_gr or 0.0,
    )

    def name(index: int) -> str:
        return names[index].item if index >= 0 else ""

    kind = question.classes[shaft]
    return TrialShaft(
        shaft=row_of(question, shaft).item, spine_mils=kind.facts.spine_mils,
        length_in=kind.full_length_in, point=name(int(key[0])), insert=name(int(key[1])),
        collar=name(int(key[2])), nock=name(int(key[3])), front_gr=float(one.front_gr[0]),
        bare_gr=float(one.bare_gr[0]), stiffness_share=float(stiffness_lb(one)[0] / mean[0]),
        chance_weak=weak, chance_match=match, chance_stiff=max(1 - weak - match, 0.0),
        alone=question.stated([shaft], parts), ladder=tuple(name(h) for h in heads),
        ladder_gr=tuple(float(names[h].mass_gr or 0.0) for h in heads),
        chance_far_too_weak=too_weak, safer_length_in=safer, each=question.each,
        in_hand=min(kind.in_hand, question.each), elsewhere=elsewhere,
        lighter_point=_lighter_point(question, int(rows[k])),
    )  # fmt: skip


def _lighter_point(question: KitQuestion, row: int) -> str:
    """Lightest head of the whole stock that may be shot first in the place of this row's."""
    fronts = question.fronts
    same = (fronts.shaft == fronts.shaft[row]) & fronts.first
    same &= (fronts.keys[:, 1:] == fronts.keys[row, 1:]).all(axis=1)
    others = np.flatnonzero(same)
    best = int(others[np.argmin(fronts.builds.front_gr[others])])
    lighter = fronts.builds.front_gr[best] < fronts.builds.front_gr[row] - 1e-9
    return question.parts[int(fronts.keys[best, 0])].item if lighter else ""


def _too_weak(asked: Scenario, one: Builds, shortest_in: float) -> tuple[float, float]:
    """Chance that a first build is far too weak uncut, and the longest cut where that is unlikely [in]."""
    full = float(one.length_in[0])
    start = shortest_in if shortest_in <= full else full
    lengths = np.append(np.arange(start, full - 1e-9, setting("cut_step_in")), full)
    rows = replace(one.take(np.zeros(len(lengths), dtype=int)), length_in=lengths)
    mean, sd, skew = moments(asked.demand(rows), rows, asked.belief)
    least = stiffness_lb(rows) / setting("shoot_gate")
    chance = chance_between(mean, sd, skew, least, np.full(len(rows), 1e9))
    safe = lengths[chance <= setting("far_too_weak_chance")]
    return float(chance[-1]), float(safe.max()) if len(safe) else float(lengths[0])


def _lines(
    question: KitQuestion, shafts: tuple[int, ...], parts: tuple[int, ...]
) -> tuple[KitLine, ...]:
    lines = []
    for s in sorted(shafts, key=lambda s: question.classes[s].facts.spine_mils):
        kind = question.classes[s]
        share = question.stated([s], parts)
        why = f"can be tuned on its own with a chance of {percent(share)}"
        if len(shafts) > 1:
            others = question.stated([o for o in shafts if o != s], parts)
            why += f"; without it the kit's chance is {percent(others)}"
        packs = question.shaft_price(s)[1] or {row_of(question, s).item: 0}
        for name, count in packs.items():
            item = next(i for i in kind.items if i.item == name)
            lines.append(_line(item, question.each, count, kind.in_hand, why))
    kinds = {s: question.classes[s].first.item for s in shafts}
    for p in parts:
        item = question.parts[p]
        used = [
            kinds[s] for s in shafts if p in question.fronts.keys[_rows_with(question, s, parts)]
        ]
        if not used:
            continue
        paid = p in set(question.paid)
        packs = question.part_price(p)[1] if paid else {item.item: 0}
        lines.append(
            _line(item, question.each, packs.get(item.item, 0), item.in_hand, _part_why(item, used))
        )
    return tuple(lines)


def _line(item: StockItem, quantity: int, packs: int, in_hand: int, why: str) -> KitLine:
    price = None if item.price is None else packs * item.price
    return KitLine(
        item, item.kind, quantity, packs, item.price, price if packs else 0.0, in_hand, why
    )


def _part_why(item: StockItem, used: list[str]) -> str:
    on = ", ".join(used[:3]) + (" ..." if len(used) > 3 else "")
    role = {"point": "a step of the ladder of points", "broadhead": "a step of the ladder of heads",
            "insert": "carries the point", "outsert": "carries the point", "adapter": "carries the point",
            "collar": "mass up front that stiffens the end", "nock": "must hold on the serving and come "
            "off with a tap"}.get(item.kind, "goes on")  # fmt: skip
    return f"{role}, on {on}"
