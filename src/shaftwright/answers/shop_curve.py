"""Chance against money: what a kit covers and costs, what other chances cost, one shaft more or less."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from shaftwright.answers.shop.settings import shopping_rules
from shaftwright.answers.shop_kit import KitQuestion, covered_with
from shaftwright.answers.shop_solve import Bits, popcount, solve
from shaftwright.records.stock import StockItem


@dataclass(frozen=True)
class CurvePoint:
    """What a chance costs: the cheapest kit for it."""

    chance: float
    price: float
    shafts: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass(frozen=True)
class Marginal:
    """The kit with one shaft more or less."""

    change: str
    shaft: str
    price: float
    chance: float


def covers(question: KitQuestion, parts: Iterable[int]) -> Bits:
    """What each shaft covers with exactly these parts, in hand or not (s, w)."""
    return covered_with(question, frozenset(parts))


def chance_of(question: KitQuestion, shafts: Iterable[int], parts: Iterable[int]) -> float:
    """Share of the draws of the choosing in which a kit holds a shaft that can be tuned.

    Parameters
    ----------
    question : KitQuestion
        The stock's covering problem.
    shafts, parts : iterable of int
        Indices of shaft classes and of parts.

    Returns
    -------
    float
        For weighing kits against one another; `KitQuestion.stated` states a chance.
    """
    bits = covers(question, parts)[list(shafts)]
    if not len(bits):
        return 0.0
    return question.chance(int(popcount(np.bitwise_or.reduce(bits, axis=0))))


def price_of(question: KitQuestion, shafts: Iterable[int], parts: Iterable[int]) -> float:
    """Price of a kit, usual prices standing in where the stock states none.

    Parameters
    ----------
    question : KitQuestion
        The stock's covering problem.
    shafts, parts : iterable of int
        Indices of shaft classes and of parts.

    Returns
    -------
    float
        In the stock's money; what is in hand costs nothing.
    """
    paid = set(question.paid)
    price = sum(question.shaft_price(s)[0] for s in shafts)
    return price + sum(question.part_price(p)[0] for p in parts if p in paid)


def row_of(question: KitQuestion, shaft: int) -> StockItem:
    """The row a test shaft comes from: the one in hand, else the first of those to buy."""
    kind = question.classes[shaft]
    if kind.in_hand >= question.each:
        return next(i for i in kind.items if i.in_hand > 0)
    bought = question.shaft_price(shaft)[1]
    return next(i for i in kind.items if i.item in bought)


def money_curve(question: KitQuestion) -> tuple[CurvePoint, ...]:
    """The cheapest kit for each chance of rules/shopping.yaml that the stock reaches."""
    points: list[CurvePoint] = []
    owned = set(range(len(question.parts))) - set(question.paid)
    for chance in shopping_rules().curve:
        kit = solve(question.problem, question.need(chance))
        if kit is None:
            break
        parts = tuple(question.parts[question.paid[p]].item for p in kit.parts)
        bought = [s for s in kit.shafts if question.problem.shaft_cost[s] > 0]
        shafts = tuple(row_of(question, s).item for s in bought)
        paid = [question.paid[p] for p in kit.parts]
        reached = question.stated(kit.shafts, [*paid, *owned])
        point = CurvePoint(reached, price_of(question, bought, paid), shafts, parts)
        if not points or point.chance > points[-1].chance:
            points.append(point)
    return tuple(points)


def one_more_or_less(
    question: KitQuestion, shafts: tuple[int, ...], parts: tuple[int, ...]
) -> tuple[Marginal, ...]:
    """What one shaft less saves and loses, and what one more costs and brings.

    Parameters
    ----------
    question : KitQuestion
        The stock's covering problem.
    shafts, parts : tuple of int
        Indices of shaft classes and of parts.

    Returns
    -------
    tuple of Marginal
        One for each shaft that could be left out, and the best one more.
    """
    price = price_of(question, shafts, parts)
    found = []
    for s in shafts:
        if len(shafts) == 1:
            break
        rest = tuple(o for o in shafts if o != s)
        found.append(Marginal("without", row_of(question, s).item, price_of(question, rest, parts),
                              question.stated(rest, parts)))  # fmt: skip
    bits = covers(question, parts)
    now = np.bitwise_or.reduce(bits[list(shafts)], axis=0)
    gains = popcount(bits & ~now)
    cost = question.problem.shaft_cost
    if gains.any():
        worth = np.where(gains > 0, gains / np.maximum(cost, 1), 0.0)
        best = int(np.argmax(worth))
        more = (*shafts, best)
        item = question.classes[best].first.item
        found.append(Marginal("with", item, price + question.shaft_price(best)[0],
                              question.stated(more, parts)))  # fmt: skip
    return tuple(found)
