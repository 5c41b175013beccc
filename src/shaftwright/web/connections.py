"""Connections of the page: whoever opens one and asks nothing, or reads nothing, is let go."""

from __future__ import annotations

import asyncio
from typing import Final

from uvicorn.protocols.http.auto import AutoHTTPProtocol

#: time for the whole head of a request to come [s]
HEAD_WITHIN_S: Final = 10.0
#: time for a reader to take what waits to be sent, 64 kB at most [s]
READ_WITHIN_S: Final = 30.0
#: past so many silent connections the oldest is let go
MOST_SILENT: Final = 64


class Patient(AutoHTTPProtocol):  # type: ignore[misc, valid-type]
    """A connection of uvicorn's that is closed while it stays silent."""

    _silent: Final[dict[Patient, None]] = {}
    _reading: asyncio.TimerHandle | None = None

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

    def pause_writing(self) -> None:
        """Wait for a slow reader, but not for ever."""
        super().pause_writing()
        self._reading = self.loop.call_later(READ_WITHIN_S, self.transport.abort)

    def resume_writing(self) -> None:
        """It reads on."""
        if self._reading is not None:
            self._reading.cancel()
        super().resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._silent.pop(self, None)
        if self._reading is not None:
            self._reading.cancel()
        super().connection_lost(exc)

    def _let_go(self) -> None:
        if self in self._silent:
            del self._silent[self]
            self.transport.close()
