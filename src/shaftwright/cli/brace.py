"""`shaftwright brace`: brace height swept, and strings that settle."""

from __future__ import annotations

import click

from shaftwright.cli import common
from shaftwright.cli.main import Command
from shaftwright.limits import STRINGS
from shaftwright.readings import brace


@click.command("brace", cls=Command)
@common.notebook_argument
@click.option("--material", type=click.Choice(STRINGS),
              help="What the string is made of: how far it stretches before it is read.")  # fmt: skip
@common.plot_option("A picture: svg, png or pdf.")
@common.json_option
def command(
    given: str | None, material: str | None, plot_file: str | None, as_json: bool
) -> None:  # fmt: skip
    """Where the bow is quiet, where it is fast, and whether its string has settled.

    Takes a notebook, or a BOW with one. The sweep is made from speeds, levels and bare shafts written
    with their brace height; the settling from `brace` entries.

    \b
    Example:
      shaftwright brace examples/heron_marsh/brace.notebook.yaml
    """
    from shaftwright.render.screens.brace import brace_figure

    notebook_file, bow = common.notebook_of(given)
    found = brace(
        common.entries_of(notebook_file, bow), material, None if bow is None else bow.scenario
    )
    common.write_picture(plot_file, lambda: brace_figure(found.result))
    common.answer(bow, as_json, *common.shown(found, False))
