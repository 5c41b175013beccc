"""Where a note goes: the notebook, and what is known of its bow."""

from __future__ import annotations

import os.path
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import click

from shaftwright.cli import common
from shaftwright.errors import InputError
from shaftwright.files.bow import NOTEBOOK
from shaftwright.files.notebook import Notebook
from shaftwright.files.stock import load_stock
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock


@dataclass(frozen=True)
class Place:
    """The notebook that is written to, and what is known of its bow."""

    path: Path
    #: None for a notebook file of which no rig was named
    bow: common.Bow | None
    stock_files: tuple[str, ...] = ()

    @property
    def folder(self) -> Path | None:
        """The bow's folder; None where a notebook file was named."""
        return self.bow.files.folder if self.bow is not None else None

    @property
    def rig(self) -> Rig | None:
        """The bow as its rig file states it."""
        return self.bow.rig if self.bow is not None else None

    @property
    def units(self) -> str:
        """What bare numbers mean."""
        return "imperial" if self.rig is None else self.rig.units

    @cached_property
    def stock(self) -> Stock | None:
        """What is in hand or could be bought."""
        if self.bow is not None:
            return self.bow.stock

        return load_stock(self.stock_files) if self.stock_files else None

    @cached_property
    def notebook(self) -> Notebook | None:
        """What was noted so far; entries that cannot be read are named and passed over."""
        if not self.path.exists():
            return None
        try:
            return common.read_notebook(self.path) if self.bow is None else self.bow.notebook
        except InputError as error:
            for fault in error.faults:
                click.echo(f"{fault} (entry skipped)", err=True)
            return None

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """The entries that stand."""
        return self.notebook.entries if self.notebook is not None else ()


def place_of(where: str | None, given: dict[str, Any]) -> Place:
    """A folder with its bow, or a notebook file with the rig and stock that were named."""
    rig_file, stock_files = given.get("rig_file"), given.get("stock_files", ())
    if where is not None and not os.path.isdir(where):
        if not os.path.exists(where) and not os.path.splitext(where)[1]:
            problem = (
                "is neither a bow's folder nor a notebook; a new notebook's name ends in .yaml"
            )
            raise InputError.of(where, problem)
        bow = common.Bow(rig_file, stock_files, where if os.path.exists(where) else None)
        return Place(Path(where), bow if rig_file else None, stock_files)
    bow = common.Bow(where, stock_files)
    files = bow.files
    assert files.folder is not None
    if rig_file:
        notebook, before = (str(f) if f else None for f in (files.notebook, files.before))
        bow = common.Bow(rig_file, tuple(map(str, files.stock)), notebook, before)
    return Place(files.folder / NOTEBOOK, bow, stock_files)
