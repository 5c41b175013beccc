"""`shaftwright efficiency`: what the bow stores, what it keeps, how fast other arrows are."""

from __future__ import annotations

import click

from shaftwright.cli import common
from shaftwright.errors import InputError
from shaftwright.limits import MASS, MOST


@common.bow_command("efficiency")
@click.option("--masses", metavar="LIST",
              help="Arrow masses to predict, with commas; grains, or with a unit.")  # fmt: skip
@common.plot_option("A picture: svg, png or pdf.")
def command(
    bow: common.Bow, masses: str | None, plot_file: str | None, full: bool
) -> common.Answer:
    """What BOW stores, what string and limbs carry along, and what arrows take, from chronograph readings.

    Needs readings of two arrow masses or more; with a draw-force curve in the rig, one will do.

    \b
    Example:
      shaftwright efficiency examples/heron_marsh \\
          --notebook examples/heron_marsh/masses.notebook.yaml --masses "400, 505 gr"
    """
    bow.need_notebook("chronograph readings")
    from shaftwright.render.screens.efficiency import efficiency_figure

    wanted = _masses(masses) if masses is not None else ()
    found = bow.efficiency(wanted)
    common.write_picture(plot_file, lambda: efficiency_figure(found.result))
    return common.shown(found, full)


def _masses(text: str) -> tuple[float, ...]:
    read = common.Quantity(MASS).read
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if not parts:
        raise InputError.of("--masses", f"needs 1 to {MOST} masses with commas between", value=text)
    return tuple(read(part, "--masses") for part in parts)
