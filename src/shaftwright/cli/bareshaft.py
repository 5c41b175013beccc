"""`shaftwright bareshaft`: why the bare shafts land where they land, and the one next change."""

from __future__ import annotations

from typing import Any

import click

from shaftwright.cli import common


@click.command("bareshaft")
@click.option(
    "--plot", "plot_file", metavar="FILE", type=click.Path(), help="Target view: svg, png or pdf."
)
@common.bow_options
def command(bow: common.Bow, plot_file: str | None, as_json: bool) -> None:
    """What the bare shafts of BOW's notebook say, and the one thing to change next.

    \b
    Example:
      shaftwright bareshaft examples/heron_marsh
    """
    from shaftwright.answers.diagnose import diagnose
    from shaftwright.errors import NoAnswer
    from shaftwright.render.bareshaft import bareshaft_text
    from shaftwright.rules.cautions import cautions_for

    bow.need_notebook("bare shafts")
    asked, stock = bow.scenario, bow.stock
    rig = asked.rig
    found = diagnose(rig, bow.entries, stock, asked.before, bow.lines, asked.speed, asked.book)
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

    def document() -> dict[str, Any]:
        made = found.as_dict()
        made["cautions"] += [c.text for c in due]
        return made

    few = tuple(
        c.text for c in due
        if c.name == "shaft-too-short" or "bare" in c.text.lower() or "flex" in c.text.lower()
    )  # fmt: skip
    common.answer(bow, as_json, document, lambda: bareshaft_text(found, few))
