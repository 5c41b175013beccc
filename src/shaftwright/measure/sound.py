"""Sound-meter readings: levels averaged as energy, background taken out where it may be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.measure.frames import full
from shaftwright.measure.pairs import LEVEL, Compared, Group, compare_pairs
from shaftwright.measure.readings import Sorted, sort_readings
from shaftwright.measure.welch import Difference, t_difference
from shaftwright.resources import constant, table
from shaftwright.result import kept

if TYPE_CHECKING:
    import pandas as pd

_DB_PER_NEPER = 10 / math.log(10)
_CLASS = ("weighting", "response", "position")
UNKNOWN = "not written down"
_db = partial(constant, "sound")


@dataclass(frozen=True)
class Levels(Compared):
    """Setups by sound: readings of one weighting, response and position."""

    weighting: str | None = field(metadata=kept(optional=True))
    response: str | None = field(metadata=kept(optional=True))
    position: str | None = field(metadata=kept(optional=True))
    #: readings of others
    left_out: int | None = field(metadata=kept(optional=True))
    in_words: str | None = field(metadata=kept(optional=True))
    warnings: tuple[str, ...]


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

    Examples
    --------
    >>> round(energy_mean([80, 90]), 3), round(energy_mean([70, 72, 74]), 3)
    (87.404, 72.302)

    References
    ----------
    .. [1] Time-average level as in IEC 61672-1.
    """
    levels = np.asarray(levels_db, dtype=float)
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


def level_difference(a_db: ArrayLike, b_db: ArrayLike) -> Difference:
    """Difference of two energy means, a minus b, with Welch's interval on the energies.

    Parameters
    ----------
    a_db, b_db : array, shape (n,), (m,)
        Levels of independent shots [dB].

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
        n = len(levels)
        freedom.append(n - 1)
        if n > 1:
            energy = 10 ** ((levels - levels.max()) / 10)
            seen = (_DB_PER_NEPER * float(energy.std(ddof=1)) / float(energy.mean())) ** 2
            of_levels = float(levels.var(ddof=1)) / _DB_PER_NEPER**2
            parts.append(max(seen, _DB_PER_NEPER**2 * math.expm1(min(of_levels, 50.0))) / n)
    return t_difference(energy_mean(a_db) - energy_mean(b_db), parts, freedom)


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
    frame, warnings = full(readings), list[str]()
    named = frame[list(_CLASS)].astype(object)
    frame = frame.assign(**named.where(named.notna(), UNKNOWN))
    level, background = (
        frame[name].to_numpy(dtype=float) for name in ("level_db", "background_db")
    )
    steady = {row["name"] for row in table("sound") if row["value"] == "steady"}
    known, kind = ~np.isnan(background), ("response_" + frame["response"]).isin(steady).to_numpy()
    alone = without_background(level, np.where(known, background, -300.0))
    level = np.where(kind & known, alone, level)
    if refused := int((kind & known & np.isnan(level)).sum()):
        warnings.append(
            f"{refused} readings within {_db('refuse_within_db'):g} dB of the background are left out"
        )
    if drowned := int((known & ~kind & (level - background < _db("clear_by_db"))).sum()):
        warnings.append(
            f"{drowned} shots stand less than {_db('clear_by_db'):g} dB above the background: "
            "part of what was read is background"
        )
    if not known.any():
        warnings.append("no background level is written down")
    return frame.assign(level_db=level).dropna(subset=["level_db"]), warnings


def of_a_class(usable: pd.DataFrame) -> dict[Any, pd.DataFrame]:
    """Readings by weighting, response and position: they are never mixed.

    Parameters
    ----------
    usable : DataFrame
        From `usable_levels`.

    Returns
    -------
    dict
        The readings of each.
    """
    return dict(iter(usable.groupby(list(_CLASS), sort=True)))


def not_mixed(count: int) -> list[str]:
    """What is said of readings of another class, if there are any."""
    told = f"{count} readings of another weighting, response or position are not mixed in"
    return [told] if count else []


def compare_sound(readings: pd.DataFrame, fields: Sequence[str]) -> Levels:
    """Compare setups by level, never mixing weightings, responses or positions.

    Parameters
    ----------
    readings : DataFrame
        One shot a row: `level_db`, the setup fields, and where known `weighting`, `response`,
        `background_db`, `position`, `string`, `stringing`, `date`.
    fields : sequence of str
        Setup fields that make the groups.

    Returns
    -------
    Levels
        Without groups where nothing can be compared.

    Notes
    -----
    The class of readings with the most groups, then the most readings, is compared. The chance and
    the verdict work on the levels themselves, the difference on energy means: with unequal spreads
    the two may differ by 0.1 dB per dB^2 of variance.
    """
    frame, warnings = usable_levels(readings)
    sorted_by: dict[Any, Sorted] = {}
    for key, part in of_a_class(frame).items():
        try:
            sorted_by[key] = sort_readings(part, fields, "level_db")
        except NoAnswer:
            continue
    if not sorted_by:
        told = (*warnings, "no level can be compared")
        return Levels(LEVEL, None, (), None, (), None, None, None, None, None, told)
    best = max(sorted_by, key=lambda key: (len(sorted_by[key].names), len(sorted_by[key].rows)))
    data = sorted_by[best]
    others = sum(len(one.rows) for one in sorted_by.values()) - len(data.rows)
    groups = tuple(
        Group(
            name, len(x), None, energy_mean(x), float(x.std(ddof=1)) if len(x) > 1 else None, None
        )
        for name, x in zip(data.names, data.values, strict=True)
    )
    pairs = compare_pairs(data, LEVEL) if len(groups) > 1 else ()
    found = Levels(
        LEVEL, data, groups, None, pairs, best[0], best[1], best[2], others, None,
        (*warnings, *not_mixed(others), *data.warnings),
    )  # fmt: skip
    if found.told is None:
        return found
    a, b = (data.values[data.names.index(name)] for name in (found.told.a, found.told.b))
    energy = level_difference(a, b)
    return replace(found, difference=energy, in_words=in_words(energy.mid))
