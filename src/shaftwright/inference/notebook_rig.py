"""Where a notebook tells of another bow than the rig file does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from shaftwright.inference.rig_facts import usual
from shaftwright.records.rig import Rig
from shaftwright.units import inches

if TYPE_CHECKING:
    from shaftwright.records.notebook import AnyEntry


def unlike_rig(rig: Rig, entries: Sequence[AnyEntry]) -> tuple[str, ...]:
    """What the notebook's changes left of the bow, where the rig file says otherwise.

    Parameters
    ----------
    rig : Rig
        The rig as it stands now.
    entries : sequence
        A notebook's entries in order.

    Returns
    -------
    tuple of str
        A sentence for each; empty when they agree. Brace height is not held against it, which creeps.
    """
    from shaftwright.records.notebook import Change

    told: dict[str, object] = {}
    for entry in entries:
        if isinstance(entry, Change) and entry.rig_state is not None:
            state = entry.rig_state
            told |= {name: value for name in ("draw_weight_lb", "limbs_id", "plate_in", "nocking_point_in")
                     if (value := getattr(state, name)) is not None}  # fmt: skip
    bow = rig.bow
    found = []
    weight, of_rig = told.get("draw_weight_lb"), bow.draw_weight
    if (
        isinstance(weight, float) and of_rig.lb is not None and of_rig.at == "own_draw"
        and abs(weight - of_rig.lb) > usual("reading_apart", "scale_lb")
    ):  # fmt: skip
        found.append(("draw weight", f"{weight:g} lb", f"{of_rig.lb:g} lb"))
    limbs = told.get("limbs_id")
    if limbs is not None and bow.limbs_id is not None and limbs != bow.limbs_id:
        found.append(("limbs", str(limbs), bow.limbs_id))
    for name, value in (
        ("plate", None if bow.plate is None else bow.plate.thickness_in),
        ("nocking_point", None if bow.nocking_point is None else bow.nocking_point.above_square_in),
    ):
        said = told.get(f"{name}_in")
        if not isinstance(said, float) or not isinstance(value, float):
            continue
        if abs(said - value) > usual("reading_apart", "ruler_in"):
            found.append((name.replace("_", " "), inches(said), inches(value)))
    return tuple(
        f"the notebook's last change says {what} {now}, the rig file {file}: the rig file counts; "
        "change it if the bow has changed"
        for what, now, file in found
    )
