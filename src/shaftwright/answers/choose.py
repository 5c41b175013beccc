"""The first question: which shaft, at what length, with what up front, before any shot or after some."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.answers.candidates import Candidates, Rejection, enumerate_builds
from shaftwright.answers.listing import ListedBuild, list_builds
from shaftwright.answers.narrow import Narrowing, narrowings
from shaftwright.answers.rank import FirstPlace, Ranking, first_place, rank
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import Band, Spread, effective_weight, spine_band
from shaftwright.inference.rig_facts import usual
from shaftwright.inference.trace import spine_trace
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.builds import Builds
from shaftwright.records.stock import Stock
from shaftwright.resources import table
from shaftwright.rules.cautions import Caution, cautions_for
from shaftwright.rules.purposes import setting

if TYPE_CHECKING:
    pass


@dataclass(frozen=True)
class Nudge:
    """What a small change of the build does to the middle of the band."""

    change: str
    mid_mils: float


@dataclass(frozen=True)
class Choice:
    """The answer: bands, builds, reasons, cautions.

    Attributes
    ----------
    question : Scenario
        What was asked.
    effective : Spread
        Effective bow weight at the short build [lb].
    band, band_uncut : Band
        At the shortest safe length and uncut, both at the purpose's usual front mass.
    band_before : Band or None
        The short band before the shots, when there were any.
    nudges : tuple of Nudge
        What 1/2 in and 25 gr either way do to the short band.
    usual_in_band : tuple of float
        Usual static spines from the stiffest of the uncut band to the weakest of the short one:
        some length between suits them [mils].
    wood_groups : tuple of (float, float)
        Groups of wood whose middle lies in the same span, where wood is in question [lb].
    narrow : tuple of Narrowing
        What would take most doubt away.
    ranking : Ranking or None
        All builds, with a stock.
    listed : tuple of ListedBuild
        The builds shown.
    place : FirstPlace or None
        Winner and runner-up.
    rejected : tuple of Rejection
        What was turned away.
    trace : dict
        Of the short band.
    cautions : tuple of Caution
        Gravest first.
    notes : tuple of str
        What is missing from the stock.
    """

    question: Scenario
    effective: Spread
    band: Band
    band_uncut: Band
    band_before: Band | None
    nudges: tuple[Nudge, ...]
    usual_in_band: tuple[float, ...]
    wood_groups: tuple[tuple[float, float], ...]
    narrow: tuple[Narrowing, ...]
    ranking: Ranking | None
    listed: tuple[ListedBuild, ...]
    place: FirstPlace | None
    rejected: tuple[Rejection, ...]
    trace: dict[str, Any]
    cautions: tuple[Caution, ...]
    notes: tuple[str, ...] = ()
    candidates: Candidates | None = None


def choose(
    asked: Scenario, stock: Stock | None = None, chance: float | None = None, top: int = 8,
    all_builds: bool = False, material: str | None = None,
) -> Choice:  # fmt: skip
    """Spine band with its doubt, and with a stock the ranked builds.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, rules and belief.
    stock : Stock, optional
        What could be bought or is owned.
    chance : float, optional
        Chance the band is stated at; rules/matching.yaml by default.
    top : int
        How many builds to list.
    all_builds : bool
        List builds of one shaft too, not only each shaft's best.
    material : str, optional
        Only shafts of this material.

    Returns
    -------
    Choice
        `ranking` has no builds when nothing of the stock is within the limits.
    """
    chance = setting("band_chance") if chance is None else chance
    short = asked.reference_build()
    demand = asked.demand(short)
    if stock is not None and material is not None:
        kept = tuple(i for i in stock.items if i.kind != "shaft" or i.material == material)
        stock = Stock(kept, stock.name)
    uncut = asked.reference_build(length_in=uncut_length_in(stock, float(short.length_in[0])))
    band = spine_band(demand, short, asked.belief, chance)
    band_uncut = spine_band(asked.demand(uncut), uncut, asked.belief, chance)
    effective = effective_weight(demand, asked.belief)
    before = None
    if asked.belief.learned:
        before = spine_band(demand, short, asked.prior, chance)
    ranking = place = candidates = None
    listed: tuple[ListedBuild, ...] = ()
    materials = {"carbon", "aluminium", "wood", "fibreglass"}
    if stock is not None:
        candidates = enumerate_builds(asked.rig, stock, asked.purpose_rule)
        ranking = rank(
            asked.rig, candidates, asked.purpose_rule, asked.belief, asked.book, asked.speed
        )
        if len(ranking.builds):
            order = (
                ranking.best_first()[:top].tolist()
                if all_builds
                else ranking.best_of_shafts()[:top]
            )
            listed = list_builds(asked.rig, asked.purpose_rule, candidates, ranking, asked.book,
                                 asked.speeds(), order)  # fmt: skip
            place = first_place(ranking)
            materials = {str(candidates.items[b.shaft_index].material) for b in listed}
    return Choice(
        question=asked, effective=effective, band=band, band_uncut=band_uncut, band_before=before,
        nudges=_nudges(asked, short), usual_in_band=_usual_inside(band, band_uncut),
        wood_groups=_wood_groups(band, band_uncut) if "wood" in materials else (),
        narrow=narrowings(demand, asked.belief), ranking=ranking, listed=listed, place=place,
        rejected=ranking.rejected if ranking else (),
        trace=spine_trace(demand, asked.book, effective.mid if asked.belief.learned else None),
        cautions=tuple(cautions_for(asked.rig, asked.purpose, materials)),
        notes=candidates.cautions if candidates else (), candidates=candidates,
    )  # fmt: skip


def uncut_length_in(stock: Stock | None, at_least: float) -> float:
    """The commonest full length of a stock's shafts, or the usual one without a stock [in].

    Parameters
    ----------
    stock : Stock or None
        The stock.
    at_least : float
        Never shorter than this [in].

    Returns
    -------
    float
        [in].
    """
    lengths = (
        [s.full_length_in for s in stock.of_kind("shaft") if s.full_length_in] if stock else []
    )
    if not lengths:
        return max(usual("full_length_in"), at_least)
    values, counts = np.unique(lengths, return_counts=True)
    return max(float(values[np.argmax(counts)]), at_least)


def _nudges(asked: Scenario, short: Builds) -> tuple[Nudge, ...]:
    length, front = float(short.length_in[0]), float(short.front_gr[0])
    step_in, step_gr = setting("draw_varies_in"), setting("front_varies_gr")
    changes = [
        (f"{step_in:g} in longer", length + step_in, front),
        (f"{step_in:g} in shorter", length - step_in, front),
        (f"{step_gr:g} gr more up front", length, front + step_gr),
        (f"{step_gr:g} gr less up front", length, front - step_gr),
    ]
    nudged = []
    for words, at_length, at_front in changes:
        build = asked.reference_build(at_length, at_front)
        band = spine_band(asked.demand(build), build, asked.belief, setting("band_chance"))
        nudged.append(Nudge(words, band.mid))
    return tuple(nudged)


def _usual_inside(*bands: Band) -> tuple[float, ...]:
    spines = sorted({float(row["spine_mils"]) for row in table("usual_shafts")})
    stiffest, weakest = _span(bands)
    return tuple(s for s in spines if stiffest <= s <= weakest)


def _span(bands: tuple[Band, ...]) -> tuple[float, float]:
    """Every spine that some length from the shortest to uncut may suit, between the bands too."""
    return min(b.low for b in bands), max(b.high for b in bands)


def _wood_groups(*bands: Band) -> tuple[tuple[float, float], ...]:
    rows = table("wood_diameters")
    lowest = min(float(row["group_low_lb"]) for row in rows)
    highest = max(float(row["group_high_lb"]) for row in rows)
    width = setting("wood_group_lb")
    groups = [(low, low + width) for low in np.arange(lowest, highest, width).tolist()]
    stiffest, weakest = _span(bands)
    return tuple(g for g in groups if stiffest <= mils_from_pounds(sum(g) / 2) <= weakest)
