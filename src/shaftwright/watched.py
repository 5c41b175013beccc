"""Long work told piece by piece to whoever watches; nobody does until a caller sets a watcher."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shaftwright.errors import ShaftwrightError

if TYPE_CHECKING:
    from shaftwright.records.builds import Builds

#: gives the pieces on, knowing how many builds they hold in all; to end it, it raises
Watcher = Callable[[Iterator["Builds"], int], Iterator["Builds"]]
watcher: ContextVar[Watcher] = ContextVar("watcher", default=lambda pieces, _: pieces)


class Stopped(ShaftwrightError):
    """Work that its watcher ended."""


@dataclass
class Pace:
    """How far a piece of long work is, read by others while it runs."""

    done: int = 0
    many: int = 0
    stopped: bool = False
    began: float = field(default_factory=time.monotonic)

    def watch(self, pieces: Iterator[Builds], many: int) -> Iterator[Builds]:
        """The pieces, counted; no further one once it is stopped."""
        self.done, self.many, self.began = 0, many, time.monotonic()
        for piece in pieces:
            if self.stopped:
                raise Stopped("Stopped before every arrow was weighed.")
            yield piece
            self.done += len(piece)

    @property
    def left_s(self) -> float | None:
        """How long the rest should take [s]; None where nothing tells yet."""
        if not self.done:
            return None
        return (time.monotonic() - self.began) * (self.many - self.done) / self.done

    @contextmanager
    def kept(self) -> Iterator[None]:
        """Watch whatever is worked out meanwhile."""
        before = watcher.set(self.watch)
        try:
            yield
        finally:
            watcher.reset(before)
