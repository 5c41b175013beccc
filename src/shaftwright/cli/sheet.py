"""`shaftwright sheet`: the afternoon on one sheet, to print and for a phone without a network."""

from __future__ import annotations

import click

from shaftwright.cli import common


@common.bow_command("sheet", full=False)
@click.option("--bring", multiple=True, metavar="ITEM",
              help="A shaft or part you take along; all you have of a kind of which none is named. "
              "May be given again.")  # fmt: skip
@common.page_option("Also as one printable page, written to this file.", "sheet")
def command(bow: common.Bow, bring: tuple[str, ...], html_file: str | None) -> common.Answer:
    """What to do for every way the shots of an afternoon with BOW may fall.

    For the arrows and parts you take along: no saw, no shop. A row an arrow; the row says which row
    comes next.

    \b
    Examples:
      shaftwright sheet examples/heron_marsh
      shaftwright sheet examples/heron_marsh --bring MARSH-400 --bring MARSH-500 --html sheet.html
    """
    made = bow.sheet(bring)
    common.write_page(html_file, "sheet", made.result)
    return common.shown(made, False)
