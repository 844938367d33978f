"""What the pages of one post show, drawn once for all of them, region by region.

A region is sent again only where what it shows has changed. `TICK_S` apart at most, every page hears that
the link still stands; that is how it notices within a second when it does not.
"""

from __future__ import annotations

import asyncio
import hashlib
import time
from typing import Any

import jinja2
import msgspec

from signals.panel.bell import Bell
from signals.panel.station import Station
from signals.panel.view import View
from signals.panel.watcher import Watcher

TICK_S = 0.2
DRAWN_S = 1.0
"""What counts seconds is drawn so often where nothing else changes: a drawing takes milliseconds."""
APART_S = 0.02
"""Between two drawings: a burst of messages is drawn once."""
REGIONS = ("status", "warnings", "next", "holds", "sectors", "weather", "session", "group", "karts", "heads")

_encode = msgspec.json.Encoder().encode


def event(name: str, data: Any) -> bytes:
    """Write a server-sent event; JSON has no line breaks of its own."""
    return b"event: " + name.encode() + b"\ndata: " + _encode(data) + b"\n\n"


class Screen:
    """One post's pages.

    Attributes:
        told: rings whenever there is something to send, at least every `TICK_S`.
        pages: how many are open.

    """

    def __init__(self, station: Station, templates: jinja2.Environment, watcher: Watcher) -> None:
        self.view = View(station)
        self.told = Bell()
        self.pages = 0
        self._station = station
        self._watcher = watcher
        self._templates = {name: templates.get_template(f"regions/{name}.html") for name in REGIONS}
        self._shown: dict[str, Any] = {}
        self._editions: dict[str, int] = {}
        self._edition = 0
        self._chunks: dict[int, bytes] = {}
        self._tick = b""
        self._drawn_s = float("-inf")

    async def run(self) -> None:
        """Draw after every change, and tick, until cancelled."""
        heard = -1
        while True:
            now = await self._station.changed.wait(heard, TICK_S)
            if self.pages:
                if now != heard or time.monotonic() - self._drawn_s > DRAWN_S:
                    self.draw()
                self._tick = self._beat()
            heard = now
            self.told.ring()
            await asyncio.sleep(APART_S)

    def draw(self) -> dict[str, Any]:
        """Draw every region; gives them all."""
        fresh: dict[str, Any] = {
            name: template.render(view=self.view) for name, template in self._templates.items()
        }
        fresh |= {"map": self.map(), "seen": self._seen()}
        changed = [name for name, shown in fresh.items() if self._shown.get(name) != shown]
        if changed:
            self._edition += 1
            self._editions |= dict.fromkeys(changed, self._edition)
            self._chunks.clear()
        self._shown, self._drawn_s = fresh, time.monotonic()
        self._tick = self._beat()
        return fresh

    def _beat(self) -> bytes:
        """Say that the link stands, what the time is, and where karts are."""
        beat = {
            "heard": round(time.monotonic() * 1000),
            "now": self._station.now_ms,
            "up": not self._station.lost,
            "karts": self._watcher.spots(self._station.picture.state),
        }
        return event("beat", beat)

    def news(self, edition: int) -> tuple[bytes, int]:
        """Give what a page has to be sent that has seen an edition, and the edition it has seen then."""
        if edition == self._edition:
            return self._tick, edition
        if edition not in self._chunks:
            late = {name: self._shown[name] for name, at in self._editions.items() if at > edition}
            self._chunks[edition] = event("regions", late)
        return self._chunks[edition] + self._tick, self._edition

    def map(self) -> dict[str, Any]:
        """Give what changes on the map."""
        view = self.view
        return {
            "sectors": {row.id: row.dress for row in view.sectors()},
            "heads": {row.id: (row.mark, row.number, row.flashing, row.differs) for row in view.heads()},
            "karts": {row.number: row.level for row in view.karts()},
        }

    def _seen(self) -> dict[str, Any]:
        """Give what a call from this page has seen, and what a question on it is about."""
        picture = self._station.picture
        about = hashlib.sha256(repr(picture.about).encode()).hexdigest()[:16]
        state = picture.state
        return {"about": about, "boot": state.boot, "seq": state.seq} if state else {"about": about}
