"""The public interface: open a bow, ask it. The commands ask nothing that cannot be asked here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shaftwright.limits import AIR, TOP, refuse, word
from shaftwright.opened import Opened, spec_of
from shaftwright.shown import Shown, T

if TYPE_CHECKING:
    from shaftwright.answers.build import OneBuild
    from shaftwright.answers.card.card import Card
    from shaftwright.answers.choose.choose import Choice
    from shaftwright.answers.diagnose import Diagnosis, NothingShot
    from shaftwright.answers.efficiency import Efficiency
    from shaftwright.answers.explain import Explained
    from shaftwright.answers.flight import Flight
    from shaftwright.answers.launch.launch import Launched
    from shaftwright.answers.note.keep import Kept
    from shaftwright.answers.plan.result import Plan
    from shaftwright.answers.report import Report
    from shaftwright.answers.sheet.result import Sheet
    from shaftwright.answers.shop.shopping import Shopping
    from shaftwright.answers.shop.two import TwoShopping
    from shaftwright.measure.brace import Brace
    from shaftwright.measure.compare import Comparison
    from shaftwright.records.notebook import BuildSpec


@dataclass(frozen=True)
class Bow(Opened):
    """A bow that can be asked; its fields are those of `Opened`."""

    def what_if(self, *changes: str) -> Bow:
        """The same bow with fields of its rig changed; nothing is written.

        Examples
        --------
        >>> import shaftwright
        >>> bow = shaftwright.open("examples/heron_marsh").what_if("string.material=polyester")
        >>> bow.rig.string.material
        'polyester'
        """
        return replace(self, changes=(*self.changes, *changes))

    # what can be asked

    def _shown(self, asked: str, found: T, text: Callable[[T, bool], str]) -> Shown[T]:
        return Shown(found, self.scenario, lambda full: text(found, full), asked)

    def next(self) -> Shown[Plan]:
        """The one thing to do now, why, and what to expect.

        Examples
        --------
        >>> import shaftwright
        >>> print(shaftwright.open("examples/heron_marsh").next().result.next.kind)
        shoot
        """
        from shaftwright.render.screens.next import next_text

        asked = self.scenario
        return self._shown("next", asked.plan, lambda _, full: next_text(asked, full))

    def choose(
        self, *, chance: float | None = None, top: int = TOP, all_builds: bool = False,
        material: str | None = None,
    ) -> Shown[Choice]:  # fmt: skip
        """Which shaft, how long, what up front: the band with its doubt, and builds ranked.

        Examples
        --------
        >>> import shaftwright
        >>> table = shaftwright.open("examples/heron_marsh").choose(top=3).to_frame()
        >>> [name for name in table.columns if name.endswith(("_in", "_gr"))][:3]
        ['length_in', 'point_gr', 'insert_gr']
        """
        from shaftwright.answers.choose.choose import choose
        from shaftwright.render.screens.choose import choice_text

        found = choose(self.scenario, self.stock, chance, top, all_builds, material)
        return self._shown("choose", found, choice_text)

    def explain(self, arrow: Mapping[str, Any] | BuildSpec | None = None) -> Shown[Explained]:
        """The numbers taken apart, rule by rule; at an arrow of choice."""
        from shaftwright.answers.explain import explain
        from shaftwright.render.screens.explain import explain_text

        found = explain(self.scenario, None if arrow is None else self.builds(arrow))
        return self._shown("explain", found, explain_text)

    def build(self, arrow: Mapping[str, Any] | BuildSpec | None = None) -> Shown[OneBuild]:
        """One arrow, that of `next` where none is named: weights, balance, frequencies, speed, match."""
        from shaftwright.answers.build import one_build
        from shaftwright.render.screens.build import build_text

        found = one_build(self.scenario, self.builds(arrow), self.stock)
        return self._shown("build", found, partial(build_text, of_next=arrow is None))

    def bareshaft(self) -> Shown[Diagnosis] | Shown[NothingShot]:
        """What the bare shafts say, and the one thing to change next."""
        from shaftwright.answers.diagnose import diagnose, nothing_shot
        from shaftwright.errors import NoAnswer
        from shaftwright.render.screens.bareshaft import bareshaft_text, nothing_shot_text

        try:
            return self._shown("bareshaft", diagnose(self.scenario), bareshaft_text)
        except NoAnswer:
            none = nothing_shot(self.scenario)
            return self._shown("bareshaft", none, lambda one, _: nothing_shot_text(one))

    def shop(
        self, *, arrows: int = 12, chance: float | None = None, budget: float | None = None,
        must: Sequence[str] = (), any_line: bool = False, wraps: bool = False,
        breakage: float | None = None, also: Bow | str | None = None,
    ) -> Shown[Shopping] | Shown[TwoShopping]:  # fmt: skip
        """What to buy: test shafts first, then the dozen; `also` is a second bow, or a second purpose."""
        from shaftwright.answers.shop.musts import read_musts
        from shaftwright.answers.shop.shopping import Wishes, shopping
        from shaftwright.answers.shop.two import shop_two
        from shaftwright.render.screens.shop import shop_text, two_text

        wishes = Wishes(arrows, chance, breakage, budget, read_musts(must), any_line, wraps)
        if also is not None:
            other = also.scenario if isinstance(also, Bow) else self.ask(also)
            return self._shown("shop", shop_two(self.scenario, other, wishes), two_text)
        return self._shown("shop", shopping(self.scenario, wishes), shop_text)

    def flight(
        self, arrow: Mapping[str, Any] | BuildSpec | None = None,
        distances_yd: Sequence[float] | None = None,
        air: Mapping[str, float] | None = None, head: str | None = None, **aim: Any,
    ) -> Shown[Flight]:  # fmt: skip
        """Drop, time, what is left, wind, and where to hold the point; of the arrow of `next` unless named.

        `air` has temperature_c, pressure_hpa or height_m, and humidity_pct; `aim` is `wind_fps`, `slope_deg`,
        `eye_in`, `point_on_yd` or `fletching`.
        """
        from shaftwright.answers.flight import Conditions, air_of, flight, usual_yd
        from shaftwright.render.screens.build import flight_text

        refuse(*(word("air", name, AIR) for name in air or ()))
        builds = self.builds(arrow)
        named = "broadhead" if bool(builds.is_broadhead[0]) else "field"
        conditions = Conditions(
            usual_yd(self.rig.units) if distances_yd is None else tuple(distances_yd),
            air_of(**(air or {})),
            head=head or named,
            **aim,
        )
        found = flight(self.scenario, builds, conditions, self.stock)
        return self._shown("flight", found, partial(flight_text, of_next=arrow is None))

    def launch(
        self, arrow: Mapping[str, Any] | BuildSpec | None = None, draws: int = 16
    ) -> Shown[Launched]:
        """How the arrow leaves round this riser, why, and what changes do; that of `next` unless named."""
        from shaftwright.answers.launch.fit import fit, groups_of
        from shaftwright.answers.launch.launch import launched
        from shaftwright.render.screens.launch import launch_text

        groups = groups_of(self.scenario)
        fitted = fit(self.scenario, groups) if groups else None
        found = launched(self.scenario, self.builds(arrow), draws, fitted)
        return self._shown("launch", found, partial(launch_text, of_next=arrow is None))

    def efficiency(self, masses_gr: Sequence[float] = ()) -> Shown[Efficiency]:
        """What the bow stores and keeps, from its chronograph readings."""
        from shaftwright.answers.efficiency import efficiency
        from shaftwright.render.screens.efficiency import efficiency_text

        found = efficiency(self.scenario, tuple(masses_gr))
        return self._shown("efficiency", found, efficiency_text)

    def card(
        self, arrow: Mapping[str, Any] | BuildSpec | None = None, day: dt.date | None = None,
        last: Path | str | None = None,
    ) -> Shown[Card]:  # fmt: skip
        """The setup card: everything needed to rebuild the rig; `last`, a saved card, tells what changed."""
        from shaftwright.answers.card.card import OldCard, card
        from shaftwright.files.rig import load_card
        from shaftwright.render.screens.card import card_text

        spec = None if arrow is None else spec_of(arrow)
        old = OldCard(*load_card(last)) if last else None
        found = card(self.scenario, day or dt.date.today(), spec, old)
        return self._shown("card", found, card_text)

    def compare(
        self, by: Sequence[str] = ("string",), distance_yd: float = 20.0
    ) -> Shown[Comparison]:
        """Setups of the notebook held against each other by speed and sound.

        Examples
        --------
        >>> readings = "examples/heron_marsh/brace.notebook.yaml"
        >>> import shaftwright
        >>> bow = shaftwright.open("examples/heron_marsh", notebook_file=readings)
        >>> bow.compare(["brace"]).result.groups[0].name
        '7'
        """
        from shaftwright.measure.frames import frames
        from shaftwright.readings import compare

        return compare(frames(self.entries), by, distance_yd, self.scenario)

    def brace(self, material: str | None = None) -> Shown[Brace]:
        """Where the bow is quiet and where it is fast, and whether its string has settled."""
        from shaftwright.readings import brace

        return brace(self.entries, material, self.scenario)

    def report(
        self, day: dt.date | None = None, *, top: int = TOP, arrows: int = 12
    ) -> Shown[Report]:
        """Everything one page tells of the bow; `write_report` writes the page."""
        from shaftwright.answers.report import report
        from shaftwright.answers.shop.shopping import Wishes
        from shaftwright.render.words import opening

        told = report(self.scenario, day or dt.date.today(), top, Wishes(arrows))
        return self._shown("report", told, lambda one, _: opening(one.question))

    def sheet(self, bring: Sequence[str] = ()) -> Shown[Sheet]:
        """The afternoon beforehand: a row an arrow, and where every outcome leads; no saw, no shop."""
        from shaftwright.answers.sheet.sheet import sheet
        from shaftwright.render.screens.next import sheet_text

        found = sheet(self.scenario, bring)
        return self._shown("sheet", found, lambda one, _: sheet_text(one))

    # what can be written

    @cached_property
    def noted(self) -> Kept | None:
        """What the last `note` came to: its line, its doubts, what to change in rig.yaml; None before."""
        return None

    def note(self, kind: str, **what: Any) -> Bow:
        """Append one entry to the folder's notebook and give the bow as it is known then.

        What the rig file says of the bow is written with shots; the rig as it was is kept as before.yaml
        where the limbs are others. What is hardly meant so is a warning; `noted` has all that came of it.

        Parameters
        ----------
        kind : str
            Kind of the entry, such as "bareshaft", "have" or "change".
        **what
            Its fields as the notebook writes them; today is its date where none is given.

        Returns
        -------
        Bow
            The same bow, read anew.

        Raises
        ------
        InputError
            Where a field is not allowed, or the entry cannot be: nothing is written then.
        """
        import warnings

        from shaftwright.answers.note.changes import with_state
        from shaftwright.answers.note.keep import Known, checked, keep
        from shaftwright.errors import InputError
        from shaftwright.files.bow import NOTEBOOK

        if self.changes:
            problem = "is a bow of what_if, and nothing is noted of one: note it of the bow itself"
            raise InputError.of("note", problem, None, "", ", ".join(self.changes))
        data = {"kind": kind, "date": dt.date.today().isoformat()} | what
        data = with_state(data, self.rig, self.entries)
        files = self.files
        kept = keep(
            Known(
                files.notebook or files.rig.parent / NOTEBOOK, files.folder, self.rig, self.stock,
                self.entries, self.before, lambda: self.scenario.plan, named=self.named,
            ),
            checked(data),
        )  # fmt: skip
        for doubt in kept.doubts:
            warnings.warn(doubt, stacklevel=2)
        after = replace(self)
        vars(after)["noted"] = kept
        return after

    def note_bareshaft(self, **what: Any) -> Bow:
        """Note bare shafts beside fletched ones; the arrow is that of `next` where none is named."""
        from shaftwright.answers.note.noting import arrow_named

        data = {"kind": "bareshaft"} | what
        if "build" not in what:
            arrow = arrow_named(self.scenario.plan, self.stock, self.entries)
            if arrow is not None:
                arrow.into(data)
                data.setdefault("distance", self.scenario.plan.next.distance_yd)
        return self.note(**data)

    def write_report(
        self, path: Path | str, day: dt.date | None = None, *, force: bool = False, **what: int
    ) -> Shown[Report]:
        """Write the report, one page that needs no network; with `force` over an earlier report."""
        from shaftwright.files.atomic import write_output
        from shaftwright.render.page import report_html

        told = self.report(day, **what)
        write_output(path, report_html(told.result), "report", force)
        return told


def open(path: Path | str | None = None, **files: Any) -> Bow:
    """Open a bow.

    Parameters
    ----------
    path : path or None
        A folder with rig.yaml (stock.csv, notebook.yaml, before.yaml and the folder rules are picked
        up), a rig file, or None for the folder one stands in.
    **files
        `stock_files`, `notebook_file`, `before_file`, `rules_folder`, `purpose`, `basis`, `changes`, as
        `Opened` has them.

    Returns
    -------
    Bow
        Nothing is read until something is asked.

    Examples
    --------
    >>> import shaftwright
    >>> shaftwright.open("examples/heron_marsh").rig.name
    'heron-marsh'
    """
    return Bow(None if path is None else str(path), **files)
