"""`shaftwright rules`: read the rule set, and lint it."""

from __future__ import annotations

import click

from shaftwright.cli import common


@click.group("rules")
def command() -> None:
    """Read and check the rule set."""


@command.command("list")
@common.json_option
def list_rules(as_json: bool) -> None:
    """Every rule: what it shifts, by how much, how sure, on what basis.

    \b
    Example:
      shaftwright rules list
    """
    from shaftwright.rulebook.load import rulebook
    from shaftwright.show.explain import rule_dict, rules_text

    book = rulebook()
    if as_json:
        common.emit_json({"format": 1, "rules": [rule_dict(rule, book) for rule in book.rules]})
    else:
        click.echo(rules_text(book))


@command.command("check")
@click.option("--rules", "rules_folder", type=click.Path(), help="Another folder of rules.")
@click.option("--tables", "tables_folder", type=click.Path(), help="Another folder of tables.")
@common.json_option
def check_rules(rules_folder: str | None, tables_folder: str | None, as_json: bool) -> None:
    """Lint the rule set: schema, sources, cases that fire and stay silent.

    \b
    Example:
      shaftwright rules check
    """
    from pathlib import Path

    from shaftwright.errors import InputError
    from shaftwright.resources import rules_dir, tables_dir
    from shaftwright.rulebook.check import check

    rules = Path(rules_folder) if rules_folder else rules_dir()
    tables = Path(tables_folder) if tables_folder else tables_dir()
    report = check(rules, tables)
    if report.faults:
        raise InputError(report.faults)
    if as_json:
        common.emit_json({"format": 1, "rules": report.rules, "cases": report.cases, "faults": []})
    else:
        click.echo(f"{report.rules} rules, {report.cases} cases fire and stay silent as they say.")
