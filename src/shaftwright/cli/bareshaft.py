"""`shaftwright bareshaft`: why the bare shafts land where they land, and the one next change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.answers.scenario import scenario
from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("bareshaft")
@common.rig_argument
@common.notebook_option
@common.stock_option
@common.before_option
@common.basis_option
@click.option(
    "--plot", "plot_file", metavar="FILE", type=click.Path(), help="Target view: svg, png or pdf."
)
@common.set_option
@common.json_option
def command(
    rig_file: str, notebook_file: str | None, stock_files: tuple[str, ...], before_file: str | None,
    basis: Basis, plot_file: str | None, changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """What the bare shafts of a notebook say about RIG, and the one thing to change next.

    \b
    Example:
      shaftwright bareshaft examples/heron_marsh.yaml \\
          --notebook examples/heron_marsh.notebook.yaml --stock examples/stock.csv
    """
    from shaftwright.answers.diagnose import diagnose
    from shaftwright.errors import Fault, InputError, NoAnswer
    from shaftwright.render.bareshaft import bareshaft_text
    from shaftwright.rules.cautions import cautions_for

    rig = common.read_rig(rig_file, changes)
    notebook = common.read_notebook(notebook_file)
    if notebook is None:
        raise InputError(
            [Fault("--notebook", "is missing: name the file your bare shafts are noted in")]
        )
    stock = common.read_stock(stock_files)
    before = common.read_rig(before_file, ()) if before_file else None
    asked = scenario(rig, None, stock, notebook.entries, notebook.lines, before, basis)
    found = diagnose(rig, notebook.entries, stock, before, notebook.lines, asked.speed, asked.book)
    shaft = found.asked.build.spec.shaft
    item = stock.by_name.get(shaft) if stock is not None and shaft else None
    material = item.material if item is not None and item.material else "carbon"
    due = [
        c for c in cautions_for(rig, rig.purpose, {material}) if c.severity in ("danger", "caution")
    ]
    if plot_file:
        from shaftwright.render.bareshaft_picture import target_view
        from shaftwright.render.figure import save

        picture = target_view(found)
        if picture is None:
            raise NoAnswer("there is no picture: no reading of this build has coordinates")
        save(picture, plot_file)
    if as_json:
        document = found.as_dict()
        document["cautions"] += [c.text for c in due]
        common.emit_json(document)
    else:
        few = tuple(
            c.text for c in due
            if c.name == "shaft-too-short" or "bare" in c.text.lower() or "flex" in c.text.lower()
        )  # fmt: skip
        click.echo(bareshaft_text(found, few))
