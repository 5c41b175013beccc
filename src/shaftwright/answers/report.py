"""Everything one page tells of a rig, gathered once."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shaftwright.answers.card import Card, card
from shaftwright.answers.choose import Choice, choose
from shaftwright.answers.density import BandCurves, band_curves
from shaftwright.answers.ladder import Ladder, ladder_of
from shaftwright.answers.map import BuildMap, build_map
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import NoAnswer
from shaftwright.records.notebook import AnyEntry, BareShaft, Broadhead, BuildSpec
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock

if TYPE_CHECKING:
    from shaftwright.answers.diagnose import Diagnosis
    from shaftwright.answers.shop.shopping import Shopping, Wishes


@dataclass(frozen=True)
class Report:
    """What the page is drawn from.

    Attributes
    ----------
    date : datetime.date
        The day it speaks of.
    advice : str
        What to do next, in one line.
    choice : Choice
        Band, builds, reasons, cautions.
    map, ladder, bands : BuildMap, Ladder, BandCurves
        What the pictures are drawn from.
    card : Card
        Everything needed to rebuild the rig, with the arrow last tested, else the best of the list.
    diagnosis : Diagnosis or None
        What the bare shafts say, when some were shot with the bow as it stands.
    shopping : Shopping or None
        Test shafts and the final list, with a stock.
    gaps : tuple of str
        Parts that were asked for and have no answer, and why.
    """

    date: datetime.date
    advice: str
    choice: Choice
    map: BuildMap
    ladder: Ladder
    bands: BandCurves
    card: Card
    diagnosis: Diagnosis | None = None
    shopping: Shopping | None = None
    gaps: tuple[str, ...] = ()

    @property
    def scenario(self) -> Scenario:
        """Rig, purpose, rules and belief."""
        return self.choice.question

    @property
    def rig(self) -> Rig:
        """The rig."""
        return self.choice.question.rig


def report(
    asked: Scenario, date: datetime.date, stock: Stock | None = None,
    entries: Sequence[AnyEntry] = (), lines: Sequence[int] = (), before: Rig | None = None,
    top: int = 6, wishes: Wishes | None = None, choice: Choice | None = None,
) -> Report:  # fmt: skip
    """Gather everything one page tells.

    Parameters
    ----------
    asked : Scenario
        Rig, purpose, rules and belief; after the notebook if there is one.
    date : datetime.date
        The day it speaks of.
    stock : Stock, optional
        What could be bought or is owned; with it there are builds and a list.
    entries : sequence
        The notebook's entries.
    lines : sequence of int
        Line of each entry.
    before : Rig, optional
        The rig before its last change.
    top : int
        How many builds.
    wishes : Wishes, optional
        What is asked of the list.
    choice : Choice, optional
        The answer of `choose`, where it is known already.

    Returns
    -------
    Report
        For `shaftwright.render.report`.
    """
    choice = choose(asked, stock, None, top) if choice is None else choice
    gaps: list[str] = []
    diagnosis = _diagnosis(asked, stock, entries, lines, before, gaps)
    shopping = _shopping(asked, stock, wishes, gaps) if choice.listed else None
    shot = any(isinstance(entry, BareShaft | Broadhead) for entry in entries)
    spec = None if shot or stock is None else _best(choice, stock)
    return Report(
        date, asked.plan.next.do, choice, build_map(choice), ladder_of(choice), band_curves(choice),
        card(asked, date, entries, stock, spec), diagnosis, shopping, tuple(gaps),
    )  # fmt: skip


def _best(choice: Choice, stock: Stock) -> BuildSpec | None:
    """The best of the list by name, where all of it is in the stock."""
    if not choice.listed:
        return None
    build = choice.listed[0]
    head = stock.by_name.get(build.point)
    if head is None or build.shaft not in stock.by_name:
        return None
    named = {
        "shaft": build.shaft, "length": build.length_in, head.kind: build.point,
        "insert": build.insert or None, "collar": build.collar or None,
    }  # fmt: skip
    return BuildSpec.model_validate({key: value for key, value in named.items() if value})


def _diagnosis(
    asked: Scenario, stock: Stock | None, entries: Sequence[AnyEntry], lines: Sequence[int],
    before: Rig | None, gaps: list[str],
) -> Diagnosis | None:  # fmt: skip
    if not any(isinstance(entry, BareShaft) for entry in entries):
        return None
    from shaftwright.answers.diagnose import diagnose

    try:
        return diagnose(asked)
    except NoAnswer as none:
        gaps.append(f"bare shafts: {none}")
        return None


def _shopping(
    asked: Scenario, stock: Stock | None, wishes: Wishes | None, gaps: list[str]
) -> Shopping | None:
    if stock is None:
        return None
    from shaftwright.answers.shop.shopping import shopping

    try:
        return shopping(asked if asked.stock is not None else replace(asked, stock=stock), wishes)
    except NoAnswer as none:
        gaps.append(f"shopping list: {none}")
        return None
