"""Where each kart is: what the kart or a gateway reports, fused with what the timing loops saw.

A loop is a fact of that instant. For a moment after it, a report that still names the sector the
kart came from was under way meanwhile, and is dropped. A kart that stands where it stood is no
news: a person may have accounted for it since.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from signals.controller.karts import STANDS_KMH
from signals.core.state import Event
from signals.mqtt.contract import Where
from signals.venue.model import Venue
from signals.words import PIT

UNDER_WAY_S = 1.0
"""How long after a loop's passing a report from before it may still arrive."""
AT_LINE_M = 1.0
"""A loop this close to the start line counts the line's crossings."""


@dataclass(slots=True)
class _Seen:
    sector: str = ""
    at_m: float | None = None
    came_from: str = ""
    passed_s: float = float("-inf")


class Places:
    """Turns reports and passings into `kart-at`, `kart-pressed` and `line-crossed`."""

    def __init__(self, venue: Venue) -> None:
        self._sectors = frozenset(sector.id for sector in venue.sectors)
        self._loops = {loop.id: loop for loop in venue.loops}
        self._length_m, self._line_m = venue.length_m, venue.start_line_m
        self._at_line = frozenset(
            loop.id
            for loop in venue.loops
            if loop.sector != PIT and abs(loop.at_m - venue.start_line_m) <= AT_LINE_M
        )
        self._seen = {kart.number: _Seen() for kart in venue.karts}

    def knows(self, where: Where) -> bool:
        """Tell whether a report names a place of this venue, and only one."""
        return where.sector in self._sectors and where.in_pit == (where.sector == PIT)

    def report(self, kart: int, where: Where, place: str, now_s: float) -> Iterator[Event]:
        """Take a report; `place` is where the core takes the kart to be."""
        seen = self._seen[kart]
        if where.button:
            yield Event("kart-pressed", fields={"kart": kart})
        if now_s - seen.passed_s < UNDER_WAY_S and where.sector == seen.came_from:
            return
        if not self._at_line and self._crossed(seen.at_m, where):
            yield Event("line-crossed", fields={"kart": kart})
        seen.at_m = None if where.in_pit else where.at_m
        news = where.sector != seen.sector or place == "unknown"
        moves = (where.speed_kmh or 0.0) >= STANDS_KMH
        seen.sector = where.sector
        if where.sector != place and (news or moves):
            yield _kart_at(kart, where.sector)

    def passed(self, loop: str, kart: int, place: str, now_s: float) -> Iterator[Event]:
        """Take a loop's passing: the kart is just behind it."""
        seen, sector = self._seen[kart], self._loops[loop].sector
        if sector != seen.sector:
            seen.came_from, seen.passed_s, seen.sector = seen.sector, now_s, sector
        if loop in self._at_line:
            yield Event("line-crossed", fields={"kart": kart})
        if sector != place:
            yield _kart_at(kart, sector)

    def _crossed(self, before_m: float | None, where: Where) -> bool:
        """Tell whether the line lies between two reports less than half a lap apart."""
        if before_m is None or where.at_m is None or where.in_pit:
            return False
        way_m = (where.at_m - before_m) % self._length_m
        return way_m < self._length_m / 2 and 0 < (self._line_m - before_m) % self._length_m <= way_m


def _kart_at(kart: int, sector: str) -> Event:
    return Event("kart-at", fields={"kart": kart, "where": sector})
