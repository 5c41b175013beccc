"""What the rules say beforehand, held against a table of tuned rigs: do the ranges hold what they say.

No shot of a rig counts for itself: each arrow is foretold by the rules alone. How it flew is a range of
what would have suited, not a point, so gaps are taken as distributions over that range.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.files.tuned import TunedArrow
from shaftwright.inference.band import moments
from shaftwright.inference.belief import Belief, prior_belief
from shaftwright.inference.evidence.terms import Z
from shaftwright.inference.rule_fit import Row, rows_of
from shaftwright.physics import normal
from shaftwright.result import Result, kept
from shaftwright.rules.load import RuleBook

CHANCES: Final = (0.5, 0.8, 0.95)
RULES, WEIGHT, LENGTH = "the rules", "draw weight alone", "length rule alone"
_LENGTH_RULE: Final = "shaft-length"
#: spreads tried for a way that has none of its own, as shares of the draw weight
_SHARES: Final = np.geomspace(0.02, 0.6, 40)
_BOTH_SIDES: Final = ("straight", "slightly_stiff", "slightly_weak")


@dataclass(frozen=True)
class WayScore(Result):
    """How one way of foretelling did on some arrows.

    Attributes
    ----------
    way : str
        The rules, draw weight alone, length rule alone.
    inside : tuple of float
        Share of the arrows inside the central 50, 80 and 95 % of what was foretold.
    off_pct : float or None
        Median distance of what suited from the middle foretold, in percent of it; of arrows whose
        word has two ends (straight, slightly stiff, slightly weak), None without any.
    log_score : float
        Mean natural logarithm of the chance given to the word that was said; nought is best.
    spread_pct : float or None
        For a way that states no doubt: one standard deviation that suits this table best, in percent
        of the draw weight.
    """

    way: str
    inside: tuple[float, ...] = field(metadata=kept(json=False))
    off_pct: float | None
    log_score: float
    spread_pct: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """With a key for each share."""
        shares = zip(CHANCES, self.inside, strict=True)
        return super().to_dict() | {f"inside_{100 * chance:.0f}": x for chance, x in shares}


@dataclass(frozen=True)
class Group(Result):
    """All arrows, or those of one kind of bow, foretold in three ways; the rules come first."""

    kind: str
    arrows: int
    rigs: int
    ways: tuple[WayScore, ...]


def score_rules(book: RuleBook, arrows: Sequence[TunedArrow]) -> tuple[Group, ...]:
    """Score the rules on arrows that somebody shot, beside two simpler ways.

    Parameters
    ----------
    book : RuleBook
        The rules.
    arrows : sequence of TunedArrow
        What was shot, and how it flew.

    Returns
    -------
    tuple of Group
        All arrows first, then each kind of bow.

    Raises
    ------
    NoAnswer
        No rows.

    Notes
    -----
    The chance of an arrow lying inside a range is taken over what its word leaves open, weighed by what
    was foretold: where foretelling and words are right its mean is the range's own chance, for any mix of
    words (probability integral transform of censored data). What a word says by mistake is left out of
    it. A way without a doubt of its own gets the one spread that suits this table best, which flatters it.

    References
    ----------
    1. Dawid, A. P. (1984), J. R. Stat. Soc. A 147, 278 (recalled): the transform.
    """
    if not arrows:
        raise NoAnswer("no row of this table can be used: each lacks something a score needs")
    seen = rows_of(book, arrows)
    belief = prior_belief(book)
    foretold = [_by_rules(one, belief) for one in seen]
    simple = {WEIGHT: _weight_lb, LENGTH: _with_length_lb}
    spreads = {way: _best_spread(seen, middle) for way, middle in simple.items()}
    groups = []
    for kind in ("all", *sorted({one.arrow.rig.bow.kind for one in seen})):
        at = [i for i, one in enumerate(seen) if kind in ("all", one.arrow.rig.bow.kind)]
        own = [seen[i] for i in at]
        ways = [_score(RULES, own, [foretold[i] for i in at])]
        for way, middle in simple.items():
            told = [
                (middle(one), _normal(one, middle(one), np.array([spreads[way]]))[0]) for one in own
            ]
            ways.append(_score(way, own, told, 100 * spreads[way]))
        rigs = len({one.arrow.rig.name for one in own})
        groups.append(Group(kind, len(own), rigs, tuple(ways)))
    return tuple(groups)


#: the middle of the effective bow weight [lb], and the chance of each mismatch of `Z`
_Foretold = tuple[float, Array]


def _by_rules(one: Row, belief: Belief) -> _Foretold:
    mean, sd, skew = (float(m[0]) for m in moments(one.demand, one.build, belief))
    return mean, _density(one.supply_lb - mean, sd, -skew)


def _normal(one: Row, middle: float, shares: Array) -> Array:
    """Chances over `Z` with each of some spreads (S, Z)."""
    sd = np.hypot(shares * one.demand.own_lb, one.shaft_sd_lb)[:, None]
    return _density(one.supply_lb - middle, sd, 0.0)


def _density(mean: float, sd: float | Array, skew: float) -> Array:
    """Chances over `Z` of a nearly normal mismatch, by a one-term Edgeworth series."""
    # a mismatch past the grid's ends stays at its end
    t = (Z - min(max(mean, Z[0]), Z[-1])) / sd
    chance = normal.pdf(t)
    if skew:
        chance = np.maximum(chance * (1 + skew / 6 * (t**3 - 3 * t)), 0.0)
    return np.asarray(chance / chance.sum(axis=-1, keepdims=True))


def _weight_lb(one: Row) -> float:
    return one.demand.own_lb


def _with_length_lb(one: Row) -> float:
    codes = {f.rule.code for f in one.demand.firings if f.rule.name == _LENGTH_RULE}
    columns = [c for c in one.demand.columns if c.code in codes]
    size = columns[0].value if columns else 0.0
    return one.demand.own_lb + size * sum(float(np.ravel(c.x)[0]) for c in columns)


def _best_spread(seen: Sequence[Row], middle: Callable[[Row], float]) -> float:
    """The spread, as a share of the draw weight, that gives what was seen the highest chance."""
    chances = [_normal(one, middle(one), _SHARES) @ one.said for one in seen]
    return float(_SHARES[int(np.argmax(np.log(chances).sum(axis=0)))])


def _score(
    way: str, seen: Sequence[Row], foretold: Sequence[_Foretold], spread_pct: float | None = None
) -> WayScore:
    inside, gaps = np.zeros((len(seen), len(CHANCES))), list[Array]()
    for i, (one, (middle, chance)) in enumerate(zip(seen, foretold, strict=True)):
        below = np.cumsum(chance) - chance / 2
        # a word in which nothing foretold has a part lies outside, not in its chance of being wrong
        left = chance * (one.said - one.said.min())
        for k, share in enumerate(CHANCES):
            within = left[np.abs(below - 0.5) <= share / 2].sum()
            inside[i, k] = within / max(left.sum(), 1e-300)
        if one.arrow.reads in _BOTH_SIDES:
            # the range that the word stands for, as if any place in it were as likely
            wanted = one.supply_lb - Z[one.said >= one.said.max() / 2]
            ends = np.linspace(wanted[-1], wanted[0], 99)
            gaps.append(100 * np.abs(ends - middle) / max(middle, 1.0))
    scores = [np.log(one.said @ chance) for one, (_, chance) in zip(seen, foretold, strict=True)]
    return WayScore(
        way, tuple(float(x) for x in inside.mean(axis=0)),
        float(np.median(gaps)) if gaps else None, float(np.mean(scores)), spread_pct,
    )  # fmt: skip
