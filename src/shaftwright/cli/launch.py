"""`shaftwright launch`: the arrow bending round this riser."""

from __future__ import annotations

import click

from shaftwright.cli import common
from shaftwright.limits import DRAWS


@common.bow_command("launch", build=True)
@click.option("--draws", type=common.whole(DRAWS), default=16, show_default=True,
              help="Draws of what nobody measures: more take longer and smooth the ranges.")  # fmt: skip
@common.plot_option("Frames from above: .svg .png .pdf.")
@common.out_option("--animate", "animate", "A moving picture: .svg.", "picture", (".svg",))
def command(
    bow: common.Bow, full: bool, draws: int, plot_file: str | None, animate: str | None,
    **build: str | None,
) -> common.Answer:  # fmt: skip
    """The arrow bending round this riser: how it leaves, why, and what changes would do.

    The arrow is the one that `next` names unless options name another. With a notebook, bare
    shafts of the bow as it stands choose among the settings nobody measures.

    \b
    Examples:
      shaftwright launch examples/heron_marsh --spine 500 --gr-per-in 8 \\
          --length "29 1/2 in" --front "200 gr"
      shaftwright launch examples/heron_marsh \\
          --shaft MARSH-500 --length "30 in" --point P175 --insert I25 --animate bend.svg
    """
    spec = common.build_spec(build)
    found = bow.launch(spec, draws)
    if plot_file is not None or animate is not None:
        from shaftwright.render.screens.build import builds_name

        title = f"{builds_name(bow.builds(spec))} on {bow.rig.name}"
    if plot_file is not None:
        from shaftwright.render.pictures.launch import launch_figure

        common.write_picture(plot_file, lambda: launch_figure(found.result.seen, title))
    if animate is not None:
        from shaftwright.render.pictures.launch import launch_animation

        common.write(animate, launch_animation(found.result.seen, title), "picture")
    return common.shown(found, full)
