"""Everything a notebook says of brace height: the sweep, the strings' settling, the twists to make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from shaftwright.errors import NoAnswer
from shaftwright.measure.brace.creep import Creep, creep
from shaftwright.measure.brace.curve import SEED
from shaftwright.measure.brace.sweep import Sweep, Swept, sweep, twist_hint
from shaftwright.measure.frames import Frames
from shaftwright.measure.values import Between
from shaftwright.result import Result, kept
from shaftwright.units import Interval, inches

if TYPE_CHECKING:
    import pandas as pd


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
    warnings: list[str] = []
    period, string, chosen = _most_swept(tables, warnings)
    swept = sweep(*chosen)
    swept = replace(swept, warnings=(*warnings, *swept.warnings))
    strings = _strings(tables.braces, material)
    fitted = [one for one in swept.read if one.fit]
    if not fitted and not strings:
        raise NoAnswer(
            "nothing here tells about brace height: note a brace reading, or speeds and levels with "
            "their brace height at two heights at least, three to find the best"
        )
    if not fitted:
        string = strings[-1].string
    best = swept.optimum
    inside = best is not None and best.kind == "inside"
    target = Between(best.low_in, best.high_in) if best and inside else None
    # which string the sweep's twists are made on is known only where both are the same
    own = [one for one in strings if (one.string, one.period) == (string, period)]
    newest = own[-1] if own else (strings[-1] if strings else None)
    now = newest.brace_in if newest else None
    return Brace(
        string, period, swept, target, now,
        _twists(now, target, own[-1].twist_gain_in if own else None), strings,
        newest.settled if newest else None, _verdict(swept, strings, fitted),
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
    tables: Frames, warnings: list[str]
) -> tuple[int | None, str | None, list[pd.DataFrame]]:
    """The period and string with the most brace heights, the latest among equals."""
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
    latest: Any = heights[::-1].idxmax()
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
