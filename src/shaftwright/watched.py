"""Long work told piece by piece to whoever watches; nobody does until a caller sets a watcher."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shaftwright.records.builds import Builds

#: gives the pieces on, knowing how many builds they hold in all; to end it, it raises
Watcher = Callable[[Iterator["Builds"], int], Iterator["Builds"]]
watcher: ContextVar[Watcher] = ContextVar("watcher", default=lambda pieces, _: pieces)
