"""`shaftwright compare`: two or more setups by speed and sound."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from pathlib import Path

    from shaftwright.measure.frames import Frames


@click.command("compare")
@common.notebook_argument
@click.option("--by", multiple=True, default=("string",), show_default="string", metavar="FIELD",
              help="Setup field that makes the groups, such as silencers, shaft or brace. May be given "
              "again, or with commas.")  # fmt: skip
@click.option("--rig", "rig_file", metavar="RIG", type=click.Path(),
              help="The bow, for its virtual mass and for the drop of its arrows.")  # fmt: skip
@click.option("--distance", default="20 yd", show_default=True, metavar="DISTANCE",
              help="Where a difference of speed is shown in inches.")  # fmt: skip
@click.option("--column", "columns", multiple=True, metavar="FIELD=COLUMN",
              help="With a CSV: which column holds which field, such as speed=Velocity.")  # fmt: skip
@common.plot_option("A picture: svg, png or pdf.")
@common.json_option
def command(
    given: str | None, by: tuple[str, ...], rig_file: str | None, distance: str,
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
    from shaftwright.measure.compare.compare import compare
    from shaftwright.measure.compare.readings import FIELDS, fields_of
    from shaftwright.measure.use import Drop, vacuum_drop_in
    from shaftwright.render.screens.compare import compare_figure, compare_text

    fields = fields_of(by)
    yards = _yards(distance)
    notebook_file, bow = common.notebook_of(given, rig_file)
    read = _frames(notebook_file, bow, columns)
    virtual = None
    drop: Drop = vacuum_drop_in
    if bow is not None:
        from shaftwright.measure.of_rig import drop_through_air, virtual_mass_gr

        asked = bow.scenario
        virtual = virtual_mass_gr(asked.rig, asked.demand_without_speed(asked.reference_build()))
        mass = read.speeds["arrow_mass_gr"].astype(float).median()
        if mass == mass:
            drop = drop_through_air(float(mass))
    result = compare(
        read.speeds, fields, sound=read.levels, virtual_mass_gr=virtual, distance_yd=yards, drop_in=drop
    )  # fmt: skip
    named = {column: name.replace("_", " ") for name, column in FIELDS.items()}
    words = ", ".join(named[column] for column in fields)
    if plot_file:
        common.write_picture(compare_figure(result, words), plot_file)
    common.answer(
        bow, as_json, lambda: {"by": fields, **result.to_dict()},
        lambda: compare_text(result, words, None if bow is None else bow.scenario),
    )  # fmt: skip


def _yards(text: str) -> float:
    from shaftwright.errors import Fault, InputError
    from shaftwright.units import read_quantity

    problem = "is out of range"
    try:
        yards = read_quantity(text, "yd")
    except ValueError as error:
        yards, problem = 0.0, f"is not usable: {error}"
    if not 1 <= yards <= 100:
        raise InputError([Fault("--distance", f"{problem}; allowed: 1 to 100 yd", None, "", text)])
    return yards


def _frames(file: Path, bow: common.Bow | None, columns: tuple[str, ...]) -> Frames:
    from shaftwright.errors import Fault, InputError

    mapped = {}
    for pair in columns:
        name, sign, column = (part.strip() for part in pair.partition("="))
        if not sign:
            raise InputError([Fault("--column", "needs FIELD=COLUMN", None, "", pair)])
        mapped[name] = column
    if file.suffix.lower() in common.READINGS:
        from shaftwright.files.readings import load_readings
        from shaftwright.measure.frames import frames_of_file

        readings = load_readings(file, mapped)
        for fault in readings.faults:
            click.echo(f"{fault} (row skipped)", err=True)
        return frames_of_file(readings)
    if mapped:
        raise InputError([Fault("--column", "goes with a CSV file", None, "", columns[0])])
    from shaftwright.measure.frames import frames

    return frames(common.entries_of(file, bow))
