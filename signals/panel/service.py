"""The page as a part of a running venue: one server on one address, for as long as it runs."""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from signals.errors import Unusable
from signals.health.report import Health
from signals.panel.guard import BODY_MAX
from signals.panel.site import Setting, Site
from signals.part import MakeLink
from signals.venue.model import Venue

KEEP_ALIVE_S = 75
"""An idle connection stands so long: a call finds it open."""
CONNECTIONS_MAX = 800
END_S = 1
HEADERS_MAX = 16_384


@dataclass(frozen=True, slots=True)
class Listening:
    """Where the page is served; port 0 takes a free one. Certificate and key come together."""

    host: str = "127.0.0.1"
    port: int = 0
    certificate: Path | None = None
    key: Path | None = None

    @property
    def secure(self) -> bool:
        """Whether it is served by TLS."""
        return self.certificate is not None


class Panel:
    """A `signals.part.Part`: binds at once, serves while it runs.

    Attributes:
        url: where a browser finds it.

    """

    def __init__(self, venue: Venue, make_link: MakeLink, setting: Setting, listening: Listening) -> None:
        self._site = Site(venue, make_link, setting)
        self._listening = listening
        self._socket = _bound(listening)
        host, port = self._socket.getsockname()[:2]
        scheme = "https" if listening.secure else "http"
        self.url = f"{scheme}://{f'[{host}]' if ':' in host else host}:{port}/"

    async def run(self, ready: Callable[[], None]) -> None:
        """Serve until cancelled; `ready` once it answers."""
        for chatty in ("uvicorn", "transitions"):
            logging.getLogger(chatty).setLevel(logging.WARNING)
        server = _Server(self._config())
        serving = asyncio.create_task(server.serve(sockets=[self._socket]))
        try:
            while not server.started and not serving.done():  # noqa: ASYNC110 - it tells in no other way
                await asyncio.sleep(0.01)
            if server.started:
                ready()
            await asyncio.shield(serving)
        finally:
            server.should_exit = True
            with suppress(asyncio.CancelledError):
                await serving

    def health(self) -> Health:
        """Tell how it is: whether the venue is heard, who is signed in, how many pages are open."""
        return self._site.health()

    def _config(self) -> uvicorn.Config:
        listening = self._listening
        return uvicorn.Config(
            self._site.app,
            http="h11",
            ws="websockets-sansio",
            ws_max_size=BODY_MAX,
            ws_per_message_deflate=False,
            loop="none",
            lifespan="on",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_keep_alive=KEEP_ALIVE_S,
            timeout_graceful_shutdown=END_S,
            limit_concurrency=CONNECTIONS_MAX,
            h11_max_incomplete_event_size=HEADERS_MAX,
            ssl_certfile=listening.certificate,
            ssl_keyfile=listening.key,
            ssl_version=ssl.PROTOCOL_TLS_SERVER,
        )


class _Server(uvicorn.Server):
    """Leaves signals alone: whoever runs the part minds them."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


def _bound(listening: Listening) -> socket.socket:
    """Bind the address. Raises Unusable where that cannot be."""
    family = socket.AF_INET6 if ":" in listening.host else socket.AF_INET
    # Named as TCP: asyncio sends without delay only on sockets that say so, else an answer waits 40 ms.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((listening.host, listening.port))
    except OSError as error:
        listener.close()
        right = "end what uses it, or give another by --host and --port"
        raise Unusable(f"{listening.host}:{listening.port}: {error.strerror or error}; {right}") from None
    return listener
