"""`shaftwright explain`: the trace, or the whole of one rule."""

from __future__ import annotations

import click

from shaftwright.cli import common


@click.command("explain")
@common.build_options
@click.option(
    "--rule", metavar="CODE", help="The whole of one rule, by code or name, instead of a trace."
)
@click.option(
    "--cautions", is_flag=True, help="All cautions for this rig, with why and what to do."
)
@common.full_option
@common.bow_options
def command(
    bow: common.Bow, rule: str | None, cautions: bool, full: bool, as_json: bool, **build: str | None
) -> None:  # fmt: skip
    """Take the numbers apart: what every rule saw, why it matters, what it adds.

    With a build it also tells, from the launch model, where the shaft touches the plate, when it
    clears, and which way the nock goes and why.

    \b
    Examples:
      shaftwright explain examples/heron_marsh
      shaftwright explain --rule shaft-length
    """
    from shaftwright.answers.explain import explain
    from shaftwright.errors import Fault, InputError
    from shaftwright.render.screens.explain import explain_text, rule_dict, rule_text

    if rule is not None:
        from shaftwright.rules.load import rulebook

        book = rulebook()
        found = book.find(rule)
        if found is None:
            import difflib

            names = [r.name for r in book.rules]
            close = difflib.get_close_matches(rule.lower(), names, 1, 0.4)
            hint = f"; did you mean {close[0]}?" if close else "; see shaftwright rules list"
            raise InputError([Fault("--rule", f"is not a rule{hint}", None, "", rule)])
        if as_json:
            common.emit_json(rule_dict(found, book))
        else:
            click.echo(rule_text(found, book))
        return
    if cautions:
        from shaftwright.render.screens.explain import cautions_text
        from shaftwright.rules.cautions import cautions_for

        asked = bow.scenario
        due = cautions_for(asked.rig, asked.purpose, ("carbon", "aluminium", "wood", "fibreglass"))
        common.answer(
            bow, as_json,
            lambda: {"rig": asked.rig.name, "cautions": [c.model_dump() for c in due]},
            lambda: cautions_text(due),
        )  # fmt: skip
        return
    builds = None if common.build_spec(build) is None else bow.builds(build)
    explained = explain(bow.scenario, builds)
    common.answer(bow, as_json, explained.to_dict, lambda: explain_text(explained, full))
