"""`shaftwright choose`: the band, and the builds ranked."""

from __future__ import annotations

from typing import Any

import click

from shaftwright.cli import common
from shaftwright.limits import BAND_CHANCE, LISTED, MATERIALS


@common.bow_command("choose")
@click.option(
    "--chance", type=common.Number(*BAND_CHANCE[:2]), help="Chance the band is stated at; 0.8."
)
@click.option("--material", type=click.Choice(MATERIALS),
              help="Only shafts of this material.")  # fmt: skip
@common.top_option(LISTED)
@click.option("--all-builds", is_flag=True, help="Also several builds of one shaft.")
@common.plot_option("A picture: svg, png or pdf.")
@click.option("--picture", type=click.Choice(["map", "ladder", "band"]), default="map", show_default=True,
              help="Which one: length against front mass, rule by rule, or the band.")  # fmt: skip
def command(
    bow: common.Bow, plot_file: str | None, picture: str, full: bool, **asked: Any
) -> common.Answer:
    """Which shaft, how long, with what up front, for BOW.

    Without a stock: the spine band with its doubt and the usual sizes inside it. With one: every
    arrow that could be built, ranked, with reasons.

    \b
    Example:
      shaftwright choose examples/heron_marsh
    """
    found = bow.choose(**asked)
    choice = found.result
    if plot_file:
        from shaftwright.render.pictures.choice import choice_figure

        common.write_picture(plot_file, lambda: choice_figure(choice, picture))
    return common.shown(found, full)
