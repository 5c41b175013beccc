"""A change of the bow: what it is of, and what it means for the rig file, which no command rewrites."""

from __future__ import annotations

import os.path
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from shaftwright.files.atomic import write_atomic
from shaftwright.files.bow import BEFORE, RIG
from shaftwright.files.strict_yaml import read_text
from shaftwright.inference.evidence.periods import (
    PERIODS,
    SETTINGS,
    History,
    alike,
    of_rig,
    one_scale,
)
from shaftwright.inference.notebook_rig import rig_now
from shaftwright.records.notebook import AnyEntry, Change, RigState
from shaftwright.records.rig import DrawWeight, Plunger, Rig
from shaftwright.units import length_told, pounds_told

#: what a change may be of; anything else is free text
WHATS: Final = (*PERIODS, "draw_weight", *SETTINGS)
#: what of rig.yaml a change may touch, where no new value was stated
_TOUCHED: Final = {
    "limbs": "bow.limbs_id, bow.limbs, bow.draw_weight, bow.brace_height",
    "riser": "bow.window, bow.rest, bow.plate, bow.draw_weight",
    "string": "string.material, string.mass, string.silencers, bow.brace_height",
    "material": "string.material, string.mass, bow.brace_height",
    "draw_weight": "bow.draw_weight", "draw_length": "archer.draw_length", "release": "archer.release",
    "brace": "bow.brace_height", "plate": "bow.plate", "plunger": "bow.plunger",
    "nocking_point": "bow.nocking_point", "tiller": "bow.tiller",
    "silencers": "string.silencers, string.silencer_position",
}  # fmt: skip
#: where a rig file writes what a change may state
_PLACES: Final = {
    "draw_weight": "bow.draw_weight", "brace_height_in": "bow.brace_height",
    "plate_in": "bow.plate.thickness", "nocking_point_in": "bow.nocking_point.above_square",
    "limbs_id": "bow.limbs_id", "tiller_in": "bow.tiller", "release": "archer.release",
    "draw_length_in": "archer.draw_length", "string_material": "string.material",
    "spring": "bow.plunger.spring", "turns": "bow.plunger.turns", "out_in": "bow.plunger.out",
    "moved_in": "bow.plunger.moved",
}  # fmt: skip
#: what a change is of, by the field of the rig's state where that is named otherwise
_OF: Final = {
    "brace_height_in": "brace", "plate_in": "plate",
    "nocking_point_in": "nocking_point", "limbs_id": "limbs", "tiller_in": "tiller",
    "string_material": "string",
}  # fmt: skip


def others_of(old: Rig, new: Rig, entries: Sequence[AnyEntry] = ()) -> list[tuple[str, str]]:
    """What of the bow a rig file tells otherwise than file and notebook did, by an archer's measure.

    What a change is of, and the field of an entry that states it.
    """
    was, now = of_rig(rig_now(old, entries)[0]), of_rig(new)
    found = [
        (_OF.get(name, name), RigState.model_fields[name].alias or name) for name in now
        if name in was and one_scale(now[name], was[name]) and not alike(name, now[name], was[name])
    ]  # fmt: skip
    # what makes another bow of it comes first
    return sorted(found, key=lambda one: one[0] not in ("limbs", "draw_weight", "string"))


def state_of(rig: Rig | None, entries: Sequence[AnyEntry]) -> dict[str, Any]:
    """The bow as it stands, as an entry writes it: the rig file, and what the last changes noted say."""
    state = {} if rig is None else of_rig(rig_now(rig, entries)[0])
    return RigState(**state).model_dump(by_alias=True, exclude_none=True) if state else {}


def with_state(
    data: dict[str, Any], rig: Rig | None, entries: Sequence[AnyEntry], stands: bool = False
) -> dict[str, Any]:
    """An entry's data with what it says of the bow: with shots, or where it `stands` so, as it is now."""
    shot = data["kind"] in ("bareshaft", "broadhead")
    state = state_of(rig, entries) if shot or stands else {}
    state |= data.get("rig_state") or {}
    if isinstance(weight := state.get("draw_weight"), str):
        state["draw_weight"] = weight_as_told(weight, rig)
    return data | ({"rig_state": state} if state else {})


