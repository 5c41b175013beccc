"""The same launch under other laws of the string: what holds whichever of them is true."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.launch.seen import one_arrow, rig_of
from shaftwright.answers.scenario import Scenario
from shaftwright.physics.launch.changes import Change
from shaftwright.physics.launch.match import matched_together, stacked
from shaftwright.physics.launch.parts import Launch, Rig
from shaftwright.physics.launch.settings import LAWS
from shaftwright.records.builds import Builds

Array = NDArray[np.float64]

#: draws under each of the other laws, where the command's own are more
DRAWS: Final = 8
#: share of draws, the laws counting alike, that must agree on a sign
SURE: Final = 0.75
#: share of a law's draws that must have a matched spine for it to have a say
LEAST: Final = 0.25
#: the law of everything else that a launch tells
OWN: Final = "even"


def spines_by_law(
    asked: Scenario, builds: Builds, own: Sequence[Rig], changes: Sequence[Change], draws: int
) -> tuple[dict[str, Array], Launch]:
    """Matched spines before and after each change, (1 + changes, draws), under every law [mils].

    `own` is the rig and its changed selves under the own law, whose launches are told as well. The
    other laws start from the rig alone: the archer's shots chose settings under one law and say
    nothing of these. A law under which this bow cannot be launched is left out.
    """
    on, arrow = rig_of(asked, builds, min(draws, DRAWS)), one_arrow(builds)
    families = {OWN: own}
    for law, held in LAWS.items():
        if law != OWN:
            drawn: Rig = (arrow, on.bow, on.settings.changed(**held))
            families[law] = [drawn, *(change.apply(drawn) for change in changes)]
    try:
        return _spines(families)
    except ValueError:
        # two limbs and a string cannot make every bow
        return _spines({law: rigs for law, rigs in families.items() if not LAWS[law]["computed"]})


def _spines(families: Mapping[str, Sequence[Rig]]) -> tuple[dict[str, Array], Launch]:
    found, (left,) = matched_together(
        list(families.values()), [law == OWN for law in families], [stacked(families[OWN])]
    )
    return dict(zip(families, found, strict=True)), left


def sign_of(by_law: Mapping[str, Array]) -> str:
    """Which way changes of the matched stiffness [%] go: stiffer, weaker, or unsure.

    Unsure where the laws' middles differ, or where too few draws agree, each law counting once.
    """
    told = [v[np.isfinite(v)] for v in by_law.values() if np.isfinite(v).mean() >= LEAST]
    if not told:
        return "unsure"
    stiffer = float(np.mean([(values > 0).mean() for values in told]))
    signs = {float(np.sign(np.median(values))) for values in told}
    if len(signs) > 1 or 1 - SURE < stiffer < SURE:
        return "unsure"
    return "stiffer" if stiffer >= SURE else "weaker"
