"""From a notebook's shots to what is believed: the band learns, with its doubt.

The unknowns are the rules' coefficients, the archer's and the bow's own terms, the slope in inches
per pound, the scatter, and each shaft's own stiffness. Readings from before a change share all of
them but the bow's own term (and, with other limbs, the doubt of their draw weight).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import InputError
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.belief import Belief, latin_hypercube
from shaftwright.inference.demand import Column, Demand, demand_of
from shaftwright.inference.evidence.look import Look, look_at
from shaftwright.inference.evidence.periods import Taken, arrange
from shaftwright.inference.evidence.sampler import Model, sample
from shaftwright.inference.evidence.summary import Reading, contradictions, reading_of
from shaftwright.inference.evidence.terms import build_terms, scatter_states, slopes
from shaftwright.inference.own_error import SCORES, joined, traits_of
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.rig_facts import SpeedReading
from shaftwright.parameters import setting
from shaftwright.physics import normal
from shaftwright.records.builds import Builds, bare_of, stacked
from shaftwright.records.notebook import AnyEntry, BareShaft, Broadhead, BuildSpec, Weigh
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.load import RuleBook
from shaftwright.rules.sections import evidence_rules

_FARTHEST_SCORE = 6.0
_DRAWS_WITHOUT = 1024
#: what is left over of an own error is not worth a score below this [lb]
_LEAST_LB = 0.5


@dataclass(frozen=True)
class BareBuild:
    """One distinct bare build (or one shot with broadheads) and what is now believed of it.

    Attributes
    ----------
    spec : BuildSpec
        As written.
    build : Builds
        Of size 1, as it was shot: without fletching and wrap unless taped.
    rig : Rig
        The rig as it stood.
    period : int
        0 is the present bow.
    taped : bool
        Whether the fletching's mass was on it.
    mismatch_lb : array (D,)
        Draws of stiffness less what was wanted, + stiff [lb].
    before_lb : array (D,)
        The same before any shot [lb].
    far_too_weak : float
        Chance that it is far too weak to be shot.
    """

    spec: BuildSpec
    build: Builds
    rig: Rig
    period: int
    taped: bool
    mismatch_lb: Array
    before_lb: Array
    far_too_weak: float


@dataclass(frozen=True)
class Learned:
    """What the shots taught.

    Attributes
    ----------
    belief : Belief
        Joint draws of every driver; `learned` is false where nothing could be read.
    slope : array (D,)
        Inches at 20 yd for a pound of mismatch, drawn with the belief.
    bare_sd, fletched_sd, shift_sd : array (D,)
        Scatter of bare and fletched shots and of whole groups at 20 yd [in], drawn with the belief.
    warnings : tuple of str
        What was left out or contradicts itself.
    builds : tuple of BareBuild
        Every distinct build that was shot, in the order of their first reading.
    readings : tuple of Reading
        Every reading, expected against seen.
    """

    belief: Belief
    slope: Array
    bare_sd: Array
    fletched_sd: Array
    shift_sd: Array
    warnings: tuple[str, ...]
    builds: tuple[BareBuild, ...] = ()
    readings: tuple[Reading, ...] = ()
    _model: Model | None = field(default=None, repr=False, compare=False)
    _start: Array | None = field(default=None, repr=False, compare=False)

    def without_own_shots(self, build: int) -> Array:
        """What was believed of a build before its own shots: from the rules and all other readings.

        Parameters
        ----------
        build : int
            Index into `builds`.

        Returns
        -------
        array
            Draws of its mismatch; fewer than the belief's where other builds were shot [lb].
        """
        others = any(r.counted and r.build != build for r in self.readings)
        if not others or self._model is None or self._start is None:
            return self.builds[build].before_lb
        terms = list(self._model.terms)
        terms[build] = terms[build].silent()
        start = self._start[:, :_DRAWS_WITHOUT]
        drawn: Array = sample(replace(self._model, terms=terms), start).mismatch[build]
        return drawn


@dataclass
class _Shot:
    """A distinct bare build while it is being put together."""

    first: Taken
    build: Builds
    seen: list[tuple[BareShaft | Broadhead, Look]]
    #: what is wanted of it and of others shot with the same rig, its place there, and draws [lb]
    demand: Demand = field(init=False)
    row: int = field(init=False)
    wanted: Array = field(init=False)

    @property
    def supply(self) -> float:
        """Stiffness of its shaft [lb]."""
        return float(stiffness_lb(self.build)[0])

    @property
    def supply_sd(self) -> float:
        """Doubt of that, one standard deviation [lb]."""
        return float(stiffness_lb(self.build)[0] * self.build.spine_sd_pct[0] / 100)


def learn(
    rig: Rig, book: RuleBook, belief: Belief, entries: Sequence[AnyEntry], stock: Stock | None,
    speed: SpeedReading | None = None, before: Rig | None = None, lines: Sequence[int] = (),
) -> Learned:  # fmt: skip
    """Turn a belief into one that agrees with a notebook.

    Parameters
    ----------
    rig : Rig
        The bow as it stands.
    book : RuleBook
        Whose coefficients are learned.
    belief : Belief
        Before the shots, `prior_belief(book)`.
    entries : sequence
        All of the notebook, in file order.
    stock : Stock or None
        For builds by name.
    speed : SpeedReading, optional
        What a chronograph said of the bow as it stands.
    before : Rig, optional
        With the old limbs.
    lines : sequence of int
        Line of each entry, for messages.

    Returns
    -------
    Learned
        With the belief unchanged when no reading can be used.
    """
    taken, warnings = arrange(rig, entries, lines, before)
    shots, looks = _distinct(taken, stock, _measured_spines(entries), warnings)
    if not shots:
        return _unlearned(belief, warnings)
    shared = _want(shots, book, belief, speed)
    model = _model(shots, shared)
    start = model.start(belief, _fresh(belief, len(model.scores)))
    drawn = sample(model, start)
    scores = dict(belief.scores)
    for name, row in zip(model.scores, drawn.scores, strict=True):
        if name in scores:
            scores[name] = np.clip(row, -_FARTHEST_SCORE, _FARTHEST_SCORE)
    states = scatter_states()
    bare_sd, shift_sd = states.bare_sd[drawn.state], states.shift_sd[drawn.state]
    builds = tuple(_bare_build(s, drawn.mismatch[k], belief) for k, s in enumerate(shots))
    sizes = [float(np.sqrt(np.mean(sd**2))) for sd in (bare_sd, shift_sd)]
    alone = sum(look.counts for _, look, _ in looks) < 2
    readings = tuple(
        reading_of(one, look, k, builds[k].mismatch_lb, drawn.slope, sizes[0], sizes[1], alone)
        for one, look, k in looks
    )
    return Learned(
        Belief(scores, True, shared.errors), drawn.slope, bare_sd, states.fletched_sd[drawn.state], shift_sd,
        (*warnings, *contradictions(readings)), builds, readings, model, start,
    )  # fmt: skip


def _unlearned(belief: Belief, warnings: list[str]) -> Learned:
    """Nothing to learn from: slope and scatter as before any shot."""
    score, states = _fresh(belief, 2), scatter_states()
    share = np.cumsum(np.exp(states.log_weight))
    state = np.searchsorted(share / share[-1], normal.cdf(score[1]))
    return Learned(
        belief, slopes(score[0]), states.bare_sd[state], states.fletched_sd[state],
        states.shift_sd[state], tuple(warnings),
    )  # fmt: skip


def _measured_spines(entries: Sequence[AnyEntry]) -> dict[str, float]:
    """Shafts put on a spine tester: mean of their readings [mils]."""
    found: dict[str, list[float]] = {}
    for entry in entries:
        if isinstance(entry, Weigh) and entry.measured_mils is not None:
            found.setdefault(entry.item, []).append(entry.measured_mils)
    return {item: float(np.mean(values)) for item, values in found.items()}


def _distinct(
    taken: list[Taken], stock: Stock | None, spines: dict[str, float], warnings: list[str]
) -> tuple[list[_Shot], list[tuple[Taken, Look, int]]]:
    """Readings gathered by bare build, rig and period; and each of them with its build's place."""
    shots: dict[tuple[object, ...], _Shot] = {}
    looks: list[tuple[Taken, Look, tuple[object, ...]]] = []
    made: dict[tuple[str, bool], Builds | None] = {}
    for one in taken:
        entry, line = one.entry, f"line {one.line}"
        made_as = spec, taped = repr(entry.build), _taped(entry)
        if made_as not in made:
            try:
                resolved = resolve_build(entry.build, stock, line)
                made[made_as] = _with_spine(bare_of(resolved, taped), entry.build, spines)
            except InputError as error:
                warnings.append(f"{error.faults[0]}; the reading is left out")
                made[made_as] = None
        elif made[made_as] is None:
            warnings.append(f"{line}: the same build; the reading is left out too")
        build = made[made_as]
        if build is None:
            continue
        look = look_at(entry, one.rig)
        aside = isinstance(entry, BareShaft) and (len(look.bare) or look.tail)
        if one.rig.archer.hand == "unknown" and aside:
            warnings.append(
                f"{line}: which hand draws is not told, so sides are read as a "
                "right-hander's; write hand: right or left in the rig"
            )
        key = (id(one.rig), one.period, spec, taped, one.silent)
        shots.setdefault(key, _Shot(one, build, [])).seen.append((entry, look))
        looks.append((one, look, key))
    place = {key: k for k, key in enumerate(shots)}
    return list(shots.values()), [(one, look, place[key]) for one, look, key in looks]


