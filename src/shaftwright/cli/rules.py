"""`shaftwright rules`: read the rule set, lint it, hold it against tuned rigs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.group("rules")
def command() -> None:
    """Read the rule set, check it, hold it against tuned rigs.

    \b
    Example:
      shaftwright rules list
    """


@command.command("list")
@common.json_option
def list_rules(as_json: bool) -> None:
    """Every rule: what it shifts, by how much, how sure, on what basis.

    \b
    Example:
      shaftwright rules list
    """
    from shaftwright.render.screens.explain import rule_dict, rules_text
    from shaftwright.rules.load import rulebook

    book = rulebook()
    common.answer(
        None, as_json, lambda: {"rules": [rule_dict(rule, book) for rule in book.rules]},
        lambda: rules_text(book),
    )  # fmt: skip


@command.command("check")
@click.option("--rules", "rules_folder", type=click.Path(), help="Another folder of rules.")
@click.option("--tables", "tables_folder", type=click.Path(), help="Another folder of tables.")
@click.option("--physics", is_flag=True,
              help="Against the launch model too: sign and size of each rule over random rigs.")  # fmt: skip
@click.option("--rigs", type=click.IntRange(5, 2000), default=24, show_default=True,
              help="Random rigs, with --physics; more take longer.")  # fmt: skip
@common.json_option
def check_rules(
    rules_folder: str | None, tables_folder: str | None, physics: bool, rigs: int, as_json: bool
) -> None:
    """Lint the rule set: schema, sources, cases that fire and stay silent.

    \b
    Examples:
      shaftwright rules check
      shaftwright rules check --physics
    """
    from pathlib import Path

    from shaftwright.resources import rules_dir, tables_dir
    from shaftwright.rules.check import check

    rules = Path(rules_folder) if rules_folder else rules_dir()
    tables = Path(tables_folder) if tables_folder else tables_dir()
    book, cases = check(rules, tables)
    if physics:
        from shaftwright.answers.launch.against_rules import rules_against_physics
        from shaftwright.render.launch.rules import against_text

        found = rules_against_physics(book, rigs)
        common.answer(None, as_json, found.to_dict, lambda: against_text(found))
        return
    count = len(book.rules)
    common.answer(
        None, as_json, lambda: {"rules": count, "cases": cases, "faults": []},
        lambda: f"{count} rules, {cases} cases fire and stay silent as they say.",
    )  # fmt: skip


@command.command("fit")
@click.argument("table_file", metavar="TABLE", type=click.Path())
@common.basis_option
@common.json_option
def fit(table_file: str, basis: Basis, as_json: bool) -> None:
    """Hold the rules against a table of tuned rigs: what it says of each rule's size.

    TABLE is a CSV with a row an arrow: rig, archer.draw_length, bow.kind, bow.draw_weight.lb and
    bow.draw_weight.at, spine or wood_lb, length, front, reads (straight, slightly_stiff, stiff,
    slightly_weak, weak), seen_with (bare_shaft, broadheads, fletched) and source; any other field of a
    rig by its dotted name. The rule files stay as they are.

    \b
    Example:
      shaftwright rules fit examples/tuned_rigs.csv
    """
    from shaftwright.files.tuned import load_tuned
    from shaftwright.inference.rule_fit import fit_rules
    from shaftwright.render.launch.rule_fit import fit_dict, fit_text
    from shaftwright.rules.sizes import shipped

    table = load_tuned(table_file)
    for line in table.left_out:
        click.echo(f"{line} (row left out)", err=True)
    found = fit_rules(shipped(basis), table.arrows)
    common.answer(
        None, as_json, lambda: fit_dict(found, table.left_out),
        lambda: fit_text(found, len(table.left_out)),
    )  # fmt: skip
