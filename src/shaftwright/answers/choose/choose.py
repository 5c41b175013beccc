"""The band and the builds, what would narrow it, and its rules rung by rung."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from shaftwright.answers.choose.candidates import Candidates, Rejection, enumerate_builds, no_shafts
from shaftwright.answers.choose.listing import ListedBuild, as_planned, list_builds
from shaftwright.answers.choose.rank import FirstPlace, Ranking, first_place, mass_floors, rank
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.inference.band import Band, effective_weight, spine_band
from shaftwright.inference.belief import Belief
from shaftwright.inference.demand import Demand
from shaftwright.inference.rig_facts import usual
from shaftwright.inference.trace import spine_trace
from shaftwright.limits import BAND_CHANCE, LISTED, MATERIALS, TOP, number, refuse, word
from shaftwright.parameters import setting
from shaftwright.physics.normal import Z95
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock, StockItem
from shaftwright.resources import table
from shaftwright.result import Result, kept, plain
from shaftwright.rules.sections import Caution, cautions_for
from shaftwright.units import Interval, series


@dataclass(frozen=True)
class Nudge(Result):
    """What a small change of the build does to the middle of the band."""

    change: str
    mid_mils: float
    #: middle less the short band's: below nought asks for a stiffer shaft
    moves_mils: float


@dataclass(frozen=True)
class Choice(Answer):
    """The bands, the builds, and what would narrow the doubt."""

    #: effective bow weight at the short build [lb]
    effective: Interval = field(metadata=kept(json="effective_bow_weight_lb"))
    #: at the shortest safe length and uncut, both at the purpose's usual front mass
    band: Band = field(metadata=kept(json=False))
    band_uncut: Band
    #: the short band before the shots, when there were any
    band_before: Band | None
    #: what 1/2 in and 25 gr either way do to the short band
    nudges: tuple[Nudge, ...]
    #: usual static spines that some length between uncut and shortest suits [mils]
    usual_in_band: tuple[float, ...] = field(metadata=kept(json="usual_sizes_mils"))
    #: groups of wood in the same span, where wood is in question [lb]
    wood_groups: tuple[tuple[float, float], ...] = field(metadata=kept(json="wood_groups_lb"))
    #: what would take most doubt away
    narrow: tuple[Narrowing, ...]
    #: all builds, with a stock
    ranking: Ranking | None = field(metadata=kept(json=False))
    #: by rank; `builds` has them as the plan does
    listed: tuple[ListedBuild, ...] = field(metadata=kept(json=False))
    #: None without a runner-up
    place: FirstPlace | None = field(metadata=kept(json="runner_up"))
    #: what each limit turned away: shafts, else builds
    rejected: tuple[Rejection, ...]
    #: of the short band
    trace: dict[str, Any]
    #: gravest first
    cautions: tuple[Caution, ...]
    candidates: Candidates | None = field(default=None, metadata=kept(json=False))
    #: shafts that no point or length brings inside the purpose's weights; not listed
    outside_weights: tuple[str, ...] = ()
    #: that a stock was given and has no shafts to choose from
    no_shafts: str = field(default="", metadata=kept(json=False))

    @property
    def notes(self) -> tuple[str, ...]:
        """What is missing from the stock."""
        if self.no_shafts:
            return (self.no_shafts,)
        return self.candidates.cautions if self.candidates else ()

    @cached_property
    def shafts(self) -> dict[str, StockItem]:
        """What was chosen from, by name; nothing without a stock."""
        items = self.candidates.items if self.candidates else ()
        return {item.item: item for item in items if item.kind == "shaft"}

    @property
    def beside_plan(self) -> tuple[str, ...]:
        """That the plan names a shaft of a material that was not asked for here."""
        row = self.question.item(self.question.plan.next.shaft)
        asked = {shaft.material for shaft in self.shafts.values()}
        amiss = row is not None and asked and row.material not in asked
        return ("what to do now goes by the whole stock",) if amiss else ()

    @property
    def outside_materials(self) -> set[str]:
        """What the shafts outside the purpose's weights are made of."""
        return {str(self.shafts[name].material) for name in self.outside_weights}

    @cached_property
    def builds(self) -> tuple[ListedBuild, ...]:
        """The builds listed, the plan's own first once it flies straight, marked before."""
        return as_planned(self.question, self.listed)

    @cached_property
    def weight_notes(self) -> tuple[str, ...]:
        """That none listed has the purpose's weight, and which are lighter than such a bow usually wants."""
        if not self.builds:
            return ()
        purpose, notes = self.question.purpose_rule, list[str]()
        shown = [round(b.gr_per_lb, 1) for b in self.builds]
        spans = [purpose.span(b.wood_lb is not None) for b in self.builds]
        if not any(s.low <= x <= s.high for s, x in zip(spans, shown, strict=True)):
            usual = purpose.weights({"wood" if b.wood_lb else "carbon" for b in self.builds})
            notes.append(
                f"no arrow of this stock weighs the {usual} usual for {purpose.label}: these have "
                f"{min(shown):g} to {max(shown):g}"
            )
        for floor in mass_floors(self.question.rig):
            light = [b.shaft for b in self.builds if b.bare_gr_per_lb < floor.gr_per_lb]
            if light:
                named = series(list(dict.fromkeys(light)))
                notes.append(f"{named}: bare under {floor.gr_per_lb:g} gr/lb; {floor.why}")
        return tuple(notes)

    @property
    def material(self) -> str:
        """Material of all shafts listed; nothing where they differ."""
        found = {str(self.shafts[b.shaft].material) for b in self.listed}
        return found.pop() if len(found) == 1 else ""

    def to_dict(self) -> dict[str, Any]:
        """With the builds as the plan has them, and the short band taken apart."""
        band = plain(self.band)
        at = {key: band.pop(key) for key in ("length_in", "front_gr")}
        warnings = [*self.question.warnings, *self.beside_plan, *self.weight_notes, *self.notes]
        return {**super().to_dict(), "spine_band_mils": band, "band_at": at,
                "builds": plain(self.builds), "warnings": warnings}  # fmt: skip


