"""Brace height swept: where the bow is quiet, where it is fast, where bare shafts group."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.measure.brace.curve import Curve, fit_curve, shot_spread
from shaftwright.measure.brace.optimum import Part, optimum
from shaftwright.measure.compare.anytime import Array
from shaftwright.measure.values import Spread, number, spread
from shaftwright.units import inches

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Quantity:
    """One thing read over brace height.

    Parameters
    ----------
    column : str
        Column of the readings.
    unit : str
        Its unit.
    sign : float
        +1 if more is better, -1 if less is.
    name, what : str
        What a good range of it is called, and what it is.
    within : str
        Name of the table's number for "near the best".
    flat : str
        Said when brace hardly changes it.
    """

    column: str
    unit: str
    sign: float
    name: str
    what: str
    within: str
    flat: str


SPEED = Quantity("speed_fps", "fps", 1.0, "fast", "speed", "fast_within_fps",
                 "brace changes the speed by less than can be shot")  # fmt: skip
LEVEL = Quantity("level_db", "dB", -1.0, "quiet", "sound", "quiet_within_db",
                 "brace changes the sound by less than can be heard")  # fmt: skip
SPREAD = Quantity("spread_in", "in", -1.0, "tight groups", "grouping", "tight_within_pct",
                  "brace hardly changes how bare shafts group")  # fmt: skip


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


def _by_setting(frame: pd.DataFrame, column: str) -> pd.DataFrame:
    """Readings summed up by brace and stringing."""
    keys = [k for k in ("brace_in", "string", "stringing") if k in frame.columns]
    usable = frame.dropna(subset=["brace_in", column])
    grouped = usable.groupby(keys, dropna=False)[column]
    cells = grouped.agg(n="count", mean="mean", variance="var").reset_index()
    cells["squares"] = cells["variance"].fillna(0.0) * (cells["n"] - 1)
    return cells


def _fit_readings(
    frame: pd.DataFrame, what: Quantity, noise: Spread, restringing: Spread
) -> tuple[Curve | None, pd.DataFrame]:
    cells = _by_setting(frame, what.column)
    if len(cells) < 2 or cells["brace_in"].nunique() < 2:
        return None, cells
    n = cells["n"].to_numpy(dtype=float)
    sigma = shot_spread(float(cells["squares"].sum()), float((n - 1).sum()), noise)
    cells = cells.assign(scatter=sigma**2 / n)
    brace, mean = (cells[name].to_numpy(dtype=float) for name in ("brace_in", "mean"))
    curve = fit_curve(brace, mean, sigma**2 / n, restringing, number("brace_step_in"))
    return curve, cells


def _part(cells: pd.DataFrame, what: Quantity, restringing: Spread) -> Part:
    """What was read, in steps that an archer just notices."""
    brace, mean, scatter = (
        cells[name].to_numpy(dtype=float) for name in ("brace_in", "mean", "scatter")
    )
    step = number(what.within)
    if what is SPREAD:
        mean, step = np.log(mean), math.log(1 + step / 100)
    variance = (scatter + restringing.median**2) / step**2
    return Part(what.name, what.what, brace, what.sign * mean / step, variance)


def bare_spread(x_in: Array, y_in: Array) -> float:
    """Spread of a group of bare shafts about its centre: root mean square of one direction.

    Parameters
    ----------
    x_in, y_in : array, shape (n,)
        Where they struck [in].

    Returns
    -------
    float
        Standard deviation in one direction [in].

    Raises
    ------
    ValueError
        Fewer than two shafts.

    Examples
    --------
    >>> bare_spread([0.0, 2.0], [0.0, 0.0])
    1.0
    """
    x, y = np.asarray(x_in, dtype=float), np.asarray(y_in, dtype=float)
    if len(x) < 2:
        raise ValueError("one shaft has no spread")
    squares = ((x - x.mean()) ** 2).sum() + ((y - y.mean()) ** 2).sum()
    return math.sqrt(float(squares) / (2 * (len(x) - 1)))


def _fit_spread(frame: pd.DataFrame) -> tuple[Curve | None, pd.DataFrame]:
    """Curve of the spread, fitted to its logarithm: a spread of few shots is itself doubtful."""
    import pandas as pd

    usable = frame.dropna(subset=["brace_in", "x_in", "y_in"])
    rows = []
    for brace, part in usable.groupby("brace_in"):
        if len(part) > 1:
            s = bare_spread(part["x_in"].to_numpy(dtype=float), part["y_in"].to_numpy(dtype=float))
            rows.append({"brace_in": brace, "n": len(part), "mean": max(s, 1e-3)})
    cells = pd.DataFrame(rows, columns=["brace_in", "n", "mean"])
    if len(cells) < 2:
        return None, cells
    df = 2 * (cells["n"].to_numpy(dtype=float) - 1)
    # Variance of ln s is 1 / (2 df) to first order; few shots carry more: trigamma of df/2, over 4.
    from scipy.special import polygamma

    cells = cells.assign(scatter=polygamma(1, df / 2) / 4)
    curve = fit_curve(
        cells["brace_in"].to_numpy(dtype=float), np.log(cells["mean"].to_numpy(dtype=float)),
        cells["scatter"].to_numpy(dtype=float), spread("restringing_sd_spread"), number("brace_step_in"),
    )  # fmt: skip
    return Curve(curve.grid, np.exp(curve.draws), curve.degree), cells


def _range(curve: Curve, what: Quantity) -> dict[str, Any]:
    """The good range of one quantity, and how sure it is."""
    if what is SPREAD:
        size = number(what.within) / 100 * float(np.median(curve.draws.min(axis=1)))
    else:
        size = number(what.within)
    mid, low, high = curve.best(what.sign)
    good = curve.grid[curve.near_best(what.sign, size)]
    good_low, good_high = (float(good.min()), float(good.max())) if len(good) else (low, high)
    matters = curve.matters(size)
    first, last = float(curve.grid[0]), float(curve.grid[-1])
    if matters < 0.5:
        verdict, go = what.flat, None
    elif curve.degree < 2:
        go = "lower" if mid == first else "higher"
        verdict = f"two braces tell only a direction: try {go}, three braces at least"
    elif mid <= first:
        go = "lower"
        verdict = f"{what.name} up to {sixteenths(good_high)} and not yet passed: go on lower"
    elif mid >= last:
        go = "higher"
        verdict = f"{what.name} from {sixteenths(good_low)} and not yet passed: go on higher"
    else:
        go = None
        verdict = f"{what.name} from {sixteenths(good_low)} to {sixteenths(good_high)}"
    return {
        "best_in": {"mid": mid, "low": low, "high": high, "chance": 0.8},
        "range_in": {"low": good_low, "high": good_high},
        "chance_it_matters": matters,
        "go_on": go,
        "verdict": verdict,
    }


def _told(curve: Curve | None, cells: pd.DataFrame, what: Quantity) -> dict[str, Any] | None:
    if not len(cells):
        return None
    settings = [
        {"brace_in": float(b), "n": int(n), what.column: float(m)}
        for b, n, m in zip(cells["brace_in"], cells["n"], cells["mean"], strict=True)
    ]
    if curve is None:
        return {
            "settings": settings,
            "curve": [],
            "verdict": "one brace height only: nothing to fit",
        }
    rows = zip(curve.grid, *curve.band(), strict=True)
    return {
        "settings": settings,
        "curve": [
            {"brace_in": float(b), "mid": float(m), "low": float(lo), "high": float(hi)}
            for b, m, lo, hi in rows
        ],
        "degree": curve.degree,
        **_range(curve, what),
    }


def twist_hint(change_in: float, per_twist: Spread | None = None) -> dict[str, float]:
    """Twists for a change of brace height.

    Parameters
    ----------
    change_in : float
        Wanted change [in]; its sign does not matter.
    per_twist : Spread, optional
        Brace gained by a twist [in]; the table's rule of thumb when not given.

    Returns
    -------
    dict
        `mid`, `low` and `high` number of twists.

    Examples
    --------
    >>> hint = twist_hint(1 / 16)
    >>> round(hint["mid"], 1)
    2.7
    """
    gain = per_twist or spread("twist_in")
    size = abs(change_in)
    return {"mid": size / gain.median, "low": size / gain.high, "high": size / gain.low}


def sweep(
    speeds: pd.DataFrame | None = None,
    levels: pd.DataFrame | None = None,
    bare: pd.DataFrame | None = None,
) -> dict[str, Any]:
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
    dict
        Ready for JSON: `speed`, `sound`, `bare`: each None or `settings`, `curve` (brace, mid, low,
        high), `best_in` (range of 80 % chance), `range_in`, `chance_it_matters`, `go_on`
        (None | lower | higher), `verdict`; `both_in` where quiet and fast meet; `optimum`, all taken
        together; `twists_per_step`; `fps_per_quarter_in`; `warnings`.

    Notes
    -----
    Every change of brace is a restringing, so restringing scatter enters every point of the band.
    """
    from shaftwright.measure.use import correct_speed

    warnings: list[str] = []
    parts: list[Part] = []
    result: dict[str, Any] = {"speed": None, "sound": None, "bare": None, "both_in": None,
                              "fps_per_quarter_in": None}  # fmt: skip
    if speeds is not None and len(speeds):
        if "arrow_mass_gr" in speeds.columns and speeds["arrow_mass_gr"].nunique() > 1:
            mass = speeds["arrow_mass_gr"].fillna(speeds["arrow_mass_gr"].median())
            speed = correct_speed(
                speeds["speed_fps"], mass, float(mass.median()), number("virtual_mass_gr")
            )
            speeds = speeds.assign(speed_fps=speed)
            warnings.append(f"speeds are turned to one arrow mass, {float(mass.median()):g} gr")
        curve, cells = _fit_readings(
            speeds, SPEED, spread("shot_sd_fps"), spread("restringing_sd_fps")
        )
        result["speed"] = _told(curve, cells, SPEED)
        if curve is not None:
            parts.append(_part(cells, SPEED, spread("restringing_sd_fps")))
            slope = (curve.draws[:, -1] - curve.draws[:, 0]) / (curve.grid[-1] - curve.grid[0]) / 4
            low, mid, high = (float(q) for q in np.percentile(slope, [2.5, 50, 97.5]))
            result["fps_per_quarter_in"] = {"mid": mid, "low": low, "high": high}
    if levels is not None and len(levels):
        levels, notes = _one_class(levels)
        warnings += notes
        curve, cells = _fit_readings(
            levels, LEVEL, spread("shot_sd_db"), spread("restringing_sd_db")
        )
        result["sound"] = _told(curve, cells, LEVEL)
        if curve is not None:
            parts.insert(0, _part(cells, LEVEL, spread("restringing_sd_db")))
    if bare is not None and len(bare):
        curve, cells = _fit_spread(bare)
        result["bare"] = _told(curve, cells, SPREAD)
        if curve is not None:
            parts.append(_part(cells, SPREAD, spread("restringing_sd_spread")))
    ranges = [
        result[k]["range_in"] for k in ("speed", "sound") if result[k] and "range_in" in result[k]
    ]
    if len(ranges) == 2:
        low, high = max(r["low"] for r in ranges), min(r["high"] for r in ranges)
        result["both_in"] = {"low": low, "high": high} if low <= high else None
    best = optimum(parts)
    return result | {
        "optimum": None if best is None else asdict(best),
        "twists_per_step": twist_hint(number("brace_step_in")), "warnings": warnings,
    }  # fmt: skip


def _one_class(levels: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Usable levels of the commonest weighting, response and position."""
    from shaftwright.measure.sound import CLASS_FIELDS, usable_levels

    usable, warnings = usable_levels(levels)
    if not len(usable):
        return usable, warnings
    sizes = usable.groupby(list(CLASS_FIELDS))["level_db"].count()
    key = sizes.index[int(sizes.to_numpy().argmax())]
    same = (usable[list(CLASS_FIELDS)] == list(key)).to_numpy()
    mask = same.all(axis=1)
    if not mask.all():
        warnings.append(
            f"{int((~mask).sum())} readings of another weighting, response or position are not mixed in"
        )
    return usable.iloc[np.flatnonzero(mask)], warnings
