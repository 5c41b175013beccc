"""An answer as the public interface hands it out; readings held against each other, with or without a bow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from shaftwright.result import document

if TYPE_CHECKING:
    import pandas as pd

    from shaftwright.answers.scenario import Scenario
    from shaftwright.measure.brace import Brace
    from shaftwright.measure.compare import Comparison
    from shaftwright.measure.frames import Frames
    from shaftwright.records.notebook import AnyEntry


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


def compare(
    readings: Frames, by: Sequence[str] = ("string",), distance_yd: float = 20.0,
    asked: Scenario | None = None,
) -> Shown[Comparison]:  # fmt: skip
    """Readings of a notebook or a file held against each other; of a bow where one is known."""
    from shaftwright.measure.compare import compare
    from shaftwright.measure.readings import fields_of
    from shaftwright.measure.use import Drop, vacuum_drop_in
    from shaftwright.render.screens.compare import compare_text

    fields, virtual = fields_of(by), None
    drop: Drop = vacuum_drop_in
    if asked is not None:
        from shaftwright.measure.of_rig import drop_through_air, virtual_mass_gr

        virtual = virtual_mass_gr(asked.rig, asked.demand_without_speed(asked.reference_build()))
        mass = readings.speeds["arrow_mass_gr"].astype(float).median()
        if mass == mass:
            drop = drop_through_air(float(mass))
    found = compare(
        readings.speeds, fields, sound=readings.levels, virtual_mass_gr=virtual,
        distance_yd=distance_yd, drop_in=drop,
    )  # fmt: skip
    return Shown(found, asked, lambda full: compare_text(found, asked), "groups")


def brace(
    entries: Sequence[AnyEntry], material: str | None = None, asked: Scenario | None = None
) -> Shown[Brace]:
    """A sweep of brace heights in a notebook, and strings that settle; of a bow where one is known."""
    from shaftwright.measure.brace import brace_answer
    from shaftwright.measure.frames import frames
    from shaftwright.render.screens.brace import brace_text

    found = brace_answer(frames(entries), material)
    return Shown(found, asked, lambda full: brace_text(found), "creep")