def choose(
    asked: Scenario, stock: Stock | None = None, chance: float | None = None, top: int = TOP,
    all_builds: bool = False, material: str | None = None,
) -> Choice:  # fmt: skip
    """Spine band with its doubt, and with a stock the ranked builds, none when none is allowed."""
    refuse(
        number("chance", chance, BAND_CHANCE),
        number("top", top, LISTED),
        word("material", material, MATERIALS),
    )
    chance = setting("matching.band_chance") if chance is None else chance
    short = asked.reference_build()
    demand = asked.demand(short)
    if stock is not None and material is not None:
        items = tuple(i for i in stock.items if i.kind != "shaft" or i.material == material)
        stock = Stock(items, stock.name)
    empty = no_shafts(stock, material)
    stock = None if empty else stock
    uncut = asked.reference_build(length_in=uncut_length_in(stock, float(short.length_in[0])))
    band = spine_band(demand, short, asked.belief, chance)
    band_uncut = spine_band(asked.demand(uncut), uncut, asked.belief, chance)
    # every spine that some length from the shortest to uncut may suit
    span = min(band.low, band_uncut.low), max(band.high, band_uncut.high)
    effective = effective_weight(demand, asked.belief)
    learned = asked.belief.learned
    ranking = place = candidates = None
    listed: tuple[ListedBuild, ...] = ()
    outside: tuple[str, ...] = ()
    materials = set(MATERIALS)
    if stock is not None:
        candidates = enumerate_builds(asked.rig, stock, asked.purpose_rule, alike_once=True)
        ranking = rank(asked, candidates)
        if len(ranking.builds):
            # what is new is inside the purpose's weights while anything is
            fit = ranking.of_weight(asked.purpose_rule)
            order = (
                ranking.best_first(fit)[:top].tolist()
                if all_builds
                else ranking.best_of_shafts(fit)[:top]
            )
            listed = list_builds(asked, candidates.items, ranking, order, candidates.notes)
            shafts = ranking.builds.shaft
            never = set(shafts.tolist()) - set(shafts[fit].tolist())
            outside = tuple(sorted(candidates.items[shaft].item for shaft in never))
            place = first_place(ranking, fit)
            materials = {str(candidates.items[b.shaft_index].material) for b in listed}
    return Choice(
        question=asked, effective=effective, band=band, band_uncut=band_uncut,
        band_before=spine_band(demand, short, asked.prior, chance) if learned else None,

        nudges=_nudges(asked, short, band.mid), usual_in_band=_usual_inside(*span),
        wood_groups=_wood_groups(*span) if "wood" in materials else (),
        narrow=narrowings(demand, asked.belief), ranking=ranking, listed=listed, place=place,
        rejected=ranking.rejected if ranking else (),
        trace=spine_trace(demand, asked.book, effective.mid if learned else None),
        cautions=tuple(cautions_for(asked.rig, asked.purpose, materials)),
        candidates=candidates, outside_weights=outside, no_shafts=empty,
    )  # fmt: skip


def uncut_length_in(stock: Stock | None, at_least: float) -> float:
    """The commonest full length of a stock's shafts, or the usual one without a stock [in]."""
    lengths = [s.comes_in for s in stock.of_kind("shaft")] if stock else [usual("full_length_in")]
    return max(Counter(sorted(lengths)).most_common(1)[0][0], at_least)


def _nudges(asked: Scenario, short: Builds, mid: float) -> tuple[Nudge, ...]:
    length, front = float(short.length_in[0]), float(short.front_gr[0])
    step_in, step_gr = setting("matching.draw_varies_in"), setting("matching.front_varies_gr")
    changes = [
        (f"{step_in:g} in longer", length + step_in, front),
        (f"{step_in:g} in shorter", length - step_in, front),
        (f"{step_gr:g} gr more up front", length, front + step_gr),
        (f"{step_gr:g} gr less up front", length, front - step_gr),
    ]
    nudged = []
    for words, at_length, at_front in changes:
        build = asked.reference_build(at_length, at_front)
        middle = asked.band(build).mid
        nudged.append(Nudge(words, middle, middle - mid))
    return tuple(nudged)


