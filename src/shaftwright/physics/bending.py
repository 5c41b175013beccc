"""The arrow as a free beam with masses at its ends: frequencies and buckling thrust.

A collar or insert stiffens and loads the front. The Ritz basis is the bending moment, not the
deflection: curvature is moment over stiffness, so that a jump of stiffness costs no accuracy.
Deflections follow by two Gauss integrations between the shaft's steps.

References
----------
1. Ritz, W. (1909), J. reine angew. Math. 135, 1 (the method).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import pi
from typing import Final

import numpy as np

from shaftwright.arrays import Array
from shaftwright.physics.arrow import FIELDS, Arrow

MOST_MODES: Final = 6
_BASIS: Final = 12  # moment functions: six modes of a parallel shaft to 1e-4, three to 1e-10
_GAUSS: Final = 14  # points in each smooth stretch of the shaft
_BATCH: Final = 4096  # builds solved at a time, to keep the working set small


def frequencies_hz(arrow: Arrow, n: int = 3) -> Array:
    """Natural bending frequencies of the free arrow.

    Parameters
    ----------
    arrow : Arrow
        One build or many.
    n : int
        How many, from the lowest; up to 6.

    Returns
    -------
    ndarray, shape (..., n)
        Frequencies [Hz].

    Notes
    -----
    Euler-Bernoulli beam without shear or damping, end masses as points. Good for shafts, whose
    slenderness passes 80; a long broadhead's own inertia lowers the higher modes a little.
    """
    return np.concatenate([_frequencies(part, n) for part in _batches(arrow)]).reshape(
        *arrow.shape, n
    )


def critical_thrust_n(arrow: Arrow) -> Array:
    """Steady thrust at the nock under which the shaft would buckle while it accelerates.

    A comparison number between builds and nothing more: the push lasts milliseconds, the shaft
    is let bend, and good arrows exceed it. It is never a safety limit.

    Parameters
    ----------
    arrow : Arrow
        One build or many.

    Returns
    -------
    ndarray, shape of the arrow
        Critical thrust [N].

    Notes
    -----
    Ends pinned sideways; each section carries the thrust times the share of the mass ahead of
    it. For a parallel shaft c = F L^2 / EI runs from 18.569 (no front mass) to pi^2 (all of the
    mass in front: Euler's column).

    References
    ----------
    1. Timoshenko, S. P. and Gere, J. M., Theory of Elastic Stability, chapter 2 (columns under
       distributed axial load), recalled.
    """
    return np.concatenate([_thrust(part) for part in _batches(arrow)]).reshape(arrow.shape)


def _batches(arrow: Arrow) -> list[Arrow]:
    """The builds of an arrow, flattened and cut into batches of bounded size."""
    columns = {k: np.broadcast_to(arrow.array(k), arrow.shape).reshape(-1) for k in FIELDS}
    return [
        replace(arrow, **{k: column[i : i + _BATCH] for k, column in columns.items()})
        for i in range(0, max(columns["length_m"].size, 1), _BATCH)
    ]


@cache
def _gauss() -> tuple[Array, Array, Array]:
    """Nodes and weights on 0..1, and the matrix that integrates from 0 to each node."""
    x, w = np.polynomial.legendre.leggauss(_GAUSS)
    vander = np.polynomial.legendre.legvander(x, _GAUSS - 1)
    whole = [
        np.polynomial.legendre.legval(x, np.polynomial.legendre.legint(row, lbnd=-1))
        for row in np.eye(_GAUSS)
    ]
    integrals = np.stack(whole, axis=1)
    return (x + 1) / 2, w / 2, integrals @ np.linalg.inv(vander) / 2


def _upto(values: Array, width: Array) -> Array:
    """Integral from the nock to every node, of values at the nodes of stretches so wide."""
    _, weights, integrate = _gauss()
    cell = values.reshape(*values.shape[:-1], width.shape[-1], _GAUSS)
    inside = np.einsum("...cq,pq->...cp", cell, integrate) * width[..., None]
    whole = cell @ weights * width
    before = np.cumsum(whole, axis=-1) - whole
    return np.asarray((inside + before[..., None]).reshape(values.shape))


@dataclass(frozen=True)
class _Basis:
    """Moment functions of a batch, all lengths as fractions of the shaft's."""

    x: Array  # (b, q) positions
    width: Array  # (b, 2) of the stretches
    weight: Array  # (b, q)
    density: Array  # (b, q) mass of the shaft per length of its own [kg]
    slope: Array  # (b, k, q)
    shape: Array  # (b, k, q), nought at both ends
    stiffness: Array  # (b, k, k) in units of EI / L^3, shapes in units of L


def _basis(arrow: Arrow) -> _Basis:
    length = arrow.array("length_m")
    nodes, weights, _ = _gauss()
    front = (arrow.array("front_length_m") / length)[:, None]
    width = np.concatenate([1 - front, front], axis=1)
    start = np.concatenate([0 * front, 1 - front], axis=1)
    x, weight, in_front = (
        values.reshape(length.size, -1)
        for values in (
            start[..., None] + width[..., None] * nodes,
            width[..., None] * weights,
            np.broadcast_to(np.array([False, True])[:, None], (length.size, 2, _GAUSS)),
        )
    )
    stiff = np.where(in_front, arrow.array("front_stiffness_ratio")[:, None], 1.0)
    spread = arrow.array("front_spread_kg")[:, None] / np.where(front > 0, front, 1.0)
    density = (arrow.array("mass_per_length_kg_m") * length)[:, None] + in_front * spread
    polynomials = np.polynomial.legendre.legvander(2 * x - 1, _BASIS - 1)
    moment = (x * (1 - x))[:, None, :] * np.moveaxis(polynomials, -1, -2)
    curvature = moment / stiff[:, None, :]
    slope = _upto(curvature, width[:, None])
    shape = _upto(slope, width[:, None])
    end = np.einsum("bkq,bq->bk", slope, weight)[..., None]
    return _Basis(
        x, width, weight, density, slope - end, shape - end * x[:, None, :],
        (curvature * weight[:, None]) @ moment.transpose(0, 2, 1),
    )  # fmt: skip


def _largest(stiffness: Array, other: Array, n: int) -> Array:
    """The n largest eigenvalues of other v = mu stiffness v: the flexible end resolves best."""
    size = 1 / np.sqrt(np.einsum("bii->bi", stiffness))
    scale = size[:, :, None] * size[:, None, :]
    half = np.linalg.inv(np.linalg.cholesky(stiffness * scale))
    values = np.linalg.eigvalsh(half @ (other * scale) @ half.transpose(0, 2, 1))
    return np.asarray(values[:, : -n - 1 : -1])


def _frequencies(arrow: Arrow, n: int) -> Array:
    basis = _basis(arrow)
    mass = basis.density * basis.weight
    front, tail = arrow.array("front_kg"), arrow.array("tail_kg")
    # the basis is nought at both ends: take out, in the mass product, what a rigid body can do
    total = mass.sum(axis=1) + front + tail
    centre = ((mass * basis.x).sum(axis=1) + front) / total
    arm = basis.x - centre[:, None]
    inertia = (mass * arm**2).sum(axis=1) + front * (1 - centre) ** 2 + tail * centre**2
    shift = -np.einsum("bkq,bq->bk", basis.shape, mass) / total[:, None]
    turn = -np.einsum("bkq,bq->bk", basis.shape, mass * arm) / inertia[:, None]
    inner = basis.shape + shift[..., None] + turn[..., None] * arm[:, None, :]
    moved = (inner * mass[:, None]) @ inner.transpose(0, 2, 1)
    for at, kg in ((-centre, tail), (1 - centre, front)):
        end = shift + turn * at[:, None]
        moved += kg[:, None, None] * end[:, :, None] * end[:, None, :]
    square = arrow.array("stiffness_n_m2") / arrow.array("length_m") ** 3
    return np.asarray(np.sqrt(square[:, None] / _largest(basis.stiffness, moved, n)) / (2 * pi))


def _thrust(arrow: Arrow) -> Array:
    basis = _basis(arrow)
    shaft = (basis.density * basis.weight).sum(axis=1) + arrow.array("front_kg")
    ahead = shaft[:, None] - _upto(basis.density, basis.width)
    share = ahead / (shaft + arrow.array("tail_kg"))[:, None]
    geometric = (basis.slope * (basis.weight * share)[:, None]) @ basis.slope.transpose(0, 2, 1)
    largest = _largest(basis.stiffness, geometric, 1)[:, 0]
    return np.asarray(arrow.array("stiffness_n_m2") / arrow.array("length_m") ** 2 / largest)
