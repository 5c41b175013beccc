"""`shaftwright choose`: the band, and the builds ranked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common
from shaftwright.cli.picture import check_picture_name, write_picture

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("choose")
@common.rig_argument
@common.stock_option
@common.notebook_option
@common.before_option
@common.purpose_option
@click.option(
    "--chance", type=click.FloatRange(0.5, 0.99), help="Chance the band is stated at; 0.8."
)
@click.option("--material", type=click.Choice(["carbon", "aluminium", "wood", "fibreglass"]),
              help="Only shafts of this material.")  # fmt: skip
@click.option(
    "--top", type=click.IntRange(1, 500), default=6, show_default=True, help="Builds to list."
)
@click.option("--all-builds", is_flag=True, help="Also several builds of one shaft.")
@click.option(
    "--plot", "plot_file", metavar="FILE", type=click.Path(), help="A picture: svg, png or pdf."
)
@click.option("--picture", type=click.Choice(["map", "ladder", "band"]), default="map", show_default=True,
              help="Which one: length against front mass, rule by rule, or the band.")  # fmt: skip
@common.basis_option
@common.set_option
@common.json_option
def command(
    rig_file: str, stock_files: tuple[str, ...], notebook_file: str | None, before_file: str | None,
    purpose: str | None, chance: float | None, material: str | None, top: int, all_builds: bool,
    plot_file: str | None, picture: str, basis: Basis, changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """Which shaft, how long, with what up front, for RIG.

    Without a stock: the spine band with its doubt and the usual sizes inside it. With one: every
    arrow that could be built, ranked, with reasons.

    \b
    Example:
      shaftwright choose examples/heron_marsh.yaml --stock examples/stock.csv
    """
    from shaftwright.answers.choose import choose
    from shaftwright.errors import NoAnswer
    from shaftwright.render.choose import choice_dict, choice_text, turned_away

    if plot_file:
        check_picture_name(plot_file)
    rig = common.read_rig(rig_file, changes)
    before = common.read_rig(before_file, ()) if before_file else None
    stock = common.read_stock(stock_files)
    notebook = common.read_notebook(notebook_file)
    asked = common.ask(rig, purpose, notebook, stock, before, basis)
    choice = choose(asked, stock, chance, top, all_builds, material)
    if stock is not None and not choice.listed:
        lines = "; ".join(turned_away(choice)) or "no shaft of this stock was asked for"
        raise NoAnswer(f"nothing in this stock can be built within the limits: {lines}")
    if plot_file:
        from shaftwright.render.plots.choice import choice_figure

        write_picture(choice_figure(choice, picture), plot_file)
    if as_json:
        common.emit_json(choice_dict(choice))
    else:
        click.echo(choice_text(choice))
