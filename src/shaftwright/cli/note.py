"""`shaftwright note`: append one reading to a notebook, whole or not at all.

The subcommands and their options are made from the notebook's records, so that what can be
written by hand can be noted, and nothing else.
"""

from __future__ import annotations

import csv
import io
import re
from typing import TYPE_CHECKING, Any

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.records.notebook import AnyEntry
    from shaftwright.records.rig import Rig

_HELP = {
    "bareshaft": ("Bare shafts beside fletched ones, by coordinates or in words.",
                  '--spine 500 --length "29 1/2 in" --front 200 --distance "20 yd" '
                  "--fletched 0.5,-1 --fletched -1,0.5 --bare -3,0.5:right --bare -2,1 --taped"),
    "broadhead": ("Broadheads against field points of the same mass.",
                  '--spine 500 --length "29 1/2 in" --front 200 --distance "20 yd" --together'),
    "chrono": ("Chronograph readings; --csv takes a whole file.",
               '--speed "171 fps" --arrow-mass "505 gr" --string A --stringing 1'),
    "sound": ("Sound-meter readings; --csv takes a whole file.",
              '--level "84.2 dB" --weighting A --response max --background "55 dB" --string A'),
    "brace": ("A brace height, after so many shots on this string.",
              '--brace "7 3/8 in" --shots-on 60 --twists 20'),
    "weigh": ("A thing weighed, or a shaft's measured spine.", '--item "arrow 3" --mass "503.5 gr"'),
    "change": ("Something about the bow was changed: a new period starts.",
               '--what limbs --note "lighter set" --draw-weight "47 lb" --limbs-id heron-2'),
}  # fmt: skip
_FIELDS = {
    "bareshaft": ("distance", "marks", "reads", "cant_deg"),
    "broadhead": ("distance",),
    "chrono": ("speed", "arrow_mass", "draw", "distance", "string", "stringing", "silencers", "shaft",
               "brace", "instrument"),
    "sound": ("level", "weighting", "response", "background", "position", "arrow_mass", "string",
              "stringing", "silencers", "shaft", "brace", "instrument"),
    "brace": ("brace", "shots_on", "twists", "string"),
    "weigh": ("item", "mass", "spine_mils"),
    "change": ("what", "note"),
}  # fmt: skip
_STATE = ("draw_weight", "brace", "string", "plate", "nocking_point", "limbs_id")
_WITH_STATE = ("bareshaft", "broadhead", "change")
_FROM_CSV = ("chrono", "sound", "brace", "weigh")
_TOLD = {
    "marks": "Marks on the bow: none, plate, shelf, not_looked.",
    "reads": "In a word: straight, slightly_stiff, stiff, slightly_weak, weak.",
    "cant_deg": "Cant of the bow in degrees, top limb to the right is plus.",
    "stringing": "Which time the bow was strung.",
    "distance": "Such as '20 yd'.",
    "weighting": "A, C or Z.",
    "response": "fast, slow, max, peak or steady.",
    "shots_on": "Shots on this string so far.",
    "what": "What was changed: limbs, string, plate ...",
}
_SHOT = "X,Y in inches, right and up positive, archer's view"


@click.group("note")
@click.argument("notebook_file", metavar="NOTEBOOK", type=click.Path())
@click.pass_context
def command(ctx: click.Context, notebook_file: str) -> None:
    """Append one reading to NOTEBOOK, safely; the file is made when it is not there.

    \b
    Examples:
      shaftwright note bow.notebook.yaml brace --brace "7 3/8 in" --shots-on 60
      shaftwright note bow.notebook.yaml bareshaft --help
    """
    ctx.obj = notebook_file


def _subcommand(kind: str) -> click.Command:
    about, example = _HELP[kind]

    @click.pass_obj
    def run(notebook_file: str, /, **given: Any) -> None:
        _note(kind, notebook_file, given)

    shown = " \\\n          ".join(re.split(r" (?=--)", example))
    run.__doc__ = (
        f"{about}\n\n    \b\n    Example:\n      shaftwright note NOTEBOOK {kind} {shown}\n"
    )
    made: Any = run
    for option in reversed(_options(kind)):
        made = option(made)
    return click.command(kind)(made)


