"""Notebook entries as tables of readings, one a kind, in the order written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shaftwright.records.notebook import BareShaft, BraceReading, Change, Chrono, RigState, Sound

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.records.notebook import AnyEntry

_SETUP = ("string", "stringing", "silencers", "shaft", "brace_in", "instrument", "arrow_mass_gr")
_CHRONO = ("speed_fps", "draw_in", "distance_yd")
_SOUND = ("level_db", "weighting", "response", "background_db", "position")
_STATE = {"draw_weight_lb": "draw_weight_lb", "brace_in": "brace_height_in", "string": "string",
          "plate_in": "plate_in", "nocking_point_in": "nocking_point_in", "limbs_id": "limbs_id"}  # fmt: skip


@dataclass(frozen=True)
class Frames:
    """The readings of a notebook.

    Parameters
    ----------
    speeds, levels, braces, bare : DataFrame
        One chronograph reading, sound level, brace reading or bare shaft a row; columns as
        `compare`, `compare_sound`, `creep` and `sweep` take them, and `period`, which counts the
        changes written before the reading.
    """

    speeds: pd.DataFrame
    levels: pd.DataFrame
    braces: pd.DataFrame
    bare: pd.DataFrame


def frames(entries: Iterable[AnyEntry]) -> Frames:
    """Sort notebook entries into tables.

    Parameters
    ----------
    entries : iterable of records
        Entries in the order written.

    Returns
    -------
    Frames
        Tables, empty where nothing was read. What an entry does not say itself is taken from its
        `rig_state`.
    """
    import pandas as pd

    speeds: list[dict[str, Any]] = []
    levels: list[dict[str, Any]] = []
    braces: list[dict[str, Any]] = []
    bare: list[dict[str, Any]] = []
    period = 0
    for entry in entries:
        common = {"date": entry.date, "period": period, **_state(entry.rig_state)}
        if isinstance(entry, Change):
            period += 1
        elif isinstance(entry, Chrono):
            speeds.append(common | _said(entry, _SETUP + _CHRONO))
        elif isinstance(entry, Sound):
            levels.append(common | _said(entry, _SETUP + _SOUND))
        elif isinstance(entry, BraceReading):
            braces.append(common | _said(entry, ("brace_in", "shots_on", "twists", "string")))
        elif isinstance(entry, BareShaft):
            row = common | {"shaft": entry.build.shaft, "distance_yd": entry.distance_yd}
            bare += [row | {"x_in": shot.at[0], "y_in": shot.at[1]} for shot in entry.bare]
    return Frames(
        pd.DataFrame(speeds, columns=_columns(_SETUP + _CHRONO)),
        pd.DataFrame(levels, columns=_columns(_SETUP + _SOUND)),
        pd.DataFrame(braces, columns=_columns(("shots_on", "twists"))),
        pd.DataFrame(bare, columns=_columns(("shaft", "distance_yd", "x_in", "y_in"))),
    )


def _columns(names: tuple[str, ...]) -> list[str]:
    return list(dict.fromkeys(("date", "period", *_STATE, *names)))


def _state(state: RigState | None) -> dict[str, Any]:
    if state is None:
        return {}
    said = {name: getattr(state, field) for name, field in _STATE.items()}
    return {name: value for name, value in said.items() if value is not None}


def _said(entry: Any, names: tuple[str, ...]) -> dict[str, Any]:
    said = {name: getattr(entry, name) for name in names}
    return {name: value for name, value in said.items() if value is not None}