def _taped(entry: BareShaft | Broadhead) -> bool:
    """Whether the fletching, or its mass, was on the arrow."""
    return not isinstance(entry, BareShaft) or entry.taped


def _with_spine(build: Builds, spec: BuildSpec, spines: dict[str, float]) -> Builds:
    if spec.shaft is None or spec.shaft not in spines:
        return build
    doubt = setting("evidence.measured_spine_doubt_pct") / normal.Z95
    return replace(build, spine_mils=np.array([spines[spec.shaft]]), spine_sd_pct=np.array([doubt]))


def _want(shots: list[_Shot], book: RuleBook, belief: Belief, speed: SpeedReading | None) -> Belief:
    """Demands of all builds, those of one rig together; the belief with the arrows that carry own errors."""
    by_rig: dict[tuple[int, bool], list[_Shot]] = {}
    for shot in shots:
        by_rig.setdefault((id(shot.first.rig), shot.first.period > 0), []).append(shot)
    for (_, old), members in by_rig.items():
        together = stacked([shot.build for shot in members])
        demand = demand_of(members[0].first.rig, together, book, None if old else speed)
        for row, shot in enumerate(members):
            shot.demand, shot.row = demand, row
    traits = joined([traits_of(shot.first.rig, shot.build) for shot in shots])
    shared = replace(belief, errors=shots[0].demand.errors_with(traits))
    for demand in {id(s.demand): s.demand for s in shots}.values():
        drawn = demand.draws(shared)
        for shot in shots:
            if shot.demand is demand:
                shot.wanted = drawn[shot.row]
    return shared


