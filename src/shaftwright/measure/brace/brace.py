"""Everything a notebook says of brace height: the sweep, the strings' settling, the twists to make."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.errors import NoAnswer
from shaftwright.measure.brace.creep import creep
from shaftwright.measure.brace.sweep import sweep, twist_hint
from shaftwright.measure.frames import Frames
from shaftwright.measure.values import number
from shaftwright.units import inches

if TYPE_CHECKING:
    import pandas as pd

_QUANTITIES = ("speed", "sound", "bare")


def brace_answer(tables: Frames, material: str | None = None) -> dict[str, Any]:
    """The sweep of the bow as it stands, and each string's settling.

    Parameters
    ----------
    tables : Frames
        The readings of a notebook.
    material : str, optional
        `low_stretch` or `polyester`: what the strings are made of.

    Returns
    -------
    dict
        Ready for JSON: `string` and `period` of the sweep, the keys of `sweep`, `target_in` (the
        optimum where it lies inside the heights tried), `brace_now_in`, `twists` (mid, low, high,
        `way`, `by_own_readings`), `creep` (a list, the newest string last), `worth_tuning`, `verdict`,
        `warnings`.

    Raises
    ------
    NoAnswer
        Neither two brace heights with readings nor a reading of brace height.
    """
    warnings: list[str] = []
    period, string, chosen = _most_swept(tables, warnings)
    swept = sweep(*(chosen[name] for name in ("speeds", "levels", "bare")))
    strings = _strings(tables.braces, material)
    fitted = [name for name in _QUANTITIES if swept[name] and swept[name]["curve"]]
    if not fitted and not strings:
        raise NoAnswer(
            "nothing here tells about brace height: note a brace reading, or speeds and levels with "
            "their brace height at two heights at least, three to find the best"
        )
    if not fitted:
        string = strings[-1]["string"]
    best = swept["optimum"]
    inside = best is not None and best["kind"] == "inside"
    target = {"low": best["low_in"], "high": best["high_in"]} if inside else None
    own = [c for c in strings if c["string"] == string and c["period"] == period]
    newest = own[-1] if own else (strings[-1] if strings else None)
    now = newest["brace_in"] if newest else None
    # which string the sweep's twists are made on is known only where both are the same
    gain = own[-1]["twist_gain_in"] if own else None
    settled = newest["settled"] if newest else None
    result = {
        "string": string, "period": period, **swept, "target_in": target, "brace_now_in": now,
        "twists": _twists(now, target, gain), "creep": strings, "worth_tuning": settled,
    }  # fmt: skip
    verdict = _verdict(result, fitted)
    return result | {"verdict": verdict, "warnings": [*warnings, *swept["warnings"]]}


def _most_swept(
    tables: Frames, warnings: list[str]
) -> tuple[int | None, str | None, dict[str, pd.DataFrame]]:
    """The period and string with the most brace heights, the latest among equals."""
    import pandas as pd

    named = {"speeds": tables.speeds, "levels": tables.levels, "bare": tables.bare}
    known, read = {}, {"speeds": "speeds", "levels": "levels", "bare": "bare shafts"}
    for name, frame in named.items():
        kept = frame[frame["brace_in"].notna()]
        lost = len(frame) - len(kept)
        if lost and len(kept):
            warnings.append(f"{lost} {read[name]} without a brace height are left out")
        known[name] = kept.assign(string=kept["string"].astype(object).fillna(""))
    joined = [f[["period", "string", "brace_in"]] for f in known.values() if len(f)]
    if not joined:
        return None, None, known
    heights = pd.concat(joined).groupby(["period", "string"], sort=True)["brace_in"].nunique()
    values = heights.to_numpy()
    period, string = heights.index[len(values) - 1 - int(values[::-1].argmax())]
    chosen = {}
    for name, frame in known.items():
        mask = ((frame["period"] == period) & (frame["string"] == string)).to_numpy()
        if (~mask).any():
            count = int((~mask).sum())
            warnings.append(
                f"{count} {read[name]} of another string, or from before a change, are left out"
            )
        chosen[name] = _one_distance(frame[mask], warnings) if name == "bare" else frame[mask]
    return int(period), string or None, chosen


def _one_distance(bare: pd.DataFrame, warnings: list[str]) -> pd.DataFrame:
    """Bare shafts of the commonest shaft and distance: their spreads do not mix."""
    if not len(bare):
        return bare
    keyed = bare.assign(shaft=bare["shaft"].astype(object).fillna(""))
    sizes = keyed.groupby(["shaft", "distance_yd"])["x_in"].count()
    shaft, distance = sizes.index[int(sizes.to_numpy().argmax())]
    mask = ((keyed["shaft"] == shaft) & (keyed["distance_yd"] == distance)).to_numpy()
    if (~mask).any():
        count = int((~mask).sum())
        warnings.append(f"{count} bare shafts of another shaft or distance are left out")
    return bare.iloc[np.flatnonzero(mask)]


def _strings(braces: pd.DataFrame, material: str | None) -> list[dict[str, Any]]:
    """Settling of every string in every period, in the order first read."""
    if not len(braces):
        return []
    keyed = braces.assign(string=braces["string"].astype(object).fillna(""))
    found = []
    for (_, string), part in keyed.groupby(["period", "string"], sort=False):
        readings = [
            {"shots_on": _number(s), "brace_in": float(b), "twists": _number(t)}
            for s, b, t in zip(part["shots_on"], part["brace_in"], part["twists"], strict=True)
        ]
        told = creep(part.drop(columns="string"), material)
        found.append(
            {
                "string": string or None,
                "period": int(part["period"].iloc[0]),
                **told,
                "readings": readings,
            }
        )
    return found


def _number(value: Any) -> float | None:
    return None if value is None or value != value else float(value)


def _twists(
    now: float | None, target: dict[str, float] | None, gain: float | None
) -> dict[str, Any] | None:
    """Twists from the brace as last read to the middle of the target; None when it is there."""
    if now is None or target is None or target["low"] <= now <= target["high"]:
        return None
    change = (target["low"] + target["high"]) / 2 - now
    return {
        "change_in": change, **twist_hint(change), "way": "in" if change > 0 else "out",
        "by_own_readings": abs(change) / gain if gain else None,
    }  # fmt: skip


def _verdict(result: dict[str, Any], fitted: list[str]) -> str:
    """One sentence: where to brace and how sure that is, or what is not known yet."""
    best = result["optimum"]
    if not fitted:
        return str(result["creep"][-1]["verdict"])
    if best is None:
        told = [result[name]["verdict"] for name in fitted]
        return "no best brace height yet: " + "; ".join(dict.fromkeys(told))
    low, high = inches(best["low_in"], 8), inches(best["high_in"], 8)
    where = low if low == high else f"{low.removesuffix(' in')} to {high}"
    if best["kind"] == "any":
        return f"any brace height from {where} will do: {best['why']}"
    if best["go_on"] is not None:
        return f"brace {where} so far, and try {best['go_on']}: {best['why']}; {best['sure']}"
    return f"brace {where}: {best['why']}; {best['sure']}"


def twist_limits() -> tuple[float, float]:
    """Fewest and most twists for an inch of string, by practice."""
    return number("twists_per_in_low"), number("twists_per_in_high")
