"""`shaftwright bareshaft`: why the bare shafts land where they land, and the one next change."""

from __future__ import annotations

import click

from shaftwright.cli import common


@click.command("bareshaft")
@click.option(
    "--plot", "plot_file", metavar="FILE", type=click.Path(), help="Target view: svg, png or pdf."
)
@common.full_option
@common.bow_options
def command(bow: common.Bow, plot_file: str | None, full: bool, as_json: bool) -> None:
    """What the bare shafts of BOW's notebook say, and the one thing to change next.

    \b
    Example:
      shaftwright bareshaft examples/heron_marsh
    """
    from shaftwright.answers.diagnose.diagnose import diagnose, nothing_shot
    from shaftwright.errors import NoAnswer
    from shaftwright.render.screens.bareshaft import bareshaft_text, nothing_shot_text

    if bow.files.folder is None:
        bow.need_notebook("bare shafts")
    try:
        found = diagnose(bow.scenario)
    except NoAnswer:
        none = nothing_shot(bow.scenario)
        common.answer(bow, as_json, none.to_dict, lambda: nothing_shot_text(none))
        return
    if plot_file:
        from shaftwright.render.pictures.bareshaft import target_view
        from shaftwright.render.pictures.figure import save

        picture = target_view(found)
        if picture is None:
            raise NoAnswer("there is no picture: no reading of this arrow has coordinates")
        save(picture, plot_file)
    common.answer(bow, as_json, found.to_dict, lambda: bareshaft_text(found, full))
