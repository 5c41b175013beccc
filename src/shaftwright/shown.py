"""An answer as the public interface hands it out: printed, drawn in a page, as plain data, as a table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from shaftwright.result import document

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.answers.scenario import Scenario


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
    #: key of the document whose rows make the table; empty for an answer of one row
    _rows: str

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
        """The answer's rows as a table, units in the names of its columns.

        Returns
        -------
        pandas.DataFrame
            A row an arrow, a shot, a cause, a thing to buy or a distance: whatever the answer lists.
        """
        import pandas as pd

        whole = self.to_dict()
        rows = whole.get(self._rows) or [] if self._rows else [whole]
        return pd.json_normalize(list(rows), sep=".")
