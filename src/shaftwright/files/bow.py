"""The bow as a folder: its rig, its stock, its notebook, and the rig before its last change."""

from __future__ import annotations

import os.path
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from shaftwright.errors import InputError
from shaftwright.resources import is_whole_set

RIG: Final = "rig.yaml"
STOCK: Final = "stock.csv"
NOTEBOOK: Final = "notebook.yaml"
BEFORE: Final = "before.yaml"
#: a folder, beside the rig or beside several bows
RULES: Final = "rules"
#: in place of a file that a folder has and an answer shall do without
NONE: Final = "-"
#: what `new` writes
STARTER: Final = (RIG, STOCK, NOTEBOOK)


def is_the_sample(stock: bytes) -> bool:
    """Whether a stock is as `shaftwright new` wrote it."""
    from importlib.resources import files

    return stock == (files("shaftwright") / "starter" / STOCK).read_bytes()


@dataclass(frozen=True)
class BowFiles:
    """Which files an answer rests on."""

    rig: Path
    stock: tuple[Path, ...] = ()
    notebook: Path | None = None
    before: Path | None = None
    # the folder of rules of the archer's own
    rules: Path | None = None
    #: None for a rig file, which takes only what is named
    folder: Path | None = None
    #: names of the files picked up without being named
    found: tuple[str, ...] = ()


def bow_files(
    bow: Path | str | None = None, stock: Sequence[Path | str] = (), notebook: Path | str | None = None,
    before: Path | str | None = None, rules: Path | str | None = None,
) -> BowFiles:  # fmt: skip
    """The files of a bow: a folder, a rig file, or the folder one stands in; what is named wins."""
    folder = Path(bow) if bow is not None else Path()
    shots, old, own = _unless_none(notebook), _unless_none(before), _unless_none(rules)
    named = tuple(file for file in map(_unless_none, stock) if file is not None)
    if bow is not None and not os.path.isdir(bow):
        return BowFiles(folder, named, shots, old, own)
    if not os.path.exists(folder / RIG):
        inside = ", ".join(sorted(one.name for one in _bows(folder))[:3])
        problem = (
            f"is not a bow: it has no {RIG} (beside it {STOCK}, {NOTEBOOK} and {BEFORE} are picked up); "
            + (
                f"name one that lies there: {inside}"
                if inside
                else "begin one with: shaftwright new my-bow"
            )
        )
        raise InputError.of(str(folder.absolute() if bow is None else folder), problem)
    given = {STOCK: bool(stock), NOTEBOOK: notebook is not None, BEFORE: before is not None}
    there = [name for name in given if not given[name] and os.path.exists(folder / name)]
    if rules is None:
        own = own_rules_of(folder)
        if own is not None:
            there.append(f"{'../' * (own.parent != folder)}{RULES}")
    return BowFiles(
        folder / RIG,
        (folder / STOCK,) if STOCK in there else named,
        folder / NOTEBOOK if NOTEBOOK in there else shots,
        folder / BEFORE if BEFORE in there else old,
        own,
        folder,
        (RIG, *there),
    )


def own_rules_of(folder: Path) -> Path | None:
    """The archer's own rules: of the bow, else those beside several bows that lie in one folder."""
    if _holds_rules(folder / RULES):
        return folder / RULES
    beside = Path(os.path.abspath(folder)).parent
    if not _holds_rules(beside / RULES):
        return None
    return beside / RULES if sum(1 for _ in _bows(beside)) > 1 else None


def bows_in(folder: Path) -> list[Path]:
    """The bows that lie in a folder which is none itself."""
    if any((folder / name).exists() for name in STARTER):
        return []
    return sorted(_bows(folder))


def _bows(folder: Path) -> Iterator[Path]:
    return (rig.parent for rig in folder.glob(f"*/{RIG}") if os.path.isfile(rig))


def _holds_rules(folder: Path) -> bool:
    return os.path.isdir(folder) and any(folder.glob("*.y*ml")) and not is_whole_set(folder)


def _unless_none(given: Path | str | None) -> Path | None:
    return None if given is None or str(given) == NONE else Path(given)
