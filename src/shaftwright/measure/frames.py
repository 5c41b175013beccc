"""Notebook entries as tables of readings, one a kind, in the order written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from shaftwright.records.notebook import AnyEntry, BareShaft, BraceReading, Change, Chrono, Sound

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.files.readings import ReadingsFile

_SETUP = ("string", "stringing", "silencers", "shaft", "brace_in", "instrument", "arrow_mass_gr")
#: columns that an entry fills by the names of its fields
_OWN: dict[type, tuple[str, ...]] = {
    Chrono: (*_SETUP, "speed_fps", "draw_in", "distance_yd"),
    Sound: (*_SETUP, "level_db", "weighting", "response", "background_db", "position"),
    BraceReading: ("brace_in", "shots_on", "twists", "string"),
}
_STATE = {"draw_weight_lb": "draw_weight", "brace_in": "brace_height_in", "string": "string",
          "plate_in": "plate_in", "nocking_point_in": "nocking_point_in", "limbs_id": "limbs_id"}  # fmt: skip
#: what any table of readings may say; a column that nobody wrote is empty
COLUMNS = tuple(
    dict.fromkeys(("date", "period", *_STATE, *(n for own in _OWN.values() for n in own), "x_in", "y_in"))
)  # fmt: skip


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


def full(rows: Any) -> pd.DataFrame:
    """Readings with every column, numbered from 0.

    Parameters
    ----------
    rows : DataFrame, mapping or list of mappings
        Readings as they come.

    Returns
    -------
    DataFrame
        What nobody wrote is NaN.
    """
    import pandas as pd

    frame = pd.DataFrame(rows)
    missing = [name for name in COLUMNS if name not in frame.columns]
    return frame.reindex(columns=[*frame.columns, *missing]).reset_index(drop=True)


def summed(frame: pd.DataFrame, keys: Sequence[str], column: str) -> pd.DataFrame:
    """Readings summed up by their keys.

    Parameters
    ----------
    frame : DataFrame
        One reading a row.
    keys : sequence of str
        Columns that tell them apart; an empty one is a value of its own.
    column : str
        What was read.

    Returns
    -------
    DataFrame
        The keys, `n`, `mean` and `squares`, the sum of squares about the mean.
    """
    cells: Any = frame.groupby(list(keys), dropna=False)[column].agg(
        n="count", mean="mean", variance="var"
    )
    squares = cells.pop("variance").fillna(0.0) * (cells["n"] - 1)
    result: pd.DataFrame = cells.assign(squares=squares).reset_index()
    return result


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
    read: dict[type, list[dict[str, Any]]] = {kind: [] for kind in (*_OWN, BareShaft)}
    period = 0
    for entry in entries:
        row = {"date": entry.date, "period": period, **_said(entry.rig_state, _STATE)}
        if isinstance(entry, Change):
            period += 1
        elif isinstance(entry, BareShaft):
            row |= {"shaft": entry.build.shaft, "distance_yd": entry.distance_yd}
            shots = [{"x_in": shot.at[0], "y_in": shot.at[1]} for shot in entry.bare]
            read[BareShaft] += [row | shot for shot in shots]
        elif type(entry) in _OWN:
            own = _OWN[type(entry)]
            read[type(entry)].append(row | _said(entry, dict(zip(own, own, strict=True))))
    return Frames(*(full(rows) for rows in read.values()))


def frames_of_file(readings: ReadingsFile) -> Frames:
    """Readings of a CSV file as the tables that `frames` makes of a notebook.

    Parameters
    ----------
    readings : ReadingsFile
        Columns as read.

    Returns
    -------
    Frames
        Without braces and bare shafts.
    """
    return Frames(full(readings.chrono), full(readings.sound), full(()), full(()))


def _said(entry: Any, fields: dict[str, str]) -> dict[str, Any]:
    """What a record says, by column."""
    if entry is None:
        return {}
    said = {name: getattr(entry, field) for name, field in fields.items()}
    told = ((name, getattr(value, "lb", value)) for name, value in said.items())
    return {name: value for name, value in told if value is not None}
