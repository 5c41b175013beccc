"""What the commands share: options, reading of files, one JSON document on stdout."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from pathlib import Path

    from shaftwright.answers.scenario import Scenario
    from shaftwright.files.bow import BowFiles
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.builds import Builds
    from shaftwright.records.notebook import AnyEntry, BuildSpec
    from shaftwright.records.rig import Rig
    from shaftwright.records.stock import Stock
    from shaftwright.rules.load import Basis

F = TypeVar("F", bound=Callable[..., Any])
PURPOSES = ("hunting", "hunting_large_game", "three_d", "target", "practice")

bow_argument = click.argument("bow", metavar="[BOW]", required=False, type=click.Path())
notebook_argument = click.argument(
    "given", metavar="[BOW | NOTEBOOK]", required=False, type=click.Path()
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="One JSON document and nothing else."
)
full_option = click.option("--full", is_flag=True, help="Everything, not only what is needed now.")
set_option = click.option(
    "--set", "changes", multiple=True, metavar="FIELD=VALUE",
    help="What if: any rig field, such as string.material=polyester. May be given again.",
)  # fmt: skip
stock_option = click.option(
    "--stock", "stock_files", multiple=True, metavar="CSV", type=click.Path(),
    help="What could be bought, and what you own. May be given again; - for none.",
)  # fmt: skip
notebook_option = click.option(
    "--notebook", "notebook_file", metavar="YAML", type=click.Path(),
    help="Your shots and readings; - for none.",
)  # fmt: skip
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
    """The build of the options, or None when none was given; a value not allowed is named by its option."""
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


@dataclass(frozen=True)
class Bow:
    """What a command was given of a bow; each file is read once, when something first asks for it."""

    path: str | None = None
    stock_files: tuple[str, ...] = ()
    notebook_file: str | None = None
    before_file: str | None = None
    purpose: str | None = None
    basis: Basis = "both"
    changes: tuple[str, ...] = ()

    @cached_property
    def files(self) -> BowFiles:
        """Where everything lies."""
        from shaftwright.files.bow import bow_files

        return bow_files(self.path, self.stock_files, self.notebook_file, self.before_file)

    @cached_property
    def rig(self) -> Rig:
        """The rig with `--set` changes laid over it."""
        return read_rig(self.files.rig, self.changes)

    @cached_property
    def before(self) -> Rig | None:
        """The rig before its last change."""
        return read_rig(self.files.before) if self.files.before is not None else None

    @cached_property
    def stock(self) -> Stock | None:
        """All stock files as one."""
        from shaftwright.files.stock import load_stock

        return load_stock(self.files.stock) if self.files.stock else None

    @cached_property
    def notebook(self) -> Notebook | None:
        """The notebook."""
        return read_notebook(self.files.notebook) if self.files.notebook is not None else None

    def need_notebook(self, of_what: str) -> None:
        """Refuse to go on without a notebook."""
        from shaftwright.errors import Fault, InputError

        if self.files.notebook is None:
            problem = f"is missing: name the file your {of_what} are noted in"
            raise InputError([Fault("--notebook", problem)])

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """What the notebook holds, in the order of the file."""
        return self.notebook.entries if self.notebook is not None else ()

    @property
    def lines(self) -> tuple[int, ...]:
        """Where each entry begins."""
        return self.notebook.lines if self.notebook is not None else ()

    @cached_property
    def scenario(self) -> Scenario:
        """Everything together."""
        return self.ask(self.purpose)

    def ask(self, purpose: str | None) -> Scenario:
        """The same for a purpose of choice."""
        from shaftwright.answers.scenario import scenario

        return scenario(
            self.rig, purpose, self.stock, self.entries, self.lines, self.before, self.basis
        )

    def builds(self, given: dict[str, str | None]) -> Builds:
        """The build of the options, which must name one."""
        from shaftwright.errors import Fault, InputError
        from shaftwright.inference.resolve import resolve_build

        spec = build_spec(given)
        if spec is None:
            problem = "name a build (--shaft) or give it by numbers (--spine --length --front)"
            raise InputError([Fault("build options", problem)])
        return resolve_build(spec, self.stock, "build options")

    def picked_up(self) -> str:
        """Which files of a folder an answer rests on; nothing for a rig file."""
        if self.files.folder is None:
            return ""
        from shaftwright.render.words import WIDTH, short, wrap

        files = ", ".join(self.files.found)
        where = "this folder" if self.path in (None, ".") else str(self.files.folder)
        if len(where) + len(files) > WIDTH - len("From : ."):
            where = short(
                self.files.folder.resolve().name, 24
            )  # the whole path would not fit the line
        return wrap(f"From {where}: {files}.")


def bow_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command that takes a BOW: it is given one as `bow`, and `as_json`."""

    @functools.wraps(command)
    def run(
        bow: str | None, stock_files: tuple[str, ...], notebook_file: str | None, before_file: str | None,
        purpose: str | None, basis: Basis, changes: tuple[str, ...], **others: Any,
    ) -> Any:  # fmt: skip
        given = Bow(bow, stock_files, notebook_file, before_file, purpose, basis, changes)
        return command(bow=given, **others)

    options = (bow_argument, stock_option, notebook_option, before_option, purpose_option, basis_option,
               set_option, json_option)  # fmt: skip
    wrapped: Callable[..., Any] = run
    for option in reversed(options):
        wrapped = option(wrapped)
    return wrapped


