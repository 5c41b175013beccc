"""Readings as a table: groups, stringings, order; nothing is computed from them here."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array
from shaftwright.errors import Fault, InputError, NoAnswer, nearest
from shaftwright.limits import refuse, several
from shaftwright.measure.anytime import Cells
from shaftwright.measure.frames import summed
from shaftwright.resources import table

if TYPE_CHECKING:
    import pandas as pd


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
    refuse(several("by", by))
    found: dict[str, None] = {}
    faults = []
    for name in (part.strip() for text in by for part in text.split(",")):
        key = name if name in FIELDS else name.removesuffix("_in").removesuffix("_gr")
        if key in FIELDS:
            found[FIELDS[key]] = None
            continue
        close = nearest(name, FIELDS, 0.6)
        hint = f"did you mean {close}? " if close else ""
        problem = f"is not a setup field; {hint}allowed: {', '.join(FIELDS)}"
        faults.append(Fault("by", problem, None, "", name))
    if faults:
        raise InputError(faults)
    return list(found)


def restrings(field: str) -> bool:
    """Whether a change of this setup field means stringing the bow again.

    Parameters
    ----------
    field : str
        A setup field, as in `tables/setup_fields.csv`; one that is not listed counts as yes.

    Returns
    -------
    bool
        True if shots of two groups cannot share one stringing.

    Examples
    --------
    >>> restrings("string"), restrings("shaft")
    (True, False)
    """
    return {row["field"]: row["restrings"] for row in table("setup_fields")}.get(field) != "no"


def natural(name: str) -> tuple[Any, ...]:
    """Sorting key under which 7.5 comes before 10 and A before B."""
    try:
        return (0, float(name), name)
    except ValueError:
        return (1, 0.0, name)


@dataclass(frozen=True)
class Sorted:
    """Readings of one quantity, sorted into groups and stringings.

    Parameters
    ----------
    names : tuple of str
        Groups in natural order.
    rows : DataFrame
        The readings in the order shot, numbered as they were given, with `group`, `stringing`
        (numbered across groups) and `value`.
    warnings : tuple of str
        What had to be assumed.
    """

    names: tuple[str, ...]
    rows: pd.DataFrame
    warnings: tuple[str, ...]

    @cached_property
    def values(self) -> list[Array]:
        """Readings of every group, in the order given."""
        return [part.to_numpy() for _, part in self.rows.groupby("group")["value"]]

    @cached_property
    def strung(self) -> list[NDArray[np.intp]]:
        """Stringing of every reading of every group, from 0 within the group."""
        grouped = self.rows.groupby("group")["stringing"]
        return [np.unique(part, return_inverse=True)[1] for _, part in grouped]

    @cached_property
    def cells(self) -> pd.DataFrame:
        """Readings summed up by group and stringing."""
        return summed(self.rows, ("group", "stringing"), "value").set_index(["group", "stringing"])

    def pair(self, a: int, b: int) -> Cells:
        """Two groups summed up by stringing."""
        wide = self.cells.loc[[a, b], ["n", "mean"]].unstack("group", fill_value=0)
        n, mean = (wide[name][[a, b]].to_numpy(dtype=float).T for name in ("n", "mean"))
        return Cells(n, mean, np.array([self.cells["squares"].loc[g].sum() for g in (a, b)]))

    def alternates(self, a: int, b: int) -> Array | None:
        """Differences a - b of shots that alternate within stringings both share, or None.

        Two and two in the order given, each two holding one of either and one stringing.
        """
        rows = self.rows[self.rows["group"].isin((a, b))]
        # A last shot without its partner waits: else every other look would use another test.
        whole = len(rows) // 2 * 2
        group, stringing, value = (
            rows[name].to_numpy()[:whole].reshape(-1, 2) for name in ("group", "stringing", "value")
        )
        if whole < 4 or (np.diff(group) == 0).any() or np.diff(stringing).any():
            return None
        return np.asarray(np.where(group[:, 0] == a, 1.0, -1.0) * (value[:, 0] - value[:, 1]))


def _label(frame: pd.DataFrame, fields: Sequence[str]) -> pd.Series[str]:
    """One text a reading; numbers lose a needless .0, missing values stay missing."""

    def column(name: str) -> pd.Series[str]:
        write = "{:g}".format if frame[name].dtype.kind in "fiu" else str
        return frame[name].map(write, na_action="ignore").astype(object)

    label = column(fields[0])
    for name in fields[1:]:
        label = label + " / " + column(name)
    return label


def sort_readings(frame: pd.DataFrame, fields: Sequence[str], quantity: str) -> Sorted:
    """Sort readings into groups by a setup field, and within them into stringings.

    Parameters
    ----------
    frame : DataFrame
        One reading a row, in the order shot, with every column.
    fields : sequence of str
        Setup fields.
    quantity : str
        Column of the readings.

    Returns
    -------
    Sorted
        At least one group.

    Raises
    ------
    NoAnswer
        The field or the quantity is in no reading.

    Notes
    -----
    Which stringing a shot belongs to is told by `string` and `stringing` together. Where the field
    itself cannot change without restringing (string, brace, limbs), every group has stringings of
    its own. Where none is written down, all shots of a group (of a day and string, if the field
    changes on a strung bow) count as one stringing: the careful reading.
    """
    import pandas as pd

    absent = [name for name in fields if frame[name].isna().all()]
    if absent:
        raise NoAnswer(f"no reading says {', '.join(absent)}: nothing to compare by")
    warnings = []
    label, value = _label(frame, fields), pd.to_numeric(frame[quantity], errors="coerce")
    read = np.isfinite(value)
    good = read & label.notna()
    if not good.any():
        raise NoAnswer(f"no reading has both {quantity} and {', '.join(fields)}")
    if good.sum() < read.sum():
        warnings.append(f"{(read & ~good).sum()} readings without {', '.join(fields)} are left out")
    rows, label = frame[good], label[good]
    names = tuple(sorted(pd.unique(label), key=natural))
    group = pd.Categorical(label, categories=list(names)).codes.astype(int)

    def text(name: str) -> Any:
        return rows[name].map(str, na_action="ignore").astype(object).fillna("").to_numpy()

    own = any(restrings(name) for name in fields)
    parts = [group] if own else []
    parts.append(text("string"))
    missing = int(rows["stringing"].isna().sum())
    if missing < len(rows):
        parts.append(text("stringing"))
        if missing:
            warnings.append(
                f"{missing} readings without `stringing` count as one stringing a group"
            )
    else:
        of = "all shots of a group" if own else "shots of one string and day"
        warnings.append(f"no `stringing` is written down: {of} count as one stringing")
        if not own:
            parts.append(text("date"))
    stringing = rows.groupby(parts, sort=False).ngroup()
    rows = rows.assign(group=group, stringing=stringing, value=value[good].astype(float))
    return Sorted(names, rows, tuple(warnings))
