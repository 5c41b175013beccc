"""`shaftwright launch`: the arrow bending round this riser."""

from __future__ import annotations

import click

from shaftwright.cli import common


@click.command("launch")
@common.rig_argument
@common.stock_option
@common.notebook_option
@common.build_options
@click.option("--draws", type=click.IntRange(4, 400), default=16, show_default=True,
              help="Draws of what nobody measures: more take longer and smooth the ranges.")  # fmt: skip
@click.option(
    "--plot", metavar="FILE", type=click.Path(), help="Frames from above: .svg .png .pdf."
)
@click.option("--animate", metavar="FILE", type=click.Path(), help="A moving picture: .svg.")
@common.purpose_option
@common.set_option
@common.json_option
def command(
    rig_file: str, stock_files: tuple[str, ...], notebook_file: str | None, purpose: str | None,
    changes: tuple[str, ...], as_json: bool, draws: int, plot: str | None, animate: str | None,
    **build: str | None,
) -> None:  # fmt: skip
    """The arrow bending round this riser: how it leaves, why, and what changes would do.

    With a notebook, bare shafts of the bow as it stands choose among the settings nobody measures.

    \b
    Examples:
      shaftwright launch examples/heron_marsh.yaml --spine 500 --gr-per-in 8 \\
          --length "29 1/2 in" --front "200 gr"
      shaftwright launch examples/heron_marsh.yaml --stock examples/stock.csv \\
          --shaft MARSH-500 --length "30 in" --point P175 --insert I25 --animate bend.svg
    """
    from shaftwright.answers.launch import launched
    from shaftwright.answers.one import not_to_be_drawn
    from shaftwright.cli.picture import check_picture_name
    from shaftwright.errors import Fault, InputError
    from shaftwright.render.build import builds_name, danger_first
    from shaftwright.render.launch import launch_text

    if plot is not None:
        check_picture_name(plot)
    if animate is not None and not animate.lower().endswith(".svg"):
        raise InputError([Fault("--animate", "must end in .svg", value=animate)])
    rig = common.read_rig(rig_file, changes)
    stock = common.read_stock(stock_files)
    spec = common.build_spec(build)
    if spec is None:
        problem = "name a build (--shaft ... with --stock) or give it by numbers (--spine --length --front)"
        raise InputError([Fault("build options", problem)])
    builds = common.resolve(spec, stock)
    notebook = common.read_notebook(notebook_file)
    asked, fitted = common.ask(rig, purpose, notebook, stock), None
    if notebook is not None:
        from shaftwright.answers.launch_fit import fit, groups_of

        groups = groups_of(asked, notebook.entries, stock)
        fitted = fit(asked, groups) if groups else None
    found, name = launched(asked, builds, draws, fitted), builds_name(builds)
    if plot is not None:
        from shaftwright.cli.picture import write_picture
        from shaftwright.render.launch_picture import launch_figure

        write_picture(launch_figure(found.seen, f"{name} on {rig.name}"), plot)
    if animate is not None:
        from shaftwright.files.atomic import write_atomic
        from shaftwright.render.launch_animation import launch_animation

        write_atomic(animate, launch_animation(found.seen, f"{name} on {rig.name}"))
    perils = not_to_be_drawn(asked, builds)
    if as_json:
        common.emit_json({**found.as_dict(), "dangers": list(perils)})
    else:
        for line in danger_first(perils):
            click.echo(line + "\n")
        click.echo(launch_text(found, name))
