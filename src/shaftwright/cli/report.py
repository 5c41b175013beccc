"""`shaftwright report`: everything on one page that needs no network."""

from __future__ import annotations

import datetime

import click

from shaftwright.cli import common
from shaftwright.limits import ARROWS, REPORTED


@common.bow_command("report", full=False)
@common.page_option("The page, one file, to be written.", "report")
@click.option("--arrows", type=common.whole(ARROWS), default=12, show_default=True,
              help="Arrows on the shopping list; 0 for the test kit alone.")  # fmt: skip
@common.top_option(REPORTED)
@common.date_option
def command(
    bow: common.Bow, html_file: str | None, day: datetime.date, **asked: int
) -> common.Answer:
    """One self-contained HTML page for BOW: advice, band, builds, bare shafts, list, card, cautions.

    It opens offline on a phone and prints on two sheets.

    \b
    Example:
      shaftwright report examples/heron_marsh --html heron.html
    """
    if html_file is None and not common.as_json():
        raise click.UsageError("needs --html FILE to write, or --json")
    told = bow.report(day, **asked)
    common.write_page(html_file, "report", told.result)
    return (
        lambda: told.result.to_dict() | {"html": html_file},
        lambda: f"{told}\nWrote {html_file}.",
    )
