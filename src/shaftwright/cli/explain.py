"""`shaftwright explain`: the trace, or the whole of one rule."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from shaftwright.cli import common

if TYPE_CHECKING:
    from shaftwright.answers.scenario import Scenario
    from shaftwright.records.builds import Builds
    from shaftwright.rules.load import RuleBook


@click.command("explain")
@common.build_options
@click.option(
    "--rule", metavar="CODE", help="The whole of one rule, by code or name, instead of a trace."
)
@click.option(
    "--cautions", is_flag=True, help="All cautions for this rig, with why and what to do."
)
@common.bow_options
def command(
    bow: common.Bow, rule: str | None, cautions: bool, as_json: bool, **build: str | None
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
    from shaftwright.answers.one import not_to_be_drawn
    from shaftwright.errors import Fault, InputError
    from shaftwright.render.build import danger_first
    from shaftwright.render.explain import explain_text, rule_dict, rule_text, sizes_text

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
        from shaftwright.render.explain import cautions_text
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
    asked = bow.scenario
    explained = explain(asked, builds)
    perils = () if builds is None else not_to_be_drawn(asked, builds)

    def document() -> dict[str, Any]:
        shown = (
            {} if builds is None else {"launch": _launch(asked, builds), "dangers": list(perils)}
        )
        return {
            **explained.as_dict(), "basis": bow.basis, "sizes_used": _sizes(asked.book), **shown
        }  # fmt: skip

    def text() -> str:
        parts = [*danger_first(perils), explain_text(explained)]
        if bow.basis != "trade":
            parts.append(sizes_text(asked.book))
        if builds is not None:
            from shaftwright.render.launch import explained_launch_text

            parts.append(explained_launch_text(_launch(asked, builds)))
        return "\n\n".join(parts)

    common.answer(bow, as_json, document, text)


def _sizes(book: RuleBook) -> list[dict[str, Any]]:
    return [
        {"rule": code, "name": rule.name, "case": case, "trade": one.trade.model_dump(),
         "physics": one.physics.model_dump(), "used": one.used.model_dump(),
         "trade_share": one.share, "apart_sds": one.apart}
        for (code, case), one in book.sizes.items() if (rule := book.find(code)) is not None
    ]  # fmt: skip


def _launch(asked: Scenario, builds: Builds) -> dict[str, Any]:
    """What the launch model sees of a build, or why it sees nothing."""
    from shaftwright.answers.launch_seen import seen
    from shaftwright.errors import NoAnswer
    from shaftwright.render.launch import story

    try:
        one = seen(asked, builds)
    except NoAnswer as error:
        return {"exit": None, "contacts": [], "told": [str(error)]}
    found = one.as_dict()
    return {"exit": found["exit"], "contacts": found["contacts"], "told": story(one)}
