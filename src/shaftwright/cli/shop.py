"""`shaftwright shop`: test shafts first, then the dozen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from shaftwright.cli import common
from shaftwright.cli.main import Command
from shaftwright.files.bow import NONE
from shaftwright.limits import ARROWS, BREAKAGE, BUDGET, KIT_CHANCE, PURPOSES

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("shop", cls=Command)
@click.argument("paths", metavar="[BOW [BOW2]]", nargs=-1, type=click.Path())
@common.stock_option
@click.option("--notebook", "notebook_files", multiple=True, metavar="YAML", type=click.Path(),
              help="Your shots and readings. With two bows once for each, in their order; "
              "- for none.")  # fmt: skip
@click.option("--before", "before_files", multiple=True, metavar="OLD_RIG", type=click.Path(),
              help="The rig before its last change, for its notebook. With two bows once for each, in "
              "their order; - for none.")  # fmt: skip
@click.option(
    "--purpose", "purposes", multiple=True, type=click.Choice(PURPOSES),
    help="Instead of the purpose in the rig. Given twice: one arrow for both.",
)  # fmt: skip
@click.option("--arrows", type=common.whole(ARROWS), default=12, show_default=True,
              help="Arrows wanted, of a pair of each; 0 for the test kit alone.")  # fmt: skip
@click.option("--chance", type=common.Number(*KIT_CHANCE[:2]),
              help="Chance that one shaft of the test kit can be tuned; 0.95.")  # fmt: skip
@click.option(
    "--any-line", is_flag=True, help="A test kit of several makes, where parts of one kind fit."
)
@click.option("--breakage", type=common.Number(*BREAKAGE[:2]), help="Percent broken or lost; 15.")
@click.option(
    "--budget",
    type=common.Number(*BUDGET[:2]),
    help="Most that test kit and list may cost together.",
)
@click.option("--must", multiple=True, metavar="KEY=VALUE",
              help="A limit: material=carbon, shaft=NAME, point=NAME, insert=NAME, gr_per_lb=10, foc=12. "
              "May be given again.")  # fmt: skip
@click.option("--wraps", is_flag=True, help="Reckon with a wrap, and list it.")
@common.out_option("--csv", "csv_file", "Write the list as CSV too.", "list", metavar="F")
@common.force_option
@common.full_option
@common.rules_option
@common.basis_option
@common.set_option
@common.json_option
def command(
    paths: tuple[str, ...], stock_files: tuple[str, ...], notebook_files: tuple[str, ...],
    before_files: tuple[str, ...], purposes: tuple[str, ...], csv_file: str | None,
    rules_folder: str | None, basis: Basis, changes: tuple[str, ...], full: bool, as_json: bool,
    **wishes: Any,
) -> None:  # fmt: skip
    """What exactly goes on the list: test shafts first, then the dozen.

    The test kit is of one line of shafts, at most four neighbouring spines, one insert and up to three
    points: the cheapest that holds a shaft that can be tuned with the chance asked for. Once an arrow
    flies straight the list is for that arrow. With two bows, or two purposes: one arrow for both, or a
    list for each; every option counts for both, and both are served from the first one's stock.

    \b
    Examples:
      shaftwright shop examples/heron_marsh
      shaftwright shop BOW BOW2 --stock CSV --notebook FIRST.yaml --notebook -
    """
    named: tuple[str | None, ...] = paths or (None,)
    bows = _bows(
        named, stock_files, notebook_files, before_files, purposes, basis, changes, rules_folder
    )
    also: common.Bow | str | None = bows[1] if len(bows) == 2 else None
    if len(purposes) == 2:
        also = purposes[1]
    found = bows[0].shop(also=also, **wishes)
    if csv_file:
        from shaftwright.render.screens.shop import csv_text

        common.write(csv_file, csv_text(found.result), "list")
    document, text = common.shown(found, full)
    common.answer(bows[0], as_json, document, text, others=bows[1:])


def _bows(
    paths: Sequence[str | None], stock_files: tuple[str, ...], notebooks: Sequence[str],
    befores: Sequence[str], purposes: Sequence[str], basis: Basis, changes: tuple[str, ...],
    rules_folder: str | None,
) -> list[common.Bow]:  # fmt: skip
    """One bow for each that was named, all with the first one's shop; what cannot be meant is refused."""
    many = len(paths)
    if many > 2:
        raise click.UsageError("takes one bow, or two")
    if len(purposes) > 2 or (len(purposes) == 2 and many == 2):
        raise click.UsageError("takes two bows, or one bow with two purposes")
    for name, given in (("--notebook", notebooks), ("--before", befores)):
        if given and len(given) != many:
            how = "once" if many == 1 else f"twice, in the order of the bows, {NONE} for none"
            raise click.UsageError(
                f"{many} bow{'s' * (many > 1)} take{'s' * (many == 1)} {name} {how}"
            )
    purpose = purposes[0] if purposes else None
    shots: Sequence[str | None] = notebooks or [None] * many
    olds: Sequence[str | None] = befores or [None] * many
    bows = [
        common.Bow(path, stock_files, notebook, before, purpose, basis, changes, rules_folder)
        for path, notebook, before in zip(paths, shots, olds, strict=True)
    ]
    for bow in bows:
        if bow.before_file not in (None, NONE) and bow.files.notebook is None:
            raise click.UsageError("--before needs --notebook: what was shot from the old rig")
    shops = [tuple(map(str, bow.files.stock)) for bow in bows]
    shop = next(filter(None, shops), ())
    return [
        bow if own == shop else replace(bow, stock_files=shop)
        for bow, own in zip(bows, shops, strict=True)
    ]
