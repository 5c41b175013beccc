"""Two or more setups by their speeds: is the difference real, and what would settle it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.errors import NoAnswer
from shaftwright.measure.compare.anytime import Array
from shaftwright.measure.compare.pairs import (
    ALPHA,
    MOST_PAIRED_GROUPS,
    SPEED,
    Pair,
    compare_pairs,
    told_pair,
)
from shaftwright.measure.compare.plan import alternating
from shaftwright.measure.compare.readings import NAMED_FEW, Sorted, sort_readings
from shaftwright.measure.compare.welch import stands_apart, t_difference
from shaftwright.measure.use import Drop, correct_speed, in_use, vacuum_drop_in
from shaftwright.measure.values import Spread, accuracy, number, spread

if TYPE_CHECKING:
    import pandas as pd


def _corrected(
    frame: pd.DataFrame, by: Sequence[str], virtual_mass: Spread | None, warnings: list[str]
) -> tuple[pd.DataFrame, dict[str, Any] | None, Array | None]:
    """Speeds at one arrow mass, and how each would shift if K were one sd larger."""
    if "arrow_mass_gr" not in frame.columns or frame["arrow_mass_gr"].isna().all():
        warnings.append("no arrow masses: speeds are compared as read")
        return frame, None, None
    if "arrow_mass_gr" in by:
        return frame, None, None
    mass = frame["arrow_mass_gr"].to_numpy(dtype=float)
    without = int(np.isnan(mass).sum())
    if without:
        warnings.append(f"{without} readings without the arrow's weight are compared as read")
    reference = float(np.nanmedian(mass))
    mass = np.where(np.isnan(mass), reference, mass)
    k = virtual_mass or spread("virtual_mass_gr")
    speed = frame["speed_fps"].to_numpy(dtype=float)
    same = bool(np.ptp(mass) == 0)
    corrected = speed if same else correct_speed(speed, mass, reference, k.median)
    shift = 0.5 * corrected * (1 / (mass + k.median) - 1 / (reference + k.median))
    told = {
        "reference_gr": reference,
        "virtual_mass_gr": {"mid": k.median, "low": k.low, "high": k.high},
        "applied": not same,
    }
    if not same and virtual_mass is None:
        warnings.append("virtual mass is a typical one; speeds with two arrow masses would tell it")
    sd = (k.high - k.low) / (2 * 1.959964)
    return frame.assign(speed_fps=corrected), told, shift * sd


def _check_distance(frame: pd.DataFrame, data: Sorted, warnings: list[str]) -> None:
    if "distance_yd" not in frame.columns:
        return
    distance = frame["distance_yd"].to_numpy(dtype=float)[data.row]
    means = [distance[(data.group == g) & ~np.isnan(distance)] for g in range(len(data.names))]
    middles = [float(x.mean()) for x in means if len(x)]
    if middles and max(middles) - min(middles) > number("same_distance_yd"):
        warnings.append(
            "speeds were taken at different distances from the bow: the farther arrow has slowed"
        )


def _check_period(frame: pd.DataFrame, data: Sorted, warnings: list[str]) -> None:
    if "period" not in frame.columns:
        return
    period = frame["period"].to_numpy()[data.row]
    held = [frozenset(period[data.group == g]) for g in range(len(data.names))]
    if len(set(held)) > 1:
        warnings.append(
            "the bow was changed between the groups' readings: the difference is the change's as well"
        )


def _instruments(frame: pd.DataFrame, data: Sorted, warnings: list[str]) -> list[frozenset[str]]:
    """The instruments each group was read on."""
    if "instrument" not in frame.columns:
        return [frozenset()] * len(data.names)
    names = frame["instrument"].astype(object).fillna("").to_numpy()[data.row]
    used = [frozenset(names[data.group == g]) for g in range(len(data.names))]
    if len(set(used)) > 1:
        warnings.append(
            "groups were read on different instruments: their accuracy enters the difference"
        )
    return used


def compare(
    readings: pd.DataFrame | Mapping[str, Any],
    by: str | Sequence[str] = "string",
    *,
    sound: pd.DataFrame | Mapping[str, Any] | None = None,
    virtual_mass_gr: Spread | None = None,
    distance_yd: float = 20.0,
    drop_in: Drop = vacuum_drop_in,
) -> dict[str, Any]:
    """Compare setups by speed, and by sound where it was read.

    Parameters
    ----------
    readings : DataFrame or mapping of columns
        One shot a row, in the order shot: `speed_fps`, the fields of `by`, and where known
        `arrow_mass_gr`, `string`, `stringing`, `date`, `distance_yd`, `instrument`.
    by : str or sequence of str
        Setup field or fields that make the groups.
    sound : DataFrame or mapping of columns, optional
        Sound-meter readings, as `compare_sound` takes them.
    virtual_mass_gr : Spread, optional
        Virtual mass of the bow with its 95 % range [gr]; a typical one when not given.
    distance_yd : float
        Distance at which a difference is told in inches [yd].
    drop_in : callable
        Drop [in] from speed [fps] and distance [yd].

    Returns
    -------
    dict
        Ready for JSON: `groups`, `difference_fps` (fixed-sample Welch), `difference_of`, `p_value`,
        `p_anytime`, `difference_restrung_fps`, `difference_anytime_fps`, `verdict`, `settled`,
        `shots_to_settle`, `plan`, `paired`, `pairs`, `outliers`, `mass_correction`, `in_use`,
        `sound`, `warnings`, `cautions`.

    Raises
    ------
    NoAnswer
        Neither speeds nor levels fall into two groups.

    Notes
    -----
    `difference_fps` and `p_value` take every shot as independent and the number of shots as settled
    beforehand. The verdict trusts neither: it counts stringings and stands at every look
    (`shaftwright.measure.compare.anytime`).
    """
    import pandas as pd

    from shaftwright.measure.sound import compare_sound

    frame = pd.DataFrame(readings)
    fields = [by] if isinstance(by, str) else list(by)
    heard = None if sound is None else pd.DataFrame(sound)
    levels = compare_sound(heard, fields) if heard is not None and len(heard) else None
    empty: dict[str, Any] = {"groups": [], "difference_fps": None, "p_value": None, "p_anytime": None,
             "verdict": None, "shots_to_settle": None}  # fmt: skip
    cautions = _cautions(fields)
    if not len(frame) or "speed_fps" not in frame.columns:
        if levels is None:
            raise NoAnswer("there are no speeds and no levels to compare")
        return {**empty, "sound": levels, "warnings": ["no speeds were read"], "cautions": cautions}
    warnings: list[str] = []
    frame, mass_correction, shift = _corrected(frame, fields, virtual_mass_gr, warnings)
    data = sort_readings(frame, fields, "speed_fps")
    warnings += data.warnings
    if len(data.names) < 2 and (levels is None or len(levels.get("groups", ())) < 2):
        raise NoAnswer(
            f"all speeds are of one group ({data.names[0]}): a second {', '.join(fields)} is needed"
        )
    groups, outliers = _groups(data)
    result: dict[str, Any] = {**empty, "groups": groups}
    if len(data.names) > 1:
        _check_distance(frame, data, warnings)
        _check_period(frame, data, warnings)
        middle = float(data.value.mean())
        used = _instruments(frame, data, warnings)
        shifts = np.zeros(len(data.names))
        if shift is not None:
            shifts = np.bincount(data.group, weights=shift[data.row]) / np.bincount(data.group)
        # Two instruments, each within its limit of error 95 % of the time.
        scale_error = math.sqrt(2) * middle * accuracy() / 1.959964

        def error_of(a: int, b: int) -> float:
            return math.hypot(shifts[a] - shifts[b], scale_error if used[a] != used[b] else 0.0)

        pairs = compare_pairs(data, SPEED, error_of)
        told = told_pair(pairs)
        document = told.document("fps")
        result |= {key: value for key, value in document.items() if key not in ("a", "b")}
        result |= {
            "difference_of": [told.a, told.b],
            "pairs": [pair.document("fps") for pair in pairs],
            "in_use": in_use(told.welch.mid, middle, distance_yd, drop_in),
        }
        _warn_of_stringings(told, warnings)
        if len(data.names) > MOST_PAIRED_GROUPS:
            warnings.append(f"{len(data.names)} groups: each is compared with {data.names[0]} only")
    if outliers:
        few = ", ".join(f"{o['speed_fps']:.1f} fps ({o['group']})" for o in outliers[:NAMED_FEW])
        more = f" and {len(outliers) - NAMED_FEW} more" if len(outliers) > NAMED_FEW else ""
        warnings.append(f"readings that stand apart, kept: {few}{more}")
    return result | {
        "outliers": outliers,
        "mass_correction": mass_correction,
        "sound": levels,
        "warnings": warnings,
        "cautions": cautions,
    }


def _cautions(fields: Sequence[str]) -> list[str]:
    """What to heed before one of the groups is taken up: readings do not tell a string's material."""
    if "string" not in fields:
        return []
    from shaftwright.rules.cautions import cautions_naming

    return [caution.text for caution in cautions_naming("string.material", "unknown")]


