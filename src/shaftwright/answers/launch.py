"""The whole chain: rig, launch, flight, offset; each figure over draws of what nobody measures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from shaftwright.answers.launch_fit import Fit
from shaftwright.answers.launch_seen import SIDED, Seen, Side, exits, flown, one_arrow, rig_of, seen
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import NoAnswer
from shaftwright.inference.band import Band, Spread, spine_band
from shaftwright.inference.launch import engine, matched_together, stacked
from shaftwright.physics.launch import launch
from shaftwright.physics.launch_changes import Rig, standard_changes
from shaftwright.records.builds import Builds
from shaftwright.rules.purposes import setting

Array = NDArray[np.float64]

#: draws of the settings; more cost time, fewer make ragged ranges
DRAWS: Final = 16
#: share of draws that must have a matched spine before one is told
_ENOUGH: Final = 0.5
#: what is asked of every rig, of the changes of tables/launch_changes.csv
ASKED: Final = ("front_mass", "shaft_length", "plate_offset", "brace_height", "draw_weight")
DISTANCES_YD: Final = (10.0, 15.0, 20.0, 25.0, 30.0)
_AT_YD: Final = 20.0


@dataclass(frozen=True)
class Effect:
    """What one change does on this rig.

    Attributes
    ----------
    change : str
        In the archer's words.
    kind : str
        Key of tables/launch_changes.csv.
    stiffness_pct : Spread or None
        Change of the stiffness that leaves without turning [%]; positive: a stiffer shaft is
        asked for. None where no draw has such a stiffness.
    offset_in : Spread
        How the bare shaft's offset at 20 yd moves, right positive [in].
    """

    change: str
    kind: str
    stiffness_pct: Spread | None
    offset_in: Spread

    def as_dict(self) -> dict[str, Any]:
        """As one of the JSON's sensitivities."""
        pct = self.stiffness_pct
        return {
            "change": self.change,
            "kind": self.kind,
            "stiffness_pct": None if pct is None else dict(pct.__dict__),
            "offset_in_at_20yd": self.offset_in.mid,
            "offset_range_in_at_20yd": {"low": self.offset_in.low, "high": self.offset_in.high},
            "basis": "calculated",
        }


@dataclass(frozen=True)
class Offset:
    """A bare shaft against a fletched one at a distance.

    Attributes
    ----------
    distance_yd : float
    offset_in : Spread
        Bare less fletched, right positive [in].
    nock_deg : Spread
        The bare shaft against its path, nock to the right positive [deg].
    """

    distance_yd: float
    offset_in: Spread
    nock_deg: Spread

    def as_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "distance_yd": self.distance_yd,
            "offset_in": dict(self.offset_in.__dict__),
            "nock_deg": dict(self.nock_deg.__dict__),
        }


@dataclass(frozen=True, eq=False)
class Launched:
    """A build's launch on a rig, with doubt.

    Attributes
    ----------
    seen : Seen
        At the middle settings.
    draws : int
        How many draws of what is uncertain.
    exit_range : dict
        Field of `Exit` -> range over the draws.
    stiff_share : float
        Share of draws in which it leaves as a stiff shaft does.
    matched : Spread or None
        Spine that would leave without turning [mils]; low is the stiffest.
    solved : float
        Share of draws that have one.
    effects : tuple of Effect
    offsets : tuple of Offset
    warnings : tuple of str
    by_rules : Band
        What the rules say of the spine for this length and front, by a way of their own.
    fitted_groups : int
        Groups of the archer's own shots that chose among the draws.
    """

    seen: Seen
    draws: int
    exit_range: dict[str, Spread]
    stiff_share: float
    matched: Spread | None
    solved: float
    effects: tuple[Effect, ...]
    offsets: tuple[Offset, ...]
    warnings: tuple[str, ...]
    by_rules: Band
    fitted_groups: int = 0

    def as_dict(self) -> dict[str, Any]:
        """As the JSON of `launch`."""
        one = self.seen.as_dict()
        matched = self.matched
        return {
            "format": 1,
            "rig": self.seen.question.rig.name,
            "exit": one["exit"],
            "exit_range": {k: {"low": v.low, "high": v.high} for k, v in self.exit_range.items()},
            "stiff_share": self.stiff_share,
            "contacts": one["contacts"],
            "balance_in": one["balance_in"],
            "balance_passes_plate_ms": one["balance_passes_plate_ms"],
            "matched_spine_mils": None if matched is None else dict(matched.__dict__),
            "matched_share": self.solved,
            "sensitivities": [effect.as_dict() for effect in self.effects],
            "offsets": [offset.as_dict() for offset in self.offsets],
            "draws": self.draws,
            "fitted_groups": self.fitted_groups,
            "frames": one["frames"],
            "by_rules_spine_mils": {
                "low": self.by_rules.low,
                "mid": self.by_rules.mid,
                "high": self.by_rules.high,
                "chance": self.by_rules.chance,
            },
            "warnings": list(self.warnings),
        }


