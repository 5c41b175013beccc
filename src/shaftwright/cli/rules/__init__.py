"""`shaftwright rules`: read the rule set, lint it, add to it, hold it against tuned rigs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common
from shaftwright.cli.rules.club import contribute, hold_against, score
from shaftwright.cli.rules.own import check_own, new
from shaftwright.errors import InputError

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.group("rules")
def command() -> None:
    """Read the rule set, check it, add rules of your own, hold it against tuned rigs.

    \b
    Example:
      shaftwright rules list
    """


for one in (new, contribute, score):
    command.add_command(one)


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
    from pathlib import Path

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
        check_own(own_folder, as_json)
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


@command.command("fit")
@click.argument("table_file", metavar="TABLE", type=click.Path())
@common.rules_option
@common.basis_option
@common.json_option
def fit(table_file: str, rules_folder: str | None, basis: Basis, as_json: bool) -> None:
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
    from shaftwright.render.screens.rules import fit_dict, fit_text

    hold_against(table_file, rules_folder, basis, as_json, fit_rules, fit_dict, fit_text)