def _model(shots: list[_Shot], shared: Belief) -> Model:
    """Coefficients with the builds that take them, and what was seen of each."""
    model = Model(np.zeros(len(shots)))
    for k, shot in enumerate(shots):
        demand = shot.demand
        model.fixed[k] = shot.supply - demand.stated_lb
        for column in demand.columns:
            model.take(k, column, shot.row, _score_name(column, shot.first))
        for name, share in zip(SCORES, demand.shares(shared)[shot.row], strict=False):
            model.add(name, k, -share * demand.own_lb)
        rest_lb = float(demand.left_over_lb(shared)[shot.row])
        if rest_lb > _LEAST_LB:
            model.add(f"own error {k}", k, -rest_lb)
        told = build_terms(shot.seen, shot.supply, float(demand.mean[shot.row]))
        model.terms.append(told.silent() if shot.first.silent else told)
    for k, shot in enumerate(shots):
        # z = 31.5 / d - W: each shaft's own doubt is shared by all builds of that shaft
        if shot.supply_sd > 0:
            spec = shot.first.entry.build
            model.add(f"shaft {spec.shaft or spec!r}", k, shot.supply_sd)
    return model


def _score_name(column: Column, taken: Taken) -> str:
    """Scores that start anew with a change get a name of their own in every old period."""
    anew = evidence_rules().anew
    if taken.period and column.code in anew.any_change:
        return f"{column.driver} in period {taken.period}"
    if taken.other_limbs and column.code in anew.limbs:
        return f"{column.driver} of other limbs {taken.rig.bow.limbs_id or taken.period}"
    return column.driver


def _fresh(belief: Belief, rows: int) -> Array:
    """Scores independent of a prior belief's: rows of the same table after those of the drivers."""
    used = len(belief.scores)
    return latin_hypercube(used + rows, belief.size)[used:]


def _bare_build(shot: _Shot, after: Array, belief: Belief) -> BareBuild:
    before = shot.supply - shot.wanted + shot.supply_sd * _fresh(belief, 1)[0]
    stiffness = shot.supply / np.maximum(shot.supply - after, 1e-6)
    first = shot.first
    return BareBuild(
        first.entry.build, shot.build, first.rig, first.period, _taped(first.entry), after, before,
        float(np.mean(stiffness < setting("matching.shoot_gate"))),
    )  # fmt: skip
