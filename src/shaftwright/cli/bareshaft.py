"""`shaftwright bareshaft`: why the bare shafts land where they land, and the one next change."""

from __future__ import annotations

from shaftwright.cli import common
from shaftwright.errors import NoAnswer


@common.bow_command("bareshaft")
@common.plot_option("Target view: svg, png or pdf.")
def command(bow: common.Bow, plot_file: str | None, full: bool) -> common.Answer:
    """What the bare shafts of BOW's notebook say, and the one thing to change next.

    \b
    Example:
      shaftwright bareshaft examples/heron_marsh
    """
    from shaftwright.answers.diagnose import Diagnosis

    if bow.files.folder is None:
        bow.need_notebook("bare shafts")
    found = bow.bareshaft()
    told = found.result
    if plot_file and isinstance(told, Diagnosis):
        from shaftwright.render.pictures.bareshaft import target_view

        picture = target_view(told)
        if picture is None:
            raise NoAnswer("there is no picture: no reading of this arrow has coordinates")
        common.write_picture(plot_file, lambda: picture)
    return common.shown(found, full)