def change_of(change: Change, rig: Rig, entries: Sequence[AnyEntry], before: Rig | None) -> str:
    """What a change is of, as the plan's periods and settings know it; `other` for words unknown."""
    return History(rig, (*entries, change), before).changes[-1][2]


def begins_period(kind: str) -> bool:
    """Whether the bow shoots another arrow after such a change."""
    return kind not in SETTINGS


def taken_as(kind: str) -> str:
    """What the notebook takes a change for, in a sentence."""
    if begins_period(kind):
        better = ""
        if kind in ("draw_length", "draw_weight"):
            better = " Did you only measure better? Then undo this, and correct rig.yaml."
        return f"Taken as another bow: what was shot before informs, and decides nothing.{better}"
    return (
        "Taken as a setting of the same bow: one straight end as it is set now, and what flew straight "
        "before leads again."
    )


def weight_as_told(said: str, rig: Rig | None) -> str:
    """A new draw weight with the draw at which rig.yaml tells one, where it names none itself."""
    at = rig.bow.draw_weight.at if rig is not None else None
    told_there = re.search(r"\bat\b|@", said) is not None
    return said if told_there or not isinstance(at, float) else f"{said} at {at!r} in"


def weight_taken(change: Change, rig: Rig) -> str:
    """At which draw a new draw weight was taken to be told; empty where none was."""
    weight = change.rig_state.draw_weight if change.rig_state is not None else None
    if weight is None:
        return ""
    pounds = pounds_told(weight.lb or 0.0)
    if isinstance(weight.at, float):
        told = f"told at {length_told(weight.at, rig.units)}; one weighed at your own draw"
        return f'{pounds} is taken as {told} is noted as "{pounds} at own draw".'
    draw = change.rig_state.draw_length_in if change.rig_state is not None else None
    told = f"weighed at your own draw, {length_told(draw or rig.archer.draw_length_in, rig.units)}"
    return f'{pounds} is taken as {told}; one marked at another is noted as "{pounds} at 28 in".'


def to_edit(rig: Rig, change: Change, kind: str) -> tuple[str, ...]:
    """Which fields of the rig file the archer has to change by hand, each with what stands there now."""
    named = (change.rig_state or RigState()).stated()
    if not named and kind in _TOUCHED:
        return (f"{_TOUCHED[kind]}: what of it is different now",)
    return tuple(
        f"{where}: {new}" + ("" if old is None else f"   (now {old})")
        for name, value in named.items() for where, old, new in _edits(rig, name, value)
    )  # fmt: skip


def _edits(rig: Rig, name: str, value: Any) -> list[tuple[str, str | None, str]]:
    """Field, what the file says and what it should say, where the two differ."""
    if name == "plunger":
        parts = [(part, getattr(value, part)) for part in Plunger.model_fields]
        return [edit for part, new in parts if new not in (None, "unknown")
                for edit in _edits(rig, part, new)]  # fmt: skip
    if name not in _PLACES:
        return []  # a rig file has no place for a string's label or a crawl
    where, old = _PLACES[name], rig.at(_PLACES[name] + "_in" * name.endswith("_in"))
    told, was = (
        _plain(name, value, rig.units),
        None if old is None else _plain(name, old, rig.units),
    )
    return [] if told == was else [(where, was, told)]


def _plain(name: str, value: Any, units: str) -> str:
    if isinstance(value, DrawWeight):
        if value.curve is not None:
            return "its curve"
        at = length_told(value.at, units) if isinstance(value.at, float) else value.at
        return f"{{lb: {pounds_told(value.lb or 0.0).removesuffix(' lb')}, at: {at}}}"
    if isinstance(value, float):
        return length_told(value, units) if name.endswith("_in") else f"{value:g}"
    return str(value)


def take_back_before(folder: Path) -> bool:
    """Remove `before.yaml` where it says nothing but what the rig file says; whether it did."""
    before, rig = folder / BEFORE, folder / RIG
    if not before.is_file() or before.read_bytes() != rig.read_bytes():
        return False
    before.unlink()
    return True


def keep_before(folder: Path) -> bool:
    """Copy the rig to `before.yaml`, if there is none; an old one is never overwritten."""
    if os.path.lexists(folder / BEFORE):
        return False
    write_atomic(folder / BEFORE, read_text(folder / RIG))
    return True
