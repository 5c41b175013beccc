"""`shaftwright explain`: the trace, or the whole of one rule."""

from __future__ import annotations

import click

from shaftwright.cli import common
from shaftwright.errors import InputError, did_you_mean
from shaftwright.limits import MATERIALS


@common.bow_command("explain", build=True)
@click.option(
    "--rule", metavar="CODE", help="The whole of one rule, by code or name, instead of a trace."
)
@click.option(
    "--cautions", is_flag=True, help="All cautions for this rig, with why and what to do."
)
def command(
    bow: common.Bow, rule: str | None, cautions: bool, full: bool, **build: str | None
) -> common.Answer:
    """Take the numbers apart: what every rule saw, why it matters, what it adds.

    With a build it also tells, from the launch model, where the shaft touches the plate, when it
    clears, and which way the nock goes and why.

    \b
    Examples:
      shaftwright explain examples/heron_marsh
      shaftwright explain --rule shaft-length
    """
    if rule is not None:
        from shaftwright.render.screens.explain import rule_dict, rule_text

        book = bow.rule_book
        found = book.find(rule)
        if found is None:
            names = [r.name for r in book.rules]
            hint = did_you_mean(rule.lower(), names, "; see shaftwright rules list", 0.4)
            raise InputError.of("--rule", f"is not a rule{hint}", value=rule)
        # the rule stands without any bow
        common.answer(
            None, common.as_json(), lambda: rule_dict(found, book), lambda: rule_text(found, book)
        )
        click.get_current_context().exit()
    if cautions:
        from shaftwright.render.screens.explain import cautions_text
        from shaftwright.rules.sections import cautions_for

        asked = bow.scenario
        due = cautions_for(asked.rig, asked.purpose, MATERIALS)
        return (
            lambda: {"rig": asked.rig.name, "cautions": [c.model_dump() for c in due]},
            lambda: cautions_text(due),
        )
    return common.shown(bow.explain(common.build_spec(build)), full)
