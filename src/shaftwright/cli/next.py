"""`shaftwright next`: the one thing to do now."""

from __future__ import annotations

import click

from shaftwright.cli import common


@click.command("next")
@common.full_option
@common.bow_options
def command(bow: common.Bow, full: bool, as_json: bool) -> None:
    """The one thing to do now with BOW, why, what to expect, and what it means if it does not come.

    Do it, note it, and ask again.

    \b
    Example:
      shaftwright next examples/heron_marsh
    """
    from shaftwright.render.screens.next import next_text

    asked = bow.scenario
    common.answer(
        bow, as_json, lambda: {"rig": asked.rig.name, "warnings": list(asked.warnings)},
        lambda: next_text(asked, full), gap="\n" if full else "",
    )  # fmt: skip
