"""Shaftwright: arrow-spine selection for archers who shoot with their fingers.

>>> import shaftwright
>>> bow = shaftwright.open("examples/heron_marsh")
>>> bow.next().result.next.stage
'prove'
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shaftwright.bow import Bow as Bow
    from shaftwright.bow import open as open

__version__ = "0.1.0"
__all__ = ["Bow", "open"]


def __getattr__(name: str) -> Any:
    # a command must not load what it does not use
    if name in __all__:
        from shaftwright import bow

        return getattr(bow, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
