"""Two or more setups by their speeds: is the difference real, and what would settle it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.inference.chrono import mass_groups
from shaftwright.inference.speed import student_t95
from shaftwright.limits import COMPARED, number, refuse
from shaftwright.measure.frames import full
from shaftwright.measure.pairs import (
    ALPHA,
    MOST_PAIRED_GROUPS,
    SPEED,
    Compared,
    Group,
    Pair,
    compare_pairs,
)
from shaftwright.measure.readings import Sorted, sort_readings
from shaftwright.measure.sound import Levels, compare_sound
from shaftwright.measure.use import Drop, InUse, correct_speed, in_use, vacuum_drop_in
from shaftwright.measure.welch import alternating, mean_of, stands_apart
from shaftwright.physics.bow_fit import pooled_spread, scale_sd
from shaftwright.resources import constant, measuring, spread
from shaftwright.result import Result, kept
from shaftwright.units import Z95, Interval

if TYPE_CHECKING:
    import pandas as pd


_NAMED_FEW = 5


@dataclass(frozen=True)
class Outlier(Result):
    """A reading that stands apart: its group, and its number from 1."""

    group: str
    reading: int
    speed_fps: float


@dataclass(frozen=True)
class MassCorrection(Result):
    """The arrow mass that speeds are told at, and the virtual mass used for it."""

    reference_gr: float
    virtual_mass_gr: Interval
    applied: bool


@dataclass(frozen=True)
class Comparison(Compared):
    """Setups by speed, and by sound where it was read."""

    in_use: InUse | None = field(metadata=kept(optional=True))
    outliers: tuple[Outlier, ...]
    mass_correction: MassCorrection | None
    sound: Levels | None
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]
    #: columns that make the groups
    by: tuple[str, ...] = ()


def _corrected(
    frame: pd.DataFrame, by: Sequence[str], virtual_mass: Interval | None, warnings: list[str]
) -> tuple[pd.DataFrame, MassCorrection | None]:
    """Speeds at one arrow mass, and in `shift` how each would move if K were one sd larger."""
    mass = frame["arrow_mass_gr"].astype(float)
    if mass.isna().all():
        warnings.append("no arrow masses: speeds are compared as read")
    if mass.isna().all() or "arrow_mass_gr" in by:
        return frame.assign(shift=0.0), None
    if without := int(mass.isna().sum()):
        warnings.append(f"{without} readings without the arrow's weight are compared as read")
    reference = float(mass.median())
    usual = virtual_mass or spread("virtual_mass_gr")
    k = _as_read(frame, by, reference, usual)
    mass = mass.fillna(reference)
    told = MassCorrection(reference, k, mass.nunique() > 1)
    if told.applied:
        speed = correct_speed(frame["speed_fps"], mass, reference, k.mid)
        frame = frame.assign(speed_fps=speed)
        if virtual_mass is None and k is usual:
            warnings.append(
                "virtual mass is a typical one; speeds with two arrow masses would tell it"
            )
    shift = 0.5 * frame["speed_fps"] * (1 / (mass + k.mid) - 1 / (reference + k.mid))
    return frame.assign(shift=shift * (k.high - k.low) / (2 * Z95)), told


def _as_read(
    frame: pd.DataFrame, by: Sequence[str], reference_gr: float, usual: Interval
) -> Interval:
    """The virtual mass [gr] by what shot several arrow weights in one stringing; else the usual one.

    As in `efficiency`, readings count where they tell it better than what is usual, or rule that out.
    """
    weighed = frame[frame["arrow_mass_gr"].notna()]
    setups = []
    for _, rows in weighed.groupby([*by, "stringing", "period"], dropna=False):
        mass, speed = (rows[name].to_numpy(float) for name in ("arrow_mass_gr", "speed_fps"))
        groups = mass_groups(mass)
        if len(groups) > 1:
            shot_sd, dof = pooled_spread(groups, speed, constant("chronograph", "shot_sd_fps"))
            setups.append((mass, speed, shot_sd * student_t95(dof) / Z95))
    if not setups:
        return usual
    k = usual.mid * np.geomspace(0.05, 20.0, 2001)
    fits = np.zeros_like(k)
    for mass, speed, shot_sd in setups:
        at_one = speed * np.sqrt((mass + k[:, None]) / (reference_gr + k[:, None]))
        fits -= at_one.var(axis=1) * len(speed) / (2 * shot_sd**2)
    chance = np.cumsum(np.exp(fits - fits.max()))
    low, mid, high = np.interp([0.025, 0.5, 0.975], chance / chance[-1], k)
    # the same readings leave a heavy virtual mass more doubt than a light one
    width = (high - low) * ((reference_gr + usual.mid) / (reference_gr + mid)) ** 2
    told = width < usual.high - usual.low or low > usual.high or high < usual.low
    return Interval(float(mid), float(low), float(high)) if told else usual


def compare(
    readings: Any,
    by: str | Sequence[str] = "string",
    *,
    sound: pd.DataFrame | None = None,
    virtual_mass_gr: Interval | None = None,
    distance_yd: float = 20.0,
    drop_in: Drop = vacuum_drop_in,
    units: str = "imperial",
) -> Comparison:
    """Compare setups by speed, and by sound where it was read.

    Parameters
    ----------
    readings : DataFrame or mapping of columns
        One shot a row, in the order shot: `speed_fps`, the fields of `by`, and where known
        `arrow_mass_gr`, `string`, `stringing`, `date`, `distance_yd`, `instrument`.
    by : str or sequence of str
        Setup field or fields that make the groups.
    sound : DataFrame, optional
        Sound-meter readings, as `compare_sound` takes them.
    virtual_mass_gr : Interval, optional
        Virtual mass of the bow with its 95 % range [gr]; a typical one when not given.
    distance_yd : float
        Distance at which a difference is told in inches [yd].
    drop_in : callable
        Drop [in] from speed [fps] and distance [yd].
    units : str
        `imperial` or `metric`, for what the difference is worth in use.

    Returns
    -------
    Comparison
        Groups, pairs, what the difference is worth in use, outliers, sound, warnings.

    Raises
    ------
    NoAnswer
        Neither speeds nor levels fall into two groups.

    Notes
    -----
    `difference_fps` and `p_value` take every shot as independent and the number of shots as settled
    beforehand. The verdict trusts neither: it counts stringings and stands at every look
    (`shaftwright.measure.anytime`).
    """
    refuse(number("distance_yd", distance_yd, COMPARED))
    frame, warnings = full(readings), list[str]()
    fields = [by] if isinstance(by, str) else list(by)
    levels = compare_sound(sound, fields) if sound is not None and len(sound) else None
    cautions = _cautions(fields)
    if levels is not None and len(frame) and not _say(frame, fields) and _say(full(sound), fields):
        frame = frame.iloc[:0]
        warnings.append(f"speeds do not say {', '.join(fields)}: only levels are compared")
    elif not len(frame):
        if levels is None:
            raise NoAnswer("there are no speeds and no levels to compare")
        warnings.append("no speeds were read")
    if not len(frame):
        return Comparison(
            SPEED, None, (), None, (), None, (), None, levels, tuple(warnings), cautions, tuple(fields)
        )  # fmt: skip
    frame, correction = _corrected(frame, fields, virtual_mass_gr, warnings)
    data = sort_readings(frame, fields, "speed_fps")
    warnings += data.warnings
    if len(data.names) < 2 and (levels is None or len(levels.groups) < 2):
        raise NoAnswer(
            f"all speeds are of one group ({data.names[0]}): a second {', '.join(fields)} is needed"
        )
    pairs = _pairs(data, warnings) if len(data.names) > 1 else ()
    told = use = None
    if pairs:
        told = max(pairs, key=lambda pair: abs(pair.difference.mid))
        use = in_use(
            told.difference.mid, float(data.rows["value"].mean()), distance_yd, drop_in, units
        )
        _warn_of_stringings(told, warnings)
        if len(data.names) > MOST_PAIRED_GROUPS:
            warnings.append(f"{len(data.names)} groups: each is compared with {data.names[0]} only")
    outliers = []
    for g, (name, values) in enumerate(zip(data.names, data.values, strict=True)):
        apart, given = stands_apart(values), data.rows.index[data.rows["group"] == g].to_numpy()
        outliers += [
            Outlier(name, int(i) + 1, float(x))
            for i, x in zip(given[apart], values[apart], strict=True)
        ]
    if outliers:
        few = ", ".join(f"{o.speed_fps:.1f} fps ({o.group})" for o in outliers[:_NAMED_FEW])
        more = f" and {len(outliers) - _NAMED_FEW} more" if len(outliers) > _NAMED_FEW else ""
        warnings.append(f"readings that stand apart, kept: {few}{more}")
    return Comparison(
        SPEED, data, _groups(data), None if told is None else told.difference, pairs, use, tuple(outliers),
        correction, levels, tuple(warnings), cautions, tuple(fields),
    )  # fmt: skip


def _say(frame: pd.DataFrame, fields: Sequence[str]) -> bool:
    """Whether readings say what to compare by."""
    return bool(frame[list(fields)].notna().any().all())


def _cautions(fields: Sequence[str]) -> tuple[str, ...]:
    """What to heed before one of the groups is taken up: readings do not tell a string's material."""
    if "string" not in fields:
        return ()
    from shaftwright.rules.sections import cautions_naming

    return tuple(caution.text for caution in cautions_naming("string.material", "unknown"))


