"""What the commands share: options, reading of files, one JSON document on stdout."""

from __future__ import annotations

import datetime
import functools
import json
import math
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

import shaftwright.bow
from shaftwright.cli.main import Command
from shaftwright.errors import InputError, told_once
from shaftwright.limits import BASES, PURPOSES, TOP, Limit
from shaftwright.shown import Shown
from shaftwright.watched import watcher

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

    from shaftwright.files.atomic import Kind
    from shaftwright.files.notebook import Notebook
    from shaftwright.records.builds import Builds
    from shaftwright.records.notebook import AnyEntry, BuildSpec

F = TypeVar("F", bound=Callable[..., Any])

bow_argument = click.argument("path", metavar="[BOW]", required=False, type=click.Path())
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
rules_option = click.option(
    "--rules", "rules_folder", metavar="DIR", type=click.Path(),
    help="A folder of rules of your own, instead of the one beside the rig; - for none.",
)  # fmt: skip
_FORCE: Final = "shaftwright.force"
basis_option = click.option(
    "--basis", type=click.Choice(BASES), default="both", show_default=True,
    help="Whose sizes the rules take: the trade's, the launch model's, or both joined.",
)  # fmt: skip
purpose_option = click.option(
    "--purpose", type=click.Choice(PURPOSES), help="Instead of the purpose in the rig."
)
date_option = click.option(
    "--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="The day on it; today.",
    callback=lambda _, __, day: (day or datetime.datetime.now()).date(),
)  # fmt: skip

force_option = click.option(
    "--force", is_flag=True, expose_value=False, is_eager=True,
    callback=lambda ctx, _, force: ctx.meta.__setitem__(_FORCE, force),
    help="Write over an earlier file of the same kind.",
)  # fmt: skip


def out_option(
    option: str, name: str, told: str, kind: Kind, suffixes: tuple[str, ...] = (), metavar: str = "FILE"
) -> Callable[[F], F]:  # fmt: skip
    """A file to write to; one that must not be written is refused before any work is done."""

    def checked(ctx: click.Context, _: click.Parameter, path: str | None) -> str | None:
        from shaftwright.files.atomic import may_write

        if path is None:
            return None
        if suffixes and not path.lower().endswith(suffixes):
            raise InputError.of(option, f"must end in {', '.join(suffixes)}", value=path)
        may_write(path, kind, ctx.meta[_FORCE])
        return path

    return click.option(
        option, name, metavar=metavar, type=click.Path(), help=told, callback=checked
    )


def plot_option(told: str) -> Callable[[F], F]:
    """A picture of the answer."""
    made = out_option("--plot", "plot_file", told, "picture", (".svg", ".png", ".pdf"))
    return lambda command: made(force_option(command))


def page_option(told: str, kind: Kind) -> Callable[[F], F]:
    """A page of the answer."""
    made = out_option("--html", "html_file", told, kind, metavar="F")
    return lambda command: made(force_option(command))


def write(path: str, written: str | bytes, kind: Kind) -> None:
    """Write to the file of an `out_option`."""
    from shaftwright.files.atomic import write_output

    write_output(path, written, kind, click.get_current_context().meta[_FORCE])


def write_page(html_file: str | None, kind: Kind, found: Any) -> None:
    """Write the page of an answer to the file of a `page_option`, where one was asked for."""
    if html_file is not None:
        from shaftwright.render import page

        write(html_file, getattr(page, f"{kind}_html")(found), kind)


def write_picture(plot_file: str | None, figure: Callable[[], Figure]) -> None:
    """Draw a picture and write it to the file of a `plot_option`, where one was asked for."""
    if plot_file is not None:
        from shaftwright.render.pictures.figure import picture_bytes

        write(plot_file, picture_bytes(figure(), plot_file), "picture")


class Number(click.FloatRange):
    """A number between two limits; `nan` and `inf` are none."""

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:  # fmt: skip
        """What click asks for."""
        number: float = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(
                f"{value!r} is not a number; allowed: {self.min:g} to {self.max:g}", param, ctx
            )
        return number


