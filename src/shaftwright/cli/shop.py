"""`shaftwright shop`: test shafts first, then the dozen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.records.notebook import AnyEntry
    from shaftwright.records.stock import Stock
    from shaftwright.rules.load import Basis

_NONE = "-"


@click.command("shop")
@click.argument("rig_files", metavar="RIG [RIG2]", nargs=-1, required=True, type=click.Path())
@common.stock_option
@click.option("--notebook", "notebook_files", multiple=True, metavar="YAML", type=click.Path(),
              help="Your shots and readings. With two rigs once for each, in their order; "
              "- for none.")  # fmt: skip
@click.option("--before", "before_files", multiple=True, metavar="OLD_RIG", type=click.Path(),
              help="The rig before its last change, for its notebook. With two rigs once for each, in "
              "their order; - for none.")  # fmt: skip
@click.option(
    "--purpose", "purposes", multiple=True, type=click.Choice(common.PURPOSES),
    help="Instead of the purpose in the rig. Given twice: one arrow for both.",
)  # fmt: skip
@click.option("--arrows", type=click.IntRange(0, 144), default=12, show_default=True,
              help="Arrows wanted, of a pair of each; 0 for the test kit alone.")  # fmt: skip
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
@common.basis_option
@common.set_option
@common.json_option
def command(
    rig_files: tuple[str, ...], stock_files: tuple[str, ...], notebook_files: tuple[str, ...],
    before_files: tuple[str, ...], purposes: tuple[str, ...], arrows: int, chance: float | None,
    each: int | None, breakage: float | None, budget: float | None, musts: tuple[str, ...], wraps: bool,
    csv_file: str | None, basis: Basis, changes: tuple[str, ...], as_json: bool,
) -> None:  # fmt: skip
    """What exactly goes on the list: test shafts first, then the dozen.

    The test kit is the cheapest set of single shafts, points and inserts that holds one that can be
    tuned with the chance asked for. With two rigs, or two purposes: one arrow for both, or the
    cheapest pair; every option counts for both.

    \b
    Examples:
      shaftwright shop examples/heron_marsh.yaml --stock examples/stock.csv
      shaftwright shop RIG RIG2 --stock CSV --notebook FIRST.yaml --notebook -
    """
    from shaftwright.answers.shop import ShopAnswer, shop
    from shaftwright.answers.shop.musts import read_musts
    from shaftwright.answers.shop_two import TwoAnswer, shop_two
    from shaftwright.answers.shop_wishes import Wishes
    from shaftwright.errors import NoAnswer
    from shaftwright.render.shop import shop_text, two_text
    from shaftwright.render.shop_csv import csv_text
    from shaftwright.render.shop_rows import shop_dict, two_dict

    _check(rig_files, purposes, notebook_files, before_files)
    stock = common.read_stock(stock_files)
    if stock is None:
        raise click.UsageError("needs --stock: what could be bought, and what you own")
    wishes = Wishes(arrows, chance, breakage, budget, read_musts(musts), each, wraps)
    if not stock.of_kind("shaft"):
        raise NoAnswer("the stock has no shafts: add shafts, or another --stock file")
    asked, entries = _asked(
        rig_files, purposes, stock, notebook_files, before_files, basis, changes
    )
    if len(asked) == 2:
        answer: ShopAnswer | TwoAnswer = shop_two(asked[0], asked[1], stock, wishes, entries)
    else:
        answer = shop(asked[0], stock, wishes, entries)
    if csv_file:
        from shaftwright.files.atomic import write_atomic

        write_atomic(Path(csv_file), csv_text(answer))
    if isinstance(answer, TwoAnswer):
        common.emit_json(two_dict(answer)) if as_json else click.echo(two_text(answer))
    else:
        common.emit_json(shop_dict(answer)) if as_json else click.echo(shop_text(answer))


def _check(
    rig_files: Sequence[str], purposes: Sequence[str], notebooks: Sequence[str], befores: Sequence[str]
) -> None:  # fmt: skip
    """Refuse what cannot be meant, before anything is read."""
    rigs = len(rig_files)
    if rigs > 2:
        raise click.UsageError("takes one rig, or two")
    if len(purposes) > 2 or (len(purposes) == 2 and rigs == 2):
        raise click.UsageError("takes two rigs, or one rig with two purposes")
    for name, given in (("--notebook", notebooks), ("--before", befores)):
        if given and len(given) != rigs:
            many = "once" if rigs == 1 else f"twice, in the order of the rigs, {_NONE} for none"
            raise click.UsageError(
                f"{rigs} rig{'s' * (rigs > 1)} take{'s' * (rigs == 1)} {name} {many}"
            )
    for place, before in enumerate(befores):
        if before != _NONE and (not notebooks or notebooks[place] == _NONE):
            raise click.UsageError("--before needs --notebook: what was shot from the old rig")


def _asked(
    rig_files: Sequence[str], purposes: Sequence[str], stock: Stock, notebooks: Sequence[str],
    befores: Sequence[str], basis: Basis, changes: Sequence[str],
) -> tuple[list[Scenario], Sequence[AnyEntry]]:  # fmt: skip
    """One question for each rig or purpose, and the entries of the first notebook."""
    asked: list[Scenario] = []
    entries: list[AnyEntry] = []
    for place, file in enumerate(rig_files):
        rig = common.read_rig(file, changes)
        old = befores[place] if befores and befores[place] != _NONE else None
        before = common.read_rig(old, ()) if old else None
        shots = notebooks[place] if notebooks and notebooks[place] != _NONE else None
        notebook = common.read_notebook(shots)
        entries += notebook.entries if notebook else ()
        wanted = purposes if len(rig_files) == 1 else purposes[:1]
        asked += [
            common.ask(rig, purpose, notebook, stock, before, basis)
            for purpose in wanted or (None,)
        ]
    return asked, entries
