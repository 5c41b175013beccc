"""`shaftwright card`: everything needed to rebuild the rig, on one page."""

from __future__ import annotations

import datetime

import click

from shaftwright.cli import common


@common.bow_command("card", build=True)
@common.page_option("Also as one printable page, written to this file.", "card")
@click.option("--last", "last_file", metavar="CARD.json", type=click.Path(),
              help="A card saved with --json: what has changed since.")  # fmt: skip
@common.date_option
def command(
    bow: common.Bow, html_file: str | None, last_file: str | None, day: datetime.date, full: bool,
    **build: str | None,
) -> common.Answer:  # fmt: skip
    """The setup card of BOW: bow, string, arrow, spines, speeds, and what is missing to set it up again.

    Without a named arrow it is the one that the plan shoots, proves or makes; once the dozen is made
    the card has its label and the end that says whether it is still in tune.

    \b
    Examples:
      shaftwright card examples/heron_marsh --html card.html
      shaftwright card examples/heron_marsh --json > card.json
    """
    made = bow.card(common.build_spec(build), day, last_file)
    common.write_page(html_file, "card", made.result)
    return common.shown(made, full)
