"""The arrow as masses on a shaft: total mass, balance, front of centre, moment of inertia.

Everything is in SI and measured from the nock throat. Fields broadcast against each other, so
one `Arrow` holds one build or a hundred thousand. Bending is in `arrow_bending`.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Profile:
    """How a shaft that is not the same all along differs from its nominal section.

    Ratios are linear between knots and constant outside them. Solid wood that tapers from
    diameter D to d has a mass ratio (d/D)^2 and a stiffness ratio (d/D)^4: see `from_diameters`.

    Parameters
    ----------
    knots_m : array_like, shape (..., k)
        Distances from the nock throat, rising [m].
    stiffness_ratio, mass_ratio : array_like, shape (..., k)
        Bending stiffness and mass per length at the knots over the arrow's nominal ones [-].
    """

    knots_m: ArrayLike
    stiffness_ratio: ArrayLike
    mass_ratio: ArrayLike

    def __post_init__(self) -> None:
        knots = np.asarray(self.knots_m, dtype=float)
        if knots.ndim == 0 or not np.all(np.diff(knots, axis=-1) > 0):
            raise ValueError("the knots of a shaft's profile must rise from nock to point")
        for name in ("stiffness_ratio", "mass_ratio"):
            ratio = np.asarray(getattr(self, name), dtype=float)
            if not (np.all(ratio > 0) and np.all(np.isfinite(ratio))):
                raise ValueError(f"{name} must be positive and finite")

    @classmethod
    def from_diameters(
        cls, positions_m: ArrayLike, diameters_m: ArrayLike, nominal_m: float, knots: int = 33
    ) -> Profile:
        """Profile of a solid round shaft from calliper readings.

        Parameters
        ----------
        positions_m, diameters_m : array_like, shape (k,)
            Where the calliper was set, from the nock throat, and what it read [m].
        nominal_m : float
            Diameter to which the arrow's stiffness and mass per length belong [m].
        knots : int
            Knots over which the fourth power is made piecewise linear [-].

        Returns
        -------
        Profile
            Mass as the square and stiffness as the fourth power of the diameter.
        """
        at = np.asarray(positions_m, dtype=float)
        grid = np.unique(np.concatenate([at, np.linspace(at[0], at[-1], knots)]))
        ratio = np.interp(grid, at, np.asarray(diameters_m, dtype=float)) / nominal_m
        return cls(grid, ratio**4, ratio**2)

    def at(self, x_m: Floats) -> tuple[Floats, Floats]:
        """Stiffness and mass ratio at positions, the last axis of `x_m` running along the shaft."""
        knots = np.asarray(self.knots_m, dtype=float)
        ratios = []
        for values in (self.stiffness_ratio, self.mass_ratio):
            value = np.broadcast_to(np.asarray(values, dtype=float), knots.shape)
            ratio = np.broadcast_to(value[..., :1], x_m.shape).copy()
            for k in range(knots.shape[-1] - 1):
                left, right = knots[..., k, None], knots[..., k + 1, None]
                step = np.clip((x_m - left) / (right - left), 0.0, 1.0)
                ratio += step * (value[..., k + 1, None] - value[..., k, None])
            ratios.append(ratio)
        return ratios[0], ratios[1]


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
    profile : Profile, optional
        Rear taper or barrelling; absent for a parallel shaft.

    Raises
    ------
    ValueError
        A length, stiffness or mass that no arrow can have.

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
    profile: Profile | None = None

    def __post_init__(self) -> None:
        for field in fields(self):
            if field.name == "profile":
                continue
            value = np.asarray(getattr(self, field.name), dtype=float)
            object.__setattr__(self, field.name, value)
            above = field.name in {
                "length_m", "stiffness_n_m2", "mass_per_length_kg_m", "front_stiffness_ratio",
            }  # fmt: skip
            if not bool(np.all(value > 0 if above else value >= 0)):
                raise ValueError(
                    f"{field.name} must be {'positive' if above else 'nought or more'}"
                )
        length, front = self.array("length_m"), self.array("front_length_m")
        if np.any(front > length):
            raise ValueError("front_length_m is longer than the shaft")
        if np.any((self.array("front_spread_kg") > 0) & (front <= 0)):
            raise ValueError("front_spread_kg needs a front_length_m to be spread over")

    def array(self, name: str) -> Floats:
        """One field as an array of floats."""
        value: Floats = np.asarray(getattr(self, name), dtype=float)
        return value

    @property
    def shape(self) -> tuple[int, ...]:
        """The common shape of all fields."""
        shapes = [self.array(f.name).shape for f in fields(self) if f.name != "profile"]
        if self.profile is not None:
            shapes.append(np.shape(self.profile.knots_m)[:-1])
        return np.broadcast_shapes(*shapes)

    @property
    def uniform(self) -> bool:
        """Whether the shaft bends as one bar, without taper, collar or spread insert."""
        return self.profile is None and not bool(
            np.any(
                (self.array("front_length_m") > 0)
                & (
                    (self.array("front_stiffness_ratio") != 1.0)
                    | (self.array("front_spread_kg") > 0)
                )
            )
        )


#: Exact for the piecewise cubic integrands below (a linear mass profile times x^2).
_GAUSS_X, _GAUSS_W = np.array([-1.0, 1.0]) / np.sqrt(3.0), np.ones(2)


def _shaft_moments(arrow: Arrow) -> tuple[Floats, Floats, Floats]:
    """Mass of the bare shaft and its first and second moments about the nock throat."""
    length, mu = arrow.array("length_m"), arrow.array("mass_per_length_kg_m")
    if arrow.profile is None:
        mass = mu * length
        return mass, mass * length / 2, mass * length**2 / 3
    knots = np.asarray(arrow.profile.knots_m, dtype=float)
    lead = np.broadcast_shapes(knots.shape[:-1], length.shape)
    inner = np.clip(np.broadcast_to(knots, (*lead, knots.shape[-1])), 0.0, length[..., None])
    ends = np.broadcast_to(length[..., None], (*lead, 1))
    edges = np.concatenate([np.zeros((*lead, 1)), inner, ends], axis=-1)
    half = np.diff(edges, axis=-1)[..., None] / 2
    x = (edges[..., :-1, None] + half * (1 + _GAUSS_X)).reshape(*lead, -1)
    weight = (half * _GAUSS_W).reshape(*lead, -1) * arrow.profile.at(x)[1]
    m0, m1, m2 = (mu * np.sum(weight * x**p, axis=-1) for p in range(3))
    return m0, m1, m2


def total_mass_kg(arrow: Arrow) -> Floats:
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
    return (
        _shaft_moments(arrow)[0]
        + arrow.array("front_kg")
        + arrow.array("tail_kg")
        + arrow.array("front_spread_kg")
    )


def balance_point_m(arrow: Arrow) -> Floats:
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
    mass, first, _ = _shaft_moments(arrow)
    length, front = arrow.array("length_m"), arrow.array("front_kg")
    spread, over = arrow.array("front_spread_kg"), arrow.array("front_length_m")
    total = mass + front + arrow.array("tail_kg") + spread
    return (first + front * length + spread * (length - over / 2)) / total


def foc_pct(arrow: Arrow) -> Floats:
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


def foc_from_balance_pct(balance_m: ArrayLike, length_m: ArrayLike) -> Floats:
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


def balance_from_foc_m(foc: ArrayLike, length_m: ArrayLike) -> Floats:
    """Balance point that a front of centre asks for: the trade's formula solved for B.

    Parameters
    ----------
    foc : array_like
        Front of centre [%].
    length_m : array_like
        Shaft length from the nock throat [m].

    Returns
    -------
    ndarray
        Balance point from the nock throat [m].
    """
    return np.asarray(np.asarray(length_m, dtype=float) * (0.5 + np.asarray(foc) / 100))


def foc_whole_pct(arrow: Arrow, overhang_m: ArrayLike, front_centre_m: ArrayLike = 0.0) -> Floats:
    """Front of centre of the physical whole, from nock throat to the very tip of the point.

    Parameters
    ----------
    arrow : Arrow
        One build or many.
    overhang_m : array_like
        Length of the point or broadhead ahead of the shaft's end [m].
    front_centre_m : array_like
        Centre of the front mass ahead of the shaft's end, behind it negative [m].

    Returns
    -------
    ndarray
        100 (B - W/2) / W with W the whole length [%].

    Notes
    -----
    Smaller than `foc_pct` by about 50 overhang / L per cent: never compare the two.
    """
    shift = arrow.array("front_kg") * np.asarray(front_centre_m, dtype=float)
    balance = balance_point_m(arrow) + shift / total_mass_kg(arrow)
    return foc_from_balance_pct(balance, arrow.array("length_m") + np.asarray(overhang_m))


def moment_of_inertia_kg_m2(arrow: Arrow) -> Floats:
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
    mass, _, second = _shaft_moments(arrow)
    length, front = arrow.array("length_m"), arrow.array("front_kg")
    spread, over = arrow.array("front_spread_kg"), arrow.array("front_length_m")
    total = mass + front + arrow.array("tail_kg") + spread
    about_nock = second + front * length**2 + spread * ((length - over / 2) ** 2 + over**2 / 12)
    return np.asarray(about_nock - total * balance_point_m(arrow) ** 2)
