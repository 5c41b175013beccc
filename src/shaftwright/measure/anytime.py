"""A difference that may be looked at after every shot: always valid, restringing included.

The question. An archer shoots, looks, shoots again and stops when the answer pleases. A
fixed-sample test asked twenty times calls two identical strings different far more often than
one time in twenty. And ten shots of one stringing are not ten tries: whatever the stringing did
to brace and loops, all ten share.

The model. Shot i of stringing s of group g reads mu_g + b_s + e, with b_s normal of spread tau
(restringing) and e normal of spread sigma_g (shot to shot, each group its own). The prior doubts
of tau and sigma are log-normal, from `tables/measuring.csv`; mu is flat. Sums over a grid of
(tau, sigma_A, sigma_B) make the likelihood of the difference D a mixture of normals
sum_k w_k N(D; d_k, v_k).

The guard. For a difference D0 to be doubted, the ratio

    e(D0) = sum_k w_k N(D0; d_k, v_k + W) / sum_k w_k N(D0; d_k, v_k)

of the likelihood averaged over N(D0, W) to that at D0 is, if D0 is true, a martingale of mean 1
whatever is looked at and whenever one stops; by Ville's inequality it ever exceeds 1/alpha with
chance at most alpha. Hence p_anytime = 1 / e(0), and the set where e < 1/alpha is an interval that
holds at all times at once (normal-mixture confidence sequence: Robbins, Ann. Math. Stat. 41 (1970)
1397; Lai, Ann. Stat. 4 (1976) 265; mixture SPRT: Johari et al., Operations Research 70 (2022) 1806).

Why this and not alpha-spending: spending wants the number and size of looks fixed beforehand, and
nobody does that at the butt. Why not a t-mixture free of priors: with one stringing a group nothing
in the data speaks of tau; it must come from outside. The price: the guarantee is an average over
the prior doubts of tau and sigma, and at a fixed value of them it must be, and is, checked by
simulation (`calibrate/measure.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shaftwright.arrays import Array
from shaftwright.measure.use import log_normal
from shaftwright.units import Interval

_SIGMA_POINTS = 15
_TAU_POINTS = 15
_TAU_POINTS_MANY = 41  # many stringings tell tau closely
_MANY = 12
_REACH = 12.0  # grid kept where the log posterior is within this of its top


@dataclass(frozen=True)
class Cells:
    """Readings of two groups, summed up by stringing.

    Parameters
    ----------
    n : array, shape (2, stringings)
        Shots of either group in each stringing; 0 where a group has none.
    mean : array, shape (2, stringings)
        Their means; anything finite where there are none.
    squares : array, shape (2,)
        Sums of squares about the means of the cells.
    """

    n: Array
    mean: Array
    squares: Array


@dataclass(frozen=True)
class Evidence:
    """What the readings say about the difference A - B: a mixture of normals.

    Parameters
    ----------
    weight, mid, variance : array, shape (k,)
        Weights (summing to 1), centres and variances.
    scale : float
        Spread sqrt(W) of the differences the guard is tuned to.
    restringing : float
        Root mean square of tau after the readings.
    noise : tuple of float
        Those of sigma_A and sigma_B.
    """

    weight: Array
    mid: Array
    variance: Array
    scale: float
    restringing: float
    noise: tuple[float, float]

    @property
    def centre(self) -> float:
        """Mean of the difference."""
        return float(self.weight @ self.mid)

    @property
    def sd(self) -> float:
        """Standard deviation of the difference."""
        spread = self.variance + (self.mid - self.centre) ** 2
        return math.sqrt(float(self.weight @ spread))

    def log_e(self, difference: float = 0.0) -> float:
        """Logarithm of the evidence against one true difference."""
        away = (self.mid - difference) ** 2
        wide = self.variance + self.scale**2
        log_weight = np.log(self.weight)
        above = log_weight - 0.5 * (np.log(wide) + away / wide)
        below = log_weight - 0.5 * (np.log(self.variance) + away / self.variance)
        return _log_sum(above) - _log_sum(below)

    def p_anytime(self) -> float:
        """Chance that identical groups would ever look as different as this."""
        return min(1.0, math.exp(min(0.0, -self.log_e(0.0))))

    def interval(self, alpha: float = 0.05) -> Interval:
        """The differences that stand at every look with chance 1 - alpha at least."""
        return Interval(self.centre, self.edge(-1.0, alpha), self.edge(1.0, alpha))

    def edge(self, side: float, alpha: float) -> float:
        """One end of the interval: the lower for side -1, the upper for +1."""
        limit, centre = -math.log(alpha), self.centre
        inside, step = 0.0, 4 * self.sd
        while self.log_e(centre + side * (inside + step)) < limit:
            inside += step
            step *= 1.5
        outside = inside + step
        for _ in range(18):  # to a hundred-thousandth of the step
            middle = 0.5 * (inside + outside)
            if self.log_e(centre + side * middle) < limit:
                inside = middle
            else:
                outside = middle
        return centre + side * outside

    def once(self) -> Interval:
        """95 % interval for a single look, the number of shots settled beforehand."""
        from scipy.optimize import brentq
        from scipy.special import ndtr

        def off(at: float, chance: float) -> float:
            return float(self.weight @ ndtr((at - self.mid) / np.sqrt(self.variance))) - chance

        ends = self.centre - 12 * self.sd, self.centre + 12 * self.sd
        low, high = (brentq(off, *ends, args=(chance,)) for chance in (0.025, 0.975))
        return Interval(self.centre, low, high)


def _log_sum(x: Array) -> float:
    top = float(x.max())
    return top + math.log(float(np.exp(x - top).sum()))


def _sigma_grid(squares: float, df: float, prior: Interval) -> tuple[Array, Array]:
    """Points of sigma where it matters, and the logarithm of prior times within-cell likelihood."""
    centre, sd = math.log(prior.mid), prior.log_sd

    def log_weight(x: Array) -> Array:
        return np.asarray(
            -0.5 * ((x - centre) / sd) ** 2 - df * x - 0.5 * squares * np.exp(-2 * x), dtype=float
        )

    found = 0.5 * math.log(squares / df) if df > 0 and squares > 0 else centre
    low, high = min(centre - 5 * sd, found - 3.0), max(centre + 5 * sd, found + 3.0)
    for _ in range(3 if df > 50 else 2):
        x = np.linspace(low, high, 61)
        y = log_weight(x)
        kept = np.flatnonzero(y > y.max() - _REACH)
        low, high = x[max(kept[0] - 1, 0)], x[min(kept[-1] + 1, 60)]
    x = np.linspace(low, high, _SIGMA_POINTS)
    return np.exp(x), log_weight(x)


def _alone(n: Array, y: Array, t2: Array, s2: Array) -> tuple[Array, Array, Array, Array]:
    """Precision, precision-weighted mean, squares and log variance of a group's own stringings."""
    # stringings of as many shots are alike: their sums will do
    sizes, which = np.unique(n, return_inverse=True)
    many, sums, squares = (np.bincount(which, w, len(sizes)) for w in (np.ones(len(y)), y, y**2))
    variance = t2[..., None] + s2[..., None] / sizes
    precision = 1 / variance
    return precision @ many, precision @ sums, precision @ squares, np.log(variance) @ many


