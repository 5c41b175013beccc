"""What the commands share: options, reading of files, one JSON document on stdout."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.builds import Builds
    from shaftwright.records.notebook import BuildSpec
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock
    from shaftwright.rules.load import Basis

F = TypeVar("F", bound=Callable[..., Any])
PURPOSES = ("hunting", "hunting_large_game", "three_d", "target", "practice")

rig_argument = click.argument("rig_file", metavar="RIG", type=click.Path())
json_option = click.option(
    "--json", "as_json", is_flag=True, help="One JSON document and nothing else."
)
set_option = click.option(
    "--set", "changes", multiple=True, metavar="FIELD=VALUE",
    help="What if: any rig field, such as string.material=polyester. May be given again.",
)  # fmt: skip
stock_option = click.option(
    "--stock", "stock_files", multiple=True, metavar="CSV", type=click.Path(),
    help="What could be bought, and what you own. May be given again.",
)  # fmt: skip
notebook_option = click.option(
    "--notebook",
    "notebook_file",
    metavar="YAML",
    type=click.Path(),
    help="Your shots and readings.",
)
before_option = click.option(
    "--before", "before_file", metavar="OLD_RIG", type=click.Path(),
    help="The rig before its last change: what flew straight from it still tells about you.",
)  # fmt: skip
basis_option = click.option(
    "--basis", type=click.Choice(["both", "trade", "physics"]), default="both", show_default=True,
    help="Whose sizes the rules take: the trade's, the launch model's, or both by their doubt.",
)  # fmt: skip
purpose_option = click.option(
    "--purpose", type=click.Choice(PURPOSES), help="Instead of the purpose in the rig."
)


def build_options(command: F) -> F:
    """Options that name a build by a stock's items, or give it by numbers."""
    options = [
        click.option("--shaft", metavar="ITEM", help="Shaft by its name in the stock."),
        click.option("--length", metavar="LENGTH", help="Shaft length; uncut when left out."),
        click.option("--point", metavar="ITEM", help="Field point by name."),
        click.option("--broadhead", metavar="ITEM", help="Broadhead by name."),
        click.option("--insert", metavar="ITEM", help="Insert, outsert or adapter by name."),
        click.option("--collar", metavar="ITEM", help="Collar by name."),
        click.option("--nock", metavar="ITEM", help="Nock by name; else the cheapest that fits."),
        click.option("--fletching", metavar="ITEM", help="Fletching by name; else the cheapest."),
        click.option("--wrap", metavar="ITEM", help="Wrap by name."),
        click.option("--spine", metavar="MILS", help="By numbers: static spine."),
        click.option("--gr-per-in", metavar="GR", help="By numbers: shaft mass per inch."),
        click.option("--diameter", metavar="LENGTH", help="By numbers: outside diameter."),
        click.option("--front", metavar="MASS", help="By numbers: everything at the front."),
        click.option("--tail", metavar="MASS", help="By numbers: everything at the tail."),
    ]
    for option in reversed(options):
        command = option(command)
    return command


BUILD_KEYS = ("shaft", "length", "point", "broadhead", "insert", "collar", "nock", "fletching", "wrap",
              "spine", "gr_per_in", "diameter", "front", "tail")  # fmt: skip


def build_spec(given: dict[str, str | None]) -> BuildSpec | None:
    """The build of the options, or None when none was given.

    Parameters
    ----------
    given : dict
        Option name -> text.

    Returns
    -------
    BuildSpec or None
        The record.

    Raises
    ------
    InputError
        A value that is not allowed, named by its option.
    """
    from pydantic import ValidationError

    from shaftwright.errors import Fault, InputError
    from shaftwright.files.faults import faults_of
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import BuildSpec

    data = {key: given[key] for key in BUILD_KEYS if given.get(key) is not None}
    if not data:
        return None
    try:
        return BuildSpec.model_validate(data)
    except ValidationError as error:
        faults = faults_of(error, Document("build options", data), BuildSpec)
        options = [
            Fault(
                f.file,
                f.problem,
                None,
                f"--{f.field.replace('_', '-')}" if f.field else "",
                f.value,
            )
            for f in faults
        ]
        raise InputError(options) from None


def read_stock(files: Sequence[str]) -> Stock | None:
    """The stock of all `--stock` files, or None."""
    from shaftwright.files.stock import load_stock

    return load_stock(list(files)) if files else None


def read_rig(file: str, changes: Sequence[str]) -> Rig:
    """The rig with `--set` changes laid over it."""
    from shaftwright.files.rig import load_rig

    return load_rig(file, changes)


def read_notebook(file: str | None) -> Notebook | None:
    """The notebook; a warning on stderr for each entry that cannot be read."""
    if file is None:
        return None
    from shaftwright.files.notebook import load_notebook

    notebook = load_notebook(file)
    for fault in notebook.faults:
        click.echo(f"{fault} (entry skipped)", err=True)
    return notebook


def ask(
    rig: Rig, purpose: str | None = None, notebook: Notebook | None = None,
    stock: Stock | None = None, before: Rig | None = None, basis: Basis = "both",
) -> Scenario:  # fmt: skip
    """The question with whatever the notebook teaches.

    Parameters
    ----------
    rig : Rig
        The rig.
    purpose : str, optional
        Instead of the rig's own.
    notebook : Notebook, optional
        Shots and readings.
    stock : Stock, optional
        For the names in the notebook's builds.
    before : Rig, optional
        The rig before its last change.
    basis : {"both", "trade", "physics"}
        Whose sizes the rules take; what the shots taught is learned on that footing too.

    Returns
    -------
    Scenario
        Ready for `advise`.
    """
    from shaftwright.answers.scenario import scenario

    entries, lines = (notebook.entries, notebook.lines) if notebook is not None else ((), ())
    return scenario(rig, purpose, stock, entries, lines, before, basis)


def resolve(spec: BuildSpec, stock: Stock | None) -> Builds:
    """The build of the options as columns."""
    from shaftwright.inference.resolve import resolve_build

    return resolve_build(spec, stock, "build options")


def emit_json(document: dict[str, Any]) -> None:
    """Print one JSON document; NaN becomes null, infinities too, and what does not print is escaped."""
    text = json.dumps(_finite(document), ensure_ascii=False, allow_nan=False, indent=1)
    if not all(line.isprintable() for line in text.split("\n")):
        text = json.dumps(_finite(document), ensure_ascii=True, allow_nan=False, indent=1)
    click.echo(text)


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    if hasattr(value, "item") and getattr(value, "ndim", 1) == 0:
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
