"""Everything one page tells of a bow, gathered once."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

from shaftwright.answers.card.card import Card, card
from shaftwright.answers.choose.choose import Choice, Ladder, choose, ladder_of
from shaftwright.answers.choose.density import BandCurves, band_curves
from shaftwright.answers.choose.map import BuildMap, build_map
from shaftwright.answers.diagnose import Diagnosis, Progress, diagnose, progress
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.answers.shop.shopping import Shopping, Wishes, shopping
from shaftwright.errors import NoAnswer
from shaftwright.limits import REPORTED, TOP, number, refuse
from shaftwright.records.notebook import BareShaft
from shaftwright.result import kept

_T = TypeVar("_T")


@dataclass(frozen=True)
class Report(Answer):
    """What the page is drawn from; its document is put together from those of the single commands."""

    date: datetime.date
    choice: Choice = field(metadata=kept(json="choose"))
    map: BuildMap = field(metadata=kept(json=False))
    ladder: Ladder = field(metadata=kept(json=False))
    bands: BandCurves = field(metadata=kept(json=False))
    #: when some bare shafts were shot with the bow as it stands
    progress: Progress | None = field(metadata=kept(json=False))
    card: Card
    #: likewise
    diagnosis: Diagnosis | None = field(metadata=kept(json="bareshaft"))
    #: with a stock
    shopping: Shopping | None = field(metadata=kept(json="shop"))
    #: what was asked for and has no answer, and why
    gaps: tuple[str, ...]


def report(
    asked: Scenario, date: datetime.date, top: int = TOP, wishes: Wishes | None = None,
    choice: Choice | None = None,
) -> Report:  # fmt: skip
    """Gather everything one page tells; `choice` where it is known already."""
    refuse(number("top", top, REPORTED))
    choice = choose(asked, asked.stock, None, top) if choice is None else choice
    gaps: list[str] = []
    shot = any(isinstance(entry, BareShaft) for entry in asked.entries)
    return Report(
        asked, date, choice, build_map(choice), ladder_of(choice), band_curves(choice), progress(asked),
        card(asked, date),
        _unless("bare shafts", gaps, lambda: diagnose(asked)) if shot else None,
        _unless("shopping list", gaps, lambda: shopping(asked, wishes)) if choice.listed else None,
        tuple(gaps),
    )  # fmt: skip


def _unless(what: str, gaps: list[str], find: Callable[[], _T]) -> _T | None:
    """An answer, or a gap where there is none."""
    try:
        return find()
    except NoAnswer as none:
        gaps.append(f"{what}: {none}")
        return None
