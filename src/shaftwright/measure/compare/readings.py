"""Readings as a table: groups, stringings, order; nothing is computed from them here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.errors import NoAnswer
from shaftwright.measure.compare.anytime import Array, Cells
from shaftwright.measure.values import restrings

if TYPE_CHECKING:
    import pandas as pd

NAMED_FEW = 5


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
    group : array of int, shape (n,)
        Group of each reading.
    stringing : array of int, shape (n,)
        Stringing of each reading, numbered across groups.
    value : array, shape (n,)
        The readings.
    row : array of int, shape (n,)
        Position of each reading in what was given, from 0.
    warnings : tuple of str
        What had to be assumed.
    """

    names: tuple[str, ...]
    group: NDArray[np.intp]
    stringing: NDArray[np.intp]
    value: Array
    row: NDArray[np.intp]
    warnings: tuple[str, ...] = ()
    cells: Any = field(default=None, compare=False)

    def of(self, index: int) -> Array:
        """Readings of one group, in the order given."""
        return np.asarray(self.value[self.group == index], dtype=float)

    def pair(self, a: int, b: int) -> Cells:
        """Two groups summed up by stringing."""
        stats = self.cells
        held = [stats[stats["group"] == g].set_index("stringing") for g in (a, b)]
        keys = held[0].index.union(held[1].index)
        n, mean, squares = [], [], []
        for part in held:
            n.append(part["n"].reindex(keys, fill_value=0).to_numpy(dtype=float))
            mean.append(part["mean"].reindex(keys, fill_value=0.0).to_numpy(dtype=float))
            squares.append(float(part["squares"].sum()))
        return Cells(n[0], n[1], mean[0], mean[1], squares[0], squares[1])

    def alternates(self, a: int, b: int) -> Array | None:
        """Differences a - b of shots that alternate within stringings both share, or None.

        Two and two in the order given, each two holding one of either and one stringing.
        """
        mask = (self.group == a) | (self.group == b)
        # A last shot without its partner waits: else every other look would use another test.
        whole = int(mask.sum()) // 2 * 2
        group, stringing, value = (
            x[mask][:whole] for x in (self.group, self.stringing, self.value)
        )
        if whole < 4:
            return None
        group, stringing = group.reshape(-1, 2), stringing.reshape(-1, 2)
        if (group[:, 0] == group[:, 1]).any() or (stringing[:, 0] != stringing[:, 1]).any():
            return None
        sign = np.where(group[:, 0] == a, 1.0, -1.0)
        return np.asarray(sign * (value[0::2] - value[1::2]), dtype=float)


def _label(frame: pd.DataFrame, fields: Sequence[str]) -> pd.Series[str]:
    """One text a reading; numbers lose a needless .0, missing values stay missing."""

    def column(name: str) -> pd.Series[str]:
        series = frame[name]
        if series.dtype.kind in "fiu":
            return series.map(lambda v: f"{v:g}", na_action="ignore").astype(object)
        return series.map(str, na_action="ignore").astype(object)

    label = column(fields[0])
    for name in fields[1:]:
        label = label + " / " + column(name)
    return label


def sort_readings(frame: pd.DataFrame, by: str | Sequence[str], quantity: str) -> Sorted:
    """Sort readings into groups by a setup field, and within them into stringings.

    Parameters
    ----------
    frame : DataFrame
        One reading a row, in the order shot. Columns: `quantity`, the fields of `by`, and where
        known `stringing`, `string`, `date`.
    by : str or sequence of str
        Setup field or fields.
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

    fields = [by] if isinstance(by, str) else list(by)
    absent = [name for name in fields if name not in frame.columns or frame[name].isna().all()]
    if absent:
        raise NoAnswer(f"no reading says {', '.join(absent)}: nothing to compare by")
    warnings: list[str] = []
    value = pd.to_numeric(frame[quantity], errors="coerce").to_numpy(dtype=float)
    label = _label(frame, fields)
    good = np.isfinite(value) & label.notna().to_numpy()
    if not good.any():
        raise NoAnswer(f"no reading has both {quantity} and {', '.join(fields)}")
    lost = int((~label.notna() & np.isfinite(value)).sum())
    if lost:
        warnings.append(f"{lost} readings without {', '.join(fields)} are left out")
    kept, label, row = frame[good], label[good], np.flatnonzero(good)
    names = tuple(sorted(pd.unique(label), key=natural))
    group = pd.Categorical(label, categories=list(names)).codes.astype(np.intp)

    own = any(restrings(name) for name in fields)
    written = "stringing" in kept.columns and kept["stringing"].notna().any()
    parts: list[Any] = [pd.Series(group, index=kept.index)] if own else []
    if "string" in kept.columns:
        parts.append(kept["string"].astype(object).fillna(""))
    if written:
        parts.append(kept["stringing"].astype(object).map(str, na_action="ignore").fillna(""))
        missing = int(kept["stringing"].isna().sum())
        if missing:
            warnings.append(
                f"{missing} readings without `stringing` count as one stringing a group"
            )
    else:
        warnings.append(
            "no `stringing` is written down: all shots of a group count as one stringing"
            if own
            else "no `stringing` is written down: shots of one string and day count as one stringing"
        )
        if not own and "date" in kept.columns:
            parts.append(kept["date"].astype(object).map(str, na_action="ignore").fillna(""))
    stringing = np.zeros(len(kept), dtype=np.intp)
    for part in parts:
        codes = pd.factorize(part)[0].astype(np.intp)
        stringing = pd.factorize(stringing * (codes.max() + 1) + codes)[0].astype(np.intp)

    table = pd.DataFrame({"group": group, "stringing": stringing, "value": value[good]})
    grouped = table.groupby(["group", "stringing"], sort=True)["value"]
    cells = grouped.agg(n="count", mean="mean", variance="var").reset_index()
    cells["squares"] = cells["variance"].fillna(0.0) * (cells["n"] - 1)
    return Sorted(names, group, stringing, value[good], row, tuple(warnings), cells)
