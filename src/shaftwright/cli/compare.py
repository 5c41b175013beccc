"""`shaftwright compare`: two or more setups by speed and sound."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common
from shaftwright.cli.main import Command
from shaftwright.errors import InputError
from shaftwright.limits import COMPARED
from shaftwright.readings import compare
from shaftwright.units import distance_typed

if TYPE_CHECKING:
    from pathlib import Path

    from shaftwright.measure.frames import Frames


@click.command("compare", cls=Command)
@common.notebook_argument
@click.option("--by", multiple=True, default=("string",), show_default="string", metavar="FIELD",
              help="Setup field that makes the groups, such as silencers, shaft or brace. May be given "
              "again, or with commas.")  # fmt: skip
@click.option("--rig", "rig_file", metavar="RIG", type=click.Path(),
              help="The bow, for its virtual mass and for the drop of its arrows.")  # fmt: skip
@click.option("--distance", "yards", default="20 yd", show_default=True, metavar="DISTANCE",
              help="Where a difference of speed is shown in inches.")  # fmt: skip
@click.option("--column", "columns", multiple=True, metavar="FIELD=COLUMN",
              help="With a CSV: which column holds which field, such as speed=Velocity.")  # fmt: skip
@common.plot_option("A picture: svg, png or pdf.")
@common.json_option
def command(
    given: str | None, by: tuple[str, ...], rig_file: str | None, yards: str,
    columns: tuple[str, ...], plot_file: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Setups held against each other: is the difference real, what is it worth, what settles it.

    Takes a notebook, a BOW with one, or a CSV file of readings with a row a shot. The verdict counts
    restringing, and holds however often you look.

    \b
    Examples:
      shaftwright compare examples/heron_marsh --by string
      shaftwright compare readings.csv --by string --column speed=Velocity
    """
    from shaftwright.render.screens.compare import compare_figure

    notebook_file, bow = common.notebook_of(given, rig_file)
    typed = distance_typed(yards, "imperial" if bow is None else bow.rig.units)
    far = common.Quantity(COMPARED).read(typed, "--distance")
    found = compare(
        _frames(notebook_file, bow, columns), by, far, None if bow is None else bow.scenario
    )
    common.write_picture(plot_file, lambda: compare_figure(found.result))
    common.answer(bow, as_json, *common.shown(found, False))


def _frames(file: Path, bow: common.Bow | None, columns: tuple[str, ...]) -> Frames:

    mapped = {}
    for pair in columns:
        name, sign, column = (part.strip() for part in pair.partition("="))
        if not sign:
            raise InputError.of("--column", "needs FIELD=COLUMN", None, "", pair)
        mapped[name] = column
    if file.suffix.lower() in common.READINGS:
        from shaftwright.files.readings import load_readings
        from shaftwright.measure.frames import frames_of_file

        readings = load_readings(file, mapped)
        for fault in readings.faults:
            click.echo(f"{fault} (row skipped)", err=True)
        return frames_of_file(readings)
    if mapped:
        raise InputError.of("--column", "goes with a CSV file", None, "", columns[0])
    from shaftwright.measure.frames import frames

    return frames(common.entries_of(file, bow))
