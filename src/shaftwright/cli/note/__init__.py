"""`shaftwright note`: one reading into the notebook, whole or not at all, and what comes next.

The subcommands and their options are made from the notebook's records, so that what can be
written by hand can be noted, and nothing else.
"""

from __future__ import annotations

import re
from typing import Any, NamedTuple

import click

from shaftwright.cli import common
from shaftwright.cli.main import Command
from shaftwright.errors import nearest

STATE = ("draw_weight", "brace", "string", "plate", "nocking_point", "limbs_id", "tiller", "release", "crawl",
         "draw_length", "string_material")  # fmt: skip
PLUNGER = ("spring", "turns", "out", "moved")
WITH_BUILD = ("bareshaft", "broadhead", "dozen")
WITH_STATE = ("bareshaft", "broadhead", "change")
_TOLD = {
    "marks": "Marks on the bow: none, plate, shelf, not_looked.",
    "reads": "In a word: straight, slightly_stiff, stiff, slightly_weak, weak.",
    "piece": "Which of several shafts of one name: 1 is the first.",
    "cant_deg": "Cant of the bow in degrees, top limb to the right is plus.",
    "stringing": "Which time the bow was strung.",
    "distance": "Such as '20 yd'.",
    "weighting": "A, C or Z.",
    "response": "fast, slow, max, peak or steady.",
    "shots_on": "Shots on this string so far.",
    "made": "How many were made, where N is left out.",
    "length": "How long they are.",
    "note": "What was done, in your words.",
    "spine_mils": "Static spine, in thousandths of an inch.",
    "wood_spine_lb": "Of wood: pounds, from a tester with supports 26 in apart.",
}
_OF_STATE = {
    "draw_weight": "draw weight, told as rig.yaml tells it; or such as '47 lb at 28 in', '47 lb at own draw'",
    "release": "release: split, three_under or mechanical",
    "string": "string's label",
    "string_material": "string: low_stretch or polyester",
    "limbs_id": "limbs' label",
    "plate": "strike plate's thickness",
    "nocking_point": "nocking point above square",
    "plunger_spring": "plunger's spring: soft, medium or stiff",
    "plunger_turns": "turns of the plunger's spring",
    "plunger_out": "the arrow's middle outside the string's line",
    "plunger_moved": "plunger moved out from where it was, in with a minus",
}
_SHOT = "'3l 1h' (3 left, 1 high) or X,Y, right and up positive; inches, or cm in a metric rig"


class Kind(NamedTuple):
    """What can be noted of one kind."""

    about: str
    example: str
    #: fields of the record that are options by their own names
    fields: tuple[str, ...] = ()
    #: arguments and options before and after them
    first: tuple[Any, ...] = ()
    last: tuple[Any, ...] = ()


def _option(name: str, key: str, told: str) -> Any:
    return click.option(f"--{name.replace('_', '-')}", key, metavar="VALUE", help=told)


def _state(when: str) -> tuple[Any, ...]:
    rig = click.option("--rig", "rig_file", metavar="RIG", type=click.Path(),
                       help="Write down the bow as this rig file states it.")  # fmt: skip
    keys = {name: f"state_{name}" for name in STATE} | {
        f"plunger_{n}": f"plunger_{n}" for n in PLUNGER
    }
    told = {name: _OF_STATE.get(name, name.replace("_", " ")) for name in keys}
    return rig, *(_option(name, key, f"{when}: {told[name]}.") for name, key in keys.items())


_FLETCHED = click.option("--fletched", multiple=True, metavar="HIT",
                         help=f"A fletched hit: {_SHOT}. May be given again.")  # fmt: skip
