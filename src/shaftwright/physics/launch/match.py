"""The spine at which an arrow leaves without turning, and what moves it.

Over stiffness the turn rate has one broad hump: a very stiff shaft never clears the plate, a
stiff one leaves nose to the left (right-handed archer), a weak one nose to the right. The
*matched* stiffness is where the turn rate falls through nought on the weak side of the hump.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from shaftwright.physics.launch.beam import Array
from shaftwright.physics.launch.changes import Change, Rig
from shaftwright.physics.launch.launch import launch
from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow, LaunchSettings

#: what is nought for a matched shaft: rotation, or the angle between shaft and path
Criterion = Literal["turn_rate", "attack"]

#: EI = 48-th of load and span cubed over deflection, 1.94 lbf at the middle of 28 in [N m2 mil]
STIFFNESS_TIMES_MILS: Final = 2546.18
#: spines scanned for the matched one [mils]
SCAN_MILS: Final = np.geomspace(150.0, 1600.0, 36)
#: finer scan about a root already known, as factors of it
NEAR: Final = np.geomspace(0.80, 1.25, 15)
#: share of draws that the finer scan must hold, or the whole range is scanned
ENOUGH: Final = 0.9


@dataclass(frozen=True)
class Matched:
    """The matched spine over draws of the settings.

    Attributes
    ----------
    low_mils, mid_mils, high_mils : ndarray
        2.5, 50 and 97.5 percentiles over the last axis: stiffest, middle, weakest [mils].
    draws_mils : ndarray
        One for each draw; nan where the scan held none.
    solved : ndarray
        Share of draws with a matched spine inside the scan.
    """

    low_mils: Array
    mid_mils: Array
    high_mils: Array
    draws_mils: Array
    solved: Array


@dataclass(frozen=True)
class Sensitivity:
    """What a change does to the matched stiffness, over draws of the settings.

    Attributes
    ----------
    change : Change
    low_pct, mid_pct, high_pct : ndarray
        2.5, 50 and 97.5 percentiles of the change in matched stiffness [%]; positive: stiffer.
    draws_pct : ndarray
        One for each draw; nan where either root is missing.
    stiffer : ndarray
        Share of the solved draws that ask for a stiffer shaft.
    """

    change: Change
    low_pct: Array
    mid_pct: Array
    high_pct: Array
    draws_pct: Array
    stiffer: Array


def _crossing(log_spine: Array, rate: Array) -> Array:
    """Where the rate falls through nought beyond its greatest value; axis 0 runs to weak shafts.

    Contact chatter can make it cross several times. The spine returned then leaves as much
    positive ground beyond it as negative before it: with one crossing that crossing, and it moves
    smoothly when crossings come and go.
    """
    points = len(rate)
    top = np.argmax(rate, axis=0)
    left, right = rate[:-1], rate[1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        split = np.clip(np.maximum(left, right) / np.abs(right - left), 0, 1)
    positive = np.where((left > 0) & (right > 0), 1.0, np.where((left > 0) | (right > 0), split, 0))
    beyond = np.arange(points - 1).reshape(-1, *(1,) * (rate.ndim - 1)) >= top
    ground = (positive * beyond * np.diff(log_spine, axis=0)).sum(axis=0)
    start = np.take_along_axis(np.broadcast_to(log_spine, rate.shape), top[None], axis=0)[0]
    found = (rate.max(axis=0) > 0) & (rate[-1] < 0)
    root: Array = np.where(found, start + ground, np.nan)
    return root


def matched_draws(
    rig: Rig,
    spines_mils: Array,
    *,
    criterion: Criterion = "turn_rate",
) -> Array:
    """The matched spine of every launch, from one batched scan over stiffness.

    Parameters
    ----------
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
        The arrow's own stiffness is not used; its mass per length stays while stiffness varies.
    spines_mils : ndarray, shape (points,) or (points, ...)
        Spines to scan, from stiff to weak; further axes broadcast with the launches [mils].
    criterion : {"turn_rate", "attack"}
        What is nought for a matched shaft at the string's stop.

    Returns
    -------
    ndarray
        Matched spine, of the launches' shape; nan where the scan holds none [mils].

    Raises
    ------
    ValueError
        An unknown criterion, or what `launch` refuses.
    """
    arrow, bow, settings = rig
    shape = np.broadcast_shapes(
        arrow.changed(stiffness_n_m2=1.0).shape(), bow.shape(), settings.shape()
    )
    spines = np.asarray(spines_mils, float)
    if spines.ndim == 1:
        spines = spines.reshape(-1, *(1,) * len(shape))
    scanned = arrow.changed(stiffness_n_m2=STIFFNESS_TIMES_MILS / spines)
    left = launch(scanned, bow, settings)
    if criterion not in ("turn_rate", "attack"):
        raise ValueError(f"criterion {criterion!r}; allowed are turn_rate and attack")
    wanted = left.turn_rate_rad_s if criterion == "turn_rate" else left.attack_rad
    return np.exp(_crossing(np.log(spines), wanted))


def _percentiles(values: Array) -> tuple[Array, Array, Array]:
    """2.5, 50, 97.5 % over the last axis, nan left out; nan where nothing is left."""
    ordered = np.ma.masked_invalid(np.atleast_1d(values))
    count = ordered.count(axis=-1)
    data = np.sort(
        np.where(np.isnan(np.atleast_1d(values)), np.inf, np.atleast_1d(values)), axis=-1
    )
    found = []
    for part in (0.025, 0.5, 0.975):
        place = part * np.maximum(count - 1, 0)
        below = np.floor(place).astype(np.intp)
        above = np.minimum(below + 1, np.maximum(count - 1, 0))
        low = np.take_along_axis(data, below[..., None], axis=-1)[..., 0]
        high = np.take_along_axis(data, above[..., None], axis=-1)[..., 0]
        with np.errstate(invalid="ignore"):
            value = low + (place - below) * (high - low)
        found.append(np.where(count > 0, value, np.nan))
    return found[0], found[1], found[2]


def _window(rough: Array) -> Array:
    """Spines about known roots; a draw without a root is scanned about the middle, in vain."""
    centre = np.where(np.isfinite(rough), rough, np.nanmean(rough))
    return NEAR.reshape(-1, *(1,) * centre.ndim) * centre


def matched_spine(
    arrow: LaunchArrow,
    bow: LaunchBow,
    settings: LaunchSettings,
    *,
    spines_mils: Array = SCAN_MILS,
    criterion: Criterion = "turn_rate",
) -> Matched:
    """The static spine whose turn rate is nought, with its range over draws of the settings.

    Parameters
    ----------
    arrow : LaunchArrow
        Its stiffness is not used.
    bow : LaunchBow
    settings : LaunchSettings
        Draws along the last axis (`launch_settings.draw_settings`).
    spines_mils : ndarray, shape (points,)
        Spines scanned, from stiff to weak [mils].
    criterion : {"turn_rate", "attack"}
        What is nought for a matched shaft. A bare shaft's flight hangs on the turn rate most.

    Returns
    -------
    Matched

    Notes
    -----
    The absolute value hangs on settings nobody measures. Show its range, or fit the settings to
    the rig's own shots first. A first scan finds the root, one of 3 % steps about it refines it.
    """
    rig = (arrow, bow, settings)
    draws = matched_draws(rig, spines_mils, criterion=criterion)
    if np.isfinite(draws).any():
        window = _window(draws)
        finer = matched_draws(rig, window, criterion=criterion)
        draws = np.where(np.isfinite(draws) & np.isfinite(finer), finer, draws)
    low, mid, high = _percentiles(draws)
    return Matched(low, mid, high, draws, np.isfinite(np.atleast_1d(draws)).mean(axis=-1))


def sensitivities(
    arrow: LaunchArrow,
    bow: LaunchBow,
    settings: LaunchSettings,
    changes: Iterable[Change],
    *,
    matched: Matched | None = None,
    criterion: Criterion = "turn_rate",
) -> list[Sensitivity]:
    """What changes do to the matched stiffness, each draw of the settings against itself.

    Parameters
    ----------
    arrow, bow, settings
        As in `matched_spine`.
    changes : iterable of Change
        `launch_changes.standard_changes()` or some of it.
    matched : Matched, optional
        Of the rig as it stands by the same criterion, if already known.
    criterion : {"turn_rate", "attack"}
        As in `matched_spine`.

    Returns
    -------
    list of Sensitivity
        In the order of the changes.

    Raises
    ------
    ValueError
        No draw has a matched spine.

    Notes
    -----
    The same draws serve before and after (common random numbers), on a scan of 3 % steps about
    each draw's own root, or on the whole scan where that window loses over a tenth of the draws;
    a draw whose changed root is in neither is left out.
    """
    rig = (arrow, bow, settings)
    if matched is None:
        matched = matched_spine(*rig, criterion=criterion)
    rough = matched.draws_mils
    if not np.isfinite(rough).any():
        raise ValueError("no draw of the settings has a matched spine: nothing to compare")
    window = _window(rough)
    base = np.where(np.isfinite(rough), matched_draws(rig, window, criterion=criterion), np.nan)
    found = []
    for change in changes:
        after = change.apply(rig)
        changed = matched_draws(after, window, criterion=criterion)
        if np.isfinite(changed[np.isfinite(base)]).mean() < ENOUGH:
            changed = matched_draws(after, SCAN_MILS, criterion=criterion)
        pct = 100 * (base / changed - 1)
        low, mid, high = _percentiles(pct)
        with np.errstate(invalid="ignore", divide="ignore"):
            stiffer = (np.atleast_1d(pct) > 0).sum(-1) / np.isfinite(np.atleast_1d(pct)).sum(-1)
        found.append(Sensitivity(change, low, mid, high, pct, stiffer))
    return found
