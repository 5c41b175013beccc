"""`shaftwright card`: everything needed to rebuild the rig, on one page."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("card")
@common.rig_argument
@common.stock_option
@common.notebook_option
@common.before_option
@common.build_options
@click.option("--html", "html_file", metavar="F", type=click.Path(),
              help="Also as one printable page, written to this file.")  # fmt: skip
@click.option("--last", "last_file", metavar="CARD.json", type=click.Path(),
              help="A card saved with --json: what has changed since.")  # fmt: skip
@click.option("--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day on it; today.")
@common.purpose_option
@common.basis_option
@common.set_option
@common.json_option
def command(
    rig_file: str, stock_files: tuple[str, ...], notebook_file: str | None, before_file: str | None,
    html_file: str | None, last_file: str | None, day: datetime.datetime | None, purpose: str | None,
    basis: Basis, changes: tuple[str, ...], as_json: bool, **build: str | None,
) -> None:  # fmt: skip
    """The setup card of RIG: bow, string, arrow, band, speeds, and what is missing to rebuild it.

    Without a named build, the arrow is the one last tested in the notebook since the last change.

    \b
    Examples:
      shaftwright card examples/heron_marsh.yaml --stock examples/stock.csv \\
          --notebook examples/heron_marsh.notebook.yaml --html card.html
      shaftwright card examples/heron_marsh.yaml --json > card.json
    """
    from shaftwright.answers.card import OldCard, card
    from shaftwright.files.atomic import write_atomic
    from shaftwright.files.card import load_card
    from shaftwright.render.card import card_text

    spec = common.build_spec(build)
    rig = common.read_rig(rig_file, changes)
    before = common.read_rig(before_file, ()) if before_file else None
    last = OldCard(*load_card(last_file)) if last_file else None
    stock = common.read_stock(stock_files)
    notebook = common.read_notebook(notebook_file)
    asked = common.ask(rig, purpose, notebook, stock, before, basis)
    entries = notebook.entries if notebook is not None else ()
    made = card(asked, (day or datetime.datetime.now()).date(), entries, stock, spec, last)
    if html_file is not None:
        from shaftwright.render.card_page import card_html

        write_atomic(Path(html_file), card_html(made))
    if as_json:
        common.emit_json(made.as_dict())
    else:
        click.echo(card_text(made))