_STOOD = (*_state("The bow as it stood"), common.stock_option)
_CSV = (
    click.option("--csv", "csv_file", metavar="FILE", type=click.Path(),
                 help="One reading for each row of a CSV file."),
    click.option("--column", "columns", multiple=True, metavar="FIELD=COLUMN",
                 help="Which column holds which field, such as speed=Velocity."),
)  # fmt: skip
_ALWAYS = (
    click.option("--date", metavar="DATE", help="Such as 2026-05-31; today when left out; or unknown."),
    click.option("--remark", metavar="TEXT", help="Anything worth keeping."),
)  # fmt: skip
KINDS = {
    "bareshaft": Kind(
        "Bare shafts beside fletched ones. Without an arrow it is the one that `next` names; "
        "at a terminal, with nothing else, it asks.",
        '--fletched "3l 1h" --fletched "1r" --bare "4l:right" --bare "5l 1lo" --marks none',
        ("distance", "marks", "reads", "piece", "cant_deg"),
        (common.build_options, _FLETCHED,
         click.option("--bare", multiple=True, metavar="HIT[:TAIL]",
                      help="A bare hit; TAIL is right, left, high, low, straight, slight, in_butt, "
                      "joined by +, such as 3l:right+slight. May be given again."),
         click.option("--taped", is_flag=True, help="The feathers' weight was taped on."),
         click.option("--nock-side", multiple=True, metavar="SIDE",
                      help="Which way the tails pointed: right, left, high, low, straight.")),
        _STOOD,
    ),
    "broadhead": Kind(
        "Broadheads against field points of the same weight, both fletched.",
        '--distance "20 yd" --together', ("distance", "piece"),
        (common.build_options, _FLETCHED,
         click.option("--hit", "broadhead_hits", multiple=True, metavar="HIT",
                      help="A broadhead's hit, written alike. May be given again."),
         click.option("--together/--apart", "together", default=None,
                      help="Whether they land together.")),
        _STOOD,
    ),
    "chrono": Kind(
        "Chronograph readings; --csv takes a whole file.",
        '--speed "171 fps" --arrow-mass "505 gr" --string A --stringing 1',
        ("speed", "arrow_mass", "draw", "distance", "string", "stringing", "silencers", "shaft", "brace",
         "instrument"), last=_CSV,
    ),
    "sound": Kind(
        "Sound-meter readings; --csv takes a whole file.",
        '--level "84.2 dB" --weighting A --response max --background "55 dB" --string A',
        ("level", "weighting", "response", "background", "position", "arrow_mass", "string", "stringing",
         "silencers", "shaft", "brace", "instrument"), last=_CSV,
    ),
    "brace": Kind(
        "A brace height, after so many shots on this string.",
        '--brace "7 3/8 in" --shots-on 60 --twists 20', ("brace", "shots_on", "twists", "string"),
        last=_CSV,
    ),
    "weigh": Kind(
        "A thing weighed, or a shaft's measured spine.", '--item "arrow 3" --mass "503.5 gr"',
        ("item", "mass", "spine_mils", "wood_spine_lb"), last=_CSV,
    ),
    "change": Kind(
        "Something about the bow was changed. WHAT is limbs, riser, string, draw_weight, draw_length, "
        "release, crawl, brace, plate, plunger, nocking_point, tiller, silencers, other, or your own "
        "words.",
        'limbs --draw-weight "47 lb" --limbs-id heron-2 --note "lighter set"', ("note",),
        (click.argument("words", metavar="WHAT...", nargs=-1), click.option("--what", hidden=True)),
        _state("Now"),
    ),
    "dozen": Kind(
        "N arrows made like the proven one; without an arrow it is the one that leads.",
        '12 --masses "441 442.5 440"', ("made",),
        (click.argument("number", metavar="[N]", required=False),
         click.option("--masses", metavar="GRAINS", help="What each weighs, such as '503 504.5 502'."),
         common.build_options),
        (common.stock_option,),
    ),
    "have": Kind(
        "N of ITEM are in hand now: bought, made, lost or broken; several at once as ITEM N ITEM N. "
        "For N, '2 at 30 in' says how long they are.",
        'MARSH-500 3 --length "32 in"', ("length",),
        (click.argument("things", metavar="ITEM N...", nargs=-1, required=True),),
        (common.stock_option,),
    ),
    "undo": Kind("Strike out the last entry; it stays in the file, withdrawn.", ""),
}  # fmt: skip


