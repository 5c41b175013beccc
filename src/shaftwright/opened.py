"""The files of a bow, each read once, and the scenario made of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shaftwright.limits import refuse, several

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.files.bow import BowFiles
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.builds import Builds
    from shaftwright.records.notebook import AnyEntry, BuildSpec
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock
    from shaftwright.rules.load import Basis, RuleBook


@dataclass(frozen=True)
class Opened:
    """A bow with its stock and notebook; each file is read once, when something first asks for it.

    Attributes
    ----------
    path : str or None
        The bow's folder, or its rig file; None is the folder one stands in.
    stock_files, notebook_file, before_file
        Files instead of those of the folder; "-" for none.
    rules_folder : str or None
        Rules of your own instead of the folder's `rules`; "-" for none.
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
    rules_folder: str | None = None

    def __post_init__(self) -> None:
        """Refuse one text where several are meant."""
        names = ("stock_files", "changes")
        refuse(*(several(name, getattr(self, name)) for name in names))

    # what it rests on

    @cached_property
    def files(self) -> BowFiles:
        """Where everything lies."""
        from shaftwright.files.bow import bow_files

        return bow_files(
            self.path, self.stock_files, self.notebook_file, self.before_file, self.rules_folder
        )  # fmt: skip

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

    @cached_property
    def own_rules(self) -> RuleBook | None:
        """The archer's own rules and sizes; a folder with a fault is refused whole."""
        if self.files.rules is None:  # most bows have none
            return None
        from shaftwright.rules.own import load_own

        return load_own(self.files.rules)

    @cached_property
    def rule_book(self) -> RuleBook:
        """The rules of the trade with the archer's own, before any rig; also where there is no bow."""
        from shaftwright.files.bow import NONE, RIG
        from shaftwright.rules.load import rulebook
        from shaftwright.rules.own import laid_over, load_own

        if self.path is not None or Path(RIG).exists():
            return laid_over(rulebook(), self.own_rules)
        named = self.rules_folder not in (None, NONE)
        return laid_over(rulebook(), load_own(str(self.rules_folder)) if named else None)

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """What the notebook holds, in the order of the file."""
        return self.notebook.entries if self.notebook is not None else ()

    @property
    def lines(self) -> tuple[int, ...]:
        """Where each entry begins."""
        return self.notebook.lines if self.notebook is not None else ()

    @property
    def named(self) -> str:
        """The folder as it was named; empty for the one stood in, and for a rig file."""
        return "" if self.files.folder is None or self.path in (None, ".") else str(self.path)

    @cached_property
    def scenario(self) -> Scenario:
        """Everything together, each thing worked out once and kept."""
        return self.ask(self.purpose)

    def ask(self, purpose: str | None) -> Scenario:
        """The same for a purpose of choice."""
        from shaftwright.answers.scenario import scenario

        return scenario(
            self.rig, purpose, self.stock, self.entries, self.lines, self.before, self.basis,
            own=self.own_rules, folder=self.named,
        )  # fmt: skip

    def builds(self, arrow: Mapping[str, Any] | BuildSpec | None = None) -> Builds:
        """One arrow, named by rows of the stock or given by numbers; without one it is that of `next`."""
        from shaftwright.inference.resolve import resolve_build

        spec = self._of_next() if arrow is None else spec_of(arrow)
        return resolve_build(spec, self.stock, "build options")

    def _of_next(self) -> BuildSpec:
        from shaftwright.answers.note.noting import arrow_named
        from shaftwright.errors import InputError

        found = arrow_named(self.scenario.plan, self.stock, self.entries)
        if found is None:
            problem = (
                "next names no arrow of the stock yet: name one (shaft) or give it by numbers "
                "(spine, length, front)"
            )
            raise InputError.of("build options", problem)
        return found.build


def spec_of(arrow: Mapping[str, Any] | BuildSpec) -> BuildSpec:
    """What is said of an arrow, as the notebook has it."""
    from shaftwright.files.faults import validated
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import BuildSpec

    if isinstance(arrow, BuildSpec):
        return arrow
    return validated(BuildSpec, Document("arrow", dict(arrow)))
