"""`shaftwright build`: one build looked at closely."""

from __future__ import annotations

from shaftwright.cli import common


@common.bow_command("build", build=True)
def command(bow: common.Bow, full: bool, **build: str | None) -> common.Answer:
    """One build on BOW, that of `next` where none is named: masses, balance, frequencies, speed, match.

    \b
    Examples:
      shaftwright build examples/heron_marsh
      shaftwright build examples/heron_marsh \\
          --shaft MARSH-400 --length "30 in" --point P175 --insert I25
      shaftwright build examples/heron_marsh --spine 500 --gr-per-in 8 \\
          --length "28 in" --front "112 gr" --tail "10 gr"
    """
    return common.shown(bow.build(common.build_spec(build)), full)
