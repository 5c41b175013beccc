"""The one next thing, as a record."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from shaftwright.answers.diagnose_change import Expect
from shaftwright.answers.diagnose_options import Option

What = Literal["stop", "shoot", "look", "nocking_point", "change", "none"]


@dataclass(frozen=True)
class Decision:
    """The one next thing.

    Attributes
    ----------
    kind : str
        stop, shoot, look, nocking_point, change, or none where no change is left to try.
    verdict : str
        What the shots say, in a sentence.
    what : str
        The order to the archer.
    amount, unit : float, str
        Its size.
    reversible : bool
        Whether it can be undone.
    expect : Expect
        Where the next group should land.
    if_wrong : str
        What it would mean if they moved the wrong way.
    stop : bool
        Whether this build is not to be changed any more, or not to be drawn any more.
    cautions : tuple of str
        What to heed.
    option : Option or None
        The changed build, for a change.
    dangers : tuple of str
        Why the build must not be drawn: what was found, and the least it had to be.
    """

    kind: What
    verdict: str
    what: str
    amount: float
    unit: str
    reversible: bool
    expect: Expect
    if_wrong: str
    stop: bool = False
    cautions: tuple[str, ...] = field(default=())
    option: Option | None = None
    dangers: tuple[str, ...] = field(default=())
