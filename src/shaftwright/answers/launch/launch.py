"""How a build leaves this riser, why, what changes would do, and what holds under every law of the string."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from shaftwright import limits
from shaftwright.answers.build import dangers
from shaftwright.answers.launch.fit import Fit
from shaftwright.answers.launch.seen import SIDED, Seen, exits, flown, one_arrow, rig_of, seen, shot
from shaftwright.answers.scenario import Answer, Scenario
from shaftwright.arrays import Array
from shaftwright.inference.band import Band
from shaftwright.limits import number, refuse
from shaftwright.physics.launch.match import Change, matched_together, stacked, standard_changes
from shaftwright.physics.launch.parts import Rig
from shaftwright.physics.launch.settings import LAWS
from shaftwright.records.builds import Builds
from shaftwright.result import Result, kept
from shaftwright.units import REFERENCE_YD, Interval

#: draws of the settings; more cost time, fewer make ragged ranges
DRAWS: Final = 16
#: share of draws that must have a matched spine before one is named
_ENOUGH: Final = 0.5
#: what is asked of every rig, of the changes of tables/launch_changes.csv
ASKED: Final = ("front_mass", "shaft_length", "plate_offset", "brace_height", "draw_weight")
DISTANCES_YD: Final = (10.0, 15.0, 20.0, 25.0, 30.0)


@dataclass(frozen=True)
class Effect(Result):
    """What one change does on this rig."""

    #: in the archer's words
    change: str
    #: key of tables/launch_changes.csv
    kind: str
    #: change of the stiffness that leaves without turning [%], + asks for a stiffer shaft; None
    #: where no draw has such a stiffness
    stiffness_pct: Interval | None
    #: how the bare shaft's offset at 20 yd moves, right positive
    offset_in: Interval = field(
        metadata=kept(json="offset_in_at_20yd", ends="offset_range_in_at_20yd")
    )
    #: law of the string -> as `stiffness_pct`
    by_law: dict[str, Interval | None]
    #: stiffer, weaker, or unsure where the laws or too many draws differ
    sign: str
    basis: str = "calculated"


@dataclass(frozen=True)
class Offset(Result):
    """A bare shaft against a fletched one at a distance, right positive."""

    distance_yd: float
    offset_in: Interval
    #: the bare shaft against its path, nock to the right positive
    nock_deg: Interval


@dataclass(frozen=True, eq=False)
class Launched(Answer):
    """A build's launch on a rig, with doubt."""

    #: at the middle settings
    seen: Seen = field(metadata=kept(json=False))
    #: how many draws of what is uncertain
    draws: int
    #: field of `Exit` -> range over the draws
    exit_range: dict[str, Interval]
    #: share of draws in which it leaves as a stiff shaft does
    stiff_share: float
    #: spine that would leave without turning [mils]; low is the stiffest
    matched: Interval | None = field(metadata=kept(json="matched_spine_mils"))
    #: law of the string -> middle spine that would leave without turning; None where few draws have one
    matched_by_law: dict[str, float | None] = field(metadata=kept(json="matched_spine_by_law_mils"))
    #: share of draws that have one
    solved: float = field(metadata=kept(json="matched_share"))
    effects: tuple[Effect, ...] = field(metadata=kept(json="sensitivities"))
    offsets: tuple[Offset, ...]
    warnings: tuple[str, ...]
    #: what the rules say of the spine for this length and front, by a way of their own
    by_rules: Band = field(metadata=kept(json="by_rules_spine_mils"))
    #: why the build must not be drawn
    dangers: tuple[str, ...]
    #: groups of the archer's own shots that chose among the draws
    fitted_groups: int = 0

    def to_dict(self) -> dict[str, Any]:
        """With what one launch shows."""
        return {**super().to_dict(), **self.seen.to_dict()}


