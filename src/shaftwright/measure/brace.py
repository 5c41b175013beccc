"""Everything a notebook says of brace height: the sweep, the strings' settling, the twists to make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.arrays import Array
from shaftwright.errors import NoAnswer
from shaftwright.limits import STRINGS, refuse, word
from shaftwright.measure.curve import SEED
from shaftwright.measure.frames import Frames, full
from shaftwright.measure.sweep import Sweep, Swept, sweep, twist_hint
from shaftwright.measure.use import Between, Rows, log_normal
from shaftwright.resources import measuring, table
from shaftwright.result import Result, kept
from shaftwright.units import Interval, inches

if TYPE_CHECKING:
    import pandas as pd


_POINTS = np.linspace(-4, 4, 41)


@dataclass(frozen=True)
class Creep(Result):
    """How far one string has settled."""

    string: str | None
    period: int
    n: int
    #: the last
    brace_in: float
    #: None where nothing tells
    settled: bool | None
    #: between the last two sessions
    change_in: float | None
    remaining_in: Interval | None
    shots_to_settle: Interval | None
    chance_settled: float | None
    twist_gain_in: float | None
    keeps_creeping: bool
    verdict: str
    readings: Rows


def _habits(material: str | None) -> tuple[Interval, Interval, bool]:
    """Whole drop [in], shots to lose all but 1/e of it, and whether it never quite ends."""
    row = next(r for r in table("string_creep") if r["material"] == (material or "unknown"))
    drop = Interval(*(float(row[name]) for name in ("drop_in", "drop_low_in", "drop_high_in")))
    shots = Interval(*(float(row[name]) for name in ("shots", "shots_low", "shots_high")))
    return drop, shots, row["keeps_creeping"] == "yes"


def _range(values: Array, weight: Array) -> Interval:
    """Middle and central 95 % of weighted values."""
    order = np.argsort(values, axis=None)
    value, below = values.ravel()[order], np.cumsum(weight.ravel()[order])
    at = np.minimum(np.searchsorted(below, [0.5, 0.025, 0.975]), len(value) - 1)
    return Interval(*(float(x) for x in value[at]))


def _weights(
    segment: Array, shots: Array, brace: Array, drop: Interval, pace: Interval
) -> tuple[Array, Array, Array]:
    """Chance of each (drop, pace): brace = level of its segment - drop (1 - exp(-shots / pace)).

    The level of every segment (a twist count) is free and flat: adding twists lifts the brace and
    leaves the stretching as it was.
    """
    a, n, log_w = log_normal(drop, _POINTS), log_normal(pace, _POINTS), -0.5 * _POINTS**2
    lost = a[:, None, None] * -np.expm1(-shots / n[:, None])  # (drop, pace, reading)
    level = brace + lost
    log_w = log_w[:, None] + log_w
    sd = measuring("brace_reading_sd_in")
    for s in np.unique(segment):
        part = level[..., segment == s]
        log_w = log_w - ((part - part.mean(-1, keepdims=True)) ** 2).sum(-1) / (2 * sd**2)
    weight = np.exp(log_w - log_w.max())
    return a[:, None], n[None, :], weight / weight.sum()


def _change(frame: pd.DataFrame) -> float | None:
    """By how much brace moved between the last two sessions with the same twists."""
    same = frame[frame["segment"] == frame["segment"].iloc[-1]]
    # The end of either session: a string is let down between them and creeps within them.
    ends = same.drop_duplicates("session", keep="last")["brace_in"].to_numpy()
    return float(ends[-1] - ends[-2]) if len(ends) > 1 else None


def _sessions(frame: pd.DataFrame) -> Any:
    """Number of the session of each reading: by date, else by shots between."""
    if frame["date"].notna().all():
        return frame["date"].astype(object).map(str)
    shots = frame["shots_on"].fillna(0.0)
    session, start, number_of = [], shots[0], 0
    for value in shots:
        if value - start >= measuring("session_shots"):
            start, number_of = value, number_of + 1
        session.append(number_of)
    return session


def twist_gain(frame: pd.DataFrame) -> float | None:
    """Brace gained by one twist, from readings just before and after twists were changed.

    Parameters
    ----------
    frame : DataFrame
        `brace_in` and `twists`, in order, one string.

    Returns
    -------
    float or None
        Middle gain [in per twist]; None when twists never changed or the gain makes no sense.
    """
    step = frame[["twists", "brace_in"]].dropna().astype(float).diff()
    step = step[step["twists"].abs() > 0]
    gain = float((step["brace_in"] / step["twists"]).median())
    return gain if gain > 0 else None


def creep(readings: Any, material: str | None = None) -> Creep:
    """Brace height over shots: how far the string still has to go, and whether to tune yet.

    Parameters
    ----------
    readings : DataFrame
        One string, in the order read: `brace_in` [in], and where known `shots_on`, `twists`, `date`.
    material : str, optional
        `low_stretch` or `polyester`: what the string is made of.

    Returns
    -------
    Creep
        Ranges are central 95 %.

    Notes
    -----
    The rule of practice: tune once brace has held within 1/16 in over two sessions. It is trusted
    unless the estimate gives less than an even chance that under 1/16 in is left to lose. The
    estimate is an exponential settling whose size and pace start from what strings of the material
    do; it says nothing of polyester's slow creep after.

    Examples
    --------
    >>> creep({"brace_in": [7.5], "shots_on": [0]}).settled is None
    True
    """
    frame = full(readings).dropna(subset=["brace_in"]).reset_index(drop=True)
    frame = frame.astype({"brace_in": float, "shots_on": float, "twists": float})
    # A missing count means nobody touched the twists since the last one written down.
    segment = frame["twists"].ffill().diff().fillna(0.0).ne(0.0).cumsum()
    frame = frame.assign(segment=segment, session=_sessions(frame))
    change, limit = _change(frame), measuring("held_within_in")
    held = None if change is None else abs(change) <= limit + 1e-9
    drop, pace, forever = _habits(material)
    remaining = to_settle = chance = None
    counted = frame.dropna(subset=["shots_on"])
    if len(counted):
        same, shots, brace = (
            counted[name].to_numpy() for name in ("segment", "shots_on", "brace_in")
        )
        a, n, weight = _weights(same, shots, brace, drop, pace)
        left = a * np.exp(-shots[-1] / n)
        remaining = _range(left, weight)
        to_settle = _range(np.maximum(n * np.log(left / limit), 0.0) + 0 * a, weight)
        chance = float(weight[left <= limit].sum())
    # Two sessions of a few shots each hold their brace on any string: the estimate must agree.
    settled = held if not held or chance is None else chance >= 0.5
    columns = ["shots_on", "brace_in", "twists"]
    rows = frame[columns].astype(object).where(frame[columns].notna(), None).to_dict("records")
    return Creep(
        None, 0, len(frame), float(frame["brace_in"].iloc[-1]), settled, change, remaining, to_settle, chance,
        twist_gain(frame), forever, _settled(held, settled, change, to_settle, forever), rows,
    )  # fmt: skip


def _settled(
    held: bool | None,
    settled: bool | None,
    change: float | None,
    to_settle: Interval | None,
    forever: bool,
) -> str:
    """The answer in the archer's words."""
    within = inches(measuring("held_within_in"))
    more = ""
    if to_settle is not None:
        low, high = round(to_settle.low), round(to_settle.high)
        more = f"; some {low} to {high} shots more" if high > 0 else "; few shots more, if any"
    if held is None:
        return f"not known yet: read brace in two sessions, it must hold within {within}{more}"
    assert change is not None
    if held and not settled:
        return f"not settled: brace held within {within}, but so few shots tell little{more}"
    if held:
        after = "; it will keep creeping, read it each session" if forever else ""
        return f"settled: brace held within {within} over two sessions, worth tuning{after}"
    moved = inches(round(abs(change) * 32) / 32, 32)
    if change > 0:
        return (
            f"not settled: brace rose {moved} with the same twists; was it read at the same place?"
        )
    return f"not settled: brace fell {moved} between two sessions{more} before tuning is worth it"


