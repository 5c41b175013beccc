"""The command line's door: every command is a module of its own, loaded when it is called."""

from __future__ import annotations

import gc
import importlib
import io
import os
import sys
from typing import Any

import click

from shaftwright import __version__
from shaftwright.errors import InputError, NoAnswer, nearest, printable, told_once

#: command, also its module under shaftwright.cli -> one line of help
COMMANDS = {
    "new": "Write a commented starter rig, stock and notebook.",
    "next": "The one thing to do now, why, and what to expect.",
    "choose": "Which shaft, how long, what up front: band and ranked builds.",
    "explain": "Take the numbers apart, rule by rule.",
    "build": "One build: masses, balance, frequencies, speed, match.",
    "bareshaft": "What the bare shafts say, and the one thing to change next.",
    "shop": "What to buy: test shafts first, then the dozen.",
    "sheet": "The afternoon on one sheet: what to do for every way the shots may fall.",
    "note": "Note what was shot or changed, and hear what comes next.",
    "compare": "Strings or other setups: is the difference real, what settles it.",
    "brace": "Brace height: quiet, fast, and whether the string has settled.",
    "efficiency": "What the bow stores and keeps; speeds of other arrows.",
    "flight": "Drop, time, wind, and where to hold the point.",
    "launch": "The arrow bending round this riser: how it leaves, and why.",
    "serve": "The same, as a page on this machine.",
    "card": "The setup card: everything needed to rebuild the rig.",
    "report": "One page with everything: opens offline, prints on two sheets.",
    "rules": "Read and check the rule set.",
}


class LazyGroup(click.Group):
    """A group that imports a command's module only when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All commands in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"shaftwright.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest command when one is mistyped."""
        name = args[0] if args else ""
        if name and name not in COMMANDS and not name.startswith("-"):
            close = nearest(name, COMMANDS)
            hint = f" Did you mean {close}?" if close else ""
            ctx.fail(f"No such command {name[:60]!r}.{hint}")
        return super().resolve_command(ctx, args)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; faults become one line each on stderr and an exit code."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            for fault in told_once(error.faults):
                click.echo(str(fault), err=True)
            ctx.exit(2)
        except NoAnswer as error:
            click.echo(printable(str(error)), err=True)
            ctx.exit(1)
        except click.UsageError as error:
            # one line a fault, as everywhere
            click.echo(f"{ctx.command_path}: {error.format_message()}", err=True)
            ctx.exit(2)
        except BrokenPipeError:
            sys.stderr.close()
            ctx.exit(1)
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            click.echo(printable(f"{error.filename or 'the output'}: {reason}"), err=True)
            ctx.exit(2)


class Command(click.Command):
    """A command that refuses an option given twice: one of the two values would be lost."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Count the options first."""
        _, _, order = self.make_parser(ctx).parse_args(list(args))
        for option in order:
            one = isinstance(option, click.Option) and not (option.multiple or option.is_flag)
            if one and order.count(option) > 1:
                ctx.fail(
                    f"{option.opts[-1]} is given {order.count(option)} times; it takes one value."
                )
        return super().parse_args(ctx, args)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="shaftwright")
def cli() -> None:
    """Arrows that leave your bow straight: shaft, length and point for finger shooters.

    Start with `shaftwright new my-bow`, fill in its rig.yaml, then `shaftwright next my-bow`.
    """


def main() -> None:
    """Entry point of the `shaftwright` command."""
    # one thread: the arrays are small, and more threads cost more CPU than they save
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # no plugins are wanted; looking for some reads the metadata of every installed package
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # a command is short: looking for cyclic garbage while modules load costs more than it frees
    gc.set_threshold(200_000)
    # a terminal that knows fewer signs shows a question mark in their place
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")
    cli(prog_name="shaftwright")
