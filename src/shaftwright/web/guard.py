"""What stands between the network and the page: whom it answers, and what a browser may do with it.

Host is checked against DNS rebinding, Origin against other pages, sizes against floods; every answer
carries a strict content policy. Beyond loopback a key, printed at the start, is asked for as well.
"""

from __future__ import annotations

import asyncio
import hmac
import ipaddress
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Final
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.auto import AutoHTTPProtocol

UPLOAD_BYTES = 17 * 1024 * 1024
FORM_BYTES = 512 * 1024
#: a form or a file that takes longer to come is let go [s]
BODY_WITHIN_S = 60.0
SAFE_METHODS = frozenset({"GET", "HEAD"})
KEY_COOKIE = "shaftwright-key"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # "no-referrer" would make browsers send "Origin: null" with the page's own forms
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), interest-cohort=()",
}


@dataclass(frozen=True)
class Door:
    """Whom the page answers.

    Attributes
    ----------
    host : str
        Address it is bound to.
    key : str
        Asked for beyond loopback; empty on loopback.
    token : str
        Goes into every form; a change without it is refused.
    address : str
        What a phone of the home network opens, with the key in it; empty on loopback.
    """

    host: str = "127.0.0.1"
    key: str = ""
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    address: str = ""

    def knows_host(self, header: str) -> bool:
        """Whether a Host header names this page and not a name somebody pointed here.

        An address cannot be rebound, a name can: so beyond loopback addresses are taken, and of
        names only `localhost` and the one the page was bound to.
        """
        try:
            name = urlsplit(f"//{header}").hostname or ""
        except ValueError:
            return False
        if name in ("localhost", self.host.lower()):
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return address.is_loopback or not is_loopback(self.host)

    def knows_token(self, token: str) -> bool:
        """Whether a change carries the token of this run."""
        return hmac.compare_digest(token.encode(), self.token.encode())

    def knows_key(self, key: str) -> bool:
        """Whether a key opens the page."""
        return hmac.compare_digest(key.encode(), self.key.encode())


def is_loopback(host: str) -> bool:
    """Whether an address to bind to is reached from this machine only.

    Examples
    --------
    >>> is_loopback("127.0.0.1"), is_loopback("::1"), is_loopback("0.0.0.0"), is_loopback("fen")
    (True, True, False, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


class Guard:
    """ASGI middleware around the whole page."""

    def __init__(self, app: ASGIApp, door: Door, uploads: Iterable[str] = ()) -> None:
        self.app, self.door, self.uploads = app, door, tuple(uploads)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on with limits and headers."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def sealed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, sealed)
            return
        limit = UPLOAD_BYTES if scope["path"].endswith(self.uploads) else FORM_BYTES
        if _stated_length(headers) > limit:
            await _said(413, "That is too large for this page.")(scope, receive, sealed)
            return
        await self.app(scope, _limited(receive, limit), sealed)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        if len(headers.getlist("host")) != 1 or not self.door.knows_host(headers["host"]):
            return _said(421, "This page answers only under its own address.")
        if headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return _said(403, "Another page asked for this. Open the page by its own address.")
        if scope["method"] not in SAFE_METHODS and not _from_here(headers):
            return _said(403, "This change did not come from this page, so nothing was changed.")
        if self.door.key and not self.door.knows_key(_cookie(headers)):
            return self._with_key(scope)
        return None

    def _with_key(self, scope: Scope) -> Response:
        """Trade the key in the address for a cookie, so that it leaves the address bar."""
        given = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        if scope["method"] == "GET" and given and self.door.knows_key(given):
            answer = RedirectResponse("/", 303)
            answer.set_cookie(KEY_COOKIE, given, httponly=True, samesite="strict", path="/")
            return answer
        return _said(401, "Open the whole address that was printed at the start; it holds a key.")


def _from_here(headers: Headers) -> bool:
    """Whether a change was sent by a page of this address; a browser always says so."""
    if headers.get("sec-fetch-site", "same-origin") != "same-origin":
        return False
    origin = headers.get("origin")
    if origin is not None:
        try:
            parts = urlsplit(origin)
        except ValueError:
            return False
        return parts.scheme in ("http", "https") and parts.netloc == headers["host"]
    return headers.get("sec-fetch-site") == "same-origin"


def _cookie(headers: Headers) -> str:
    try:
        jar = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return ""
    return jar[KEY_COOKIE].value if KEY_COOKIE in jar else ""


def _stated_length(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else 0


class TooLarge(Exception):
    """More bytes came than were announced or allowed, or they came too slowly."""


def _limited(receive: Receive, limit: int) -> Receive:
    taken, more = 0, True
    end = asyncio.get_running_loop().time() + BODY_WITHIN_S

    async def counted() -> Message:
        nonlocal taken, more
        if not more:
            return await receive()
        try:
            async with asyncio.timeout_at(end):
                message = await receive()
        except TimeoutError:
            raise TooLarge from None
        more = message.get("more_body", False)
        taken += len(message.get("body", b""))
        if taken > limit:
            raise TooLarge
        return message

    return counted


def _said(status: int, text: str) -> Response:
    return PlainTextResponse(text + "\n", status)


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