def launched(
    asked: Scenario, builds: Builds, draws: int = DRAWS, fit: Fit | None = None
) -> Launched:
    """Launch a build: exit, contacts, matched spine, what changes do, expected offsets.

    With a fit, what the archer's own groups left of the draws; the best-fitting one is the middle
    then. The bare shaft has the mass of the fletching taped on: it leaves the string as the fletched
    one does, and the two fly on from one exit, without and with fins. What cannot be launched says why.
    """
    refuse(number("draws", draws, limits.DRAWS))
    on = rig_of(asked, builds, draws) if fit is None else fit.resampled(draws)
    one = seen(asked, builds, on)
    arrow, sign, first = one_arrow(builds), one.sign, one.state
    changes = [change for change in standard_changes() if change.change in ASKED]
    drawn: Rig = (arrow, on.bow, on.settings)
    rigs = [drawn, *(change.apply(drawn) for change in changes)]
    left, laws = shot(*stacked(rigs)), spines_by_law(asked, builds, rigs, changes, draws)
    states, spines, distances = exits(left), laws[OWN], np.array(DISTANCES_YD)
    every = {k: np.append(v, first[k]) for k, v in states.items()}
    (offset, mid_offset), (nock, mid_nock) = (
        (values[:-1].reshape(len(rigs), draws, -1), values[-1])
        for values in flown(builds, every, distances)
    )
    at = int(np.argmin(abs(distances - REFERENCE_YD)))
    moved = offset[1:, :, at] - offset[0, :, at]
    solved = float(np.isfinite(spines[0]).mean())
    return Launched(
        asked, one, draws,
        {
            k: _range(v[0], float(first[k])).scaled(sign if k in SIDED else 1)
            for k, v in states.items()
        },
        float(np.mean(states["turn_rate_rad_s"][0] > 0)),
        _range(spines[0]) if solved >= _ENOUGH else None,
        {law: _middle(found[0]) for law, found in laws.items()}, solved,
        tuple(
            Effect(
                change.label, change.change, _effect(spines[0], spines[i + 1]),
                _range(moved[i]).scaled(-sign),
                {law: _effect(found[0], found[i + 1], LEAST) for law, found in laws.items()},
                sign_of({law: 100 * (found[0] / found[i + 1] - 1) for law, found in laws.items()}),
            )
            for i, change in enumerate(changes)
        ),
        tuple(
            Offset(
                float(yards),
                _range(offset[0, :, i], float(mid_offset[i])).scaled(-sign),
                _range(nock[0, :, i], float(mid_nock[i])).scaled(sign),
            )
            for i, yards in enumerate(distances)
        ),
        (*one.warnings, *_doubts(one, solved), *_strain(fit), *asked.warnings),
        asked.band(builds),
        dangers(asked, builds), 0 if fit is None else len(fit.groups),
    )  # fmt: skip


def _range(values: Array, mid: float | None = None) -> Interval:
    """Middle and 95 % range over draws; not-a-number is left out, the middle always inside."""
    good = values[np.isfinite(values)]
    if not good.size:
        return Interval(float("nan") if mid is None else mid, float("nan"), float("nan"))
    low, median, high = (float(v) for v in np.percentile(good, (2.5, 50.0, 97.5)))
    middle = median if mid is None or not np.isfinite(mid) else mid
    return Interval(middle, min(low, middle), max(high, middle))


def _middle(spines: Array) -> float | None:
    """The middle of the draws; None where few have one."""
    return float(np.nanmedian(spines)) if np.isfinite(spines).mean() >= LEAST else None


def _effect(before: Array, after: Array, least: float = _ENOUGH) -> Interval | None:
    """Change of the matched stiffness, each draw against itself [%]; None where few have one."""
    change = 100 * (before / after - 1)
    return _range(change) if np.isfinite(change).mean() >= least else None


def _strain(fit: Fit | None) -> list[str]:
    if fit is None or not fit.strained:
        return []
    return [
        "hardly any draw of the settings fits your bare shafts: trust your shots and the rules' own "
        "reading of them (shaftwright bareshaft) more than this"
    ]


def _doubts(one: Seen, solved: float) -> list[str]:
    found = []
    if solved < 1:
        found.append(
            f"in {100 * (1 - solved):.0f} of 100 guesses no spine leaves without turning; they are "
            "left out of the matched spine and of the changes"
        )
    if one.builds.insert_gr[0] > 0 or one.builds.collar_gr[0] > 0:
        found.append("insert and collar count as weight at the shaft's end, not as stiffening")
    return found


#: draws under each of the other laws, where the command's own are more
LAW_DRAWS: Final = 8
#: share of draws, the laws counting alike, that must agree on a sign
SURE: Final = 0.75
#: share of a law's draws that must have a matched spine for it to have a say
LEAST: Final = 0.25
#: the law of everything else that a launch tells
OWN: Final = "even"


def spines_by_law(
    asked: Scenario, builds: Builds, own: Sequence[Rig], changes: Sequence[Change], draws: int
) -> dict[str, Array]:
    """Matched spines before and after each change, (1 + changes, draws), under every law [mils].

    `own` is the rig and its changed selves under the own law. The
    other laws start from the rig alone: the archer's shots chose settings under one law and say
    nothing of these. A law under which this bow cannot be launched is left out.
    """
    on, arrow = rig_of(asked, builds, min(draws, LAW_DRAWS)), one_arrow(builds)
    found = {OWN: matched_together(own, whole=True)}
    for law, held in LAWS.items():
        if law == OWN:
            continue
        drawn: Rig = (arrow, on.bow, on.settings.changed(**held))
        try:
            found[law] = matched_together([drawn, *(change.apply(drawn) for change in changes)])
        except ValueError:  # two limbs and a string cannot make every bow
            if not held["computed"]:
                raise
    return found


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
