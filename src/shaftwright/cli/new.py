"""`shaftwright new`: a commented starter."""

from __future__ import annotations

import click

from shaftwright.errors import Fault, InputError


@click.command("new")
@click.argument("folder", metavar="DIR", type=click.Path())
def command(folder: str) -> None:
    """Write a commented starter rig, stock and notebook into DIR; nothing is ever overwritten.

    \b
    Example:
      shaftwright new my-bow
    """
    from importlib.resources import files
    from pathlib import Path

    from shaftwright.files.atomic import write_atomic
    from shaftwright.files.bow import STARTER

    target = Path(folder)
    starter = files("shaftwright") / "starter"
    there = [name for name in STARTER if (target / name).exists()]
    if there:
        problem = "is there already and is not overwritten; choose another folder"
        raise InputError([Fault(str(target / name), problem) for name in there])
    target.mkdir(parents=True, exist_ok=True)
    for name in STARTER:
        write_atomic(target / name, (starter / name).read_text(encoding="utf-8"))
    click.echo(f"Wrote {', '.join(STARTER)} in {folder}.")
    click.echo("Fill in rig.yaml (unknown is allowed), and your shop's rows in stock.csv; then:")
    click.echo(f"  shaftwright next {folder}")