def _options(kind: str) -> list[Any]:
    options: list[Any] = []
    if kind in ("bareshaft", "broadhead"):
        options.append(common.build_options)
        options.append(click.option("--fletched", "fletched", multiple=True, metavar="X,Y",
                                    help=f"A fletched hit: {_SHOT}. May be given again."))  # fmt: skip
    if kind == "bareshaft":
        options += [
            click.option("--bare", multiple=True, metavar="X,Y[:TAIL]",
                         help="A bare hit; TAIL is right, left, high, low, straight, slight, in_butt, "
                         "joined by +, such as -3,0.5:right+slight. May be given again."),
            click.option("--taped", is_flag=True, help="The fletching's mass was taped on."),
            click.option("--nock-side", multiple=True, metavar="SIDE",
                         help="Which way the tails pointed: right, left, high, low, straight."),
        ]  # fmt: skip
    if kind == "broadhead":
        options += [
            click.option("--hit", "broadhead_hits", multiple=True, metavar="X,Y",
                         help=f"A broadhead's hit: {_SHOT}. May be given again."),
            click.option("--together/--apart", "together", default=None,
                         help="Whether they land together."),
        ]  # fmt: skip
    options += [_option(name) for name in _FIELDS[kind]]
    if kind in _WITH_STATE:
        options.append(click.option("--rig", "rig_file", metavar="RIG", type=click.Path(),
                                    help="Write down the bow as this rig file tells it."))  # fmt: skip
        options += [
            click.option(f"--{name.replace('_', '-')}", f"state_{name}", metavar="VALUE",
                         help="Rig as it stood: " + name.replace("_", " ") + ".")
            for name in _STATE
        ]  # fmt: skip
    if kind in _FROM_CSV:
        options += [
            click.option("--csv", "csv_file", metavar="FILE", type=click.Path(),
                         help="One reading for each row of a CSV file."),
            click.option("--column", "columns", multiple=True, metavar="FIELD=COLUMN",
                         help="Which column holds which field, such as speed=Velocity."),
        ]  # fmt: skip
    options += [
        click.option("--date", metavar="DATE", help="Such as 2026-05-31."),
        click.option("--remark", metavar="TEXT", help="Anything worth keeping."),
    ]
    return options


def _option(name: str) -> Any:
    told = _TOLD.get(name, name.replace("_", " ").capitalize() + ".")
    return click.option(f"--{name.replace('_', '-')}", f"field_{name}", metavar="VALUE", help=told)


def _note(kind: str, notebook_file: str, given: dict[str, Any]) -> None:
    from shaftwright.files.notebook import append_entries

    _only_a_notebook(notebook_file)
    data: dict[str, Any] = {"kind": kind}
    for name in ("date", "remark"):
        if given[name] is not None:
            data[name] = given[name]
    data |= {n: given[f"field_{n}"] for n in _FIELDS[kind] if given[f"field_{n}"] is not None}
    rig = common.read_rig(given["rig_file"], ()) if given.get("rig_file") else None
    if kind in _WITH_STATE:
        state = _state(rig) | {
            n: given[f"state_{n}"] for n in _STATE if given[f"state_{n}"] is not None
        }
        if state:
            data["rig_state"] = state
    if kind in ("bareshaft", "broadhead"):
        data |= _shots(kind, given)
    if given.get("csv_file"):
        entries = _rows(kind, given["csv_file"], given["columns"], data)
    else:
        entries = [_entry(data, "note", None)]
    line = append_entries(notebook_file, entries)
    many = "1 entry" if len(entries) == 1 else f"{len(entries)} entries"
    click.echo(f"{notebook_file}:{line}: {many} noted")
    _echo(entries[0], rig)


def _only_a_notebook(notebook_file: str) -> None:
    """An entry written into a rig or stock file would ruin it, so nothing else is ever touched.

    Only the first line that says something counts: a torn entry further down is no reason to refuse.
    """
    from pathlib import Path

    from shaftwright.errors import Fault, InputError
    from shaftwright.files.strict_yaml import read_text

    if not Path(notebook_file).is_file():
        return
    lines = (line.strip() for line in read_text(notebook_file).lstrip("\ufeff").splitlines())
    for number, line in enumerate(lines, 1):
        if not line or line.startswith(("#", "---", "%")):
            continue
        if line != "-" and not line.startswith("- "):
            problem = "is no notebook, so nothing was written: every entry of one begins with '- '"
            raise InputError([Fault(notebook_file, problem, number)])
        return


def _echo(entry: AnyEntry, rig: Rig | None) -> None:
    """A word told back in what it means, so that a slip is noticed at the butt."""
    reads = getattr(entry, "reads", None)
    if reads is None:
        return
    from shaftwright.render.bareshaft import words_echo

    hand = rig.archer.hand if rig is not None else "right"
    told = "" if rig is not None else " (for a right-hander)"
    click.echo(words_echo(reads, hand) + told)


