"""`shaftwright next`: the one thing to do now."""

from __future__ import annotations

from shaftwright.cli import common


@common.bow_command("next")
def command(bow: common.Bow, full: bool) -> common.Answer:
    """The one thing to do now with BOW, why, what to expect, and what it means if it does not come.

    Do it, note it, and ask again.

    \b
    Example:
      shaftwright next examples/heron_marsh
    """
    from shaftwright.render.screens.next import next_text

    asked = bow.scenario
    return (
        lambda: {"rig": asked.rig.name, "warnings": list(asked.warnings)},
        lambda: next_text(asked, full),
        "\n" if full else "",
    )
