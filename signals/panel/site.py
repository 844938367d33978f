"""The whole site: its parts put together, its routes, and what it does from its start to its end."""

from __future__ import annotations

import asyncio
import hashlib
import logging
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import font_source_sans_pro as fonts
import jinja2
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.routing import BaseRoute, Mount, Route, WebSocketRoute
from starlette.staticfiles import StaticFiles

from signals.actions import NOT_A_STOP
from signals.clock import Clock
from signals.errors import BadInput
from signals.health.report import Health, counter, gauge
from signals.panel.aside import Aside
from signals.panel.asking import Asking
from signals.panel.board import Board
from signals.panel.calling import Calling
from signals.panel.glyphs import glyph, sprite, style_sheet
from signals.panel.ground import Surveyor
from signals.panel.guard import Guard, Refusals
from signals.panel.passwords import Passwords
from signals.panel.record import SAID, Record, Shown
from signals.panel.screen import REGIONS, Screen
from signals.panel.sessions import Sessions
from signals.panel.signing import Signing
from signals.panel.station import Station, Stations
from signals.panel.streaming import Streaming
from signals.panel.tries import Tries
from signals.panel.visits import Handler, Visit, Visits
from signals.panel.walking import Walking
from signals.panel.walkpages import WalkPages
from signals.panel.watcher import Watcher
from signals.part import MakeLink
from signals.venue.model import Venue

