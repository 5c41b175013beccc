"""Which bow each reading was taken with: periods between changes, and the rig as it stood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shaftwright.inference.notebook_rig import unlike_rig
from shaftwright.records.notebook import AnyEntry, BareShaft, Broadhead, Change, RigState
from shaftwright.records.rig import DrawWeight, NockingPoint, Plate, Rig


@dataclass(frozen=True)
class Taken:
    """A reading and the bow it was taken with.

    Attributes
    ----------
    entry : BareShaft or Broadhead
        The reading.
    line : int
        Its line in the notebook; 0 where it has none.
    rig : Rig
        The rig as it stood; the same object for readings of the same state.
    period : int
        0 is the present one, 1 the one before the last change, and so on.
    other_limbs : bool
        Whether the limbs were others than now.
    """

    entry: BareShaft | Broadhead
    line: int
    rig: Rig
    period: int
    other_limbs: bool


@dataclass(frozen=True)
class Period:
    """A stretch of the notebook between two changes.

    Attributes
    ----------
    number : int
        0 is the present one.
    label : str
        What ended it, or `now`.
    readings : int
        Bare-shaft and broadhead entries in it.
    """

    number: int
    label: str
    readings: int


def arrange(
    rig: Rig, entries: Sequence[AnyEntry], lines: Sequence[int] = (), before: Rig | None = None
) -> tuple[list[Taken], list[Period], list[str]]:
    """Sort readings into periods, each with the rig as it stood.

    Parameters
    ----------
    rig : Rig
        The rig as it stands now.
    entries : sequence
        All entries of the notebook in file order.
    lines : sequence of int
        The line of each.
    before : Rig, optional
        The rig with the old limbs, for readings from before the last change of limbs.

    Returns
    -------
    taken : list of Taken
        In file order, those whose bow is known.
    periods : list of Period
        Newest first.
    warnings : list of str
        Readings left out, and why; before them where notebook and rig file tell of two bows.
    """
    changes = [(i, e) for i, e in enumerate(entries) if isinstance(e, Change)]
    last_limbs = max((i for i, e in changes if _of_limbs(e)), default=-1)
    taken: list[Taken] = []
    warnings = list(unlike_rig(rig, entries))
    counts: dict[int, int] = {}
    stood: dict[tuple[bool, str], Rig] = {}
    for index, entry in enumerate(entries):
        if not isinstance(entry, BareShaft | Broadhead):
            continue
        line = lines[index] if index < len(lines) else 0
        period = sum(1 for i, _ in changes if i > index)
        state = entry.rig_state or RigState()
        other = index < last_limbs or _labelled_other(state, rig, before)
        if other and period == 0:
            period = 1
        base = before if other and before is not None else rig
        if other and before is None and state.draw_weight_lb is None:
            warnings.append(
                f"line {line}: shot with other limbs whose draw weight is not told; left out. "
                "State rig_state: {draw_weight: ..} there, or give the old rig with --before"
            )
            continue
        counts[period] = counts.get(period, 0) + 1
        key = (base is rig, repr(state))
        if key not in stood:
            stood[key] = as_it_stood(base, state)
        taken.append(Taken(entry, line, stood[key], period, other))
    numbers = sorted({0, *counts})
    names = {n: "now" if n == 0 else _ended_by(changes, n) for n in numbers}
    return taken, [Period(n, names[n], counts.get(n, 0)) for n in numbers], warnings


def _ended_by(changes: list[tuple[int, Change]], number: int) -> str:
    return (
        f"before the change of {changes[-number][1].what}" if number <= len(changes) else "before"
    )


def _of_limbs(change: Change) -> bool:
    state = change.rig_state
    told = state is not None and (state.limbs_id is not None or state.draw_weight_lb is not None)
    words = f"{change.what}".lower()
    return told or any(word in words for word in ("limb", "bow", "riser", "draw weight"))


def _labelled_other(state: RigState, rig: Rig, before: Rig | None) -> bool:
    if state.limbs_id is None:
        return False
    if rig.bow.limbs_id is not None:
        return state.limbs_id != rig.bow.limbs_id
    return before is not None and state.limbs_id == before.bow.limbs_id


def as_it_stood(rig: Rig, state: RigState) -> Rig:
    """The rig with what an entry states otherwise.

    Parameters
    ----------
    rig : Rig
        The rig file.
    state : RigState
        What stood otherwise; a draw weight is the one at the own draw.

    Returns
    -------
    Rig
        The rig of that day.
    """
    bow = rig.bow
    change: dict[str, object] = {}
    if state.draw_weight_lb is not None:
        change["draw_weight"] = DrawWeight(lb=state.draw_weight_lb, at="own_draw")
    if state.brace_height_in is not None:
        change["brace_height_in"] = state.brace_height_in
    if state.plate_in is not None:
        material = bow.plate.material if bow.plate else "unknown"
        change["plate"] = Plate(thickness_in=state.plate_in, material=material)
    if state.nocking_point_in is not None:
        locators = bow.nocking_point.locators if bow.nocking_point else None
        change["nocking_point"] = NockingPoint(
            above_square_in=state.nocking_point_in, locators=locators
        )
    if state.limbs_id is not None:
        change["limbs_id"] = state.limbs_id
    return rig.model_copy(update={"bow": bow.model_copy(update=change)}) if change else rig