def _pairs(data: Sorted, warnings: list[str]) -> tuple[Pair, ...]:
    """All pairs, the doubts in them that shots do not lessen counted."""
    group = data.rows["group"]
    written = data.rows[["period", "instrument"]].astype(object)
    written = written.where(written.notna(), "")
    period, used = (written[name].groupby(group).agg(frozenset) for name in written)
    distance, shift = (
        data.rows[name].astype(float).groupby(group).mean() for name in ("distance_yd", "shift")
    )
    if distance.max() - distance.min() > measuring("same_distance_yd"):
        warnings.append(
            "speeds were taken at different distances from the bow: the farther arrow has slowed"
        )
    if period.nunique() > 1:
        warnings.append(
            "the bow was changed between the groups' readings: the difference is the change's as well"
        )
    if used.nunique() > 1:
        warnings.append(
            "groups were read on different instruments: their accuracy enters the difference"
        )
    # Two instruments, each within its limit of error 95 % of the time.
    scale_error = math.sqrt(2) * float(data.rows["value"].mean()) * scale_sd()

    def error_of(a: int, b: int) -> float:
        return math.hypot(shift[a] - shift[b], scale_error if used[a] != used[b] else 0.0)

    return compare_pairs(data, SPEED, error_of)


def _warn_of_stringings(told: Pair, warnings: list[str]) -> None:
    if told.paired is None and told.restringing_sd > 0 and min(told.stringings) < 2:
        warnings.append(
            "one stringing cannot tell a string from the way it was put on: "
            f"string the bow again between blocks, {alternating(told.a, told.b, 2)}"
        )
    chance = told.p_value
    if chance is not None and chance < ALPHA and not told.settled:
        warnings.append(
            f"the plain test (p {chance:.2g}) takes every shot as independent and the number of shots "
            "as settled beforehand; the verdict does not"
        )


def _groups(data: Sorted) -> tuple[Group, ...]:
    """Means and spreads of the groups; absolute means carry the chronograph's accuracy."""

    def group(g: int, values: Array) -> Group:
        shots = mean_of(values)
        half = 0.0 if shots.high is None else shots.high - shots.mid
        absolute = math.hypot(half, Z95 * scale_sd() * shots.mid)
        return Group(
            data.names[g], len(values), len(data.cells.loc[g]), shots.mid,
            float(values.std(ddof=1)) if len(values) > 1 else None,
            Interval(shots.mid, shots.mid - absolute, shots.mid + absolute),
        )  # fmt: skip

    return tuple(group(g, values) for g, values in enumerate(data.values))
