"""The bow as it stands: the rig file, and what the notebook says was changed since it was written."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from shaftwright.inference.evidence.periods import (
    History,
    alike,
    as_it_stood,
    of_rig,
    one_scale,
    value_told,
)
from shaftwright.records.notebook import AnyEntry, RigState
from shaftwright.records.rig import DrawWeight, Rig

_NAMES = {
    "draw_weight": "draw weight", "limbs_id": "limbs", "plate_in": "plate",
    "nocking_point_in": "nocking point", "plunger": "plunger", "tiller_in": "tiller",
    "string_material": "string material", "draw_length_in": "draw length", "release": "release",
    "brace_height_in": "brace height",
}  # fmt: skip


def rig_now(rig: Rig, entries: Sequence[AnyEntry]) -> tuple[Rig, tuple[str, ...]]:
    """The rig with what the last changes of a notebook say, where the file does not say so yet.

    Parameters
    ----------
    rig : Rig
        The rig file.
    entries : sequence
        A notebook's entries in order.

    Returns
    -------
    rig : Rig
        The bow as it stands. A file that differs from the last change and from all that stood before
        the changes was edited since, and counts.
    remarks : tuple of str
        A sentence for each thing on which file and notebook differ.
    """
    history = History(rig, entries)
    last: dict[str, Any] = {}
    #: how it stood before each change, None where nothing told
    stood: dict[str, list[Any]] = {}
    drawn = weighed_at = rig.archer.draw_length_in
    for (_, change, _), known in zip(history.changes, history.known, strict=True):
        stated = change.rig_state.stated() if change.rig_state is not None else {}
        for name in stated.keys() & _NAMES.keys():
            stood.setdefault(name, []).append(known.get(name))
            last[name] = stated[name]
        drawn = last.get("draw_length_in", drawn)
        weighed_at = drawn if "draw_weight" in stated else weighed_at
    here = of_rig(rig) | {
        "draw_length_in": rig.archer.draw_length_in,
        "release": rig.archer.release,
    }
    update: dict[str, Any] = {}
    remarks = []
    for name, value in sorted(last.items()):
        now = here.get(name)
        if now is None and name in ("draw_weight", "limbs_id"):
            continue
        if now is not None and alike(name, value, now):
            continue
        # a file that says nothing, or what stood before any of the changes, was not edited since
        edited = now is not None and not any(_unedited(name, b, value, now) for b in stood[name])
        if not edited:
            update[name] = value
        counts = "the rig file counts" if edited else "the notebook counts; write it into rig.yaml"
        remarks.append(
            f"the notebook's last change says {_NAMES[name]} {_told(value, rig)}, the rig file "
            f"{'nothing' if now is None else _told(now, rig)}: {counts}"
        )
    weight = update.get("draw_weight")
    if isinstance(weight, DrawWeight) and weight.at == "own_draw" and weighed_at != drawn:
        update["draw_weight"] = DrawWeight(lb=weight.lb, at=weighed_at)
    return as_it_stood(rig, RigState.model_construct(**update)), tuple(remarks)


def _unedited(name: str, before: Any, after: Any, now: Any) -> bool:
    """Whether the file may still say what stood before a change."""
    if before is None or alike(name, before, now):
        return True
    # a weight told at another draw tells nothing of the file's
    return one_scale(after, now) and not one_scale(before, now)


def _told(value: Any, rig: Rig) -> str:
    return value_told(value, rig.units).replace("_", " ")