def read_rig(file: Path | str, changes: Sequence[str] = ()) -> Rig:
    """The rig with `--set` changes laid over it."""
    from shaftwright.files.rig import load_rig

    return load_rig(file, changes)


def read_notebook(file: Path | str) -> Notebook:
    """The notebook; a warning on stderr for each entry that cannot be read."""
    from shaftwright.files.notebook import load_notebook

    notebook = load_notebook(file)
    for fault in notebook.faults:
        click.echo(f"{fault} (entry skipped)", err=True)
    return notebook


READINGS = (".csv", ".tsv")


def notebook_of(given: str | None, rig_file: str | None = None) -> tuple[Path, Bow | None]:
    """A file of readings, and its bow where a folder or a rig was given."""
    import os.path
    from pathlib import Path

    if given is None or os.path.isdir(given):
        bow = Bow(given)
        bow.need_notebook("readings")
        assert bow.files.notebook is not None
        file, own = bow.files.notebook, bow
    else:
        file, own = Path(given), None
    if rig_file is None:
        return file, own
    return file, Bow(rig_file, notebook_file="-" if file.suffix.lower() in READINGS else str(file))


def entries_of(file: Path, bow: Bow | None) -> tuple[AnyEntry, ...]:
    """The entries of a notebook, each fault in it told once."""
    return read_notebook(file).entries if bow is None else bow.entries


def answer(
    bow: Bow | None, as_json: bool, document: Callable[[], dict[str, Any]], text: Callable[[], str],
    *others: Bow, gap: str = "\n",
) -> None:  # fmt: skip
    """Print an answer: one JSON document, or text and the files of the bow it rests on."""
    if as_json:
        emit_json(document(), None if bow is None else bow.scenario)
        return
    click.echo(text())
    told = [one.picked_up() for one in (bow, *others) if one is not None]
    if any(told):
        click.echo(gap + "\n".join(filter(None, told)))


def emit_json(document: dict[str, Any], scenario: Scenario | None = None) -> None:
    """Print one JSON document, the plan of its bow first.

    NaN becomes null, infinities too, and what does not print is escaped.
    """
    plan = {"next": None, "shot": None} if scenario is None else scenario.plan.keys()
    first = {"format": 2, **plan}
    found = _finite(first | {key: value for key, value in document.items() if key not in first})
    text = json.dumps(found, ensure_ascii=False, allow_nan=False, indent=1)
    if not all(line.isprintable() for line in text.split("\n")):
        text = json.dumps(found, ensure_ascii=True, allow_nan=False, indent=1)
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
