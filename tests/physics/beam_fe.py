"""An independent finite-element arrow, solved by SciPy's dense symmetric eigen-solver."""

import numpy as np
from scipy.linalg import eigh

from shaftwright.physics.arrow import Arrow


def _element(h):
    return np.array(
        [[12, 6 * h, -12, 6 * h], [6 * h, 4 * h**2, -6 * h, 2 * h**2],
         [-12, -6 * h, 12, -6 * h], [6 * h, 2 * h**2, -6 * h, 4 * h**2]]
    ) / h**3  # fmt: skip


def _hermite(s, h):
    value = np.array([1 - 3 * s**2 + 2 * s**3, h * (s - 2 * s**2 + s**3),
                      3 * s**2 - 2 * s**3, h * (s**3 - s**2)])  # fmt: skip
    slope = np.array([-6 * s + 6 * s**2, h * (1 - 4 * s + 3 * s**2),
                      6 * s - 6 * s**2, h * (3 * s**2 - 2 * s)]) / h  # fmt: skip
    bend = np.array([-6 + 12 * s, h * (-4 + 6 * s), 6 - 12 * s, h * (6 * s - 2)]) / h**2
    return value, slope, bend


def assemble(arrow: Arrow, elements: int = 60):
    """Stiffness, mass and geometric stiffness (unit thrust at the nock) of one scalar arrow."""
    length, front = float(arrow.length_m), float(arrow.front_kg)
    collar = length - float(arrow.front_length_m)
    edges = np.linspace(0, length, elements + 1)
    if float(arrow.front_length_m) > 0:
        behind = max(round(elements * collar / length), 4)
        edges = np.concatenate(
            [np.linspace(0, collar, behind + 1), np.linspace(collar, length, 9)[1:]]
        )
    n = 2 * edges.size
    k, m, g = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n))
    s, w = np.polynomial.legendre.leggauss(6)
    s, w = (s + 1) / 2, w / 2

    def section(x):
        ei, mu = float(arrow.stiffness_n_m2), float(arrow.mass_per_length_kg_m)
        if x > collar:
            ei *= float(arrow.front_stiffness_ratio)
            mu += float(arrow.front_spread_kg) / float(arrow.front_length_m)
        return ei, mu

    pieces = []
    for e in range(edges.size - 1):
        h = edges[e + 1] - edges[e]
        for si, wi in zip(s, w, strict=True):
            x = edges[e] + si * h
            ei, mu = section(x)
            pieces.append((e, h, si, wi * h, x, ei, mu))
    mass_of = np.array([p[3] * p[6] for p in pieces])
    total = mass_of.sum() + front + float(arrow.tail_kg)
    # mass ahead of a point: everything later, and half of its own cell
    ahead = front + mass_of[::-1].cumsum()[::-1] - mass_of / 2
    for (e, h, si, wh, _, ei, mu), mass_ahead in zip(pieces, ahead, strict=True):
        value, slope, bend = _hermite(si, h)
        at = slice(2 * e, 2 * e + 4)
        k[at, at] += wh * ei * np.outer(bend, bend)
        m[at, at] += wh * mu * np.outer(value, value)
        g[at, at] += wh * mass_ahead / total * np.outer(slope, slope)
    m[0, 0] += float(arrow.tail_kg)
    m[-2, -2] += front
    return k, m, g


def frequencies(arrow: Arrow, n: int = 3, elements: int = 60):
    k, m, _ = assemble(arrow, elements)
    # shifted and inverted, so that the low modes are the well-resolved end of the spectrum
    shift = float(arrow.stiffness_n_m2) / (m.sum() * float(arrow.length_m) ** 3)
    inverse = eigh(m, k + shift * m, eigvals_only=True)[::-1][2 : n + 2]
    return np.sqrt(1 / inverse - shift) / (2 * np.pi)


def thrust(arrow: Arrow, elements: int = 60):
    k, _, g = assemble(arrow, elements)
    keep = np.delete(np.arange(len(k)), [0, len(k) - 2])
    return 1 / eigh(g[np.ix_(keep, keep)], k[np.ix_(keep, keep)], eigvals_only=True)[-1]
