"""`shaftwright rules`: read the rule set, lint it, add to it, hold it against tuned rigs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from shaftwright.cli import common
from shaftwright.cli.main import Command
from shaftwright.errors import InputError
from shaftwright.result import plain

if TYPE_CHECKING:
    from shaftwright.files.tuned import TunedArrow
    from shaftwright.rules.load import Basis, RuleBook

FIRST: Final = "mine.yaml"
TABLE: Final = "tuned_rigs.csv"


@click.group("rules")
def command() -> None:
    """Read the rule set, check it, add rules of your own, hold it against tuned rigs.

    \b
    Example:
      shaftwright rules list
    """


command.command_class = Command


@command.command("new")
@click.argument("folder", metavar="[BOW]", default=".", type=click.Path())
def new(folder: str) -> None:
    """Write a commented first file of rules of your own beside BOW's rig; nothing is overwritten.

    BOW is the bow's folder, or the folder in which several bows lie: then the rules hold for all of
    them that have none of their own.

    \b
    Example:
      shaftwright rules new my-bow
    """
    from importlib.resources import files

    from shaftwright.files.atomic import write_atomic
    from shaftwright.files.bow import RULES

    if not Path(folder).is_dir():
        raise InputError.of(folder, "is not a folder; begin a bow with: shaftwright new my-bow")
    there = Path(folder) / RULES / FIRST
    if there.exists():
        raise InputError.of(str(there), "is there already and is not overwritten")
    there.parent.mkdir(exist_ok=True)
    text = (files("shaftwright") / "starter" / "rules.yaml").read_text(encoding="utf-8")
    write_atomic(there, text)
    click.echo(f"Wrote {there}. It changes nothing until you take a # away.")
    click.echo(f"Then: shaftwright rules check {folder}")


@command.command("contribute")
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


@command.command("list")
@common.bow_argument
@common.rules_option
@common.json_option
def list_rules(path: str | None, rules_folder: str | None, as_json: bool) -> None:
    """Every rule: what it shifts, by how much, how sure, on what basis; with a bow's own rules.

    \b
    Example:
      shaftwright rules list
    """
    from shaftwright.render.screens.explain import rule_dict, rules_text

    book = common.Bow(path, rules_folder=rules_folder).rule_book
    common.answer(
        None, as_json, lambda: {"rules": [rule_dict(rule, book) for rule in book.rules]},
        lambda: rules_text(book),
    )  # fmt: skip


@command.command("check")
@common.bow_argument
@click.option("--rules", "rules_folder", metavar="DIR", type=click.Path(),
              help="A folder of rules of your own, or another whole rule set.")  # fmt: skip
@click.option("--tables", "tables_folder", metavar="DIR", type=click.Path(),
              help="The tables of another whole rule set.")  # fmt: skip
@click.option("--physics", is_flag=True,
              help="Against the launch model too: sign and size of each rule over random rigs.")  # fmt: skip
@click.option("--rigs", type=click.IntRange(5, 2000), default=24, show_default=True,
              help="Random rigs, with --physics; more take longer.")  # fmt: skip
@common.json_option
def check_rules(
    path: str | None, rules_folder: str | None, tables_folder: str | None, physics: bool, rigs: int,
    as_json: bool,
) -> None:  # fmt: skip
    """Lint rules: schema, sources, cases that fire and stay silent.

    BOW, or the folder you stand in: its own rules. Without any: the rule set as shipped.

    \b
    Examples:
      shaftwright rules check
      shaftwright rules check examples/heron_marsh --rules examples/own_rules/rules
      shaftwright rules check --physics
    """
    from shaftwright.files.bow import own_rules_of
    from shaftwright.resources import is_whole_set, rules_dir, tables_dir
    from shaftwright.rules.check import check

    rules, own_folder = rules_dir(), None if path is None else common.Bow(path).files.rules
    if rules_folder:
        whole = bool(tables_folder) or is_whole_set(Path(rules_folder))
        rules, own_folder = (Path(rules_folder), None) if whole else (rules, Path(rules_folder))
    elif path is None:
        own_folder = own_rules_of(Path())
    if own_folder is not None and not physics:
        _check_own(own_folder, as_json)
        return
    if path is not None and not rules_folder:
        raise InputError.of(path, "has no rules of its own; begin one with: shaftwright rules new")
    book, cases = check(rules, Path(tables_folder) if tables_folder else tables_dir())
    if physics:
        from shaftwright.answers.launch.against_rules import rules_against_physics
        from shaftwright.render.screens.rules import against_text

        found = rules_against_physics(book, rigs)
        common.answer(None, as_json, found.to_dict, lambda: against_text(found))
        return
    count = len(book.rules)
    common.answer(
        None, as_json, lambda: {"rules": count, "cases": cases, "faults": []},
        lambda: f"{count} rules, {cases} cases fire and stay silent as they say.",
    )  # fmt: skip


def _check_own(folder: Path, as_json: bool) -> None:
    """Lint a folder of rules of one's own: what the answers would refuse is refused here."""
    from shaftwright.rules.load import rulebook
    from shaftwright.rules.own import load_own

    own = load_own(folder)
    sizes = sum(rulebook().find(rule.code) is not None for rule in own.rules)
    cases = sum(facts is not None for rule in own.rules for facts in (rule.fires, rule.silent))
    counts = {"rules": len(own.rules) - sizes, "sizes": sizes, "cases": cases}
    said = ", ".join(
        f"{n} {name.removesuffix('s') if n == 1 else name}" for name, n in counts.items()
    )
    common.answer(
        None, as_json, lambda: {"folder": str(folder), **counts, "faults": []},
        lambda: f"Your own, {folder}: {said}. No fault.",
    )  # fmt: skip