@dataclass(frozen=True)
class Twists(Result):
    """How many twists by rule of thumb, in or out, and by the archer's own readings."""

    change_in: float
    rule: Interval = field(metadata=kept(flat=True))
    way: str
    by_own_readings: float | None


@dataclass(frozen=True)
class Brace(Result):
    """The sweep of the bow as it stands, and each string's settling."""

    #: of the sweep
    string: str | None
    period: int | None
    sweep: Sweep = field(metadata=kept(flat=True))
    #: the best where it lies inside the heights tried
    target_in: Between | None
    brace_now_in: float | None
    twists: Twists | None
    #: the newest string last
    creep: tuple[Creep, ...]
    worth_tuning: bool | None
    verdict: str
    seed: int = SEED


def brace_answer(tables: Frames, material: str | None = None) -> Brace:
    """The sweep of the bow as it stands, and each string's settling.

    Parameters
    ----------
    tables : Frames
        The readings of a notebook.
    material : str, optional
        `low_stretch` or `polyester`: what the strings are made of.

    Returns
    -------
    Brace
        Where to brace, and what each string still does.

    Raises
    ------
    NoAnswer
        Neither two brace heights with readings nor a reading of brace height.
    """
    refuse(word("material", material, STRINGS))
    warnings: list[str] = []
    period, string, chosen = _most_swept(tables, warnings)
    swept = sweep(*chosen)
    strings = _strings(tables.braces, material)
    fitted = [one for one in swept.read if one.fit]
    if not fitted and not strings:
        raise NoAnswer(
            "nothing here tells about brace height: note a brace reading, or speeds and levels with "
            "their brace height at two heights at least, three to find the best"
        )
    if not fitted:
        newest = strings[-1]
        if period is not None and (period != newest.period or string not in (None, newest.string)):
            # what was read on another string, or before a change, says nothing of this one
            warnings.clear()
            period = newest.period
            swept = sweep(*_most_swept(tables, warnings, (period, newest.string or ""))[2])
            fitted = [one for one in swept.read if one.fit]
        string = newest.string
    swept = replace(swept, warnings=(*warnings, *swept.warnings))
    best = swept.optimum
    inside = best is not None and best.kind == "inside"
    target = Between(best.low_in, best.high_in) if best and inside else None
    # which string the sweep's twists are made on is known only where both are the same
    own = [one for one in strings if (one.string, one.period) == (string, period)]
    latest = own[-1] if own else (strings[-1] if strings else None)
    now = latest.brace_in if latest else None
    return Brace(
        string, period, swept, target, now,
        _twists(now, target, own[-1].twist_gain_in if own else None), strings,
        latest.settled if latest else None, _verdict(swept, strings, fitted),
    )  # fmt: skip


