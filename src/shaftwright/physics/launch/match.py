"""The spine at which an arrow leaves without turning, and what moves it.

Over stiffness the turn rate has one broad hump: a very stiff shaft never clears the plate, a
stiff one leaves nose to the left (right-handed archer), a weak one nose to the right. The
*matched* stiffness is where the turn rate falls through nought on the weak side of the hump.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import Final, Literal, TypeVar

import numpy as np

from shaftwright.physics.launch.beam import Array
from shaftwright.physics.launch.changes import Change, Rig
from shaftwright.physics.launch.launch import launch
from shaftwright.physics.launch.parts import Fields

Part = TypeVar("Part", bound=Fields)
#: what is nought for a matched shaft: rotation, or the angle between shaft and path
Criterion = Literal["turn_rate", "attack"]

#: EI = 48-th of load and span cubed over deflection, 1.94 lbf at the middle of 28 in [N m2 mil]
STIFFNESS_TIMES_MILS: Final = 2546.18
#: spines scanned for the matched one [mils]
SCAN_MILS: Final = np.geomspace(150.0, 1600.0, 36)
#: spines about a root already known, as factors of it
WINDOW: Final = np.geomspace(0.84, 1.19, 12)
#: the same for changes of every size, and the share of draws that it must hold
NEAR: Final = np.geomspace(0.80, 1.25, 15)
ENOUGH: Final = 0.9


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
    return np.where(found, start + ground, np.nan)


def matched_draws(
    rig: Rig, spines_mils: Array = SCAN_MILS, *, criterion: Criterion = "turn_rate"
) -> Array:
    """The matched spine of every launch, from one batched scan over stiffness.

    Parameters
    ----------
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
        The arrow's own stiffness is not used; its mass per length stays while stiffness varies.
    spines_mils : ndarray, shape (points,) or (points, ...)
        Spines to scan, from stiff to weak; further axes broadcast with the launches [mils].
    criterion : {"turn_rate", "attack"}
        What is nought for a matched shaft at the string's stop. A bare shaft's flight hangs on
        the turn rate most.

    Returns
    -------
    ndarray
        Matched spine, of the launches' shape; nan where the scan holds none [mils].
    """
    spines = np.asarray(spines_mils, float)
    if spines.ndim == 1:
        spines = spines.reshape(-1, *(1,) * len(_shape(rig)))
    arrow, bow, settings = rig
    left = launch(arrow.changed(stiffness_n_m2=STIFFNESS_TIMES_MILS / spines), bow, settings)
    wanted = left.turn_rate_rad_s if criterion == "turn_rate" else left.attack_rad
    return np.exp(_crossing(np.log(spines), wanted))


def _shape(rig: Rig) -> tuple[int, ...]:
    """The shape of a rig's launches."""
    return np.broadcast_shapes(*(part.shape() for part in rig))


def stacked(rigs: Sequence[Rig]) -> Rig:
    """Rigs side by side on a first axis, so that one integration serves them all.

    Parameters
    ----------
    rigs : sequence of (LaunchArrow, LaunchBow, LaunchSettings)
        Whose fields broadcast together.

    Returns
    -------
    tuple of LaunchArrow, LaunchBow, LaunchSettings
        Fields of shape (rigs, ...).
    """
    shape = np.broadcast_shapes(*(_shape(rig) for rig in rigs))
    return _together(rigs, lambda values: np.stack([np.broadcast_to(v, shape) for v in values]))


def end_to_end(rigs: Sequence[Rig]) -> Rig:
    """The draws of several rigs in one row.

    Parameters
    ----------
    rigs : sequence of (LaunchArrow, LaunchBow, LaunchSettings)
        Each of a number of draws.

    Returns
    -------
    tuple of LaunchArrow, LaunchBow, LaunchSettings
        Fields of shape (all draws,).
    """
    shapes = [_shape(rig) for rig in rigs]
    return _together(rigs, lambda values: np.concatenate(
        [np.broadcast_to(v, shape) for v, shape in zip(values, shapes, strict=True)]
    ))  # fmt: skip


def _together(rigs: Sequence[Rig], joined: Callable[[list[Array]], Array]) -> Rig:
    def of(parts: Sequence[Part]) -> Part:
        names = [f.name for f in fields(parts[0])]
        values = {k: joined([np.asarray(getattr(part, k)) for part in parts]) for k in names}
        return parts[0].changed(**values)

    arrows, bows, settings = zip(*rigs, strict=True)
    return of(arrows), of(bows), of(settings)


