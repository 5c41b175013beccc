"""A string that stretches: brace over shots, and when it has settled enough to tune on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.measure.compare.anytime import Array
from shaftwright.measure.values import Spread, number
from shaftwright.resources import table
from shaftwright.units import inches

if TYPE_CHECKING:
    import pandas as pd

_POINTS = 41


def _habits(material: str | None) -> tuple[Spread, Spread, bool]:
    """Whole drop [in], shots to lose all but 1/e of it, and whether it never quite ends."""
    rows = {row["material"]: row for row in table("string_creep")}
    row = rows.get(material or "unknown", rows["unknown"])
    drop = Spread(float(row["drop_in"]), float(row["drop_low_in"]), float(row["drop_high_in"]))
    shots = Spread(float(row["shots"]), float(row["shots_low"]), float(row["shots_high"]))
    return drop, shots, row["keeps_creeping"] == "yes"


def _grid(prior: Spread) -> tuple[Array, Array]:
    z = np.linspace(-4, 4, _POINTS)
    return prior.median * np.exp(z * prior.log_sd), -0.5 * z**2


def _quantiles(values: Array, weight: Array) -> dict[str, float]:
    """Low, middle and high of the central 95 % of weighted values."""
    order = np.argsort(values, axis=None)
    value, below = values.ravel()[order], np.cumsum(weight.ravel()[order])
    at = np.minimum(np.searchsorted(below, [0.5, 0.025, 0.975]), len(value) - 1)
    return dict(zip(("mid", "low", "high"), (float(x) for x in value[at]), strict=True))


def _weights(
    segment: Array, shots: Array, brace: Array, drop: Spread, pace: Spread
) -> tuple[Array, Array, Array]:
    """Chance of each (drop, pace): brace = level of its segment - drop (1 - exp(-shots / pace)).

    The level of every segment (a twist count) is free and flat: adding twists lifts the brace and
    leaves the stretching as it was.
    """
    a, log_a = _grid(drop)
    n, log_n = _grid(pace)
    lost = a[:, None, None] * -np.expm1(-shots / n[:, None])  # (drop, pace, reading)
    level = brace + lost
    log_w = log_a[:, None] + log_n[None, :]
    sd = number("brace_reading_sd_in")
    for s in np.unique(segment):
        part = level[..., segment == s]
        log_w = log_w - ((part - part.mean(-1, keepdims=True)) ** 2).sum(-1) / (2 * sd**2)
    weight = np.exp(log_w - log_w.max())
    return a[:, None], n[None, :], weight / weight.sum()


def _held(brace: Array, segment: Array, session: Array) -> tuple[bool | None, float | None]:
    """Whether brace stood between the last two sessions with the same twists, and by how much."""
    if len(brace) < 2:
        return None, None
    last = session[-1]
    now = brace[(session == last) & (segment == segment[-1])]
    earlier = session[(session != last) & (segment == segment[-1])]
    if not len(earlier):
        return None, None
    before = brace[(session == earlier[-1]) & (segment == segment[-1])]
    # The end of either session: a string is let down between them and creeps within them.
    change = float(now[-1] - before[-1])
    return abs(change) <= number("held_within_in") + 1e-9, change


def _sessions(frame: pd.DataFrame, shots: Array) -> Array:
    """Number of the session of each reading: by date, else by shots between."""
    if "date" in frame.columns and frame["date"].notna().all():
        import pandas as pd

        return np.asarray(pd.factorize(frame["date"].astype(object))[0], dtype=float)
    apart = np.nan_to_num(shots, nan=0.0)
    session, start, number_of = [], apart[0], 0
    for value in apart:
        if value - start >= number("session_shots"):
            start, number_of = value, number_of + 1
        session.append(number_of)
    return np.asarray(session, dtype=float)


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
    if "twists" not in frame.columns:
        return None
    both = frame.dropna(subset=["twists", "brace_in"])
    step = np.diff(both["twists"].to_numpy(dtype=float))
    rise = np.diff(both["brace_in"].to_numpy(dtype=float))
    changed = step != 0
    if not changed.any():
        return None
    gain = float(np.median(rise[changed] / step[changed]))
    return gain if gain > 0 else None


def creep(readings: pd.DataFrame, material: str | None = None) -> dict[str, Any]:
    """Brace height over shots: how far the string still has to go, and whether to tune yet.

    Parameters
    ----------
    readings : DataFrame
        One string, in the order read: `brace_in` [in], and where known `shots_on`, `twists`, `date`.
    material : str, optional
        `low_stretch` or `polyester`: what the string is made of.

    Returns
    -------
    dict
        Ready for JSON: `n`, `brace_in` (the last), `settled` (True, False or None when nothing tells),
        `change_in` (between the last two sessions), `remaining_in` and `shots_to_settle` (mid, low,
        high of 95 %, or None), `chance_settled`, `twist_gain_in`, `keeps_creeping`, `verdict`.

    Raises
    ------
    ValueError
        No reading.

    Notes
    -----
    The rule of practice: tune once brace has held within 1/16 in over two sessions. It is trusted
    unless the estimate gives less than an even chance that under 1/16 in is left to lose. The
    estimate is an exponential settling whose size and pace start from what strings of the material
    do; it says nothing of polyester's slow creep after.

    Examples
    --------
    >>> import pandas as pd
    >>> creep(pd.DataFrame({"brace_in": [7.5], "shots_on": [0]}))["settled"] is None
    True
    """
    frame = readings.dropna(subset=["brace_in"]).reset_index(drop=True)
    if not len(frame):
        raise ValueError("there is no brace reading")
    brace = frame["brace_in"].to_numpy(dtype=float)
    missing = np.full(len(frame), np.nan)
    shots = frame["shots_on"].to_numpy(dtype=float) if "shots_on" in frame.columns else missing
    twists = frame["twists"].to_numpy(dtype=float) if "twists" in frame.columns else missing
    # A missing count means nobody touched the twists since the last one written down.
    segment = np.zeros(len(frame))
    current, known = 0.0, np.nan
    for i, t in enumerate(twists):
        if not np.isnan(t):
            current += float(not np.isnan(known) and t != known)
            known = t
        segment[i] = current
    held, change = _held(brace, segment, _sessions(frame, shots))
    drop, pace, forever = _habits(material)
    counted = ~np.isnan(shots)
    remaining = to_settle = chance = None
    if counted.any():
        a, n, weight = _weights(segment[counted], shots[counted], brace[counted], drop, pace)
        left = a * np.exp(-shots[counted][-1] / n)
        limit = number("held_within_in")
        remaining = _quantiles(left, weight)
        to_settle = _quantiles(np.maximum(n * np.log(left / limit), 0.0) + 0 * a, weight)
        chance = float(weight[left <= limit].sum())
    # Two sessions of a few shots each hold their brace on any string: the estimate must agree.
    settled = held if not held or chance is None else chance >= 0.5
    return {
        "n": len(frame),
        "brace_in": float(brace[-1]),
        "settled": settled,
        "change_in": change,
        "remaining_in": remaining,
        "shots_to_settle": to_settle,
        "chance_settled": chance,
        "twist_gain_in": twist_gain(frame),
        "keeps_creeping": forever,
        "verdict": _verdict(held, settled, change, to_settle, forever),
    }


def _verdict(
    held: bool | None,
    settled: bool | None,
    change: float | None,
    to_settle: dict[str, float] | None,
    forever: bool,
) -> str:
    """The answer in the archer's words."""
    within = inches(number("held_within_in"))
    more = ""
    if to_settle is not None:
        low, high = round(to_settle["low"]), round(to_settle["high"])
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
