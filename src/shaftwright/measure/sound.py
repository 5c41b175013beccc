"""Sound-meter readings: levels averaged as energy, background taken out where it may be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.measure.compare.anytime import Array
from shaftwright.measure.compare.welch import Difference, t_difference
from shaftwright.resources import table

if TYPE_CHECKING:
    import pandas as pd

_DB_PER_NEPER = 10 / math.log(10)
CLASS_FIELDS = ("weighting", "response", "position")


@cache
def _sound(name: str) -> str | None:
    return next((row["value"] for row in table("sound") if row["name"] == name), None)


def _db(name: str) -> float:
    value = _sound(name)
    if value is None:
        raise KeyError(name)
    return float(value)


def energy_mean(levels_db: ArrayLike) -> float:
    """Mean of levels as energies, L = 10 lg mean 10^(L/10) [1]_.

    Parameters
    ----------
    levels_db : array, shape (n,)
        Levels [dB].

    Returns
    -------
    float
        The mean level [dB].

    Raises
    ------
    ValueError
        No level.

    Examples
    --------
    >>> round(energy_mean([80, 90]), 3), round(energy_mean([70, 72, 74]), 3)
    (87.404, 72.302)

    References
    ----------
    .. [1] Time-average level as in IEC 61672-1.
    """
    levels = np.asarray(levels_db, dtype=float)
    if not levels.size:
        raise ValueError("there is no level to average")
    top = float(levels.max())
    return top + 10 * math.log10(float(np.mean(10 ** ((levels - top) / 10))))


def without_background(level_db: ArrayLike, background_db: ArrayLike) -> Array:
    """Steady levels less their background; NaN within 3 dB of it, where no answer is honest.

    Parameters
    ----------
    level_db, background_db : array, shape (n,)
        Level with the source running, and without [dB].

    Returns
    -------
    array, shape (n,)
        Level of the source alone [dB], or NaN.

    Examples
    --------
    >>> without_background([60.0, 52.0], [50.0, 50.0]).round(2)
    array([59.54,   nan])
    """
    level = np.asarray(level_db, dtype=float)
    above = level - np.asarray(background_db, dtype=float)
    usable = above >= _db("refuse_within_db")
    safe = np.where(usable, above, 10.0)
    return np.where(usable, level + 10 * np.log10(1 - 10 ** (-safe / 10)), np.nan)


def level_difference(a_db: ArrayLike, b_db: ArrayLike, level: float = 0.95) -> Difference:
    """Difference of two energy means, a minus b, with Welch's interval on the energies.

    Parameters
    ----------
    a_db, b_db : array, shape (n,), (m,)
        Levels of independent shots [dB].
    level : float
        Coverage of the interval.

    Returns
    -------
    Difference
        [dB]; without interval when a group has one shot only or nothing scatters.

    Notes
    -----
    First-order propagation of 10 lg of a mean. The loudest shot carries most of the energy and few
    shots seldom hold it, so the energies' own spread comes out too small as often as not: the spread
    that levels scattered evenly in decibels would give their energies is a floor below it. Good for
    shot-to-shot spreads up to 3 dB and five shots or more (`calibrate/measure.py` counts it).
    """
    parts, freedom = [], []
    for levels in (np.asarray(a_db, dtype=float), np.asarray(b_db, dtype=float)):
        energy = 10 ** ((levels - levels.max()) / 10)
        n = len(levels)
        sd = float(energy.std(ddof=1)) if n > 1 else math.nan
        seen = (_DB_PER_NEPER * sd / float(energy.mean())) ** 2
        of_levels = float(levels.var(ddof=1)) / _DB_PER_NEPER**2 if n > 1 else math.nan
        parts.append(max(seen, _DB_PER_NEPER**2 * math.expm1(min(of_levels, 50.0))) / n)
        freedom.append(n - 1)
    mid = energy_mean(a_db) - energy_mean(b_db)
    variance = sum(parts)
    if not variance > 0:
        return Difference(mid, None, None, None, None, None)
    shares = [part / variance for part in parts]
    df = 1 / sum(share**2 / free for share, free in zip(shares, freedom, strict=True))
    return t_difference(mid, math.sqrt(variance), df, level)


def in_words(difference_db: float) -> str:
    """What a difference of level sounds like; 3 dB is never called twice as loud.

    Parameters
    ----------
    difference_db : float
        Difference [dB]; its sign does not matter.

    Returns
    -------
    str
        A few words.

    Examples
    --------
    >>> in_words(0.5), in_words(3)
    ('not heard', 'plainly heard, far from twice as loud')
    """
    size = abs(difference_db)
    if size < _db("barely_heard_db"):
        return "not heard"
    if size < _db("plainly_heard_db"):
        return "barely heard side by side"
    if size < 0.9 * _db("twice_as_loud_db"):
        return "plainly heard, far from twice as loud"
    return "about twice as loud, or more"


def usable_levels(readings: pd.DataFrame) -> tuple[pd.DataFrame, list[str]]:
    """Readings fit to compare: steady ones less their background, impulses as read.

    Parameters
    ----------
    readings : DataFrame
        `level_db`, and where known `weighting`, `response`, `background_db`, `position`.

    Returns
    -------
    readings : DataFrame
        The usable ones, `level_db` corrected.
    warnings : list of str
        What was left out or is in doubt, and why.
    """
    import pandas as pd

    warnings: list[str] = []
    frame = readings.copy()
    for name in (*CLASS_FIELDS, "background_db"):
        if name not in frame.columns:
            frame[name] = None
    for name in CLASS_FIELDS:
        frame[name] = frame[name].astype(object).where(frame[name].notna(), "not written down")
    level = pd.to_numeric(frame["level_db"], errors="coerce").to_numpy(dtype=float)
    background = pd.to_numeric(frame["background_db"], errors="coerce").to_numpy(dtype=float)
    kind = frame["response"].map(lambda r: _sound(f"response_{r}") or "impulse").to_numpy()
    known = ~np.isnan(background)
    steady = (kind == "steady") & known
    level = np.where(steady, without_background(level, np.where(known, background, -300.0)), level)
    refused = int((steady & np.isnan(level)).sum())
    if refused:
        warnings.append(
            f"{refused} readings within {_db('refuse_within_db'):g} dB of the background are left out"
        )
    drowned = int((known & (kind == "impulse") & (level - background < _db("clear_by_db"))).sum())
    if drowned:
        warnings.append(
            f"{drowned} shots stand less than {_db('clear_by_db'):g} dB above the background: "
            "part of what was read is background"
        )
    if not known.any():
        warnings.append("no background level is written down")
    return frame.assign(level_db=level).dropna(subset=["level_db"]), warnings


def compare_sound(readings: pd.DataFrame, by: str | Sequence[str]) -> dict[str, Any]:
    """Compare setups by level, never mixing weightings, responses or positions.

    Parameters
    ----------
    readings : DataFrame
        One shot a row: `level_db`, the fields of `by`, and where known `weighting`, `response`,
        `background_db`, `position`, `string`, `stringing`, `date`.
    by : str or sequence of str
        Setup field or fields that make the groups.

    Returns
    -------
    dict
        Ready for JSON: `weighting`, `response`, `position`, `groups`, `difference_db`,
        `difference_of`, `p_value`, `p_anytime`, `verdict`, `shots_to_settle`, `in_words`, `pairs`,
        `left_out` (readings of other weightings, responses or positions), `warnings`.

    Notes
    -----
    The class of readings with the most groups, then the most readings, is compared. The chance and
    the verdict work on the levels themselves, the difference on energy means: with unequal spreads
    the two may differ by 0.1 dB per dB^2 of variance.
    """
    from shaftwright.errors import NoAnswer
    from shaftwright.measure.compare.pairs import LEVEL, compare_pairs, told_pair
    from shaftwright.measure.compare.readings import sort_readings

    nothing: dict[str, Any] = {"groups": [], "difference_db": None, "p_value": None, "p_anytime": None,
               "verdict": None, "shots_to_settle": None}  # fmt: skip
    frame, warnings = usable_levels(readings)
    best, best_size, others = None, (0, 0), 0
    for key, part in frame.groupby(list(CLASS_FIELDS), sort=True):
        try:
            data = sort_readings(part, by, "level_db")
        except NoAnswer:
            continue
        size = (len(data.names), len(data.value))
        others += len(data.value)
        if size > best_size:
            best, best_size = (key, data), size
    if best is None:
        return {**nothing, "warnings": [*warnings, "no level can be compared"]}
    (weighting, response, position), data = best
    others -= best_size[1]
    if others:
        warnings.append(
            f"{others} readings of another weighting, response or position are not mixed in"
        )
    warnings += data.warnings
    values = [data.of(g) for g in range(len(data.names))]
    groups = [
        {"name": name, "n": len(x), "mean_db": energy_mean(x),
         "sd_db": float(x.std(ddof=1)) if len(x) > 1 else None}
        for name, x in zip(data.names, values, strict=True)
    ]  # fmt: skip
    result = {**nothing, "weighting": weighting, "response": response, "position": position,
              "groups": groups, "left_out": others, "warnings": warnings}  # fmt: skip
    if len(groups) < 2:
        return result
    pairs = compare_pairs(data, LEVEL)
    told = told_pair(pairs)
    a, b = (values[data.names.index(name)] for name in (told.a, told.b))
    energy = level_difference(a, b)
    document = told.document("dB")
    result |= {key: value for key, value in document.items() if key not in ("a", "b")}
    return result | {
        "difference_of": [told.a, told.b],
        "difference_db": energy.document(),
        "p_value": energy.p_value,
        "in_words": in_words(energy.mid),
        "pairs": [pair.document("dB") for pair in pairs],
    }