def _usual_inside(stiffest: float, weakest: float) -> tuple[float, ...]:
    spines = sorted({float(row["spine_mils"]) for row in table("usual_shafts")})
    return tuple(s for s in spines if stiffest <= s <= weakest)


def _wood_groups(stiffest: float, weakest: float) -> tuple[tuple[float, float], ...]:
    rows = table("wood_diameters")
    lowest = min(float(row["group_low_lb"]) for row in rows)
    highest = max(float(row["group_high_lb"]) for row in rows)
    width = setting("matching.wood_group_lb")
    groups = [(low, low + width) for low in np.arange(lowest, highest, width).tolist()]
    return tuple(g for g in groups if stiffest <= mils_from_pounds(sum(g) / 2) <= weakest)


@dataclass(frozen=True)
class Narrowing(Result):
    """One thing to measure."""

    #: what to do
    what: str
    #: by how much the 95 % range of the effective bow weight shrinks on either side, at most
    removes_lb: float
    #: the same as a share of that range
    share: float


def narrowings(demand: Demand, belief: Belief) -> tuple[Narrowing, ...]:
    """Measurements that would narrow the band, the most useful first.

    Those that remove at least a fifth of a pound. Bare shafts count as a reading of their own, the
    others as if the rules they replace were then known exactly.
    """
    common, amounts, coefficients = demand.shared(belief)
    now = common + (amounts[0] @ coefficients if len(coefficients) else 0.0)
    sd = float(np.std(now))
    grouped: dict[str, dict[str, str]] = {}
    for firing in (*demand.weight_rules.firings, *demand.shift_rules.firings):
        rule = firing.rule
        if rule.narrow and (not rule.narrow_cases or firing.case in rule.narrow_cases):
            grouped.setdefault(rule.narrow, {})[rule.code] = rule.name
    found = []
    for what, rules in grouped.items():
        if {"archer-own", "bow-own"} & set(rules.values()):
            noise = setting("matching.two_bare_shafts_sd_lb")
            after = sd * noise / float(np.hypot(sd, noise))
        else:
            known = sum(
                np.ravel(c.x)[0] * c.deviations(belief.scores[c.driver])
                for c in demand.columns if c.code in rules
            )  # fmt: skip
            after = float(np.std(now - known))
        removes = Z95 * (sd - after)
        if removes >= 0.2:
            found.append(Narrowing(what, removes, 1 - after / sd))
    return tuple(sorted(found, key=lambda n: -n.removes_lb))


class Rung(NamedTuple):
    """One step of the ladder [lb]."""

    #: the rule's name in words
    name: str
    #: where the sum stands before and after it
    start: float
    end: float
    #: 95 % range of what it adds
    low: float
    high: float

    @property
    def adds(self) -> float:
        """What it adds."""
        return self.end - self.start


@dataclass(frozen=True)
class Ladder:
    """Draw weight at the foot, rules as rungs, effective bow weight on top [lb]."""

    #: the draw weight as stated
    stated_lb: float
    #: in the order of the trace; the archer's own shots last
    rungs: tuple[Rung, ...]
    #: effective bow weight with its 95 % range
    total: Interval
    #: the build it is stated at
    length_in: float
    front_gr: float


def ladder_of(choice: Choice) -> Ladder:
    """The ladder of a choice's short band; its last rung ends at the effective bow weight."""
    foot, *leaves = _leaves(choice.trace["root"])
    rungs, at = [], float(foot["value"])
    for leaf in leaves:
        end = at + leaf["value"]
        own = " (own)" if leaf.get("own") else ""
        rungs.append(Rung(leaf["label"].replace("-", " ") + own, at, end, *_range(leaf)))
        at = end
    band = choice.band
    return Ladder(
        float(foot["value"]), tuple(rungs), choice.effective, band.length_in, band.front_gr
    )


def _leaves(node: dict[str, Any]) -> list[dict[str, Any]]:
    """The terms of the sum: rules, and what was measured or learned."""
    if node.get("rule") or node["op"] == "input":
        return [node]
    return [leaf for child in node["children"] for leaf in _leaves(child)]


def _range(leaf: dict[str, Any]) -> tuple[float, float]:
    """95 % range of what a rule adds: its coefficient's range times the rest of its product."""
    doubtful = next((c for c in leaf["children"] if "low" in c), None)
    if doubtful is None:
        return float(leaf["value"]), float(leaf["value"])
    rest = math.prod(c["value"] for c in leaf["children"] if c is not doubtful)
    ends = (doubtful["low"] * rest, doubtful["high"] * rest)
    return min(ends), max(ends)