def _of_a_table(asked: Callable[..., None]) -> Callable[..., None]:
    """What both questions to a table of tuned rigs take."""
    table = click.argument("table_file", metavar="TABLE", type=click.Path())
    for option in (common.json_option, common.basis_option, common.rules_option, table):
        asked = option(asked)
    return asked


def _hold_against(
    ask: Callable[[RuleBook, tuple[TunedArrow, ...]], Any], text: Callable[[Any, int], str],
    table_file: str, rules_folder: str | None, basis: Basis, as_json: bool,
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
    told = plain(found)
    told = told if isinstance(told, dict) else {"groups": told}
    common.answer(
        None, as_json, lambda: told | {"left_out": list(table.left_out)},
        lambda: text(found, len(table.left_out)),
    )  # fmt: skip


@command.command("fit")
@_of_a_table
def fit(**given: Any) -> None:
    """Hold the rules against a table of tuned rigs: what it says of each rule's size.

    TABLE is a CSV with a row an arrow: rig, archer.draw_length, bow.kind, bow.draw_weight.lb and
    bow.draw_weight.at, spine or wood_lb, length, front, reads (straight, slightly_stiff, stiff,
    slightly_weak, weak), seen_with (bare_shaft, broadheads, fletched) and source; any other field of a
    rig by its dotted name. The rule files stay as they are.

    \b
    Example:
      shaftwright rules fit examples/tuned_rigs.csv
    """
    from shaftwright.inference.rule_fit import fit_rules
    from shaftwright.render.screens.rules import fit_text

    _hold_against(fit_rules, fit_text, **given)


@command.command("score")
@_of_a_table
def score(**given: Any) -> None:
    """How well the rules foretell a table of tuned rigs, beside draw weight alone and length alone.

    TABLE is as for `rules fit`. A share inside of the 80 % range that is well under 80 says that the
    rules are too sure; well over, that they are too timid. With --rules the same for sizes of your own.

    \b
    Example:
      shaftwright rules score examples/tuned_rigs.csv
    """
    from shaftwright.inference.score import score_rules
    from shaftwright.render.screens.rules import score_text

    _hold_against(score_rules, score_text, **given)
