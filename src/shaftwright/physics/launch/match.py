"""The spine at which an arrow leaves without turning, and what moves it.

Over stiffness the turn rate has one broad hump: a very stiff shaft never clears the plate, a
stiff one leaves nose to the left (right-handed archer), a weak one nose to the right. The
*matched* stiffness is where the turn rate falls through nought on the weak side of the hump.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np

from shaftwright.arrays import Array
from shaftwright.physics.launch.launch import launch
from shaftwright.physics.launch.parts import LaunchBow, Rig, shape_of
from shaftwright.resources import table
from shaftwright.units import GRAIN_KG, INCH_M, POUND_FORCE_N

_SI: Final = {"lb": POUND_FORCE_N, "in": INCH_M, "gr": GRAIN_KG, "%": 0.01}


@dataclass(frozen=True)
class Change:
    """One change: what is changed, by how much, and what the trade says it asks for.

    Attributes
    ----------
    change : str
        Its kind, a key of `KINDS`.
    label : str
        In the archer's words.
    amount, unit : float, str
        Its size.
    trade_sign : int
        1: the trade asks for a stiffer shaft then, -1: for a weaker one, 0: no agreement.
    """

    change: str
    label: str
    amount: float
    unit: str
    trade_sign: int

    def apply(self, rig: Rig) -> Rig:
        """The rig after the change.

        Parameters
        ----------
        rig : tuple of LaunchArrow, LaunchBow, LaunchSettings
            Before the change.

        Returns
        -------
        tuple of LaunchArrow, LaunchBow, LaunchSettings
            After it.
        """
        return KINDS[self.change](rig, self.amount * _SI[self.unit])


def _stroke(bow: LaunchBow, more: float) -> LaunchBow:
    """The same draw curve over a stroke longer by `more`: energy in proportion."""
    factor = 1 + more / np.asarray(bow.power_stroke_m)
    return bow.times(power_stroke_m=factor, stored_energy_j=factor)


def _draw_weight(rig: Rig, more: float) -> Rig:
    arrow, bow, settings = rig
    factor = 1 + more / np.asarray(bow.draw_force_n)
    return (
        arrow,
        bow.times(draw_force_n=factor, stored_energy_j=factor),
        settings.times(string_stiffness_full_n_m=factor, string_stiffness_brace_n_m=factor),
    )


def _brace_height(rig: Rig, more: float) -> Rig:
    arrow, bow, settings = rig
    return arrow, _stroke(bow, -more).plus(brace_height_m=more), settings


def _of_arrow(field: str) -> Callable[[Rig, float], Rig]:
    return lambda rig, more: (rig[0].plus(**{field: more}), rig[1], rig[2])


def _string_mass(rig: Rig, more: float) -> Rig:
    return rig[0], rig[1].plus(string_mass_kg=more, virtual_mass_kg=more / 3), rig[2]


#: kind of change -> the rig after it; amounts in SI, percent as a fraction
KINDS: Final[dict[str, Callable[[Rig, float], Rig]]] = {
    "draw_weight": _draw_weight,
    "shaft_length": _of_arrow("length_m"),
    "front_mass": _of_arrow("front_kg"),
    "front_mass_large": _of_arrow("front_kg"),
    "tail_mass": _of_arrow("tail_kg"),
    "fletching_mass": _of_arrow("fletching_kg"),
    "plate_offset": lambda rig, by: (rig[0], rig[1].plus(plate_offset_m=by), rig[2]),
    "brace_height": _brace_height,
    "stored_energy": lambda rig, by: (rig[0], rig[1].times(stored_energy_j=1 + by), rig[2]),
    "draw_and_shaft": lambda rig, by: (rig[0].plus(length_m=by), _stroke(rig[1], by), rig[2]),
    "draw_length": lambda rig, by: (rig[0], _stroke(rig[1], by), rig[2]),
    "draw_length_same_energy": lambda rig, by: (rig[0], rig[1].plus(power_stroke_m=by), rig[2]),
    "mechanical_release": lambda rig, by: (rig[0], rig[1], rig[2].times(side_fraction=1 + by)),
    "string_mass": _string_mass,
    "plate_stiffness": lambda rig, by: (rig[0], rig[1], rig[2].times(plate_stiffness_n_m=1 + by)),
}


@cache
def standard_changes() -> tuple[Change, ...]:
    """The changes of the shipped table, in its order.

    Returns
    -------
    tuple of Change
    """
    return tuple(
        Change(
            row["change"], row["label"], float(row["amount"]), row["unit"], int(row["trade_sign"])
        )
        for row in table("launch_changes")
    )


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
        spines = spines.reshape(-1, *(1,) * len(shape_of(rig)))
    left = launch(rig[0].changed(stiffness_n_m2=STIFFNESS_TIMES_MILS / spines), rig[1], rig[2])
    wanted = left.turn_rate_rad_s if criterion == "turn_rate" else left.attack_rad
    return np.exp(_crossing(np.log(spines), wanted))


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
    shape = np.broadcast_shapes(*(shape_of(rig) for rig in rigs))
    arrow, bow, settings = (
        parts[0].changed(
            **{
                name: np.stack([np.broadcast_to(vars(part)[name], shape) for part in parts])
                for name in vars(parts[0])
            }
        )
        for parts in zip(*rigs, strict=True)
    )
    return arrow, bow, settings


def matched_together(rigs: Sequence[Rig], whole: bool = False) -> Array:
    """The matched spine of every draw, for a rig and its changed selves.

    Parameters
    ----------
    rigs : sequence of (LaunchArrow, LaunchBow, LaunchSettings)
        The rig first; draws of one shape.
    whole : bool
        Whether a draw that is lost about its root is sought on the whole scan.

    Returns
    -------
    ndarray, shape (rigs, ...)
        [mils]; nan where no spine of the scan leaves without turning.

    Notes
    -----
    A coarse scan of the first finds its roots; one of 3 % steps about them serves all.
    """
    rough, both = matched_draws(rigs[0], SCAN_MILS[::2]), stacked(rigs)
    if not np.isfinite(rough).any():
        return np.full((len(rigs), *rough.shape), np.nan)
    spines = matched_draws(both, _about(rough, WINDOW)[:, None])
    lost = np.isnan(spines).any(axis=0)
    if whole and lost.any():
        arrow, bow, settings = both
        few = arrow.taken(lost), bow.taken(lost), settings.taken(lost)
        spines[:, lost] = matched_draws(few)
    return spines


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
    centre = np.where(np.isfinite(rough), rough, np.nanmean(rough))
    return factors.reshape(-1, *(1,) * centre.ndim) * centre
