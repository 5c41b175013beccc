"""`shaftwright build`: one build looked at closely."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.rules.load import Basis


@click.command("build")
@common.rig_argument
@common.stock_option
@common.notebook_option
@common.build_options
@common.purpose_option
@common.basis_option
@common.set_option
@common.json_option
def command(
    rig_file: str, stock_files: tuple[str, ...], notebook_file: str | None, purpose: str | None,
    basis: Basis, changes: tuple[str, ...], as_json: bool, **build: str | None,
) -> None:  # fmt: skip
    """One build on RIG: masses, balance, frequencies, speed, match.

    \b
    Examples:
      shaftwright build examples/heron_marsh.yaml --stock examples/stock.csv \\
          --shaft MARSH-400 --length "30 in" --point P175 --insert I25
      shaftwright build examples/heron_marsh.yaml --spine 500 --gr-per-in 8 \\
          --length "28 in" --front "112 gr" --tail "10 gr"
    """
    from shaftwright.answers.one import one_build
    from shaftwright.errors import Fault, InputError
    from shaftwright.render.build import build_text

    rig = common.read_rig(rig_file, changes)
    stock = common.read_stock(stock_files)
    spec = common.build_spec(build)
    if spec is None:
        problem = "name a build (--shaft ... with --stock) or give it by numbers (--spine --length --front)"
        raise InputError([Fault("build options", problem)])
    asked = common.ask(rig, purpose, common.read_notebook(notebook_file), stock, basis=basis)
    result = one_build(asked, common.resolve(spec, stock), stock)
    if as_json:
        common.emit_json(result.as_dict())
    else:
        click.echo(build_text(asked, result))