def _state(rig: Rig | None) -> dict[str, Any]:
    """What a rig file says of the bow, as far as a notebook keeps it."""
    if rig is None:
        return {}
    bow = rig.bow
    weight = bow.draw_weight
    state: dict[str, Any] = {
        "draw_weight": weight.lb if weight.at == "own_draw" else None,
        "brace": bow.brace_height_in if isinstance(bow.brace_height_in, float) else None,
        "plate": bow.plate.thickness_in if bow.plate else None,
        "nocking_point": bow.nocking_point.above_square_in if bow.nocking_point else None,
        "limbs_id": bow.limbs_id,
    }
    return {name: value for name, value in state.items() if value is not None}


def _shots(kind: str, given: dict[str, Any]) -> dict[str, Any]:
    data: dict[str, Any] = {
        "build": {k: given[k] for k in common.BUILD_KEYS if given.get(k) is not None}
    }
    if given["fletched"]:
        data["fletched"] = [_point(text, "--fletched") for text in given["fletched"]]
    if kind == "broadhead":
        if given["broadhead_hits"]:
            data["broadhead"] = [_point(text, "--hit") for text in given["broadhead_hits"]]
        if given["together"] is not None:
            data["together"] = given["together"]
        return data
    if given["bare"]:
        data["bare"] = [_bare(text) for text in given["bare"]]
    if given["taped"]:
        data["taped"] = True
    if given["nock_side"]:
        data["nock"] = list(given["nock_side"])
    return data


def _point(text: str, option: str) -> list[str]:
    from shaftwright.errors import Fault, InputError

    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 2 or not all(parts):
        raise InputError([Fault("note", f"is not a hit; write {_SHOT}", None, option, text)])
    return parts


def _bare(text: str) -> Any:
    from shaftwright.errors import Fault, InputError

    where, sign, told = text.partition(":")
    point = _point(where, "--bare")
    if not sign:
        return point
    tail: dict[str, str] = {}
    words = {"right": "side", "left": "side", "high": "up", "low": "up", "slight": "how", "clear": "how",
             "in_butt": "seen", "in_flight": "seen"}  # fmt: skip
    for word in told.split("+"):
        name = word.strip()
        if name == "straight":
            tail.setdefault("side", "straight")
        elif name in words:
            tail[words[name]] = name
        else:
            problem = f"is not a tail; allowed: straight, {', '.join(words)}, joined by +"
            raise InputError([Fault("note", problem, None, "--bare", word)])
    return {"at": point, "tail": tail}


def _entry(data: dict[str, Any], name: str, line: int | None) -> AnyEntry:
    from pydantic import ValidationError

    from shaftwright.errors import InputError
    from shaftwright.files.faults import faults_of
    from shaftwright.files.strict_yaml import Document
    from shaftwright.records.notebook import ENTRY

    try:
        return ENTRY.validate_python(data)
    except ValidationError as error:
        document = Document(name, data)
        if line is not None:
            document.lines[()] = line
        raise InputError(faults_of(error, document)) from None


def _rows(kind: str, file: str, columns: tuple[str, ...], fixed: dict[str, Any]) -> list[AnyEntry]:
    """Every row of a CSV file as an entry: all of them or, with a fault in any, none."""
    from shaftwright.errors import Fault, InputError
    from shaftwright.files.strict_yaml import read_text

    text = read_text(file)
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    header = [cell.strip() for cell in next(rows, [])]
    allowed = (*_FIELDS[kind], "date", "remark")
    places: dict[str, int] = {name: header.index(name) for name in allowed if name in header}
    faults: list[Fault] = []
    for pair in columns:
        name, _, column = (part.strip() for part in pair.partition("="))
        if name not in allowed:
            faults.append(
                Fault("--column", f"is not a field; allowed: {', '.join(allowed)}", None, "", name)
            )
        elif column not in header:
            faults.append(
                Fault(file, f"has no such column; it has {', '.join(header)[:200]}", 1, "", column)
            )
        else:
            places[name] = header.index(column)
    if not faults and not places:
        faults.append(Fault(file, f"has no column that is a field; map one with --column "
                            f"{_FIELDS[kind][0]}=COLUMN; it has {', '.join(header)[:200]}", 1))  # fmt: skip
    entries: list[AnyEntry] = []
    try:
        for row in [] if faults else rows:
            cells = {
                n: row[i].strip() for n, i in places.items() if i < len(row) and row[i].strip()
            }
            if not any(cell.strip() for cell in row):
                continue
            try:
                entries.append(_entry(fixed | cells, file, rows.line_num))
            except InputError as error:
                faults += error.faults
    except csv.Error as error:
        faults.append(Fault(file, f"is not CSV here: {error}", rows.line_num))
    if not faults and not entries:
        faults.append(Fault(file, "has no readings"))
    if faults:
        raise InputError(faults)
    return entries


for _kind in _HELP:
    command.add_command(_subcommand(_kind))
