"""`shaftwright shop`: test shafts first, then the dozen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.advise.shop_limits import Must
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock


@click.command("shop")
@click.argument("rig_files", metavar="RIG [RIG2]", nargs=-1, required=True, type=click.Path())
@common.stock_option
@common.notebook_option
@common.before_option
@click.option(
    "--purpose", "purposes", multiple=True, type=click.Choice(common.PURPOSES),
    help="Instead of the purpose in the rig. Given twice: one arrow for both.",
)  # fmt: skip
@click.option("--arrows", type=click.IntRange(0, 144), default=12, show_default=True,
              help="Arrows wanted; 0 for the test kit alone.")  # fmt: skip
@click.option("--chance", type=click.FloatRange(0.05, 0.99),
              help="Chance that one shaft of the test kit can be tuned; 0.95.")  # fmt: skip
@click.option("--each", type=click.IntRange(1, 6), help="Test shafts of each kind; 1.")
@click.option("--breakage", type=click.FloatRange(0, 100), help="Percent broken or lost; 15.")
@click.option(
    "--budget", type=click.FloatRange(min=0), help="Most that test kit and list may cost together."
)
@click.option("--must", "musts", multiple=True, metavar="KEY=VALUE",
              help="A limit: material=carbon, shaft=NAME, point=NAME, insert=NAME, gr_per_lb=10, foc=12. "
              "May be given again.")  # fmt: skip
@click.option("--wraps", is_flag=True, help="Reckon with a wrap, and list it.")
@click.option(
    "--csv", "csv_file", metavar="F", type=click.Path(), help="Write the list as CSV too."
)
@common.set_option
@common.json_option
def command(
    rig_files: tuple[str, ...], stock_files: tuple[str, ...], notebook_file: str | None,
    before_file: str | None, purposes: tuple[str, ...], arrows: int, chance: float | None,
    each: int | None, breakage: float | None, budget: float | None, musts: tuple[str, ...], wraps: bool,
    csv_file: str | None, changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """What exactly goes on the list: test shafts first, then the dozen.

    The test kit is the cheapest set of single shafts, points and inserts that holds one that can be
    tuned with the chance asked for. With two rigs, or two purposes: one arrow for both, or a pair.

    \b
    Example:
      shaftwright shop examples/heron_marsh.yaml --stock examples/stock.csv
    """
    from shaftwright.advise.shop import Wishes, shop
    from shaftwright.advise.shop_limits import read_musts
    from shaftwright.errors import NoAnswer
    from shaftwright.show.shop import shop_text
    from shaftwright.show.shop_csv import csv_text
    from shaftwright.show.shop_rows import shop_dict

    if len(rig_files) > 2:
        raise click.UsageError("takes one rig, or two")
    if len(purposes) > 2 or (len(purposes) == 2 and len(rig_files) == 2):
        raise click.UsageError("takes two rigs, or one rig with two purposes")
    stock = common.read_stock(stock_files)
    if stock is None:
        raise click.UsageError("needs --stock: what could be bought, and what you own")
    limits = read_musts(musts)
    if not stock.of_kind("shaft"):
        raise NoAnswer("the stock has no shafts: add shafts, or another --stock file")
    if len(rig_files) == 2 or len(purposes) == 2:
        if csv_file:
            raise click.UsageError("--csv is for one rig and one purpose")
        _for_two(rig_files, purposes, stock, arrows, breakage, limits, changes, as_json)
        return
    rig = common.read_rig(rig_files[0], changes)
    before = common.read_rig(before_file, ()) if before_file else None
    notebook = common.read_notebook(notebook_file)
    asked = common.ask(rig, purposes[0] if purposes else None, notebook, stock, before)
    wishes = Wishes(arrows, chance, breakage, budget, limits, each, wraps)
    answer = shop(asked, stock, wishes, notebook.entries if notebook else ())
    if csv_file:
        from shaftwright.files.atomic import write_atomic

        write_atomic(Path(csv_file), csv_text(answer))
    if as_json:
        common.emit_json(shop_dict(answer))
    else:
        click.echo(shop_text(answer))


def _for_two(
    rig_files: tuple[str, ...], purposes: tuple[str, ...], stock: Stock, arrows: int,
    breakage: float | None, limits: tuple[Must, ...], changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    from shaftwright.advise.shop_two import shop_two
    from shaftwright.errors import NoAnswer
    from shaftwright.show.shop import two_text
    from shaftwright.show.shop_rows import two_dict
    from shaftwright.show.shop_words import first_line_two

    rigs = [common.read_rig(file, changes) for file in rig_files]
    if len(rigs) == 1:
        pairs: list[tuple[Rig, str | None]] = [(rigs[0], purpose) for purpose in purposes]
    else:
        pairs = [(rig, purposes[0] if purposes else None) for rig in rigs]
    first, second = (common.ask(rig, purpose) for rig, purpose in pairs)
    answer = shop_two(first, second, stock, max(arrows, 1), breakage, limits)
    if answer.one_final is None and answer.pair is None:
        raise NoAnswer(first_line_two(answer))
    if as_json:
        common.emit_json(two_dict(answer))
    else:
        click.echo(two_text(answer))
