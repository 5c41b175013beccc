"""An answer as the public interface hands it out: printed, drawn in a page, as plain data, as a table."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Generic, Protocol, TypeVar

from shaftwright.result import document

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.answers.scenario import Scenario


Rows = list[dict[str, Any]]
#: not of the arrow itself
_BESIDE: Final = ("format", "next", "shot", "seed", "rank", "marked")
_END: Final = re.compile(
    r"(.+?)((?:_(?:in|gr|lb|mils|fps|pct|ftlb)(?:_at_\d+yd)?)?)\.(mid|low|high|sd)"
)


def _at(*keys: str) -> Callable[[dict[str, Any]], Rows]:
    """The rows under a key of the document, or the key of a key."""

    def rows(found: Any) -> Rows:
        for key in keys:
            found = (found or {}).get(key)
        return list(found or [])

    return rows


def _of_arrow(whole: dict[str, Any]) -> Rows:
    return [{k: v for k, v in whole.items() if k not in _BESIDE and not isinstance(v, list)}]


def _added(whole: dict[str, Any]) -> Rows:
    from shaftwright.render.screens.explain import flat

    return [
        {"rule": row["label"], "saw": row.get("reason"), "adds_lb": row["value"],
         "adds_low_lb": row.get("low"), "adds_high_lb": row.get("high"), "basis": row.get("basis")}
        for row in flat(whole["trace"]["root"]["children"][0])
    ]  # fmt: skip


def _bought(whole: dict[str, Any]) -> Rows:
    parts = (("test kit", "test_kit"), ("list", "list"))
    return [{"part": part, **row} for part, key in parts for row in whole[key]]


def _heights(whole: dict[str, Any]) -> Rows:
    rows: dict[float, dict[str, Any]] = {}
    for what in ("speed", "sound", "bare"):
        for one in _at(what, "settings")(whole):
            row = rows.setdefault(one["brace_in"], {"brace_in": one["brace_in"]})
            row |= {f"{what}_shots" if k == "n" else k: v for k, v in one.items()}
    return [rows[height] for height in sorted(rows)] or list(whole["creep"])


def _lines(whole: dict[str, Any]) -> Rows:
    return [
        {k: v for k, v in row.items() if k not in ("ways", "chance")}
        | {"leads_to" if k == "row" else k: v for k, v in way.items()}
        for row in whole["rows"] for way in row["ways"]
    ]  # fmt: skip


#: question -> what a row of its table is, and the rows of its document
TABLES: Final[dict[str, tuple[str, Callable[[dict[str, Any]], Rows]]]] = {
    "next": ("an arrow shot, best first", _at("shot")),
    "choose": ("an arrow, best first", _at("builds")),
    "explain": ("the weight as stated, a rule or your shots, and the pounds that it adds", _added),
    "build": ("the arrow", _of_arrow),
    "bareshaft": ("a cause", _at("causes")),
    "shop": ("a thing of the test kit or of the list, as `part` says", _bought),
    "flight": ("a distance", _at("rows")),
    "launch": ("a change, and what it does",
               lambda one: [{k: v for k, v in row.items() if k != "by_law"} for row in one["sensitivities"]]),
    "efficiency": ("an arrow's weight", _at("predictions")),
    "card": ("a line of the card; its value carries its unit",
             lambda one: [{"field": name, **told} for name, told in one["fields"].items()]),
    "compare": ("a setup", _at("groups")),
    "brace": ("a brace height; without a sweep a string and how it settles", _heights),
    "report": ("an arrow, as `choose` lists them", _at("choose", "builds")),
    "sheet": ("a line of the sheet: a row's arrow, where the bare ones may land, and where that leads",
              _lines),
}  # fmt: skip


def column(name: str) -> str:
    """A column's name: the unit last, the middle of a range by the figure's own name.

    Examples
    --------
    >>> column("speed_fps.mid"), column("speed_fps.low"), column("efficiency_range.low")
    ('speed_fps', 'speed_low_fps', 'efficiency_range_low')
    """
    found = _END.fullmatch(name)
    if found is None:
        return name
    stem, unit, end = found.groups()
    return f"{stem}{unit}" if end == "mid" else f"{stem}_{end}{unit}"


class _Documented(Protocol):
    def to_dict(self) -> dict[str, Any]: ...


T = TypeVar("T", bound=_Documented)


@dataclass(frozen=True)
class Shown(Generic[T]):
    """An answer: it prints as in the terminal and draws itself in a notebook page.

    Attributes
    ----------
    result : T
        The answer itself, a frozen dataclass with typed fields; units stand in the fields' names.
    """

    result: T
    #: None for readings without a bow
    _scenario: Scenario | None
    _text: Callable[[bool], str]
    #: what was asked, which tells the rows of the table
    _asked: str

    def __str__(self) -> str:
        return self._text(False)

    __repr__ = __str__

    def full(self) -> str:
        """Everything, as `--full` prints it."""
        return self._text(True)

    def _repr_html_(self) -> str:
        import html

        return f"<pre>{html.escape(str(self))}</pre>"

    def to_dict(self) -> dict[str, Any]:
        """The document that `--json` prints, as plain data."""
        asked = self._scenario
        plan = {"next": None, "shot": None} if asked is None else asked.plan.keys()
        return document(plan, self.result.to_dict())

    def to_frame(self) -> pd.DataFrame:
        """The table that the command shows, units in the names of its columns.

        Returns
        -------
        pandas.DataFrame
            What a row is of each answer stands in the reference.
        """
        import pandas as pd

        table = pd.json_normalize(TABLES[self._asked][1](self.to_dict()), sep=".")
        return table.rename(columns=column)
