"""`shaftwright rules new`, and the linting of rules of one's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from shaftwright.cli import common
from shaftwright.errors import InputError

if TYPE_CHECKING:
    from pathlib import Path

FIRST: Final = "mine.yaml"


@click.command("new")
@click.argument("folder", metavar="[BOW]", default=".", type=click.Path())
def new(folder: str) -> None:
    """Write a commented first file of rules of your own beside BOW's rig; nothing is overwritten.

    BOW is the bow's folder, or the folder in which several bows lie: then the rules hold for all of
    them that have none of their own.

    \b
    Example:
      shaftwright rules new my-bow
    """
    from importlib.resources import files
    from pathlib import Path

    from shaftwright.files.atomic import write_atomic
    from shaftwright.files.bow import RULES

    if not Path(folder).is_dir():
        raise InputError.of(folder, "is not a folder; begin a bow with: shaftwright new my-bow")
    there = Path(folder) / RULES / FIRST
    if there.exists():
        raise InputError.of(str(there), "is there already and is not overwritten")
    there.parent.mkdir(exist_ok=True)
    text = (files("shaftwright") / "starter" / "rules.yaml").read_text(encoding="utf-8")
    write_atomic(there, text)
    click.echo(f"Wrote {there}. It changes nothing until you take a # away.")
    click.echo(f"Then: shaftwright rules check {folder}")


def check_own(folder: Path, as_json: bool) -> None:
    """Lint a folder of rules of one's own: what the answers would refuse is refused here."""
    from shaftwright.rules.load import rulebook
    from shaftwright.rules.own import load_own

    own = load_own(folder)
    sizes = sum(rulebook().find(rule.code) is not None for rule in own.rules)
    cases = sum(facts is not None for rule in own.rules for facts in (rule.fires, rule.silent))
    counts = {"rules": len(own.rules) - sizes, "sizes": sizes, "cases": cases}
    said = ", ".join(
        f"{n} {name.removesuffix('s') if n == 1 else name}" for name, n in counts.items()
    )
    common.answer(
        None, as_json, lambda: {"folder": str(folder), **counts, "faults": []},
        lambda: f"Your own, {folder}: {said}. No fault.",
    )  # fmt: skip