def whole(limit: Limit) -> click.IntRange:
    """A whole number between two limits."""
    return click.IntRange(int(limit.low), int(limit.high))


def top_option(limit: Limit) -> Callable[[F], F]:
    """How many builds an answer lists."""
    most = whole(limit)
    return click.option("--top", type=most, default=TOP, show_default=True, help="Builds to list.")


class Quantity(click.ParamType):  # type: ignore[type-arg]
    """A quantity between two limits, in a unit of the closed list or in one that is only named."""

    name = "quantity"

    def __init__(self, limit: Limit, only: bool = False) -> None:
        self.low, self.high, self.unit, _ = limit
        self.only = only

    def convert(self, value: Any, param: click.Parameter | None, _: click.Context | None) -> float:
        """What click asks for."""
        return self.read(value, param.opts[0] if param is not None else "")

    def read(self, value: Any, option: str) -> float:
        """The number, or a fault that names the option."""
        from shaftwright.units import read_quantity

        allowed = f"allowed: {self.low:g} to {self.high:g} {self.unit}"
        try:
            number = float(value) if self.only else read_quantity(value, self.unit)
        except ValueError as error:
            said = "" if self.only else f": {error}"
            raise InputError.of(option, f"is not usable{said}; {allowed}", value=value) from None
        if not self.low <= number <= self.high:
            said = "is not usable" if self.only else "is out of range"
            raise InputError.of(option, f"{said}; {allowed}", value=value)
        return number


#: options that name a build by a stock's items, or give it by numbers
BUILD: Final = {
    "shaft": ("ITEM", "Shaft by its name in the stock."),
    "length": ("LENGTH", "Shaft length; uncut when left out."),
    "point": ("ITEM", "Field point by name."),
    "broadhead": ("ITEM", "Broadhead by name."),
    "insert": ("ITEM", "Insert, outsert or adapter by name."),
    "collar": ("ITEM", "Collar by name."),
    "nock": ("ITEM", "Nock by name; else the cheapest that fits."),
    "fletching": ("ITEM", "Fletching by name; else the cheapest."),
    "wrap": ("ITEM", "Wrap by name."),
    "spine": ("MILS", "By numbers: static spine."),
    "gr_per_in": ("GR", "By numbers: shaft mass per inch."),
    "diameter": ("LENGTH", "By numbers: outside diameter."),
    "front": ("MASS", "By numbers: everything at the front."),
    "tail": ("MASS", "By numbers: everything at the tail."),
}


def build_options(command: F) -> F:
    """The options of a build."""
    for key, (metavar, told) in reversed(BUILD.items()):
        command = click.option(f"--{key.replace('_', '-')}", metavar=metavar, help=told)(command)
    return command


def build_data(given: Mapping[str, Any]) -> dict[str, str]:
    """What the options say of a build."""
    return {key: given[key] for key in BUILD if given.get(key) is not None}


def build_spec(given: Mapping[str, str | None]) -> BuildSpec | None:
    """The build of the options, or None when none was given; a value not allowed is named by its option."""
    from shaftwright.files.faults import validated
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import BuildSpec

    data = build_data(given)
    try:
        return validated(BuildSpec, Document("build options", data)) if data else None
    except InputError as error:
        raise InputError(
            [
                replace(f, line=None, field=f.field and f"--{f.field.replace('_', '-')}")
                for f in error.faults
            ]
        ) from None


class Bow(shaftwright.bow.Bow):
    """What a command was given of a bow: faults in its notebook are told, builds come from options."""

    @cached_property
    def notebook(self) -> Notebook | None:
        """The notebook; a warning on stderr for each entry that cannot be read."""
        return read_notebook(self.files.notebook) if self.files.notebook is not None else None

    def need_notebook(self, of_what: str) -> None:
        """Refuse to go on without a notebook."""
        if self.files.notebook is None:
            problem = f"is missing: note your {of_what} (shaftwright note), or name their file"
            raise InputError.of("--notebook", problem)

    def picked_up(self) -> str:
        """Which files of a folder an answer rests on; nothing for a rig file."""
        if self.files.folder is None:
            return ""
        from shaftwright.files.bow import STOCK, is_the_sample
        from shaftwright.render.words import WIDTH, short, wrap

        files = ", ".join(self.files.found)
        where = self.named or "this folder"
        if len(where) + len(files) > WIDTH - len("From : ."):
            # the whole path would not fit the line
            where = short(self.files.folder.resolve().name, 24)
        sample = f" {STOCK} is the sample still: put your shop's rows there before you buy."
        file = self.files.folder / STOCK
        is_sample = STOCK in self.files.found and is_the_sample(file.read_bytes())
        return wrap(f"From {where}: {files}.{sample * is_sample}")