def weigh(
    cells: Cells, noise: Interval, restringing: Interval, scale: float, systematic: float = 0.0
) -> Evidence:
    """What the readings say about the difference of two groups, restringing included.

    Parameters
    ----------
    cells : Cells
        Readings summed up by stringing.
    noise : Interval
        Doubt of the shot-to-shot spread before the readings [unit of the readings].
    restringing : Interval
        Doubt of the spread between stringings before the readings [same unit].
    scale : float
        Spread of the differences the guard is tuned to [same unit].
    systematic : float
        Standard deviation of an error of the difference that more shots do not lessen [same unit].

    Returns
    -------
    Evidence
        The likelihood of the difference, ready for looks at any time.

    Notes
    -----
    A stringing that holds shots of both groups (another arrow on the same string) cancels in the
    difference, as it should.
    """
    free = np.maximum(cells.n - 1, 0).sum(axis=1)
    (sigma_a, log_a), (sigma_b, log_b) = (
        _sigma_grid(float(squares), float(df), noise)
        for squares, df in zip(cells.squares, free, strict=True)
    )
    z = np.linspace(-4.0, 6.0, _TAU_POINTS if cells.n.shape[1] < _MANY else _TAU_POINTS_MANY)
    t2 = log_normal(restringing, z)[:, None, None] ** 2
    a2, b2 = sigma_a[None, :, None] ** 2, sigma_b[None, None, :] ** 2

    held = cells.n > 0
    mean = cells.mean - sum(n @ y for n, y in zip(cells.n, cells.mean, strict=True)) / cells.n.sum()
    (j_aa, h_a, quad_a, det_a), (j_bb, h_b, quad_b, det_b) = (
        _alone(cells.n[g, ~held[1 - g]], mean[g, ~held[1 - g]], t2, s2)
        for g, s2 in ((0, a2), (1, b2))
    )
    j_ab, quad, log_det = 0.0 * t2, quad_a + quad_b, det_a + det_b
    for s in np.flatnonzero(held.all(axis=0)):
        p_a, p_b = cells.n[0, s] / a2, cells.n[1, s] / b2
        y_a, y_b = mean[:, s]
        shared = 1 + t2 * (p_a + p_b)
        v_aa, v_bb = p_a - t2 * p_a**2 / shared, p_b - t2 * p_b**2 / shared
        v_ab = -t2 * p_a * p_b / shared
        j_aa, j_bb, j_ab = j_aa + v_aa, j_bb + v_bb, j_ab + v_ab
        h_a, h_b = h_a + v_aa * y_a + v_ab * y_b, h_b + v_ab * y_a + v_bb * y_b
        quad = quad + v_aa * y_a**2 + 2 * v_ab * y_a * y_b + v_bb * y_b**2
        log_det = log_det + np.log(shared) - np.log(p_a) - np.log(p_b)
    det = j_aa * j_bb - j_ab**2
    mu_a, mu_b = (j_bb * h_a - j_ab * h_b) / det, (j_aa * h_b - j_ab * h_a) / det
    variance = (j_aa + j_bb + 2 * j_ab) / det
    residual = np.maximum(quad - h_a * mu_a - h_b * mu_b, 0.0)
    log_w = -0.5 * (log_det + np.log(det) + residual)
    log_w = log_w - 0.5 * z[:, None, None] ** 2 + log_a[None, :, None] + log_b[None, None, :]
    weight = np.exp(log_w - log_w.max())
    weight /= weight.sum()
    kept = weight > 1e-13
    tau, *sigmas = (math.sqrt(float((weight * square).sum())) for square in (t2, a2, b2))
    doubt = variance[kept] + systematic**2
    return Evidence(weight[kept], (mu_a - mu_b)[kept], doubt, scale, tau, (sigmas[0], sigmas[1]))


def weigh_pairs(
    differences: Array, noise: Interval, scale: float, systematic: float = 0.0
) -> Evidence:
    """What alternating shots say: one difference a pair, whatever both shots share cancels.

    Parameters
    ----------
    differences : array, shape (pairs,)
        A - B of each pair [any unit].
    noise : Interval
        Doubt of the shot-to-shot spread of one group before the readings [same unit].
    scale : float
        Spread of the differences the guard is tuned to [same unit].
    systematic : float
        Standard deviation of an error that more shots do not lessen [same unit].

    Returns
    -------
    Evidence
        The likelihood of the difference; `restringing` is 0.
    """
    n = len(differences)
    mean = float(differences.mean())
    squares = float(((differences - mean) ** 2).sum())
    sigma, log_w = _sigma_grid(squares, n - 1, noise.scaled(math.sqrt(2)))
    weight = np.exp(log_w - log_w.max())
    weight /= weight.sum()
    one = math.sqrt(float(weight @ sigma**2) / 2)
    centre = np.full(len(sigma), mean)
    return Evidence(weight, centre, sigma**2 / n + systematic**2, scale, 0.0, (one, one))
