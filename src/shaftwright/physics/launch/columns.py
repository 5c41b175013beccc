"""How the engines of the launch lay out a launch: columns, and the constants of the scheme."""

from __future__ import annotations

from importlib.util import find_spec
from typing import Final

import numpy as np

# Columns of a launch's parameters.
FORCE: Final = 0  # draw force at full draw [N]
STROKE: Final = 1  # power stroke [m]
EXPONENT: Final = 2  # of the draw curve F0 (s/d)^p, used where no measured curve is given
MOVED: Final = 3  # arrow and virtual mass [kg]
BRACE: Final = 4  # brace height [m]
STRING_FULL: Final = 5  # sideways stiffness of the string at full draw [N/m]
STRING_BRACE: Final = 6  # the same at brace [N/m]
STRING_MASS: Final = 7  # string mass moving sideways with the nock [kg]
SIDE_FRACTION: Final = 8  # fingers' side force over draw force
SIDE_TRAVEL: Final = 9  # travel over which the fingers push [m]
PLATE_STIFFNESS: Final = 10  # [N/m]
PLATE_DAMPING: Final = 11  # [N s/m]
GAP: Final = 12  # plate offset and shaft radius: centre line of the touching shaft [m]
LENGTH: Final = 13  # shaft [m]
STRING_RISE: Final = 14  # exponent of the string stiffness's rise towards brace
STEP: Final = 15  # time step [s]
PARAMETERS: Final = 16

# Columns of a launch's summary.
TIME: Final = 0  # of string exit [s]
SPEED: Final = 1  # along the bow's axis [m/s]
LEAST_FORCE: Final = 2  # of the plate while in contact [N]
GREATEST_FORCE: Final = 3  # [N]
CONTACTS: Final = 4  # number of contacts
STEPS: Final = 5  # steps accepted
SUMMARY: Final = 6

# Work done on the sideways motion.
WORKS: Final = 6  # push, string, fingers, plate's spring, plate's damper; last: plate's impulse

#: contacts whose times are kept
KEPT_CONTACTS: Final = 24
#: halvings of a step in search of the moment of a contact change
SEARCH: Final = 6
#: shortest part of a step taken up to a contact change
SHORTEST: Final = 1e-3


#: Legendre's recurrence: P_n = a z P_(n-1) - b P_(n-2)
LEGENDRE: Final = np.array([(0.0, 0.0)] + [((2 * n - 1) / n, (n - 1) / n) for n in range(1, 64)])


def numba_is_there() -> bool:
    """Whether numba is installed, so that `launch_lane` runs compiled."""
    return find_spec("numba") is not None
