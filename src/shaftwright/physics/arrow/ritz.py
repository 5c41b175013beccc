"""Ritz solution of stepped and tapered shafts, for flat batches of builds.

The basis functions are *moments*: w'' = M / EI with M smooth and nought at both ends, so that a
jump of stiffness at a collar costs no accuracy: ten functions give three modes to 1e-6 where a
polynomial deflection would need dozens. Displacements follow by two Gauss integrations between
the shaft's steps. `arrow_bending` is the way in.

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

from shaftwright.physics.arrow.arrow import Arrow, Floats, Profile

MOST_MODES: Final = 6
_BASIS: Final = 12  # moment functions: six modes of a parallel shaft to 1e-4, three to 1e-10
_GAUSS: Final = 14  # points in each smooth stretch of the shaft
_BATCH: Final = 4096  # builds solved at a time, to keep the working set small
_FIELDS: Final = (
    "length_m", "stiffness_n_m2", "mass_per_length_kg_m", "front_kg", "tail_kg",
    "front_length_m", "front_stiffness_ratio", "front_spread_kg",
)  # fmt: skip


def batches(arrow: Arrow) -> list[Arrow]:
    """The builds of an arrow, flattened and cut into batches of bounded size."""
    shape = arrow.shape
    columns = [np.broadcast_to(arrow.array(name), shape).reshape(-1) for name in _FIELDS]
    count = columns[0].size
    parts = []
    for start in range(0, max(count, 1), _BATCH):
        piece = slice(start, start + _BATCH)
        profile = arrow.profile
        if profile is not None and np.ndim(profile.knots_m) > 1:
            flat = (*shape, np.shape(profile.knots_m)[-1])
            profile = Profile(
                *(
                    np.broadcast_to(np.asarray(v, float), flat).reshape(count, -1)[piece]
                    for v in (profile.knots_m, profile.stiffness_ratio, profile.mass_ratio)
                )
            )
        fields = {name: column[piece] for name, column in zip(_FIELDS, columns, strict=True)}
        parts.append(replace(arrow, profile=profile, **fields))
    return parts


@cache
def _gauss() -> tuple[Floats, Floats, Floats]:
    """Nodes and weights on 0..1, and the matrix that integrates from 0 to each node."""
    x, w = np.polynomial.legendre.leggauss(_GAUSS)
    vander = np.polynomial.legendre.legvander(x, _GAUSS - 1)
    integrals = np.stack(
        [
            np.polynomial.legendre.legval(x, np.polynomial.legendre.legint(row, lbnd=-1))
            for row in np.eye(_GAUSS)
        ],
        axis=1,
    )
    return (x + 1) / 2, w / 2, integrals @ np.linalg.inv(vander) / 2


@dataclass(frozen=True)
class _Basis:
    """Moment functions of a batch, all lengths as fractions of the shaft's."""

    x: Floats  # (b, q) positions
    weight: Floats  # (b, q)
    mass: Floats  # (b, q) mass in each quadrature cell [kg]
    slope: Floats  # (b, k, q)
    shape: Floats  # (b, k, q), nought at both ends
    stiffness: Floats  # (b, k, k) in units of EI / L^3, shapes in units of L


def _moments(x: Floats) -> Floats:
    """M_k = x (1 - x) P_k(2x - 1), on a new axis before the last."""
    legendre = np.moveaxis(np.polynomial.legendre.legvander(2 * x - 1, _BASIS - 1), -1, -2)
    return np.asarray((x * (1 - x))[..., None, :] * legendre)


