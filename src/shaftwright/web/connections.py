"""Connections of the page: whoever opens one and asks nothing is let go, so that others get in."""

from __future__ import annotations

import asyncio
from typing import Final

from uvicorn.protocols.http.auto import AutoHTTPProtocol

#: time for the whole head of a request to come [s]
HEAD_WITHIN_S: Final = 10.0
#: past so many silent connections the oldest is let go
MOST_SILENT: Final = 64


class Patient(AutoHTTPProtocol):  # type: ignore[misc, valid-type]
    """A connection of uvicorn's that is closed while it stays silent."""

    _silent: Final[dict[Patient, None]] = {}

    def connection_made(self, transport: asyncio.Transport) -> None:
        """Wait for a request, but not for ever."""
        super().connection_made(transport)
        self._silent[self] = None
        self.loop.call_later(HEAD_WITHIN_S, self._let_go)
        if len(self._silent) > MOST_SILENT:
            next(iter(self._silent))._let_go()

    def data_received(self, data: bytes) -> None:
        """Once the head of a request is there, the request has its own limits."""
        super().data_received(data)
        if self.cycle is not None:
            self._silent.pop(self, None)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._silent.pop(self, None)
        super().connection_lost(exc)

    def _let_go(self) -> None:
        if self in self._silent:
            del self._silent[self]
            self.transport.close()
