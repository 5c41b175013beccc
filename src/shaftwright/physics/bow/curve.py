"""Draw-force curves: measured points with the energy under them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from shaftwright.physics.bow.bow import GRIP_ALLOWANCE_M, Floats
from shaftwright.units import INCH_M

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator


@dataclass(frozen=True, eq=False)
class DrawCurve:
    """A measured draw-force curve.

    Parameters
    ----------
    draw_m : array_like, shape (n,)
        Draw lengths at which the scale was read, rising [m].
    force_n : array_like, shape (n,)
        Its readings [N].
    brace_height_m : float
        Brace height: at brace the force is nought, a reading there need not be given [m].
    force_sd_n : float
        Doubt of a single reading [N].
    scale_sd : float
        Relative doubt of the scale itself, common to all readings [-].

    Raises
    ------
    ValueError
        Fewer than two readings past brace, draws that do not rise, forces below nought.

    Notes
    -----
    Between readings the curve is a monotone cubic, which makes no bumps of its own.

    Examples
    --------
    >>> curve = DrawCurve([0.4, 0.5, 0.6], [60.0, 110.0, 160.0], 0.19)
    >>> round(float(curve.force_at_n(0.55)), 1)
    135.0
    """

    draw_m: ArrayLike
    force_n: ArrayLike
    brace_height_m: float
    force_sd_n: float = 0.0
    scale_sd: float = 0.0

    def __post_init__(self) -> None:
        draw, force = (np.atleast_1d(np.asarray(v, float)) for v in (self.draw_m, self.force_n))
        brace = self.brace_height_m + GRIP_ALLOWANCE_M
        if draw.ndim != 1 or draw.shape != force.shape:
            raise ValueError("a draw curve needs one force for each draw length")
        if not (np.all(np.isfinite(draw)) and np.all(np.isfinite(force)) and np.all(force >= 0)):
            raise ValueError("the forces of a draw curve must be finite and nought or more")
        if not np.all(np.diff(draw) > 0):
            raise ValueError("the draw lengths of a draw curve must rise")
        if draw[0] < brace - 1e-9:
            raise ValueError("the draw curve begins before the string leaves brace")
        if draw[0] > brace + 1e-9:
            draw, force = np.insert(draw, 0, brace), np.insert(force, 0, 0.0)
        if draw.size < 3:
            raise ValueError("a draw curve needs at least two readings past brace")
        object.__setattr__(self, "draw_m", draw)
        object.__setattr__(self, "force_n", force)

    @cached_property
    def _cubic(self) -> PchipInterpolator:
        from scipy.interpolate import PchipInterpolator

        return PchipInterpolator(self.draw_m, self.force_n, extrapolate=False)

    def _within(self, draw_m: ArrayLike) -> Floats:
        draw, known = np.asarray(draw_m, float), np.asarray(self.draw_m)
        if np.any(draw < known[0] - 1e-9) or np.any(draw > known[-1] + 1e-9):
            raise ValueError(
                f"draw outside the measured curve, {known[0] / INCH_M:.2f} to "
                f"{known[-1] / INCH_M:.2f} in"
            )
        return np.asarray(np.clip(draw, known[0], known[-1]))

    def force_at_n(self, draw_m: ArrayLike) -> Floats:
        """Draw force at any draw length within the measured ones."""
        return np.asarray(self._cubic(self._within(draw_m)))

    def energy_j(self, draw_m: float) -> float:
        """Energy stored from brace to a draw length."""
        start = float(np.asarray(self.draw_m)[0])
        return float(self._cubic.integrate(start, float(self._within(draw_m))))

    def energy_sd_j(self, draw_m: float) -> float:
        """Doubt of that energy: of the quadrature, the single readings and the scale.

        The quadrature's share is a third of the distance to straight lines, or of what leaving
        out every other reading changes, whichever is more: half the points of a second-order
        rule err four times as much, and the monotone cubic is no worse.
        """
        from scipy.interpolate import PchipInterpolator

        draw, force = np.asarray(self.draw_m), np.asarray(self.force_n)
        end = float(self._within(draw_m))
        known = draw < end - 1e-12
        x = np.append(draw[known], end)
        y = np.append(force[known], self.force_at_n(end))
        energy = self.energy_j(end)
        width = np.zeros_like(x)
        width[1:] += np.diff(x) / 2
        width[:-1] += np.diff(x) / 2
        missed = abs(energy - float(np.sum(width * y)))
        if x.size >= 5:
            keep = np.unique(np.append(np.arange(0, x.size, 2), x.size - 1))
            halved = float(PchipInterpolator(x[keep], y[keep]).integrate(x[0], end))
            missed = max(missed, abs(energy - halved))
        readings = self.force_sd_n * float(np.sqrt(np.sum(width[1:] ** 2)))
        return float(np.hypot(np.hypot(missed / 3, readings), self.scale_sd * energy))
