"""The rule set held against a table of tuned rigs: the notebook's update, with many archers at once.

What all rigs share, the rules' coefficients, is learned; what is particular to one bow, archer or
scale is a doubt of each rig's own and is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.files.tuned import TunedArrow
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.belief import latin_hypercube, prior_belief
from shaftwright.inference.demand import Column, Demand, demand_of
from shaftwright.inference.evidence.look import look_at
from shaftwright.inference.evidence.sampler import Model, sample
from shaftwright.inference.evidence.terms import BuildTerms, Z, build_terms
from shaftwright.inference.resolve import resolve_build
from shaftwright.parameters import Range, setting
from shaftwright.physics import normal
from shaftwright.records.builds import Builds, bare_of
from shaftwright.records.notebook import BareShaft
from shaftwright.result import Result, kept
from shaftwright.rules.evaluate import Firing
from shaftwright.rules.load import RuleBook
from shaftwright.rules.sections import evidence_rules

_FIT_SEED: Final = 20_260_103


@dataclass(frozen=True)
class FittedSize(Result):
    """One rule's size before and after the table.

    Attributes
    ----------
    code, name, case : str
        The rule, and the case of a step.
    unit : str
        lb or pct_of_draw_weight.
    before, after : Range
        In the rule's own unit; `value` is the mean of the draws.
    doubt_left : float
        Spread after over spread before; near 1 the table says nothing of this rule.
    arrows : int
        Rows in which the rule was at work.
    """

    code: str = field(metadata=kept(json="rule"))
    name: str
    case: str
    unit: str
    before: Range
    after: Range = field(metadata=kept(json="fitted"))
    doubt_left: float
    arrows: int


class Agreement(NamedTuple):
    """Mean chance given to what was seen, before the fit and after."""

    before: float
    after: float


@dataclass(frozen=True)
class RuleFit(Result):
    """What a table of tuned rigs says of the rules.

    Attributes
    ----------
    arrows, rigs : int
        Rows used, and rigs among them.
    agreement : Agreement
        How well what was seen was foretold; the rows are the ones fitted.
    sizes : tuple of FittedSize
        Every rule that spoke, in the rule set's order.
    seed : int
        Of the draws.
    """

    arrows: int
    rigs: int
    agreement: Agreement
    sizes: tuple[FittedSize, ...] = field(metadata=kept(json="rules"))
    seed: int = _FIT_SEED


@dataclass(frozen=True)
class Row:
    """One arrow, with what the rules want of it; a bare shaft is reckoned without its fletching."""

    arrow: TunedArrow
    build: Builds
    demand: Demand

    @cached_property
    def supply_lb(self) -> float:
        """Stiffness of its shaft [lb]."""
        return float(stiffness_lb(self.build)[0])

    @cached_property
    def shaft_sd_lb(self) -> float:
        """Doubt of that, one standard deviation [lb]."""
        return self.supply_lb * float(self.build.spine_sd_pct[0]) / 100

    @cached_property
    def terms(self) -> BuildTerms:
        """What its word says, as the notebook takes it."""
        entry = BareShaft.model_validate(
            {"build": self.arrow.build, "distance": "20 yd", "reads": self.arrow.reads}
        )
        seen = [(entry, look_at(entry, self.arrow.rig))]
        return build_terms(seen, self.supply_lb, float(self.demand.mean[0]))

    @cached_property
    def said(self) -> Array:
        """Chance of the word over the mismatches `terms.Z`, softened where it was not a bare shaft's."""
        misread = {"bare_shaft": None, "broadheads": "broadhead", "fletched": "fletched"}
        name = misread[self.arrow.seen_with]
        wrong = 0.0 if name is None else setting(f"evidence.{name}_misread")
        return wrong + (1 - wrong) * np.exp(self.terms.words)


def fit_rules(book: RuleBook, arrows: Sequence[TunedArrow]) -> RuleFit:
    """Let a table of tuned rigs narrow the rules' coefficients.

    Parameters
    ----------
    book : RuleBook
        The rules, whose ranges are what was believed before.
    arrows : sequence of TunedArrow
        What was shot, and how it flew.

    Returns
    -------
    RuleFit
        Sizes before and after.

    Raises
    ------
    NoAnswer
        No rows.

    Notes
    -----
    Draw weights read from a scale, shafts off their marking, and what is particular to bow and
    archer are doubts of each rig's own: with one arrow they blur what it says, with several they are
    scores that the arrows share. A word counts as in the notebook, softened where it was not a bare
    shaft's; a bare shaft is reckoned without its fletching, also as there. Means and ranges are of
    joint draws, so rules that always come together stay in doubt.
    """
    if not arrows:
        raise NoAnswer("no row of this table can be used: each lacks something a fit needs")
    rows = rows_of(book, arrows)
    model = _model(rows)
    belief = prior_belief(book)
    start = model.start(belief, latin_hypercube(len(model.scores), belief.size, _FIT_SEED))
    drawn = sample(model, start)
    agreement = Agreement(*(_agreement(model, scores) for scores in (start, drawn.scores)))
    sizes = _sizes(rows, model.scores, start, drawn.scores)
    rigs = len({row.arrow.rig.name for row in rows})
    return RuleFit(len(rows), rigs, agreement, sizes)


