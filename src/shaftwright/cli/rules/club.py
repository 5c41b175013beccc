"""`shaftwright rules contribute` and `score`: what archers' proven arrows say of the rules."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.files.tuned import TunedArrow
    from shaftwright.rules.load import Basis, RuleBook

T = TypeVar("T")
TABLE: Final = "tuned_rigs.csv"


def hold_against(
    table_file: str, rules_folder: str | None, basis: Basis, as_json: bool,
    ask: Callable[[RuleBook, tuple[TunedArrow, ...]], T],
    document: Callable[[T, Sequence[str]], dict[str, Any]], text: Callable[[T, int], str],
) -> None:  # fmt: skip
    """Ask something of the rules and a table of tuned rigs; each row left out is told on stderr."""
    from shaftwright.files.bow import NONE
    from shaftwright.files.tuned import load_tuned
    from shaftwright.rules.own import laid_over, load_own
    from shaftwright.rules.sizes import shipped

    table = load_tuned(table_file)
    for line in table.left_out:
        click.echo(f"{line} (row left out)", err=True)
    own = None if rules_folder in (None, NONE) else load_own(str(rules_folder))
    found = ask(laid_over(shipped(basis), own), table.arrows)
    common.answer(
        None, as_json, lambda: document(found, table.left_out),
        lambda: text(found, len(table.left_out)),
    )  # fmt: skip


@click.command("contribute")
@common.bow_argument
@click.option("--to", "table_file", metavar="CSV", type=click.Path(dir_okay=False),
              help=f"The table; {TABLE} beside the rig when left out.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Add the row without asking.")
@common.stock_option
@common.notebook_option
@common.json_option
def contribute(
    path: str | None, table_file: str | None, yes: bool, stock_files: tuple[str, ...],
    notebook_file: str | None, as_json: bool,
) -> None:  # fmt: skip
    """Add BOW's proven arrow to a table of tuned rigs: one row that says nothing of whose it is.

    The row has what the rules look at, in round figures, and how the arrow flew: no name, make, date
    or note. It is shown before it is written, to a file on this machine; nothing is sent anywhere.

    \b
    Example:
      shaftwright rules contribute my-bow
    """
    from shaftwright.answers.contribute import contribution
    from shaftwright.files.tuned import append_tuned
    from shaftwright.render.screens.rules import appended_text, row_text

    bow = common.Bow(path, stock_files, notebook_file)
    cells = contribution(bow.scenario)
    file = Path(table_file) if table_file else bow.files.rig.parent / TABLE
    shown = append_tuned(file, cells, write=yes)

    def document(written: bool) -> dict[str, Any]:
        line = shown.line if written or shown.there else None
        return {"file": str(file), "line": line, "written": written, "there": shown.there,
                "row": shown.cells}  # fmt: skip

    if as_json:
        common.answer(bow, True, lambda: document(yes and not shown.there), str)
        return
    click.echo(row_text(shown.cells))
    if not shown.there and not yes:
        click.echo()
        if not click.confirm(f"Add this row to {file}?", default=False):
            click.echo("Nothing was written.")
            return
        shown = append_tuned(file, shown.cells)
    click.echo("\n" + appended_text(str(file), shown))


@click.command("score")
@click.argument("table_file", metavar="TABLE", type=click.Path())
@common.rules_option
@common.basis_option
@common.json_option
def score(table_file: str, rules_folder: str | None, basis: Basis, as_json: bool) -> None:
    """How well the rules foretell a table of tuned rigs, beside draw weight alone and length alone.

    TABLE is as for `rules fit`. A share inside of the 80 % range that is well under 80 says that the
    rules are too sure; well over, that they are too timid. With --rules the same for sizes of your own.

    \b
    Example:
      shaftwright rules score examples/tuned_rigs.csv
    """
    from shaftwright.inference.score import score_rules
    from shaftwright.render.screens.rules import score_dict, score_text

    hold_against(
        table_file, rules_folder, basis, as_json, score_rules, score_dict, score_text
    )  # fmt: skip
