"""`shaftwright report`: everything on one page that needs no network."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("report")
@common.rig_argument
@common.stock_option
@common.notebook_option
@common.before_option
@common.purpose_option
@click.option(
    "--html", "html_file", metavar="F", type=click.Path(), help="The page, one file, to be written."
)
@click.option("--arrows", type=click.IntRange(0, 144), default=12, show_default=True,
              help="Arrows on the shopping list; 0 for the test kit alone.")  # fmt: skip
@click.option(
    "--top", type=click.IntRange(1, 50), default=6, show_default=True, help="Builds to list."
)
@click.option("--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day on it; today.")
@common.basis_option
@common.set_option
@common.json_option
def command(
    rig_file: str, stock_files: tuple[str, ...], notebook_file: str | None, before_file: str | None,
    purpose: str | None, html_file: str | None, arrows: int, top: int, day: datetime.datetime | None,
    basis: Basis, changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """One self-contained HTML page for RIG: advice, band, builds, bare shafts, list, card, cautions.

    It opens offline on a phone and prints on two sheets.

    \b
    Example:
      shaftwright report examples/heron_marsh.yaml --stock examples/stock.csv --html heron.html
    """
    from shaftwright.answers.report import report
    from shaftwright.answers.shop import Wishes
    from shaftwright.files.atomic import write_atomic
    from shaftwright.render.report import report_dict, report_html

    if html_file is None and not as_json:
        raise click.UsageError("needs --html FILE to write, or --json")
    rig = common.read_rig(rig_file, changes)
    before = common.read_rig(before_file, ()) if before_file else None
    stock = common.read_stock(stock_files)
    notebook = common.read_notebook(notebook_file)
    asked = common.ask(rig, purpose, notebook, stock, before, basis)
    told = report(
        asked, (day or datetime.datetime.now()).date(), stock, notebook.entries if notebook else (),
        notebook.lines if notebook else (), before, top, Wishes(arrows),
    )  # fmt: skip
    if html_file is not None:
        write_atomic(Path(html_file), report_html(told))
    if as_json:
        common.emit_json(report_dict(told) | {"html": html_file})
    else:
        click.echo(told.advice)
        click.echo(f"Wrote {html_file}.")