def launched(
    asked: Scenario, builds: Builds, draws: int = DRAWS, fit: Fit | None = None
) -> Launched:
    """Launch a build: exit, contacts, matched spine, what changes do, expected offsets.

    Parameters
    ----------
    asked : Scenario
        The rig and its readings.
    builds : Builds
        Of length 1.
    draws : int
        Draws of what is uncertain: the launch's settings, energy, virtual mass, draw weight.
    fit : Fit, optional
        What the archer's own groups left of those draws; the best-fitting one is the middle then.

    Returns
    -------
    Launched

    Raises
    ------
    NoAnswer
        A rig or a build that the model cannot launch.

    Notes
    -----
    The bare shaft is one with the mass of the fletching taped on: it leaves the string as the
    fletched one does, and the two fly on from one exit, without and with fins.
    """
    on = rig_of(asked, builds, draws) if fit is None else fit.resampled(draws)
    one = seen(asked, builds, on)
    arrow, side, first = one_arrow(builds), one.side, one.state
    changes = [change for change in standard_changes() if change.change in ASKED]
    drawn: Rig = (arrow, on.bow, on.settings)
    try:
        rigs = [drawn, *(change.apply(drawn) for change in changes)]
        states = exits(launch(*stacked(rigs, draws), engine=engine()))
        spines = matched_together(rigs, draws)
    except ValueError as error:
        raise NoAnswer(f"the launch model cannot shoot this: {error}") from None
    distances = np.array(DISTANCES_YD)
    offset, nock = flown(builds, states, distances)
    mid_offset, mid_nock = flown(builds, first, distances)
    at = int(np.argmin(abs(distances - _AT_YD)))
    moved = offset[1:, :, at] - offset[0, :, at]
    told, solved = side.turned, float(np.isfinite(spines[0]).mean())
    return Launched(
        one, draws,
        {
            k: told(_range(v[0], float(first[k]))) if k in SIDED else _range(v[0], float(first[k]))
            for k, v in states.items()
        },
        float(np.mean(states["turn_rate_rad_s"][0] > 0)),
        _range(spines[0]) if solved >= _ENOUGH else None, solved,
        tuple(
            Effect(
                change.label, change.change, _effect(spines[0], spines[i + 1]),
                _right(side, _range(moved[i])),
            )
            for i, change in enumerate(changes)
        ),
        tuple(
            Offset(
                float(yards),
                _right(side, _range(offset[0, :, i], float(mid_offset[i]))),
                told(_range(nock[0, :, i], float(mid_nock[i]))),
            )
            for i, yards in enumerate(distances)
        ),
        (*one.warnings, *_doubts(one, solved), *_strain(fit), *asked.warnings),
        spine_band(asked.demand(builds), builds, asked.belief, setting("band_chance")),
        0 if fit is None else len(fit.groups),
    )  # fmt: skip


def _right(side: Side, spread: Spread) -> Spread:
    """From away from the riser to the archer's right."""
    return Side(-side.sign).turned(spread)


def _range(values: Array, mid: float | None = None) -> Spread:
    """Middle and 95 % range over draws; not-a-number is left out, the middle always inside."""
    good = values[np.isfinite(values)]
    if not good.size:
        return Spread(float("nan") if mid is None else mid, float("nan"), float("nan"))
    low, median, high = (float(v) for v in np.percentile(good, (2.5, 50.0, 97.5)))
    middle = median if mid is None or not np.isfinite(mid) else mid
    return Spread(middle, min(low, middle), max(high, middle))


def _effect(before: Array, after: Array) -> Spread | None:
    """Change of the matched stiffness, each draw against itself [%]; None where few have one."""
    change = 100 * (before / after - 1)
    return _range(change) if np.isfinite(change).mean() >= _ENOUGH else None


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
            f"in {1 - solved:.0%} of the draws no spine of the scan leaves without turning; they are "
            "left out of the matched spine and of the changes"
        )
    if one.builds.insert_gr[0] > 0 or one.builds.collar_gr[0] > 0:
        found.append("insert and collar count as mass at the shaft's end, not as stiffening")
    return found
