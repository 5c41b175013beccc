"""Where a shaft suits: front mass against length, with the doubt, as plain arrays for a picture."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.choose.rank import hard_floor_gr_per_lb
from shaftwright.inference.band import moments
from shaftwright.inference.rig_facts import usual
from shaftwright.physics.arrow.spine import pounds_from_mils
from shaftwright.records.builds import Builds
from shaftwright.resources import table
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]
_LENGTHS, _FRONTS = 33, 25
_WIDER = (0.5, 0.95)
_BEYOND_GR = 50.0


def sold_by_most() -> list[float]:
    """Carbon spines that most shops keep, from tables/usual_shafts.csv [mils]."""
    rows = table("usual_shafts")
    return sorted(
        float(row["spine_mils"])
        for row in rows
        if row["material"] == "carbon" and row["kept_by"] == "most"
    )


@dataclass(frozen=True)
class MapCurve:
    """The front mass at which one spine is in the middle of its band, length by length.

    Attributes
    ----------
    label : str
        The spine as it is sold.
    spine_mils : float
        Static spine [mils].
    front_gr : array (n,)
        NaN where no front mass of the map does it [gr].
    """

    label: str
    spine_mils: float
    front_gr: Array


@dataclass(frozen=True)
class MapMark:
    """One listed build on the map.

    Attributes
    ----------
    rank : int
        Its place in the list, from 1.
    shaft : str
        Its name.
    length_in, front_gr : float
        Where it stands.
    chance : float
        Its chance of a match.
    """

    rank: int
    shaft: str
    length_in: float
    front_gr: float
    chance: float


@dataclass(frozen=True)
class BuildMap:
    """Shaft length against front mass for one bow.

    Attributes
    ----------
    length_in : array (n,)
        Lengths at which all curves are given [in].
    lowest_gr, highest_gr : float
        The front masses the map shows [gr].
    shaft, spine_mils : str, float
        The shaft whose strip is drawn; the name is empty for a usual size.
    levels : tuple of float
        Chances, rising; the stated one among them.
    chance : float
        The stated one.
    strips : array (levels, 2, n)
        Least and most front mass between which the shaft's spine lies inside the band of that
        chance; held a little outside the map where it lies beyond it [gr].
    curves : tuple of MapCurve
        The strip's own shaft first, then the other spines worth showing.
    too_weak_gr : array (n,)
        Above it the shaft is too weak to be shot; infinity where it never is [gr].
    floor_gr : array (n,)
        Below it the bare arrow is under the mass floor [gr].
    floor_gr_per_lb : float
        That floor.
    shortest_in, full_in : float
        Shortest safe length, and the shaft as it is sold [in].
    marks : tuple of MapMark
        The listed builds.
    """

    length_in: Array
    lowest_gr: float
    highest_gr: float
    shaft: str
    spine_mils: float
    levels: tuple[float, ...]
    chance: float
    strips: Array
    curves: tuple[MapCurve, ...]
    too_weak_gr: Array
    floor_gr: Array
    floor_gr_per_lb: float
    shortest_in: float
    full_in: float
    marks: tuple[MapMark, ...]


def build_map(choice: Choice, shaft: int = 0) -> BuildMap:
    """The map of a choice, for one of its listed shafts or, without a stock, for a usual size.

    Parameters
    ----------
    choice : Choice
        An answer.
    shaft : int
        Which listed build's shaft gets the strip, from 0.

    Returns
    -------
    BuildMap
        Plain arrays.

    Notes
    -----
    A strip is the band turned round: all lengths and fronts at which the spine of this one shaft
    lies between the stiffest and the weakest that suit. It leaves out the shaft's own doubt, as
    the band does.
    """
    asked, one = choice.question, _one(choice, shaft)
    shortest = choice.band.length_in
    full = _full_in(choice, shaft)
    lengths = np.linspace(shortest - 0.5, full + 0.25, _LENGTHS)
    low, high = _fronts(choice)
    fronts = np.linspace(max(low - _BEYOND_GR, 1.0), high + _BEYOND_GR, _FRONTS)
    grid = _grid(one, lengths, fronts)
    demand = asked.demand(grid)
    levels = tuple(sorted({choice.band.chance, *_WIDER}))
    sides = np.array([[(1 + c) / 2, (1 - c) / 2] for c in levels])
    draws = demand.draws(asked.belief)
    wanted = _smooth(np.quantile(draws, sides.ravel(), axis=1), grid)
    wanted = wanted.reshape(-1, _LENGTHS, _FRONTS)
    supply = pounds_from_mils(float(one.spine_mils[0]))
    strips = _front_where(wanted, supply, fronts).reshape(len(levels), 2, _LENGTHS)
    mean = moments(demand, grid, asked.belief)[0].reshape(1, _LENGTHS, _FRONTS)
    weak = _front_where(mean, supply / setting("shoot_gate"), fronts, outside=(-np.inf, np.inf))[0]
    floor = hard_floor_gr_per_lb(asked.rig)
    lightest = floor * demand.own_lb - (one.bare_gr[0] - one.front_gr[0])
    curves = _curves(choice, one, mean, fronts)
    return BuildMap(
        length_in=lengths, lowest_gr=low, highest_gr=high,
        shaft=one.name(int(one.shaft[0])), spine_mils=float(one.spine_mils[0]),
        levels=levels, chance=choice.band.chance, strips=strips, curves=curves, too_weak_gr=weak,
        floor_gr=lightest - one.gr_per_in[0] * (lengths - one.length_in[0]), floor_gr_per_lb=floor,
        shortest_in=shortest, full_in=full,
        marks=tuple(MapMark(b.rank, b.shaft, b.length_in, b.front_gr, b.chance_match)
                    for b in choice.builds),
    )  # fmt: skip


def _one(choice: Choice, shaft: int) -> Builds:
    """The build whose shaft gets the strip: a listed one, or the usual size nearest both bands."""
    if choice.listed and choice.ranking is not None:
        return choice.ranking.builds.take([choice.listed[shaft].index])
    middle = sum(pounds_from_mils(b.mid) for b in (choice.band, choice.band_uncut)) / 2
    rows = {float(r["spine_mils"]): r for r in table("usual_shafts") if r["material"] == "carbon"}
    spine = min(sold_by_most(), key=lambda s: abs(pounds_from_mils(s) - middle))
    reference = choice.question.reference_build()
    return replace(reference, spine_mils=np.array([spine]),
                   gr_per_in=np.array([float(rows[spine]["gr_per_in"])]))  # fmt: skip


def _full_in(choice: Choice, shaft: int) -> float:
    if choice.listed and choice.candidates is not None:
        full = choice.candidates.items[choice.listed[shaft].shaft_index].full_length_in
        if full is not None:
            return max(full, choice.band.length_in)
    return max(usual("full_length_in"), choice.band.length_in)


def _fronts(choice: Choice) -> tuple[float, float]:
    """Front masses worth showing: the usual one and the listed builds, with room around them."""
    shown = [choice.band.front_gr, *(b.front_gr for b in choice.listed)]
    low = 25 * np.floor((min(min(shown), choice.band.front_gr - 50) - 50) / 25)
    high = 25 * np.ceil((max(max(shown), choice.band.front_gr + 50) + 50) / 25)
    return float(max(low, 25.0)), float(high)


def _grid(one: Builds, lengths: Array, fronts: Array) -> Builds:
    """One build at every length and front mass; insert and collar stay, the point varies."""
    length, front = (axis.ravel() for axis in np.meshgrid(lengths, fronts, indexing="ij"))
    many = one.take(np.zeros(len(length), dtype=int))
    point = np.maximum(front - one.insert_gr[0] - one.collar_gr[0], 0.0)
    return replace(many, length_in=length, head_gr=point)


def _smooth(rows: Array, grid: Builds) -> Array:
    """Quantiles (k, points) without the ripple of the draws: a cubic surface over length and front."""
    across = (grid.length_in - grid.length_in.mean()) / np.ptp(grid.length_in)
    along = (grid.front_gr - grid.front_gr.mean()) / np.ptp(grid.front_gr)
    basis = np.stack([across**i * along**j for i in range(4) for j in range(4 - i)])
    surface: Array = np.linalg.lstsq(basis.T, rows.T, rcond=None)[0].T @ basis
    return surface


def _front_where(
    wanted: Array, supply: float, fronts: Array, outside: tuple[float, float] | None = None
) -> Array:
    """Front mass at which each row of what is wanted (k, n, m), rising with it, reaches a supply (k, n)."""
    ends = (float(fronts[0]), float(fronts[-1])) if outside is None else outside
    rows = np.maximum.accumulate(wanted.reshape(-1, len(fronts)), axis=1)
    found = [np.interp(supply, row, fronts, left=ends[0], right=ends[1]) for row in rows]
    return np.array(found).reshape(wanted.shape[:2])


def _curves(choice: Choice, one: Builds, mean: Array, fronts: Array) -> tuple[MapCurve, ...]:
    """Middle curves: the strip's own shaft, the listed ones, then other sizes on sale."""
    own = float(one.spine_mils[0])
    spines = [own, *(b.spine_mils for b in choice.listed)]
    if choice.candidates is not None and choice.listed:
        material = choice.candidates.items[choice.listed[0].shaft_index].material
        spines += sorted(
            {i.spine_mils for i in choice.candidates.items
             if i.kind == "shaft" and i.spine_mils and i.material == material}
        )  # fmt: skip
    else:
        spines += sold_by_most()
    kept: list[float] = []
    for spine in spines:
        # two lines closer than this cannot be told apart on the map
        if all(abs(spine / other - 1) > 0.05 for other in kept):
            kept.append(spine)
    none = (np.nan, np.nan)
    return tuple(
        MapCurve(f"{s:.0f}", s, _front_where(mean, pounds_from_mils(s), fronts, none)[0])
        for s in kept
    )