def _basis(arrow: Arrow) -> _Basis:
    length = arrow.array("length_m")
    count = length.size
    collar = 1 - arrow.array("front_length_m") / length
    columns = [np.zeros(count), collar, np.ones(count)]
    if arrow.profile is not None:
        knots = np.atleast_2d(np.asarray(arrow.profile.knots_m, float)) / length[:, None]
        columns += list(np.broadcast_to(np.clip(knots, 0, 1), (count, knots.shape[-1])).T)
    edges = np.sort(np.stack(columns, axis=1), axis=1)
    nodes, weights, integrate = _gauss()
    width = np.diff(edges, axis=1)
    cells = width.shape[1]
    local = edges[:, :-1, None] + width[..., None] * nodes
    x = local.reshape(count, -1)
    weight = (width[..., None] * weights).reshape(count, -1)

    stiff, mass = np.ones_like(x), np.ones_like(x)
    if arrow.profile is not None:
        stiff, mass = arrow.profile.at(x * length[:, None])
    in_collar = x > collar[:, None]
    stiff = np.where(in_collar, stiff * arrow.array("front_stiffness_ratio")[:, None], stiff)
    mu = arrow.array("mass_per_length_kg_m")[:, None] * mass * length[:, None]
    over = np.where(collar < 1, 1 - collar, 1.0)[:, None]
    mu = mu + np.where(in_collar, arrow.array("front_spread_kg")[:, None] / over, 0.0)

    moment = _moments(x)
    curvature = moment / stiff[:, None, :]
    stiffness = np.einsum("biq,bjq,bq->bij", curvature, moment, weight, optimize=True)

    def integral(values: Floats) -> Floats:
        """From the nock to every node: within the cell, plus all cells before it."""
        cell = values.reshape(count, -1, cells, _GAUSS)
        inside = np.einsum("bkcq,pq->bkcp", cell, integrate) * width[:, None, :, None]
        whole = np.einsum("bkcq,q->bkc", cell, weights) * width[:, None, :]
        before = np.cumsum(whole, axis=-1) - whole
        return np.asarray((inside + before[..., None]).reshape(values.shape))

    slope = integral(curvature)
    shape = integral(slope)
    end = np.einsum("bkq,bq->bk", slope, weight)[..., None]
    return _Basis(x, weight, mu * weight, slope - end, shape - end * x[:, None, :], stiffness)


def _reduce(stiffness: Floats, other: Floats) -> tuple[Floats, Floats]:
    """Eigenpairs of other v = mu stiffness v, largest first: the flexible end resolves best."""
    size = 1 / np.sqrt(np.einsum("bii->bi", stiffness))
    scale = size[:, :, None] * size[:, None, :]
    half = np.linalg.inv(np.linalg.cholesky(stiffness * scale))
    values, vectors = np.linalg.eigh(half @ (other * scale) @ half.transpose(0, 2, 1))
    back = size[:, :, None] * (half.transpose(0, 2, 1) @ vectors)
    return values[:, ::-1], back[:, :, ::-1]