def _named(frame: pd.DataFrame) -> pd.DataFrame:
    """With the empty name for what was not written."""
    names = ["string", "shaft"]
    return frame.assign(**frame[names].astype(object).fillna(""))


def _only(
    frame: pd.DataFrame, mask: pd.Series[bool], why: str, warnings: list[str]
) -> pd.DataFrame:
    if not mask.all():
        warnings.append(f"{(~mask).sum()} {why} are left out")
    return frame[mask]


def _most_swept(
    tables: Frames, warnings: list[str], only: tuple[int, str] | None = None
) -> tuple[int | None, str | None, list[pd.DataFrame]]:
    """The period and string with the most brace heights, the latest among equals; or only those of one."""
    import pandas as pd

    known = {"speeds": tables.speeds, "levels": tables.levels, "bare shafts": tables.bare}
    for name, frame in known.items():
        with_height = frame["brace_in"].notna()
        told = warnings if with_height.any() else []
        known[name] = _only(_named(frame), with_height, f"{name} without a brace height", told)
    joined = [frame[["period", "string", "brace_in"]] for frame in known.values() if len(frame)]
    if not joined:
        return None, None, list(known.values())
    heights = pd.concat(joined).groupby(["period", "string"], sort=True)["brace_in"].nunique()
    latest: Any = only or heights[::-1].idxmax()
    period, string = latest
    for name, frame in known.items():
        same = (frame["period"] == period) & (frame["string"] == string)
        why = f"{name} of another string, or from before a change,"
        known[name] = _only(frame, same, why, warnings)
    bare = known["bare shafts"]
    if len(bare):  # those of the commonest shaft and distance: their spreads do not mix
        commonest: Any = bare.groupby(["shaft", "distance_yd"])["x_in"].count().idxmax()
        shaft, distance = commonest
        same = (bare["shaft"] == shaft) & (bare["distance_yd"] == distance)
        why = "bare shafts of another shaft or distance"
        known["bare shafts"] = _only(bare, same, why, warnings)
    return int(period), string or None, list(known.values())


def _strings(braces: pd.DataFrame, material: str | None) -> tuple[Creep, ...]:
    """Settling of every string in every period, in the order first read."""
    grouped: Any = _named(braces).groupby(["period", "string"], sort=False)
    return tuple(
        replace(creep(part, material), string=string or None, period=int(period))
        for (period, string), part in grouped
    )


def _twists(now: float | None, target: Between | None, gain: float | None) -> Twists | None:
    """Twists from the brace as last read to the middle of the target; None when it is there."""
    if now is None or target is None or target.low <= now <= target.high:
        return None
    change = (target.low + target.high) / 2 - now
    own = abs(change) / gain if gain else None
    return Twists(change, twist_hint(change), "in" if change > 0 else "out", own)


def _verdict(swept: Sweep, strings: Sequence[Creep], fitted: Sequence[Swept]) -> str:
    """One sentence: where to brace and how sure that is, or what is not known yet."""
    best = swept.optimum
    if not fitted:
        return strings[-1].verdict
    if best is None:
        return "no best brace height yet: " + "; ".join(
            dict.fromkeys(one.verdict for one in fitted)
        )
    low, high = inches(best.low_in, 8), inches(best.high_in, 8)
    where = low if low == high else f"{low.removesuffix(' in')} to {high}"
    if best.kind == "any":
        return f"any brace height from {where} will do: {best.why}"
    further = f" so far, and try {best.go_on}" if best.go_on else ""
    return f"brace {where}{further}: {best.why}; {best.sure}"
