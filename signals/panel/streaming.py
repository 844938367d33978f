"""The pages' stream: server-sent events, the latest picture only, never a queue of old ones."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Iterator
from contextlib import contextmanager

from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse

from signals.panel.screen import Screen, event
from signals.panel.sessions import WARN_S
from signals.panel.visits import Visit, Visits

STREAMS_MAX = 250
HEADERS = {"cache-control": "no-store", "x-accel-buffering": "no"}


class Streaming:
    """The route.

    Attributes:
        open: how many streams are open.

    """

    def __init__(self, visits: Visits) -> None:
        self._visits = visits
        self.open = 0

    async def stream(self, request: Request, visit: Visit) -> Response:
        """Send a page whatever changes, and that the link stands."""
        del request
        if self.open >= STREAMS_MAX:
            return JSONResponse({"title": "Too many pages are open.", "lines": []}, 503)
        return StreamingResponse(self._news(visit), media_type="text/event-stream", headers=HEADERS)

    async def _news(self, visit: Visit) -> AsyncIterator[bytes]:
        screen, edition = visit.screen, 0
        with self._counted(screen):
            screen.draw()
            heard, warned = screen.told.rung, False
            while self._visits.sessions.find(visit.token) is not None:
                chunk, edition = screen.news(edition)
                left_s = visit.session.ends_s - time.time()
                if left_s < WARN_S and not warned:
                    warned = True
                    chunk += event("ending", {"minutes": max(1, round(left_s / 60))})
                yield chunk
                heard = await screen.told.wait(heard)
            yield event("over", {})

    @contextmanager
    def _counted(self, screen: Screen) -> Iterator[None]:
        """Count a page for as long as it is open."""
        self.open += 1
        screen.pages += 1
        try:
            yield
        finally:
            self.open -= 1
            screen.pages -= 1
