"""Brace height swept: where the bow is quiet, where it is fast, where bare shafts group."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.measure.curve import Curve, Optimum, Part, fit_curve, optimum
from shaftwright.measure.frames import full, summed
from shaftwright.measure.sound import not_mixed, of_a_class, usable_levels
from shaftwright.measure.use import Between, Rows, correct_speed
from shaftwright.resources import measuring, spread
from shaftwright.result import Result, kept
from shaftwright.units import Interval, inches

if TYPE_CHECKING:
    import pandas as pd


_PRIOR_DF = 4  # weight, in shots, of what the table says about shot-to-shot spread


@dataclass(frozen=True)
class Quantity:
    """One thing read over brace height.

    Parameters
    ----------
    heading, unit, most : str
        What it is called on a screen, its unit, and what the best is called.
    column : str
        Column of the readings.
    key : str
        What the table's names of its scatter end in.
    sign : float
        +1 if more is better, -1 if less is.
    name, what : str
        What a good range of it is called, and what it is.
    within : str
        Name of the table's number for "near the best".
    flat : str
        Said when brace hardly changes it.
    """

    heading: str
    unit: str
    most: str
    column: str
    key: str
    sign: float
    name: str
    what: str
    within: str
    flat: str


SPEED = Quantity("Speed", "fps", "fastest", "speed_fps", "fps", 1.0, "fast", "speed", "fast_within_fps",
                 "brace changes the speed by less than can be shot")  # fmt: skip
LEVEL = Quantity("Sound", "dB", "quietest", "level_db", "db", -1.0, "quiet", "sound", "quiet_within_db",
                 "brace changes the sound by less than can be heard")  # fmt: skip
SPREAD = Quantity("Bare shafts", "in", "tightest", "spread_in", "spread", -1.0, "tight groups", "grouping",
                  "tight_within_pct", "brace hardly changes how bare shafts group")  # fmt: skip


@dataclass(frozen=True)
class Best(Interval):
    """Where something is best, with the range of so much chance."""

    chance: float = 0.8


@dataclass(frozen=True)
class Fit(Result):
    """What the curve of one quantity says."""

    degree: int
    best_in: Best
    range_in: Between
    chance_it_matters: float
    go_on: str | None


@dataclass(frozen=True)
class Swept(Result):
    """One quantity over brace height: what was read at each, the curve, and what it says."""

    what: Quantity = field(metadata=kept(json=False))
    settings: Rows
    curve: Rows
    fit: Fit | None = field(metadata=kept(flat=True, optional=True))
    verdict: str


@dataclass(frozen=True)
class Sweep(Result):
    """Speed, sound and bare-shaft spread over brace height, and all taken together."""

    speed: Swept | None
    sound: Swept | None
    bare: Swept | None
    #: where quiet and fast meet
    both_in: Between | None
    fps_per_quarter_in: Interval | None
    optimum: Optimum | None
    twists_per_step: Interval
    warnings: tuple[str, ...]

    @property
    def read(self) -> list[Swept]:
        """The quantities that were read."""
        return [one for one in (self.speed, self.sound, self.bare) if one is not None]


def sixteenths(value_in: float) -> str:
    """A length to the nearest sixteenth, as archers write it.

    Parameters
    ----------
    value_in : float
        Length [in].

    Returns
    -------
    str
        Whole inches and a reduced fraction.

    Examples
    --------
    >>> sixteenths(7.37), sixteenths(7.0), sixteenths(0.12)
    ('7 3/8 in', '7 in', '1/8 in')
    """
    return inches(round(value_in * 16) / 16)


def _cells(frame: pd.DataFrame, what: Quantity) -> pd.DataFrame:
    """Readings summed up by brace and stringing: `n`, `mean`, and `y` with its `variance` to fit."""
    if what is SPREAD:
        # Spread of a group about its centre: root mean square of the two directions.
        grouped = frame.dropna(subset=["brace_in", "x_in", "y_in"]).groupby("brace_in")
        spreads = grouped[["x_in", "y_in"]].var().mean(axis=1).pow(0.5).clip(lower=1e-3)
        cells: pd.DataFrame = (
            spreads.to_frame("mean").assign(n=grouped.size()).dropna().reset_index()
        )
        # Variance of ln s is 1 / (2 df) to first order; few shots carry more: trigamma of df/2, over 4.
        from scipy.special import polygamma

        return cells.assign(y=np.log(cells["mean"]), variance=polygamma(1, cells["n"] - 1.0) / 4)
    known = frame.dropna(subset=["brace_in", what.column])
    cells = summed(known, ("brace_in", "string", "stringing"), what.column)
    squares, df = float(cells["squares"].sum()), float((cells["n"] - 1).sum())
    usual = spread(f"shot_sd_{what.key}").mid ** 2
    sigma2 = (squares + _PRIOR_DF * usual) / (df + _PRIOR_DF)
    return cells.assign(y=cells["mean"], variance=sigma2 / cells["n"])


def _part(cells: pd.DataFrame, what: Quantity) -> Part:
    """What was read, in steps that an archer just notices."""
    step = measuring(what.within)
    if what is SPREAD:
        step = math.log(1 + step / 100)
    restringing = spread(f"restringing_sd_{what.key}").mid
    brace, y, variance = (cells[name].to_numpy() for name in ("brace_in", "y", "variance"))
    return Part(
        what.name, what.what, brace, what.sign * y / step, (variance + restringing**2) / step**2
    )


def _fit(curve: Curve, what: Quantity) -> tuple[Fit, str]:
    """The good range of one quantity, how sure it is, and that in words."""
    size = measuring(what.within)
    if what is SPREAD:
        size = size / 100 * float(np.median(curve.draws.min(axis=1)))
    low, mid, high = curve.best(what.sign)
    good = curve.grid[curve.near_best(what.sign, size)]
    good_low, good_high = (float(good.min()), float(good.max())) if len(good) else (low, high)
    matters, go = curve.matters(size), None
    if matters < 0.5:
        verdict = what.flat
    elif curve.degree < 2:
        go = "lower" if mid == curve.grid[0] else "higher"
        verdict = f"two braces tell only a direction: try {go}, three braces at least"
    elif mid <= curve.grid[0]:
        go = "lower"
        verdict = f"{what.name} up to {sixteenths(good_high)} and not yet passed: go on lower"
    elif mid >= curve.grid[-1]:
        go = "higher"
        verdict = f"{what.name} from {sixteenths(good_low)} and not yet passed: go on higher"
    else:
        verdict = f"{what.name} from {sixteenths(good_low)} to {sixteenths(good_high)}"
    best = Best(mid, low, high)
    return Fit(curve.degree, best, Between(good_low, good_high), matters, go), verdict


def _swept(cells: pd.DataFrame, what: Quantity) -> tuple[Swept, Curve | None]:
    rows = cells[["brace_in", "n", "mean"]].rename(columns={"mean": what.column})
    settings = rows.to_dict("records")
    if cells["brace_in"].nunique() < 2:
        return Swept(what, settings, [], None, "one brace height only: nothing to fit"), None
    brace, y, variance = (cells[name].to_numpy() for name in ("brace_in", "y", "variance"))
    curve = fit_curve(brace, y, variance, spread(f"restringing_sd_{what.key}"))
    if what is SPREAD:
        curve = Curve(curve.grid, np.exp(curve.draws), curve.degree)
    low, mid, high = curve.band()
    points = {"brace_in": curve.grid, "mid": mid, "low": low, "high": high}
    band = [dict(zip(points, row, strict=True)) for row in np.array([*points.values()]).T.tolist()]
    return Swept(what, settings, band, *_fit(curve, what)), curve


def twist_hint(change_in: float) -> Interval:
    """Twists for a change of brace height, by the table's rule of thumb.

    Parameters
    ----------
    change_in : float
        Wanted change [in]; its sign does not matter.

    Returns
    -------
    Interval
        Number of twists.

    Examples
    --------
    >>> round(twist_hint(1 / 16).mid, 1)
    2.7
    """
    gain, size = spread("twist_in"), abs(change_in)
    return Interval(size / gain.mid, size / gain.high, size / gain.low)


def _one_mass(speeds: pd.DataFrame, warnings: list[str]) -> pd.DataFrame:
    if speeds["arrow_mass_gr"].nunique() < 2:
        return speeds
    mass = speeds["arrow_mass_gr"].astype(float).fillna(speeds["arrow_mass_gr"].median())
    middle = float(mass.median())
    warnings.append(f"speeds are turned to one arrow mass, {middle:g} gr")
    turned = correct_speed(speeds["speed_fps"], mass, middle, measuring("virtual_mass_gr"))
    return speeds.assign(speed_fps=turned)


def _one_class(levels: pd.DataFrame, warnings: list[str]) -> pd.DataFrame:
    """Usable levels of the commonest weighting, response and position."""
    if not len(levels):
        return levels
    usable, notes = usable_levels(levels)
    commonest = max(of_a_class(usable).values(), key=len, default=usable)
    warnings += [*notes, *not_mixed(len(usable) - len(commonest))]
    return commonest


def sweep(speeds: Any = (), levels: Any = (), bare: Any = ()) -> Sweep:
    """Speed, sound and bare-shaft spread over brace height, each with its doubt.

    Parameters
    ----------
    speeds : DataFrame, optional
        `brace_in`, `speed_fps`, and where known `arrow_mass_gr`, `string`, `stringing`.
    levels : DataFrame, optional
        `brace_in`, `level_db`, and the columns `usable_levels` knows.
    bare : DataFrame, optional
        One bare shaft a row: `brace_in`, `x_in`, `y_in` [in], one distance.

    Returns
    -------
    Sweep
        Quantities that were not read are None.

    Notes
    -----
    Every change of brace is a restringing, so restringing scatter enters every point of the band.
    """
    warnings: list[str] = []
    parts: list[Part] = []
    told: dict[str, Swept | None] = {}
    slope = None
    read = {
        SPEED: _one_mass(full(speeds), warnings),
        LEVEL: _one_class(full(levels), warnings),
        SPREAD: full(bare),
    }
    for what, frame in read.items():
        told[what.key] = None
        cells = _cells(frame, what)
        if not len(cells):
            continue
        told[what.key], curve = _swept(cells, what)
        if curve is None:
            continue
        parts.append(_part(cells, what))
        if what is SPEED:
            slopes = np.diff(curve.draws[:, [0, -1]])[:, 0] / (curve.grid[-1] - curve.grid[0]) / 4
            low, mid, high = (float(q) for q in np.percentile(slopes, [2.5, 50, 97.5]))
            slope = Interval(mid, low, high)
    speed, sound = told["fps"], told["db"]
    both = None
    if speed is not None and sound is not None and speed.fit and sound.fit:
        ranges = (speed.fit.range_in, sound.fit.range_in)
        low, high = max(r.low for r in ranges), min(r.high for r in ranges)
        both = Between(low, high) if low <= high else None
    parts.sort(key=lambda part: part.good != LEVEL.name)
    return Sweep(
        speed, sound, told["spread"], both, slope, optimum(parts),
        twist_hint(measuring("brace_step_in")), tuple(warnings),
    )  # fmt: skip
