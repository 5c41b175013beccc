"""From a notebook's shots to what is believed: the band learns, with its doubt.

The unknowns are the rules' coefficients, the archer's and the bow's own terms, the slope in inches
per pound, the scatter, and each shaft's own stiffness. Readings from before a change share all of
them but the bow's own term (and, with other limbs, the doubt of their draw weight).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.errors import InputError
from shaftwright.inference.band import stiffness_lb
from shaftwright.inference.belief import Belief, latin_hypercube
from shaftwright.inference.demand import Demand, demand_of
from shaftwright.inference.evidence.look import Look, look_at
from shaftwright.inference.evidence.periods import Period, Taken, arrange
from shaftwright.inference.evidence.rules import evidence_rules
from shaftwright.inference.evidence.sampler import Ledger, Model, Sample, sample
from shaftwright.inference.evidence.summary import Reading, contradictions, reading_of
from shaftwright.inference.evidence.terms import build_terms, counts, scatter_states, silent
from shaftwright.inference.resolve import resolve_build
from shaftwright.inference.rig_facts import SpeedReading
from shaftwright.physics import normal
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import AnyEntry, BareShaft, BuildSpec, Weigh
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.load import RuleBook
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]
_FARTHEST_SCORE = 6.0
_DRAWS_WITHOUT = 1024


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
    wanted_lb : float
        Middle of what was wanted, after [lb].
    far_too_weak, far_too_weak_before : float
        Chance that it is far too weak to be shot, after and before the shots.
    reads_false : float
        Chance that it reads stiff because it is far too weak.
    """

    spec: BuildSpec
    build: Builds
    rig: Rig
    period: int
    taped: bool
    mismatch_lb: Array
    before_lb: Array
    wanted_lb: float
    far_too_weak: float
    far_too_weak_before: float
    reads_false: float


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
    builds : tuple of BareBuild
        Every distinct build that was shot, in the order of their first reading.
    readings : tuple of Reading
        Every reading, expected against seen.
    periods : tuple of Period
        Newest first.
    warnings : tuple of str
        What was left out or contradicts itself.
    """

    belief: Belief
    slope: Array
    bare_sd: Array
    fletched_sd: Array
    shift_sd: Array
    builds: tuple[BareBuild, ...] = ()
    readings: tuple[Reading, ...] = ()
    periods: tuple[Period, ...] = ()
    warnings: tuple[str, ...] = ()
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
        terms[build] = silent(terms[build])
        start = self._start[:, :_DRAWS_WITHOUT]
        drawn: Array = sample(replace(self._model, terms=terms), start).mismatch[build]
        return drawn

    @property
    def of_this_bow(self) -> int:
        """Number of readings of the bow as it stands."""
        return sum(1 for r in self.readings if r.period == 0)


@dataclass
class _Shot:
    """A distinct bare build while it is being put together."""

    first: Taken
    build: Builds
    shaft_key: str
    seen: list[tuple[int, Look]]


def learn(
    rig: Rig, book: RuleBook, belief: Belief, entries: Sequence[AnyEntry], stock: Stock | None,
    speed: SpeedReading | None = None, before: Rig | None = None, lines: Sequence[int] = (),
) -> Learned:  # fmt: skip
    """Turn a belief into one that agrees with a notebook.

    Parameters
    ----------
    rig : Rig
        The rig as it stands.
    book : RuleBook
        The rules.
    belief : Belief
        Before the shots, `prior_belief(book)`.
    entries : sequence
        All entries of the notebook in file order.
    stock : Stock or None
        For builds by name.
    speed : SpeedReading, optional
        What a chronograph said of the bow as it stands.
    before : Rig, optional
        The rig with the old limbs.
    lines : sequence of int
        Line of each entry, for messages.

    Returns
    -------
    Learned
        With the belief unchanged when no reading can be used.
    """
    taken, periods, warnings = arrange(rig, entries, lines, before)
    spines = _measured_spines(entries)
    shots, looks = _distinct(taken, stock, spines, warnings)
    size = belief.size
    if not shots:
        return _unlearned(belief, size, periods, warnings)
    demands = _demands(shots, book, speed)
    model, names = _model(shots, taken, demands, book)
    start = _start(names, belief)
    drawn = sample(model, start)
    scores = dict(belief.scores)
    for row, name in enumerate(names):
        if name in scores:
            scores[name] = np.clip(drawn.scores[row], -_FARTHEST_SCORE, _FARTHEST_SCORE)
    states = scatter_states()
    together = {id(w.demand): w.demand for w in demands}
    prior = {key: demand.draws(belief) for key, demand in together.items()}
    builds = tuple(
        _bare_build(k, shot, demands[k], prior[id(demands[k].demand)], drawn, belief)
        for k, shot in enumerate(shots)
    )
    learned = Learned(
        Belief(scores, learned=True), drawn.slope, states.bare_sd[drawn.state],
        states.fletched_sd[drawn.state], states.shift_sd[drawn.state], builds, (),
        tuple(periods), (), model, start,
    )  # fmt: skip
    where = {i: k for k, shot in enumerate(shots) for i, _ in shot.seen}
    alone = sum(counts(looks[i]) for i in where) < 2
    readings = tuple(
        reading_of(taken[i], looks[i], where[i], builds[where[i]].mismatch_lb, drawn.slope,
                   float(np.sqrt(np.mean(learned.bare_sd**2))),
                   float(np.sqrt(np.mean(learned.shift_sd**2))), alone)
        for i in sorted(where)
    )  # fmt: skip
    warnings += contradictions(readings)
    return replace(learned, readings=readings, warnings=tuple(warnings))


def _unlearned(belief: Belief, size: int, periods: list[Period], warnings: list[str]) -> Learned:
    """Nothing to learn from: slope and scatter as before any shot."""
    span = evidence_rules().settings["slope_in_per_lb"]
    below, above = normal.split_sds(span.value, span.low, span.high)
    score = _fresh(belief, 2)
    slope = np.maximum(
        span.value + normal.split_deviation(score[0], below, above),
        evidence_rules().value("least_slope_in_per_lb"),
    )
    states = scatter_states()
    share = np.cumsum(np.exp(states.log_weight))
    state = np.searchsorted(share / share[-1], normal.cdf(score[1])).clip(0, len(share) - 1)
    return Learned(
        belief, slope, states.bare_sd[state], states.fletched_sd[state], states.shift_sd[state],
        periods=tuple(periods), warnings=tuple(warnings),
    )  # fmt: skip


def bare_of(build: Builds, taped: bool) -> Builds:
    """A build as it is shot bare: without fletching and wrap, unless their mass is taped on.

    Parameters
    ----------
    build : Builds
        n fletched builds.
    taped : bool
        Whether the mass is taped on.

    Returns
    -------
    Builds
        The same builds with the tail mass they are shot with.
    """
    if taped:
        return build
    return replace(build, tail_gr=build.tail_gr - build.fletching_gr,
                   fletching_gr=np.zeros(len(build)))  # fmt: skip


def _measured_spines(entries: Sequence[AnyEntry]) -> dict[str, float]:
    """Shafts put on a spine tester: mean of their readings [mils]."""
    found: dict[str, list[float]] = {}
    for entry in entries:
        if isinstance(entry, Weigh) and entry.spine_mils is not None:
            found.setdefault(entry.item, []).append(entry.spine_mils)
    return {item: float(np.mean(values)) for item, values in found.items()}


def _distinct(
    taken: list[Taken], stock: Stock | None, spines: dict[str, float], warnings: list[str]
) -> tuple[list[_Shot], dict[int, Look]]:
    """Readings gathered by bare build, rig and period."""
    shots: dict[tuple[object, ...], _Shot] = {}
    looks: dict[int, Look] = {}
    made: dict[tuple[str, bool], Builds | None] = {}
    for i, one in enumerate(taken):
        entry = one.entry
        bare = isinstance(entry, BareShaft)
        taped = not isinstance(entry, BareShaft) or entry.taped
        spec = repr(entry.build)
        if (spec, taped) in made and made[spec, taped] is None:
            warnings.append(f"line {one.line}: the same build; the reading is left out too")
        if (spec, taped) not in made:
            try:
                resolved = resolve_build(entry.build, stock, f"line {one.line}")
            except InputError as error:
                warnings.append(f"{error.faults[0]}; the reading is left out")
                made[spec, taped] = None
            else:
                made[spec, taped] = _with_spine(bare_of(resolved, taped), entry.build, spines)
        build = made[spec, taped]
        if build is None:
            continue
        look = looks[i] = look_at(entry, one.rig)
        if one.rig.archer.hand == "unknown" and (len(look.bare) or look.tail) and bare:
            warnings.append(
                f"line {one.line}: which hand draws is not told, so sides are read as a "
                "right-hander's; write hand: right or left in the rig"
            )
        key = (id(one.rig), one.period, spec, taped, one.silent)
        if key not in shots:
            shots[key] = _Shot(one, build, entry.build.shaft or spec, [])
        shots[key].seen.append((i, look))
    return list(shots.values()), looks


def _with_spine(build: Builds, spec: BuildSpec, spines: dict[str, float]) -> Builds:
    if spec.shaft is None or spec.shaft not in spines:
        return build
    doubt = evidence_rules().value("measured_spine_doubt_pct") / normal.Z95
    return replace(build, spine_mils=np.array([spines[spec.shaft]]), spine_sd_pct=np.array([doubt]))


@dataclass(frozen=True)
class _Wanted:
    """A build's demand, and its place in it."""

    demand: Demand
    index: int


