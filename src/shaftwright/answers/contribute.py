"""A proven arrow as one row of a club's table: what the rules look at, and nothing of whose it is."""

from __future__ import annotations

from typing import Final

from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.explain import leaves
from shaftwright.answers.plan.prove import leading
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import NoAnswer
from shaftwright.inference.rig_facts import stated_weight_lb
from shaftwright.records.rig import Rig

#: fields of the rig that a row tells, as far as the rig does; a number's step, so that no bow is known by it
_OF_RIG: Final[dict[str, float | None]] = {
    "archer.draw_length": 0.125, "archer.release": None, "bow.kind": None, "bow.limbs": None,
    "bow.draw_weight.lb": 0.5, "bow.draw_weight.at": 0.125, "bow.brace_height": 0.125,
    "bow.window.cut": None, "bow.window.by": 1 / 32, "bow.rest": None, "bow.plate.thickness": 1 / 64,
    "bow.plate.material": None, "bow.plunger.spring": None, "bow.plunger.turns": 0.5,
    "bow.plunger.out": 1 / 64, "bow.plunger.moved": 1 / 64, "string.material": None,
    "string.mass": 1, "string.silencers": 1, "string.silencer_position": 0.05,
}  # fmt: skip


def contribution(asked: Scenario) -> dict[str, str]:
    """Column -> cell of a table of tuned rigs, for the proven arrow; NoAnswer while none is proven."""
    lead = leading(asked.where)
    if lead is None or not lead.now or asked.where.standing(lead) != "proven":
        raise NoAnswer(f"no arrow of this bow is proven yet. First: {asked.plan.next.do}")
    return _of_rig(asked.rig) | _of_arrow(asked, lead)


def _of_rig(rig: Rig) -> dict[str, str]:
    written = rig.as_written()
    if rig.bow.draw_weight.curve is not None:
        written["bow"]["draw_weight"] = {"lb": stated_weight_lb(rig), "at": "own_draw"}
    told = dict(leaves(written))
    return {
        column: _rounded(told[column], step) if isinstance(told[column], int | float) else str(told[column])
        for column, step in _OF_RIG.items() if told.get(column) is not None
    }  # fmt: skip


def _of_arrow(asked: Scenario, lead: Arrow) -> dict[str, str]:
    build, item = lead.build, asked.item(lead.spec.shaft)
    wood = None if item is None else item.wood_spine_lb
    pieces = len({end.piece for end in lead.fair})
    alike = f", {pieces} arrows alike" if pieces > 1 else ""
    spine = {"spine": _rounded(lead.spine_mils, 1)} if wood is None else {"wood_lb": f"{wood:g}"}
    return spine | {
        "length": _rounded(lead.length_in, 0.125), "front": _rounded(lead.front_gr, 1),
        "tail": _rounded(float(build.tail_gr[0]), 1),
        "gr_per_in": _rounded(float(build.gr_per_in[0]), 0.1),
        "diameter": _rounded(2 * float(build.radius_in[0]), 0.001),
        "reads": "straight", "seen_with": "bare_shaft",
        "source": f"proven: {len(lead.fair)} ends{alike}",
    }  # fmt: skip


def _rounded(value: float, step: float | None) -> str:
    return f"{value if step is None else round(round(value / step) * step, 6):g}"
