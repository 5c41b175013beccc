"""A build's launch at a glance: the picture of one, and how many of a few draws agree on its side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from shaftwright.answers.launch.fit import fit, groups_of
from shaftwright.answers.launch.seen import Seen, one_arrow, rig_of, seen
from shaftwright.answers.scenario import Scenario
from shaftwright.errors import NoAnswer
from shaftwright.physics.launch.launch import launch
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import AnyEntry
from shaftwright.records.stock import Stock

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
    draws : int
        How many.
    fitted_groups : int
        Groups of the archer's own shots that chose among the draws.
    """

    seen: Seen
    stiff_share: float
    draws: int
    fitted_groups: int


def glance(
    asked: Scenario,
    builds: Builds,
    entries: Sequence[AnyEntry] = (),
    stock: Stock | None = None,
    draws: int = DRAWS,
) -> Glance:
    """Launch a build once for the picture, and a few times for the doubt about its side.

    Parameters
    ----------
    asked : Scenario
        The rig.
    builds : Builds
        Of length 1.
    entries : sequence
        The notebook's, in file order; bare shafts among them choose the settings.
    stock : Stock, optional
        For builds that the notebook names.
    draws : int
        How many.

    Returns
    -------
    Glance

    Raises
    ------
    NoAnswer
        A rig or a build that the model cannot launch; the reason is told.
    """
    groups = groups_of(asked, entries, stock)
    on = fit(asked, groups).resampled(draws) if groups else rig_of(asked, builds, draws)
    one = seen(asked, builds, on)
    try:
        left = launch(one_arrow(builds), on.bow, on.settings)
    except ValueError as error:
        raise NoAnswer(f"the launch model cannot shoot this: {error}") from None
    return Glance(one, float(np.mean(left.turn_rate_rad_s > 0)), draws, len(groups))