def modes(arrow: Arrow, n: int, at: Floats | None = None) -> tuple[Floats, Floats]:
    """Frequencies of a flat batch and, at fractions of the length, its mode shapes.

    Parameters
    ----------
    arrow : Arrow
        A batch of builds, shape (b,).
    n : int
        How many modes.
    at : array, optional
        Fractions of the length at which the shapes are wanted (p,).

    Returns
    -------
    tuple of array
        Frequencies (b, n) [Hz] and shapes (b, n, p); the shapes are empty without `at`.

    Raises
    ------
    ValueError
        More modes than the basis carries.
    """
    if not 1 <= n <= MOST_MODES:
        raise ValueError(f"{n} modes asked of a stepped shaft; 1 to {MOST_MODES} can be had")
    basis = _basis(arrow)
    front, tail = arrow.array("front_kg"), arrow.array("tail_kg")
    # the basis is nought at both ends: take out, in the mass product, what a rigid body can do
    total = basis.mass.sum(axis=1) + front + tail
    centre = (np.einsum("bq,bq->b", basis.mass, basis.x) + front) / total
    arm = basis.x - centre[:, None]
    inertia = (
        np.einsum("bq,bq->b", basis.mass, arm**2) + front * (1 - centre) ** 2 + tail * centre**2
    )
    shift = -np.einsum("bkq,bq->bk", basis.shape, basis.mass) / total[:, None]
    turn = -np.einsum("bkq,bq->bk", basis.shape, basis.mass * arm) / inertia[:, None]
    inner = basis.shape + shift[..., None] + turn[..., None] * arm[:, None, :]
    at_nock = shift - turn * centre[:, None]
    at_tip = shift + turn * (1 - centre)[:, None]
    mass = np.einsum("biq,bjq,bq->bij", inner, inner, basis.mass, optimize=True)
    mass += tail[:, None, None] * at_nock[:, :, None] * at_nock[:, None, :]
    mass += front[:, None, None] * at_tip[:, :, None] * at_tip[:, None, :]
    values, vectors = _reduce(basis.stiffness, mass)
    square = arrow.array("stiffness_n_m2")[:, None] / (
        arrow.array("length_m")[:, None] ** 3 * values[:, :n]
    )
    frequencies = np.sqrt(square) / (2 * pi)
    if at is None:
        return frequencies, np.empty(0)
    # shapes between the quadrature points: they are smooth, so a cubic through value and slope
    grid = np.concatenate([np.zeros((len(total), 1)), basis.x, np.ones((len(total), 1))], axis=1)
    pad = np.zeros((*basis.shape.shape[:2], 1))
    shape = np.concatenate([pad, basis.shape, pad], axis=2)
    rigid = np.stack([shift, turn], axis=1) @ vectors[:, :, :n]
    modal = np.einsum("bkq,bkn->bnq", shape, vectors[:, :, :n], optimize=True)
    modal += rigid[:, 0, :, None] + rigid[:, 1, :, None] * (grid - centre[:, None])[:, None, :]
    sampled = _resample(grid, modal, at)
    largest = np.abs(sampled).max(axis=-1, keepdims=True)
    return frequencies, sampled / (largest * np.sign(sampled[..., :1]))


def _resample(grid: Floats, values: Floats, at: Floats) -> Floats:
    """Local cubic interpolation of smooth values, grids differing from row to row."""
    out = np.empty((*values.shape[:2], at.size))
    for row in range(grid.shape[0]):
        x, keep = np.unique(grid[row], return_index=True)
        y = values[row][:, keep]
        first = np.clip(np.searchsorted(x, at) - 2, 0, x.size - 4)
        index = first[:, None] + np.arange(4)
        nodes = x[index]
        weight = np.ones_like(nodes)
        for i in range(4):
            for j in range(4):
                if i != j:
                    weight[:, i] *= (at - nodes[:, j]) / (nodes[:, i] - nodes[:, j])
        out[row] = np.einsum("npi,pi->np", y[:, index], weight)
    return out


def thrust(arrow: Arrow) -> Floats:
    """Buckling thrust of a flat batch of stepped shafts."""
    basis = _basis(arrow)
    front, tail = arrow.array("front_kg"), arrow.array("tail_kg")
    total = basis.mass.sum(axis=1) + front + tail
    # integral of (mass ahead of x) w_i' w_j' dx = sum over masses of the integral up to them
    integrate = _gauss()[2]
    count, cells = basis.x.shape[0], basis.x.shape[1] // _GAUSS
    cell_mass = basis.mass.reshape(count, cells, _GAUSS)
    density = np.divide(
        cell_mass, basis.weight.reshape(cell_mass.shape), out=np.zeros_like(cell_mass),
        where=basis.weight.reshape(cell_mass.shape) > 0,
    )  # fmt: skip
    width = basis.weight.reshape(cell_mass.shape).sum(axis=2)
    behind = np.einsum("bcq,pq->bcp", density, integrate) * width[..., None]
    whole = cell_mass.sum(axis=2)
    behind += (np.cumsum(whole, axis=1) - whole)[..., None]
    ahead = basis.mass.sum(axis=1)[:, None] - behind.reshape(count, -1) + front[:, None]
    share = ahead / total[:, None]
    geometric = np.einsum(
        "biq,bjq,bq->bij", basis.slope, basis.slope, basis.weight * share, optimize=True
    )
    largest = _reduce(basis.stiffness, geometric)[0][:, 0]
    return np.asarray(arrow.array("stiffness_n_m2") / arrow.array("length_m") ** 2 / largest)
