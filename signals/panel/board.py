"""The drivers' board: a large screen by the pit lane. First names and kart numbers, nothing else of persons.

Nobody signs in there: it shows what everybody at the pit lane may see.
"""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Any

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse

from signals.look import Mark
from signals.mqtt.contract import Entry
from signals.panel.explained import explained, leaving
from signals.panel.ground import short_name
from signals.panel.screen import TICK_S, event
from signals.panel.streaming import HEADERS
from signals.panel.watcher import Watcher
from signals.words import Condition, Phase

STREAMS_MAX = 20
REGIONS = ("head", "group")
ROWS_OF = 2
"""Karts in a row of the board."""
TOLD: dict[Phase, str] = {
    Phase.CLOSED: "The track is closed",
    Phase.TEST: "The track is closed",
    Phase.STAGING: "Getting ready",
    Phase.ARMED: "Ready",
    Phase.RACING: "On track",
    Phase.FINISHING: "Come in to the pit",
}
"""What a phase is to drivers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Driver:
    """A kart and its driver's first name; `out` for one who was shown black."""

    number: int
    name: str
    out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The board's top: what the session and the track are doing."""

    told: str
    mark: str
    condition: str
    ends_ms: int | None


def first_name(driver: str) -> str:
    """Give what a board may show of a name: the first of it, or the nickname it is."""
    return driver.partition(" ")[0] or driver


class Board:
    """The routes, and what they show."""

    def __init__(self, watcher: Watcher, templates: jinja2.Environment) -> None:
        self._watcher = watcher
        self._page = templates.get_template("board.html")
        self._regions = {name: templates.get_template(f"board/{name}.html") for name in REGIONS}
        self._signals = explained(watcher.venue)
        self._leaving = leaving(watcher.venue)
        self._open = 0

    async def page(self, request: Request) -> Response:
        """Show the board."""
        del request
        shown = self._draw()
        return HTMLResponse(self._page.render(regions=shown, signals=self._signals, leaving=self._leaving))

    async def stream(self, request: Request) -> Response:
        """Send whatever changes on it."""
        del request
        if self._open >= STREAMS_MAX:
            return JSONResponse({"title": "Too many boards are open."}, 503)
        return StreamingResponse(self._news(), media_type="text/event-stream", headers=HEADERS)

    def head(self) -> Head:
        """Say what the session and the track are doing."""
        picture = self._watcher.picture
        state = picture.state
        if state is None:
            return Head(told="One moment", mark=Mark.UNKNOWN, condition="", ends_ms=None)
        left_s = picture.left_s(self._watcher.now_ms)
        dress = picture.dress(state.condition)
        quiet = state.condition is Condition.CLEAR and state.phase is not Phase.RACING
        numbers = [
            short_name(sector)
            for sector in self._watcher.venue.sectors
            if sector.name in picture.under(Condition.CAUTION)
        ]
        where = f" {', '.join(numbers)}" if numbers and state.condition is Condition.CAUTION else ""
        return Head(
            told=TOLD[state.phase],
            mark=dress.mark,
            condition="" if quiet else f"{dress.word}{where}",
            ends_ms=None if left_s is None else self._watcher.now_ms + round(left_s * 1000),
        )

    def drivers(self) -> tuple[Driver, ...]:
        """Give this group's karts and drivers."""
        group = self._watcher.picture.group
        return tuple(self._driver(entry) for entry in group.karts) if group else ()

    def next_drivers(self) -> tuple[Driver, ...]:
        """Give the next group's."""
        group = self._watcher.picture.group
        following = group.next if group else None
        return tuple(self._driver(entry, now=False) for entry in following.karts) if following else ()

    def _driver(self, entry: Entry, *, now: bool = True) -> Driver:
        kart = self._watcher.picture.kart(entry.number)
        out = now and kart is not None and kart.call == "disqualified"
        return Driver(number=entry.number, name=first_name(entry.driver), out=out)

    def _draw(self) -> dict[str, str]:
        return {
            name: template.render(board=self, rows_of=ROWS_OF) for name, template in self._regions.items()
        }

    async def _news(self) -> AsyncIterator[bytes]:
        self._open += 1
        sent: dict[str, str] = {}
        heard = -1
        try:
            while True:
                shown = self._draw()
                fresh = {name: html for name, html in shown.items() if sent.get(name) != html}
                sent = shown
                yield (event("regions", fresh) if fresh else b"") + event("beat", self._beat())
                heard = await self._watcher.changed.wait(heard, TICK_S)
        finally:
            self._open -= 1

    def _beat(self) -> dict[str, Any]:
        return {
            "heard": round(time.monotonic() * 1000),
            "now": self._watcher.now_ms,
            "up": not self._watcher.lost,
        }
