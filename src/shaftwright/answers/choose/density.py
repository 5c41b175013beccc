"""How likely each static spine is the right one: chance densities for the picture of the band."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array
from shaftwright.inference.band import Band
from shaftwright.physics.spine import mils_from_pounds
from shaftwright.records.stock import shaft_facts
from shaftwright.resources import table

_POINTS = 101


class BandCurve(NamedTuple):
    """One band with the density it was cut from."""

    #: `shortest safe length`, `before your shots` or `uncut`
    name: str
    band: Band
    #: chance for one mil, at `BandCurves.spine_mils` (n,)
    density: Array


class BandCurves(NamedTuple):
    """The bands of a choice as densities over one axis."""

    spine_mils: Array
    #: before the shots (if there were any), at the short build, uncut
    curves: tuple[BandCurve, ...]
    #: what is on sale, by material: spines of the stock's shafts, else the usual ones
    sizes: dict[str, tuple[float, ...]]
    #: where those come from, in words
    sizes_from: str
    #: whether spines are told in pounds, as wood is marked
    in_pounds: bool


def band_curves(choice: Choice) -> BandCurves:
    """Densities of the right spine, before and after the shots, short and uncut.

    Over the middle 99 % of all of them. A Gaussian kernel of Silverman's width over the draws the band
    itself is cut from (Silverman, Density Estimation for Statistics and Data Analysis, 1986, eq. 3.31,
    recalled).
    """
    asked = choice.question
    before = replace(asked, given=asked.prior)
    told = [
        (name, band, _spines(by, band))
        for name, band, by in (
            ("before your shots", choice.band_before, before),
            ("shortest safe length", choice.band, asked),
            ("uncut", choice.band_uncut, asked),
        )
        if band is not None
    ]
    low, high = np.quantile(np.concatenate([spines for _, _, spines in told]), [0.005, 0.995])
    axis = np.linspace(low, high, _POINTS)
    curves = tuple(BandCurve(name, band, _density(spines, axis)) for name, band, spines in told)
    if choice.shafts:
        sold = {(str(i.material), shaft_facts(i).spine_mils) for i in choice.shafts.values()}
        words = "shafts of your stock"
    else:
        sold = {(row["material"], float(row["spine_mils"])) for row in table("usual_shafts")}
        words = "usual sizes"
    sizes = {
        material: tuple(sorted(spine for made_of, spine in sold if made_of == material))
        for material in sorted({made_of for made_of, _ in sold})
    }
    return BandCurves(axis, curves, sizes, words, choice.material == "wood")


def _spines(asked: Scenario, band: Band) -> Array:
    build = asked.reference_build(band.length_in, band.front_gr)
    wanted = np.maximum(asked.demand(build).draws(asked.belief)[0], 1.0)
    spines: Array = np.asarray(mils_from_pounds(wanted), dtype=float)
    return spines


def _density(samples: Array, axis: Array) -> Array:
    between = float(np.subtract(*np.quantile(samples, [0.75, 0.25])))
    spread = min(float(samples.std()), between / 1.34)
    width = 0.9 * max(spread, 1e-6) * len(samples) ** -0.2
    off = (axis[:, None] - samples[None, :]) / width
    heights: Array = np.exp(-0.5 * off**2).mean(axis=1) / (width * np.sqrt(2 * np.pi))
    return heights
