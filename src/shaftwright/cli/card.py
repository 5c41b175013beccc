"""`shaftwright card`: everything needed to rebuild the rig, on one page."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from shaftwright.cli import common


@click.command("card")
@common.build_options
@click.option("--html", "html_file", metavar="F", type=click.Path(),
              help="Also as one printable page, written to this file.")  # fmt: skip
@click.option("--last", "last_file", metavar="CARD.json", type=click.Path(),
              help="A card saved with --json: what has changed since.")  # fmt: skip
@click.option("--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day on it; today.")
@common.full_option
@common.bow_options
def command(
    bow: common.Bow, html_file: str | None, last_file: str | None, day: datetime.datetime | None,
    full: bool, as_json: bool, **build: str | None,
) -> None:  # fmt: skip
    """The setup card of BOW: bow, string, arrow, spines, speeds, and what is missing to set it up again.

    Without a named arrow it is the one that the plan shoots, proves or makes; once the dozen is made
    the card has its label and the end that says whether it is still in tune.

    \b
    Examples:
      shaftwright card examples/heron_marsh --html card.html
      shaftwright card examples/heron_marsh --json > card.json
    """
    from shaftwright.answers.card.card import OldCard, card
    from shaftwright.files.atomic import write_atomic
    from shaftwright.files.card import load_card
    from shaftwright.render.screens.card import card_text

    spec = common.build_spec(build)
    last = OldCard(*load_card(last_file)) if last_file else None
    date = (day or datetime.datetime.now()).date()
    made = card(bow.scenario, date, spec, last)
    if html_file is not None:
        from shaftwright.render.page.card import card_html

        write_atomic(Path(html_file), card_html(made))
    common.answer(bow, as_json, made.to_dict, lambda: card_text(made, full))