def _demands(shots: list[_Shot], book: RuleBook, speed: SpeedReading | None) -> list[_Wanted]:
    """Demands of all builds, those of one rig together."""
    by_rig: dict[tuple[int, bool], list[int]] = {}
    for k, shot in enumerate(shots):
        by_rig.setdefault((id(shot.first.rig), shot.first.period > 0), []).append(k)
    result: dict[int, _Wanted] = {}
    for (_, old), members in by_rig.items():
        together = stacked([shots[k].build for k in members])
        demand = demand_of(shots[members[0]].first.rig, together, book, None if old else speed)
        for index, k in enumerate(members):
            result[k] = _Wanted(demand, index)
    return [result[k] for k in range(len(shots))]


def stacked(builds: Sequence[Builds]) -> Builds:
    """Several builds as one set of columns, without their names.

    Parameters
    ----------
    builds : sequence of Builds
        Any lengths.

    Returns
    -------
    Builds
        All of them, in order.
    """
    columns = {
        name: np.concatenate([getattr(b, name) for b in builds])
        for name in Builds.__dataclass_fields__
        if name != "names"
    }
    return Builds(names=(), **columns)


def _model(
    shots: list[_Shot], taken: list[Taken], demands: list[_Wanted], book: RuleBook
) -> tuple[Model, list[str]]:
    """Coefficients with the builds that take them, and the names of the scores."""
    rules = evidence_rules()
    ledger = Ledger(len(shots))
    fixed = np.zeros(len(shots))
    for k, (shot, wanted) in enumerate(zip(shots, demands, strict=True)):
        fixed[k] = float(stiffness_lb(shot.build)[0]) - wanted.demand.stated_lb
        for column in wanted.demand.columns:
            x = float(np.ravel(column.x)[wanted.index if np.ndim(column.x) else 0])
            fixed[k] -= x * column.value
            name = _score_name(column.code, column.driver, shot.first)
            ledger.add(name, k, -x, column.flip, column.below, column.above)
    for k, shot in enumerate(shots):
        # z = 31.5 / d - W: each shaft's own doubt is shared by all builds of that shaft
        sd = float(stiffness_lb(shot.build)[0] * shot.build.spine_sd_pct[0] / 100)
        if sd > 0:
            ledger.add(f"shaft {shot.shaft_key}", k, sd)
    names = ledger.scores()
    terms = []
    for shot, wanted in zip(shots, demands, strict=True):
        middle = float(wanted.demand.mean[wanted.index])
        seen = [(taken[i].entry, look) for i, look in shot.seen]
        told = build_terms(seen, float(stiffness_lb(shot.build)[0]), middle)
        terms.append(silent(told) if shot.first.silent else told)
    span = rules.settings["slope_in_per_lb"]
    below, above = normal.split_sds(span.value, span.low, span.high)
    slope = (span.value, below, above)
    return Model(len(names), fixed, ledger.coefficients(), terms, slope), names


