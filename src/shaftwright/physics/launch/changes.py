"""Changes an archer can make, as changes of what the launch computes with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from shaftwright.physics.launch.parts import LaunchBow, Rig
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
