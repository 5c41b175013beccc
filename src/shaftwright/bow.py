"""The public interface: open a bow, ask it. The commands ask nothing that cannot be asked here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shaftwright.shown import Shown

if TYPE_CHECKING:
    from shaftwright.answers.build import OneBuild
    from shaftwright.answers.card.card import Card
    from shaftwright.answers.choose.choose import Choice
    from shaftwright.answers.diagnose.diagnose import Diagnosis, NothingShot
    from shaftwright.answers.efficiency import Efficiency
    from shaftwright.answers.explain import Explained
    from shaftwright.answers.flight import Flight
    from shaftwright.answers.launch.launch import Launched
    from shaftwright.answers.plan.result import Plan
    from shaftwright.answers.report import Report
    from shaftwright.answers.scenario import Scenario
    from shaftwright.answers.shop.shopping import Shopping
    from shaftwright.files.bow import BowFiles
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.builds import Builds
    from shaftwright.records.notebook import AnyEntry, BuildSpec
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock
    from shaftwright.rules.load import Basis


@dataclass(frozen=True)
class Bow:
    """A bow with its stock and notebook; each file is read once, when something first asks for it.

    Attributes
    ----------
    path : str or None
        The bow's folder, or its rig file; None is the folder one stands in.
    stock_files, notebook_file, before_file
        Files instead of those of the folder; "-" for none.
    purpose : str or None
        Instead of the purpose in the rig.
    basis : {"both", "trade", "physics"}
        Whose sizes the rules take.
    changes : tuple of str
        What if: fields of the rig laid over it, such as "string.material=polyester".
    """

    path: str | None = None
    stock_files: tuple[str, ...] = ()
    notebook_file: str | None = None
    before_file: str | None = None
    purpose: str | None = None
    basis: Basis = "both"
    changes: tuple[str, ...] = ()

    # what it rests on

    @cached_property
    def files(self) -> BowFiles:
        """Where everything lies."""
        from shaftwright.files.bow import bow_files

        return bow_files(self.path, self.stock_files, self.notebook_file, self.before_file)

    @cached_property
    def rig(self) -> Rig:
        """The rig with the changes laid over it."""
        from shaftwright.files.rig import load_rig

        return load_rig(self.files.rig, self.changes)

    @cached_property
    def before(self) -> Rig | None:
        """The rig before its last change."""
        from shaftwright.files.rig import load_rig

        return load_rig(self.files.before) if self.files.before is not None else None

    @cached_property
    def stock(self) -> Stock | None:
        """All stock files as one."""
        from shaftwright.files.stock import load_stock

        return load_stock(self.files.stock) if self.files.stock else None

    @cached_property
    def notebook(self) -> Notebook | None:
        """The notebook; entries that cannot be read are in its `faults`."""
        from shaftwright.files.notebook import load_notebook

        return load_notebook(self.files.notebook) if self.files.notebook is not None else None

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """What the notebook holds, in the order of the file."""
        return self.notebook.entries if self.notebook is not None else ()

    @property
    def lines(self) -> tuple[int, ...]:
        """Where each entry begins."""
        return self.notebook.lines if self.notebook is not None else ()

    @cached_property
    def scenario(self) -> Scenario:
        """Everything together, each thing worked out once and kept."""
        return self.ask(self.purpose)

    def ask(self, purpose: str | None) -> Scenario:
        """The same for a purpose of choice."""
        from shaftwright.answers.scenario import scenario

        return scenario(
            self.rig, purpose, self.stock, self.entries, self.lines, self.before, self.basis
        )

    def what_if(self, *changes: str) -> Bow:
        """The same bow with fields of its rig changed; nothing is written.

        Examples
        --------
        >>> bow = open("examples/heron_marsh").what_if("string.material=polyester")
        >>> bow.rig.string.material
        'polyester'
        """
        return replace(self, changes=(*self.changes, *changes))

    def builds(self, arrow: Mapping[str, Any] | BuildSpec) -> Builds:
        """One arrow, named by rows of the stock or given by numbers."""
        from shaftwright.inference.resolve import resolve_build

        return resolve_build(_spec(arrow), self.stock, "build options")

    # what can be asked

    def next(self) -> Shown[Plan]:
        """The one thing to do now, why, and what to expect.

        Examples
        --------
        >>> print(open("examples/heron_marsh").next().result.next.kind)
        shoot
        """
        from shaftwright.render.screens.next import next_text

        return Shown(
            self.scenario.plan, self.scenario, lambda full: next_text(self.scenario, full), "shot"
        )

    def choose(
        self, *, chance: float | None = None, top: int = 6, all_builds: bool = False,
        material: str | None = None,
    ) -> Shown[Choice]:  # fmt: skip
        """Which shaft, how long, what up front: the band with its doubt, and builds ranked.

        Examples
        --------
        >>> table = open("examples/heron_marsh").choose(top=3).to_frame()
        >>> [name for name in table.columns if name.endswith(("_in", "_gr"))][:3]
        ['length_in', 'point_gr', 'insert_gr']
        """
        from shaftwright.answers.choose.choose import choose
        from shaftwright.render.screens.choose import choice_text

        found = choose(self.scenario, self.stock, chance, top, all_builds, material)
        return Shown(found, self.scenario, lambda full: choice_text(found, full), "builds")

    def explain(self, arrow: Mapping[str, Any] | BuildSpec | None = None) -> Shown[Explained]:
        """The numbers taken apart, rule by rule; at an arrow of choice."""
        from shaftwright.answers.explain import explain
        from shaftwright.render.screens.explain import explain_text

        found = explain(self.scenario, None if arrow is None else self.builds(arrow))
        return Shown(found, self.scenario, lambda full: explain_text(found, full), "sizes_used")

    def build(self, arrow: Mapping[str, Any] | BuildSpec) -> Shown[OneBuild]:
        """One arrow: weights, balance, frequencies, speed, match."""
        from shaftwright.answers.build import one_build
        from shaftwright.render.screens.build import build_text

        found = one_build(self.scenario, self.builds(arrow), self.stock)
        return Shown(found, self.scenario, lambda full: build_text(found, full), "")

    def bareshaft(self) -> Shown[Diagnosis] | Shown[NothingShot]:
        """What the bare shafts say, and the one thing to change next."""
        from shaftwright.answers.diagnose.diagnose import diagnose, nothing_shot
        from shaftwright.errors import NoAnswer
        from shaftwright.render.screens.bareshaft import bareshaft_text, nothing_shot_text

        try:
            found = diagnose(self.scenario)
        except NoAnswer:
            none = nothing_shot(self.scenario)
            return Shown(none, self.scenario, lambda full: nothing_shot_text(none), "causes")
        return Shown(found, self.scenario, lambda full: bareshaft_text(found, full), "causes")

    def shop(
        self, *, arrows: int = 12, chance: float | None = None, budget: float | None = None,
        must: Sequence[str] = (), any_line: bool = False, wraps: bool = False,
    ) -> Shown[Shopping]:  # fmt: skip
        """What to buy: test shafts first, then the dozen."""
        from shaftwright.answers.shop.musts import read_musts
        from shaftwright.answers.shop.shopping import Wishes, shopping
        from shaftwright.render.screens.shop import shop_text

        wishes = Wishes(arrows, chance, None, budget, read_musts(tuple(must)), any_line, wraps)
        found = shopping(self.scenario, wishes)
        rows = "test_kit" if found.kit is not None else "list"
        return Shown(found, self.scenario, lambda full: shop_text(found, full), rows)

    def flight(
        self, arrow: Mapping[str, Any] | BuildSpec, distances_yd: Sequence[float] = (10, 20, 30, 40, 50, 60),
        wind_fps: float = 0.0,
    ) -> Shown[Flight]:  # fmt: skip
        """Drop, time, what is left, wind, and where to hold the point."""
        from shaftwright.answers.flight import Conditions, air_of, flight
        from shaftwright.render.screens.flight import flight_text

        builds = self.builds(arrow)
        head = "broadhead" if bool(builds.is_broadhead[0]) else "field"
        conditions = Conditions(tuple(distances_yd), air_of(), wind_fps, 0.0, head=head)
        found = flight(self.scenario, builds, conditions, self.stock)
        return Shown(found, self.scenario, lambda full: flight_text(found, full), "rows")

    def launch(self, arrow: Mapping[str, Any] | BuildSpec, draws: int = 16) -> Shown[Launched]:
        """How the arrow leaves round this riser, why, and what changes would do."""
        from shaftwright.answers.launch.fit import fit, groups_of
        from shaftwright.answers.launch.launch import launched
        from shaftwright.render.launch.text import launch_text

        groups = groups_of(self.scenario, self.entries, self.stock) if self.entries else ()
        fitted = fit(self.scenario, groups) if groups else None
        found = launched(self.scenario, self.builds(arrow), draws, fitted)
        return Shown(found, self.scenario, lambda full: launch_text(found, full), "sensitivities")

    def efficiency(self, masses_gr: Sequence[float] = ()) -> Shown[Efficiency]:
        """What the bow stores and keeps, from its chronograph readings."""
        from shaftwright.answers.efficiency import efficiency
        from shaftwright.render.screens.efficiency import efficiency_text

        found = efficiency(self.scenario, tuple(masses_gr))
        return Shown(found, self.scenario, lambda full: efficiency_text(found, full), "predictions")

    def card(
        self, arrow: Mapping[str, Any] | BuildSpec | None = None, day: dt.date | None = None,
        last: Path | str | None = None,
    ) -> Shown[Card]:  # fmt: skip
        """The setup card: everything needed to rebuild the rig; `last`, a saved card, tells what changed."""
        from shaftwright.answers.card.card import OldCard, card
        from shaftwright.files.card import load_card
        from shaftwright.render.screens.card import card_text

        spec = None if arrow is None else _spec(arrow)
        old = OldCard(*load_card(last)) if last else None
        found = card(self.scenario, day or dt.date.today(), spec, old)
        return Shown(found, self.scenario, lambda full: card_text(found, full), "broadheads")

    def report(self, day: dt.date | None = None) -> Shown[Report]:
        """Everything one page tells of the bow; `write_report` writes the page."""
        from shaftwright.answers.report import report
        from shaftwright.answers.shop.shopping import Wishes
        from shaftwright.render.words import opening

        told = report(self.scenario, day or dt.date.today(), 6, Wishes())
        return Shown(told, self.scenario, lambda full: opening(told.question), "builds")

    # what can be written

    def note(self, kind: str, **what: Any) -> Bow:
        """Append one entry to the folder's notebook and give the bow as it is known then.

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
        from shaftwright.answers.noting import refused
        from shaftwright.errors import InputError
        from shaftwright.files.bow import NOTEBOOK
        from shaftwright.files.notebook import append_entry

        entry = _entry({"kind": kind, "date": dt.date.today().isoformat()} | what)
        faults = refused(entry, self.stock, self.entries)
        if faults:
            raise InputError(faults)
        append_entry(self.files.notebook or self.files.rig.parent / NOTEBOOK, entry)
        return replace(self)

    def note_bareshaft(self, **what: Any) -> Bow:
        """Note bare shafts beside fletched ones; the arrow is that of `next` where none is named."""
        from shaftwright.answers.noting import arrow_named

        data = {"kind": "bareshaft"} | what
        if "build" not in what:
            arrow = arrow_named(self.scenario.plan, self.stock, self.entries)
            if arrow is not None:
                arrow.into(data)
                data.setdefault("distance", self.scenario.plan.next.distance_yd)
        return self.note(**data)

    def write_report(
        self, path: Path | str, day: dt.date | None = None, force: bool = False
    ) -> None:
        """Write the report, one page that needs no network; with `force` over an earlier report."""
        from shaftwright.files.outputs import write_output
        from shaftwright.render.page.report import report_html

        write_output(path, report_html(self.report(day).result), "report", force)


def open(path: Path | str | None = None, **files: Any) -> Bow:
    """Open a bow.

    Parameters
    ----------
    path : path or None
        A folder with rig.yaml (stock.csv, notebook.yaml and before.yaml are picked up), a rig file, or
        None for the folder one stands in.
    **files
        `stock_files`, `notebook_file`, `before_file`, `purpose`, `basis`, `changes`, as `Bow` has them.

    Returns
    -------
    Bow
        Nothing is read until something is asked.

    Examples
    --------
    >>> open("examples/heron_marsh").rig.name
    'heron-marsh'
    """
    return Bow(None if path is None else str(path), **files)


def _spec(arrow: Mapping[str, Any] | BuildSpec) -> BuildSpec:
    from shaftwright.records.notebook import BuildSpec

    return arrow if isinstance(arrow, BuildSpec) else BuildSpec.model_validate(dict(arrow))


def _entry(data: dict[str, Any]) -> AnyEntry:
    from shaftwright.files.faults import validated
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import ENTRY

    return validated(ENTRY, Document("note", data))