def _score_name(code: str, driver: str, taken: Taken) -> str:
    """Scores that start anew with a change get a name of their own in every old period."""
    anew = evidence_rules().anew
    if taken.period and code in anew.any_change:
        return f"{driver} in period {taken.period}"
    if taken.other_limbs and code in anew.limbs:
        return f"{driver} of other limbs {taken.rig.bow.limbs_id or taken.period}"
    return driver


def _start(names: list[str], belief: Belief) -> Array:
    """Prior draws of every score; those that are not drivers get fresh ones."""
    fresh = [name for name in names if name not in belief.scores]
    spare = dict(zip(fresh, _fresh(belief, len(fresh)), strict=True))
    return np.stack([belief.scores[n] if n in belief.scores else spare[n] for n in names])


def _fresh(belief: Belief, rows: int) -> Array:
    """Scores independent of a prior belief's: rows of the same table after those of the drivers."""
    used = len(belief.scores)
    return latin_hypercube(used + rows, belief.size)[used:]


def _bare_build(
    k: int, shot: _Shot, wanted: _Wanted, prior: Array, drawn: Sample, belief: Belief
) -> BareBuild:
    supply = float(stiffness_lb(shot.build)[0])
    before = supply - prior[wanted.index]
    sd = supply * float(shot.build.spine_sd_pct[0]) / 100
    before = before + sd * _fresh(belief, 1)[0]
    gate = setting("shoot_gate")

    def weak(z: Array) -> float:
        return float(np.mean(supply / np.maximum(supply - z, 1e-6) < gate))

    after = drawn.mismatch[k]
    return BareBuild(
        shot.first.entry.build, shot.build, shot.first.rig, shot.first.period,
        not isinstance(shot.first.entry, BareShaft) or shot.first.entry.taped,
        after, before, supply - float(after.mean()), weak(after), weak(before),
        float(drawn.reads_false[k].mean()),
    )  # fmt: skip