Document = Callable[[], dict[str, Any]]
Text = Callable[[], str]
#: an answer's document and text, each made when it is wanted; what stands before the files it rests on
Answer = tuple[Document, Text] | tuple[Document, Text, str]


def shown(found: Shown[Any], full: bool) -> tuple[Document, Text]:
    """An answer of the public interface, to be printed."""
    return found.result.to_dict, found.full if full else found.__str__


def bow_command(
    name: str, build: bool = False, full: bool = True
) -> Callable[[Callable[..., Answer]], click.Command]:
    """A command that takes a BOW, is given one as `bow`, and returns its answer to be printed."""

    def made(command: Callable[..., Answer]) -> click.Command:
        @functools.wraps(command)
        def run(as_json: bool, **given: Any) -> None:
            watcher.set(bar)
            bow = Bow(**{field.name: given.pop(field.name) for field in fields(Bow)})
            answer(bow, as_json, *command(bow=bow, **given))

        own = vars(run).pop("__click_params__", [])
        options = (bow_argument, stock_option, notebook_option, before_option, purpose_option,
                   rules_option, basis_option, set_option, json_option)  # fmt: skip
        wrapped: Callable[..., Any] = run
        for option in reversed((full_option, *options) if full else options):
            wrapped = option(wrapped)
        vars(run)["__click_params__"] += own
        return click.command(name, cls=Command)(build_options(wrapped) if build else wrapped)

    return made


#: fewer builds than this are ranked in about a second
_MANY: Final = 500_000


def bar(pieces: Iterator[Builds], many: int) -> Iterator[Builds]:
    """The pieces of long work, with a bar on standard error where a person looks at it."""
    if many < _MANY or not sys.stderr.isatty():
        yield from pieces
        return
    with click.progressbar(length=many, label="Arrows weighed", file=sys.stderr) as shown:
        for piece in pieces:
            yield piece
            shown.update(len(piece))


def read_notebook(file: Path | str) -> Notebook:
    """The notebook; a warning on stderr for each entry that cannot be read."""
    from shaftwright.files.notebook import load_notebook

    notebook = load_notebook(file)
    for fault in told_once(notebook.faults):
        many = "entry" if fault in notebook.faults else "entries"
        click.echo(f"{fault} ({many} skipped)", err=True)
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
    bow: Bow | None, as_json: bool, document: Document, text: Text, gap: str = "\n",
    others: Sequence[Bow] = (),
) -> None:  # fmt: skip
    """Print an answer: one JSON document, or text and the files of the bow it rests on."""
    if as_json:
        _emit(document(), {"next": None, "shot": None} if bow is None else bow.scenario.plan.keys())
        return
    click.echo(text())
    told = [one.picked_up() for one in (bow, *others) if one is not None]
    if any(told):
        click.echo(gap + "\n".join(filter(None, told)))


def as_json() -> bool:
    """Whether the command was asked for JSON."""
    return bool(click.get_current_context().params["as_json"])


def _emit(found: dict[str, Any], plan: dict[str, Any]) -> None:
    """One JSON document, the plan first: NaN and infinities are null, what does not print is escaped."""
    from shaftwright.result import document

    whole = document(plan, found)
    text = json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1)
    encoding = (getattr(sys.stdout, "encoding", None) or "utf-8").lower()
    if encoding not in ("utf-8", "utf8") or not all(
        line.isprintable() for line in text.split("\n")
    ):
        text = json.dumps(whole, ensure_ascii=True, allow_nan=False, indent=1)
    click.echo(text)