def _warn_of_stringings(told: Pair, warnings: list[str]) -> None:
    if told.paired is None and told.restringing_sd > 0 and min(told.stringings) < 2:
        warnings.append(
            "one stringing cannot tell a string from the way it was put on: "
            f"string the bow again between blocks, {alternating(told.a, told.b, 2)}"
        )
    chance = told.welch.p_value
    if chance is not None and chance < ALPHA and not told.settled:
        warnings.append(
            f"the plain test (p {chance:.2g}) takes every shot as independent and the number of shots "
            "as settled beforehand; the verdict does not"
        )


def _groups(data: Sorted) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Means and spreads of the groups; absolute means carry the chronograph's accuracy."""
    groups, outliers = [], []
    limit = accuracy()
    for g, name in enumerate(data.names):
        values = data.of(g)
        n, mean = len(values), float(values.mean())
        sd = float(values.std(ddof=1)) if n > 1 else None
        shots = t_difference(mean, (sd or 0.0) / math.sqrt(n), n - 1)
        half = (shots.high - mean) if shots.high is not None else 0.0
        absolute = math.hypot(half, limit * mean)
        strung = int((data.cells["group"] == g).sum())
        groups.append({
            "name": name, "n": n, "stringings": strung, "mean_fps": mean, "sd_fps": sd,
            "mean_absolute_fps": {"mid": mean, "low": mean - absolute, "high": mean + absolute},
        })  # fmt: skip
        apart = np.flatnonzero(stands_apart(values))
        rows = data.row[data.group == g]
        outliers += [
            {"group": name, "reading": int(rows[i]) + 1, "speed_fps": float(values[i])}
            for i in apart
        ]
    return groups, outliers
