"""How likely each static spine is the right one: chance densities for the picture of the band."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.choose.choose import Choice
from shaftwright.answers.scenario import Scenario
from shaftwright.inference.band import Band
from shaftwright.physics.arrow.spine import mils_from_pounds

Array = NDArray[np.float64]
_POINTS = 161


@dataclass(frozen=True)
class BandCurve:
    """One band with the density it was cut from.

    Attributes
    ----------
    name : str
        What it stands for: `shortest`, `before your shots` or `uncut`.
    band : Band
        The band.
    density : array (n,)
        Chance for one mil, at `BandCurves.spine_mils` [1/mil].
    """

    name: str
    band: Band
    density: Array


@dataclass(frozen=True)
class BandCurves:
    """The bands of a choice as densities over one axis.

    Attributes
    ----------
    spine_mils : array (n,)
        Static spines [mils].
    curves : tuple of BandCurve
        Before the shots (if there were any), at the short build, uncut.
    sizes : tuple of float
        Spines on sale: of the stock's shafts, else the usual ones [mils].
    sizes_from : str
        Where those come from, in words.
    """

    spine_mils: Array
    curves: tuple[BandCurve, ...]
    sizes: tuple[float, ...]
    sizes_from: str


def band_curves(choice: Choice) -> BandCurves:
    """Densities of the right spine, before and after the shots, short and uncut.

    Parameters
    ----------
    choice : Choice
        An answer.

    Returns
    -------
    BandCurves
        Over the middle 99 % of all of them.

    Notes
    -----
    A Gaussian kernel of Silverman's width over the draws the band itself is cut from [1]_.

    References
    ----------
    .. [1] Silverman, Density Estimation for Statistics and Data Analysis, 1986, eq. 3.31 (recalled).
    """
    asked = choice.question
    told: list[tuple[str, Band, Array]] = []
    if choice.band_before is not None:
        prior = replace(asked, given=asked.prior)
        told.append(
            ("before your shots", choice.band_before, _spines(prior, choice.band_before))
        )  # fmt: skip
    told.append(("shortest safe length", choice.band, _spines(asked, choice.band)))
    told.append(("uncut", choice.band_uncut, _spines(asked, choice.band_uncut)))
    everything = np.concatenate([spines for _, _, spines in told])
    low, high = np.quantile(everything, [0.005, 0.995])
    axis = np.linspace(low, high, _POINTS)
    curves = tuple(BandCurve(name, band, _density(spines, axis)) for name, band, spines in told)
    if choice.candidates is not None:
        sold = {i.spine_mils for i in choice.candidates.items if i.kind == "shaft" and i.spine_mils}
        words = "shafts of your stock"
    else:
        from shaftwright.resources import table

        sold = {float(r["spine_mils"]) for r in table("usual_shafts")}
        words = "usual sizes"
    return BandCurves(axis, curves, tuple(sorted(s for s in sold if low <= s <= high)), words)


def _spines(asked: Scenario, band: Band) -> Array:
    build = asked.reference_build(band.length_in, band.front_gr)
    wanted = np.maximum(asked.demand(build).draws(asked.belief)[0], 1.0)
    spines: Array = np.asarray(mils_from_pounds(wanted), dtype=float)
    return spines


def _density(samples: Array, axis: Array) -> Array:
    spread = min(
        float(samples.std()), float(np.subtract(*np.quantile(samples, [0.75, 0.25]))) / 1.34
    )
    width = 0.9 * max(spread, 1e-6) * len(samples) ** -0.2
    off = (axis[:, None] - samples[None, :]) / width
    heights: Array = np.exp(-0.5 * off**2).mean(axis=1) / (width * np.sqrt(2 * np.pi))
    return heights
