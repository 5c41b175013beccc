"""The arrow as masses on a shaft: total mass, balance, front of centre, moment of inertia.

Everything is in SI and measured from the nock throat. Fields broadcast against each other, so
one `Arrow` holds one build or a hundred thousand. Bending is in `bending`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.arrays import Array


@dataclass(frozen=True, eq=False)
class Arrow:
    """One build, or many at once: a shaft with masses at its ends.

    Parameters
    ----------
    length_m : array_like
        Shaft length, nock throat to the end of the shaft [m].
    stiffness_n_m2 : array_like
        Bending stiffness EI of the bare shaft [N m2].
    mass_per_length_kg_m : array_like
        Mass of the bare shaft per length [kg/m].
    front_kg : array_like
        Mass at the tip: point, insert, adapter and collar unless spread below [kg].
    tail_kg : array_like
        Mass at the nock: nock, fletching and wrap [kg].
    front_length_m : array_like
        Length of the front over which an insert or collar stiffens the shaft [m].
    front_stiffness_ratio : array_like
        Bending stiffness over that length divided by the bare shaft's [-].
    front_spread_kg : array_like
        Mass of an insert or collar spread evenly over that length, not part of `front_kg` [kg].

    Examples
    --------
    A 0.500 in spine, 28 in long, 8 gr/in, 112 gr in front and 10 gr behind:

    >>> arrow = Arrow(0.7112, 5.09236, 0.0204090, 112 * 64.79891e-6, 10 * 64.79891e-6)
    >>> round(float(foc_pct(arrow)), 2)
    14.74
    """

    length_m: ArrayLike
    stiffness_n_m2: ArrayLike
    mass_per_length_kg_m: ArrayLike
    front_kg: ArrayLike
    tail_kg: ArrayLike
    front_length_m: ArrayLike = 0.0
    front_stiffness_ratio: ArrayLike = 1.0
    front_spread_kg: ArrayLike = 0.0

    def array(self, name: str) -> Array:
        """One field as an array of floats."""
        return np.asarray(getattr(self, name), dtype=float)

    @property
    def shape(self) -> tuple[int, ...]:
        """The common shape of all fields."""
        return np.broadcast_shapes(*(np.shape(getattr(self, name)) for name in FIELDS))


FIELDS: Final = tuple(field.name for field in fields(Arrow))


def _moments(arrow: Arrow) -> tuple[Array, Array, Array]:
    """Mass of the whole arrow and its first and second moments about the nock throat."""
    length, front = arrow.array("length_m"), arrow.array("front_kg")
    spread, over = arrow.array("front_spread_kg"), arrow.array("front_length_m")
    shaft, at = arrow.array("mass_per_length_kg_m") * length, length - over / 2
    return (
        shaft + front + arrow.array("tail_kg") + spread,
        shaft * length / 2 + front * length + spread * at,
        shaft * length**2 / 3 + front * length**2 + spread * (at**2 + over**2 / 12),
    )


def total_mass_kg(arrow: Arrow) -> Array:
    """Mass of the whole arrow.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        Total mass [kg].
    """
    return _moments(arrow)[0]


def balance_point_m(arrow: Arrow) -> Array:
    """Balance point, from the nock throat.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        Distance of the centre of mass from the nock throat [m].

    Notes
    -----
    The front mass counts at the end of the shaft and the tail mass at the nock throat, as an
    insert half inside and a point half outside very nearly do.
    """
    total, first, _ = _moments(arrow)
    return first / total


def foc_pct(arrow: Arrow) -> Array:
    """Front of centre by the trade's formula, to the end of the shaft.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        100 (B - L/2) / L with L the shaft length, point excluded [%].

    References
    ----------
    1. AMO (Archery Manufacturers Organization) formula for front of centre.
    """
    return foc_from_balance_pct(balance_point_m(arrow), arrow.array("length_m"))


def foc_from_balance_pct(balance_m: ArrayLike, length_m: ArrayLike) -> Array:
    """Front of centre from a balance point found on a knife edge.

    Parameters
    ----------
    balance_m, length_m : array_like
        Balance point and shaft length, both from the nock throat, in one unit [m].

    Returns
    -------
    ndarray
        100 (B - L/2) / L [%].

    Examples
    --------
    >>> round(float(foc_from_balance_pct(18, 28.5)), 2)
    13.16
    """
    length = np.asarray(length_m, dtype=float)
    return np.asarray(100 * (np.asarray(balance_m, dtype=float) - length / 2) / length)


def foc_whole_pct(arrow: Arrow, overhang_m: ArrayLike) -> Array:
    """Front of centre of the physical whole, from nock throat to the very tip of the point.

    Parameters
    ----------
    arrow : Arrow
        One build or many.
    overhang_m : array_like
        Length of the point or broadhead ahead of the shaft's end [m].

    Returns
    -------
    ndarray
        100 (B - W/2) / W with W the whole length [%].

    Notes
    -----
    Smaller than `foc_pct` by about 50 overhang / L per cent: never compare the two.
    """
    return foc_from_balance_pct(
        balance_point_m(arrow), arrow.array("length_m") + np.asarray(overhang_m)
    )


def moment_of_inertia_kg_m2(arrow: Arrow) -> Array:
    """Moment of inertia about the balance point, across the shaft.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        Moment of inertia of the slender arrow [kg m2].
    """
    total, first, second = _moments(arrow)
    return np.asarray(second - total * (first / total) ** 2)
