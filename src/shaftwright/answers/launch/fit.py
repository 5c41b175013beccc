"""Settings that the archer's own shots choose, and a launch at a glance with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from shaftwright.answers.launch.rig import LaunchRig, launch_rig
from shaftwright.answers.launch.seen import Seen, exits, flown, one_arrow, rig_of, seen, shot
from shaftwright.answers.scenario import Scenario
from shaftwright.arrays import Array
from shaftwright.parameters import setting
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import BareShaft
from shaftwright.resources import constant, usual
from shaftwright.units import REFERENCE_YD


@dataclass(frozen=True, eq=False)
class Group:
    """Bare shafts against fletched ones.

    Attributes
    ----------
    builds : Builds
        Of length 1, as it was shot: without fletching's mass unless taped.
    distance_yd : float
    away_in : float
        Offset, bare less fletched, away from the riser: the side of a stiff shaft [in].
    sd_in : float
        What scatter leaves of doubt in it [in].
    """

    builds: Builds
    distance_yd: float
    away_in: float
    sd_in: float


@dataclass(frozen=True, eq=False)
class Fit:
    """Draws of the settings weighted by shots.

    Attributes
    ----------
    on : LaunchRig
        All draws; its middle is the draw that fits best.
    weights : array (particles,)
        Their sum is 1.
    groups : tuple of Group
    """

    on: LaunchRig
    weights: Array
    groups: tuple[Group, ...]

    @property
    def effective(self) -> float:
        """How many draws the weights amount to."""
        return float(1 / np.sum(self.weights**2))

    @property
    def strained(self) -> bool:
        """Whether hardly any draw fits the shots."""
        return bool(self.groups) and self.effective < constant("launch_fit", "least_effective")

    def resampled(self, draws: int) -> LaunchRig:
        """So many draws of equal weight, without luck: evenly spaced in the weights' sum."""
        places = (np.arange(draws) + 0.5) / draws
        picked = np.searchsorted(np.cumsum(self.weights), places)
        index = np.minimum(picked, len(self.weights) - 1)
        on = self.on
        return replace(on, bow=on.bow.taken(index), settings=on.settings.taken(index))


def groups_of(asked: Scenario) -> tuple[Group, ...]:
    """The notebook's groups that the launch can be fitted to: measured, unmarked, of the bow as it stands.

    An arrow that ends behind the plate at full draw cannot be launched at all.
    """
    known, found = asked.learned, list[Group]()
    to_plate_in = asked.rig.archer.draw_length_in - usual("grip_allowance_in")
    if known is None:
        return ()
    for reading in known.readings:
        entry, look = reading.entry, reading.look
        if not isinstance(entry, BareShaft) or entry.marks in ("plate", "shelf"):
            continue
        bare, fletched = int(look.kept.sum()), len(look.fletched)
        if reading.seen_in is None or not fletched or not reading.counted:
            continue
        if reading.period or reading.setting:
            continue
        scatter = (
            setting("evidence.bare_sd_in") / np.sqrt(bare),
            setting("evidence.fletched_sd_in") / np.sqrt(fletched),
            setting("evidence.group_shift_sd_in"),
        )
        far = entry.distance_yd / REFERENCE_YD
        builds = known.builds[reading.build].build
        if builds.length_in[0] < to_plate_in:
            continue
        sd = float(np.linalg.norm(scatter)) * far
        found.append(Group(builds, entry.distance_yd, reading.seen_in * far, sd))
    return tuple(found)


def offsets_of(on: LaunchRig, builds: Sequence[Builds], distances_yd: Sequence[float]) -> Array:
    """Offsets of bare builds at a distance each, over all draws.

    Parameters
    ----------
    on : LaunchRig
        Draws of the settings.
    builds : sequence of Builds
        Each of length 1.
    distances_yd : sequence of float
        One for each [yd].

    Returns
    -------
    array (builds, draws)
        Bare less fletched, away from the riser positive [in].
    """
    return np.stack([
        flown(build, exits(shot(one_arrow(build), on.bow, on.settings)), np.array([yards]))[0][:, 0]
        for build, yards in zip(builds, distances_yd, strict=True)
    ])  # fmt: skip


def fit(asked: Scenario, groups: Sequence[Group]) -> Fit:
    """Weigh draws of the settings by the archer's groups.

    Parameters
    ----------
    asked : Scenario
        The rig.
    groups : sequence of Group
        None is allowed: all draws weigh the same.

    Returns
    -------
    Fit

    Notes
    -----
    The likelihood of a group is a normal one about the model's offset, its scatter and what the
    model itself may be off by added by squares, and a small chance that the group says nothing.
    """
    count = int(constant("launch_fit", "particles"))
    at = groups[0].builds if groups else asked.reference_build()
    on = launch_rig(asked.rig, asked.demand(at), asked.speeds(), count)
    if not groups:
        return Fit(on, np.full(count, 1 / count), ())
    expected = offsets_of(on, [g.builds for g in groups], [g.distance_yd for g in groups])
    log = sum(_log_likelihood(group, row) for group, row in zip(groups, expected, strict=True))
    weights = np.exp(log - np.max(log))
    weights = weights / weights.sum()
    best = np.array(int(np.argmax(weights)))
    middle = replace(on, middle_bow=on.bow.taken(best), middle_settings=on.settings.taken(best))
    return Fit(middle, weights, tuple(groups))


def _log_likelihood(group: Group, expected: Array) -> Array:
    far = group.distance_yd / REFERENCE_YD
    own = np.hypot(
        constant("launch_fit", "model_in") * far,
        constant("launch_fit", "model_share") * np.abs(expected),
    )
    sd = np.hypot(group.sd_in, own)
    lost, lost_sd = (
        setting("evidence.lost_group_chance"),
        np.hypot(setting("evidence.lost_group_sd_in") * far, sd),
    )
    miss = group.away_in - expected
    honest = (1 - lost) * np.exp(-0.5 * (miss / sd) ** 2) / sd
    return np.asarray(np.log(honest + lost * np.exp(-0.5 * (miss / lost_sd) ** 2) / lost_sd))


#: as many as the command takes, so that both tell the same share
DRAWS: Final = 16


@dataclass(frozen=True, eq=False)
class Glance:
    """A launch without what the full answer computes besides: no matched spine, no changes.

    Attributes
    ----------
    seen : Seen
        At the middle settings, or at the draw that fits the archer's shots best.
    stiff_share : float
        Share of draws in which it leaves as a stiff shaft does.
    fitted_groups : int
        Groups of the archer's own shots that chose among the draws.
    """

    seen: Seen
    stiff_share: float
    fitted_groups: int


def glance(asked: Scenario, builds: Builds) -> Glance:
    """Launch a build once for the picture, and a few times for the doubt about its side.

    The notebook's bare shafts choose the settings. What cannot be launched says why.
    """
    groups = groups_of(asked)
    on = fit(asked, groups).resampled(DRAWS) if groups else rig_of(asked, builds, DRAWS)
    one = seen(asked, builds, on)
    left = shot(one_arrow(builds), on.bow, on.settings)
    return Glance(one, float(np.mean(left.turn_rate_rad_s > 0)), len(groups))