HERE = Path(__file__).parent
SWEEP_S = 2.0
FONTS = {"sans.ttf": fonts.SourceSansPro, "sans-semibold.ttf": fonts.SourceSansProSemibold}
FOR_GOOD = "public, max-age=31536000, immutable"

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How the site is to run.

    `names` are what else it is called by; `open_posts`: whoever sits here may take a post without a password.
    `threaded` lets the opening check compute on a loop of its own: for links that may be made there.
    """

    data: Path
    secure: bool = False
    open_posts: bool = False
    names: frozenset[str] = frozenset()
    threaded: bool = False


class Site:
    """One venue's page, as an ASGI application: `app`."""

    def __init__(self, venue: Venue, make_link: MakeLink, setting: Setting) -> None:
        self.venue = venue
        self._templates = templates(venue)
        surveyor = Surveyor(venue)
        self._ground = surveyor.ground()
        self._watcher = Watcher(venue, surveyor, make_link)
        refusals, clock = Refusals(time.monotonic), _wall(Clock())
        passwords = Passwords(setting.data / "panel-passwords.json")
        self._stations = Stations(venue, make_link)
        self._visits = Visits(
            venue,
            Sessions(clock, setting.data / "panel-sessions.json"),
            passwords,
            self._stations,
            self._screen,
            refusals,
            secure=setting.secure,
        )
        self._signing = Signing(
            venue,
            self._visits,
            passwords,
            Tries(time.monotonic),
            refusals,
            self._templates.get_template("sign-in.html"),
            open_posts=setting.open_posts,
        )
        self._asking = Asking(refusals)
        self._calling = Calling(self._visits, self._asking, refusals)
        self._aside = Aside(threaded=setting.threaded)
        self._walking = Walking(venue, make_link, setting.data, self._aside)
        self._walk = WalkPages(venue, self._walking, self._templates, self.page, refusals)
        self._board = Board(self._watcher, self._templates)
        self._record = Record(venue, setting.data / "journal.sqlite")
        self._streaming = Streaming(self._visits)
        guard = Middleware(Guard, names=setting.names, refusals=refusals, secure=setting.secure)
        self.app = Starlette(routes=self._routes(), middleware=[guard], lifespan=self._life)

    def _routes(self) -> list[BaseRoute]:
        page, act, signing = self._visits.page, self._visits.act, self._signing
        return [
            Route("/", page(self._track)),
            Route("/group", page(self._named("group.html"))),
            Route("/shift", page(self._named("shift.html"))),
            Route("/journal", page(self._journal)),
            Route("/walk", page(self._walk.page)),
            Route("/walk/now", act(self._walk.now)),
            Route("/walk/{act}", act(self._walk.act), methods=["POST"]),
            Route("/walk/record/{run}.{kind}", page(self._walk.record)),
            Route("/sign-in", signing.form),
            Route("/sign-in", signing.sign_in, methods=["POST"]),
            Route("/sign-out", act(signing.sign_out), methods=["POST"]),
            Route("/hand-on", act(signing.hand_on), methods=["POST"]),
            Route("/board", self._board.page),
            Route("/board/stream", self._board.stream),
            Route("/stream", act(self._streaming.stream)),
            Route("/call", act(self._asking.call), methods=["POST"]),
            WebSocketRoute("/line", self._calling.line),
            Route("/reset", act(self._asking.reset), methods=["POST"]),
            Route("/look.css", _look),
            Route("/fonts/{name}", _font),
            Mount("/static", StaticFiles(directory=HERE / "static")),
        ]

    def _screen(self, station: Station) -> Screen:
        return Screen(station, self._templates, self._watcher)

    async def _track(self, request: Request, visit: Visit) -> Response:
        """Show the track, the session and the karts: the page a marshal works with."""
        del request
        return self.page("track.html", visit, ground=self._ground)

    def _named(self, name: str) -> Handler:
        async def drawn(_: Request, visit: Visit) -> Response:
            return self.page(name, visit)

        return drawn

    async def _journal(self, request: Request, visit: Visit) -> Response:
        """Show the record, a leaf at a time."""
        asked = request.query_params
        shown = Shown(asked["show"]) if asked.get("show") in set(Shown) else Shown.EVENTS
        before = int(asked["before"]) if asked.get("before", "").isdecimal() else None
        leaf = await self._record.leaf(shown, before)
        return self.page("journal.html", visit, leaf=leaf, shown=shown, choices=SAID)

    def page(self, name: str, visit: Visit, **more: Any) -> Response:
        """Draw a page of those who are signed in."""
        shown = visit.screen.draw()
        also = {"regions": {region: shown[region] for region in REGIONS}, "map": shown["map"]}
        template = self._templates.get_template(name)
        return HTMLResponse(
            template.render(visit=visit, view=visit.screen.view, seen=shown["seen"], **also, **more)
        )

    def health(self) -> Health:
        """Tell how it is."""
        posts, pages, heard = self._visits.signed_in, self._streaming.open, not self._watcher.lost
        return Health(
            says=f"{'venue heard' if heard else 'NO LINK'}, {posts} posts signed in, {pages} pages open",
            well=heard,
            figures=(
                gauge("venue_heard", heard, "1 while the controller's beat is heard."),
                gauge("posts_signed_in", posts, "Posts somebody is signed in at."),
                gauge("pages_open", pages, "Open pages, the drivers' boards not among them."),
                counter(
                    "refused_total", self._visits.refusals.count, "Requests and calls that were refused."
                ),
            ),
        )

    @asynccontextmanager
    async def _life(self, _: Starlette) -> AsyncIterator[None]:
        tasks = [asyncio.create_task(work) for work in (self._sweep(), self._watcher.run())]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            await self._walking.close()
            await self._visits.close()
            self._signing.close()

    async def _sweep(self) -> None:
        while True:
            await asyncio.sleep(SWEEP_S)
            try:
                await self._walking.keep(await self._visits.sweep())
            except BadInput as wrong:
                log.warning("%s", wrong)


def templates(venue: Venue) -> jinja2.Environment:
    """Give the templates, with what every one of them may use."""
    made = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE / "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    made.globals |= {
        "venue": venue,
        "glyph": glyph,
        "sprite": sprite(),
        "not_a_stop": NOT_A_STOP,
        "version": _version(),
    }
    return made


def _version() -> str:
    """Give a word that changes with the page's own files, so that a browser keeps none too long."""
    digest = hashlib.sha256(style_sheet().encode())
    for file in sorted((HERE / "static").iterdir()):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def _wall(clock: Clock) -> Callable[[], float]:
    return lambda: clock.now_ms() / 1000


async def _look(_: Request) -> Response:
    return Response(style_sheet(), media_type="text/css", headers={"cache-control": "no-cache"})


async def _font(request: Request) -> Response:
    file = FONTS.get(request.path_params["name"])
    if file is None:
        return Response(status_code=404)
    return FileResponse(file, media_type="font/ttf", headers={"cache-control": FOR_GOOD})
