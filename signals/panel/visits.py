"""From a request to who sent it: the cookie, its session, its post's screen."""

from __future__ import annotations

import asyncio
import functools
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from urllib.parse import parse_qs

from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from signals.panel.guard import Refusals, address_of
from signals.panel.passwords import Passwords
from signals.panel.screen import Screen
from signals.panel.sessions import Session, Sessions, csrf_fits, csrf_of
from signals.panel.station import Station, Stations
from signals.venue.model import Venue

CSRF_HEADER, CSRF_FIELD = "x-kerblight", "word"
FORM = "application/x-www-form-urlencoded"
FIELDS_MAX = 100


@dataclass(frozen=True, slots=True)
class Visit:
    """One signed-in request."""

    token: str
    session: Session
    station: Station
    screen: Screen

    @property
    def csrf(self) -> str:
        """The word its pages send along."""
        return csrf_of(self.token)


Handler = Callable[[Request, Visit], Awaitable[Response]]


class Visits:
    """All that is needed to know a visitor. `draws` makes the screen of a station."""

    def __init__(
        self,
        venue: Venue,
        sessions: Sessions,
        passwords: Passwords,
        stations: Stations,
        draws: Callable[[Station], Screen],
        refusals: Refusals,
        *,
        secure: bool,
    ) -> None:
        self.venue = venue
        self.sessions = sessions
        self.refusals = refusals
        self.secure = secure
        self.cookie = f"__Host-kerblight-{venue.id}" if secure else f"kerblight-{venue.id}"
        self._passwords = passwords
        self._stations = stations
        self._draws = draws
        self._screens: dict[str, tuple[Station, Screen, asyncio.Task[None]]] = {}

    def of(self, request: HTTPConnection) -> Visit | None:
        """Give the visit a request belongs to; None for one that is not signed in."""
        token = request.cookies.get(self.cookie, "")
        session = self.sessions.find(token) if token else None
        if session is None or session.post not in {post.id for post in self.venue.posts}:
            if token:
                self.refusals.note(address_of(request), f"session at {request.url.path}", "unknown or over")
            return None
        return Visit(token, session, *self._screen(session.post))

    def _screen(self, post: str) -> tuple[Station, Screen]:
        station = self._stations.of(post)
        kept = self._screens.get(post)
        if kept is None or kept[0] is not station or kept[2].done():
            screen = self._draws(station)
            kept = station, screen, asyncio.create_task(screen.run(), name=f"screen {post}")
            self._screens[post] = kept
        return kept[0], kept[1]

    async def sweep(self) -> frozenset[str]:
        """End sessions that are over or whose post's password has changed, and connections nobody uses.

        Gives the posts that are still signed in.
        """
        known = self._passwords.all()
        live = self.sessions.sweep(lambda session: session.mark == known.get(session.post, ""))
        for post in [post for post in self._screens if post not in live]:
            self._screens.pop(post)[2].cancel()
        await self._stations.keep(live)
        return live

    async def close(self) -> None:
        """Let go of every connection."""
        tasks = [task for _, _, task in self._screens.values()]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        await self._stations.keep(frozenset())

    @property
    def signed_in(self) -> int:
        """How many posts somebody is signed in at."""
        return len(self.sessions.posts)

    def page(self, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        """Serve a page to those who are signed in; others are led to the sign-in."""

        @functools.wraps(handler)
        async def served(request: Request) -> Response:
            visit = self.of(request)
            if visit is None:
                return RedirectResponse("/sign-in", 303)
            return await handler(request, visit)

        return served

    def act(self, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
        """Take a request that acts, or a stream, from those who are signed in, with their session's word."""

        @functools.wraps(handler)
        async def served(request: Request) -> Response:
            visit = self.of(request)
            if visit is None:
                return JSONResponse({"title": "Signed out.", "lines": ["Sign in again."]}, 401)
            given = request.headers.get(CSRF_HEADER) or (await form_of(request)).get(CSRF_FIELD, "")
            if request.method != "GET" and not csrf_fits(visit.token, given):
                self.refusals.note(address_of(request), request.url.path, "without its session's word")
                return JSONResponse({"title": "Refused.", "lines": ["Load the page again."]}, 403)
            return await handler(request, visit)

        return served


async def form_of(request: Request) -> dict[str, str]:
    """Read a form's fields, the last of each name; nothing of what is no form."""
    if not request.headers.get("content-type", "").startswith(FORM):
        return {}
    body = (await request.body()).decode("utf-8", "replace")
    try:
        return {name: values[-1] for name, values in parse_qs(body, max_num_fields=FIELDS_MAX).items()}
    except ValueError:
        return {}
