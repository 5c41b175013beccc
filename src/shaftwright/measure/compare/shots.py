"""What a comparison can be made by, and the single shots behind it, for a picture."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from shaftwright.errors import Fault, InputError, NoAnswer
from shaftwright.measure.compare.anytime import Array
from shaftwright.measure.compare.readings import sort_readings
from shaftwright.measure.frames import Frames
from shaftwright.measure.use import correct_speed

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.files.readings import ReadingsFile

#: setup field, as archers write it -> column of the tables of readings
FIELDS = {
    "string": "string", "silencers": "silencers", "shaft": "shaft", "brace": "brace_in",
    "arrow_mass": "arrow_mass_gr", "limbs_id": "limbs_id", "draw_weight": "draw_weight_lb",
    "plate": "plate_in", "nocking_point": "nocking_point_in", "draw": "draw_in",
    "instrument": "instrument", "date": "date", "stringing": "stringing", "period": "period",
}  # fmt: skip


def fields_of(by: Iterable[str]) -> list[str]:
    """Columns of the setup fields to compare by.

    Parameters
    ----------
    by : iterable of str
        Fields as archers write them; several may stand in one text with commas between.

    Returns
    -------
    list of str
        Columns, each once, in the order given.

    Raises
    ------
    InputError
        A field that is not known, with the nearest right spelling.

    Examples
    --------
    >>> fields_of(["string,brace"])
    ['string', 'brace_in']
    """
    found: dict[str, None] = {}
    faults = []
    for name in (part.strip() for text in by for part in text.split(",")):
        key = name if name in FIELDS else name.removesuffix("_in").removesuffix("_gr")
        if key in FIELDS:
            found[FIELDS[key]] = None
            continue
        close = difflib.get_close_matches(name, FIELDS, 1, 0.6)
        hint = f"did you mean {close[0]}? " if close else ""
        problem = f"is not a setup field; {hint}allowed: {', '.join(FIELDS)}"
        faults.append(Fault("--by", problem, None, "", name))
    if faults:
        raise InputError(faults)
    return list(found)


def speeds_to_compare(tables: Frames, fields: list[str]) -> pd.DataFrame:
    """The speeds, or none where the levels alone say what to compare by.

    Parameters
    ----------
    tables : Frames
        All readings.
    fields : list of str
        Columns that make the groups.

    Returns
    -------
    DataFrame
        All speeds or none.
    """

    def say(frame: pd.DataFrame) -> bool:
        return len(frame) > 0 and all(f in frame.columns and frame[f].notna().any() for f in fields)

    only_levels = say(tables.levels) and not say(tables.speeds)
    return tables.speeds.iloc[:0] if only_levels else tables.speeds


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
    import pandas as pd

    return Frames(_frame(readings.chrono), _frame(readings.sound), pd.DataFrame(), pd.DataFrame())


def _frame(columns: dict[str, list[Any]]) -> pd.DataFrame:
    import pandas as pd

    frame = pd.DataFrame(columns)
    for name in frame.columns:
        if name.endswith(("_fps", "_gr", "_in", "_yd", "_db")):
            frame[name] = pd.to_numeric(frame[name])
    return frame


@dataclass(frozen=True)
class GroupShots:
    """The single readings of one group.

    Attributes
    ----------
    name : str
        The group.
    value : array, shape (n,)
        Readings, speeds at the common arrow mass [fps or dB].
    stringing : array of int, shape (n,)
        Stringing of each, from 0 within the group.
    """

    name: str
    value: Array
    stringing: Array


def shots_of(
    readings: pd.DataFrame,
    fields: list[str],
    quantity: str,
    mass_correction: dict[str, Any] | None = None,
) -> tuple[GroupShots, ...]:
    """The shots behind a comparison, in groups.

    Parameters
    ----------
    readings : DataFrame
        As given to `compare`.
    fields : list of str
        Columns that make the groups.
    quantity : str
        `speed_fps` or `level_db`.
    mass_correction : dict, optional
        Of the comparison; speeds are turned to its common mass where it was applied.

    Returns
    -------
    tuple of GroupShots
        Empty when nothing can be grouped.
    """
    frame = readings
    if mass_correction is not None and mass_correction["applied"]:
        to = mass_correction["reference_gr"]
        mass = frame["arrow_mass_gr"].astype(float).fillna(to)
        k = mass_correction["virtual_mass_gr"]["mid"]
        frame = frame.assign(speed_fps=correct_speed(frame["speed_fps"], mass, to, k))
    try:
        data = sort_readings(frame, fields, quantity)
    except NoAnswer:
        return ()
    return tuple(
        GroupShots(
            name, data.of(g),
            np.unique(data.stringing[data.group == g], return_inverse=True)[1].astype(float),
        )
        for g, name in enumerate(data.names)
    )  # fmt: skip
