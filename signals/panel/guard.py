"""What every request passes: who may name this server, how much it may bring, what the answer forbids.

The page's own headers leave a browser nothing to load from elsewhere, nothing to frame and nothing to
guess; a request from another site's page is refused before it reaches anything that acts.
"""

from __future__ import annotations

import ipaddress
import logging
import socket
from collections import OrderedDict
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from starlette.websockets import WebSocket

BODY_MAX = 16_384
"""Bytes; the longest call of the contract has 8,192."""
DRAINED_MAX = 4 * 2**20
"""Bytes of a too long body that are read and thrown away, so that the refusal reaches its sender."""
SAFE = frozenset({"GET", "HEAD"})
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}
ONLY_TLS = {"strict-transport-security": "max-age=31536000"}
LOGGED_MAX, LOGGED_WITHIN_S = 20, 60.0
"""Refusals of one kind from one place that are logged one by one; the rest of a minute is counted."""
PLACES_MAX = 1024

log = logging.getLogger(__name__)


class Refusals:
    """Logs what was refused; a flood from one place becomes a number. `now_s` is a monotonic clock.

    Attributes:
        count: how many there were.

    """

    def __init__(self, now_s: Callable[[], float]) -> None:
        self.count = 0
        self._now_s = now_s
        self._seen: OrderedDict[tuple[str, str], tuple[float, int]] = OrderedDict()

    def note(self, address: str, what: str, why: str) -> None:
        """Log one refusal."""
        self.count += 1
        key, now_s = (address, what), self._now_s()
        since_s, count = self._seen.pop(key, (now_s, 0))
        if now_s - since_s > LOGGED_WITHIN_S:
            if count > LOGGED_MAX:
                log.warning("refused %s from %s: %d more within a minute", what, address, count - LOGGED_MAX)
            since_s, count = now_s, 0
        self._seen[key] = since_s, count + 1
        if len(self._seen) > PLACES_MAX:
            self._seen.popitem(last=False)
        if count < LOGGED_MAX:
            log.warning("refused %s from %s: %s", what, address, why)


class Guard:
    """The outermost layer.

    Args:
        app: what it guards.
        names: what this server may be called by in `Host`, beside addresses and this machine's name.
        refusals: where refusals are logged.
        secure: whether this server speaks TLS, and a browser is to come back by it only.

    """

    def __init__(self, app: ASGIApp, *, names: frozenset[str], refusals: Refusals, secure: bool) -> None:
        self._app = app
        own = socket.gethostname().lower()
        self._names = names | {"localhost", own, f"{own}.local"}
        self._refusals = refusals
        self._headers = {**HEADERS, **(ONLY_TLS if secure else {})}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "websocket":
            await self._pass_line(scope, receive, send)
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        request = Request(scope)
        status, why = self._objection(request, acts=request.method not in SAFE)
        if why:
            self._refusals.note(address_of(request), f"{request.method} {request.url.path}", why)
            await PlainTextResponse(f"{why}\n", status)(scope, receive, self._dressed(send))
            return
        body = _Body(receive)
        if await body.too_long(request.headers):
            why = f"a body of more than {BODY_MAX} bytes"
            self._refusals.note(address_of(request), f"{request.method} {request.url.path}", why)
            await PlainTextResponse(f"Refused: {why}.\n", 413)(scope, receive, self._dressed(send))
            return
        await self._app(scope, body.receive, self._dressed(send))

    async def _pass_line(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a line on before it is open, or refuse it: it acts, and no browser asks its server's leave."""
        asked = HTTPConnection(scope)
        status, why = self._objection(asked, acts=True)
        if not why and "origin" not in asked.headers:
            status, why = 403, "Refused: sent by no page."
        if not why:
            await self._app(scope, receive, send)
            return
        self._refusals.note(address_of(asked), f"a line to {asked.url.path}", why)
        await WebSocket(scope, receive, send).send_denial_response(PlainTextResponse(f"{why}\n", status))

    def _dressed(self, send: Send) -> Send:
        """Add to every answer what a browser must not do with it."""

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._headers.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        return dressed

    def _objection(self, request: HTTPConnection, *, acts: bool) -> tuple[int, str]:
        """Say why a request is refused unread; empty where it is not."""
        host = request.headers.get("host", "")
        if not self._ours(host):
            return 421, f"Refused: this server is not called {host[:80]!r}; start it with --name."
        if not acts:
            return 0, ""
        origin = request.headers.get("origin")
        if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
            return 403, "Refused: sent by another site's page."
        if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "Refused: sent by another site's page."
        return 0, ""

    def _ours(self, host: str) -> bool:
        """Whether a `Host` names this server: an address cannot be pointed elsewhere, a name can."""
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name in self._names:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True


class _Body:
    """A request's body, counted while it is read."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._kept: list[Message] = []

    async def too_long(self, headers: Headers) -> bool:
        """Read a body to its end, or as far as it may go."""
        if "content-length" not in headers and "transfer-encoding" not in headers:
            return False
        length = 0
        while length <= DRAINED_MAX:
            message = await self._receive()
            length += len(message.get("body", b""))
            if length <= BODY_MAX:
                self._kept.append(message)
            if message["type"] != "http.request" or not message.get("more_body", False):
                break
        return length > BODY_MAX

    async def receive(self) -> Message:
        """Hand on what was read, then whatever comes."""
        return self._kept.pop(0) if self._kept else await self._receive()


def address_of(request: HTTPConnection) -> str:
    """Give the network address a request comes from."""
    return request.client.host if request.client else "unknown"