class _Note(click.Group):
    """A group whose optional path ends at the first word that is a kind."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        for name in ("from", "withdraw"):
            if f"--{name}" in args[:2]:
                # [BOW] --from FILE, [BOW] --withdraw LINE
                at = args.index(f"--{name}")
                return super().parse_args(ctx, [*(args[:at] or [""]), name, *args[at + 1 :]])
        words = [arg for arg in args if not arg.startswith("-")]
        if words and words[0] in self.commands:
            return super().parse_args(ctx, ["", *args])
        if len(words) == 1 and args == words:
            self._no_kind(ctx, words[0])
        return super().parse_args(ctx, args)

    def _no_kind(self, ctx: click.Context, word: str) -> None:
        import os.path

        kinds = ", ".join(self.commands)
        if not os.path.exists(word):
            close = nearest(word, self.commands)
            hint = f" Did you mean {close}?" if close else ""
            ctx.fail(f"{word[:60]!r} is nothing to note.{hint} Allowed: {kinds}.")
        ctx.fail(f"what is there to note of {word[:60]!r}? One of: {kinds}.")


@click.group("note", cls=_Note, subcommand_metavar="KIND [OPTIONS]...")
@click.argument("where", metavar="[BOW | NOTEBOOK]", type=click.Path())
@click.pass_context
def command(ctx: click.Context, where: str) -> None:
    """Note one reading of a bow, and hear what comes next.

    BOW is the bow's folder, or the one you stand in; a NOTEBOOK file takes the reading alone.
    --from FILE takes in the lines that the sheet's page copied; pasted twice they count once.
    --withdraw LINE strikes out the entry that begins there; it stays in the file.

    \b
    Examples:
      shaftwright note bareshaft
      shaftwright note my-bow brace --brace "7 3/8 in" --shots-on 60
      shaftwright note undo
      shaftwright note --from range.yaml
      shaftwright note my-bow --withdraw 41
    """
    ctx.obj = where or None


def _subcommand(name: str, kind: Kind) -> click.Command:
    @click.pass_obj
    def run(where: str | None, /, **given: Any) -> None:
        from shaftwright.cli.note import keep

        if name == "undo":
            keep.undo(where)
        else:
            keep.note(name, where, given)

    shown = " \\\n          ".join(re.split(r" (?=--)", kind.example))
    run.__doc__ = f"{kind.about}\n\n    \b\n    Example:\n      shaftwright note {name} {shown}\n"
    told = {
        field: _TOLD.get(field, f"{field.replace('_', ' ').capitalize()}.") for field in kind.fields
    }
    fields = (_option(field, f"field_{field}", text) for field, text in told.items())
    made: Any = run
    for option in reversed(
        (*kind.first, *fields, *kind.last, *(_ALWAYS if name != "undo" else ()))
    ):
        made = option(made)
    return click.command(name, cls=Command)(made)


for _name, _kind in KINDS.items():
    command.add_command(_subcommand(_name, _kind))


@command.command("from", hidden=True)
@click.argument("file", type=click.Path())
@click.pass_obj
def _from(where: str | None, file: str) -> None:
    """Entries that were written elsewhere, each once.

    \b
    Example:
      shaftwright note --from range.yaml
    """
    from shaftwright.cli.note import keep

    keep.take_in(where, file)


@command.command("withdraw", hidden=True)
@click.argument("line", type=click.IntRange(1))
@click.pass_obj
def _withdraw(where: str | None, line: int) -> None:
    """Strike out the entry that begins on a line.

    \b
    Example:
      shaftwright note my-bow --withdraw 41
    """
    from shaftwright.cli.note import keep

    keep.undo(where, line)
