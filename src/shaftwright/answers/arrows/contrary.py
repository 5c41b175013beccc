"""Changes that went the wrong way: what is not tried a third time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shaftwright.answers.arrows.shot import Arrow
from shaftwright.parameters import setting

if TYPE_CHECKING:
    from shaftwright.answers.plan.steps import Where


def barred_levers(where: Where) -> set[str]:
    """Levers that went the wrong way twice, beyond the groups' doubt."""
    counts: dict[str, int] = {}
    known = where.scenario.known
    doubt = setting("plan.contrary_sd") * float(
        np.sqrt(2 * (np.mean(known.bare_sd**2) + np.mean(known.fletched_sd**2)) / 3)
    )  # fmt: skip
    arrows = [a for a in where.here if a.side_in is not None and a.spec.shaft is not None]
    for i, one in enumerate(arrows):
        for other in arrows[i + 1 :]:
            kind = _differ(one, other)
            if kind is None:
                continue
            should = float(np.mean(one.known.before_lb - other.known.before_lb))
            did = (one.side_in or 0.0) - (other.side_in or 0.0)
            if should * did < 0 and abs(did) > doubt:
                counts[kind] = counts.get(kind, 0) + 1
    return {kind for kind, n in counts.items() if n >= setting("plan.contrary_steps")}


def _differ(one: Arrow, other: Arrow) -> str | None:
    """The one thing in which two arrows of a shaft differ; None where it is not one thing."""
    if one.spec.shaft != other.spec.shaft:
        return None
    length = one.key[1] != other.key[1]  # to a sixteenth
    front = abs(one.front_gr - other.front_gr) > setting("plan.same_front_gr")
    setting_differs = one.setting != other.setting
    if length + front + setting_differs != 1:
        return None
    return "cut" if length else "point" if front else "plunger"
