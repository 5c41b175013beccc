"""Arrays by what they hold, and a step of what changes along a way or in time."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]


def stepped(rates: Callable[[Array], Array], state: Array, h: Array | float) -> Array:
    """A state a step `h` on: Runge and Kutta, fourth order."""
    k1 = rates(state)
    k2 = rates(state + h / 2 * k1)
    k3 = rates(state + h / 2 * k2)
    k4 = rates(state + h * k3)
    return state + h / 6 * (k1 + 2 * (k2 + k3) + k4)