def matched_together(
    rigs: Sequence[Rig], *, law: Sequence[int] | Array = (0,), whole: bool | Array = True
) -> Array:
    """The matched spine of every draw, for a rig and its changed selves.

    Parameters
    ----------
    rigs : sequence of (LaunchArrow, LaunchBow, LaunchSettings)
        The rig first; all of them, or their draws, of one shape.
    law : sequence of int
        Which law a draw is under, or one for all.
    whole : bool or bool ndarray
        Whether the whole scan is asked where the one about the rig's own roots loses a draw.

    Returns
    -------
    ndarray, shape (rigs, ...)
        [mils]; nan where no spine of the scan leaves without turning.

    Notes
    -----
    A coarse scan of the first finds its roots; one of 3 % steps about them serves all. A draw without
    a root is scanned about the middle of its law's.
    """
    rough = matched_draws(rigs[0], SCAN_MILS[::2])
    found, laws = np.full((len(rigs), *rough.shape), np.nan), np.broadcast_to(law, rough.shape)
    centre = rough.copy()
    for one in set(np.ravel(laws)):
        its = rough[laws == one]
        if np.isfinite(its).any():
            centre[(laws == one) & np.isnan(rough)] = np.nanmean(its)
    both, some = stacked(rigs), np.isfinite(centre)
    if some.any():
        found[:, some] = matched_draws(_draws(both, some), _times(WINDOW, centre[some])[:, None])
    lost = some & np.isnan(found).any(axis=0) & whole
    if lost.any():
        found[:, lost] = matched_draws(_draws(both, lost))
    return found


def _draws(rig: Rig, which: Array) -> Rig:
    """Some draws of stacked rigs."""
    arrow, bow, settings = (
        part.changed(**{k: v[:, which] for k, v in vars(part).items()}) for part in rig
    )
    return arrow, bow, settings  # type: ignore[return-value]


def matched_spine(rig: Rig, *, criterion: Criterion = "turn_rate") -> Array:
    """The static spine whose turn rate is nought, for every draw of the settings.

    Parameters
    ----------
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
        The arrow's stiffness is not used.
    criterion : {"turn_rate", "attack"}
        As in `matched_draws`.

    Returns
    -------
    ndarray
        Of the launches' shape; nan where the scan held none [mils].

    Notes
    -----
    A first scan finds the root, one of 3 % steps about it refines it. The absolute value hangs on
    settings nobody measures: show its range, or fit the settings to the rig's own shots first.
    """
    draws = matched_draws(rig, criterion=criterion)
    if np.isfinite(draws).any():
        finer = matched_draws(rig, _about(draws, NEAR), criterion=criterion)
        draws = np.where(np.isfinite(draws) & np.isfinite(finer), finer, draws)
    return draws


def moves_pct(rig: Rig, changes: Sequence[Change], *, criterion: Criterion = "turn_rate") -> Array:
    """What changes do to the matched stiffness, each draw of the settings against itself.

    Parameters
    ----------
    rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
        As it stands; at least one of its draws has a matched spine.
    changes : sequence of Change
        `changes.standard_changes()` or some of it.
    criterion : {"turn_rate", "attack"}
        As in `matched_draws`.

    Returns
    -------
    ndarray, shape (changes, ...)
        Change of the matched stiffness; positive: stiffer; nan where a root is missing [%].

    Notes
    -----
    The same draws serve before and after (common random numbers), on a scan of 3 % steps about
    each draw's own root, or on the whole scan where that window loses over a tenth of the draws;
    a draw whose changed root is in neither is left out.
    """
    rough = matched_spine(rig, criterion=criterion)
    window = _about(rough, NEAR)
    base = np.where(np.isfinite(rough), matched_draws(rig, window, criterion=criterion), np.nan)
    found = []
    for after in (change.apply(rig) for change in changes):
        changed = matched_draws(after, window, criterion=criterion)
        if np.isfinite(changed[np.isfinite(base)]).mean() < ENOUGH:
            changed = matched_draws(after, criterion=criterion)
        found.append(100 * (base / changed - 1))
    return np.stack(found)


def _about(rough: Array, factors: Array) -> Array:
    """Spines about known roots; a draw without a root is scanned about the middle, in vain."""
    return _times(factors, np.where(np.isfinite(rough), rough, np.nanmean(rough)))


def _times(factors: Array, centre: Array) -> Array:
    return factors.reshape(-1, *(1,) * centre.ndim) * centre