def rows_of(book: RuleBook, arrows: Sequence[TunedArrow]) -> list[Row]:
    """The arrows of a table, each with what the rules of a book want of it."""
    rows = []
    for arrow in arrows:
        build = resolve_build(arrow.build, None, arrow.rig.name)
        if arrow.seen_with == "bare_shaft":
            build = bare_of(build, taped=False)
        rows.append(Row(arrow, build, demand_of(arrow.rig, build, book)))
    return rows


def _own(column: Column) -> bool:
    """Whether a doubt is one rig's own and is not carried to the next."""
    anew = evidence_rules().anew
    return column.code in (*anew.any_change, *anew.limbs, *anew.another_rig)


def _model(rows: Sequence[Row]) -> Model:
    model = Model(np.zeros(len(rows)))
    of_rig = [row.arrow.rig.name for row in rows]
    for k, row in enumerate(rows):
        model.fixed[k] = row.supply_lb - row.demand.stated_lb
        variance = row.shaft_sd_lb**2
        shared_of_rig = 0.0
        for column in row.demand.columns:
            if _own(column):
                x = float(np.ravel(column.x)[0])
                model.fixed[k] -= x * column.mean
                shared_of_rig += (x * (column.below + column.above) / 2) ** 2
            else:
                model.take(k, column, 0, column.driver)
        if of_rig.count(of_rig[k]) > 1:
            model.add(f"rig {of_rig[k]}", k, -(shared_of_rig**0.5))
        else:
            variance += shared_of_rig
        # the rig's own doubt is blurred in
        model.terms.append(replace(row.terms, words=np.log(_blurred(row.said, variance**0.5))))
    return model


def _blurred(said: Array, sd_lb: float) -> Array:
    """A likelihood over `Z` carried through a normal doubt of the mismatch; the ends are level."""
    step = float(np.diff(Z[:2])[0])
    reach = int(np.ceil(4 * sd_lb / step))
    away = np.arange(-reach, reach + 1, dtype=np.float64) * (step / max(sd_lb, 1e-9))
    kernel = normal.pdf(away)
    padded = np.pad(said, reach, mode="edge")
    return np.convolve(padded, kernel / kernel.sum(), mode="valid")


def _agreement(model: Model, scores: Array) -> float:
    """Mean chance given to the words that were said."""
    z = np.repeat(model.fixed[:, None], scores.shape[1], axis=1)
    rows = dict(zip(model.scores, scores, strict=True))
    for (name, flip, *sds), pounds in model.pounds.items():
        z += pounds[:, None] * normal.split_deviation(-rows[name] if flip else rows[name], *sds)
    said = [np.exp(np.interp(z[k], Z, t.words)).mean() for k, t in enumerate(model.terms)]
    return float(np.mean(said))


def _sizes(
    rows: Sequence[Row], names: list[str], start: Array, scores: Array
) -> tuple[FittedSize, ...]:
    at_work: dict[tuple[str, str], list[tuple[Firing, Column]]] = {}
    for row in rows:
        for firing in row.demand.firings:
            columns = [c for c in row.demand.columns if c.code == firing.rule.code]
            if not columns or _own(columns[0]) or not any(np.any(c.x) for c in columns):
                continue
            key = (firing.rule.code, firing.case or "")
            at_work.setdefault(key, []).append((firing, columns[0]))
    sizes = []
    for (code, case), seen in at_work.items():
        firing, column = seen[0]
        at = names.index(column.driver)
        then, now = (column.value + column.deviations(s[at]) for s in (start, scores))
        sizes.append(
            FittedSize(code, firing.rule.name, case, firing.rule.shift_unit, _range(then), _range(now),
                       float(now.std() / then.std()) if then.std() else 1.0, len(seen))
        )  # fmt: skip
    return tuple(sorted(sizes, key=lambda s: (s.code, s.case)))


def _range(draws: Array) -> Range:
    low, high = np.quantile(draws, [0.025, 0.975])
    return Range(value=float(draws.mean()), low=float(low), high=float(high))
