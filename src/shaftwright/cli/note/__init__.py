"""`shaftwright note`: one reading into the notebook, whole or not at all, and what comes next.

The subcommands and their options are made from the notebook's records, so that what can be
written by hand can be noted, and nothing else.
"""

from __future__ import annotations

import re
from typing import Any

import click

from shaftwright.cli import common
from shaftwright.errors import nearest

_HELP = {
    "bareshaft": ("Bare shafts beside fletched ones. Without an arrow it is the one that `next` names; "
                  "at a terminal, with nothing else, it asks.",
                  '--fletched "3l 1h" --fletched "1r" --bare "4l:right" --bare "5l 1lo" --marks none'),
    "broadhead": ("Broadheads against field points of the same weight, both fletched.",
                  '--distance "20 yd" --together'),
    "chrono": ("Chronograph readings; --csv takes a whole file.",
               '--speed "171 fps" --arrow-mass "505 gr" --string A --stringing 1'),
    "sound": ("Sound-meter readings; --csv takes a whole file.",
              '--level "84.2 dB" --weighting A --response max --background "55 dB" --string A'),
    "brace": ("A brace height, after so many shots on this string.",
              '--brace "7 3/8 in" --shots-on 60 --twists 20'),
    "weigh": ("A thing weighed, or a shaft's measured spine.", '--item "arrow 3" --mass "503.5 gr"'),
    "change": ("Something about the bow was changed. WHAT is limbs, riser, string, draw_weight, "
               "draw_length, release, crawl, brace, plate, plunger, nocking_point, tiller, silencers, "
               "other, or your own words.",
               'limbs --draw-weight "47 lb" --limbs-id heron-2 --note "lighter set"'),
    "dozen": ("N arrows made like the proven one; without an arrow it is the one that leads.",
              '12 --masses "441 442.5 440"'),
    "have": ("N of ITEM are in hand now: bought, made, lost or broken; several at once as ITEM N ITEM N.",
             'MARSH-500 3 --length "32 in"'),
    "undo": ("Strike out the last entry; it stays in the file, withdrawn.", ""),
}  # fmt: skip
FIELDS = {
    "bareshaft": ("distance", "marks", "reads", "piece", "cant_deg"),
    "broadhead": ("distance", "piece"),
    "chrono": ("speed", "arrow_mass", "draw", "distance", "string", "stringing", "silencers", "shaft",
               "brace", "instrument"),
    "sound": ("level", "weighting", "response", "background", "position", "arrow_mass", "string",
              "stringing", "silencers", "shaft", "brace", "instrument"),
    "brace": ("brace", "shots_on", "twists", "string"),
    "weigh": ("item", "mass", "spine_mils"),
    "change": ("note",),
    "dozen": ("made",),
    "have": ("length",),
    "undo": (),
}  # fmt: skip
STATE = ("draw_weight", "brace", "string", "plate", "nocking_point", "limbs_id", "tiller", "release", "crawl",
         "draw_length", "string_material")  # fmt: skip
PLUNGER = ("spring", "turns", "out", "moved")
WITH_BUILD = ("bareshaft", "broadhead", "dozen")
WITH_STATE = ("bareshaft", "broadhead", "change")
_FROM_CSV = ("chrono", "sound", "brace", "weigh")
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
}
_OF_STATE = {
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


class _Note(click.Group):
    """A group whose optional path ends at the first word that is a kind."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
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

    \b
    Examples:
      shaftwright note bareshaft
      shaftwright note my-bow brace --brace "7 3/8 in" --shots-on 60
      shaftwright note undo
    """
    ctx.obj = where or None


def _subcommand(kind: str) -> click.Command:
    about, example = _HELP[kind]

    @click.pass_obj
    def run(where: str | None, /, **given: Any) -> None:
        from shaftwright.cli.note import keep

        if kind == "undo":
            keep.undo(where)
        else:
            keep.note(kind, where, given)

    shown = " \\\n          ".join(re.split(r" (?=--)", example))
    run.__doc__ = f"{about}\n\n    \b\n    Example:\n      shaftwright note {kind} {shown}\n"
    made: Any = run
    for option in reversed(_options(kind)):
        made = option(made)
    return click.command(kind)(made)


def _options(kind: str) -> list[Any]:
    if kind == "undo":
        return []
    options: list[Any] = []
    if kind == "change":
        options.append(click.argument("words", metavar="WHAT...", nargs=-1))
        options.append(click.option("--what", hidden=True))
    if kind == "have":
        options.append(click.argument("things", metavar="ITEM N...", nargs=-1, required=True))
    if kind == "dozen":
        options.append(click.argument("number", metavar="[N]", required=False))
        options.append(click.option("--masses", metavar="GRAINS",
                                    help="What each weighs, such as '503 504.5 502'."))  # fmt: skip
    if kind in WITH_BUILD:
        options.append(common.build_options)
    if kind in ("bareshaft", "broadhead"):
        options.append(click.option("--fletched", "fletched", multiple=True, metavar="HIT",
                                    help=f"A fletched hit: {_SHOT}. May be given again."))  # fmt: skip
    if kind == "bareshaft":
        options += [
            click.option("--bare", multiple=True, metavar="HIT[:TAIL]",
                         help="A bare hit; TAIL is right, left, high, low, straight, slight, in_butt, "
                         "joined by +, such as 3l:right+slight. May be given again."),
            click.option("--taped", is_flag=True, help="The feathers' weight was taped on."),
            click.option("--nock-side", multiple=True, metavar="SIDE",
                         help="Which way the tails pointed: right, left, high, low, straight."),
        ]  # fmt: skip
    if kind == "broadhead":
        options += [
            click.option("--hit", "broadhead_hits", multiple=True, metavar="HIT",
                         help="A broadhead's hit, written alike. May be given again."),
            click.option("--together/--apart", "together", default=None,
                         help="Whether they land together."),
        ]  # fmt: skip
    options += [
        _option(name, f"field_{name}", _TOLD.get(name, f"{_words(name).capitalize()}."))
        for name in FIELDS[kind]
    ]
    if kind in WITH_STATE:
        options += _state_options("Now" if kind == "change" else "The bow as it stood")
    if kind in (*WITH_BUILD, "have"):
        options.append(common.stock_option)
    if kind in _FROM_CSV:
        options += [
            click.option("--csv", "csv_file", metavar="FILE", type=click.Path(),
                         help="One reading for each row of a CSV file."),
            click.option("--column", "columns", multiple=True, metavar="FIELD=COLUMN",
                         help="Which column holds which field, such as speed=Velocity."),
        ]  # fmt: skip
    options += [
        click.option("--date", metavar="DATE", help="Such as 2026-05-31; today when left out; or unknown."),
        click.option("--remark", metavar="TEXT", help="Anything worth keeping."),
    ]  # fmt: skip
    return options


def _state_options(when: str) -> list[Any]:
    rig = click.option("--rig", "rig_file", metavar="RIG", type=click.Path(),
                       help="Write down the bow as this rig file states it.")  # fmt: skip
    names = {f"state_{name}": name for name in STATE}
    names |= {f"plunger_{part}": f"plunger_{part}" for part in PLUNGER}
    return [rig] + [
        _option(name, key, f"{when}: {_OF_STATE.get(name, _words(name))}.")
        for key, name in names.items()
    ]


def _option(name: str, key: str, told: str) -> Any:
    return click.option(f"--{name.replace('_', '-')}", key, metavar="VALUE", help=told)


def _words(name: str) -> str:
    return name.replace("_", " ")


for _kind in _HELP:
    command.add_command(_subcommand(_kind))
